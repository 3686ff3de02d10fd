//! A bound that no plan can pass: what learners share is given a price, and then each chooses alone.

use super::column::{Column, Columns, Prices, Range, Table};
use super::prepared::Prepared;

/// What a branch allows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Limits {
    /// Units of each learner.
    pub(crate) ranges: Vec<Range>,
    /// How many learners reach their threshold, fewest and most. Learners are much alike, so without this the bound would
    /// give each a part of a place that only whole learners can have.
    pub(crate) n_from: (usize, usize),
}

/// One stage of pricing: a bound, the prices behind it and what the learners chose on the way.
#[derive(Debug, Clone)]
pub(crate) struct Priced {
    /// No plan within the ranges is worth more; minus infinity when a range cannot be reached.
    pub(crate) bound: f64,
    pub(crate) prices: Prices,
    /// Columns at the best prices.
    pub(crate) columns: Vec<Column>,
    /// By learner: mean units chosen, and mean chance at them, over the later rounds.
    pub(crate) mean: Vec<(f64, f64)>,
    /// Mean number of learners who reached their threshold.
    pub(crate) mean_from: f64,
}

pub(crate) fn no_prices(prepared: &Prepared<'_>) -> Prices {
    Prices {
        watch: vec![0.0; prepared.on.len()],
        turn: vec![0.0; prepared.on.len()],
        least: vec![0.0; prepared.learners.len()],
        week: prepared.learners.iter().map(|learner| vec![0.0; learner.n_weeks]).collect(),
    }
}

/// How long to lower a bound, and to where.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rounds {
    pub(crate) most: u32,
    /// Share of a full step to begin with.
    pub(crate) first_length: f64,
    /// What the steps aim at: the value of a plan.
    pub(crate) target: f64,
    /// A bound that needs no lowering.
    pub(crate) enough: f64,
}

/// Rounds without a lower bound after which steps are shortened. This and the next: tried out on invented units.
const PATIENCE: u32 = 12;
/// Share of the last direction that is kept.
const MOMENTUM: f64 = 0.92;

/// Lowers the bound by moving the prices against what is asked for too much or too little, for so many rounds or until
/// it is low enough.
///
/// Any prices of 0 or more give a bound (Lagrangian duality); the rounds only make it tighter. Steps are Polyak's towards
/// the target, along a direction that keeps part of the one before.
pub(crate) fn price(
    prepared: &Prepared<'_>,
    limits: &Limits,
    from: Prices,
    rounds: &Rounds,
    table: &mut Table,
) -> Priced {
    let n_learners = prepared.learners.len();
    let mut prices = from;
    let mut best: Option<(f64, Prices, Vec<Column>)> = None;
    let mut direction = no_prices(prepared);
    let Rounds { most: rounds, first_length: mut length, target, enough } = *rounds;
    let mut since_better = 0;
    let mut mean = vec![(0.0, 0.0, 0.0); n_learners];
    let mut mean_from = 0.0;
    for round in 0..rounds.max(1) {
        let Some((value, slope, columns)) = at(prepared, limits, &prices, table) else {
            return Priced {
                bound: f64::NEG_INFINITY,
                prices,
                columns: Vec::new(),
                mean: Vec::new(),
                mean_from: 0.0,
            };
        };
        let keep = if round * 3 < rounds { 0.0 } else { 0.95 };
        let reaches =
            |(l, column): &(usize, &Column)| column.units as usize >= prepared.learners[*l].threshold;
        let n_from = columns.iter().enumerate().filter(reaches).count();
        mean_from = keep * mean_from + (1.0 - keep) * n_from as f64;
        for (l, column) in columns.iter().enumerate() {
            let (units, chance, weight) = mean[l];
            let done = prepared.done(l, column.units);
            mean[l] = (keep * units + f64::from(column.units), keep * chance + done, keep * weight + 1.0);
        }
        if best.as_ref().is_none_or(|(lowest, _, _)| value < lowest - 1e-7) {
            best = Some((value, prices.clone(), columns));
            since_better = 0;
        } else {
            since_better += 1;
            if since_better == PATIENCE {
                length *= 0.7;
                since_better = 0;
                if let Some((_, cheapest, _)) = &best {
                    prices = cheapest.clone();
                }
            }
        }
        let lowest = best.as_ref().map_or(value, |(lowest, _, _)| *lowest);
        if lowest <= enough || length < 1e-4 {
            break;
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
        let step = length * (value - target).max(1e-3) / squared;
        combine(&mut prices, &direction, |price, slope| (price - step * slope).max(0.0));
    }
    let Some((bound, prices, columns)) = best else {
        return Priced {
            bound: f64::INFINITY,
            prices,
            columns: Vec::new(),
            mean: Vec::new(),
            mean_from: 0.0,
        };
    };
    let mean = mean.into_iter().map(|(units, chance, weight)| (units / weight, chance / weight)).collect();
    Priced { bound: bound + 1e-9, prices, columns, mean, mean_from }
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

/// The bound at given prices, its slope, and what each learner chose; `None` when a range cannot be reached.
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
        .ranges
        .iter()
        .enumerate()
        .map(|(l, range)| table.columns(prepared, l, prices, *range))
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
