//! Trials until the k-th event at a known chance.

use crate::dist::{binomial_cdf, binomial_sf};
use crate::error::{StatsError, finite, positive};
use crate::value::Probability;

/// The number of trials up to and including the k-th event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaitingTime {
    n_events: u64,
    chance: f64,
}

/// How many trials pass until the k-th event, when each trial is an event with the same chance.
///
/// # Formula
/// Mean k/p, standard deviation √(k(1 − p))/p; P(N ≤ n) = P(at least k events in n trials).
/// # Range
/// `n_events` k 1 to 1,000,000; `chance` p above 0 to 1; answers in trials, the last event's included.
/// # Ends
/// p = 1: k for certain. p = 0 or k = 0: an error.
/// # Source
/// Feller 1968, An Introduction to Probability Theory and Its Applications vol. 1, VI.8 (from memory).
/// # Check
/// p 0.03: first event mean 33.333, sd 32.830, median 23, P(> 100) 0.047553; fifth 166.667, 73.409, 67, 156, 303,
/// P(≤ 100) 0.182145; scipy's negative binomial.
/// # Example
/// ```
/// use stats::{Probability, arrivals::waiting_time};
/// // A fair coin: the first head within 2 tosses with chance 3/4.
/// let toss = waiting_time(1, Probability::new(0.5)?)?;
/// assert_eq!(toss.mean(), 2.0);
/// assert!((toss.within(2) - 0.75).abs() < 1e-15);
/// assert_eq!(toss.quantile(Probability::new(0.75)?), Some(2));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn waiting_time(n_events: u64, chance: Probability) -> Result<WaitingTime, StatsError> {
    const MOST: u64 = 1_000_000;
    if n_events == 0 {
        return Err(StatsError::TooFew { what: "events", found: 0, needed: 1 });
    }
    if n_events > MOST {
        return Err(StatsError::CountTooLarge { what: "events", value: n_events, most: MOST });
    }
    let chance = positive("chance", chance.get())?;
    finite("mean waiting time", n_events as f64 / chance)?;
    Ok(WaitingTime { n_events, chance })
}

impl WaitingTime {
    /// Mean number of trials.
    pub fn mean(self) -> f64 {
        self.n_events as f64 / self.chance
    }

    /// Standard deviation of the number of trials.
    pub fn standard_deviation(self) -> f64 {
        (self.n_events as f64 * (1.0 - self.chance)).sqrt() / self.chance
    }

    /// The chance, 0 to 1, that the k-th event comes within `n` trials.
    pub fn within(self, n: u64) -> f64 {
        if n < self.n_events { 0.0 } else { binomial_sf(self.n_events - 1, n, self.chance) }
    }

    /// The chance, 0 to 1, that the k-th event has not come within `n` trials.
    pub fn not_within(self, n: u64) -> f64 {
        if n < self.n_events { 1.0 } else { binomial_cdf(self.n_events - 1, n, self.chance) }
    }

    /// The smallest number of trials within which the k-th event comes with at least this chance; `None` for a chance
    /// of 1 (unless every trial is an event) and beyond 2⁵² trials.
    pub fn quantile(self, chance: Probability) -> Option<u64> {
        if self.chance == 1.0 {
            return Some(self.n_events);
        }
        let missing = 1.0 - chance.get();
        // The slack is for chances that meet the level exactly.
        let met = |n: u64| self.not_within(n) <= missing * (1.0 + 1e-13);
        let (mut low, mut high) = (self.n_events, self.n_events);
        while !met(high) {
            if high >= 1 << 52 || missing == 0.0 {
                return None;
            }
            (low, high) = (high, high * 2);
        }
        while high > low {
            let middle = low + (high - low) / 2;
            if met(middle) {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        Some(high)
    }
}
