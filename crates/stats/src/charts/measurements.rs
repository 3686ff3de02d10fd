//! Charts of measurements: single values, subgroups, and values without limits.

use crate::charts::chart::{ChartKind, ControlChart};
use crate::charts::finish;
use crate::charts::plan::{ChartOptions, Placed, Recipe, at_least, bounded, median};
use crate::dist::ln_gamma;
use crate::error::{StatsError, finite};

/// Limits stand this many sigmas from the centre.
pub(super) const SIGMAS: f64 = 3.0;

/// The mean of the range of two normal values, in sigmas, to the digits the sources use.
const MEAN_RANGE_OF_TWO: f64 = 1.128;

const ANYWHERE: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

/// Whether single measurements have changed over time; the spread is judged from one value to the next.
///
/// # Formula
///
/// Centre x̄; limits x̄ ± 3 MR̄/1.128, MR̄ the mean of |xᵢ − xᵢ₋₁| (neighbours among the points the limits
/// rest on).
///
/// # Range
///
/// Finite measurements in one unit.
///
/// # Ends
///
/// Two points at least; all equal leaves no spread and is refused.
///
/// # Source
///
/// NIST/SEMATECH e-Handbook 6.3.2.2; Montgomery, Introduction to Statistical Quality Control, section 6.4.
///
/// # Check
///
/// NIST's flow rates: centre 50.81, limits 55.8041 and 45.8159.
///
/// # Example
///
/// ```
/// use stats::charts::{ChartOptions, individuals_chart};
/// // Moves of 1.128 around 10: limits 10 ± 3.
/// let chart = individuals_chart(&[9.436, 10.564, 9.436, 10.564], &ChartOptions::default())?;
/// assert!((chart.points[0].upper.unwrap_or(0.0) - 13.0).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn individuals_chart(values: &[f64], options: &ChartOptions) -> Result<ControlChart, StatsError> {
    all_finite(values)?;
    finish(ChartKind::Individuals, &Individuals { values }, options)
}

/// Values around their median, for a series too short or too uniform for limits; the runs analysis still works.
///
/// # Formula
///
/// Centre: the median of the points the phase rests on. No limits.
///
/// # Range
///
/// Finite values in one unit.
///
/// # Ends
///
/// One point is its own median. All equal: every point is on the median and there is nothing to find.
///
/// # Source
///
/// Anhøj and Olesen 2014, PLoS ONE 9(11):e113825.
///
/// # Check
///
/// The median of an odd and an even number of values, by hand.
///
/// # Example
///
/// ```
/// use stats::charts::{ChartOptions, run_chart};
/// let chart = run_chart(&[3.0, 1.0, 2.0, 10.0], &ChartOptions::default())?;
/// assert_eq!((chart.points[0].centre, chart.points[0].upper), (2.5, None));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn run_chart(values: &[f64], options: &ChartOptions) -> Result<ControlChart, StatsError> {
    all_finite(values)?;
    finish(ChartKind::Run, &RunChart { values }, options)
}

/// The pair of charts for subgroups.
#[derive(Debug, Clone, PartialEq)]
pub struct XBarS {
    /// The means.
    pub means: ControlChart,
    /// The standard deviations.
    pub deviations: ControlChart,
}

/// Whether the level or the spread of grouped measurements has changed: fill volume of the bottles weighed
/// each week.
///
/// # Formula
///
/// With c₄ = √(2/(n − 1)) Γ(n/2)/Γ((n − 1)/2). Means: x̿ ± 3 s̄/(c₄√n), x̿ weighted by n. Deviations: s̄ ± 3
/// (s̄/c₄) √(1 − c₄²). s̄ is the mean of the s when all n are equal, √(Σ(n − 1)s²/(Σn − k)) over k subgroups
/// otherwise.
///
/// # Range
///
/// Subgroups of two or more finite measurements in one unit.
///
/// # Ends
///
/// A subgroup of one has no standard deviation and is refused; no spread in any subgroup is refused. A lower
/// limit for s at or below 0 is no limit.
///
/// # Source
///
/// Montgomery, Introduction to Statistical Quality Control, equations 6.27 to 6.31.
///
/// # Check
///
/// The published constants A₃, B₃ and B₄ for n 2 to 25 (Montgomery, Appendix VI; from memory); numpy on 200
/// random inputs.
///
/// # Example
///
/// ```
/// use stats::charts::{ChartOptions, xbar_s_chart};
/// // n = 2: s = 1.414 for 9 and 11; A₃ = 2.659, so 10 ± 3.760.
/// let chart = xbar_s_chart(&[vec![9.0, 11.0], vec![11.0, 9.0]], &ChartOptions::default())?;
/// assert!((chart.means.points[0].upper.unwrap_or(0.0) - 13.760).abs() < 5e-4);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn xbar_s_chart(subgroups: &[Vec<f64>], options: &ChartOptions) -> Result<XBarS, StatsError> {
    let mut groups = Vec::with_capacity(subgroups.len());
    for subgroup in subgroups {
        all_finite(subgroup)?;
        if subgroup.len() < 2 {
            return Err(StatsError::TooFew {
                what: "measurements in a subgroup",
                found: subgroup.len(),
                needed: 2,
            });
        }
        groups.push(Group::of(subgroup));
    }
    let means = finish(ChartKind::XBar, &Subgroups { groups: &groups, of_means: true }, options)?;
    let deviations = finish(ChartKind::S, &Subgroups { groups: &groups, of_means: false }, options)?;
    Ok(XBarS { means, deviations })
}

/// MR̄/1.128 of the values in order; refuses fewer than two, and no spread.
pub(super) fn sigma_from_moving_range(
    what: &'static str,
    values: impl Iterator<Item = f64>,
) -> Result<f64, StatsError> {
    let (mut before, mut sum, mut n_values) = (None, 0.0, 0_usize);
    for value in values {
        if let Some(before) = before {
            sum += f64::abs(value - before);
        }
        before = Some(value);
        n_values += 1;
    }
    match before {
        Some(last) if n_values >= 2 => {
            let sigma = sum / (n_values - 1) as f64 / MEAN_RANGE_OF_TWO;
            if sigma > 0.0 { Ok(sigma) } else { Err(StatsError::NoSpread { what, value: last }) }
        }
        _ => Err(StatsError::TooFew { what: "points to compute limits from", found: n_values, needed: 2 }),
    }
}

pub(super) fn all_finite(values: &[f64]) -> Result<(), StatsError> {
    values.iter().try_for_each(|&value| finite("measurement", value).map(|_| ()))
}

struct Individuals<'a> {
    values: &'a [f64],
}

impl Recipe for Individuals<'_> {
    type Shared = (f64, f64);

    fn n_points(&self) -> usize {
        self.values.len()
    }

    fn value(&self, index: usize) -> f64 {
        self.values[index]
    }

    fn shared_by_points(&self, basis: &[usize]) -> Result<(f64, f64), StatsError> {
        let sigma = sigma_from_moving_range("measurement", basis.iter().map(|&index| self.values[index]))?;
        Ok((basis.iter().map(|&index| self.values[index]).sum::<f64>() / basis.len() as f64, sigma))
    }

    fn shared_by_known(&self, _: f64) -> Result<(f64, f64), StatsError> {
        Err(StatsError::DoesNotApply {
            what: "a known standard",
            because: "an individuals chart needs the variation between points",
        })
    }

    fn centre(&self, shared: &(f64, f64)) -> f64 {
        shared.0
    }

    fn place(&self, index: usize, &(centre, sigma): &(f64, f64)) -> Placed {
        let value = self.values[index];
        let limits = (centre - SIGMAS * sigma, centre + SIGMAS * sigma);
        Placed { point: bounded(value, None, centre, limits, ANYWHERE), sigmas: (value - centre) / sigma }
    }
}

struct RunChart<'a> {
    values: &'a [f64],
}

impl Recipe for RunChart<'_> {
    type Shared = f64;

    fn n_points(&self) -> usize {
        self.values.len()
    }

    fn value(&self, index: usize) -> f64 {
        self.values[index]
    }

    fn shared_by_points(&self, basis: &[usize]) -> Result<f64, StatsError> {
        at_least(basis, 1)?;
        let mut values: Vec<f64> = basis.iter().map(|&index| self.values[index]).collect();
        Ok(median(&mut values))
    }

    fn shared_by_known(&self, centre: f64) -> Result<f64, StatsError> {
        Ok(centre)
    }

    fn centre(&self, shared: &f64) -> f64 {
        *shared
    }

    fn place(&self, index: usize, &centre: &f64) -> Placed {
        // Without a sigma there are no zones: no zone test can fire.
        Placed { point: bounded(self.values[index], None, centre, ANYWHERE, ANYWHERE), sigmas: 0.0 }
    }
}

struct Group {
    n: f64,
    mean: f64,
    deviation: f64,
    c4: f64,
}

impl Group {
    fn of(values: &[f64]) -> Self {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
        Self { n, mean, deviation: (squares / (n - 1.0)).sqrt(), c4: c4(n) }
    }
}

/// The mean of s in sigmas, for n normal values.
fn c4(n: f64) -> f64 {
    (2.0 / (n - 1.0)).sqrt() * libm::exp(ln_gamma(0.5 * n) - ln_gamma(0.5 * (n - 1.0)))
}

struct Subgroups<'a> {
    groups: &'a [Group],
    of_means: bool,
}

#[derive(Clone, Copy)]
struct SubgroupShared {
    mean: f64,
    deviation: f64,
}

impl Recipe for Subgroups<'_> {
    type Shared = SubgroupShared;

    fn n_points(&self) -> usize {
        self.groups.len()
    }

    fn value(&self, index: usize) -> f64 {
        if self.of_means { self.groups[index].mean } else { self.groups[index].deviation }
    }

    fn shared_by_points(&self, basis: &[usize]) -> Result<SubgroupShared, StatsError> {
        at_least(basis, 1)?;
        let groups = || basis.iter().map(|&index| &self.groups[index]);
        let n: f64 = groups().map(|group| group.n).sum();
        let mean = groups().map(|group| group.n * group.mean).sum::<f64>() / n;
        let first = self.groups[basis[0]].n;
        let deviation = if groups().all(|group| group.n == first) {
            groups().map(|group| group.deviation).sum::<f64>() / basis.len() as f64
        } else {
            let squares: f64 =
                groups().map(|group| (group.n - 1.0) * group.deviation * group.deviation).sum();
            (squares / (n - basis.len() as f64)).sqrt()
        };
        if deviation == 0.0 {
            return Err(StatsError::NoSpread { what: "measurement in a subgroup", value: mean });
        }
        Ok(SubgroupShared { mean, deviation })
    }

    fn shared_by_known(&self, _: f64) -> Result<SubgroupShared, StatsError> {
        Err(StatsError::DoesNotApply {
            what: "a known standard",
            because: "an X-bar and s chart needs the spread within subgroups",
        })
    }

    fn centre(&self, shared: &SubgroupShared) -> f64 {
        if self.of_means { shared.mean } else { shared.deviation }
    }

    fn place(&self, index: usize, shared: &SubgroupShared) -> Placed {
        let group = &self.groups[index];
        let unbiased = shared.deviation / group.c4;
        let (centre, sigma, reach) = if self.of_means {
            (shared.mean, unbiased / group.n.sqrt(), ANYWHERE)
        } else {
            (shared.deviation, unbiased * (1.0 - group.c4 * group.c4).sqrt(), (0.0, f64::INFINITY))
        };
        let value = self.value(index);
        let limits = (centre - SIGMAS * sigma, centre + SIGMAS * sigma);
        let point = bounded(value, Some(group.n), centre, limits, reach);
        Placed { point, sigmas: (value - centre) / sigma }
    }
}

#[cfg(test)]
mod tests {
    use super::c4;

    #[test]
    fn published_constants_of_the_xbar_and_s_charts() {
        // n, c4, A3, B3, B4: Montgomery, Appendix VI (from memory).
        for (n, constant, a3, b3, b4) in [
            (2.0, 0.7979, 2.659, 0.0, 3.267),
            (3.0, 0.8862, 1.954, 0.0, 2.568),
            (4.0, 0.9213, 1.628, 0.0, 2.266),
            (5.0, 0.9400, 1.427, 0.0, 2.089),
            (6.0, 0.9515, 1.287, 0.030, 1.970),
            (10.0, 0.9727, 0.975, 0.284, 1.716),
            (25.0, 0.9896, 0.606, 0.565, 1.435),
        ] {
            let found: f64 = c4(n);
            assert!((found - constant).abs() < 5e-5, "c4({n}) = {found}");
            assert!((3.0 / (found * n.sqrt()) - a3).abs() < 6e-4, "A3({n})");
            let width = 3.0 / found * (1.0 - found * found).sqrt();
            assert!(((1.0 - width).max(0.0) - b3).abs() < 6e-4, "B3({n})");
            assert!((1.0 + width - b4).abs() < 6e-4, "B4({n})");
        }
    }
}
