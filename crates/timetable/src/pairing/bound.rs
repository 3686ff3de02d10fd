//! A bound that no plan can pass: what learners share is given out for the units' worth, and each learner chooses alone.

use super::column::{Prices, Range, Table};
use super::curve::{Choice, Curve};
use super::master::{LpColumn, Simplex};
use super::prepared::Prepared;
use super::prices::{self, Mean, Steps};
use super::shared::{ShareOut, Shared};

/// What a branch allows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Limits {
    /// Whether a learner must reach their threshold or must not; `None` for either.
    pub(crate) sides: Vec<Option<bool>>,
    /// Units of each learner. Only prices of whole pairings go by them.
    pub(crate) ranges: Vec<Range>,
    /// How many learners reach their threshold, fewest and most. Learners are much alike, so without this the bound would
    /// give each a part of a place that only whole learners can have.
    pub(crate) n_from: (usize, usize),
}

/// How long to lower a bound, and to where.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rounds {
    /// Most share-outs looked for.
    pub(crate) most: u32,
    /// A bound that needs no lowering.
    pub(crate) enough: f64,
}

/// A bound, and the mixture of share-outs behind it.
#[derive(Debug, Clone)]
pub(crate) struct Priced {
    /// No plan within the limits is worth more; minus infinity when there is none.
    pub(crate) bound: f64,
    /// The same by the mixture alone.
    pub(crate) mixed: f64,
    /// What a unit of each learner is worth at the bound.
    pub(crate) worth: Vec<f64>,
    /// Prices of whole pairings at the bound, where they were asked for.
    pub(crate) prices: Option<Prices>,
    /// By learner: how much of them reaches the threshold in the mixture, 0 to 1; empty when there is no plan.
    pub(crate) reaches: Vec<f64>,
    /// What each learner chose where pairings are whole; empty where that was not asked for.
    pub(crate) whole: Vec<Mean>,
    /// Turns of the mixture, in the order of the items, learner after learner.
    pub(crate) turns: Vec<f64>,
}

/// Works out bounds for one branch after the other; share-outs found for one serve all.
pub(crate) struct Bounds<'a, 'b> {
    prepared: &'a Prepared<'b>,
    shared: Shared,
    curves: Vec<Curve>,
    found: Vec<ShareOut>,
}

/// What a column of the program stands for.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Nothing,
    Choice { learner: usize, reaches: bool },
    Share(usize),
}

/// More than anything can bring: what must not stay in the program.
const TOO_DEAR: f64 = 1e3;
/// Share of the best worth so far in the next one to be tried: prices of a few columns swing.
const KEPT: f64 = 0.6;
/// Share of the bound at which the mixture has come near enough to it.
const NEAR: f64 = 2e-4;

impl<'a, 'b> Bounds<'a, 'b> {
    pub(crate) fn new(prepared: &'a Prepared<'b>) -> Bounds<'a, 'b> {
        let curves = (0..prepared.learners.len()).map(|l| Curve::new(prepared, l)).collect();
        Bounds { prepared, shared: Shared::new(prepared), curves, found: Vec::new() }
    }

    /// Worths to begin with: what a unit brings a learner on the way to being done.
    pub(crate) fn first_worth(&self) -> Vec<f64> {
        self.prepared
            .problem
            .learners
            .iter()
            .map(|learner| {
                let gained = |units: usize| (learner.done[units] - learner.done[0]) / units as f64;
                (1..learner.done.len()).map(gained).fold(0.0, f64::max)
            })
            .collect()
    }

    /// What no plan within the limits can pass when a unit of each learner is worth so much, or `None` when there is no plan within
    /// them; any worths of 0 or more give a bound (Lagrangian duality).
    fn at(&mut self, limits: &Limits, worth: &[f64]) -> Option<(f64, ShareOut)> {
        let chosen = self.chosen(limits, worth)?;
        let (shared, share) = self.shared.best(self.prepared, worth);
        Some((self.prepared.all_dropped + shared + chosen + 1e-9, share))
    }

    /// The sum of the learners' best choices, so many of them from their threshold as the limits allow.
    fn chosen(&self, limits: &Limits, worth: &[f64]) -> Option<f64> {
        let mut sum = 0.0;
        // What reaching the threshold brings more.
        let mut more = Vec::with_capacity(worth.len());
        let (mut fewest, mut most) = limits.n_from;
        for (l, price) in worth.iter().enumerate() {
            let side = |reaches: bool| {
                let allowed = limits.sides[l].is_none_or(|side| side == reaches);
                self.curves[l].best(reaches, *price).filter(|_| allowed).map(|choice| choice.value)
            };
            match (side(false), side(true)) {
                (Some(below), Some(from)) => {
                    sum += below;
                    more.push(from - below);
                }
                (None, Some(from)) => {
                    sum += from;
                    most = most.checked_sub(1)?;
                    fewest = fewest.saturating_sub(1);
                }
                (Some(below), None) => sum += below,
                (None, None) => return None,
            }
        }
        if fewest > more.len() {
            return None;
        }
        more.sort_by(|a, b| b.total_cmp(a));
        let n_paying = more.iter().filter(|more| **more > 0.0).count();
        let n_wanted = n_paying.clamp(fewest, most.max(fewest)).min(more.len());
        Some(sum + more[..n_wanted].iter().sum::<f64>())
    }

    /// Lowers the bound of a branch for so many rounds, or until it is low enough or as low as it goes.
    ///
    /// Dantzig-Wolfe decomposition: a small linear program mixes the share-outs and the learners' choices found so far; its prices
    /// are the worths at which the next share-out is looked for.
    pub(crate) fn lower(&mut self, limits: &Limits, from: &[f64], rounds: &Rounds) -> Priced {
        let n = self.prepared.learners.len();
        let mut best = (f64::INFINITY, from.to_vec());
        let mut program = Program::new(n, limits.n_from);
        (0..self.found.len()).for_each(|place| program.share(place, &self.found[place]));
        let mut trial = from.to_vec();
        let mut is_mixed = true;
        for _ in 0..rounds.most.max(1) {
            let Some((value, share)) = self.at(limits, &trial) else {
                let bound = f64::NEG_INFINITY;
                return Priced {
                    bound,
                    mixed: bound,
                    worth: best.1,
                    prices: None,
                    reaches: Vec::new(),
                    whole: Vec::new(),
                    turns: Vec::new(),
                };
            };
            if value < best.0 {
                best = (value, trial.clone());
            }
            let is_new = program.lacks(&share);
            if is_new {
                program.share(self.found.len(), &share);
                self.found.push(share);
            }
            if best.0 <= rounds.enough || (!is_new && !is_mixed) {
                break;
            }
            program.solve(limits, &self.curves);
            if best.0 - self.prepared.all_dropped - program.simplex.value() <= NEAR * best.0.abs() {
                break;
            }
            // A share-out that the program has already says nothing new: then its own prices are tried.
            is_mixed = is_new;
            let kept = if is_mixed { KEPT } else { 0.0 };
            let prices = program.simplex.prices().iter().map(|price| price.max(0.0));
            trial =
                best.1.iter().zip(prices).map(|(best, price)| kept * best + (1.0 - kept) * price).collect();
        }
        let (reaches, turns) = self.mixture(&program);
        Priced {
            bound: best.0,
            mixed: best.0,
            worth: best.1,
            prices: None,
            reaches,
            whole: Vec::new(),
            turns,
        }
    }

    /// Lowers a bound further: pairings whole, and each shift of a learner only as far as the learner is to be done. From the
    /// prices of the share-out, or from others where those give less or the mixture is far above.
    pub(crate) fn tighten(
        &self,
        limits: &Limits,
        priced: &mut Priced,
        other: Option<&Prices>,
        is_far: bool,
        steps: &Steps,
        table: &mut Table,
    ) {
        if priced.bound <= steps.enough || steps.most == 0 {
            return;
        }
        let mut means = vec![Mean::default(); priced.worth.len()];
        let mut lower = |prices: &mut Prices, steps: &Steps| {
            prices::lower(self.prepared, limits, prices, steps, table, &mut means)
        };
        let of_shares = || {
            let mut shared = self.shared.clone();
            shared.best(self.prepared, &priced.worth);
            shared.prices(self.prepared)
        };
        let mut prices = match other {
            None => of_shares(),
            Some(other) if is_far => other.clone(),
            Some(other) => {
                let once = Steps { most: 1, ..*steps };
                let mut prices = of_shares();
                if lower(&mut other.clone(), &once) < lower(&mut prices, &once) {
                    prices.clone_from(other);
                }
                prices
            }
        };
        priced.bound = priced.bound.min(lower(&mut prices, steps));
        priced.prices = Some(prices);
        priced.whole = means;
    }

    fn mixture(&self, program: &Program) -> (Vec<f64>, Vec<f64>) {
        let n_items = self.prepared.learners.iter().map(|learner| learner.items.len()).sum();
        let mut reaches = vec![0.0; self.prepared.learners.len()];
        let mut turns = vec![0.0; n_items];
        for (column, share) in program.simplex.taken() {
            match program.kinds[column] {
                Kind::Choice { learner, reaches: true } => reaches[learner] += share,
                Kind::Share(place) => {
                    for (sum, of_share) in turns.iter_mut().zip(&self.found[place].turns) {
                        *sum += share * f64::from(*of_share);
                    }
                }
                _ => {}
            }
        }
        (reaches, turns)
    }
}

/// The program of one branch. Rows: units of each learner, one choice of each learner, most and fewest who reach their
/// threshold, one mixture of share-outs.
struct Program {
    n: usize,
    simplex: Simplex,
    kinds: Vec<Kind>,
}

impl Program {
    fn new(n: usize, (fewest, most): (usize, usize)) -> Program {
        let mut right = vec![0.0; n];
        right.extend(vec![1.0; n]);
        right.extend([most as f64, fewest as f64, 1.0]);
        // Units may lie idle, and fewer than the most may reach; everything else must go.
        let first: Vec<LpColumn> = (0..right.len())
            .map(|row| {
                let gain = if row < n || row == 2 * n { 0.0 } else { -TOO_DEAR };
                LpColumn { gain, entries: vec![(row, 1.0)] }
            })
            .collect();
        let mut kinds = vec![Kind::Nothing; first.len()];
        let mut simplex = Simplex::new(&right, first);
        simplex.add(LpColumn { gain: 0.0, entries: vec![(2 * n + 1, -1.0)] });
        kinds.push(Kind::Nothing);
        Program { n, simplex, kinds }
    }

    fn share_column(&self, share: &ShareOut) -> LpColumn {
        let units = share.units.iter().enumerate().filter(|(_, units)| **units > 0.0);
        let mut entries: Vec<(usize, f64)> = units.map(|(l, units)| (l, -units)).collect();
        entries.push((2 * self.n + 2, 1.0));
        LpColumn { gain: share.kept, entries }
    }

    fn share(&mut self, place: usize, share: &ShareOut) {
        let column = self.share_column(share);
        self.simplex.add(column);
        self.kinds.push(Kind::Share(place));
    }

    /// Whether a share-out would bring something to the program as it was last solved.
    fn lacks(&self, share: &ShareOut) -> bool {
        self.simplex.pays(&self.share_column(share))
    }

    fn choice_column(&self, learner: usize, reaches: bool, choice: Choice) -> LpColumn {
        let mut entries = vec![(learner, f64::from(choice.units)), (self.n + learner, 1.0)];
        if reaches {
            entries.extend([(2 * self.n, 1.0), (2 * self.n + 1, 1.0)]);
        }
        LpColumn { gain: choice.chance, entries }
    }

    /// Takes columns until none is worth taking.
    fn solve(&mut self, limits: &Limits, curves: &[Curve]) {
        const MOST_STEPS: usize = 3_000;
        for _ in 0..MOST_STEPS {
            let mut best: Option<(f64, Kind, usize, Option<LpColumn>)> = None;
            let mut see = |gain: f64, kind: Kind, place: usize, column: Option<LpColumn>| {
                if gain > 1e-8 && best.as_ref().is_none_or(|(most, ..)| gain > *most) {
                    best = Some((gain, kind, place, column));
                }
            };
            for (place, kind) in self.kinds.iter().enumerate() {
                see(self.simplex.gain_of(self.simplex.column(place)), *kind, place, None);
            }
            for (l, curve) in curves.iter().enumerate() {
                let price = self.simplex.prices()[l];
                for reaches in [false, true] {
                    if limits.sides[l].is_none_or(|side| side == reaches)
                        && let Some(choice) = curve.best(reaches, price)
                    {
                        let column = self.choice_column(l, reaches, choice);
                        let kind = Kind::Choice { learner: l, reaches };
                        see(self.simplex.gain_of(&column), kind, self.kinds.len(), Some(column));
                    }
                }
            }
            let Some((_, kind, mut place, column)) = best else { return };
            if let Some(column) = column {
                place = self.simplex.add(column);
                self.kinds.push(kind);
            }
            if !self.simplex.enter(place) {
                return;
            }
        }
    }
}
