use std::collections::BTreeSet;
use std::fmt;

use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime};
use practice::{PersonId, day_in_words};

use super::PlanQuestion;
use crate::shift::Shift;

/// Something that a plan cannot work with, or has worked around.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanFault {
    /// Whose it is; `None` when it is the unit's.
    pub person: Option<PersonId>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub what_to_do: String,
}

impl PlanFault {
    pub(super) fn new(
        person: Option<&PersonId>,
        found: String,
        expected: &str,
        what_to_do: &str,
    ) -> PlanFault {
        let (expected, what_to_do) = (expected.to_owned(), what_to_do.to_owned());
        PlanFault { person: person.cloned(), found, expected, what_to_do }
    }
}

impl fmt::Display for PlanFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(person) = &self.person {
            write!(f, "{person}: ")?;
        }
        write!(f, "found {}; expected {}; what to do: {}", self.found, self.expected, self.what_to_do)
    }
}

/// What a roster lacks for a plan: overlapping duties of those planned, weeks in which nobody is on.
pub(super) fn roster_faults(question: &PlanQuestion<'_>) -> Vec<PlanFault> {
    let mut faults = Vec::new();
    let planned: BTreeSet<&PersonId> =
        question.learners.iter().map(|learner| &learner.person).chain(question.watchers).collect();
    let first = question.from.to_datetime(jiff::civil::Time::MIN);
    let last = question.until.saturating_add(1.day()).to_datetime(jiff::civil::Time::MAX);
    for person in planned {
        // Duties are in the order of their start.
        let own = question
            .roster
            .duties()
            .filter(|duty| duty.person == *person && duty.to > first && duty.from < last);
        let mut before: Option<&crate::Duty> = None;
        for duty in own {
            if let Some(other) = before.filter(|other| duty.from < other.to) {
                faults.push(PlanFault::new(
                    Some(person),
                    {
                        let at = |moment: DateTime| {
                            format!("{}, {}", moment.strftime("%H:%M"), day_in_words(moment.date()))
                        };
                        format!(
                            "work from {} to {} and again from {}",
                            at(other.from),
                            at(other.to),
                            at(duty.from)
                        )
                    },
                    "shifts of one person that do not overlap",
                    "correct the roster; both are planned as one person on each of the shifts",
                ));
            }
            if before.is_none_or(|other| other.to < duty.to) {
                before = Some(duty);
            }
        }
    }
    let weeks = question.from.series(7.days()).take_while(|week| *week <= question.until);
    for week in weeks {
        let end = week.saturating_add(6.days()).min(question.until);
        if !Shift::between(week, end, question.roster.times())
            .any(|shift| question.roster.on(shift).next().is_some())
        {
            faults.push(PlanFault::new(
                None,
                format!("nobody on the roster from {} to {}", day_in_words(week), day_in_words(end)),
                "a roster for every week of the plan",
                "add that week to the roster, or end the plan before it",
            ));
        }
    }
    faults
}

/// The last day a learner is planned for: their date, within the plan.
pub(super) fn last_day(question: &PlanQuestion<'_>, by: Date) -> Date {
    if by < question.from { question.until } else { by.min(question.until) }
}

/// What stands in the way of each learner before any plan is made.
pub(super) fn learner_faults(question: &PlanQuestion<'_>, has_watched_shift: &[bool]) -> Vec<PlanFault> {
    let mut faults = Vec::new();
    for (learner, has_watched_shift) in question.learners.iter().zip(has_watched_shift) {
        let person = Some(&learner.person);
        if learner.by < question.from {
            faults.push(PlanFault::new(
                person,
                format!("needed by {}, which is past", day_in_words(learner.by)),
                "a date from the first day of the plan on",
                "give them a new date on the timetable; until then they are planned to the last day of the plan",
            ));
        }
        if learner.met_after.iter().all(|met| *met <= 0.0) {
            faults.push(PlanFault::new(
                person,
                format!("a release rule that {} further draws do not meet", learner.met_after.len() - 1),
                "a rule that can be met",
                "look at the rule with `wardwright release-rule`: it asks for more draws than anybody can have",
            ));
        }
        let until = last_day(question, learner.by);
        let n_shifts = question.roster.shifts_of(&learner.person, question.from, until).len();
        if n_shifts == 0 {
            faults.push(PlanFault::new(
                person,
                format!("no shift from {} to {}", day_in_words(question.from), day_in_words(until)),
                "shifts on the roster",
                "add their shifts to the roster, or give them a later date",
            ));
        } else if !has_watched_shift {
            faults.push(PlanFault::new(
                person,
                format!(
                    "{n_shifts} shifts up to {}, none of them with anybody who may watch",
                    day_in_words(until)
                ),
                "a shift together with a preceptor or trainer",
                "roster them with a preceptor, or release a preceptor for the shifts they work",
            ));
        }
    }
    faults
}
