//! The exponentially weighted moving average.

use crate::charts::chart::{ChartKind, ChartPoint, ControlChart, Phase, PhaseBasis};
use crate::charts::measurements::all_finite;
use crate::charts::plan::Drawn;
use crate::charts::rules::{RuleSet, find_signals};
use crate::error::{StatsError, finite, positive, within};

/// Whether limits grow with the number of points or stand at their final width from the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum EwmaLimits {
    /// Exact for each point: narrow at first.
    #[default]
    TimeVarying,
    /// The final width at every point, as some handbooks draw them.
    SteadyState,
}

/// The design of an EWMA chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaDesign {
    /// The level to hold, in the unit of the values; the average starts here.
    pub target: f64,
    /// The standard deviation of one value, above 0.
    pub sigma: f64,
    /// The weight of the newest value, above 0, at most 1.
    pub weight: f64,
    /// The width of the limits in sigmas of the average, above 0.
    pub width: f64,
    /// The form of the limits.
    pub limits: EwmaLimits,
}

/// Whether a level has moved a little and stayed there: an average that forgets slowly, against its limits.
///
/// # Formula
///
/// z₀ = target; zᵢ = λxᵢ + (1 − λ)zᵢ₋₁; limits target ± L σ √(λ/(2 − λ) (1 − (1 − λ)^(2i))), steady state
/// without the last factor.
///
/// # Range
///
/// Finite values in one unit; σ and L above 0; λ above 0, at most 1.
///
/// # Ends
///
/// λ = 1 is the plain chart of single values with limits at L sigma. One value is allowed.
///
/// # Source
///
/// Roberts 1959, Technometrics 1:239; NIST/SEMATECH e-Handbook 6.3.2.4 (which draws steady-state limits).
///
/// # Check
///
/// NIST's 20 values to the digits printed; Montgomery Table 9.1 with λ .1, L 2.7: signals at 29 and 30.
///
/// # Example
///
/// ```
/// use stats::charts::{EwmaDesign, EwmaLimits, ewma_chart};
/// let design = EwmaDesign { target: 10.0, sigma: 1.0, weight: 0.1, width: 2.7, limits: EwmaLimits::TimeVarying };
/// // 0.1 × 9.45 + 0.9 × 10 = 9.945; first limit 10 + 2.7 × 0.1.
/// let chart = ewma_chart(&[9.45], design)?;
/// assert!((chart.points[0].value - 9.945).abs() < 1e-12);
/// assert!((chart.points[0].upper.unwrap_or(0.0) - 10.27).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn ewma_chart(values: &[f64], design: EwmaDesign) -> Result<ControlChart, StatsError> {
    all_finite(values)?;
    if values.is_empty() {
        return Err(StatsError::TooFew { what: "points", found: 0, needed: 1 });
    }
    let target = finite("target", design.target)?;
    let sigma = positive("sigma", design.sigma)?;
    let weight = within(
        "weight of the newest value",
        positive("weight of the newest value", design.weight)?,
        0.0,
        1.0,
    )?;
    let width = positive("width of the limits", design.width)?;
    let steady = width * sigma * (weight / (2.0 - weight)).sqrt();
    let mut average = target;
    let mut left = 1.0;
    let mut drawn = Drawn {
        points: Vec::with_capacity(values.len()),
        sigmas: Vec::with_capacity(values.len()),
        phases: Vec::with_capacity(1),
        medians: vec![target],
    };
    for &value in values {
        average = weight * value + (1.0 - weight) * average;
        left *= (1.0 - weight) * (1.0 - weight);
        let half = match design.limits {
            EwmaLimits::TimeVarying => steady * f64::sqrt(1.0 - left),
            EwmaLimits::SteadyState => steady,
        };
        let (lower, upper) = (target - half, target + half);
        drawn.points.push(ChartPoint {
            value: average,
            n: None,
            centre: target,
            lower: Some(lower),
            upper: Some(upper),
            outside: average < lower || average > upper,
        });
        drawn.sigmas.push((average - target) / half * width);
    }
    drawn.phases.push(Phase {
        name: "all points".to_owned(),
        from: 0,
        to: values.len() - 1,
        basis: PhaseBasis::Known(target),
        centre: target,
        n_basis: 0,
    });
    // Neighbouring averages share most of their values, so rules about runs do not apply to them.
    let signals = find_signals(ChartKind::Ewma, &drawn, &RuleSet::default().limits_only());
    let why = "EWMA chart, as asked: it sees a small lasting shift sooner than single points do.".to_owned();
    Ok(ControlChart { kind: ChartKind::Ewma, why, points: drawn.points, signals, phases: drawn.phases })
}
