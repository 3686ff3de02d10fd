//! Which points share limits, and which points those limits come from.

use crate::charts::chart::{ChartPoint, Phase, PhaseBasis};
use crate::charts::rules::RuleSet;
use crate::error::{StatsError, finite};

/// How a chart is to be made: phases and run rules.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChartOptions {
    /// Which points share limits.
    pub plan: PhasePlan,
    /// Which rules look for signals.
    pub rules: RuleSet,
}

/// Which points share limits. One phase of all points unless said otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct PhasePlan {
    phases: Vec<PlannedPhase>,
    left_out: Vec<usize>,
}

/// One phase of a plan: it runs from `first` to the point before the next phase.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPhase {
    /// The name to print.
    pub name: String,
    /// Its first point, counted from 0.
    pub first: usize,
    /// Where its limits come from.
    pub basis: PhaseBasis,
}

impl PhasePlan {
    /// All points share limits computed from all of them.
    pub fn single() -> Self {
        Self::of(vec![planned("all points", 0, PhaseBasis::OwnPoints)])
    }

    /// Limits computed from the first `n_baseline` points and kept for everything after: the way to see
    /// whether a change made a difference.
    pub fn baseline_then_frozen(n_baseline: usize) -> Self {
        Self::of(vec![
            planned("baseline", 0, PhaseBasis::OwnPoints),
            planned("after", n_baseline, PhaseBasis::Frozen(0)),
        ])
    }

    /// Limits computed afresh on each side of the change: the way to show two settled levels.
    pub fn before_and_after(n_before: usize) -> Self {
        Self::of(vec![
            planned("before", 0, PhaseBasis::OwnPoints),
            planned("after", n_before, PhaseBasis::OwnPoints),
        ])
    }

    /// A centre line given from outside, in the unit of the chart; for p, u, c and g charts.
    pub fn known(centre: f64) -> Self {
        Self::of(vec![planned("known standard", 0, PhaseBasis::Known(centre))])
    }

    /// Any phases; they are checked against the series when a chart is made.
    pub fn of(phases: Vec<PlannedPhase>) -> Self {
        Self { phases, left_out: Vec::new() }
    }

    /// Keeps these points out of the computation of limits (a cause was found); they are still plotted and
    /// judged.
    pub fn leaving_out(mut self, points: &[usize]) -> Self {
        self.left_out.extend_from_slice(points);
        self
    }
}

impl Default for PhasePlan {
    fn default() -> Self {
        Self::single()
    }
}

fn planned(name: &str, first: usize, basis: PhaseBasis) -> PlannedPhase {
    PlannedPhase { name: name.to_owned(), first, basis }
}

/// A point with its distance from the centre in sigmas, which the zone tests need.
pub(super) struct Placed {
    pub(super) point: ChartPoint,
    pub(super) sigmas: f64,
}

/// What the phases of a plan gave.
pub(super) struct Drawn {
    pub(super) points: Vec<ChartPoint>,
    /// Distance of each point from its centre, in sigmas.
    pub(super) sigmas: Vec<f64>,
    pub(super) phases: Vec<Phase>,
    /// The median of the points each phase rests on (or its given centre), for the runs analysis.
    pub(super) medians: Vec<f64>,
}

/// How a chart computes what a phase shares.
pub(super) trait Recipe {
    /// What a phase shares: a centre and whatever the limits need.
    type Shared: Clone;

    /// How many points there are.
    fn n_points(&self) -> usize;
    /// The value plotted at a point.
    fn value(&self, index: usize) -> f64;
    /// What follows from these points.
    fn shared_by_points(&self, basis: &[usize]) -> Result<Self::Shared, StatsError>;
    /// What follows from a centre given from outside.
    fn shared_by_known(&self, centre: f64) -> Result<Self::Shared, StatsError>;
    /// The centre line.
    fn centre(&self, shared: &Self::Shared) -> f64;
    /// A point with its limits.
    fn place(&self, index: usize, shared: &Self::Shared) -> Placed;
}

/// Works through a plan.
pub(super) fn draw<R: Recipe>(recipe: &R, plan: &PhasePlan) -> Result<Drawn, StatsError> {
    let n = recipe.n_points();
    if n == 0 {
        return Err(StatsError::TooFew { what: "points", found: 0, needed: 1 });
    }
    check(plan, n)?;
    let mut drawn = Drawn {
        points: Vec::with_capacity(n),
        sigmas: Vec::with_capacity(n),
        phases: Vec::with_capacity(plan.phases.len()),
        medians: Vec::with_capacity(plan.phases.len()),
    };
    let mut shared: Vec<(R::Shared, usize)> = Vec::with_capacity(plan.phases.len());
    for (index, phase) in plan.phases.iter().enumerate() {
        let end = plan.phases.get(index + 1).map_or(n, |next| next.first);
        let (this, n_basis, median) = match phase.basis {
            PhaseBasis::OwnPoints => {
                let basis: Vec<usize> =
                    (phase.first..end).filter(|point| !plan.left_out.contains(point)).collect();
                let this = recipe.shared_by_points(&basis)?;
                let mut values: Vec<f64> = basis.iter().map(|&point| recipe.value(point)).collect();
                (this, basis.len(), median(&mut values))
            }
            PhaseBasis::Frozen(earlier) => {
                let (this, n_basis) = shared[earlier].clone();
                (this, n_basis, drawn.medians[earlier])
            }
            PhaseBasis::Known(centre) => (recipe.shared_by_known(finite("centre", centre)?)?, 0, centre),
        };
        for point in phase.first..end {
            let placed = recipe.place(point, &this);
            drawn.points.push(placed.point);
            drawn.sigmas.push(placed.sigmas);
        }
        drawn.phases.push(Phase {
            name: phase.name.clone(),
            from: phase.first,
            to: end - 1,
            basis: phase.basis,
            centre: recipe.centre(&this),
            n_basis,
        });
        drawn.medians.push(median);
        shared.push((this, n_basis));
    }
    Ok(drawn)
}

/// Phases start at 0, go forward, stay inside the series and rest on earlier ones only.
fn check(plan: &PhasePlan, n: usize) -> Result<(), StatsError> {
    if plan.phases.is_empty() {
        return Err(StatsError::TooFew { what: "phases", found: 0, needed: 1 });
    }
    for (index, phase) in plan.phases.iter().enumerate() {
        let least = if index == 0 { 0 } else { plan.phases[index - 1].first + 1 };
        let starts_right = if index == 0 { phase.first == 0 } else { phase.first >= least };
        if !starts_right || phase.first >= n {
            return Err(StatsError::IndexOutside {
                what: "first point of a phase",
                index: phase.first,
                length: n,
            });
        }
        if let PhaseBasis::Frozen(earlier) = phase.basis
            && earlier >= index
        {
            return Err(StatsError::IndexOutside {
                what: "phase that limits are taken from",
                index: earlier,
                length: index,
            });
        }
    }
    match plan.left_out.iter().find(|&&point| point >= n) {
        Some(&index) => Err(StatsError::IndexOutside { what: "point to leave out", index, length: n }),
        None => Ok(()),
    }
}

/// The middle value, or the mean of the two in the middle; the slice is sorted on the way. Not for an empty
/// one.
pub(super) fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    if values.len() % 2 == 1 { values[half] } else { 0.5 * (values[half - 1] + values[half]) }
}

/// A point between limits; a limit at or past what the value can reach is no limit.
pub(super) fn bounded(
    value: f64,
    n: Option<f64>,
    centre: f64,
    limits: (f64, f64),
    reach: (f64, f64),
) -> ChartPoint {
    let lower = (limits.0 > reach.0).then_some(limits.0);
    let upper = (limits.1 < reach.1).then_some(limits.1);
    let outside = lower.is_some_and(|lower| value < lower) || upper.is_some_and(|upper| value > upper);
    ChartPoint { value, n, centre, lower, upper, outside }
}

/// Refuses a phase with fewer points than its limits need.
pub(super) fn at_least(basis: &[usize], needed: usize) -> Result<(), StatsError> {
    if basis.len() < needed {
        return Err(StatsError::TooFew { what: "points to compute limits from", found: basis.len(), needed });
    }
    Ok(())
}
