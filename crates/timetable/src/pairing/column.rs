use super::prepared::{Item, Learner, Prepared};

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
    /// By number of items looked at, then units: the best of what is given up for them, below 0.
    rows: Vec<f64>,
}

/// What one item costs: being paired, and each turn.
#[derive(Debug, Clone, Copy)]
struct Pay {
    units: usize,
    paired: f64,
    turn: f64,
    most_turns: u8,
}

impl Pay {
    fn of(prepared: &Prepared<'_>, l: usize, item: &Item, prices: &Prices) -> Pay {
        let shift = &prepared.problem.shifts[item.shift];
        let paired = prices.watch[item.shift] + item.cost - prices.least[l] + prices.week[l][item.week];
        Pay {
            units: shift.units_per_turn as usize,
            paired,
            turn: prices.turn[item.shift],
            most_turns: shift.turns,
        }
    }

    fn turns(&self, turns: u8) -> f64 {
        self.paired + f64::from(turns) * self.turn
    }
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
        // What stood in the rows is written over, each when its turn comes.
        let n_values = n * (learner.items.len() + 1);
        if self.rows.len() < n_values {
            self.rows.resize(n_values, f64::NEG_INFINITY);
        }
        self.rows[..n].fill(f64::NEG_INFINITY);
        self.rows[0] = 0.0;
        // Units beyond this are not reached yet.
        let mut reached = 0usize;
        for (place, item) in learner.items.iter().enumerate() {
            let pay = Pay::of(prepared, l, item, prices);
            let (before, after) = self.rows[place * n..].split_at_mut(n);
            let (before, after) = (&before[..=reached.min(most)], &mut after[..n]);
            after[..before.len()].copy_from_slice(before);
            after[before.len()..].fill(f64::NEG_INFINITY);
            for turns in 1..=pay.most_turns {
                let (units, paid) = (usize::from(turns) * pay.units, pay.turns(turns));
                if units <= most {
                    for (from, to) in before.iter().zip(&mut after[units..]) {
                        let value = from - paid;
                        *to = if value > *to { value } else { *to };
                    }
                }
                if may_pass {
                    for from in before.iter().skip((most + 1).saturating_sub(units)) {
                        let value = from - paid;
                        after[most] = if value > after[most] { value } else { after[most] };
                    }
                }
            }
            reached += usize::from(pay.most_turns) * pay.units;
        }
        let threshold = learner.threshold;
        let low = range.low as usize;
        let best = |table: &Table, low: usize, high: usize| {
            let units = table.best_of(prepared, l, low, high, n)?;
            let value = table.rows[learner.items.len() * n + units] + prepared.done(l, units as u32);
            let turns = table.walk_back(prepared, l, prices, n, units);
            Some(Column { value, units: units as u32, turns })
        };
        let below = best(self, low, threshold.min(n));
        let from = best(self, threshold.max(low), n);
        Columns { below, from }
    }

    /// The best of the places from `low` up to but not including `high`.
    fn best_of(&self, prepared: &Prepared<'_>, l: usize, low: usize, high: usize, n: usize) -> Option<usize> {
        let done = &prepared.problem.learners[l].done;
        let last = &self.rows[prepared.learners[l].items.len() * n..];
        let (mut value, mut units) = (f64::NEG_INFINITY, None);
        for (at, chance) in done.iter().enumerate().take(high).skip(low) {
            if last[at] + chance > value {
                (value, units) = (last[at] + chance, Some(at));
            }
        }
        units
    }

    fn walk_back(
        &self,
        prepared: &Prepared<'_>,
        l: usize,
        prices: &Prices,
        n: usize,
        units: usize,
    ) -> Vec<u8> {
        let items = &prepared.learners[l].items;
        let mut turns = vec![0; items.len()];
        let mut at = units;
        for (place, item) in items.iter().enumerate().rev() {
            let (before, after) = (&self.rows[place * n..(place + 1) * n], &self.rows[(place + 1) * n..]);
            if before[at] >= after[at] {
                continue;
            }
            let pay = Pay::of(prepared, l, item, prices);
            let came = (1..=pay.most_turns).find_map(|turns| {
                let (units, paid) = (usize::from(turns) * pay.units, pay.turns(turns));
                let first = at.checked_sub(units);
                let last = if at == n - 1 { at } else { first? };
                (first.unwrap_or(0)..=last)
                    .find(|from| before[*from] - paid >= after[at])
                    .map(|from| (turns, from))
            });
            if let Some((chosen, from)) = came {
                turns[place] = chosen;
                at = from;
            }
        }
        turns
    }
}
