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
#[inline]
pub fn wilson(proportion: Proportion, level: ConfidenceLevel) -> Interval {
    let (x, n) = proportion.as_f64();
    let (lower, upper) = wilson_bounds(x, n, two_sided_z(level));
    Interval::of(lower, upper, level)
}

/// [`wilson`] in plain numbers. It holds no jump and no call, so that in a loop over a column several proportions are
/// worked side by side.
#[inline(always)]
pub(super) fn wilson_bounds(x: f64, n: f64, z: f64) -> (f64, f64) {
    let (lower, upper) = score_roots(x, n, z);
    let upper = if x < n { upper } else { 1.0 };
    // At a level near 0 both are the estimate, and rounding may have exchanged their last bits.
    (if lower < upper { lower } else { upper }, if lower < upper { upper } else { lower })
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
    let lower = if proportion.events() == 0 { 0.0 } else { score_roots(x - 0.5, n, z).0 };
    let upper = if proportion.non_events() == 0 { 1.0 } else { score_roots(x + 0.5, n, z).1 };
    Interval::of(lower, upper.min(1.0), level)
}

/// The roots of (x − n p)² = z² n p (1 − p).
///
/// With u = n (x + z²/2) + z √(n (x (n − x) + n z²/4)) the larger is u / (n (n + z²)); the smaller follows from the
/// product of both and is x² / u, so that nothing cancels near 0. One square root and one division for both: these
/// two are what an interval costs.
#[inline(always)]
fn score_roots(x: f64, n: f64, z: f64) -> (f64, f64) {
    let square = z * z;
    let quarter = 0.25 * square * n;
    let u = n * (x + 0.5 * square) + z * (n * (x * (n - x) + quarter)).sqrt();
    // With no event, at a level so near 0 that z is 0, this would divide by 0.
    let u = if u > f64::MIN_POSITIVE { u } else { f64::MIN_POSITIVE };
    let scale = n * (n + square);
    let inverse = 1.0 / (u * scale);
    (x * x * (inverse * scale), u * (u * inverse))
}
