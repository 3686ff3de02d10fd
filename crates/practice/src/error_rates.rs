//! What a release rule does to those who are not ready, and to those who are.

use crate::chain::{Chain, Habits, Joining};
use crate::rule::ReleaseRule;
use stats::{Probability, StatsError};

/// What a release rule does to a learner with a given chance of a fault on each draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Released {
    /// Chance on each draw that it is not clean, 0 to 1.
    pub fault_rate: f64,
    /// Chance that the rule is met within the rule's `most_draws` draws, 0 to 1.
    pub probability: f64,
    /// Mean number of draws until the rule is met, with no limit on their number; `None` when it is never met, or only
    /// after more than a thousand million draws in the mean.
    pub mean_draws: Option<f64>,
    /// Number of draws within which nine in ten such learners have met the rule, with no limit on their number;
    /// `None` when it is more than [`LONGEST`].
    pub draws_90: Option<u32>,
}

/// The number of draws beyond which `draws_90` is not sought: nobody watches that many.
pub const LONGEST: u32 = 10_000;

/// How often a learner who fails on a share of draws meets the rule, and after how many draws.
///
/// A draw fails when a safety point is missed; each draw fails with the same chance, apart from every other, and each
/// fault is seen. Watchers who miss faults make a rule laxer than this says. The teach-back is what was said and does
/// not enter: the chance is that of the draws alone.
///
/// The trainer looks at the first draw allowed and, when that fails, at the next, until one is clean.
///
/// # Formula
/// The draws are a Markov chain on (draws so far, up to those needed; clean draws in a row, up to those needed;
/// trainer's clean look done or not; points of the sequential test, up to those needed), with a clean draw of probability q = 1 − fault rate. The chance is the mass
/// absorbed after `most_draws` steps. The mean is the sum over n of P(not met after n draws): up to the draws needed
/// term by term, from there in closed form, for from there only the clean run matters: with j clean in a row the mean
/// wait for k is (q^-k − q^-j) / (1 − q). With a sequential test the terms are followed until they fall by the same share
/// from draw to draw (to 1e-14, eight times running), and the rest is the sum of that geometric series; the draws of nine
/// in ten are then read from the series too. Points reached stay reached: once those who lack them fall by one share, the others are
/// followed in a chain without points.
///
/// # Range
/// Fault rate 0 to 1; probability 0 to 1; draws from the draws needed upward.
///
/// # Ends
/// At a fault rate of 0 the rule is met at the last of the draws needed, the clean draws and the trainer's first look.
/// At 1 it is never met, unless it asks for no clean draw and no look. A rule that asks for no draw is met at once.
///
/// # Source
/// W. Feller, An Introduction to Probability Theory and Its Applications, volume 1, third edition 1968, XIII.7
/// (success runs: mean (1 − q^k) / ((1 − q) q^k)); from memory.
///
/// # Check
/// Enumeration of every sequence of up to 16 draws; Feller's mean for runs; three heads in a row take 14 tosses.
///
/// # Example
/// ```
/// use practice::{ReleaseRule, error_rates};
/// use stats::Probability;
///
/// // Five draws, the last three clean, judged after the fifth: 0.8 x 0.8 x 0.8 for one who fails one draw in five.
/// let rule = ReleaseRule { most_draws: 5, ..ReleaseRule::default() };
/// let released = error_rates(&rule, Probability::new(0.2)?);
/// assert!((released.probability - 0.512).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn error_rates(rule: &ReleaseRule, fault_rate: Probability) -> Released {
    // Without prompts there is one pattern of them, and every rule has its chances.
    let met = Chain::of(rule, Habits::of_faults(fault_rate)).map(|chain| followed(chain, rule, fault_rate));
    met.unwrap_or(Released {
        fault_rate: fault_rate.get(),
        probability: 0.0,
        mean_draws: None,
        draws_90: None,
    })
}

/// The same for a learner who is also prompted: on a draw that misses no safety point, one was done only after a prompt
/// with the chance given. `None` for a rule that allows several prompts over a long run: it tells apart more runs with
/// their prompts than are followed (3,000; ten draws with two prompts allowed have 351, thirty with one 931, twenty with two 2,701).
///
/// # Formula
/// The chain of [`error_rates`] with the draws of the clean run that had a prompt as part of its state. A draw is a fault
/// with chance f, prompted with (1 − f) g and unprompted with (1 − f)(1 − g), where f is the fault rate and g the chance of
/// a prompt. Only prompts on the draws that must be clean count, as the rule has it; a prompt keeps the run, the
/// trainer's look and the score, and holds the release back until it has left those draws.
/// # Range
/// Both chances 0 to 1.
/// # Ends
/// No prompt, or a rule that allows any number or as many as draws: [`error_rates`]. A prompt on every draw with none
/// allowed: never met.
/// # Source
/// As [`error_rates`]; one prompt at most on a draw is an assumption, common practice, no source.
/// # Check
/// Enumeration of every sequence of up to 9 draws of three kinds; simulation.
///
/// # Example
/// ```
/// use practice::{ReleaseRule, error_rates_with_prompts};
/// use stats::Probability;
///
/// // Judged after five draws, no prompt allowed on the last three: 0.9 x 0.9 x 0.9 for one prompted on one draw in ten.
/// let rule = ReleaseRule { most_draws: 5, ..ReleaseRule::default() };
/// let share = Probability::new;
/// let released = error_rates_with_prompts(&rule, share(0.0)?, share(0.1)?).unwrap();
/// assert!((released.probability - 0.729).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn error_rates_with_prompts(
    rule: &ReleaseRule,
    fault_rate: Probability,
    prompt_rate: Probability,
) -> Option<Released> {
    let chain = Chain::of(rule, Habits { fault_rate, prompt_rate: prompt_rate.get() })?;
    Some(followed(chain, rule, fault_rate))
}

fn followed(mut chain: Chain, rule: &ReleaseRule, fault_rate: Probability) -> Released {
    if chain.asks_for_no_draw() {
        let fault_rate = fault_rate.get();
        return Released { fault_rate, probability: 1.0, mean_draws: Some(0.0), draws_90: Some(0) };
    }
    let mut state = chain.start();
    let mut probability = None;
    let mut draws_90 = None;
    let mut mean_draws = chain.mean_is_finite().then_some(0.0);
    let mut share = Falling::default();
    let is_a_series = chain.is_a_series();
    // Those who lack points, until they fall by one share, and then apart from the others.
    let mut lacking = Falling::default();
    let mut joining: Option<Joining> = None;
    let mut n = 0u32;
    loop {
        if n == u32::from(rule.most_draws) {
            probability = Some(state.met);
        }
        if draws_90.is_none() && state.met >= 0.9 - ROUNDING {
            draws_90 = Some(n);
        }
        let waiting = state.waiting() + joining.as_ref().map_or(0.0, |joining| joining.waiting);
        if n < chain.settled || is_a_series {
            mean_draws = mean_draws.map(|mean| mean + waiting);
        } else if n == chain.settled {
            mean_draws = mean_draws.map(|mean| mean + chain.mean_from_settled(&state));
        }
        if n >= chain.settled && probability.is_some() {
            // Until the first can have met the rule, all wait and the share is 1 but for rounding.
            if state.met > 0.0 {
                share.see(waiting);
            }
            let is_known = draws_90.is_some() && !is_a_series;
            if is_known || waiting == 0.0 || n >= LONGEST {
                if is_a_series && waiting > 0.0 {
                    mean_draws = mean_draws.and_then(|mean| share.rest_of_mean(mean, waiting));
                }
                break;
            }
            if let Some(share_of) = share.steady() {
                draws_90 = draws_90.or_else(|| draws_until(n, waiting, share_of));
                if is_a_series {
                    mean_draws = mean_draws.and_then(|mean| share.rest_of_mean(mean, waiting));
                }
                break;
            }
        }
        if n >= chain.settled && joining.is_none() && state.met > 0.0 {
            let without = chain.without_points(&state);
            if without > 0.0 {
                lacking.see(without);
            }
            if let Some(share) = lacking.steady() {
                let (others, there, joins) = chain.parted(&state, n, share);
                (chain, state, joining) = (others, there, Some(joins));
            }
        }
        chain.step(&mut state, n);
        if let Some(joining) = &mut joining {
            joining.join(&mut state);
        }
        n += 1;
    }
    Released {
        fault_rate: fault_rate.get(),
        probability: probability.unwrap_or_default().clamp(0.0, 1.0),
        mean_draws,
        draws_90,
    }
}

/// The error rates over evenly spaced fault rates from 0 to 0.5, both ends included.
///
/// # Range
/// `n_steps` at least 1; the answer has `n_steps + 1` points.
///
/// # Ends
/// One step gives the two ends.
///
/// # Source
/// [`error_rates`] at each point.
///
/// # Check
/// As [`error_rates`].
///
/// # Example
/// ```
/// use practice::{ReleaseRule, error_rate_curve};
///
/// let curve = error_rate_curve(&ReleaseRule::default(), 50)?;
/// assert_eq!(curve.len(), 51);
/// assert_eq!(curve[0].probability, 1.0);
/// assert_eq!(curve[50].fault_rate, 0.5);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn error_rate_curve(rule: &ReleaseRule, n_steps: u16) -> Result<Vec<Released>, StatsError> {
    let curve = curve(n_steps, |fault_rate| Some(error_rates(rule, fault_rate)))?;
    Ok(curve.unwrap_or_default())
}

/// The same curve for learners who are prompted with the chance given; `None` where [`error_rates_with_prompts`] gives none.
pub fn error_rate_curve_with_prompts(
    rule: &ReleaseRule,
    prompt_rate: Probability,
    n_steps: u16,
) -> Result<Option<Vec<Released>>, StatsError> {
    curve(n_steps, |fault_rate| error_rates_with_prompts(rule, fault_rate, prompt_rate))
}

/// The points of a curve, every second one on a thread of its own; `None` where one of them is.
fn curve(
    n_steps: u16,
    at: impl Fn(Probability) -> Option<Released> + Sync,
) -> Result<Option<Vec<Released>>, StatsError> {
    let n_steps = n_steps.max(1);
    let rates = (0..=n_steps)
        .map(|step| Probability::new(0.5 * f64::from(step) / f64::from(n_steps)))
        .collect::<Result<Vec<Probability>, StatsError>>()?;
    let every_second = |first: usize| -> Option<Vec<Released>> {
        rates.iter().skip(first).step_by(2).map(|rate| at(*rate)).collect()
    };
    let (even, odd) = std::thread::scope(|scope| {
        let odd = scope.spawn(|| every_second(1));
        let even = every_second(0);
        (even, odd.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    });
    let (Some(even), Some(odd)) = (even, odd) else { return Ok(None) };
    let mut odd = odd.into_iter();
    Ok(Some(even.into_iter().flat_map(|point| std::iter::once(point).chain(odd.next())).collect()))
}

/// How far a learner has come with a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Progress {
    /// Observed draws that count.
    pub draws_counted: u16,
    /// Clean draws in a row at the end of them.
    pub clean_in_a_row: u16,
    /// Whether the trainer's own clean look is done.
    pub look_done: bool,
    /// Points of the rule's sequential test.
    pub points: u16,
}

/// Chance that the rule is met with so many further draws, from none on up to `n_draws`, from where a learner stands.
///
/// # Formula
/// The chain of [`error_rates`], begun at the learner's place.
/// # Range
/// Fault rate 0 to 1; `n_draws + 1` chances that never fall.
/// # Ends
/// A rule already met: 1 throughout. The teach-back and what [`error_rates`] leaves out do not enter here either.
/// # Source
/// As [`error_rates`].
/// # Check
/// Enumeration of every continuation of up to 8 draws.
///
/// # Example
/// ```
/// use practice::{Progress, ReleaseRule, chance_met_after};
/// use stats::Probability;
///
/// // Four draws of five, the last two clean, the look done: one more, if it is clean.
/// let here = Progress { draws_counted: 4, clean_in_a_row: 2, look_done: true, points: 0 };
/// let chances = chance_met_after(&ReleaseRule::default(), here, Probability::new(0.2)?, 1);
/// assert!((chances[1] - 0.8).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn chance_met_after(
    rule: &ReleaseRule,
    progress: Progress,
    fault_rate: Probability,
    n_draws: u16,
) -> Vec<f64> {
    let Some(chain) = Chain::of(rule, Habits::of_faults(fault_rate)) else { return Vec::new() };
    let had = u32::from(progress.draws_counted);
    let mut state = chain.start_at(progress);
    let mut chances = vec![state.met];
    for n in 0..u32::from(n_draws) {
        chain.step(&mut state, had + n);
        chances.push(state.met.clamp(0.0, 1.0).max(chances[n as usize]));
    }
    chances
}

/// Chance that the rule is met within 0, 1, ... up to `n_draws` draws.
pub(crate) fn released_within(rule: &ReleaseRule, fault_rate: Probability, n_draws: u16) -> Vec<f64> {
    chance_met_after(rule, Progress::default(), fault_rate, n_draws)
}

/// "Of 100 nurses who fail one draw in five, 31 would meet this rule within 10 draws."
pub fn error_rate_sentence(rule: &ReleaseRule, released: &Released) -> String {
    let of_100 = libm::round(released.probability * 100.0);
    format!(
        "Of 100 nurses who fail {}, {of_100:.0} would meet this rule within {} draws.",
        share_words(released.fault_rate),
        rule.most_draws
    )
}

/// Numbers that a sentence spells out.
const NUMBERS: [&str; 11] =
    ["nought", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

fn share_words(fault_rate: f64) -> String {
    let one_in = if fault_rate > 0.0 { libm::round(1.0 / fault_rate) } else { 0.0 };
    if fault_rate <= 0.0 {
        "no draw".to_owned()
    } else if one_in >= 2.0 && (fault_rate * one_in - 1.0).abs() < 1e-9 {
        match NUMBERS.get(one_in as usize) {
            Some(number) => format!("one draw in {number}"),
            None => format!("one draw in {one_in:.0}"),
        }
    } else {
        format!("{:.1} draws in 100", fault_rate * 100.0)
    }
}

/// Sums of chances that should be exactly nine tenths may fall short by rounding.
const ROUNDING: f64 = 1e-12;

/// How the chance of still waiting falls from draw to draw, watched until it falls by the same share.
#[derive(Debug, Default)]
struct Falling {
    waiting: Option<f64>,
    share: f64,
    n_same: u32,
}

impl Falling {
    fn see(&mut self, waiting: f64) {
        if let Some(before) = self.waiting.filter(|before| *before > 0.0) {
            let share = waiting / before;
            self.n_same = if (share - self.share).abs() <= 1e-14 { self.n_same + 1 } else { 0 };
            self.share = share;
        }
        self.waiting = Some(waiting);
    }

    fn steady(&self) -> Option<f64> {
        (self.n_same >= 8 && self.share < 1.0).then_some(self.share)
    }

    /// A mean so far with the rest of the series; `None` beyond what can be told from never.
    fn rest_of_mean(&self, mean: f64, waiting: f64) -> Option<f64> {
        const MOST: f64 = 1e9;
        let rest = waiting * self.share / (1.0 - self.share);
        (self.share < 1.0 && mean + rest < MOST).then_some(mean + rest)
    }
}

/// The draw by which nine in ten have met the rule, when so many still wait after `n` and fall by one share.
fn draws_until(n: u32, waiting: f64, share: f64) -> Option<u32> {
    if share <= 0.0 {
        return Some(n + 1);
    }
    let more = libm::ceil((libm::log(0.1 + ROUNDING) - libm::log(waiting)) / libm::log(share));
    let draws = f64::from(n) + more.max(0.0);
    (share < 1.0 && draws <= f64::from(LONGEST)).then_some(draws as u32)
}
