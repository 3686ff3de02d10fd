//! How the true rates of people vary, estimated from their counts.

use crate::error::StatsError;
use crate::people::posterior::BetaPrior;
use crate::value::Proportion;

/// The most trials of one person: the likelihood is summed trial by trial.
const MOST_TRIALS: u64 = 10_000_000;

/// The largest weight of a prior, in trials: past it the people are the same for every use there is.
const LARGEST_WEIGHT: f64 = 1e6;

/// The smallest weight: below it every person is all or nothing.
const SMALLEST_WEIGHT: f64 = 1e-6;

/// Whether people vary by more than chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Excess {
    /// They do.
    Found,
    /// Chance explains all of it: the prior is held at a weight of a million trials, which puts everyone at
    /// the unit's rate.
    NotFound,
}

/// A prior estimated from people.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetaFit {
    /// The prior.
    pub prior: BetaPrior,
    /// The log-likelihood without the binomial coefficients.
    pub log_likelihood: f64,
    /// Whether people vary by more than chance.
    pub excess: Excess,
}

/// How people's true rates vary, from the mean and spread of their proportions: quick, but it takes chance
/// for spread.
///
/// # Formula
///
/// With m and v the mean and variance (divisor k − 1) of the proportions x/n: α + β = m(1 − m)/v − 1, and
/// α = m(α + β).
///
/// # Range
///
/// Two people or more.
///
/// # Ends
///
/// All proportions equal leaves no spread and is refused; a spread so large that α + β would not be above 0
/// is refused.
///
/// # Source
///
/// Gelman and others, Bayesian Data Analysis, section 5.1 and equation A.3.
///
/// # Check
///
/// Rat tumours, 70 groups (Tarone 1982; Bayesian Data Analysis, Table 5.1): α 1.35615, β 8.61506 (printed 1.4
/// and 8.6).
///
/// # Example
///
/// ```
/// use stats::{Proportion, people::beta_binomial_moments};
/// // Proportions .2 and .4: m = .3, v = .02, .21/.02 − 1 = 9.5, α = 2.85.
/// let prior = beta_binomial_moments(&[Proportion::new(2, 10)?, Proportion::new(4, 10)?])?;
/// assert!((prior.alpha() - 2.85).abs() < 1e-12 && (prior.beta() - 6.65).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn beta_binomial_moments(people: &[Proportion]) -> Result<BetaPrior, StatsError> {
    enough(people)?;
    let k = people.len() as f64;
    let mean = people.iter().map(|person| person.estimate()).sum::<f64>() / k;
    let squares: f64 = people.iter().map(|person| (person.estimate() - mean).powi(2)).sum();
    let variance = squares / (k - 1.0);
    if people.iter().all(|person| person.estimate() == people[0].estimate()) {
        return Err(StatsError::NoSpread { what: "proportion", value: mean });
    }
    let weight = mean * (1.0 - mean) / variance - 1.0;
    if weight <= 0.0 {
        return Err(StatsError::DoesNotApply {
            what: "the method of moments",
            because: "the proportions spread more than any beta distribution; use maximum likelihood",
        });
    }
    BetaPrior::new(mean * weight, (1.0 - mean) * weight)
}

/// How people's true rates vary, by maximum likelihood: the estimate to use.
///
/// # Formula
///
/// The α, β that maximise Σ ln B(α + x, β + n − x) − ln B(α, β). Worked as sums of ln(α + j), ln(β + j) and
/// ln(α + β + j) over trials, by Newton's method on logit(α/(α + β)) and ln(α + β).
///
/// # Range
///
/// Two people or more, at least one with two trials; up to ten million trials each.
///
/// # Ends
///
/// People who vary no more than chance give [`Excess::NotFound`] and a prior of weight one million at the
/// pooled rate. All 0 of n or all n of n is refused, and so are people who are each 0 of n or n of n: no beta
/// distribution fits best.
///
/// # Source
///
/// Griffiths 1973, Biometrics 29:637; Tarone 1982, Biometrics 38:215.
///
/// # Check
///
/// Rat tumours, 71 groups: α 2.341614, β 14.114804, log-likelihood −730.338454; 70 groups 2.304783 and
/// 14.079809 (mpmath, forty digits); scipy root of the slopes on 200 random inputs to 1e-9 relative.
///
/// # Example
///
/// ```
/// use stats::{Proportion, people::{Excess, beta_binomial_likelihood}};
/// // Everyone at 1 of 10: less spread than chance gives.
/// let same = [Proportion::new(1, 10)?; 6];
/// let fit = beta_binomial_likelihood(&same)?;
/// assert_eq!(fit.excess, Excess::NotFound);
/// assert!((fit.prior.mean() - 0.1).abs() < 1e-6);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn beta_binomial_likelihood(people: &[Proportion]) -> Result<BetaFit, StatsError> {
    enough(people)?;
    if let Some(person) = people.iter().find(|person| person.trials() > MOST_TRIALS) {
        return Err(StatsError::CountTooLarge {
            what: "trials of one person",
            value: person.trials(),
            most: MOST_TRIALS,
        });
    }
    let (events, trials) = people.iter().fold((0_u64, 0_u64), |(events, trials), person| {
        (events + person.events(), trials + person.trials())
    });
    if events == 0 || events == trials {
        return Err(StatsError::NoSpread { what: "proportion", value: events as f64 / trials as f64 });
    }
    if people.iter().all(|person| person.trials() == 1) {
        return Err(StatsError::DoesNotApply {
            what: "a beta-binomial fit",
            because: "every person has one trial, which says nothing of how people vary",
        });
    }
    if people.iter().all(|person| person.events() == 0 || person.non_events() == 0) {
        return Err(StatsError::DoesNotApply {
            what: "a beta-binomial fit",
            because: "every person is all or nothing, so no spread fits best",
        });
    }
    let sums = Sums::of(people);
    climb(&sums, start(people, events as f64 / trials as f64))
}

fn enough(people: &[Proportion]) -> Result<(), StatsError> {
    if people.len() < 2 {
        return Err(StatsError::TooFew { what: "people", found: people.len(), needed: 2 });
    }
    Ok(())
}

/// A point on the way up: logit of the mean, and log of the weight.
#[derive(Clone, Copy)]
struct Place {
    logit: f64,
    log_weight: f64,
}

impl Place {
    fn shapes(self) -> (f64, f64) {
        let weight = libm::exp(self.log_weight);
        // Both from the same odds, so that neither shape is lost when the mean is near an end.
        let odds = libm::exp(-self.logit.abs());
        let (small, large) = (weight * odds / (1.0 + odds), weight / (1.0 + odds));
        if self.logit < 0.0 { (small, large) } else { (large, small) }
    }
}

/// The pooled rate, and the weight at which chance and spread together give the χ² seen.
fn start(people: &[Proportion], rate: f64) -> Place {
    let k = people.len() as f64;
    let (mut chi, mut trials) = (0.0, 0.0);
    for person in people {
        let (x, n) = person.as_f64();
        chi += (x - n * rate).powi(2) / (n * rate * (1.0 - rate));
        trials += n;
    }
    // E[χ²/k] is about 1 + (n̄ − 1)/(weight + 1).
    let excess = (chi / k - 1.0).max(1e-3);
    let weight = ((trials / k - 1.0) / excess - 1.0).clamp(0.1, 1e4);
    Place { logit: libm::log(rate) - libm::log1p(-rate), log_weight: libm::log(weight) }
}

/// Newton's method with halved steps; where the surface bends the wrong way, up the slope.
fn climb(sums: &Sums, start: Place) -> Result<BetaFit, StatsError> {
    const STEPS: usize = 200;
    let (lowest, highest) = (libm::log(SMALLEST_WEIGHT), libm::log(LARGEST_WEIGHT));
    let mut place = start;
    let mut here = sums.log_likelihood(place);
    for _ in 0..STEPS {
        let slope = sums.slope(place);
        let mut step = slope.newton_step();
        let held = place.log_weight >= highest && slope.by_weight > 0.0;
        if held {
            // At the largest weight only the mean still moves.
            step = (slope.by_logit / slope.bend_logit.abs().max(1e-300), 0.0);
        }
        let longest = step.0.abs().max(step.1.abs());
        if longest > 3.0 {
            step = (step.0 * 3.0 / longest, step.1 * 3.0 / longest);
        }
        let mut share = 1.0;
        let (next, there) = loop {
            let next = Place {
                logit: place.logit + share * step.0,
                log_weight: (place.log_weight + share * step.1).clamp(lowest, highest),
            };
            let there = sums.log_likelihood(next);
            // A step this small is beyond what the likelihood can tell apart: take it as Newton gives it.
            if there >= here || share * longest < 1e-7 {
                break (next, there);
            }
            share *= 0.5;
        };
        place = next;
        here = there;
        if longest < 1e-9 {
            let (alpha, beta) = place.shapes();
            if place.log_weight <= lowest {
                break;
            }
            let excess = if place.log_weight >= highest { Excess::NotFound } else { Excess::Found };
            return Ok(BetaFit { prior: BetaPrior::new(alpha, beta)?, log_likelihood: here, excess });
        }
    }
    Err(StatsError::DidNotSettle {
        what: "the weight of the prior",
        steps: STEPS,
        last: libm::exp(place.log_weight),
    })
}

/// Slopes and bends of the log-likelihood at a place.
struct Slope {
    by_logit: f64,
    by_weight: f64,
    bend_logit: f64,
    bend_weight: f64,
    bend_both: f64,
}

impl Slope {
    fn newton_step(&self) -> (f64, f64) {
        let determinant = self.bend_logit * self.bend_weight - self.bend_both * self.bend_both;
        if self.bend_logit < 0.0 && determinant > 0.0 {
            (
                (self.bend_both * self.by_weight - self.bend_weight * self.by_logit) / determinant,
                (self.bend_both * self.by_logit - self.bend_logit * self.by_weight) / determinant,
            )
        } else {
            (
                self.by_logit / self.bend_logit.abs().max(1e-12),
                self.by_weight / self.bend_weight.abs().max(1e-12),
            )
        }
    }
}

/// The people's counts as stretches: from trial j to the next, how many people have more than j. The likelihood
/// needs nothing else, so its cost grows with the largest count and not with the number of people.
struct Sums {
    events: Vec<Stretch>,
    non_events: Vec<Stretch>,
    trials: Vec<Stretch>,
}

#[derive(Clone, Copy)]
struct Stretch {
    from: u64,
    to: u64,
    n_people: f64,
}

impl Sums {
    fn of(people: &[Proportion]) -> Self {
        let stretches = |count: fn(Proportion) -> u64| {
            let mut counts: Vec<u64> = people.iter().map(|&person| count(person)).collect();
            counts.sort_unstable();
            let mut stretches = Vec::new();
            let mut from = 0;
            for (index, &to) in counts.iter().enumerate() {
                if to > from {
                    stretches.push(Stretch { from, to, n_people: (counts.len() - index) as f64 });
                    from = to;
                }
            }
            stretches
        };
        Self {
            events: stretches(Proportion::events),
            non_events: stretches(Proportion::non_events),
            trials: stretches(Proportion::trials),
        }
    }

    fn log_likelihood(&self, place: Place) -> f64 {
        let (alpha, beta) = place.shapes();
        sum_of_logs(&self.events, alpha) + sum_of_logs(&self.non_events, beta)
            - sum_of_logs(&self.trials, alpha + beta)
    }

    fn slope(&self, place: Place) -> Slope {
        let (alpha, beta) = place.shapes();
        let weight = alpha + beta;
        let (events, events_2) = sum_of_inverses(&self.events, alpha);
        let (non_events, non_events_2) = sum_of_inverses(&self.non_events, beta);
        let (trials, trials_2) = sum_of_inverses(&self.trials, weight);
        // With respect to α and β.
        let (by_alpha, by_beta) = (events - trials, non_events - trials);
        let (bend_alpha, bend_beta, bend_both) = (trials_2 - events_2, trials_2 - non_events_2, trials_2);
        // α = weight × mean, β = weight × (1 − mean), mean = logistic(logit).
        let turn = alpha * beta / weight;
        let lean = (beta - alpha) / weight;
        Slope {
            by_logit: turn * (by_alpha - by_beta),
            by_weight: alpha * by_alpha + beta * by_beta,
            bend_logit: turn * turn * (bend_alpha - 2.0 * bend_both + bend_beta)
                + turn * lean * (by_alpha - by_beta),
            bend_weight: alpha * alpha * bend_alpha
                + 2.0 * alpha * beta * bend_both
                + beta * beta * bend_beta
                + alpha * by_alpha
                + beta * by_beta,
            bend_both: turn * (alpha * (bend_alpha - bend_both) - beta * (bend_beta - bend_both))
                + turn * (by_alpha - by_beta),
        }
    }
}

/// Σ people × ln(shape + j), sixteen factors to a logarithm: their product stays below 1e120.
fn sum_of_logs(stretches: &[Stretch], shape: f64) -> f64 {
    let mut sum = 0.0;
    for stretch in stretches {
        let mut logs = 0.0;
        let mut j = stretch.from;
        while j < stretch.to {
            let end = stretch.to.min(j + 16);
            let product: f64 = (j..end).map(|j| shape + j as f64).product();
            logs += libm::log(product);
            j = end;
        }
        sum += stretch.n_people * logs;
    }
    sum
}

/// Σ people / (shape + j) and Σ people / (shape + j)².
fn sum_of_inverses(stretches: &[Stretch], shape: f64) -> (f64, f64) {
    let (mut first, mut second) = (0.0, 0.0);
    for stretch in stretches {
        for j in stretch.from..stretch.to {
            let inverse = 1.0 / (shape + j as f64);
            first += stretch.n_people * inverse;
            second += stretch.n_people * inverse * inverse;
        }
    }
    (first, second)
}
