use std::collections::BTreeMap;

use jiff::civil::Date;
use stats::arrivals::GammaRate;
use stats::{Probability, StatsError};

use super::chances::outcome_chance;
use super::{LearnerPlan, LearnerToPlan, PlanQuestion, PlannedPairing, faults};
use crate::draws::{DrawRates, Slot};
use crate::shift::ShiftKind;

/// What the pairings give one learner: exact chances, with what is not known of the rates.
pub(super) fn learner_plan(
    question: &PlanQuestion<'_>,
    learner: &LearnerToPlan,
    pairings: &[PlannedPairing],
) -> Result<LearnerPlan, StatsError> {
    let by = faults::last_day(question, learner.by);
    let own: Vec<&PlannedPairing> =
        pairings.iter().filter(|pairing| pairing.learner == learner.person).collect();
    let within = |day: Date| -> Vec<&PlannedPairing> {
        own.iter().filter(|pairing| pairing.shift.on <= day).copied().collect()
    };
    let chance = |day: Date| chance_of(question, learner, &within(day));
    let days: Vec<Date> = {
        let mut days: Vec<Date> = own.iter().map(|pairing| pairing.shift.on).collect();
        days.dedup();
        days
    };
    // The chance only rises from pairing to pairing.
    let first_day = |wanted: f64| -> Result<Option<Date>, StatsError> {
        if learner.met_after.first().is_some_and(|met| *met >= wanted) {
            return Ok(Some(question.from));
        }
        let (mut low, mut high) = (0, days.len());
        while low < high {
            let middle = low + (high - low) / 2;
            if chance(days[middle])?.get() >= wanted {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        Ok(days.get(low).copied())
    };
    let counted = within(by);
    Ok(LearnerPlan {
        person: learner.person.clone(),
        by: learner.by,
        n_shifts: question.roster.shifts_of(&learner.person, question.from, by).len(),
        n_watched: counted.len(),
        mean_draws: counted.iter().fold(0.0, |sum, pairing| sum + pairing.draws),
        done_by_date: chance(by)?,
        date_50: first_day(0.5)?,
        date_90: first_day(0.9)?,
    })
}

pub(super) fn chance_of(
    question: &PlanQuestion<'_>,
    learner: &LearnerToPlan,
    pairings: &[&PlannedPairing],
) -> Result<Probability, StatsError> {
    outcome_chance(&learner.met_after, &parts(question.rates, question.offered, pairings))
}

/// Rates with their exposures in shifts; one part for each rate, for one rate's counts are not independent.
fn parts(rates: &DrawRates, offered: Probability, pairings: &[&PlannedPairing]) -> Vec<(GammaRate, f64)> {
    let mut exposures: BTreeMap<(i8, ShiftKind), (GammaRate, f64)> = BTreeMap::new();
    for pairing in pairings {
        let slot = Slot::of(pairing.shift);
        let Some(rate) = rates.of(slot) else { continue };
        let key = if rates.is_alike() { (0, ShiftKind::DAY) } else { slot.place() };
        let share = f64::from(pairing.turns) / f64::from(pairing.of_turns);
        exposures.entry(key).or_insert((rate, 0.0)).1 += offered.get() * share;
    }
    exposures.into_values().collect()
}
