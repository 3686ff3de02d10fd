//! The p chart, with three kinds of limits.

use crate::charts::chart::{ChartKind, ControlChart};
use crate::charts::finish;
use crate::charts::measurements::{SIGMAS, sigma_from_moving_range};
use crate::charts::plan::{ChartOptions, Placed, Recipe, at_least, bounded};
use crate::dist::{binomial_quantile, normal_sf};
use crate::error::{StatsError, strictly_between};
use crate::value::Proportion;

/// How the limits of a p chart are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PLimits {
    /// Three sigma from the normal approximation.
    Normal,
    /// The binomial counts that chance exceeds with probability 0.00135 on each side.
    ExactBinomial,
    /// Three sigma widened by the variation between points.
    LaneyPrime,
}

impl PLimits {
    fn kind(self) -> ChartKind {
        match self {
            Self::Normal => ChartKind::PNormal,
            Self::ExactBinomial => ChartKind::PExact,
            Self::LaneyPrime => ChartKind::PPrime,
        }
    }
}

/// Whether a proportion has changed over time: each point against what chance gives at the usual rate.
///
/// # Formula
///
/// Centre p̄ = Σx/Σn, s = √(p̄(1 − p̄)/n).
///
/// * Normal: p̄ ± 3s.
/// * Exact binomial: upper, the smallest k/n with P(X > k) ≤ 0.00135; lower, the largest k/n with P(X < k) ≤
///   0.00135 (the normal tail beyond 3).
/// * Laney p-prime: p̄ ± 3 s σ_z, with z = (x/n − p̄)/s and σ_z the mean of |zᵢ − zᵢ₋₁| divided by 1.128.
///
/// # Range
///
/// One proportion per point, trials from 1; values and limits are proportions 0 to 1.
///
/// # Ends
///
/// A limit at or past 0 or 1 is no limit (`None`): nothing can be beyond it. All 0 of n or all n of n leaves
/// no spread and is refused. Laney needs 2 points. The exact limits of a small n are steps: with n = 1 there
/// are none.
///
/// # Source
///
/// Shewhart 1931; Montgomery, Introduction to Statistical Quality Control, section 7.2; Laney 2002, Qual Eng
/// 14:531.
///
/// # Check
///
/// Montgomery's orange juice cans (NIST/SEMATECH e-Handbook 6.3.3.2) and purchase orders (Table 7.4);
/// emergency attendances in Mohammed and others 2013 for p-prime; exact limits against scipy `binom`.
///
/// # Example
///
/// ```
/// use stats::{Proportion, charts::{ChartOptions, PLimits, p_chart}};
/// // 1, 3 and 2 of 100: p̄ = 0.02, s = 0.014, upper limit 0.062, no lower limit.
/// let samples = [1, 3, 2].map(|x| Proportion::new(x, 100)).into_iter().collect::<Result<Vec<_>, _>>()?;
/// let chart = p_chart(&samples, PLimits::Normal, &ChartOptions::default())?;
/// let point = chart.points[1];
/// assert!((point.centre - 0.02).abs() < 1e-15 && (point.upper.unwrap_or(1.0) - 0.062).abs() < 1e-15);
/// assert!(point.lower.is_none() && !point.outside);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn p_chart(
    samples: &[Proportion],
    limits: PLimits,
    options: &ChartOptions,
) -> Result<ControlChart, StatsError> {
    finish(limits.kind(), &PChart { samples, limits }, options)
}

/// How much more the points vary than chance alone: 1 when not at all, 2 when twice as much.
///
/// # Formula
///
/// σ_z: the mean of |zᵢ − zᵢ₋₁| divided by 1.128, with z = (x/n − p̄)/√(p̄(1 − p̄)/n).
///
/// # Range
///
/// Two points or more; σ_z from 0.
///
/// # Ends
///
/// All 0 of n or all n of n is refused: there is no spread to compare.
///
/// # Source
///
/// Laney 2002, Qual Eng 14:531. (With 2/√π instead of 1.128 the fourth digit differs.)
///
/// # Check
///
/// Emergency attendances, 20 weeks (Mohammed and others 2013): 10.6404219.
///
/// # Example
///
/// ```
/// use stats::{Proportion, charts::sigma_z};
/// // p̄ = 0.5, s = 0.05, z = −2, 2, −2: mean move 4, so 4 / 1.128.
/// let samples = [40, 60, 40, 60].map(|x| Proportion::new(x, 100)).into_iter().collect::<Result<Vec<_>, _>>()?;
/// assert!((sigma_z(&samples)? - 4.0 / 1.128).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn sigma_z(samples: &[Proportion]) -> Result<f64, StatsError> {
    let recipe = PChart { samples, limits: PLimits::LaneyPrime };
    let all: Vec<usize> = (0..samples.len()).collect();
    recipe.sigma_z(recipe.centre_of(&all)?, &all)
}

struct PChart<'a> {
    samples: &'a [Proportion],
    limits: PLimits,
}

#[derive(Clone, Copy)]
struct Shared {
    centre: f64,
    /// What the binomial standard deviation is multiplied by: 1 except for Laney.
    widening: f64,
}

impl PChart<'_> {
    fn centre_of(&self, basis: &[usize]) -> Result<f64, StatsError> {
        at_least(basis, 1)?;
        let (mut x, mut n) = (0.0, 0.0);
        for &index in basis {
            let (events, trials) = self.samples[index].as_f64();
            x += events;
            n += trials;
        }
        let centre = x / n;
        if centre <= 0.0 || centre >= 1.0 {
            return Err(StatsError::NoSpread { what: "proportion", value: centre });
        }
        Ok(centre)
    }

    fn deviation(&self, index: usize, centre: f64) -> f64 {
        (centre * (1.0 - centre) / self.samples[index].trials() as f64).sqrt()
    }

    fn sigma_z(&self, centre: f64, basis: &[usize]) -> Result<f64, StatsError> {
        let z = basis.iter().map(|&i| (self.samples[i].estimate() - centre) / self.deviation(i, centre));
        sigma_from_moving_range("standardised proportion", z)
    }
}

impl Recipe for PChart<'_> {
    type Shared = Shared;

    fn n_points(&self) -> usize {
        self.samples.len()
    }

    fn value(&self, index: usize) -> f64 {
        self.samples[index].estimate()
    }

    fn shared_by_points(&self, basis: &[usize]) -> Result<Shared, StatsError> {
        let centre = self.centre_of(basis)?;
        let widening = match self.limits {
            PLimits::LaneyPrime => self.sigma_z(centre, basis)?,
            PLimits::Normal | PLimits::ExactBinomial => 1.0,
        };
        Ok(Shared { centre, widening })
    }

    fn shared_by_known(&self, centre: f64) -> Result<Shared, StatsError> {
        let centre = strictly_between("known proportion", centre, 0.0, 1.0)?;
        match self.limits {
            PLimits::LaneyPrime => Err(StatsError::DoesNotApply {
                what: "a known standard",
                because: "Laney limits need the variation between points",
            }),
            PLimits::Normal | PLimits::ExactBinomial => Ok(Shared { centre, widening: 1.0 }),
        }
    }

    fn centre(&self, shared: &Shared) -> f64 {
        shared.centre
    }

    fn place(&self, index: usize, shared: &Shared) -> Placed {
        let sample = self.samples[index];
        let value = sample.estimate();
        let (_, n) = sample.as_f64();
        let sigma = self.deviation(index, shared.centre) * shared.widening;
        let limits = match self.limits {
            PLimits::ExactBinomial => exact_limits(sample.trials(), shared.centre),
            PLimits::Normal | PLimits::LaneyPrime => {
                (shared.centre - SIGMAS * sigma, shared.centre + SIGMAS * sigma)
            }
        };
        let point = bounded(value, Some(n), shared.centre, limits, (0.0, 1.0));
        Placed { point, sigmas: (value - shared.centre) / sigma }
    }
}

fn exact_limits(trials: u64, centre: f64) -> (f64, f64) {
    let tail = normal_sf(SIGMAS);
    let n = trials as f64;
    // Counting non-events for the upper limit keeps the small tail small on both sides.
    let lower = binomial_quantile(tail, trials, centre);
    let upper = trials - binomial_quantile(tail, trials, 1.0 - centre);
    (lower as f64 / n, upper as f64 / n)
}
