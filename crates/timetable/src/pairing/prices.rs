//! A tighter bound: what learners share is given a price, and each chooses whole pairings alone.

use super::bound::Limits;
use super::column::{Column, Columns, Prices, Range, Table};
use super::prepared::Prepared;

pub(crate) fn no_prices(prepared: &Prepared<'_>) -> Prices {
    Prices {
        watch: vec![0.0; prepared.on.len()],
        turn: vec![0.0; prepared.on.len()],
        least: vec![0.0; prepared.learners.len()],
        week: prepared.learners.iter().map(|learner| vec![0.0; learner.n_weeks]).collect(),
    }
}

/// What a learner chose in the mean.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Mean {
    /// How often they reached their threshold.
    pub(crate) reaches: f64,
    pub(crate) units: f64,
    pub(crate) chance: f64,
}

impl Mean {
    fn move_to(&mut self, now: &Mean, keep: f64) {
        let mixed = |old: f64, new: f64| keep * old + (1.0 - keep) * new;
        *self = Mean {
            reaches: mixed(self.reaches, now.reaches),
            units: mixed(self.units, now.units),
            chance: mixed(self.chance, now.chance),
        };
    }
}

/// How long to lower a bound, and to where.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Steps {
    pub(crate) most: u32,
    /// Share of a full step to begin with.
    pub(crate) first_length: f64,
    /// What the steps aim at: the value of a plan.
    pub(crate) target: f64,
    /// A bound that needs no lowering.
    pub(crate) enough: f64,
    /// Whether to stop where the bound is not on its way there.
    pub(crate) hopes: bool,
}

/// Rounds without a lower bound after which steps are shortened. This and the next: tried out on invented units.
const PATIENCE: u32 = 12;
/// Steps after which it is seen whether the bound is on its way.
const HOPE: u32 = 25;
/// Share of the last direction that is kept.
const MOMENTUM: f64 = 0.92;

/// Lowers the bound by moving the prices against what is asked for too much or too little, for so many steps or until
/// it is low enough or will not become so; the prices become those of the bound. Minus infinity when no plan is within the limits.
/// Into `means` goes what each learner chose in the mean, later steps counting more.
///
/// Any prices of 0 or more give a bound (Lagrangian duality); the steps only make it tighter. They are Polyak's towards
/// the target, along a direction that keeps part of the one before.
pub(crate) fn lower(
    prepared: &Prepared<'_>,
    limits: &Limits,
    prices: &mut Prices,
    steps: &Steps,
    table: &mut Table,
    means: &mut [Mean],
) -> f64 {
    let mut here = prices.clone();
    let mut lowest = f64::INFINITY;
    let mut direction = no_prices(prepared);
    let mut length = steps.first_length;
    let mut since_better = 0;
    let mut some_time_ago = f64::INFINITY;
    for step in 0..steps.most {
        let Some((value, slope, columns)) = at(prepared, limits, &here, table) else {
            return f64::NEG_INFINITY;
        };
        let keep = if step == 0 { 0.0 } else { 0.95 };
        for ((l, mean), column) in means.iter_mut().enumerate().zip(&columns) {
            let reaches = column.units as usize >= prepared.learners[l].threshold;
            let now = Mean {
                reaches: f64::from(u8::from(reaches)),
                units: f64::from(column.units),
                chance: prepared.done(l, column.units),
            };
            mean.move_to(&now, keep);
        }
        if value < lowest - 1e-7 {
            lowest = value;
            prices.clone_from(&here);
            since_better = 0;
        } else {
            since_better += 1;
            if since_better == PATIENCE {
                length *= 0.7;
                since_better = 0;
                here.clone_from(prices);
            }
        }
        if lowest <= steps.enough || length < 1e-4 {
            break;
        }
        if steps.hopes && step % HOPE == HOPE - 1 {
            // At this pace the bound would not get there in four times as long.
            if some_time_ago - lowest < 0.06 * (lowest - steps.enough) {
                break;
            }
            some_time_ago = lowest;
        }
        let mut squared = 0.0;
        combine(&mut direction, &slope, |old, new| {
            let now = MOMENTUM * old + new;
            squared += now * now;
            now
        });
        if squared <= 1e-18 {
            break;
        }
        let step = length * (value - steps.target).max(1e-3) / squared;
        combine(&mut here, &direction, |price, slope| (price - step * slope).max(0.0));
    }
    lowest + 1e-9
}

fn combine(into: &mut Prices, with: &Prices, mut by: impl FnMut(f64, f64) -> f64) {
    let mut each = |into: &mut [f64], with: &[f64]| {
        into.iter_mut().zip(with).for_each(|(into, with)| *into = by(*into, *with));
    };
    each(&mut into.watch, &with.watch);
    each(&mut into.turn, &with.turn);
    each(&mut into.least, &with.least);
    for (into, with) in into.week.iter_mut().zip(&with.week) {
        each(into, with);
    }
}

/// The bound at given prices, its slope, and what each learner chose; `None` when no plan is within the limits.
fn at(
    prepared: &Prepared<'_>,
    limits: &Limits,
    prices: &Prices,
    table: &mut Table,
) -> Option<(f64, Prices, Vec<Column>)> {
    let problem = prepared.problem;
    let mut slope = no_prices(prepared);
    let mut value = prepared.all_dropped;
    let both: Vec<Columns> = limits
        .sides
        .iter()
        .enumerate()
        .map(|(l, side)| {
            let (threshold, most) = (prepared.learners[l].threshold as u32, prepared.most_units(l) as u32);
            let (low, high) = match side {
                None => (0, most),
                Some(false) => (0, most.min(threshold - 1)),
                Some(true) => (threshold, most),
            };
            let within = limits.ranges[l];
            let range = Range { low: low.max(within.low), high: high.min(within.high) };
            if range.low > range.high {
                return Columns { below: None, from: None };
            }
            table.columns(prepared, l, prices, range)
        })
        .collect();
    let columns = choose(both, limits.n_from)?;
    for (l, column) in columns.iter().enumerate() {
        let limits = &problem.learners[l];
        value += column.value - prices.least[l] * f64::from(limits.least_pairings);
        slope.least[l] = -f64::from(limits.least_pairings);
        for (week, binds) in prepared.learners[l].week_binds.iter().enumerate() {
            if *binds {
                value += prices.week[l][week] * f64::from(limits.most_per_week);
                slope.week[l][week] = f64::from(limits.most_per_week);
            }
        }
        for (item, turns) in prepared.learners[l].items.iter().zip(&column.turns) {
            if *turns > 0 {
                slope.watch[item.shift] -= 1.0;
                slope.turn[item.shift] -= f64::from(*turns);
                slope.least[l] += 1.0;
                if prepared.learners[l].week_binds[item.week] {
                    slope.week[l][item.week] -= 1.0;
                }
            }
        }
    }
    for (place, shift) in problem.shifts.iter().enumerate() {
        value += prices.turn[place] * f64::from(shift.turns);
        slope.turn[place] += f64::from(shift.turns);
    }
    // Each preceptor takes the shifts that pay most, within a week and then in all.
    for preceptor in &problem.preceptors {
        let mut paid: Vec<usize> =
            preceptor.shifts.iter().copied().filter(|shift| prices.watch[*shift] > 0.0).collect();
        paid.sort_unstable_by(|a, b| prices.watch[*b].total_cmp(&prices.watch[*a]).then(a.cmp(b)));
        let mut in_week = vec![0u32; prepared.n_weeks];
        let mut in_all = 0u32;
        for shift in paid {
            let in_week = &mut in_week[problem.shifts[shift].week];
            if *in_week < preceptor.most_per_week && in_all < preceptor.most_in_all {
                *in_week += 1;
                in_all += 1;
                value += prices.watch[shift];
                slope.watch[shift] += 1.0;
            }
        }
    }
    // A price of 0 that would have to fall stays where it is.
    let mut masked = slope;
    let hold = |slopes: &mut [f64], prices: &[f64]| {
        for (slope, price) in slopes.iter_mut().zip(prices) {
            if *price <= 0.0 && *slope > 0.0 {
                *slope = 0.0;
            }
        }
    };
    hold(&mut masked.watch, &prices.watch);
    hold(&mut masked.turn, &prices.turn);
    hold(&mut masked.least, &prices.least);
    for (slopes, prices) in masked.week.iter_mut().zip(&prices.week) {
        hold(slopes, prices);
    }
    Some((value, masked, columns))
}

/// The best column of each learner, so many of them from their threshold as the branch allows; `None` when it allows
/// none.
fn choose(both: Vec<Columns>, (fewest, most): (usize, usize)) -> Option<Vec<Column>> {
    // What reaching the threshold is worth to each: minus or plus infinity where there is no choice.
    let worth = |columns: &Columns| match (&columns.below, &columns.from) {
        (Some(below), Some(from)) => Some(from.value - below.value),
        (None, Some(_)) => Some(f64::INFINITY),
        (Some(_), None) => Some(f64::NEG_INFINITY),
        (None, None) => None,
    };
    let mut worths = Vec::with_capacity(both.len());
    for (l, columns) in both.iter().enumerate() {
        worths.push((worth(columns)?, l));
    }
    worths.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let n_wanted = worths.iter().filter(|(worth, _)| *worth > 0.0).count().clamp(fewest, most.max(fewest));
    let mut reaches = vec![false; both.len()];
    for (place, (worth, l)) in worths.iter().enumerate() {
        reaches[*l] = place < n_wanted;
        let impossible = if place < n_wanted { f64::NEG_INFINITY } else { f64::INFINITY };
        if *worth == impossible {
            return None;
        }
    }
    both.into_iter()
        .zip(reaches)
        .map(|(columns, reaches)| if reaches { columns.from } else { columns.below })
        .collect()
}
