//! Intervals read off the binomial, beta and Poisson distributions.

use super::bound_lanes;
use crate::dist::{
    beta_cdf, beta_quantile, beta_sf, beta_upper_quantile, binomial_pmf, gamma_quantile,
    gamma_upper_quantile, root_between,
};
use crate::error::{StatsError, positive};
use crate::value::{ConfidenceLevel, Interval, LARGEST_COUNT, Proportion};

/// The interval whose level never falls short, at the price of width.
///
/// # Formula
///
/// Lower: the p with P(X ≥ x) = α/2, that is the α/2 point of Beta(x, n − x + 1).
/// Upper: the p with P(X ≤ x) = α/2, that is the 1 − α/2 point of Beta(x + 1, n − x).
///
/// # Range
///
/// x events of n trials, n from 1; bounds are proportions 0 to 1.
///
/// # Ends
///
/// At 0 of n the lower bound is exactly 0 and the upper 1 − (α/2)^(1/n); at n of n the mirror image.
///
/// # Source
///
/// Clopper and Pearson 1934, Biometrika 26:404; method 5 of Newcombe 1998, Stat Med 17:857.
///
/// # Check
///
/// Newcombe 1998 Table I; statsmodels `proportion_confint(method="beta")` to 1e-13 relative; twenty bounds of
/// 3 to 275,198,430,228 trials in fifty and forty digits (mpmath) to 3e-14; the bounds put back into the
/// binomial distribution give α/2.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::clopper_pearson};
/// // 0 of 1: the upper bound is 1 − 0.025.
/// let interval = clopper_pearson(Proportion::new(0, 1)?, ConfidenceLevel::default());
/// assert!((interval.upper() - 0.975).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn clopper_pearson(proportion: Proportion, level: ConfidenceLevel) -> Interval {
    let (lower, upper) = clopper_pearson_bounds(proportion, level);
    Interval::of(lower, upper, level)
}

/// The exact interval with half weight on the outcome seen: level right on average, narrower than
/// Clopper-Pearson.
///
/// # Formula
///
/// Lower: the p with P(X > x) + ½ P(X = x) = α/2; upper: the p with P(X < x) + ½ P(X = x) = α/2.
///
/// # Range
///
/// x events of n trials, n from 1; bounds are proportions 0 to 1.
///
/// # Ends
///
/// At 0 of n the lower bound is exactly 0 and the upper 1 − α^(1/n); at n of n the mirror image.
///
/// # Source
///
/// Lancaster 1961, J Am Stat Assoc 56:223; method 6 of Newcombe 1998, Stat Med 17:857.
///
/// # Check
///
/// Newcombe 1998 Table I; roots found by scipy `brentq` on scipy's binomial tails to 1e-11 relative.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::mid_p};
/// // 0 of 1: half of 1 − p is 0.025, so the upper bound is 0.95.
/// let interval = mid_p(Proportion::new(0, 1)?, ConfidenceLevel::default());
/// assert!((interval.upper() - 0.95).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn mid_p(proportion: Proportion, level: ConfidenceLevel) -> Interval {
    let (x, n) = proportion.as_f64();
    let (events, trials) = (proportion.events(), proportion.trials());
    let tail = level.tail();
    // The Clopper-Pearson bounds are outside the mid-P bounds, so they bracket the roots.
    let (outer_lower, outer_upper) = clopper_pearson_bounds(proportion, level);
    let half_here = |p: f64| 0.5 * binomial_pmf(events, trials, p);
    let lower = if events == 0 {
        0.0
    } else {
        root_between(outer_lower, 1.0, |p| {
            let above = if events == trials { 0.0 } else { beta_cdf(x + 1.0, n - x, p) };
            above + half_here(p) - tail
        })
    };
    let upper = if events == trials {
        1.0
    } else {
        root_between(0.0, outer_upper, |p| {
            let below = if events == 0 { 0.0 } else { beta_sf(x, n - x + 1.0, p) };
            below + half_here(p) - tail
        })
    };
    Interval::of(lower, upper.max(lower), level)
}

/// The middle of what is believed after the data, starting from Jeffreys' prior: reads as "the rate lies here
/// with probability 95 %".
///
/// # Formula
///
/// The α/2 and 1 − α/2 points of Beta(x + ½, n − x + ½).
///
/// # Range
///
/// x events of n trials, n from 1; bounds are proportions 0 to 1.
///
/// # Ends
///
/// By convention the lower bound is 0 at 0 of n and the upper bound 1 at n of n; the other bound keeps α/2.
///
/// # Source
///
/// Brown, Cai and DasGupta 2001, Statistical Science 16:101, section 3.1.3.
///
/// # Check
///
/// Ten cases computed with scipy `beta.ppf`; statsmodels `proportion_confint(method="jeffreys")` to 1e-13
/// relative (statsmodels does not set the ends to 0 and 1).
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::jeffreys};
/// let interval = jeffreys(Proportion::new(3, 100)?, ConfidenceLevel::default());
/// assert_eq!(format!("{:.5} to {:.5}", interval.lower(), interval.upper()), "0.00852 to 0.07789");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn jeffreys(proportion: Proportion, level: ConfidenceLevel) -> Interval {
    let (x, n) = proportion.as_f64();
    let (a, b) = (x + 0.5, n - x + 0.5);
    let lower = if proportion.events() == 0 { 0.0 } else { beta_quantile(a, b, level.tail()) };
    let upper = if proportion.non_events() == 0 { 1.0 } else { beta_upper_quantile(a, b, level.tail()) };
    Interval::of(lower, upper, level)
}

/// The exact interval for a rate of events per unit of exposure.
///
/// # Formula
///
/// Lower: the α/2 point of Gamma(x) divided by the exposure; upper: the 1 − α/2 point of Gamma(x + 1) divided
/// by the exposure (half the chi-squared points on 2x and 2x + 2 degrees of freedom).
///
/// # Range
///
/// x events, 0 to a million million; exposure above 0 in any unit; bounds are events per that unit, 0 upward.
///
/// # Ends
///
/// At 0 events the lower bound is exactly 0 and the upper −ln(α/2) / exposure.
///
/// # Source
///
/// Garwood 1936, Biometrika 28:437.
///
/// # Check
///
/// 15 events in 400 give .0209885 to .0618505 (a public test suite of a general statistics library); scipy
/// `gamma.ppf` to 1e-13 relative.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, proportion::poisson_exact};
/// // No events in 100 days: −ln(0.025) / 100 = 0.036889 per day.
/// let interval = poisson_exact(0, 100.0, ConfidenceLevel::default())?;
/// assert_eq!(format!("{} to {:.6}", interval.lower(), interval.upper()), "0 to 0.036889");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn poisson_exact(events: u64, exposure: f64, level: ConfidenceLevel) -> Result<Interval, StatsError> {
    let exposure = positive("exposure", exposure)?;
    if events > LARGEST_COUNT {
        return Err(StatsError::CountTooLarge { what: "events", value: events, most: LARGEST_COUNT });
    }
    let x = events as f64;
    let tail = level.tail();
    let lower = if events == 0 { 0.0 } else { gamma_quantile(x, tail) / exposure };
    // A denormal exposure could carry the bound past the largest number; that is refused, not returned.
    Interval::new(lower, gamma_upper_quantile(x + 1.0, tail) / exposure, level)
}

fn clopper_pearson_bounds(proportion: Proportion, level: ConfidenceLevel) -> (f64, f64) {
    let (lower, upper) = bound_lanes::bounds_of_one(proportion, level);
    clopper_pearson_completed(lower, upper, proportion, level)
}

/// The bounds, of which those that are NaN, and those that are a power, are still to be found.
pub(super) fn clopper_pearson_completed(
    lower: f64,
    upper: f64,
    proportion: Proportion,
    level: ConfidenceLevel,
) -> (f64, f64) {
    let (x, n) = proportion.as_f64();
    let tail = level.tail();
    let (events, non_events) = (proportion.events(), proportion.non_events());
    // With at most one event, or one non-event, one power is the whole tail.
    let lower = match (events, non_events) {
        (0, _) => 0.0,
        (_, 0) => libm::exp(libm::log(tail) / n),
        (1, _) => -libm::expm1(libm::log1p(-tail) / n),
        _ if lower.is_nan() => beta_quantile(x, n - x + 1.0, tail),
        _ => lower,
    };
    let upper = match (events, non_events) {
        (_, 0) => 1.0,
        (0, _) => -libm::expm1(libm::log(tail) / n),
        (_, 1) => libm::exp(libm::log1p(-tail) / n),
        _ if upper.is_nan() => beta_upper_quantile(x + 1.0, n - x, tail),
        _ => upper,
    };
    (lower, upper)
}
