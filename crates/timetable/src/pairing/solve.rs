use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::assign::assign;
use super::bound::{Limits, Priced, Rounds, no_prices, price};
use super::column::{Column, Prices, Range, Table};
use super::flow::least_pairings;
use super::prepared::Prepared;
use super::search::{Dice, State, anneal};
use super::{PairingError, PairingProblem};

/// How long to look. Counted in steps, not seconds, so that the same question gives the same plan on every machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairingEffort {
    /// Share of the objective at which the plan is good enough, once the bound is so near; 0 or more.
    pub gap: f64,
    /// Rounds of pricing for the first bound.
    pub first_rounds: u32,
    /// Rounds of pricing in each branch.
    pub branch_rounds: u32,
    /// Most branches.
    pub branches: u32,
    /// Changes tried in one search.
    pub moves: u32,
    /// Where the chance-like choices begin.
    pub seed: u64,
}

impl Default for PairingEffort {
    /// A little under one percent, which a unit of 12 learners and 10 preceptors over six weeks reaches also where
    /// draws are so scarce that only a third of the learners can be done.
    fn default() -> Self {
        PairingEffort {
            gap: 0.009,
            first_rounds: 400,
            branch_rounds: 60,
            branches: 80,
            moves: 60_000,
            seed: 1,
        }
    }
}

impl PairingEffort {
    /// For planning again after one absence, when most of the plan is known: quick rather than proven.
    pub fn again() -> PairingEffort {
        PairingEffort {
            first_rounds: 200,
            branches: 4,
            branch_rounds: 40,
            moves: 40_000,
            ..PairingEffort::default()
        }
    }
}

/// One learner on one shift with one preceptor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pairing {
    /// Place of the learner.
    pub learner: usize,
    /// Place of the shift.
    pub shift: usize,
    /// Place of the preceptor.
    pub preceptor: usize,
    /// Turns of the shift's draws offered to the learner.
    pub turns: u8,
}

/// A plan and how good it is.
#[derive(Debug, Clone, PartialEq)]
pub struct PairingAnswer {
    /// Learners done in the mean, less what changes cost.
    pub objective: f64,
    /// No plan has a higher objective.
    pub bound: f64,
    /// By shift, then learner.
    pub pairings: Vec<Pairing>,
    /// Units of each learner.
    pub units: Vec<u32>,
}

/// A plan, or who cannot have the fewest watched shifts asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum PairingOutcome {
    /// A plan.
    Found(PairingAnswer),
    /// No plan keeps every limit: learners who fall short in a plan that falls short as little as possible, and by how
    /// many watched shifts.
    Infeasible(Vec<(usize, u32)>),
}

/// The best pairings that the effort finds, with a bound on the best there can be.
///
/// # Formula
/// [`PairingProblem`] states the objective and the limits. Whether any plan keeps them is a maximum flow, exactly. The
/// bound is a Lagrangian one: what learners share gets a price, each learner's best choice at the prices is a table over
/// units, each preceptor's is the dearest shifts. Branching on a learner's units closes what the prices leave open. Plans
/// come from the learners' choices and from annealing.
/// # Range
/// `gap` 0 or more. The answer's bound is never below its objective.
/// # Ends
/// No learner: an objective and a bound of 0.
/// # Source
/// M. L. Fisher, The Lagrangian relaxation method for solving integer programming problems, Management Science 27,
/// 1981, 1-18; B. T. Polyak's step as there; from memory.
/// # Check
/// Against a general solver of whole-number programs on random instances, infeasible ones among them.
pub fn best_pairings(
    problem: &PairingProblem,
    effort: &PairingEffort,
) -> Result<PairingOutcome, PairingError> {
    let prepared = Prepared::new(problem)?;
    let base = match least_pairings(&prepared) {
        Ok(pairings) => State::of(&prepared, &pairings),
        Err(short) => return Ok(PairingOutcome::Infeasible(short)),
    };
    let mut dice = Dice::new(effort.seed);
    let mut best = Best::new(&prepared, base.clone());
    if let Some(known) = &problem.known {
        let mut kept = base.clone();
        let pairings: Vec<_> = known.pairings.iter().map(|one| (one.learner, one.shift)).collect();
        kept.take_pairings(&prepared, &pairings);
        best.try_state(&prepared, anneal(&prepared, kept, effort.moves, 0.01, &mut dice));
    }
    best.try_state(&prepared, anneal(&prepared, base.clone(), effort.moves, 0.05, &mut dice));
    let bound = branch(&prepared, &base, effort, &mut best, &mut dice);
    best.state.trim(&prepared);
    best.value = best.state.value(&prepared);
    let pairs = best.state.pairings(&prepared);
    let keys: Vec<_> = pairs.iter().map(|(learner, shift, _)| (*learner, *shift)).collect();
    let preceptors = assign(&prepared, &keys).unwrap_or_default();
    let mut pairings: Vec<Pairing> = pairs
        .into_iter()
        .zip(preceptors)
        .map(|((learner, shift, turns), preceptor)| Pairing { learner, shift, preceptor, turns })
        .collect();
    pairings.sort_unstable_by_key(|pairing| (pairing.shift, pairing.learner));
    Ok(PairingOutcome::Found(PairingAnswer {
        objective: best.value,
        bound: bound.max(best.value),
        pairings,
        units: best.state.units,
    }))
}

struct Best {
    value: f64,
    state: State,
}

impl Best {
    fn new(prepared: &Prepared<'_>, state: State) -> Best {
        Best { value: state.value(prepared), state }
    }

    fn try_state(&mut self, prepared: &Prepared<'_>, state: State) {
        let value = state.value(prepared);
        if value > self.value {
            *self = Best { value, state };
        }
    }
}

struct Node {
    bound: f64,
    limits: Limits,
    prices: Prices,
    mean: Vec<(f64, f64)>,
    mean_from: f64,
}

impl PartialEq for Node {
    fn eq(&self, other: &Node) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Node {}

impl PartialOrd for Node {
    fn partial_cmp(&self, other: &Node) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Node {
    fn cmp(&self, other: &Node) -> Ordering {
        self.bound.total_cmp(&other.bound)
    }
}

/// Splits learners' units into ranges until the bound is near enough; gives the bound.
fn branch(
    prepared: &Prepared<'_>,
    base: &State,
    effort: &PairingEffort,
    best: &mut Best,
    dice: &mut Dice,
) -> f64 {
    let (mut table, mut beside) = (Table::default(), Table::default());
    let n_learners = prepared.learners.len();
    let ranges = (0..n_learners).map(|l| Range { low: 0, high: prepared.most_units(l) as u32 }).collect();
    let whole = Limits { ranges, n_from: (0, n_learners) };
    let enough = |best: &Best| best.value + effort.gap * best.value.abs().max(0.01);
    let from = no_prices(prepared);
    let rounds = |most: u32, first_length: f64, best: &Best| Rounds {
        most,
        first_length,
        target: best.value,
        enough: enough(best),
    };
    let first = price(prepared, &whole, from, &rounds(effort.first_rounds, 1.0, best), &mut table);
    improve(prepared, base, &first.columns, effort.moves, best, dice);
    let mut open = BinaryHeap::from([Node {
        bound: first.bound,
        limits: whole,
        prices: first.prices,
        mean: first.mean,
        mean_from: first.mean_from,
    }]);
    // Highest bound among the branches that were left because they are near enough.
    let mut left = f64::NEG_INFINITY;
    let mut n_branches = 0;
    while let Some(node) = open.pop() {
        let parts = if n_branches < effort.branches { parts(prepared, &node) } else { None };
        let Some(parts) = parts.filter(|_| node.bound > enough(best)) else {
            left = left.max(node.bound);
            continue;
        };
        // Near the prices of the whole, short steps do. The two halves ask nothing of each other.
        let rounds = rounds(effort.branch_rounds, 0.3, best);
        let priced: [Priced; 2] = std::thread::scope(|scope| {
            let first = scope.spawn(|| price(prepared, &parts[0], node.prices.clone(), &rounds, &mut beside));
            let second = price(prepared, &parts[1], node.prices.clone(), &rounds, &mut table);
            match first.join() {
                Ok(first) => [first, second],
                Err(panic) => std::panic::resume_unwind(panic),
            }
        });
        for (limits, priced) in parts.into_iter().zip(priced) {
            if priced.bound == f64::NEG_INFINITY {
                continue;
            }
            improve(prepared, base, &priced.columns, effort.moves / 16, best, dice);
            let bound = priced.bound.min(node.bound);
            let (prices, mean, mean_from) = (priced.prices, priced.mean, priced.mean_from);
            open.push(Node { bound, limits, prices, mean, mean_from });
        }
        n_branches += 1;
    }
    left
}

/// A plan from what the learners chose at the prices, those with the best chances first.
fn improve(
    prepared: &Prepared<'_>,
    base: &State,
    columns: &[Column],
    moves: u32,
    best: &mut Best,
    dice: &mut Dice,
) {
    let mut order: Vec<usize> = (0..columns.len()).collect();
    let done = |l: usize| columns.get(l).map_or(0.0, |column| prepared.done(l, column.units));
    order.sort_by(|a, b| done(*b).total_cmp(&done(*a)));
    let mut state = base.clone();
    state.take_in(prepared, columns, &order);
    best.try_state(prepared, anneal(prepared, state, moves, 0.02, dice));
}

/// Two halves of a branch: by how many learners reach their threshold while the mean is no whole number, then by the
/// units of the learner whose choices differ most from their mean.
fn parts(prepared: &Prepared<'_>, node: &Node) -> Option<[Limits; 2]> {
    let mut halves = [node.limits.clone(), node.limits.clone()];
    let (fewest, most) = node.limits.n_from;
    let at = (node.mean_from as usize).clamp(fewest, most);
    let part = node.mean_from - at as f64;
    if at < most && (0.05..0.95).contains(&part) {
        halves[0].n_from.1 = at;
        halves[1].n_from.0 = at + 1;
        return Some(halves);
    }
    let (l, at) = widest(prepared, node)?;
    halves[0].ranges[l].high = at;
    halves[1].ranges[l].low = at + 1;
    Some(halves)
}

/// The learner whose choices differ most from their mean, and the units at which to split them.
fn widest(prepared: &Prepared<'_>, node: &Node) -> Option<(usize, u32)> {
    let mut widest: Option<(f64, usize, u32)> = None;
    for (l, (units, chance)) in node.mean.iter().enumerate() {
        let range = node.limits.ranges[l];
        if range.low >= range.high {
            continue;
        }
        let at = (*units as u32).clamp(range.low, range.high - 1);
        let spread = chance - prepared.done(l, at);
        if widest.is_none_or(|(most, _, _)| spread > most) {
            widest = Some((spread, l, at));
        }
    }
    widest.map(|(_, l, at)| (l, at))
}
