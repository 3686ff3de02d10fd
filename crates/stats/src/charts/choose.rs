//! Which chart, and why, in one sentence.

use crate::charts::chart::{ChartKind, ControlChart};
use crate::charts::counts::{EventCount, c_chart, u_chart};
use crate::charts::measurements::{individuals_chart, run_chart, xbar_s_chart};
use crate::charts::plan::ChartOptions;
use crate::charts::proportions::{PLimits, p_chart, sigma_z};
use crate::charts::rare::{GCentre, GLimits, g_chart, t_chart};
use crate::charts::sentence::plain;
use crate::error::StatsError;
use crate::value::Proportion;

/// The fewest points limits are computed from; below it the chart is a run chart. Common practice, no source:
/// books say 10 to 25.
pub const FEWEST_FOR_LIMITS: usize = 10;

/// Events (and non-events) expected in every point before the variation between points is judged. Common
/// practice, no source: below it chance dominates each point, and limits widened by the moves between points
/// would mostly hide signals.
const EXPECTED_FOR_DISPERSION: f64 = 30.0;

/// A series to be charted, by what its points are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Series<'a> {
    /// Events of trials, one proportion per point.
    Proportions(&'a [Proportion]),
    /// Events over an exposure.
    Counts(&'a [EventCount]),
    /// Trials between events.
    Gaps(&'a [u64]),
    /// Time between events.
    Times(&'a [f64]),
    /// Single measurements.
    Measurements(&'a [f64]),
    /// Measurements in subgroups.
    Subgroups(&'a [Vec<f64>]),
}

/// A chart chosen for a series.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The chart to draw.
    pub kind: ChartKind,
    /// Why, in one sentence.
    pub why: String,
    /// A chart that would see more if the trials were known in order: the g chart when events are rare.
    pub better_in_order: Option<ChartKind>,
}

/// Which chart fits a series, with the reason in one sentence.
///
/// # Formula
///
/// Fewer than 10 points, or no spread: run chart. Proportions: Laney p-prime where every point expects at
/// least 30 events and 30 non-events and σ_z exceeds 1 + 1.645 √(0.826/(k − 1)) over k points (the largest
/// that chance gives once in 20); exact binomial limits otherwise; where fewer than 1 event is expected per
/// point, with the advice to chart the sets between events. Counts: c chart for equal exposure, u chart
/// otherwise. Gaps: g. Times: t. Measurements: individuals. Subgroups: X-bar.
///
/// # Range
///
/// A series of one point or more.
///
/// # Ends
///
/// An empty series is refused. All 0 of n and all n of n give a run chart that says so.
///
/// # Source
///
/// Common practice, no source, for the numbers 10 and 30; the standard error of σ_z is that of a mean moving
/// range of normal values, √(0.826/(k − 1)) (Cruthis and Rigdon 1992, Qual Eng 5:151; cited from memory;
/// 40,000 simulated series gave 0.80 to 0.82).
///
/// # Check
///
/// Montgomery's cans (exact limits), the emergency attendances of Mohammed and others 2013 (p-prime), a rare
/// series (exact with advice), a short one (run chart).
///
/// # Example
///
/// ```
/// use stats::{Proportion, charts::{ChartKind, Series, choose_chart}};
/// let three = [Proportion::new(1, 40)?, Proportion::new(0, 40)?, Proportion::new(2, 40)?];
/// let choice = choose_chart(Series::Proportions(&three))?;
/// assert_eq!(choice.kind, ChartKind::Run);
/// assert_eq!(choice.why, "Run chart, because limits from 3 points would mean little (10 wanted).");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn choose_chart(series: Series<'_>) -> Result<Choice, StatsError> {
    let n_points = match series {
        Series::Proportions(points) => points.len(),
        Series::Counts(points) => points.len(),
        Series::Gaps(points) => points.len(),
        Series::Times(points) | Series::Measurements(points) => points.len(),
        Series::Subgroups(points) => points.len(),
    };
    if n_points == 0 {
        return Err(StatsError::TooFew { what: "points", found: 0, needed: 1 });
    }
    if n_points < FEWEST_FOR_LIMITS {
        let points = if n_points == 1 { "point" } else { "points" };
        return Ok(because(
            ChartKind::Run,
            format!(
                "Run chart, because limits from {n_points} {points} would mean little ({FEWEST_FOR_LIMITS} wanted)."
            ),
        ));
    }
    Ok(match series {
        Series::Proportions(points) => choose_for_proportions(points)?,
        Series::Counts(points) if points.iter().all(|point| point.events() == 0) => because(
            ChartKind::Run,
            "Run chart, because no event was counted and limits need some.".to_owned(),
        ),
        Series::Counts(points) => {
            let first = points[0].exposure();
            if points.iter().all(|point| point.exposure() == first) {
                because(ChartKind::C, "c chart, because events are counted over equal exposure.".to_owned())
            } else {
                because(
                    ChartKind::U,
                    "u chart, because events are counted over exposures that differ.".to_owned(),
                )
            }
        }
        Series::Gaps(points) if points.iter().all(|&gap| gap == 0) => {
            because(ChartKind::Run, "Run chart, because every trial was an event.".to_owned())
        }
        Series::Gaps(_) => {
            because(ChartKind::G, "g chart, because the points are trials between rare events.".to_owned())
        }
        Series::Times(points) | Series::Measurements(points) if points.iter().all(|&p| p == points[0]) => {
            because(ChartKind::Run, format!("Run chart, because every value is {}.", plain(points[0])))
        }
        Series::Times(_) => {
            because(ChartKind::T, "t chart, because the points are times between events.".to_owned())
        }
        Series::Measurements(_) => because(
            ChartKind::Individuals,
            "Individuals chart, because each point is one measurement.".to_owned(),
        ),
        Series::Subgroups(_) => because(
            ChartKind::XBar,
            "X-bar and s charts, because each point is a group of measurements.".to_owned(),
        ),
    })
}

/// The chart of [`choose_chart`], made, with its reason in `why`.
///
/// Where the points that limits are to rest on have no spread or are too few (a baseline without an event),
/// the chart is a run chart that says so, not an error.
pub fn chosen_chart(series: Series<'_>, options: &ChartOptions) -> Result<ControlChart, StatsError> {
    let choice = choose_chart(series)?;
    let (made, why) = match make(series, choice.kind, options) {
        Err(error @ (StatsError::NoSpread { .. } | StatsError::TooFew { .. })) => {
            let why = format!("Run chart, because limits cannot be computed ({error}).");
            (run_chart(&values_of(series), options), why)
        }
        made => (made, choice.why),
    };
    let mut chart = made?;
    chart.why = why;
    Ok(chart)
}

fn make(series: Series<'_>, kind: ChartKind, options: &ChartOptions) -> Result<ControlChart, StatsError> {
    if kind == ChartKind::Run {
        return run_chart(&values_of(series), options);
    }
    match series {
        Series::Proportions(points) => {
            let limits = if kind == ChartKind::PPrime { PLimits::LaneyPrime } else { PLimits::ExactBinomial };
            p_chart(points, limits, options)
        }
        Series::Counts(points) if kind == ChartKind::C => {
            // Equal exposure: the counts themselves are plotted.
            let counts: Vec<u64> = points.iter().map(|point| point.events()).collect();
            c_chart(&counts, options)
        }
        Series::Counts(points) => u_chart(points, options),
        Series::Gaps(points) => g_chart(points, GCentre::Mean, GLimits::ThreeSigma, options),
        Series::Times(points) => t_chart(points, options),
        Series::Measurements(points) => individuals_chart(points, options),
        Series::Subgroups(points) => Ok(xbar_s_chart(points, options)?.means),
    }
}

fn choose_for_proportions(points: &[Proportion]) -> Result<Choice, StatsError> {
    let (mut events, mut trials) = (0.0, 0.0);
    let mut fewest_trials = f64::INFINITY;
    for point in points {
        let (x, n) = point.as_f64();
        events += x;
        trials += n;
        fewest_trials = fewest_trials.min(n);
    }
    let centre = events / trials;
    if events == 0.0 || events == trials {
        return Ok(because(
            ChartKind::Run,
            format!("Run chart, because every point is {:.0} % and limits need some spread.", 100.0 * centre),
        ));
    }
    let per_point = events / points.len() as f64;
    if per_point < 1.0 {
        return Ok(Choice {
            kind: ChartKind::PExact,
            why: format!(
                "p chart with exact binomial limits, because only {} events are expected per point; a g chart of the \
                 trials between events would see more.",
                plain(per_point)
            ),
            better_in_order: Some(ChartKind::G),
        });
    }
    let expected = fewest_trials * centre.min(1.0 - centre);
    if expected >= EXPECTED_FOR_DISPERSION {
        let spread = sigma_z(points)?;
        let chance = 1.0 + 1.645 * (0.826 / (points.len() - 1) as f64).sqrt();
        if spread > chance {
            return Ok(because(
                ChartKind::PPrime,
                format!(
                    "p-prime chart (Laney), because the points vary {} times as much as chance alone gives.",
                    plain(spread)
                ),
            ));
        }
    }
    Ok(because(
        ChartKind::PExact,
        format!(
            "p chart with exact binomial limits, which hold at any count ({:.1} events expected in the smallest point).",
            fewest_trials * centre
        ),
    ))
}

fn because(kind: ChartKind, why: String) -> Choice {
    Choice { kind, why, better_in_order: None }
}

fn values_of(series: Series<'_>) -> Vec<f64> {
    match series {
        Series::Proportions(points) => points.iter().map(|point| point.estimate()).collect(),
        Series::Counts(points) => points.iter().map(|point| point.rate()).collect(),
        Series::Gaps(points) => points.iter().map(|&gap| gap as f64).collect(),
        Series::Times(points) | Series::Measurements(points) => points.to_vec(),
        Series::Subgroups(points) => {
            points.iter().map(|group| group.iter().sum::<f64>() / group.len() as f64).collect()
        }
    }
}
