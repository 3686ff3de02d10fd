//! The sequential probability ratio test of two rates, and the chart with its slope.

use crate::error::{StatsError, strictly_between};
use crate::sequential::two_step::{RisesOn, TwoStepCusum};
use crate::sequential::walk::{Band, Walk};
use crate::value::Probability;

/// A test of rate p0 against a higher rate p1 that stops as soon as the evidence is enough for either.
///
/// All four numbers are logarithms of a likelihood ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sprt {
    /// What an event adds, above 0: ln(p1/p0).
    pub event: f64,
    /// What a non-event takes away, above 0: ln((1 − p0)/(1 − p1)).
    pub non_event: f64,
    /// At or above this sum the test says p1: ln((1 − β)/α).
    pub says_p1_at: f64,
    /// At or below minus this sum the test says p0: ln((1 − α)/β).
    pub says_p0_at: f64,
}

/// What the test says after the outcomes it has seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SprtVerdict {
    /// The lower rate.
    P0,
    /// The higher rate.
    P1,
    /// Go on: neither boundary is reached.
    Undecided,
}

impl Sprt {
    /// The verdict and the number of outcomes it took; `true` is an event. Outcomes after a verdict are not read.
    pub fn verdict(&self, outcomes: &[bool]) -> (SprtVerdict, usize) {
        let band = self.band();
        let mut n_events = 0;
        for (index, &event) in outcomes.iter().enumerate() {
            n_events += u64::from(event);
            let place = band.place(n_events, index as u64 + 1 - n_events);
            if band.is_above(place) {
                return (SprtVerdict::P1, index + 1);
            }
            if band.is_below(place) {
                return (SprtVerdict::P0, index + 1);
            }
        }
        (SprtVerdict::Undecided, outcomes.len())
    }

    /// Shifted so that the boundary of p0 is 0.
    fn band(&self) -> Band {
        Band {
            start: self.says_p0_at,
            up: self.event,
            down: self.non_event,
            lower: 0.0,
            upper: self.says_p0_at + self.says_p1_at,
        }
    }
}

/// P = ln(p1/p0), Q = ln((1 − p0)/(1 − p1)) and the two boundaries, from checked arguments.
fn ratios(
    p0: Probability,
    p1: Probability,
    alpha: Probability,
    beta: Probability,
) -> Result<Sprt, StatsError> {
    let p0 = p0.interior("rate p0")?;
    let p1 = strictly_between("rate p1", p1.get(), p0, 1.0)?;
    let alpha = strictly_between("error chance alpha", alpha.get(), 0.0, 0.5)?;
    let beta = strictly_between("error chance beta", beta.get(), 0.0, 0.5)?;
    Ok(Sprt {
        event: libm::log(p1 / p0),
        non_event: libm::log1p((p1 - p0) / (1.0 - p1)),
        says_p1_at: libm::log((1.0 - beta) / alpha),
        says_p0_at: libm::log((1.0 - alpha) / beta),
    })
}

/// The sequential probability ratio test of `p0` against a higher `p1`.
///
/// # Formula
/// An event adds ln(p1/p0), a non-event takes ln((1 − p0)/(1 − p1)); p1 at ln((1 − β)/α), p0 at −ln((1 − α)/β).
/// # Range
/// 0 < p0 < p1 < 1; `alpha` (chance of saying p1 at p0) and `beta` (of saying p0 at p1) strictly between 0 and 0.5.
/// # Ends
/// Outside those: an error. α and β are approximate targets; `sprt_characteristics` gives the real chances.
/// # Source
/// Wald 1945, Ann Math Stat 16:117 (boundaries; from memory).
/// # Check
/// Wald's bounds on the real chances of error; the chances themselves as `sprt_characteristics`.
/// # Example
/// ```
/// use stats::{Probability, sequential::sequential_ratio_test};
/// let p = Probability::new;
/// let test = sequential_ratio_test(p(0.25)?, p(0.5)?, p(0.1)?, p(0.1)?)?;
/// assert!((test.event - 2f64.ln()).abs() < 1e-15 && (test.says_p1_at - 9f64.ln()).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn sequential_ratio_test(
    p0: Probability,
    p1: Probability,
    alpha: Probability,
    beta: Probability,
) -> Result<Sprt, StatsError> {
    ratios(p0, p1, alpha, beta)
}

/// What a sequential test does at one true rate when stopped after a fixed number of observations at the latest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SprtCharacteristics {
    /// Chance that it says p1.
    pub says_p1: f64,
    /// Chance that it says p0.
    pub says_p0: f64,
    /// Chance that it has said neither when stopped.
    pub undecided: f64,
    /// Mean number of observations taken.
    pub mean_observations: f64,
}

/// Chance of each verdict and mean number of observations of a sequential test, exactly, at one true rate.
///
/// # Formula
/// The sum after n observations with x events is x·event − (n − x)·non_event; the chance of each x still between
/// the boundaries is carried forward observation by observation to `n_most`.
/// # Range
/// `event_rate` 0 to 1; `n_most` 0 to 10,000,000 observations. The three chances add to 1.
/// # Ends
/// n_most 0: undecided for certain. A test that has ended for certain earlier is not followed further.
/// # Source
/// Wald 1947, Sequential Analysis, ch. 3 (test; from memory); state by state as Brook and Evans 1972.
/// # Check
/// Gambler's ruin for equal steps (Feller 1968, XIV.2-3); absorption of the whole chain solved in numpy on about 190
/// random tests, 1e-12; enumeration of all strings of 12 outcomes.
/// # Example
/// ```
/// use stats::{Probability, sequential::{sequential_ratio_test, sprt_characteristics}};
/// let p = Probability::new;
/// // Event +ln 2, non-event −ln 1.5; p1 at ln 9 needs at least 4 events (2⁴ = 16 ≥ 9): 0.5⁴ within 4.
/// let test = sequential_ratio_test(p(0.25)?, p(0.5)?, p(0.1)?, p(0.1)?)?;
/// assert_eq!(sprt_characteristics(&test, p(0.5)?, 4)?.says_p1, 0.0625);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn sprt_characteristics(
    test: &Sprt,
    event_rate: Probability,
    n_most: u64,
) -> Result<SprtCharacteristics, StatsError> {
    const MOST: u64 = 10_000_000;
    if n_most > MOST {
        return Err(StatsError::CountTooLarge { what: "number of observations", value: n_most, most: MOST });
    }
    let mut walk = Walk::new(test.band(), event_rate.get());
    let mut result =
        SprtCharacteristics { says_p1: 0.0, says_p0: 0.0, undecided: 1.0, mean_observations: 0.0 };
    for _ in 0..n_most {
        if result.undecided == 0.0 {
            break;
        }
        result.mean_observations += result.undecided;
        let step = walk.step();
        result.says_p1 += step.left_above;
        result.says_p0 += step.left_below;
        result.undecided = step.inside;
        if walk.is_too_long() {
            return Err(StatsError::DidNotSettle {
                what: "the sequential test",
                steps: n_most as usize,
                last: result.undecided,
            });
        }
    }
    Ok(result)
}

/// The CUSUM with the slope of a sequential probability ratio test: a failure adds 1 − s, a success takes s.
///
/// # Formula
/// P = ln(p1/p0), Q = ln((1 − p0)/(1 − p1)), s = Q/(P + Q); limit h = ln((1 − β)/α)/(P + Q). With α = β this is
/// also ln((1 − α)/β)/(P + Q), the form in which it is often printed.
/// # Range
/// 0 < p0 < p1 < 1; α and β strictly between 0 and 0.5. The limit counts failures above expectation.
/// # Ends
/// Outside those: an error. α and β are those of the test, not of the chart, which restarts at zero: its
/// false-alarm rate is its run length.
/// # Source
/// Kestin 1995, Br J Anaesth 75:805; Bolsin and Colson 2000, Int J Qual Health Care 12:433 (both from memory).
/// # Check
/// Four rows of s and h with α = β = 0.1.
/// # Example
/// ```
/// use stats::{Probability, sequential::ratio_slope_cusum};
/// let p = Probability::new;
/// let chart = ratio_slope_cusum(p(0.25)?, p(0.5)?, p(0.1)?, p(0.1)?)?;
/// // P + Q = ln 2 + ln 1.5 = ln 3, so s = ln 1.5/ln 3 and h = ln 9/ln 3 = 2.
/// assert!((chart.fall() - 1.5f64.ln() / 3f64.ln()).abs() < 1e-15 && (chart.limit() - 2.0).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn ratio_slope_cusum(
    p0: Probability,
    p1: Probability,
    alpha: Probability,
    beta: Probability,
) -> Result<TwoStepCusum, StatsError> {
    let test = ratios(p0, p1, alpha, beta)?;
    let total = test.event + test.non_event;
    TwoStepCusum::new(test.event / total, test.non_event / total, test.says_p1_at / total, RisesOn::Event)
}
