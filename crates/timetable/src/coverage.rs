use std::collections::BTreeMap;

use breakdown::JobCode;
use jiff::civil::Date;
use practice::{Level, PersonId, Standing};

use crate::roster::Roster;
use crate::shift::Shift;

/// Who of those on a shift may do what in one job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShiftCoverage {
    /// The shift.
    pub shift: Shift,
    /// Everybody on duty.
    pub n_on_duty: usize,
    /// Those who may draw without anybody watching, on at least their own patients.
    pub may_draw_alone: Vec<PersonId>,
    /// Those who may watch a learner, trainers apart: a trainer on duty may always watch.
    pub may_watch: Vec<PersonId>,
    /// Those still learning.
    pub learning: Vec<PersonId>,
}

impl ShiftCoverage {
    /// Nobody on this shift may draw alone.
    pub fn is_bare(&self) -> bool {
        self.may_draw_alone.is_empty()
    }

    /// Somebody on this shift is learning, and nobody is there who may watch.
    pub fn has_unwatched_learner(&self) -> bool {
        !self.learning.is_empty() && self.may_watch.is_empty()
    }
}

/// Coverage of every shift that begins on a day from `from` to `to`, both included, by the standings given. `trainers`
/// may watch whatever their own standing is.
pub fn coverage(
    roster: &Roster,
    standings: &[Standing],
    trainers: &[PersonId],
    job: &JobCode,
    from: Date,
    to: Date,
) -> Vec<ShiftCoverage> {
    let level: BTreeMap<&PersonId, Level> = standings
        .iter()
        .filter(|standing| standing.job == *job)
        .map(|standing| (&standing.person, standing.level))
        .collect();
    Shift::between(from, to, roster.times())
        .map(|shift| {
            let on: Vec<&PersonId> = roster.on(shift).collect();
            let those = |wanted: &dyn Fn(&PersonId) -> bool| {
                on.iter().filter(|person| wanted(person)).map(|person| (*person).clone()).collect()
            };
            let level_is =
                |person: &PersonId, wanted: fn(Level) -> bool| level.get(person).copied().is_some_and(wanted);
            ShiftCoverage {
                shift,
                n_on_duty: on.len(),
                may_draw_alone: those(&|person| level_is(person, Level::may_draw_alone)),
                may_watch: those(&|person| {
                    trainers.contains(person) || level_is(person, |level| level == Level::MayPrecept)
                }),
                learning: those(&|person| level_is(person, Level::is_learning)),
            }
        })
        .collect()
}
