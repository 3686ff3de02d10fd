//! The learning-curve CUSUM: when has a learner shown an adequate rate?

use crate::error::{StatsError, strictly_between};
use crate::sequential::two_step::{RisesOn, TwoStepCusum};
use crate::value::Probability;

/// A CUSUM that signals when a learner's failures are shown to be nearer `adequate` than `adequate + margin`.
///
/// The signal is evidence, not a release: at limit 1.25 it passes 65 % of learners who fail one draw in five
/// within 50 draws (adequate 0.10, margin 0.10). Never show it without its run length at the inadequate rate and
/// the number of draws allowed; ask `two_step_signal_within`. An independent audit of the method judged it not safe
/// for high-stakes decisions on its own.
///
/// # Formula
/// H0 rate p0 + δ, H1 rate p0: success adds ln((1 − p0)/(1 − p0 − δ)), failure adds ln(p0/(p0 + δ)), which is
/// negative; S = max(0, S + w), signal at S ≥ limit. An event is a failure.
/// # Range
/// 0 < p0, 0 < δ, p0 + δ < 1; `limit` above 0 in logarithms.
/// # Ends
/// p0 of 0 (the first failure would weigh without bound) or p0 + δ of 1 or more: an error.
/// # Source
/// Biau and Porcher 2010, Stat Med 29:1900; Biau et al. 2008, Br J Surg 95:925.
/// # Check
/// Seven rows of weights, successes in a row, and run lengths at both rates.
/// # Example
/// ```
/// use stats::{Probability, sequential::learning_curve_cusum};
/// let chart = learning_curve_cusum(Probability::new(0.10)?, Probability::new(0.10)?, 1.25)?;
/// // Success ln(0.9/0.8), failure −ln 2.
/// assert!((chart.rise() - 1.125f64.ln()).abs() < 1e-15 && (chart.fall() - 2.0f64.ln()).abs() < 1e-15);
/// assert_eq!(chart.fewest_to_signal(), 11);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn learning_curve_cusum(
    adequate: Probability,
    margin: Probability,
    limit: f64,
) -> Result<TwoStepCusum, StatsError> {
    let p0 = adequate.interior("adequate failure rate")?;
    let margin = margin.interior("margin")?;
    let inadequate = strictly_between("inadequate failure rate", p0 + margin, 0.0, 1.0)?;
    let success = libm::log1p(margin / (1.0 - inadequate));
    let failure = libm::log1p(margin / p0);
    TwoStepCusum::new(success, failure, limit, RisesOn::NonEvent)
}
