//! Wilson's score interval, plain and with continuity correction.

use crate::dist::two_sided_z;
use crate::value::{ConfidenceLevel, Interval, Proportion};

/// The interval to print beside a rate: the proportions that a score test would not reject.
///
/// # Formula
///
/// (x + z²/2 ± z √(x(n − x)/n + z²/4)) / (n + z²), with z the two-sided normal point (1.959964 at 95 %).
///
/// # Range
///
/// x events of n trials, n from 1; bounds are proportions 0 to 1.
///
/// # Ends
///
/// At 0 of n the lower bound is exactly 0, at n of n the upper bound is exactly 1; n = 1 gives a wide interval,
/// not an error.
///
/// # Source
///
/// Wilson 1927, J Am Stat Assoc 22:209; method 3 of Newcombe 1998, Stat Med 17:857.
///
/// # Check
///
/// Newcombe 1998 Table I (81/263, 15/148, 0/20, 1/29); statsmodels `proportion_confint` to 2e-14 relative.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::wilson};
/// // z² = 3.841459: 0 of 20 gives 3.841459 / 23.841459 = 0.16113.
/// let interval = wilson(Proportion::new(0, 20)?, ConfidenceLevel::default());
/// assert_eq!(interval.lower(), 0.0);
/// assert!((interval.upper() - 3.841459 / 23.841459).abs() < 1e-7);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn wilson(proportion: Proportion, level: ConfidenceLevel) -> Interval {
    let (x, n) = proportion.as_f64();
    let z = two_sided_z(level);
    let lower = if proportion.events() == 0 { 0.0 } else { score_lower(x, n, z) };
    let upper = if proportion.non_events() == 0 { 1.0 } else { score_upper(x, n, z) };
    Interval::of(lower, upper.min(1.0), level)
}

/// Wilson's interval pushed outwards by half an event, close to the exact interval and as cautious.
///
/// # Formula
///
/// Lower: the lower Wilson bound at x − ½; upper: the upper Wilson bound at x + ½.
///
/// # Range
///
/// x events of n trials, n from 1; bounds are proportions 0 to 1.
///
/// # Ends
///
/// At 0 of n the lower bound is exactly 0, at n of n the upper bound is exactly 1.
///
/// # Source
///
/// Method 4 of Newcombe 1998, Stat Med 17:857 (his closed form is the same roots written out).
///
/// # Check
///
/// Newcombe 1998 Table I; the closed form written out in extended precision to 1e-14 relative.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::wilson_continuity_corrected};
/// let interval = wilson_continuity_corrected(Proportion::new(81, 263)?, ConfidenceLevel::default());
/// assert_eq!(format!("{:.4} to {:.4}", interval.lower(), interval.upper()), "0.2535 to 0.3682");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn wilson_continuity_corrected(proportion: Proportion, level: ConfidenceLevel) -> Interval {
    let (x, n) = proportion.as_f64();
    let z = two_sided_z(level);
    let lower = if proportion.events() == 0 { 0.0 } else { score_lower(x - 0.5, n, z) };
    let upper = if proportion.non_events() == 0 { 1.0 } else { score_upper(x + 0.5, n, z) };
    Interval::of(lower, upper.min(1.0), level)
}

/// The larger root of (x − n p)² = z² n p (1 − p).
fn score_upper(x: f64, n: f64, z: f64) -> f64 {
    let z2 = z * z;
    (x + 0.5 * z2 + z * (x * (n - x) / n + 0.25 * z2).sqrt()) / (n + z2)
}

/// The smaller root, from the product of both (x² / (n (n + z²))) so that nothing cancels near 0.
fn score_lower(x: f64, n: f64, z: f64) -> f64 {
    let z2 = z * z;
    x * x / (n * (x + 0.5 * z2 + z * (x * (n - x) / n + 0.25 * z2).sqrt()))
}
