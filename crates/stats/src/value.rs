//! The values every method takes: a probability, a confidence level, a count with its denominator, an interval.
//!
//! Each refuses what is not meaningful when it is made, so the methods need not.

use crate::dist::normal_quantile;
use crate::error::{StatsError, finite, strictly_between, within};

/// A number from 0 to 1, both ends allowed.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Probability(f64);

impl Probability {
    /// Refuses NaN and anything outside 0 to 1.
    ///
    /// ```
    /// use stats::Probability;
    /// assert_eq!(Probability::new(0.03)?.get(), 0.03);
    /// assert_eq!(Probability::new(1.2).unwrap_err().to_string(), "probability 1.2 is not within 0 to 1");
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn new(value: f64) -> Result<Self, StatsError> {
        // Adding zero turns a negative zero into a plain one, so it never prints as "-0".
        within("probability", value, 0.0, 1.0).map(|value| Self(value + 0.0))
    }

    /// For a probability worked out here, where rounding may have carried it a last bit past an end.
    pub(crate) fn computed(value: f64) -> Self {
        debug_assert!((-1e-9..=1.0 + 1e-9).contains(&value), "{value}");
        Self(value.clamp(0.0, 1.0))
    }

    /// The number itself, 0 to 1.
    pub fn get(self) -> f64 {
        self.0
    }

    /// One minus this probability.
    pub fn complement(self) -> Self {
        Self(1.0 - self.0)
    }

    /// The number, refused when it is exactly 0 or 1: for methods that divide by p(1 − p).
    pub(crate) fn interior(self, what: &'static str) -> Result<f64, StatsError> {
        strictly_between(what, self.0, 0.0, 1.0)
    }
}

/// The share of intervals that would hold the true value over many repetitions; 0.95 unless said otherwise.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct ConfidenceLevel {
    level: f64,
    /// The two-sided normal point. Kept here because a page of intervals shares one level, and finding the
    /// point takes longer than the interval.
    z: f64,
}

impl ConfidenceLevel {
    /// Refuses NaN, 0, 1 and anything outside.
    ///
    /// ```
    /// use stats::ConfidenceLevel;
    /// assert_eq!(ConfidenceLevel::default().get(), 0.95);
    /// assert!(ConfidenceLevel::new(95.0).is_err());
    /// ```
    pub fn new(value: f64) -> Result<Self, StatsError> {
        let level = strictly_between("confidence level", value, 0.0, 1.0)?;
        Ok(Self { level, z: -normal_quantile((1.0 - level) / 2.0) })
    }

    /// The level itself, strictly between 0 and 1.
    pub fn get(self) -> f64 {
        self.level
    }

    /// The probability left in each of two equal tails: 0.025 at a level of 0.95.
    pub fn tail(self) -> f64 {
        (1.0 - self.level) / 2.0
    }

    /// The normal point that leaves this tail on each side: 1.959964 at a level of 0.95.
    pub fn z(self) -> f64 {
        self.z
    }
}

impl Default for ConfidenceLevel {
    fn default() -> Self {
        Self { level: 0.95, z: Z_OF_95_PERCENT }
    }
}

/// What [`ConfidenceLevel::new`] finds for 0.95; a test holds the two together.
const Z_OF_95_PERCENT: f64 = 1.959_963_984_540_053_8;

/// The largest count taken: a million million. Every whole number up to here is exact in double precision,
/// and an exact interval is still found in well under a second (its work grows with the square root of the
/// count).
pub const LARGEST_COUNT: u64 = 1_000_000_000_000;

/// A count of events with the number of trials it came from; a rate without a denominator cannot be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Proportion {
    events: u64,
    trials: u64,
}

impl Proportion {
    /// Refuses 0 trials, and more events than trials.
    ///
    /// ```
    /// use stats::Proportion;
    /// assert_eq!(Proportion::new(3, 100)?.estimate(), 0.03);
    /// assert_eq!(
    ///     Proportion::new(12, 10).unwrap_err().to_string(),
    ///     "12 events is more than 10 trials; events must be 0 to 10"
    /// );
    /// assert_eq!(Proportion::new(0, 0).unwrap_err().to_string(), "0 trials: a rate needs at least 1 trial");
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn new(events: u64, trials: u64) -> Result<Self, StatsError> {
        if trials == 0 {
            return Err(StatsError::NoTrials);
        }
        if events > trials {
            return Err(StatsError::EventsExceedTrials { events, trials });
        }
        if trials > LARGEST_COUNT {
            return Err(StatsError::CountTooLarge { what: "trials", value: trials, most: LARGEST_COUNT });
        }
        Ok(Self { events, trials })
    }

    /// How often it happened.
    pub fn events(self) -> u64 {
        self.events
    }

    /// How often it could have happened.
    pub fn trials(self) -> u64 {
        self.trials
    }

    /// How often it did not happen.
    pub fn non_events(self) -> u64 {
        self.trials - self.events
    }

    /// Events divided by trials, 0 to 1.
    pub fn estimate(self) -> f64 {
        self.events as f64 / self.trials as f64
    }

    /// The same trials with events and non-events exchanged.
    pub fn complement(self) -> Self {
        Self { events: self.non_events(), trials: self.trials }
    }

    /// The events and trials as numbers for arithmetic.
    #[inline]
    pub(crate) fn as_f64(self) -> (f64, f64) {
        (exactly(self.events), exactly(self.trials))
    }
}

/// A count below 2^52 as a number, by its bits. The usual conversion must allow for counts up to 2^64; over a column of
/// counts that is most of the work of a score interval.
#[inline]
fn exactly(count: u64) -> f64 {
    const TWO_TO_52: f64 = 4_503_599_627_370_496.0;
    f64::from_bits(count | TWO_TO_52.to_bits()) - TWO_TO_52
}

/// A lower and an upper bound with the level they were computed for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    lower: f64,
    upper: f64,
    level: ConfidenceLevel,
}

impl Interval {
    /// Refuses bounds that are not finite or stand in the wrong order.
    pub fn new(lower: f64, upper: f64, level: ConfidenceLevel) -> Result<Self, StatsError> {
        let (lower, upper) = (finite("lower bound", lower)?, finite("upper bound", upper)?);
        if lower > upper {
            return Err(StatsError::NotWithin {
                what: "lower bound",
                value: lower,
                low: f64::MIN,
                high: upper,
            });
        }
        Ok(Self { lower, upper, level })
    }

    /// For bounds that are finite by construction. At a level near 0 both are the estimate, and rounding may
    /// have exchanged their last bits.
    pub(crate) fn of(lower: f64, upper: f64, level: ConfidenceLevel) -> Self {
        debug_assert!(lower.is_finite() && upper.is_finite(), "{lower} to {upper}");
        // Two choices between numbers, not one between jumps: bounds are always in order, at no cost to speak of.
        let in_order = lower <= upper;
        Self {
            lower: if in_order { lower } else { upper },
            upper: if in_order { upper } else { lower },
            level,
        }
    }

    /// The lower bound.
    pub fn lower(self) -> f64 {
        self.lower
    }

    /// The upper bound.
    pub fn upper(self) -> f64 {
        self.upper
    }

    /// The level the bounds were computed for.
    pub fn level(self) -> ConfidenceLevel {
        self.level
    }

    /// Whether the value lies between the bounds, ends included.
    pub fn contains(self, value: f64) -> bool {
        (self.lower..=self.upper).contains(&value)
    }

    /// Upper minus lower.
    pub fn width(self) -> f64 {
        self.upper - self.lower
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_keeps_its_value() {
        for count in [0, 1, 2, 1_000, 123_456_789, LARGEST_COUNT - 1, LARGEST_COUNT] {
            assert_eq!(exactly(count), count as f64);
        }
    }

    #[test]
    fn values_refuse_what_means_nothing() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1e-12, 1.0 + 1e-12] {
            assert!(Probability::new(bad).is_err(), "{bad}");
            assert!(ConfidenceLevel::new(bad).is_err(), "{bad}");
        }
        assert_eq!(ConfidenceLevel::new(0.95).unwrap(), ConfidenceLevel::default());
        assert!(ConfidenceLevel::new(0.0).is_err() && ConfidenceLevel::new(1.0).is_err());
        assert!(Probability::new(0.0).is_ok() && Probability::new(1.0).is_ok());
        assert!(Probability::new(-0.0).unwrap().get().is_sign_positive());
        assert!(Proportion::new(0, u64::MAX).is_err());
        assert!(Proportion::new(LARGEST_COUNT, LARGEST_COUNT).is_ok());
        assert!(Interval::new(0.2, 0.1, ConfidenceLevel::default()).is_err());
        assert!(Interval::new(f64::NAN, 0.1, ConfidenceLevel::default()).is_err());
    }
}
