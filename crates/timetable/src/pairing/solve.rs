use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::assign::assign;
use super::bound::{Bounds, Limits, Priced, Rounds};
use super::column::{Range, Table};
use super::flow::least_pairings;
use super::prepared::Prepared;
use super::prices::Steps;
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
            gap: 0.0098,
            first_rounds: 400,
            branch_rounds: 60,
            branches: 400,
            moves: 40_000,
            seed: 1,
        }
    }
}

impl PairingEffort {
    /// For planning again after one absence, when most of the plan is known: quick rather than proven.
    pub fn again() -> PairingEffort {
        PairingEffort {
            gap: 0.004,
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
/// bound is Lagrangian, in two steps. In the first a unit has a worth for each learner: what the learners share is then a flow
/// of turns of most worth, each learner's choice lies on the hull of their chances, and the worths come from a small linear
/// program (Dantzig-Wolfe decomposition). Where that leaves too much open, whole pairings get prices: each learner's best choice is
/// a table over units, each preceptor's is the dearest shifts. Branching on how many learners and which are to be done closes
/// what is left. Plans come from the mixtures of the program and from annealing.
/// # Range
/// `gap` 0 or more. The answer's bound is never below its objective.
/// # Ends
/// No learner: an objective and a bound of 0.
/// # Source
/// M. L. Fisher, The Lagrangian relaxation method for solving integer programming problems, Management Science 27,
/// 1981, 1-18; B. T. Polyak's step as there; G. B. Dantzig, P. Wolfe, Decomposition principle for linear programs, Operations
/// Research 8, 1960, 101-111; all from memory.
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

/// Share-outs looked for at first, in a branch, and in a branch that they bound badly. Tried out on invented units.
const FIRST_SHARE_OUTS: u32 = 100;
const SHARE_OUTS: u32 = 30;
const FEW_SHARE_OUTS: u32 = 1;

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
    priced: Priced,
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

/// Settles who reaches their threshold, branch by branch, until the bound is near enough; gives the bound.
fn branch(
    prepared: &Prepared<'_>,
    base: &State,
    effort: &PairingEffort,
    best: &mut Best,
    dice: &mut Dice,
) -> f64 {
    let n_learners = prepared.learners.len();
    let enough = |best: &Best| best.value + effort.gap * best.value.abs().max(0.01);
    let rounds = |most: u32, best: &Best| Rounds { most, enough: enough(best) };
    let steps = |most: u32, first_length: f64, best: &Best| Steps {
        most,
        first_length,
        target: best.value,
        enough: enough(best),
        hopes: true,
    };
    let mut bounds = Bounds::new(prepared);
    let (mut table, mut beside) = (Table::default(), Table::default());
    let ranges = (0..n_learners).map(|l| Range { low: 0, high: prepared.most_units(l) as u32 }).collect();
    let limits = Limits { sides: vec![None; n_learners], ranges, n_from: (0, n_learners) };
    let from = bounds.first_worth();
    let mut priced = bounds.lower(&limits, &from, &rounds(FIRST_SHARE_OUTS, best));
    improve(prepared, base, &priced, effort.moves, best, dice);
    bounds.tighten(&limits, &mut priced, None, false, &steps(effort.first_rounds, 0.5, best), &mut table);
    if effort.branches > 0 && priced.bound > enough(best) {
        // A better plan spares many branches.
        anew(prepared, base, &priced, effort.moves, best, dice);
    }
    let mut open = BinaryHeap::from([Node { bound: priced.bound, limits, priced }]);
    // Highest bound among the branches that were left because they are near enough or cannot be split.
    let mut left = f64::NEG_INFINITY;
    let mut n_branches = 0;
    while let Some(node) = open.pop() {
        if node.bound <= enough(best) || n_branches >= effort.branches {
            left = left.max(node.bound);
            continue;
        }
        n_branches += 1;
        let Some(parts) = parts(prepared, &node) else {
            // Nothing is left to settle but the prices and the plan.
            let Node { bound, limits, mut priced } = node;
            improve(prepared, base, &priced, effort.moves.saturating_mul(10), best, dice);
            let long = Steps { hopes: false, ..steps(effort.first_rounds.saturating_mul(3), 0.5, best) };
            let prices = priced.prices.take();
            bounds.tighten(&limits, &mut priced, prices.as_ref(), false, &long, &mut table);
            left = left.max(priced.bound.min(bound));
            continue;
        };
        // Where whole pairings bound far better than the mixture does, few share-outs do: they only lead to plans.
        let is_far = node.priced.mixed > node.bound + 0.5 * effort.gap * best.value.abs();
        let share_outs = rounds(if is_far { FEW_SHARE_OUTS } else { SHARE_OUTS }, best);
        let mut priced = parts.map(|limits| (bounds.lower(&limits, &node.priced.worth, &share_outs), limits));
        let steps = steps(effort.branch_rounds, 0.3, best);
        // The two halves ask nothing of each other.
        let [(first, first_limits), (second, second_limits)] = &mut priced;
        let prices = node.priced.prices.as_ref();
        std::thread::scope(|scope| {
            let first =
                scope.spawn(|| bounds.tighten(first_limits, first, prices, is_far, &steps, &mut beside));
            bounds.tighten(second_limits, second, prices, is_far, &steps, &mut table);
            if let Err(panic) = first.join() {
                std::panic::resume_unwind(panic);
            }
        });
        for (priced, limits) in priced {
            if priced.bound == f64::NEG_INFINITY {
                continue;
            }
            if priced.bound > enough(best) {
                improve(prepared, base, &priced, effort.moves / 4, best, dice);
            }
            let bound = priced.bound.min(node.bound);
            open.push(Node { bound, limits, priced });
        }
    }
    left
}

/// Plans from the mixture behind a bound and from nothing, a few of each.
fn anew(
    prepared: &Prepared<'_>,
    base: &State,
    priced: &Priced,
    moves: u32,
    best: &mut Best,
    dice: &mut Dice,
) {
    for _ in 0..3 {
        improve(prepared, base, priced, moves, best, dice);
        best.try_state(prepared, anneal(prepared, base.clone(), moves, 0.05, dice));
    }
}

/// A plan from the mixture behind a bound.
fn improve(
    prepared: &Prepared<'_>,
    base: &State,
    priced: &Priced,
    moves: u32,
    best: &mut Best,
    dice: &mut Dice,
) {
    let mut state = base.clone();
    state.take_in(prepared, &priced.turns);
    best.try_state(prepared, anneal(prepared, state, moves, 0.02, dice));
}

/// Two halves of a branch: by how many learners reach their threshold while that is no whole number, then by whether
/// the learner reaches it of whom the mixture is least sure.
fn parts(prepared: &Prepared<'_>, node: &Node) -> Option<[Limits; 2]> {
    const SURE: f64 = 0.02;
    let mut halves = [node.limits.clone(), node.limits.clone()];
    let (fewest, most) = node.limits.n_from;
    let split = |mut halves: [Limits; 2], l: usize| {
        halves[0].sides[l] = Some(false);
        halves[1].sides[l] = Some(true);
        halves
    };
    let is_open = |l: &usize| node.limits.sides[*l].is_none();
    let whole: Vec<f64> = node.priced.whole.iter().map(|mean| mean.reaches).collect();
    for reaches in [&whole, &node.priced.reaches] {
        let sum: f64 = reaches.iter().sum();
        let at = (sum as usize).clamp(fewest, most);
        if at < most && (SURE..1.0 - SURE).contains(&(sum - at as f64)) {
            halves[0].n_from.1 = at;
            halves[1].n_from.0 = at + 1;
            return Some(halves);
        }
        let unsure = |l: &usize| (reaches[*l] - 0.5).abs();
        let open = (0..reaches.len()).filter(is_open).filter(|l| unsure(l) < 0.5 - SURE);
        if let Some(l) = open.min_by(|a, b| unsure(a).total_cmp(&unsure(b))) {
            return Some(split(halves, l));
        }
    }
    // All seem sure: what is not settled yet is settled one by one, and then the units of those whose choices differ most.
    if let Some(l) = (0..node.limits.sides.len()).find(is_open) {
        return Some(split(halves, l));
    }
    let (l, at) = widest(prepared, node)?;
    halves[0].ranges[l].high = at;
    halves[1].ranges[l].low = at + 1;
    Some(halves)
}

/// The learner whose choices differ most from their mean, and the units at which to split them.
fn widest(prepared: &Prepared<'_>, node: &Node) -> Option<(usize, u32)> {
    let mut widest: Option<(f64, usize, u32)> = None;
    for (l, mean) in node.priced.whole.iter().enumerate() {
        let range = node.limits.ranges[l];
        if range.low >= range.high {
            continue;
        }
        let at = (mean.units as u32).clamp(range.low, range.high - 1);
        let spread = (mean.chance - prepared.done(l, at)).abs();
        if widest.is_none_or(|(most, _, _)| spread > most) {
            widest = Some((spread, l, at));
        }
    }
    widest.filter(|(spread, _, _)| *spread > 1e-4).map(|(_, l, at)| (l, at))
}
