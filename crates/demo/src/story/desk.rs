//! What trainers do away from the bedside: plan, demonstrate, hear, decide, refresh.

use jiff::civil::{Date, DateTime};
use practice::{EventKind, ObservedDraw, Release, Scope, Setting};

use super::engine::{Engine, Task, number};
use super::jobs::{Job, VEIN_TWO};
use super::marks::{self, Pass, SafetyPoints};
use super::state::Stage;
use crate::calendar::{TRAINING_STARTED, days_after};
use crate::cast::{FLOAT_NURSE, TRAINER_NORTH, TRAINER_SOUTH};
use crate::people::{End, index};

impl Engine<'_> {
    /// One thing a trainer does with one person.
    pub(super) fn teach(&mut self, when: DateTime, who: usize, job: Job, trainer: usize, task: Task) {
        let (day, place) = (when.date(), job.place());
        let person = self.members[who].person.id.clone();
        let (code, version) = (self.jobs.code(job), self.jobs.version(job, day));
        let hurry = in_a_hurry(who);
        match task {
            Task::Plan(..) => {
                self.write(when, trainer, EventKind::Planned { person, job: code, by: days_after(day, 56) });
                self.progress[who][place].start_again();
                self.progress[who][place].second_version = job == Job::Vein && day >= VEIN_TWO;
                if self.progress[who][place].end() != Some(End::Planned) {
                    let gap = if hurry { 1 } else { self.dice.between(1, 6) };
                    self.at_desk(who, days_after(day, i64::from(gap)), Task::Demonstrate(who, job));
                }
            }
            Task::Demonstrate(..) => {
                self.write(when, trainer, EventKind::Demonstrated { person, job: code, version });
                if self.progress[who][place].end() != Some(End::Demonstrated) {
                    self.next_pass(who, job, day, 1);
                }
            }
            Task::TeachBack(_, _, number) => {
                let incomplete = self.progress[who][place].end() == Some(End::TeachBackIncomplete);
                let pass = match number {
                    1 => Pass::First,
                    2 if incomplete => Pass::Unsafe,
                    _ => Pass::Clean,
                };
                let breakdown = self.jobs.in_force(job, day);
                let teachback = marks::teach_back(breakdown, pass, &mut self.marks);
                self.write(when, trainer, EventKind::TeachBackHeard { person, teachback });
                match number {
                    1 => self.next_pass(who, job, day, 2),
                    2 if !incomplete => self.next_pass(who, job, day, 3),
                    3 => self.ready(who, job, day),
                    _ => {}
                }
            }
            Task::TrainingArm(_) => {
                let safety = SafetyPoints::by_chance(1, &mut self.dice);
                let items = marks::draw(self.jobs.in_force(job, day), 1, safety, &mut self.marks);
                let draw = self.observed(job, day, who, trainer, None, items);
                self.write(
                    when,
                    trainer,
                    EventKind::DrawObserved(ObservedDraw { setting: Setting::Simulated, ..draw }),
                );
            }
            // Whoever is to be updated is refreshed first.
            Task::Release(..) if self.is_to_be_updated(who, job, day) => {
                self.at_desk(who, days_after(day, 1), task);
            }
            // A check on the version before no longer counts: another one is asked for.
            Task::Release(_, _, Scope::AllPatients) if self.is_cleared_too_early(who, job, day) => {
                self.progress[who][place].on_desk = false;
                self.progress[who][place].next_check = Some(day);
            }
            Task::Release(_, _, scope) => {
                let reason = self.beyond_the_rule(who, job, scope);
                let release = Release { person, job: code, version, scope, reason };
                self.write(when, trainer, EventKind::Released(release));
                self.released(who, job, day, scope);
            }
            Task::Refresh(_) if matches!(self.progress[who][place].stage, Stage::Released(_)) => {
                self.write(
                    when,
                    trainer,
                    EventKind::RefresherDone { person, job: code, version, reason: None },
                );
                self.progress[who][place].second_version = true;
            }
            _ => {}
        }
    }

    /// Each pass comes on a later day than the one before.
    fn next_pass(&mut self, who: usize, job: Job, day: Date, number: u8) {
        let gap = if in_a_hurry(who) { 1 } else { self.dice.between(1, 4) };
        self.at_desk(who, days_after(day, i64::from(gap)), Task::TeachBack(who, job, number));
    }

    fn ready(&mut self, who: usize, job: Job, day: Date) {
        self.progress[who][job.place()].ready = true;
        if job == Job::Line && number(who) <= TRAINER_SOUTH {
            self.put_on_desk(who, job, day, Scope::MayPrecept);
            return;
        }
        let newcomer = self.members[who].person.started > TRAINING_STARTED;
        if job == Job::Vein && self.dice.chance(if newcomer { 900_000 } else { 350_000 }) {
            self.at_desk(who, days_after(day, 1), Task::TrainingArm(who));
        }
    }

    fn released(&mut self, who: usize, job: Job, day: Date, scope: Scope) {
        let progress = &mut self.progress[who][job.place()];
        progress.stage = Stage::Released(scope);
        progress.on_desk = false;
        progress.follow_up_from(day);
        if scope == Scope::OwnPatients && is_first_preceptor(who, job) {
            self.put_on_desk(who, job, days_after(day, 1), Scope::AllPatients);
            return;
        }
        if scope == Scope::AllPatients && progress.end() == Some(End::MayPrecept) {
            let gap = self.dice.between(2, 7);
            self.at_desk(who, days_after(day, i64::from(gap)), Task::Release(who, job, Scope::MayPrecept));
        }
    }

    fn is_to_be_updated(&self, who: usize, job: Job, day: Date) -> bool {
        let progress = &self.progress[who][job.place()];
        job == Job::Vein
            && day >= VEIN_TWO
            && !progress.second_version
            && matches!(progress.stage, Stage::Released(_))
    }

    fn is_cleared_too_early(&self, who: usize, job: Job, day: Date) -> bool {
        let cleared = self.progress[who][job.place()].cleared;
        job == Job::Vein && day >= VEIN_TWO && cleared.is_some_and(|cleared| cleared < VEIN_TWO)
    }

    /// The reason a trainer gives where the release rule is not met to the letter.
    fn beyond_the_rule(&self, who: usize, job: Job, scope: Scope) -> Option<String> {
        let reason = match scope {
            Scope::AllPatients if is_first_preceptor(who, job) => {
                "First preceptors: a trainer watched every draw, so the check on own patients was left out."
            }
            Scope::MayPrecept if job == Job::Line && number(who) <= TRAINER_SOUTH => {
                "Instructor of the hospital's line team, whose file holds the watched draws; teach-back heard here."
            }
            _ => return None,
        };
        Some(reason.to_owned())
    }

    /// Asks a trainer to decide, some days from now.
    pub(crate) fn put_on_desk(&mut self, who: usize, job: Job, day: Date, scope: Scope) {
        self.progress[who][job.place()].on_desk = true;
        // Two days at least, so that every entry from a phone out of reach has come in.
        let gap = self.dice.between(2, 5);
        self.at_desk(who, days_after(day, i64::from(gap)), Task::Release(who, job, scope));
    }

    /// A major version: those released are refreshed within the month, those still learning start its teach-back.
    pub(super) fn publish_second(&mut self, when: DateTime) {
        let breakdown = self.jobs.vein_two.clone();
        self.write(when, index(TRAINER_NORTH), EventKind::BreakdownPublished(Box::new(breakdown)));
        for who in 0..self.members.len() {
            match self.progress[who][Job::Vein.place()].stage {
                Stage::Released(_) => {
                    let gap = self.dice.between(1, 22);
                    self.at_desk(who, days_after(when.date(), i64::from(gap)), Task::Refresh(who));
                }
                Stage::Learning => {
                    self.progress[who][Job::Vein.place()].start_again();
                    self.progress[who][Job::Vein.place()].second_version = true;
                    self.next_pass(who, Job::Vein, when.date(), 2);
                }
                _ => {}
            }
        }
    }

    pub(super) fn withdraw(&mut self, when: DateTime, who: usize) {
        let person = self.members[who].person.id.clone();
        let reason =
            "Asked for it herself: since the second version came she found that the skin was often not dry when \
                      she began. Taught again from the demonstration; no blame."
                .to_owned();
        self.write(
            when,
            index(TRAINER_SOUTH),
            EventKind::Withdrawn { person, job: self.jobs.code(Job::Vein), reason },
        );
        self.progress[who][Job::Vein.place()].start_again();
        self.at_desk(who, days_after(when.date(), 4), Task::Plan(who, Job::Vein));
    }
}

/// The trainers start, and a float nurse is taught before the first shift alone.
fn in_a_hurry(who: usize) -> bool {
    who == index(FLOAT_NURSE) || number(who) <= TRAINER_SOUTH
}

/// The trainers and the preceptors, who had to be there before anybody else could learn the vein draw.
fn is_first_preceptor(who: usize, job: Job) -> bool {
    job == Job::Vein && number(who) <= 10
}
