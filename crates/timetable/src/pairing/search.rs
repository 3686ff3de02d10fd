//! Good plans by trying changes: the bound says how good they are.

use super::prepared::Prepared;
use super::watchers::Watchers;

/// A plan under way. It always keeps every limit.
#[derive(Debug, Clone)]
pub(crate) struct State {
    /// Turns by learner and place of the item.
    pub(crate) turns: Vec<Vec<u8>>,
    pub(crate) units: Vec<u32>,
    n_pairs: Vec<u32>,
    in_week: Vec<Vec<u32>>,
    turns_left: Vec<u8>,
    watchers: Watchers,
    cost: f64,
}

/// Numbers that look like chance, the same on every machine (xorshift, Marsaglia 2003).
#[derive(Debug, Clone)]
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Dice {
        // A state of 0 would stay 0.
        Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// From 0 up to but not including `n`; 0 for 0.
    fn below(&mut self, n: usize) -> usize {
        ((self.next() >> 11) as usize) % n.max(1)
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// One step that can be taken back.
#[derive(Debug, Clone, Copy)]
struct Step {
    learner: usize,
    item: usize,
    added: bool,
}

impl State {
    /// The plan with just these pairings, one turn each.
    pub(crate) fn of(prepared: &Prepared<'_>, pairings: &[(usize, usize)]) -> State {
        let mut state = State {
            turns: prepared.learners.iter().map(|learner| vec![0; learner.items.len()]).collect(),
            units: vec![0; prepared.learners.len()],
            n_pairs: vec![0; prepared.learners.len()],
            in_week: prepared.learners.iter().map(|learner| vec![0; learner.n_weeks]).collect(),
            turns_left: prepared.problem.shifts.iter().map(|shift| shift.turns).collect(),
            watchers: Watchers::none(prepared),
            // A plan that keeps nothing has dropped everything known.
            cost: -prepared.all_dropped,
        };
        state.take_pairings(prepared, pairings);
        state
    }

    /// Adds what fits of these pairings (learner and shift), one turn each.
    pub(crate) fn take_pairings(&mut self, prepared: &Prepared<'_>, pairings: &[(usize, usize)]) {
        for (l, shift) in pairings {
            if let Some(item) = item_of(prepared, *l, *shift)
                && self.turns[*l][item] == 0
            {
                self.add(prepared, *l, item);
            }
        }
    }

    pub(crate) fn value(&self, prepared: &Prepared<'_>) -> f64 {
        let done: f64 = self.units.iter().enumerate().map(|(l, units)| prepared.done(l, *units)).sum();
        done - self.cost
    }

    /// Takes out the pairings that bring nothing: nobody is to be watched for nothing.
    pub(crate) fn trim(&mut self, prepared: &Prepared<'_>) {
        for l in 0..self.turns.len() {
            for item in 0..self.turns[l].len() {
                let turns = self.turns[l][item];
                if turns == 0 || self.n_pairs[l] <= prepared.problem.learners[l].least_pairings {
                    continue;
                }
                let before = self.value(prepared);
                (0..turns).for_each(|_| self.remove(prepared, l, item));
                if self.value(prepared) < before - 1e-12 {
                    (0..turns).for_each(|_| {
                        self.add(prepared, l, item);
                    });
                }
            }
        }
    }

    /// Learner, shift and turns of each pairing.
    pub(crate) fn pairings(&self, prepared: &Prepared<'_>) -> Vec<(usize, usize, u8)> {
        let mut pairings = Vec::new();
        for (l, turns) in self.turns.iter().enumerate() {
            for (item, turns) in prepared.learners[l].items.iter().zip(turns) {
                if *turns > 0 {
                    pairings.push((l, item.shift, *turns));
                }
            }
        }
        pairings
    }

    /// Adds what fits of a mixture of turns (in the order of the items, learner after learner), the surest first.
    pub(crate) fn take_in(&mut self, prepared: &Prepared<'_>, turns: &[f64]) {
        let items = prepared
            .learners
            .iter()
            .enumerate()
            .flat_map(|(l, learner)| (0..learner.items.len()).map(move |item| (l, item)));
        let mut wanted: Vec<((usize, usize), f64)> =
            items.zip(turns.iter().copied()).filter(|(_, turns)| *turns > 0.25).collect();
        wanted.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        for ((l, item), turns) in wanted {
            while f64::from(self.turns[l][item]) < libm::round(turns).max(1.0) && self.add(prepared, l, item)
            {
            }
        }
    }

    /// One more turn of a shift for a learner, where every limit allows it.
    fn add(&mut self, prepared: &Prepared<'_>, l: usize, item: usize) -> bool {
        let at = prepared.learners[l].items[item];
        if self.turns_left[at.shift] == 0 {
            return false;
        }
        if self.turns[l][item] == 0 {
            if self.in_week[l][at.week] >= prepared.problem.learners[l].most_per_week
                || !self.watchers.place(prepared, at.shift)
            {
                return false;
            }
            self.in_week[l][at.week] += 1;
            self.n_pairs[l] += 1;
            self.cost += at.cost;
        }
        self.turns_left[at.shift] -= 1;
        self.turns[l][item] += 1;
        self.units[l] += prepared.problem.shifts[at.shift].units_per_turn;
        true
    }

    /// One turn less, whatever the fewest pairings say: the move as a whole is looked at afterwards.
    fn remove(&mut self, prepared: &Prepared<'_>, l: usize, item: usize) {
        let at = prepared.learners[l].items[item];
        self.turns[l][item] -= 1;
        self.turns_left[at.shift] += 1;
        self.units[l] -= prepared.problem.shifts[at.shift].units_per_turn;
        if self.turns[l][item] == 0 {
            self.watchers.take_off(prepared, at.shift);
            self.in_week[l][at.week] -= 1;
            self.n_pairs[l] -= 1;
            self.cost -= at.cost;
        }
    }

    fn undo(&mut self, prepared: &Prepared<'_>, steps: &[Step]) {
        for step in steps.iter().rev() {
            if step.added {
                self.remove(prepared, step.learner, step.item);
            } else {
                // It was there before, so it fits again.
                self.add(prepared, step.learner, step.item);
            }
        }
    }
}

fn item_of(prepared: &Prepared<'_>, l: usize, shift: usize) -> Option<usize> {
    prepared.learners[l].items.binary_search_by_key(&shift, |item| item.shift).ok()
}

/// Anneals: tries changes, keeps the good ones and, less and less often, bad ones; gives the best plan seen.
pub(crate) fn anneal(prepared: &Prepared<'_>, start: State, moves: u32, warm: f64, dice: &mut Dice) -> State {
    let mut search = Search { prepared, state: start, steps: Vec::new(), touched: Vec::new() };
    let mut value = search.state.value(prepared);
    let mut best = (value, search.state.clone());
    let n_learners = prepared.learners.len();
    if n_learners == 0 || prepared.learners.iter().all(|learner| learner.items.is_empty()) {
        return best.1;
    }
    // What the units of the best plan were is cloned only when it is left for a worse one.
    let mut is_best = true;
    let mut heat = warm;
    for step in 0..moves {
        if step % 64 == 0 {
            heat = warm * libm::pow(0.002, f64::from(step) / f64::from(moves));
        }
        search.steps.clear();
        search.touched.clear();
        let cost_before = search.state.cost;
        search.try_move(dice);
        if search.steps.is_empty() {
            continue;
        }
        let too_few = search
            .touched
            .iter()
            .any(|(l, _)| search.state.n_pairs[*l] < prepared.problem.learners[*l].least_pairings);
        let mut change = cost_before - search.state.cost;
        for (l, before) in &search.touched {
            change += prepared.done(*l, search.state.units[*l]) - prepared.done(*l, *before);
        }
        let keep = !too_few && (change >= 0.0 || dice.share() < libm::exp(change / heat.max(1e-12)));
        if !keep {
            let steps = std::mem::take(&mut search.steps);
            search.state.undo(prepared, &steps);
            search.steps = steps;
            continue;
        }
        if change < 0.0 && is_best {
            // The plan before this move was the best seen: keep it.
            let steps = std::mem::take(&mut search.steps);
            let mut before = search.state.clone();
            before.undo(prepared, &steps);
            best = (value, before);
            search.steps = steps;
            is_best = false;
        }
        value += change;
        is_best = is_best || value > best.0 + 1e-12;
    }
    if is_best { search.state } else { best.1 }
}

struct Search<'a, 'b> {
    prepared: &'a Prepared<'b>,
    state: State,
    steps: Vec<Step>,
    /// Learners whose units changed, with the units before.
    touched: Vec<(usize, u32)>,
}

impl Search<'_, '_> {
    fn touch(&mut self, l: usize) {
        if !self.touched.iter().any(|(other, _)| *other == l) {
            self.touched.push((l, self.state.units[l]));
        }
    }

    fn add(&mut self, learner: usize, item: usize) -> bool {
        self.touch(learner);
        let added = self.state.add(self.prepared, learner, item);
        if added {
            self.steps.push(Step { learner, item, added });
        }
        added
    }

    fn remove(&mut self, learner: usize, item: usize) {
        self.touch(learner);
        self.state.remove(self.prepared, learner, item);
        self.steps.push(Step { learner, item, added: false });
    }

    /// Takes back the steps after the first so many.
    fn take_back(&mut self, mark: usize) {
        let steps = self.steps.split_off(mark);
        self.state.undo(self.prepared, &steps);
    }

    fn try_move(&mut self, dice: &mut Dice) {
        let l = dice.below(self.prepared.learners.len());
        let n_items = self.prepared.learners[l].items.len();
        if n_items == 0 {
            return;
        }
        let item = dice.below(n_items);
        match dice.below(32) {
            0 => self.take_over(l, dice),
            1 | 2 => self.drop(l, item),
            3..=6 => self.elsewhere(l, item, dice),
            7..=18 => self.exchange(l, item, dice),
            _ => self.gain(l, item, dice),
        }
    }

    /// One more turn for a learner, at the expense of another where the shift or its watchers are full.
    fn gain(&mut self, l: usize, item: usize, dice: &mut Dice) {
        if self.add(l, item) {
            return;
        }
        let mark = self.steps.len();
        let at = self.prepared.learners[l].items[item];
        if self.state.turns[l][item] >= self.prepared.problem.shifts[at.shift].turns {
            return;
        }
        // From somebody on the same shift, or else from somebody in the same week whose watcher may come over.
        let n_learners = self.prepared.learners.len();
        let first = dice.below(n_learners);
        for other in (0..n_learners).map(|step| (first + step) % n_learners).filter(|other| *other != l) {
            let Some(theirs) = item_of(self.prepared, other, at.shift) else { continue };
            let turns = self.state.turns[other][theirs];
            if turns == 0 {
                continue;
            }
            let all = dice.below(2) == 0;
            for _ in 0..if all { turns } else { 1 } {
                self.remove(other, theirs);
            }
            let mut gained = false;
            while self.state.turns_left[at.shift] > 0 && self.add(l, item) {
                gained = true;
            }
            if gained {
                return;
            }
            self.take_back(mark);
        }
        let week = self.prepared.problem.shifts[at.shift].week;
        let other = dice.below(n_learners);
        let theirs: Vec<usize> = (0..self.prepared.learners[other].items.len())
            .filter(|place| self.state.turns[other][*place] > 0)
            .filter(|place| {
                self.prepared.problem.shifts[self.prepared.learners[other].items[*place].shift].week == week
            })
            .collect();
        if theirs.is_empty() {
            return;
        }
        let place = theirs[dice.below(theirs.len())];
        for _ in 0..self.state.turns[other][place] {
            self.remove(other, place);
        }
        if !self.add(l, item) {
            self.take_back(mark);
            return;
        }
        while self.state.turns_left[at.shift] > 0 && self.add(l, item) {}
    }

    /// A turn for a learner, and then one elsewhere for whoever lost by it: neither alone would be worth much.
    fn exchange(&mut self, l: usize, item: usize, dice: &mut Dice) {
        self.gain(l, item, dice);
        let lost = self.steps.iter().find(|step| !step.added).map(|step| step.learner);
        let Some(other) = lost.filter(|other| *other != l) else { return };
        let n_items = self.prepared.learners[other].items.len();
        self.gain(other, dice.below(n_items), dice);
    }

    fn drop(&mut self, l: usize, item: usize) {
        for _ in 0..self.state.turns[l][item] {
            self.remove(l, item);
        }
    }

    /// A pairing moves to another shift of the same learner.
    fn elsewhere(&mut self, l: usize, item: usize, dice: &mut Dice) {
        let turns = self.state.turns[l][item];
        let other = dice.below(self.prepared.learners[l].items.len());
        if turns == 0 || other == item {
            return;
        }
        self.drop(l, item);
        if !self.add(l, other) {
            self.take_back(0);
            return;
        }
        for _ in 1..turns {
            if !self.add(l, other) {
                break;
            }
        }
    }

    /// Everything one learner shares with another goes to the first: one of them done is worth more than two halves.
    fn take_over(&mut self, l: usize, dice: &mut Dice) {
        let other = dice.below(self.prepared.learners.len());
        if other == l {
            return;
        }
        for theirs in 0..self.prepared.learners[other].items.len() {
            let shift = self.prepared.learners[other].items[theirs].shift;
            let turns = self.state.turns[other][theirs];
            let Some(item) = item_of(self.prepared, l, shift) else { continue };
            if turns == 0 || self.state.units[l] as usize >= self.prepared.most_units(l) {
                continue;
            }
            let least = self.prepared.problem.learners[other].least_pairings;
            if self.state.n_pairs[other] <= least {
                break;
            }
            for _ in 0..turns {
                self.remove(other, theirs);
            }
            for _ in 0..turns {
                if !self.add(l, item) {
                    break;
                }
            }
        }
    }
}
