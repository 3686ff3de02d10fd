use super::prepared::Prepared;

/// Which preceptor stands ready on which shift: kept so that every pairing has somebody to watch it, and rearranged where
/// one more would fit.
#[derive(Debug, Clone)]
pub(crate) struct Watchers {
    /// `[preceptor][shift]`.
    watches: Vec<Vec<bool>>,
    in_week: Vec<Vec<u32>>,
    in_all: Vec<u32>,
    n_on: Vec<u32>,
}

impl Watchers {
    pub(crate) fn none(prepared: &Prepared<'_>) -> Watchers {
        let (n_preceptors, n_shifts) = (prepared.problem.preceptors.len(), prepared.on.len());
        Watchers {
            watches: vec![vec![false; n_shifts]; n_preceptors],
            in_week: vec![vec![0; prepared.n_weeks]; n_preceptors],
            in_all: vec![0; n_preceptors],
            n_on: vec![0; n_shifts],
        }
    }

    /// Finds one more preceptor for a shift, moving others where that helps. Nothing changes when there is none.
    pub(crate) fn place(&mut self, prepared: &Prepared<'_>, shift: usize) -> bool {
        if self.n_on[shift] as usize >= prepared.on[shift].len() {
            return false;
        }
        let mut tried = vec![false; self.watches.len() * prepared.n_weeks];
        let placed = self.reach(prepared, shift, &mut tried);
        if placed {
            self.n_on[shift] += 1;
        }
        placed
    }

    /// Takes one preceptor off a shift.
    pub(crate) fn take_off(&mut self, prepared: &Prepared<'_>, shift: usize) {
        let watching = prepared.on[shift].iter().copied().find(|p| self.watches[*p][shift]);
        if let Some(preceptor) = watching {
            self.set(prepared, preceptor, shift, false);
            self.n_on[shift] -= 1;
        }
    }

    fn set(&mut self, prepared: &Prepared<'_>, preceptor: usize, shift: usize, watches: bool) {
        let week = prepared.problem.shifts[shift].week;
        self.watches[preceptor][shift] = watches;
        let (in_week, in_all) = (&mut self.in_week[preceptor][week], &mut self.in_all[preceptor]);
        if watches {
            *in_week += 1;
            *in_all += 1;
        } else {
            *in_week -= 1;
            *in_all -= 1;
        }
    }

    /// A path of exchanges, as in a bipartite matching.
    fn reach(&mut self, prepared: &Prepared<'_>, shift: usize, tried: &mut [bool]) -> bool {
        let week = prepared.problem.shifts[shift].week;
        // Those with room first: most shifts need no exchange.
        for preceptor in &prepared.on[shift] {
            let limits = &prepared.problem.preceptors[*preceptor];
            if !self.watches[*preceptor][shift]
                && self.in_week[*preceptor][week] < limits.most_per_week
                && self.in_all[*preceptor] < limits.most_in_all
            {
                self.set(prepared, *preceptor, shift, true);
                return true;
            }
        }
        for preceptor in &prepared.on[shift] {
            let preceptor = *preceptor;
            let place = preceptor * prepared.n_weeks + week;
            if self.watches[preceptor][shift] || tried[place] {
                continue;
            }
            tried[place] = true;
            let limits = &prepared.problem.preceptors[preceptor];
            if limits.most_per_week == 0 || limits.most_in_all == 0 {
                continue;
            }
            let week_full = self.in_week[preceptor][week] >= limits.most_per_week;
            for other in &limits.shifts {
                let other = *other;
                let frees = self.watches[preceptor][other]
                    && (!week_full || prepared.problem.shifts[other].week == week);
                if frees {
                    // The other shift must find somebody else: this preceptor is as full as before.
                    self.set(prepared, preceptor, other, false);
                    self.set(prepared, preceptor, shift, true);
                    if self.reach(prepared, other, tried) {
                        return true;
                    }
                    self.set(prepared, preceptor, shift, false);
                    self.set(prepared, preceptor, other, true);
                }
            }
        }
        false
    }
}
