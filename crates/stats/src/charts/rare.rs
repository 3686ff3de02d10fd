//! Charts of what lies between rare events: trials (g) or time (t).

use crate::charts::chart::{ChartKind, ControlChart};
use crate::charts::finish;
use crate::charts::measurements::{SIGMAS, sigma_from_moving_range};
use crate::charts::plan::{ChartOptions, Placed, Recipe, at_least, bounded, median};
use crate::dist::{geometric_quantile, normal_sf};
use crate::error::{StatsError, finite, positive};
use crate::value::LARGEST_COUNT;

/// Trials without an event between one event and the next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gaps {
    /// Trials without an event before each event, in order.
    pub closed: Vec<u64>,
    /// Trials without an event since the last one: not a gap yet.
    pub open: u64,
}

/// The gaps of a series of outcomes (`true` is an event), in the order they happened.
///
/// ```
/// use stats::charts::gaps_between_events;
/// let gaps = gaps_between_events([false, false, true, true, false]);
/// assert_eq!((gaps.closed, gaps.open), (vec![2, 0], 1));
/// ```
pub fn gaps_between_events(outcomes: impl IntoIterator<Item = bool>) -> Gaps {
    let mut gaps = Gaps { closed: Vec::new(), open: 0 };
    for event in outcomes {
        if event {
            gaps.closed.push(gaps.open);
            gaps.open = 0;
        } else {
            gaps.open += 1;
        }
    }
    gaps
}

/// The centre line of a g chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum GCentre {
    /// The mean gap.
    #[default]
    Mean,
    /// The median gap of the points the limits rest on.
    Median,
    /// 0.693 times the mean: about the median of the distribution.
    HalfPoint,
}

/// The limits of a g chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum GLimits {
    /// Three sigma.
    #[default]
    ThreeSigma,
    /// The gaps that chance exceeds with probability 0.00135 on each side.
    Probability,
}

/// Whether a rare event has become rarer: the trials between one and the next.
///
/// # Formula
///
/// Mean gap ḡ; three-sigma limits ḡ ± 3 √(ḡ(ḡ + 1)); probability limits: the 0.00135 and 0.99865 points of
/// the geometric distribution with p = 1/(ḡ + 1). Centre: ḡ, the median gap, or 0.693 ḡ. A gap counts the
/// trials without an event before an event, from 0.
///
/// # Range
///
/// Whole gaps from 0; values and limits are trials.
///
/// # Ends
///
/// The three-sigma lower limit is always at or below 0, so there is none: more frequent events cannot show as
/// a low point, use the runs analysis or a CUSUM for them. All gaps 0 leaves no spread and is refused.
///
/// # Source
///
/// Benneyan 2001, Health Care Manag Sci 4:305 and 4:319.
///
/// # Check
///
/// A worked case of 12 gaps with mean 30 (upper limit 121.487704); known rates .03 and .01 (upper limits
/// 130.8219 and 397.496; probability limits 216 and 657).
///
/// # Example
///
/// ```
/// use stats::charts::{ChartOptions, GCentre, GLimits, g_chart};
/// // Mean 8: 8 + 3 √72 = 33.456.
/// let chart = g_chart(&[6, 10], GCentre::Mean, GLimits::ThreeSigma, &ChartOptions::default())?;
/// assert!((chart.points[0].upper.unwrap_or(0.0) - (8.0 + 3.0 * 72.0_f64.sqrt())).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn g_chart(
    gaps: &[u64],
    centre: GCentre,
    limits: GLimits,
    options: &ChartOptions,
) -> Result<ControlChart, StatsError> {
    if let Some(&value) = gaps.iter().find(|&&gap| gap > LARGEST_COUNT) {
        return Err(StatsError::CountTooLarge { what: "gap", value, most: LARGEST_COUNT });
    }
    finish(ChartKind::G, &GChart { gaps, centre, limits }, options)
}

/// Whether a rare event has become rarer: the time between one and the next, made symmetric by a root.
///
/// # Formula
///
/// y = t^(1/3.6); centre ȳ, limits ȳ ± 3 MR̄/1.128 with MR̄ the mean move between neighbours; centre and
/// limits are taken back by the power 3.6.
///
/// # Range
///
/// Times from 0 in one unit; values, centre and limits are in that unit.
///
/// # Ends
///
/// A lower limit at or below 0 is no limit. Two times at least; all equal leaves no spread and is refused.
///
/// # Source
///
/// Nelson 1994, J Qual Technol 26:239; Montgomery, Introduction to Statistical Quality Control, section 7.3.
///
/// # Check
///
/// Montgomery Example 7.6, hours between failures of a valve: centre 430.04095, upper limit 6937.93349, no
/// lower limit.
///
/// # Example
///
/// ```
/// use stats::charts::{ChartOptions, t_chart};
/// // Roots 1 and 2: centre 1.5, so 1.5^3.6 = 4.305.
/// let chart = t_chart(&[1.0, 2.0_f64.powi(3) * 2.0_f64.powf(0.6)], &ChartOptions::default())?;
/// assert!((chart.points[0].centre - 4.305).abs() < 5e-4);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn t_chart(times: &[f64], options: &ChartOptions) -> Result<ControlChart, StatsError> {
    t_chart_with(times, 1.0 / NELSON_POWER, options)
}

/// The power that makes exponential times look normal, taken back.
const NELSON_POWER: f64 = 3.6;

fn t_chart_with(times: &[f64], root: f64, options: &ChartOptions) -> Result<ControlChart, StatsError> {
    for &time in times {
        if finite("time between events", time)? < 0.0 {
            return Err(StatsError::NotWithin {
                what: "time between events",
                value: time,
                low: 0.0,
                high: f64::MAX,
            });
        }
    }
    let roots = times.iter().map(|&time| libm::pow(time, root)).collect();
    finish(ChartKind::T, &TChart { times, roots, root }, options)
}

struct GChart<'a> {
    gaps: &'a [u64],
    centre: GCentre,
    limits: GLimits,
}

#[derive(Clone, Copy)]
struct GShared {
    mean: f64,
    centre: f64,
    limits: (f64, f64),
}

impl GChart<'_> {
    fn shared(&self, mean: f64, centre: f64) -> GShared {
        let sigma = (mean * (mean + 1.0)).sqrt();
        let limits = match self.limits {
            GLimits::ThreeSigma => (mean - SIGMAS * sigma, mean + SIGMAS * sigma),
            GLimits::Probability => {
                let p = 1.0 / (mean + 1.0);
                let tail = normal_sf(SIGMAS);
                (geometric_quantile(tail, p) as f64, geometric_quantile(1.0 - tail, p) as f64)
            }
        };
        GShared { mean, centre, limits }
    }
}

impl Recipe for GChart<'_> {
    type Shared = GShared;

    fn n_points(&self) -> usize {
        self.gaps.len()
    }

    fn value(&self, index: usize) -> f64 {
        self.gaps[index] as f64
    }

    fn shared_by_points(&self, basis: &[usize]) -> Result<GShared, StatsError> {
        at_least(basis, 1)?;
        let mut gaps: Vec<f64> = basis.iter().map(|&index| self.value(index)).collect();
        let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
        if mean == 0.0 {
            return Err(StatsError::NoSpread { what: "gap", value: 0.0 });
        }
        let centre = match self.centre {
            GCentre::Mean => mean,
            GCentre::Median => median(&mut gaps),
            GCentre::HalfPoint => HALF_POINT * mean,
        };
        Ok(self.shared(mean, centre))
    }

    fn shared_by_known(&self, mean: f64) -> Result<GShared, StatsError> {
        let mean = positive("known mean gap", mean)?;
        let centre = match self.centre {
            GCentre::Mean => mean,
            GCentre::Median => geometric_quantile(0.5, 1.0 / (mean + 1.0)) as f64,
            GCentre::HalfPoint => HALF_POINT * mean,
        };
        Ok(self.shared(mean, centre))
    }

    fn centre(&self, shared: &GShared) -> f64 {
        shared.centre
    }

    fn place(&self, index: usize, shared: &GShared) -> Placed {
        let value = self.value(index);
        let point = bounded(value, None, shared.centre, shared.limits, (0.0, f64::INFINITY));
        Placed { point, sigmas: (value - shared.centre) / (shared.mean * (shared.mean + 1.0)).sqrt() }
    }
}

/// Three digits of ln 2, as the source prints it.
const HALF_POINT: f64 = 0.693;

struct TChart<'a> {
    times: &'a [f64],
    roots: Vec<f64>,
    root: f64,
}

#[derive(Clone, Copy)]
struct TShared {
    centre: f64,
    sigma: f64,
}

impl TChart<'_> {
    fn back(&self, root: f64) -> f64 {
        if root <= 0.0 { 0.0 } else { libm::pow(root, 1.0 / self.root) }
    }
}

impl Recipe for TChart<'_> {
    type Shared = TShared;

    fn n_points(&self) -> usize {
        self.times.len()
    }

    fn value(&self, index: usize) -> f64 {
        self.times[index]
    }

    fn shared_by_points(&self, basis: &[usize]) -> Result<TShared, StatsError> {
        let sigma = sigma_from_moving_range("time between events", basis.iter().map(|&i| self.roots[i]))?;
        let centre = basis.iter().map(|&index| self.roots[index]).sum::<f64>() / basis.len() as f64;
        Ok(TShared { centre, sigma })
    }

    fn shared_by_known(&self, _: f64) -> Result<TShared, StatsError> {
        Err(StatsError::DoesNotApply {
            what: "a known standard",
            because: "a t chart needs the variation between points",
        })
    }

    fn centre(&self, shared: &TShared) -> f64 {
        self.back(shared.centre)
    }

    fn place(&self, index: usize, shared: &TShared) -> Placed {
        let width = SIGMAS * shared.sigma;
        let limits = (self.back(shared.centre - width), self.back(shared.centre + width));
        let point = bounded(self.times[index], None, self.back(shared.centre), limits, (0.0, f64::INFINITY));
        Placed { point, sigmas: (self.roots[index] - shared.centre) / shared.sigma }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_printed_exponent_of_montgomery() {
        // Montgomery Example 7.6 prints 0.2777 for 1/3.6: transformed 5.386624 and 11.661118, back 430.0087
        // and 6939.692.
        let hours = [
            286.0, 948.0, 536.0, 124.0, 816.0, 729.0, 4.0, 143.0, 431.0, 8.0, 2837.0, 596.0, 81.0, 227.0,
            603.0, 492.0, 1199.0, 1214.0, 2831.0, 96.0,
        ];
        let chart = t_chart_with(&hours, 0.2777, &ChartOptions::default()).unwrap();
        assert!((chart.points[0].centre - 430.0087).abs() < 5e-5, "{}", chart.points[0].centre);
        assert!((chart.points[0].upper.unwrap() - 6939.692).abs() < 5e-4, "{:?}", chart.points[0].upper);
    }
}
