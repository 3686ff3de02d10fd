//! Two proportions: their difference and their ratio.

use super::score::wilson;
use crate::dist::{root_between, two_sided_z};
use crate::error::StatsError;
use crate::value::{ConfidenceLevel, Interval, Proportion};

/// The interval for the first proportion minus the second, from the Wilson interval of each.
///
/// # Formula
///
/// With d = p₁ − p₂ and Wilson bounds l, u of each: d − √((p₁ − l₁)² + (u₂ − p₂)²) to d + √((u₁ − p₁)² + (p₂
/// − l₂)²).
///
/// # Range
///
/// Two proportions with trials from 1; bounds are differences of proportions, −1 to 1.
///
/// # Ends
///
/// 0 of n against n of n gives a bound of exactly −1; equal proportions give an interval that holds 0.
///
/// # Source
///
/// Method 10 of Newcombe 1998, Stat Med 17:873.
///
/// # Check
///
/// Newcombe's 56/70 − 48/80: .0524 to .3339; statsmodels `confint_proportions_2indep(method="newcomb")` to
/// 1e-12 relative.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::difference_newcombe};
/// let (first, second) = (Proportion::new(56, 70)?, Proportion::new(48, 80)?);
/// let interval = difference_newcombe(first, second, ConfidenceLevel::default());
/// assert_eq!(format!("{:.4} to {:.4}", interval.lower(), interval.upper()), "0.0524 to 0.3339");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn difference_newcombe(first: Proportion, second: Proportion, level: ConfidenceLevel) -> Interval {
    let (w1, w2) = (wilson(first, level), wilson(second, level));
    let (p1, p2) = (first.estimate(), second.estimate());
    let d = p1 - p2;
    let below = libm::hypot(p1 - w1.lower(), w2.upper() - p2);
    let above = libm::hypot(w1.upper() - p1, p2 - w2.lower());
    Interval::of((d - below).max(-1.0), (d + above).min(1.0), level)
}

/// A ratio with its interval; an end that has no bound is `None`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioEstimate {
    /// The ratio itself; `None` when its denominator is 0.
    pub ratio: Option<f64>,
    /// The lower bound, 0 upward.
    pub lower: f64,
    /// The upper bound; `None` when the data put no bound on it.
    pub upper: Option<f64>,
    /// The level of the interval.
    pub level: ConfidenceLevel,
}

/// How many times as large the first proportion is as the second, by the log method; needs events in both.
///
/// # Formula
///
/// (x₁/n₁)/(x₂/n₂), bounds × exp(±z √(1/x₁ − 1/n₁ + 1/x₂ − 1/n₂)).
///
/// # Range
///
/// Two proportions with at least 1 event each; a ratio above 0.
///
/// # Ends
///
/// With 0 events on either side the logarithm does not exist and the function says so; use
/// [`risk_ratio_score`]. n of n on both sides gives 1 to 1: the method claims no uncertainty there, which is
/// its known fault.
///
/// # Source
///
/// Katz, Baptista, Azen and Pike 1978, Biometrics 34:469, method C.
///
/// # Check
///
/// statsmodels `Table2x2.riskratio_confint` to 1e-14 relative.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::risk_ratio_katz};
/// // 12/100 against 4/100: √(1/12 − 1/100 + 1/4 − 1/100) = 0.55976; times 1.95996 is 1.09711; exp of that 2.9955;
/// // 3 / 2.9955 = 1.002 and 3 × 2.9955 = 8.987.
/// let ratio = risk_ratio_katz(Proportion::new(12, 100)?, Proportion::new(4, 100)?, ConfidenceLevel::default())?;
/// assert_eq!(format!("{:.3} to {:.3}", ratio.lower, ratio.upper.unwrap_or(f64::NAN)), "1.002 to 8.987");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn risk_ratio_katz(
    first: Proportion,
    second: Proportion,
    level: ConfidenceLevel,
) -> Result<RatioEstimate, StatsError> {
    if first.events() == 0 || second.events() == 0 {
        return Err(StatsError::DoesNotApply {
            what: "the log method for a risk ratio",
            because: "one side has 0 events",
        });
    }
    let ((x1, n1), (x2, n2)) = (first.as_f64(), second.as_f64());
    let ratio = first.estimate() / second.estimate();
    // Written as non-events / (events × trials), each term is 0 or above without cancellation.
    let variance = (n1 - x1) / x1 / n1 + (n2 - x2) / x2 / n2;
    let factor = libm::exp(two_sided_z(level) * variance.sqrt());
    Ok(RatioEstimate { ratio: Some(ratio), lower: ratio / factor, upper: Some(ratio * factor), level })
}

/// How many times as large the first proportion is as the second, by the score method; works with 0 events too.
///
/// # Formula
///
/// The ratios φ for which (x₁ − n₁p₁)²/(n₁p₁(1 − p₁)) + (x₂ − n₂p₂)²/(n₂p₂(1 − p₂)) ≤ z².
///
/// There p₁ = φp₂, and p₂ is the most likely value under that ratio: with n = n₁ + n₂, the smaller root of
/// n φ p₂² − (φ(n₁ + x₂) + x₁ + n₂)p₂ + x₁ + x₂ = 0.
///
/// # Range
///
/// Two proportions with trials from 1; ratio 0 upward.
///
/// # Ends
///
/// No events on the first side: lower bound 0. None on the second: no ratio and no upper bound. None on
/// either: 0 to no bound.
///
/// # Source
///
/// Koopman 1984, Biometrics 40:513, equations 2 and 3.
///
/// # Check
///
/// The statistic of statsmodels `test_proportions_2indep(compare="ratio", method="score", correction=False)`,
/// solved by scipy `brentq`, to 1e-12 relative; the bounds put back into the statistic give z².
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::risk_ratio_score};
/// let ratio = risk_ratio_score(Proportion::new(3, 50)?, Proportion::new(0, 50)?, ConfidenceLevel::default());
/// assert!(ratio.ratio.is_none() && ratio.upper.is_none() && ratio.lower > 0.7);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn risk_ratio_score(first: Proportion, second: Proportion, level: ConfidenceLevel) -> RatioEstimate {
    let z = two_sided_z(level);
    let limit = z * z;
    let excess = |log_ratio: f64| koopman_statistic(first, second, libm::exp(log_ratio)) - limit;
    let ratio = (second.events() > 0).then(|| first.estimate() / second.estimate());
    // A log-ratio of ±700 is the last one whose exponential is a number; no data of this size reach it.
    const FAR: f64 = 700.0;
    let lower = if first.events() == 0 {
        0.0
    } else {
        let start = ratio.map_or(FAR, libm::log);
        libm::exp(root_between(-FAR, start, excess))
    };
    let upper = if second.events() == 0 {
        None
    } else {
        let start = match ratio {
            Some(ratio) if ratio > 0.0 => libm::log(ratio),
            _ => -FAR,
        };
        Some(libm::exp(root_between(start, FAR, excess)))
    };
    RatioEstimate { ratio, lower, upper, level }
}

/// Koopman's chi-squared statistic for the ratio p₁/p₂ = φ.
fn koopman_statistic(first: Proportion, second: Proportion, phi: f64) -> f64 {
    if phi > 1.0 {
        // The same question the other way round; φ at most 1 cannot overflow.
        return koopman_statistic(second, first, 1.0 / phi);
    }
    let ((x1, n1), (x2, n2)) = (first.as_f64(), second.as_f64());
    let a = (n1 + n2) * phi;
    let b = phi * (n1 + x2) + x1 + n2;
    let c = x1 + x2;
    // The smaller root in the form that does not cancel.
    let p2 = (2.0 * c / (b + (b * b - 4.0 * a * c).max(0.0).sqrt())).min(1.0);
    let p1 = phi * p2;
    let part = |x: f64, n: f64, p: f64| {
        let difference = x - n * p;
        let variance = n * p * (1.0 - p);
        if difference == 0.0 {
            0.0
        } else if variance <= 0.0 {
            // Outside what the data allow: larger than any limit.
            1e300
        } else {
            difference * difference / variance
        }
    };
    part(x1, n1, p1) + part(x2, n2, p2)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(x: u64, n: u64) -> Proportion {
        Proportion::new(x, n).unwrap()
    }

    #[test]
    fn the_score_bounds_put_back_give_the_limit() {
        let level = ConfidenceLevel::default();
        let limit = two_sided_z(level).powi(2);
        for (a, b) in [
            (of(12, 100), of(4, 100)),
            (of(3, 50), of(0, 50)),
            (of(0, 50), of(3, 40)),
            (of(9, 10), of(3, 7)),
            (of(7, 7), of(7, 7)),
            (of(1, 1), of(0, 1)),
        ] {
            let estimate = risk_ratio_score(a, b, level);
            if estimate.lower > 0.0 {
                let at = koopman_statistic(a, b, estimate.lower);
                assert!((at / limit - 1.0).abs() < 1e-9, "{a:?} {b:?} lower {} gives {at}", estimate.lower);
            }
            if let Some(upper) = estimate.upper {
                let at = koopman_statistic(a, b, upper);
                assert!((at / limit - 1.0).abs() < 1e-9, "{a:?} {b:?} upper {upper} gives {at}");
            }
        }
    }
}
