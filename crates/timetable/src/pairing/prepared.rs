use std::collections::BTreeSet;

use super::{PairingError, PairingProblem};

/// One shift of one learner.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Item {
    pub(crate) shift: usize,
    /// Place of the week among the learner's weeks.
    pub(crate) week: usize,
    /// Cost of being paired here: what the change costs, negative where the known plan has it.
    pub(crate) cost: f64,
}

/// A learner with what the search asks for again and again.
#[derive(Debug, Clone)]
pub(crate) struct Learner {
    /// By shift.
    pub(crate) items: Vec<Item>,
    pub(crate) n_weeks: usize,
    /// Whether the weekly limit can bind.
    pub(crate) week_binds: Vec<bool>,
    /// Units that part those who are to be done from those who are not: half of the chance at which a further unit
    /// brings less than the units before it did in the mean. Between the two nothing is gained by staying.
    pub(crate) threshold: usize,
}

/// A checked problem.
#[derive(Debug, Clone)]
pub(crate) struct Prepared<'a> {
    pub(crate) problem: &'a PairingProblem,
    pub(crate) learners: Vec<Learner>,
    /// Preceptors on each shift.
    pub(crate) on: Vec<Vec<usize>>,
    pub(crate) n_weeks: usize,
    /// What the known plan's pairings cost when none is kept.
    pub(crate) all_dropped: f64,
}

impl<'a> Prepared<'a> {
    pub(crate) fn new(problem: &'a PairingProblem) -> Result<Prepared<'a>, PairingError> {
        let n_shifts = problem.shifts.len();
        for (place, shift) in problem.shifts.iter().enumerate() {
            let (turns, units) = (shift.turns, shift.units_per_turn);
            if !(1..=8).contains(&turns) || !(1..=1_000_000).contains(&units) {
                return Err(PairingError::BadTurns { place, turns, units });
            }
        }
        let each_once = |who: &'static str, place: usize, shifts: &[usize]| {
            let mut seen = BTreeSet::new();
            match shifts.iter().find(|shift| **shift >= n_shifts || !seen.insert(**shift)) {
                Some(shift) => Err(PairingError::BadShift { who, place, shift: *shift, n_shifts }),
                None => Ok(()),
            }
        };
        let mut on = vec![Vec::new(); n_shifts];
        for (place, preceptor) in problem.preceptors.iter().enumerate() {
            each_once("preceptor", place, &preceptor.shifts)?;
            preceptor.shifts.iter().for_each(|shift| on[*shift].push(place));
        }
        let mut known = BTreeSet::new();
        let mut cost_per_change = 0.0;
        if let Some(plan) = &problem.known {
            cost_per_change = plan.cost_per_change;
            if !(cost_per_change.is_finite() && cost_per_change >= 0.0) {
                return Err(PairingError::BadCost { cost: cost_per_change });
            }
            for pairing in &plan.pairings {
                let (learner, shift) = (pairing.learner, pairing.shift);
                let works = problem.learners.get(learner).is_some_and(|one| one.shifts.contains(&shift));
                if !works || !known.insert((learner, shift)) {
                    let who = "known pairing of learner";
                    return Err(PairingError::BadShift { who, place: learner, shift, n_shifts });
                }
            }
        }
        let mut learners = Vec::with_capacity(problem.learners.len());
        for (place, learner) in problem.learners.iter().enumerate() {
            each_once("learner", place, &learner.shifts)?;
            let within = learner.done.iter().all(|chance| (0.0..=1.0).contains(chance));
            let n_chances = learner.done.len();
            if !within || !(1..=100_000).contains(&n_chances) || !learner.done.is_sorted() {
                return Err(PairingError::BadChances { place });
            }
            let mut shifts = learner.shifts.clone();
            shifts.sort_unstable();
            let mut weeks: Vec<usize> = shifts.iter().map(|shift| problem.shifts[*shift].week).collect();
            weeks.sort_unstable();
            weeks.dedup();
            let items: Vec<Item> = shifts
                .into_iter()
                .map(|shift| Item {
                    shift,
                    week: weeks.binary_search(&problem.shifts[shift].week).unwrap_or(0),
                    cost: if known.contains(&(place, shift)) { -cost_per_change } else { cost_per_change },
                })
                .collect();
            let week_binds = (0..weeks.len())
                .map(|week| {
                    items.iter().filter(|item| item.week == week).count() > learner.most_per_week as usize
                })
                .collect();
            learners.push(Learner {
                items,
                n_weeks: weeks.len(),
                week_binds,
                threshold: threshold(&learner.done),
            });
        }
        let n_weeks = problem.shifts.iter().map(|shift| shift.week + 1).max().unwrap_or(0);
        let all_dropped = 0.0 - cost_per_change * known.len() as f64;
        Ok(Prepared { problem, learners, on, n_weeks, all_dropped })
    }

    /// Chance of learner `l` with so many units.
    pub(crate) fn done(&self, l: usize, units: u32) -> f64 {
        let done = &self.problem.learners[l].done;
        done[(units as usize).min(done.len() - 1)]
    }

    pub(crate) fn most_units(&self, l: usize) -> usize {
        self.problem.learners[l].done.len() - 1
    }
}

fn threshold(done: &[f64]) -> usize {
    let gained = |units: usize| (done[units] - done[0]) / units as f64;
    let steepest = (1..done.len()).max_by(|a, b| gained(*a).total_cmp(&gained(*b)));
    let Some(steepest) = steepest else { return 1 };
    let half = (done[0] + done[steepest]) / 2.0;
    done.partition_point(|chance| *chance < half).max(1)
}
