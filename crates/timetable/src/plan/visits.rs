use std::collections::BTreeMap;

use jiff::ToSpan as _;
use jiff::civil::Date;
use practice::PersonId;
use stats::StatsError;
use stats::arrivals::chance_of_at_least_across;

use super::{PlanQuestion, PlannedPairing};
use crate::draws::Slot;
use crate::shift::Shift;

/// A follow-up check of somebody released, with the day it is due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckDue {
    /// Who is checked.
    pub person: PersonId,
    /// When it is due.
    pub on: Date,
    /// Why, in a sentence.
    pub why: String,
}

/// A visit of the trainer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedCheck {
    /// Whom the trainer watches.
    pub person: PersonId,
    /// Who watches; `None` when nobody who may is on any shift with them in the plan.
    pub trainer: Option<PersonId>,
    /// When; `None` with no trainer.
    pub shift: Option<Shift>,
    /// What for, in a sentence.
    pub why: String,
}

/// When the trainer comes by: the release look of each learner on the first watched shift on which it is as likely as
/// not that the draws before it are done, and follow-up checks from a week before they are due, the most pressing first.
///
/// The plan of pairings is made first and is not changed for the trainer's sake. Nobody is visited more often on one shift
/// than the unit's limit.
pub(super) fn visits(
    question: &PlanQuestion<'_>,
    pairings: &[PlannedPairing],
) -> Result<Vec<PlannedCheck>, StatsError> {
    let mut wanted: Vec<(Date, PersonId, Vec<Shift>, String)> = Vec::new();
    for learner in question.learners {
        let Some(look_after) = learner.look_after else { continue };
        let mut likely = Vec::new();
        let mut parts = Vec::new();
        for pairing in pairings.iter().filter(|pairing| pairing.learner == learner.person) {
            if chance_of_at_least_across(&parts, u64::from(look_after))?.get() >= 0.5 {
                likely.push(pairing.shift);
            }
            if let Some(rate) = question.rates.of(Slot::of(pairing.shift)) {
                let share = f64::from(pairing.turns) / f64::from(pairing.of_turns);
                parts.push((rate, question.offered.get() * share));
            }
        }
        let why = format!("the trainer's own look, after {look_after} more draws");
        let pressing = likely.first().map_or(learner.by, |shift| shift.on);
        wanted.push((pressing, learner.person.clone(), likely, why));
    }
    for check in question.checks {
        let from = check.on.saturating_sub(7.days()).max(question.from);
        let shifts = question.roster.shifts_of(&check.person, from, question.until);
        if check.on <= question.until {
            wanted.push((check.on, check.person.clone(), shifts, check.why.clone()));
        }
    }
    wanted.sort_by(|a, b| (a.0, &a.1).cmp(&(b.0, &b.1)));
    let mut n_visits: BTreeMap<(Shift, PersonId), u32> = BTreeMap::new();
    let mut checks = Vec::with_capacity(wanted.len());
    for (_, person, shifts, why) in wanted {
        let place = shifts.into_iter().find_map(|shift| {
            let trainer = question.trainers.iter().find(|trainer| {
                **trainer != person
                    && question.roster.works(trainer, shift)
                    && !question.is_absent(trainer, shift.on)
                    && !question.is_absent(&person, shift.on)
                    && n_visits
                        .get(&(shift, (*trainer).clone()))
                        .is_none_or(|n| *n < question.limits.visits_per_shift)
            })?;
            Some((shift, trainer.clone()))
        });
        if let Some((shift, trainer)) = &place {
            *n_visits.entry((*shift, trainer.clone())).or_default() += 1;
        }
        let (shift, trainer) = place.unzip();
        checks.push(PlannedCheck { person, trainer, shift, why });
    }
    checks.sort_by(|a, b| {
        (a.shift.is_none(), a.shift, &a.person).cmp(&(b.shift.is_none(), b.shift, &b.person))
    });
    Ok(checks)
}
