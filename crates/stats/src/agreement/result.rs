//! What every measure of agreement answers with.

use crate::error::{StatsError, within};
use crate::value::{ConfidenceLevel, Interval};

/// Why a measure of agreement carries no interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, thiserror::Error)]
pub enum NoInterval {
    /// The formula gives an interval of no width, which would claim certainty.
    #[error("no interval: the cases do not differ, so their spread says nothing about the next case")]
    NoSpreadSeen,
    /// One case has no spread.
    #[error("no interval: one case has no spread")]
    OneCase,
    /// Too many resamples had no disagreement possible in them.
    #[error("no interval: only {used} of {asked} resamples could be computed")]
    TooFewResamples { used: usize, asked: usize },
}

/// A chance-corrected agreement with what it was made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// (observed − expected)/(1 − expected); 1 is full agreement, 0 what chance gives, below 0 less than chance.
    pub estimate: f64,
    /// Agreement seen, 0 to 1.
    pub observed: f64,
    /// Agreement expected by chance, 0 to below 1.
    pub expected: f64,
    /// Number of cases the figure is made from: its denominator.
    pub n_cases: u64,
    /// Large-sample standard error (of a bootstrap: the spread of the resamples); `None` for one case.
    pub standard_error: Option<f64>,
    /// Standard error if there were no agreement beyond chance, where the method has one: for a test of that.
    pub null_standard_error: Option<f64>,
    /// The interval, kept within −1 to 1, or why there is none.
    pub interval: Result<Interval, NoInterval>,
}

impl Agreement {
    /// The estimate over its null standard error, where there is one above 0.
    pub fn null_z(&self) -> Option<f64> {
        self.null_standard_error.filter(|error| *error > 0.0).map(|error| self.estimate / error)
    }

    /// Estimate ± quantile × standard error, within −1 to 1; no interval where the standard error is nothing.
    pub(crate) fn around(
        estimate: f64,
        standard_error: Option<f64>,
        quantile: f64,
        level: ConfidenceLevel,
    ) -> Result<Interval, NoInterval> {
        match standard_error {
            None => Err(NoInterval::OneCase),
            // The rounding of a sum of squares that should be zero is far below this.
            Some(error) if error < 1e-9 => Err(NoInterval::NoSpreadSeen),
            Some(error) => Ok(Interval::of(
                (estimate - quantile * error).max(-1.0),
                (estimate + quantile * error).min(1.0),
                level,
            )),
        }
    }
}

/// Words for a kappa. They are a convention, not a finding: show the number and its interval first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum StrengthBand {
    /// Below 0.
    Poor,
    /// 0 to 0.20.
    Slight,
    /// Above 0.20 to 0.40.
    Fair,
    /// Above 0.40 to 0.60.
    Moderate,
    /// Above 0.60 to 0.80.
    Substantial,
    /// Above 0.80.
    AlmostPerfect,
}

/// The customary word for a kappa.
///
/// # Formula
/// < 0 poor, to 0.20 slight, to 0.40 fair, to 0.60 moderate, to 0.80 substantial, to 1 almost perfect.
/// # Range
/// `estimate` −1 to 1.
/// # Ends
/// A value on a bound belongs to the lower word; 0 is slight.
/// # Source
/// Landis and Koch 1977, Biometrics 33:159.
/// # Check
/// The bounds themselves.
/// # Example
/// ```
/// use stats::agreement::{StrengthBand, strength_band};
/// assert_eq!(strength_band(0.43)?, StrengthBand::Moderate);
/// assert_eq!(strength_band(0.20)?, StrengthBand::Slight);
/// assert!(strength_band(1.2).is_err());
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn strength_band(estimate: f64) -> Result<StrengthBand, StatsError> {
    let estimate = within("agreement", estimate, -1.0, 1.0)?;
    Ok(match estimate {
        _ if estimate < 0.0 => StrengthBand::Poor,
        _ if estimate <= 0.20 => StrengthBand::Slight,
        _ if estimate <= 0.40 => StrengthBand::Fair,
        _ if estimate <= 0.60 => StrengthBand::Moderate,
        _ if estimate <= 0.80 => StrengthBand::Substantial,
        _ => StrengthBand::AlmostPerfect,
    })
}
