use super::dates::learner_plan;
use super::visits::visits;
use super::{LearnerPlan, PlanError, PlanQuestion, PlannedCheck, PlannedPairing};
use crate::draws::Slot;

/// What a plan made earlier still gives, seen from today.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanAsItStands {
    /// What its pairings from the first day on give each learner.
    pub learners: Vec<LearnerPlan>,
    /// Pairings that can still be.
    pub pairings: Vec<PlannedPairing>,
    /// Pairings from the first day on that cannot be any more: a person is away or off, learns no more, or may not watch.
    pub broken: Vec<PlannedPairing>,
    /// When the trainer comes by.
    pub checks: Vec<PlannedCheck>,
}

/// A plan made earlier, held against today's roster, absences, standings and rates. Nothing is planned anew, so it takes
/// no time to speak of.
pub fn plan_as_it_stands(
    question: &PlanQuestion<'_>,
    pairings: &[PlannedPairing],
) -> Result<PlanAsItStands, PlanError> {
    let is_on = |person: &practice::PersonId, one: &PlannedPairing| {
        question.roster.works(person, one.shift) && !question.is_absent(person, one.shift.on)
    };
    let can_be = |one: &PlannedPairing| {
        question.learners.iter().any(|learner| learner.person == one.learner)
            && question.watchers.contains(&one.preceptor)
            && is_on(&one.learner, one)
            && is_on(&one.preceptor, one)
    };
    let (mut still, broken): (Vec<_>, Vec<_>) = pairings
        .iter()
        .filter(|one| (question.from..=question.until).contains(&one.shift.on))
        .cloned()
        .partition(can_be);
    for one in &mut still {
        let mean = question.rates.of(Slot::of(one.shift)).map_or(0.0, |rate| rate.mean());
        let share = f64::from(one.turns) / f64::from(one.of_turns.max(1));
        one.draws = mean * question.offered.get() * share;
    }
    let learners = question
        .learners
        .iter()
        .map(|learner| learner_plan(question, learner, &still))
        .collect::<Result<Vec<_>, _>>()?;
    let checks = visits(question, &still)?;
    Ok(PlanAsItStands { learners, pairings: still, broken, checks })
}
