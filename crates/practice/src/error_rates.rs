//! What a release rule does to those who are not ready, and to those who are.

use crate::chain::Chain;
use crate::prompts::Waiting;
use crate::rule::ReleaseRule;
use stats::{Probability, StatsError};

/// What a release rule does to a learner with a given chance of a fault on each draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Released {
    /// Chance on each draw that it is not clean, 0 to 1.
    pub fault_rate: f64,
    /// Chance that the rule is met within the rule's `most_draws` draws, 0 to 1.
    pub probability: f64,
    /// Mean number of draws until the rule is met, with no limit on their number; `None` when it is never met.
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
/// The draws are a Markov chain followed from fault to fault: with each, the run of clean draws begins anew. A run that
/// begins after draw n has all that is asked for at draw m: the clean draws in a row, the draws needed (and that of the
/// trainer's first look, which a run brings with it) and the points, the latest of the three. It gets there with chance
/// q^(m − n), q = 1 − fault rate; the chance of release is the sum of these up to `most_draws`. Those who lack points are a
/// walk, one up with a clean draw and down with a fault. Without a run asked for, the look alone may be missing: then all draws from
/// its first were faults. The mean is n draws before the first that can meet the rule, and from there that of runs after
/// one another and of the walk in closed form: (1 − q^k) / ((1 − q) q^k) after a fault, and one system of linear equations in the
/// points, without subtractions. The draws of nine in ten are those of the chain, and once those who wait are the sum of two
/// that fall by one share each from draw to draw (to 2e-15, eight times running; those who lack points, and the rest), of
/// that sum.
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
/// (success runs: mean (1 − q^k) / ((1 − q) q^k)); W. K. Grassmann, M. I. Taksar, D. P. Heyman, Operations Research 33, 1985,
/// 1107 (equations without subtractions); from memory.
///
/// # Check
/// Enumeration of every sequence of up to 16 draws; Feller's mean for runs; three heads in a row take 14 tosses; a chain
/// with a state for everything the rule can tell apart, on 1,000 random rules.
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
    followed(rule, fault_rate, &Waiting::none())
}

/// The same for a learner who is also prompted: on a draw that misses no safety point, one was done only after a prompt
/// with the chance given. `None` for a rule that allows many prompts over a long run: it tells apart more places of
/// prompts than are kept (k times the ways to choose p of k − 1 draws up to 4 million, with p prompts allowed on k draws: any number on 20
/// draws, five on 30, three on 70, two on 100).
///
/// # Formula
/// A draw is a fault with chance f, prompted with (1 − f) g and unprompted with (1 − f)(1 − g), where f is the fault rate and
/// g the chance of a prompt. Only prompts on the draws that must be clean count, as the rule has it; a prompt keeps the run, the
/// trainer's look and the score, and holds the release back until it has left those draws. Until a run has all else that
/// is asked for, nothing is asked of its prompts, so then its last k draws are prompted each for itself, and the further
/// wait until they have p prompts at most is the same for every fault rate, score and number of draws. Its chances come from a
/// chain on the places of the latest p + 1 prompts, followed until those who wait fall by one share (to 1e-13 of it, sixteen times running); the
/// chain of [`error_rates`] then waits with each run. The mean has the sums of q^t times these chances in it.
/// # Range
/// Both chances 0 to 1.
/// # Ends
/// No prompt, or a rule that allows any number or as many as draws: [`error_rates`]. A prompt on every draw with none
/// allowed: never met.
/// # Source
/// As [`error_rates`]; one prompt at most on a draw is an assumption, common practice, no source.
/// # Check
/// Enumeration of every sequence of up to 9 draws of three kinds; simulation; a chain with a state for every pattern of
/// prompts, on 1,000 random rules.
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
    Some(followed(rule, fault_rate, &Waiting::of_rule(rule, prompt_rate.get())?))
}

/// Whether a rule is met before the first draw.
fn asks_for_no_draw(rule: &ReleaseRule) -> bool {
    rule.draws_needed == 0
        && rule.clean_in_a_row == 0
        && rule.spot_check_from_draw.is_none()
        && rule.points.is_none_or(|test| test.needed == 0)
}

fn followed(rule: &ReleaseRule, fault_rate: Probability, waiting: &Waiting) -> Released {
    if asks_for_no_draw(rule) {
        let fault_rate = fault_rate.get();
        return Released { fault_rate, probability: 1.0, mean_draws: Some(0.0), draws_90: Some(0) };
    }
    let mut chain = Chain::of(rule, fault_rate, waiting).with_mean();
    let most = usize::from(rule.most_draws);
    let mut probability = None;
    let mut draws_90 = None;
    let mut mean_draws = None;
    let mut falling = Falling::default();
    for n in 0.. {
        if n == most {
            probability = Some(chain.met());
        }
        if draws_90.is_none() && chain.met() >= 0.9 - ROUNDING {
            draws_90 = Some(n as u32);
        }
        if n == chain.mean_from() {
            mean_draws = Some(chain.mean_draws());
        }
        if probability.is_some() && mean_draws.is_some() {
            if draws_90.is_some() || n >= LONGEST as usize {
                break;
            }
            if falling.is_steady() {
                draws_90 = falling.draws_until(n as u32, chain.still());
                break;
            }
        }
        chain.step();
        if n >= chain.settles_from() {
            falling.see(chain.lacking(), chain.still());
        }
    }
    Released {
        fault_rate: fault_rate.get(),
        probability: probability.unwrap_or_default(),
        mean_draws: mean_draws.filter(|mean| mean.is_finite()),
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
    curve(rule, &Waiting::none(), n_steps)
}

/// The same curve for learners who are prompted with the chance given; `None` where [`error_rates_with_prompts`] gives none.
pub fn error_rate_curve_with_prompts(
    rule: &ReleaseRule,
    prompt_rate: Probability,
    n_steps: u16,
) -> Result<Option<Vec<Released>>, StatsError> {
    Waiting::of_rule(rule, prompt_rate.get()).map(|waiting| curve(rule, &waiting, n_steps)).transpose()
}

/// The points of a curve, every second one on a thread of its own.
fn curve(rule: &ReleaseRule, waiting: &Waiting, n_steps: u16) -> Result<Vec<Released>, StatsError> {
    let n_steps = n_steps.max(1);
    let rates = (0..=n_steps)
        .map(|step| Probability::new(0.5 * f64::from(step) / f64::from(n_steps)))
        .collect::<Result<Vec<Probability>, StatsError>>()?;
    let every_second = |first: usize| -> Vec<Released> {
        rates.iter().skip(first).step_by(2).map(|rate| followed(rule, *rate, waiting)).collect()
    };
    let (even, odd) = std::thread::scope(|scope| {
        let odd = scope.spawn(|| every_second(1));
        let even = every_second(0);
        (even, odd.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    });
    let mut odd = odd.into_iter();
    Ok(even.into_iter().flat_map(|point| std::iter::once(point).chain(odd.next())).collect())
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
    let waiting = Waiting::none();
    let mut chain = Chain::at(rule, progress, fault_rate, &waiting);
    let mut chances = vec![chain.met()];
    for n in 0..usize::from(n_draws) {
        chain.step();
        chances.push(chain.met().max(chances[n]));
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

/// How the chance of still waiting falls from draw to draw, watched until it is the sum of two that fall by one share each:
/// the chance of lacking points does so by itself, and what is left does in the end.
#[derive(Debug, Default)]
struct Falling {
    points: OneShare,
    still: Option<f64>,
    rest: OneShare,
}

/// A number that falls by the same share from draw to draw, or will.
#[derive(Debug, Default)]
struct OneShare {
    last: f64,
    share: f64,
    n_same: u32,
}

impl OneShare {
    fn see(&mut self, value: f64) {
        // Too little to matter within the draws that are looked at.
        let value = if value.abs() > 1e-12 { value } else { 0.0 };
        // Rounding of a number close to 1, some times over.
        let is_same = (value - self.share * self.last).abs() <= 2e-15;
        self.n_same = if is_same { self.n_same + 1 } else { 0 };
        self.share = if self.last == 0.0 { 0.0 } else { (value / self.last).min(1.0) };
        self.last = value;
    }

    fn is_steady(&self) -> bool {
        self.n_same >= 8
    }
}

impl Falling {
    fn see(&mut self, lacking: f64, still: f64) {
        if !self.points.is_steady() {
            self.points.see(lacking);
        } else if let Some(before) = self.still.replace(still) {
            self.rest.see(still - self.points.share * before);
        }
    }

    fn is_steady(&self) -> bool {
        self.rest.is_steady()
    }

    /// The draw by which nine in ten have met the rule, when so many still wait after `n`. Each of the draws to come takes
    /// `still` to `points still + rest`, and `rest` falls by its own share; so many draws at once by doubling.
    fn draws_until(&self, n: u32, still: f64) -> Option<u32> {
        let (points, rest) = (self.points.share, self.rest.share);
        let mut jumps = vec![(points, rest, rest)];
        while let Some((one, across, other)) = jumps.last().copied().filter(|_| jumps.len() < 14) {
            jumps.push((one * one, (one + other) * across, other * other));
        }
        let (mut n, mut still, mut left) = (n, still, self.rest.last);
        for (power, (one, across, other)) in jumps.into_iter().enumerate().rev() {
            let then = one * still + across * left;
            if then > 0.1 + ROUNDING {
                (n, still, left) = (n + (1 << power), then, other * left);
            }
        }
        (n < LONGEST).then_some(n + 1)
    }
}
