use jiff::civil::{Date, date};
use practice::Scope;

use super::jobs::Job;
use crate::calendar::days_after;
use crate::people::{End, Member, Plan};

/// From here on nothing is done that would put a further decision on a trainer's desk.
pub(crate) const LAST_WEEKS: Date = date(2026, 10, 19);

/// Where a person stands in one job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stage {
    /// Not on the timetable: staff of before the training draw as they always did.
    Before,
    /// On the timetable or learning.
    Learning,
    /// Released.
    Released(Scope),
    /// Back from leave with a release that no longer holds.
    Lapsed,
}

/// One person's progress in one job, as the story keeps it.
#[derive(Debug, Clone)]
pub(crate) struct Progress {
    pub(crate) plan: Option<Plan>,
    pub(crate) stage: Stage,
    /// The teach-back is complete.
    pub(crate) ready: bool,
    /// Draws that count, each with whether its safety points were all done without a prompt.
    pub(crate) counted: Vec<bool>,
    /// Every draw somebody watched, from the first.
    pub(crate) watched: usize,
    /// Day of the last of them and how many fell on it.
    pub(crate) watched_on: Option<(Date, u8)>,
    /// The trainer's own look was clean.
    pub(crate) checked: bool,
    /// Release is on the trainer's desk.
    pub(crate) on_desk: bool,
    /// Follow-up checks done since release.
    pub(crate) follow_ups: usize,
    pub(crate) follow_up_start: Option<Date>,
    pub(crate) next_check: Option<Date>,
    /// Day of the last clean check on own patients.
    pub(crate) cleared: Option<Date>,
    pub(crate) last_draw: Option<Date>,
    pub(crate) second_version: bool,
    pub(crate) taken_over: usize,
}

impl Progress {
    pub(crate) fn new(plan: Option<Plan>) -> Progress {
        Progress {
            plan,
            stage: Stage::Before,
            ready: false,
            counted: Vec::new(),
            watched: 0,
            watched_on: None,
            checked: false,
            on_desk: false,
            follow_ups: 0,
            follow_up_start: None,
            next_check: None,
            cleared: None,
            last_draw: None,
            second_version: false,
            taken_over: 0,
        }
    }

    /// The same person at the start of the job again.
    pub(crate) fn start_again(&mut self) {
        let last_draw = self.last_draw;
        *self = Progress { stage: Stage::Learning, last_draw, ..Progress::new(self.plan) };
    }

    pub(crate) fn end(&self) -> Option<End> {
        self.plan.map(|plan| plan.end)
    }

    /// Five draws that count, the last three clean, and the trainer's own look.
    pub(crate) fn rule_met(&self) -> bool {
        self.ready && self.counted.len() >= 5 && self.last_three_clean() && self.checked
    }

    fn last_three_clean(&self) -> bool {
        self.counted.iter().rev().take(3).all(|clean| *clean)
    }

    /// Whether the story lets this person draw under somebody's eyes on this day.
    pub(crate) fn wants_draw(&self, on: Date) -> bool {
        let Some(plan) = self.plan else { return false };
        if self.stage != Stage::Learning || !self.ready || self.on_desk || self.had_enough(on) {
            return false;
        }
        let done = self.counted.len();
        let last_may_come = plan.last_draw_from.is_none_or(|from| on >= from);
        match plan.end {
            End::Planned | End::Demonstrated | End::TeachBackIncomplete => false,
            End::Draws(most) => done < usize::from(most) && (done + 1 < usize::from(most) || last_may_come),
            End::SafetyPointMissed => done < 5 && (done < 4 || last_may_come),
            End::Waiting => !self.rule_met() && (done < 4 || last_may_come),
            // Nobody but the one of the story is left waiting for a decision today.
            End::OwnPatients | End::AllPatients | End::MayPrecept => {
                !self.rule_met() && (done < 4 || on < LAST_WEEKS)
            }
        }
    }

    /// Two watched draws a day are enough to learn from.
    fn had_enough(&self, on: Date) -> bool {
        self.watched_on.is_some_and(|(day, draws)| day == on && draws >= 2)
    }

    /// Somebody watched a draw.
    pub(crate) fn was_watched(&mut self, on: Date) {
        self.watched += 1;
        let before = self.watched_on.filter(|(day, _)| *day == on).map_or(0, |(_, draws)| draws);
        self.watched_on = Some((on, before + 1));
    }

    /// Whether a trainer's own look is still wanted, from the third draw on.
    pub(crate) fn wants_check(&self) -> bool {
        !self.checked && self.counted.len() >= 2 && !matches!(self.end(), Some(End::Draws(_)))
    }

    /// Follow-up begins anew: after a release, or on the day of a slip.
    pub(crate) fn follow_up_from(&mut self, day: Date) {
        self.follow_ups = 0;
        self.follow_up_start = Some(day);
        self.next_check = Some(days_after(day, 7));
    }

    /// A follow-up check was done: after a week, a month, three months, then yearly; a slip begins it anew.
    pub(crate) fn followed_up(&mut self, on: Date, clean: bool) {
        if !clean {
            return self.follow_up_from(on);
        }
        self.cleared = Some(on);
        self.follow_ups += 1;
        let start = self.follow_up_start.unwrap_or(on);
        let (planned, gap) = match self.follow_ups {
            1 => (30, 23),
            2 => (91, 61),
            _ => (0, 365),
        };
        self.next_check = Some(days_after(start, planned).max(days_after(on, gap)));
    }
}

/// Everybody's progress.
pub(crate) fn all(members: &[Member]) -> Vec<[Progress; 2]> {
    members.iter().map(|member| [Progress::new(Some(member.vein)), Progress::new(member.line)]).collect()
}

/// Whether a person may draw alone by the unit's arrangement on the day of the draw.
pub(crate) fn may_draw_alone(progress: &[Progress; 2], started: Date, line: bool) -> bool {
    let experienced = started < crate::calendar::TRAINING_STARTED;
    let alone = |job: Job| match progress[job.place()].stage {
        Stage::Before => experienced,
        Stage::Released(_) => true,
        Stage::Learning | Stage::Lapsed => false,
    };
    alone(Job::Vein) && (!line || alone(Job::Line))
}
