use super::prepared::{Learner, Prepared};

/// Prices on what learners share. All are 0 or more.
#[derive(Debug, Clone)]
pub(crate) struct Prices {
    /// Of being watched, by shift.
    pub(crate) watch: Vec<f64>,
    /// Of one turn, by shift.
    pub(crate) turn: Vec<f64>,
    /// What a learner short of the fewest pairings is paid for one.
    pub(crate) least: Vec<f64>,
    /// Of one pairing in a week, by learner and week.
    pub(crate) week: Vec<Vec<f64>>,
}

/// Range of units that a learner's chance may be read at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Range {
    pub(crate) low: u32,
    pub(crate) high: u32,
}

/// The best shifts of one learner at the prices.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    /// Chance less prices and costs.
    pub(crate) value: f64,
    pub(crate) units: u32,
    /// Turns by place of the learner's items; 0 for none.
    pub(crate) turns: Vec<u8>,
}

/// The best a learner can do below and from their threshold; `None` where the range does not reach there.
#[derive(Debug, Clone)]
pub(crate) struct Columns {
    pub(crate) below: Option<Column>,
    pub(crate) from: Option<Column>,
}

/// Room for one learner's table, kept between rounds.
#[derive(Debug, Default)]
pub(crate) struct Table {
    best: Vec<f64>,
    next: Vec<f64>,
    choice: Vec<u8>,
    /// Where the last place was reached from, by item: units beyond it are cut off there.
    last_from: Vec<usize>,
}

impl Table {
    /// Best choices of turns for learner `l` with the units within `range`.
    ///
    /// A table over units: exact, for the chance is any function of the units. Units beyond the last place count as it.
    pub(crate) fn columns(
        &mut self,
        prepared: &Prepared<'_>,
        l: usize,
        prices: &Prices,
        range: Range,
    ) -> Columns {
        let learner: &Learner = &prepared.learners[l];
        let most = prepared.most_units(l).min(range.high as usize);
        let may_pass = most == prepared.most_units(l);
        let n = most + 1;
        self.best.clear();
        self.best.resize(n, f64::NEG_INFINITY);
        self.best[0] = 0.0;
        self.choice.clear();
        self.choice.resize(n * learner.items.len(), 0);
        self.last_from.clear();
        self.last_from.resize(learner.items.len(), most);
        let mut reached = 0usize;
        for (place, item) in learner.items.iter().enumerate() {
            let shift = &prepared.problem.shifts[item.shift];
            let fixed = prices.watch[item.shift] + item.cost - prices.least[l] + prices.week[l][item.week];
            let choice = &mut self.choice[place * n..(place + 1) * n];
            self.next.clear();
            self.next.extend_from_slice(&self.best);
            for turns in 1..=shift.turns {
                let units = usize::from(turns) * shift.units_per_turn as usize;
                let pay = fixed + f64::from(turns) * prices.turn[item.shift];
                // Units that stay within the table.
                let last = reached.min(most);
                if units <= most {
                    let within = last.min(most - units);
                    let (from, to) = (&self.best[..=within], &mut self.next[units..=units + within]);
                    for ((from, to), choice) in from.iter().zip(to).zip(&mut choice[units..]) {
                        let value = from - pay;
                        if value > *to {
                            *to = value;
                            *choice = turns;
                        }
                    }
                    if choice[most] == turns {
                        self.last_from[place] = most - units;
                    }
                }
                if may_pass {
                    for from in (most + 1).saturating_sub(units)..=last {
                        let value = self.best[from] - pay;
                        if value > self.next[most] {
                            self.next[most] = value;
                            choice[most] = turns;
                            self.last_from[place] = from;
                        }
                    }
                }
            }
            std::mem::swap(&mut self.best, &mut self.next);
            reached += usize::from(shift.turns) * shift.units_per_turn as usize;
        }
        let threshold = learner.threshold;
        let below = self.best_of(prepared, l, range.low as usize, threshold.min(n), n);
        let from = self.best_of(prepared, l, threshold.max(range.low as usize), n, n);
        Columns { below, from }
    }

    /// The best of the places from `low` up to but not including `high`.
    fn best_of(
        &self,
        prepared: &Prepared<'_>,
        l: usize,
        low: usize,
        high: usize,
        n: usize,
    ) -> Option<Column> {
        let done = &prepared.problem.learners[l].done;
        let (mut value, mut units) = (f64::NEG_INFINITY, None);
        for (at, chance) in done.iter().enumerate().take(high).skip(low) {
            if self.best[at] + chance > value {
                (value, units) = (self.best[at] + chance, Some(at));
            }
        }
        let units = units?;
        let turns = self.walk_back(prepared, &prepared.learners[l], n, units);
        Some(Column { value, units: units as u32, turns })
    }

    fn walk_back(&self, prepared: &Prepared<'_>, learner: &Learner, n: usize, units: usize) -> Vec<u8> {
        let mut turns = vec![0; learner.items.len()];
        let mut at = units;
        for (place, item) in learner.items.iter().enumerate().rev() {
            let chosen = self.choice[place * n + at];
            turns[place] = chosen;
            let step = usize::from(chosen) * prepared.problem.shifts[item.shift].units_per_turn as usize;
            if chosen > 0 && at == n - 1 {
                at = self.last_from[place];
            } else {
                at -= step;
            }
        }
        turns
    }
}
