//! A column of intervals at one level: the same figures as one at a time, several worked side by side.
//!
//! For whole columns, such as every hospital of a published table or a simulation. The program's own pages show some tens
//! of intervals, each made where its count is made, and take them one at a time. A Wilson column is the quicker from two
//! proportions on, an exact one from about four.

use fearless_simd::{Level, Simd, dispatch};

use super::bound_lanes;
use super::exact::clopper_pearson_completed;
use super::score::wilson_bounds;
use crate::dist::two_sided_z;
use crate::error::StatsError;
use crate::value::{ConfidenceLevel, Proportion};

/// The intervals of `wilson` for a column of proportions, the same to the last digit.
///
/// # Formula
///
/// (x + z²/2 ± z √(x(n − x)/n + z²/4)) / (n + z²) for each, as `wilson`.
///
/// # Range
///
/// Any number of proportions; as many places for lower and for upper bounds, or the lengths are refused. Bounds are
/// proportions 0 to 1.
///
/// # Ends
///
/// As `wilson`; no proportion, no bound.
///
/// # Source
///
/// Wilson 1927, J Am Stat Assoc 22:209.
///
/// # Check
///
/// Each bound is that of `wilson`, bit for bit, for lengths from 0 to 40 and 695 at eight levels; `wilson` itself as its
/// entry says.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::wilson_each};
/// // z² = 3.841459: 0 of 20 gives 3.841459 / 23.841459, and 20 of 20 one minus that.
/// let people = [Proportion::new(0, 20)?, Proportion::new(20, 20)?];
/// let (mut lower, mut upper) = ([0.0; 2], [0.0; 2]);
/// wilson_each(&people, ConfidenceLevel::default(), &mut lower, &mut upper)?;
/// assert_eq!((lower[0], upper[1]), (0.0, 1.0));
/// assert!((upper[0] - 3.841459 / 23.841459).abs() < 1e-7 && (lower[1] - 20.0 / 23.841459).abs() < 1e-7);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn wilson_each(
    proportions: &[Proportion],
    level: ConfidenceLevel,
    lower: &mut [f64],
    upper: &mut [f64],
) -> Result<(), StatsError> {
    as_many(proportions, lower, upper)?;
    let z = two_sided_z(level);
    // A square root and a division are all the work, and they are no faster eight at a time than four: measured, eight
    // take a twentieth longer.
    #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
    if let Some(four_at_a_time) = Level::new().as_avx2() {
        wilson_columns(four_at_a_time, proportions, z, lower, upper);
        return Ok(());
    }
    dispatch!(Level::new(), s => wilson_columns(s, proportions, z, lower, upper));
    Ok(())
}

/// The intervals of `clopper_pearson` for a column of proportions, the same to the last digit.
///
/// # Formula
///
/// Lower: the p with P(X ≥ x) = α/2; upper: the p with P(X ≤ x) = α/2; for each, as `clopper_pearson`.
///
/// # Range
///
/// Any number of proportions; as many places for lower and for upper bounds, or the lengths are refused. Bounds are
/// proportions 0 to 1.
///
/// # Ends
///
/// As `clopper_pearson`; no proportion, no bound.
///
/// # Source
///
/// Clopper and Pearson 1934, Biometrika 26:404.
///
/// # Check
///
/// Each bound is that of `clopper_pearson`, bit for bit, for lengths from 0 to 40 and 695 at eight levels;
/// `clopper_pearson` itself as its entry says.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Proportion, proportion::clopper_pearson_each};
/// // 0 of 1: the upper bound is 1 − 0.025; 1 of 1: the lower is 0.025.
/// let people = [Proportion::new(0, 1)?, Proportion::new(1, 1)?];
/// let (mut lower, mut upper) = ([0.0; 2], [0.0; 2]);
/// clopper_pearson_each(&people, ConfidenceLevel::default(), &mut lower, &mut upper)?;
/// assert!((upper[0] - 0.975).abs() < 1e-15 && (lower[1] - 0.025).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn clopper_pearson_each(
    proportions: &[Proportion],
    level: ConfidenceLevel,
    lower: &mut [f64],
    upper: &mut [f64],
) -> Result<(), StatsError> {
    as_many(proportions, lower, upper)?;
    bound_lanes::bounds_of_each(proportions, level, lower, upper);
    for ((&proportion, lower), upper) in proportions.iter().zip(lower).zip(upper) {
        (*lower, *upper) = clopper_pearson_completed(*lower, *upper, proportion, level);
    }
    Ok(())
}

fn as_many(proportions: &[Proportion], lower: &[f64], upper: &[f64]) -> Result<(), StatsError> {
    for (right_name, right) in
        [("places for lower bounds", lower.len()), ("places for upper bounds", upper.len())]
    {
        if right != proportions.len() {
            let left = proportions.len();
            return Err(StatsError::LengthsDiffer { left_name: "proportions", left, right_name, right });
        }
    }
    Ok(())
}

#[inline(always)]
fn wilson_columns<S: Simd>(s: S, proportions: &[Proportion], z: f64, lower: &mut [f64], upper: &mut [f64]) {
    s.vectorize(
        #[inline(always)]
        || {
            for ((proportion, lower), upper) in proportions.iter().zip(lower).zip(upper) {
                let (x, n) = proportion.as_f64();
                (*lower, *upper) = wilson_bounds(x, n, z);
            }
        },
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proportion::{clopper_pearson, wilson};

    type Each = fn(&[Proportion], ConfidenceLevel, &mut [f64], &mut [f64]) -> Result<(), StatsError>;
    type One = fn(Proportion, ConfidenceLevel) -> crate::Interval;
    const PAIRS: [(Each, One); 2] = [(wilson_each, wilson), (clopper_pearson_each, clopper_pearson)];

    /// Every count of 0 to n for n up to 30, and large ones, in an order without a pattern of four or eight.
    fn proportions() -> Vec<Proportion> {
        let small = (1..=30_u64).flat_map(|n| (0..=n).map(move |x| (x, n)));
        let large = (0..200_u64).map(|k| (k * k * k * 1_237 % 900_001, 900_001 + k * 7_919));
        small.chain(large).map(|(x, n)| Proportion::new(x, n).unwrap()).collect()
    }

    #[test]
    fn a_column_is_one_at_a_time_to_the_last_digit() {
        let all = proportions();
        for value in [1e-16, 1e-3, 0.5, 0.8, 0.95, 0.99, 0.999_999, 1.0 - 1e-15] {
            let level = ConfidenceLevel::new(value).unwrap();
            for length in (0..=40).chain([all.len()]) {
                let some = &all[all.len() - length..];
                for (each, one) in PAIRS {
                    let (mut lower, mut upper) = (vec![f64::NAN; length], vec![f64::NAN; length]);
                    each(some, level, &mut lower, &mut upper).unwrap();
                    for ((&proportion, lower), upper) in some.iter().zip(lower).zip(upper) {
                        let wanted = one(proportion, level);
                        let same = (lower, upper) == (wanted.lower(), wanted.upper());
                        assert!(same, "{proportion:?} at {value}: {lower} to {upper}, not {wanted:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn columns_of_other_lengths_are_refused() {
        let two = [Proportion::new(1, 3).unwrap(); 2];
        for (each, _) in PAIRS {
            let said = |lower: usize, upper: usize| {
                let (mut lower, mut upper) = (vec![0.5; lower], vec![0.5; upper]);
                let refused = each(&two, ConfidenceLevel::default(), &mut lower, &mut upper).unwrap_err();
                // What was there is left as it was.
                assert!(lower.iter().chain(&upper).all(|&value| value == 0.5));
                refused.to_string()
            };
            let wanted = "2 proportions but 1 places for lower bounds; there must be as many of each";
            assert_eq!(said(1, 2), wanted);
            let wanted = "2 proportions but 3 places for upper bounds; there must be as many of each";
            assert_eq!(said(2, 3), wanted);
        }
    }
}
