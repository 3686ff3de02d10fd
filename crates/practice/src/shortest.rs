//! The shortest rule within stated risks, or none.

use stats::{Probability, StatsError};

use crate::error_rates::{Released, error_rates, released_within};
use crate::rule::{PointsTest, ReleaseRule};

/// What a rule may do to those who are not ready, and to those who are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Risks {
    /// Fault rate of somebody who is not ready.
    pub not_ready: Probability,
    /// Most of them that may be released.
    pub most_released: Probability,
    /// Fault rate of somebody who is ready.
    pub ready: Probability,
    /// Most of them that may be held back.
    pub most_held_back: Probability,
    /// Draws after which the trainer takes stock at the latest.
    pub most_draws: u16,
}

/// A rule found, with what it does to both.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The rule.
    pub rule: ReleaseRule,
    /// What it does to those who are not ready.
    pub not_ready: Released,
    /// What it does to those who are ready.
    pub ready: Released,
}

/// Most draws a search may allow.
pub const MOST_SEARCHED: u16 = 200;

/// The shortest rule within the risks: fewest draws until the trainer takes stock, and of those the fewest in the mean for
/// somebody ready. `None` when no rule of the kinds searched is within them.
///
/// # Formula
/// All other parts of `base` kept, two kinds are searched in full: n draws needed, the last k clean (0 ≤ k ≤ n), and n
/// points needed with 1 to n lost by a fault. For each the chances of release within every number of draws come from
/// one run of the chain ([`error_rates`]); they only rise with the number, so the first number that holds back few
/// enough of the ready is the only one to look at for the others.
/// # Range
/// Fault rates 0 to 1, that of the ready below the other; `most_draws` 1 to 200.
/// # Ends
/// Risks of 1 are met by one draw. A risk of 0 of releasing somebody who is not ready is met by no rule.
/// # Source
/// As [`error_rates`]; the search is complete, so nothing is left to a method.
/// # Check
/// The rule found against enumeration, its neighbours one draw shorter against the risks, and the published number of
/// draws without a failure.
///
/// # Example
/// ```
/// use practice::{ReleaseRule, Risks, shortest_rule};
/// use stats::Probability;
///
/// // Whoever never fails is never held back: enough clean draws that one in two gets through with 1 in 1000 at most.
/// let share = Probability::new;
/// let risks = Risks {
///     not_ready: share(0.5)?,
///     most_released: share(0.001)?,
///     ready: share(0.0)?,
///     most_held_back: share(0.0)?,
///     most_draws: 20,
/// };
/// let rule = shortest_rule(&ReleaseRule::default(), &risks)?.map(|found| found.rule.most_draws);
/// assert_eq!(rule, Some(10));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn shortest_rule(base: &ReleaseRule, risks: &Risks) -> Result<Option<Found>, StatsError> {
    if risks.ready.get() >= risks.not_ready.get() {
        return Err(StatsError::NotStrictlyBetween {
            what: "fault rate of those who are ready",
            value: risks.ready.get(),
            low: 0.0,
            high: risks.not_ready.get(),
        });
    }
    if !(1..=MOST_SEARCHED).contains(&risks.most_draws) {
        return Err(StatsError::NotWithin {
            what: "most draws",
            value: f64::from(risks.most_draws),
            low: 1.0,
            high: f64::from(MOST_SEARCHED),
        });
    }
    let mut best: Option<(u16, f64, ReleaseRule)> = None;
    // Gives whether a stricter rule of as many draws is worth a look.
    let mut look_at = |rule: ReleaseRule| {
        let most = best.as_ref().map_or(risks.most_draws, |(draws, _, _)| *draws);
        // No rule is met before the draws it needs.
        if rule.draws_needed > most {
            return false;
        }
        // Chances within 0, 1, ... draws.
        let ready = released_within(&rule, risks.ready, most);
        let needed = 1.0 - risks.most_held_back.get();
        // Whoever does not meet this rule meets no stricter one.
        let Some(draws) = ready.iter().position(|met| *met >= needed - 1e-12) else { return false };
        let not_ready = released_within(&rule, risks.not_ready, draws as u16);
        if not_ready.last().is_none_or(|met| *met > risks.most_released.get() + 1e-12) {
            return true;
        }
        let draws = (draws as u16).max(1);
        let rule = ReleaseRule { most_draws: draws, ..rule };
        let mean = error_rates(&rule, risks.ready).mean_draws.unwrap_or(f64::MAX);
        if best.as_ref().is_none_or(|(fewest, least, _)| (draws, mean) < (*fewest, *least)) {
            best = Some((draws, mean, rule));
        }
        true
    };
    for n in 1..=risks.most_draws {
        for k in 0..=n.min(100) {
            let rule = ReleaseRule { draws_needed: n, clean_in_a_row: k, points: None, ..base.clone() };
            if !look_at(rule) {
                break;
            }
        }
    }
    for n in 1..=risks.most_draws {
        for lost in 1..=n {
            let points = Some(PointsTest { needed: n, lost_by_fault: lost });
            let rule = ReleaseRule { draws_needed: n, clean_in_a_row: 0, points, ..base.clone() };
            if !look_at(rule) {
                break;
            }
        }
    }
    Ok(best.map(|(_, _, rule)| Found {
        not_ready: error_rates(&rule, risks.not_ready),
        ready: error_rates(&rule, risks.ready),
        rule,
    }))
}
