//! What people thought of their own draws, beside what was observed. For that person and their trainer only; of a unit only
//! where enough people said it.

use stats::dist::student_t_quantile;
use stats::proportion::wilson;
use stats::{ConfidenceLevel, Probability, Proportion};

/// How a learner's own confidence stands beside what was observed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Confidence {
    /// They expect more clean draws than the observed ones allow.
    Over,
    /// They expect fewer.
    Under,
    /// The observed draws allow what they expect.
    CannotTell,
}

/// A learner's own confidence beside their observed draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConfidenceBeside {
    /// Share of their next draws that they expect to be clean, as they said before release.
    pub stated: Probability,
    /// Clean draws of those observed.
    pub clean: Proportion,
    /// Stated less observed share, with the interval that the observed share's gives it.
    pub difference: f64,
    /// From the lower to the upper end.
    pub interval: (f64, f64),
    /// What can be said.
    pub says: Confidence,
}

/// A learner's stated confidence, less the share of their observed draws that were clean.
///
/// # Formula
/// Stated − x / n; the interval is stated less the ends of Wilson's interval of x / n. What was stated is taken as it was
/// said, without an error of its own.
/// # Range
/// Stated 0 to 1; difference −1 to 1.
/// # Ends
/// Ten clean of ten allow any confidence from 72 % up: nobody is called over-confident on a perfect record.
/// # Source
/// E. B. Wilson, Journal of the American Statistical Association 22, 1927, 209.
/// # Check
/// Wilson's published interval of 81 in 263.
///
/// # Example
/// ```
/// use practice::{Confidence, confidence_beside};
/// use stats::{ConfidenceLevel, Probability, Proportion};
///
/// // Nine of ten expected, three of ten seen.
/// let seen = Proportion::new(3, 10)?;
/// let beside = confidence_beside(Probability::new(0.9)?, seen, ConfidenceLevel::default());
/// assert_eq!(beside.says, Confidence::Over);
/// assert!((beside.difference - 0.6).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn confidence_beside(stated: Probability, clean: Proportion, level: ConfidenceLevel) -> ConfidenceBeside {
    let share = wilson(clean, level);
    let interval = (stated.get() - share.upper(), stated.get() - share.lower());
    let says = said_by(interval);
    ConfidenceBeside { stated, clean, difference: stated.get() - clean.estimate(), interval, says }
}

/// Fewest people whose confidence is put together: with fewer, a figure of the unit would be a figure of persons. Common
/// practice, no source.
pub const FEWEST_FOR_A_UNIT: usize = 6;

/// Confidence less observed share over the people of a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitConfidence {
    /// People.
    pub n_people: usize,
    /// Mean of their differences, −1 to 1.
    pub mean: f64,
    /// Where the mean lies with the stated confidence.
    pub interval: (f64, f64),
    /// What can be said of the unit.
    pub says: Confidence,
}

/// The mean of people's differences between stated confidence and observed share; `None` for fewer than
/// [`FEWEST_FOR_A_UNIT`] people.
///
/// # Formula
/// Mean ± t s / √n with Student's t at n − 1 degrees of freedom. Each person counts once, however many draws were watched.
/// # Range
/// Differences −1 to 1; six people or more. An end is cut at −1 and 1.
/// # Ends
/// All differences equal: an interval without width.
/// # Source
/// Student (W. S. Gosset), Biometrika 6, 1908, 1.
/// # Check
/// Student's ten differences of hours of sleep (mean 1.58, 95 % from 0.7001 to 2.4599, as printed with R's `t.test`), in
/// tenths.
///
/// # Example
/// ```
/// use practice::confidence_of_unit;
/// use stats::ConfidenceLevel;
///
/// let differences = [0.1, 0.2, 0.0, 0.1, 0.2, 0.0];
/// let unit = confidence_of_unit(&differences, ConfidenceLevel::default()).unwrap();
/// assert!((unit.mean - 0.1).abs() < 1e-12);
/// assert!(confidence_of_unit(&differences[..5], ConfidenceLevel::default()).is_none());
/// ```
pub fn confidence_of_unit(differences: &[f64], level: ConfidenceLevel) -> Option<UnitConfidence> {
    let n_people = differences.len();
    if n_people < FEWEST_FOR_A_UNIT || differences.iter().any(|one| !one.is_finite()) {
        return None;
    }
    let n = n_people as f64;
    let mean = differences.iter().sum::<f64>() / n;
    let squares: f64 = differences.iter().map(|one| (one - mean) * (one - mean)).sum();
    let error = libm::sqrt(squares / (n - 1.0) / n);
    let half = student_t_quantile(0.5 + level.get() / 2.0, n - 1.0) * error;
    let interval = ((mean - half).max(-1.0), (mean + half).min(1.0));
    let says = said_by(interval);
    Some(UnitConfidence { n_people, mean, interval, says })
}

fn said_by(interval: (f64, f64)) -> Confidence {
    if interval.0 > 0.0 {
        Confidence::Over
    } else if interval.1 < 0.0 {
        Confidence::Under
    } else {
        Confidence::CannotTell
    }
}
