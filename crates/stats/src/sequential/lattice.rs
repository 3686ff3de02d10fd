//! The Bernoulli CUSUM on a lattice: reference value 1/m, so the sum is a whole number of steps.

use crate::error::{StatsError, strictly_between, within};
use crate::sequential::two_step::{RisesOn, TwoStepCusum};
use crate::value::Probability;

/// The quantities of the lattice form for a pair of rates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LatticeReference {
    /// −ln((1 − p1)/(1 − p0)).
    pub r1: f64,
    /// ln(p1 (1 − p0) / (p0 (1 − p1))).
    pub r2: f64,
    /// r1/r2, the reference value taken from every observation; strictly between p0 and p1.
    pub gamma: f64,
}

/// The reference value of a Bernoulli CUSUM that tests `p0` against a higher `p1`.
///
/// # Formula
/// r1 = −ln((1 − p1)/(1 − p0)), r2 = ln(p1 (1 − p0) / (p0 (1 − p1))), γ = r1/r2.
/// # Range
/// 0 < p0 < p1 < 1; γ between p0 and p1.
/// # Ends
/// A rate of 0 or 1, or p1 not above p0: an error.
/// # Source
/// Reynolds and Stoumbos 1999, J Qual Technol 31:87 (formula from memory and a second source).
/// # Check
/// p0 0.01, p1 0.02: r1 0.0101524, r2 0.7032996.
/// # Example
/// ```
/// use stats::{Probability, sequential::lattice_reference};
/// // p0 1/4, p1 1/2: r1 = ln 1.5, r2 = ln 3.
/// let reference = lattice_reference(Probability::new(0.25)?, Probability::new(0.5)?)?;
/// assert!((reference.gamma - 1.5f64.ln() / 3.0f64.ln()).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn lattice_reference(p0: Probability, p1: Probability) -> Result<LatticeReference, StatsError> {
    let p0 = p0.interior("rate p0")?;
    let p1 = strictly_between("rate p1", p1.get(), p0, 1.0)?;
    let r1 = -(libm::log1p(-p1) - libm::log1p(-p0));
    let r2 = libm::log(p1 / p0) + r1;
    Ok(LatticeReference { r1, r2, gamma: r1 / r2 })
}

/// The rate p1 that a lattice chart with reference value 1/m tests against `p0`.
///
/// # Formula
/// The root p1 of r1/r2 = 1/m, by bisection to the last digit.
/// # Range
/// 0 < p0 < 1/m < 1; `steps_per_event` m at least 2.
/// # Ends
/// 1/m not above p0: an error, no higher rate has that reference value.
/// # Source
/// Reynolds and Stoumbos 1999, J Qual Technol 31:87: p1 is moved until γ is 1/m.
/// # Check
/// m 70, 35, 23 at p0 0.01, 0.02, 0.03: p1 0.019630, 0.039221, 0.060294.
/// # Example
/// ```
/// use stats::{Probability, sequential::{lattice_alternative, lattice_reference}};
/// let p0 = Probability::new(0.01)?;
/// let p1 = lattice_alternative(p0, 70)?;
/// assert!((lattice_reference(p0, p1)?.gamma - 1.0 / 70.0).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn lattice_alternative(p0: Probability, steps_per_event: u32) -> Result<Probability, StatsError> {
    let base = p0.interior("rate p0")?;
    let gamma = strictly_between("reference value 1/m", 1.0 / steps(steps_per_event)?, base, 1.0)?;
    // γ lies between p0 and p1, so p1 lies above it; 200 halvings reach neighbouring doubles.
    let (mut low, mut high) = (gamma, 1.0 - f64::EPSILON);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if lattice_reference(p0, Probability::new(middle)?)?.gamma < gamma {
            low = middle;
        } else {
            high = middle;
        }
    }
    Probability::new(0.5 * (low + high))
}

/// A Bernoulli CUSUM in whole steps: an event adds m − 1, a non-event takes 1, signal at `limit_steps`.
///
/// # Formula
/// S = max(0, S + m·x − 1), signal at S ≥ limit_steps; that is B = max(0, B) + x − 1/m with limit_steps = h·m.
/// # Range
/// `steps_per_event` m at least 2; `limit_steps` at least 1.
/// # Ends
/// m below 2 or a limit of 0: an error.
/// # Source
/// Reynolds and Stoumbos 1999, J Qual Technol 31:87.
/// # Check
/// Nine pairs of mean run lengths; m 3, limit 4, p 0.2 gives 27.241379 by hand.
/// # Example
/// ```
/// use stats::sequential::lattice_cusum;
/// assert_eq!(lattice_cusum(3, 4)?.path(&[true, false, true]), [2.0, 1.0, 3.0]);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn lattice_cusum(steps_per_event: u32, limit_steps: u32) -> Result<TwoStepCusum, StatsError> {
    TwoStepCusum::new(steps(steps_per_event)? - 1.0, 1.0, f64::from(limit_steps), RisesOn::Event)
}

fn steps(per_event: u32) -> Result<f64, StatsError> {
    within("steps per event m", f64::from(per_event), 2.0, f64::from(u32::MAX))
}
