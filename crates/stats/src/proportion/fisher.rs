//! A two by two table, exactly.

use crate::dist::root_between;
use crate::error::StatsError;
use crate::proportion::RatioEstimate;
use crate::value::{ConfidenceLevel, Probability, Proportion};

/// The largest number of tables with the same margins that is worked through one by one.
const MOST_TABLES: u64 = 200_000;

/// A table whose log probability is this close above that of the table seen counts as equally likely.
const EQUALLY_LIKELY: f64 = 1e-7;

/// Two proportions side by side, as a two by two table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TwoByTwo {
    first: Proportion,
    second: Proportion,
}

impl TwoByTwo {
    /// Refuses tables with more than 200,000 tables of the same margins: there the approximate methods
    /// agree.
    pub fn new(first: Proportion, second: Proportion) -> Result<Self, StatsError> {
        let table = Self { first, second };
        let count = table.highest() - table.lowest() + 1;
        if count > MOST_TABLES {
            return Err(StatsError::CountTooLarge {
                what: "number of tables with these margins",
                value: count,
                most: MOST_TABLES,
            });
        }
        Ok(table)
    }

    fn events(self) -> u64 {
        self.first.events() + self.second.events()
    }

    /// The fewest events the first row can hold under these margins.
    fn lowest(self) -> u64 {
        self.events().saturating_sub(self.second.trials())
    }

    /// The most events the first row can hold under these margins.
    fn highest(self) -> u64 {
        self.events().min(self.first.trials())
    }

    /// P(k + 1 events in the first row) / P(k) at an odds ratio of 1.
    fn step(self, k: u64) -> f64 {
        let up = (self.first.trials() - k) as f64 * (self.events() - k) as f64;
        let down = (k + 1) as f64 * (self.second.trials() + k + 1 - self.events()) as f64;
        up / down
    }
}

/// What Fisher's exact test says about a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FisherExact {
    /// P(the first row has this few events or fewer).
    pub less: Probability,
    /// P(the first row has this many events or more).
    pub greater: Probability,
    /// P(a table as unlikely as this one or more so).
    pub two_sided: Probability,
}

/// Whether two proportions differ by more than chance, exact at any size: the chance of such a table if they
/// are the same.
///
/// # Formula
///
/// With both margins fixed, the events in the first row follow the hypergeometric distribution. One-sided:
/// the tail including the table seen. Two-sided: the sum over all tables no more likely than the one seen (a
/// table within 1e-7 of its probability counts as equal).
///
/// # Range
///
/// Two proportions; probabilities 0 to 1.
///
/// # Ends
///
/// A margin of 0 leaves one table: every probability is 1.
///
/// # Source
///
/// Fisher 1935, The Design of Experiments, chapter 2; the two-sided rule is Irwin's (1935, Metron 12:83).
///
/// # Check
///
/// Fisher's tea table 3 1 / 1 3 (greater 17/70); scipy `fisher_exact` to 1e-12 relative.
///
/// # Example
///
/// ```
/// use stats::{Proportion, proportion::{TwoByTwo, fisher_exact}};
/// // Four cups right of four: one arrangement of 70.
/// let table = TwoByTwo::new(Proportion::new(4, 4)?, Proportion::new(0, 4)?)?;
/// assert!((fisher_exact(table).greater.get() - 1.0 / 70.0).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn fisher_exact(table: TwoByTwo) -> FisherExact {
    let seen = table.first.events();
    let mut heaviest = 0.0_f64;
    each_other_table(table, |_, log_weight| heaviest = heaviest.max(log_weight));
    let here = libm::exp(-heaviest);
    let (mut below, mut above, mut as_unlikely) = (0.0, 0.0, here);
    each_other_table(table, |k, log_weight| {
        let weight = libm::exp(log_weight - heaviest);
        if k < seen {
            below += weight;
        } else {
            above += weight;
        }
        if log_weight <= EQUALLY_LIKELY {
            as_unlikely += weight;
        }
    });
    let total = below + here + above;
    let share = |weight: f64| Probability::computed(weight / total);
    FisherExact { less: share(below + here), greater: share(above + here), two_sided: share(as_unlikely) }
}

/// The odds ratio given both margins, with its exact interval: how much the odds differ, without an
/// approximation.
///
/// # Formula
///
/// Under odds ratio ψ the events k in the first row have probability proportional to C(n₁, k) C(n₂, m − k)
/// ψ^k. Estimate: the ψ whose mean is the count seen. Bounds: the ψ with P(K ≥ k) = α/2 and P(K ≤ k) = α/2.
///
/// # Range
///
/// Two proportions; odds ratio 0 upward.
///
/// # Ends
///
/// The lowest possible count gives ratio 0 and lower bound 0; the highest gives no ratio and no upper bound.
/// With one possible table (a margin of 0) there is no ratio, and the interval is 0 to no bound.
///
/// # Source
///
/// Fisher 1935, J R Stat Soc 98:39; interval: Cornfield 1956, Proc Third Berkeley Symposium 4:135.
///
/// # Check
///
/// Tea table: 6.408320, .2117356 to 626.2435; scipy `odds_ratio(kind="conditional")` to 1e-11 relative.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::{TwoByTwo, conditional_odds_ratio}};
/// // 1 of 1 against 1 of 2, two events in all: K is 0 (weight 1) or 1 (weight 2ψ), and 1 was seen.
/// let table = TwoByTwo::new(Proportion::new(1, 1)?, Proportion::new(1, 2)?)?;
/// let odds = conditional_odds_ratio(table, ConfidenceLevel::default());
/// // P(K ≥ 1) = 2ψ / (1 + 2ψ) = 0.025 at ψ = 0.025 / 0.975 / 2.
/// assert!((odds.lower - 0.025 / 0.975 / 2.0).abs() < 1e-15 && odds.upper.is_none());
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn conditional_odds_ratio(table: TwoByTwo, level: ConfidenceLevel) -> RatioEstimate {
    let (lowest, highest, seen) = (table.lowest(), table.highest(), table.first.events());
    if lowest == highest {
        return RatioEstimate { ratio: None, lower: 0.0, upper: None, level };
    }
    let weights = LogWeights::new(table);
    let tail = level.tail();
    // Every root lies within the logs of the outermost steps, widened by the tail wanted.
    let reach = 2.0 + libm::fabs(libm::log(tail));
    let (left, right) = (-weights.steepest - reach, weights.steepest + reach);
    let solve = |wanted: &dyn Fn(f64) -> f64| libm::exp(root_between(left, right, wanted));
    let lower = if seen == lowest { 0.0 } else { solve(&|log_psi| weights.at(log_psi).at_or_above - tail) };
    let upper = (seen != highest).then(|| solve(&|log_psi| weights.at(log_psi).at_or_below - tail));
    let ratio = match seen {
        _ if seen == lowest => Some(0.0),
        _ if seen == highest => None,
        _ => Some(solve(&|log_psi| weights.at(log_psi).mean_offset)),
    };
    RatioEstimate { ratio, lower, upper, level }
}

/// Log weights of every table with the margins of one, relative to the table seen.
struct LogWeights {
    offset: Vec<f64>,
    log_weight: Vec<f64>,
    steepest: f64,
}

struct AtOddsRatio {
    at_or_above: f64,
    at_or_below: f64,
    /// Mean count minus the count seen.
    mean_offset: f64,
}

impl LogWeights {
    fn new(table: TwoByTwo) -> Self {
        let (lowest, highest, seen) = (table.lowest(), table.highest(), table.first.events());
        let mut log_weight = Vec::with_capacity((highest - lowest + 1) as usize);
        let mut running = 0.0;
        let mut steepest = 0.0_f64;
        log_weight.push(0.0);
        for k in lowest..highest {
            let step = libm::log(table.step(k));
            steepest = steepest.max(step.abs());
            running += step;
            log_weight.push(running);
        }
        let here = log_weight[(seen - lowest) as usize];
        for weight in &mut log_weight {
            *weight -= here;
        }
        let offset = (lowest..=highest).map(|k| k as f64 - seen as f64).collect();
        Self { offset, log_weight, steepest }
    }

    fn at(&self, log_psi: f64) -> AtOddsRatio {
        let tilted = || self.offset.iter().zip(&self.log_weight).map(|(&k, &w)| (k, w + k * log_psi));
        let heaviest = tilted().fold(f64::NEG_INFINITY, |most, (_, weight)| most.max(weight));
        let (mut below, mut here, mut above, mut moment) = (0.0, 0.0, 0.0, 0.0);
        for (k, weight) in tilted() {
            let weight = libm::exp(weight - heaviest);
            moment += k * weight;
            if k < 0.0 {
                below += weight;
            } else if k > 0.0 {
                above += weight;
            } else {
                here += weight;
            }
        }
        let total = below + here + above;
        AtOddsRatio {
            at_or_above: (here + above) / total,
            at_or_below: (here + below) / total,
            mean_offset: moment / total,
        }
    }
}

/// Visits every other table with these margins: its count in the first row and the log of its probability
/// relative to the table seen. Nothing is stored, and the weights cannot overflow.
fn each_other_table(table: TwoByTwo, mut visit: impl FnMut(u64, f64)) {
    let seen = table.first.events();
    let mut log_weight = 0.0;
    for k in seen..table.highest() {
        log_weight += libm::log(table.step(k));
        visit(k + 1, log_weight);
    }
    log_weight = 0.0;
    for k in (table.lowest()..seen).rev() {
        log_weight -= libm::log(table.step(k));
        visit(k, log_weight);
    }
}
