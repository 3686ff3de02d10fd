//! Control charts: which points are beyond what chance explains, and since when.
//!
//! A chart is plain data ([`ControlChart`]); drawing it is another room's work. Indices count from 0 and
//! ranges hold both ends. [`chosen_chart`] picks the chart and says why; the functions named after a chart
//! make that one. Every chart takes [`ChartOptions`]: phases (a baseline frozen, then after) and run rules.

// Apart, so that they stay in reading order.
mod chart;

mod choose;

mod proportions;

mod counts;

mod rare;

mod measurements;

mod ewma;

mod rules;

mod plan;

mod sentence;

pub use chart::{ChartKind, ChartPoint, ControlChart, Phase, PhaseBasis, Rule, Signal};
pub use choose::{Choice, FEWEST_FOR_LIMITS, Series, choose_chart, chosen_chart};
pub use counts::{EventCount, c_chart, u_chart};
pub use ewma::{EwmaDesign, EwmaLimits, ewma_chart};
pub use measurements::{XBarS, individuals_chart, run_chart, xbar_s_chart};
pub use plan::{ChartOptions, PhasePlan, PlannedPhase};
pub use proportions::{PLimits, p_chart, sigma_z};
pub use rare::{GCentre, GLimits, Gaps, g_chart, gaps_between_events, t_chart};
pub use rules::{RuleSet, RunsAnalysis, runs_analysis};

use crate::error::StatsError;

/// Works through the plan, looks for signals, and says that this chart was asked for by name.
fn finish<R: plan::Recipe>(
    kind: ChartKind,
    recipe: &R,
    options: &ChartOptions,
) -> Result<ControlChart, StatsError> {
    let drawn = plan::draw(recipe, &options.plan)?;
    let signals = rules::find_signals(kind, &drawn, &options.rules);
    let why = format!("Asked for by name: {}.", kind.name());
    Ok(ControlChart { kind, why, points: drawn.points, signals, phases: drawn.phases })
}
