//! The story told forward in time: tasks of the trainers' desks and draws at the bedside, in the order they happened.

use std::collections::BTreeMap;

use jiff::civil::{Date, DateTime, date};
use practice::{DrawItem, EventKind, ObservedDraw, Role, Scope, Setting};

use super::jobs::{Job, Jobs, LINE_ONE, VEIN_ONE, VEIN_TWO};
use super::state::{self, Progress, Stage};
use crate::calendar::{Roster, Shift, ShiftKind, TODAY, TRAINING_STARTED, days_after, minutes_after};
use crate::cast::{RETRAINED, TRAINER_NORTH, TRAINER_SOUTH, TWO_OF_FOURTEEN};
use crate::dice::Dice;
use crate::people::{Member, index};
use crate::{DemoEvent, identifier};

/// What a trainer's desk does at a set time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Task {
    Add(usize),
    Publish(Job),
    PublishSecond,
    Plan(usize, Job),
    Demonstrate(usize, Job),
    TeachBack(usize, Job, u8),
    TrainingArm(usize),
    Release(usize, Job, Scope),
    Refresh(usize),
    Leave(usize),
    Return(usize),
    Withdraw(usize),
}

/// The story while it is told.
pub(crate) struct Engine<'a> {
    pub(crate) members: &'a [Member],
    pub(crate) roster: &'a Roster,
    pub(crate) jobs: &'a Jobs,
    pub(crate) progress: Vec<[Progress; 2]>,
    pub(crate) dice: Dice,
    /// Marks have a stream of their own: a reworded breakdown changes the marks and nothing else.
    pub(crate) marks: Dice,
    pub(crate) events: Vec<DemoEvent>,
    /// Draws that two people watched.
    pub(crate) doubles: usize,
    /// The draw made alone before release, until a note has recorded it.
    pub(crate) alone: Option<(String, DateTime)>,
    pub(crate) alone_recorded: Option<(String, [u8; 16])>,
    /// Sets of the person with two of fourteen.
    pub(crate) told_sets: usize,
    tasks: BTreeMap<(DateTime, u32), Task>,
    count: u32,
    ids: Dice,
}

impl<'a> Engine<'a> {
    pub(crate) fn new(seed: u64, members: &'a [Member], roster: &'a Roster, jobs: &'a Jobs) -> Engine<'a> {
        let mut engine = Engine {
            members,
            roster,
            jobs,
            progress: state::all(members),
            dice: Dice::new(seed, "story"),
            marks: Dice::new(seed, "marks"),
            events: Vec::new(),
            doubles: 0,
            alone: None,
            alone_recorded: None,
            told_sets: 0,
            tasks: BTreeMap::new(),
            count: 0,
            ids: Dice::new(seed, "identifiers"),
        };
        engine.open();
        engine
    }

    /// The tasks known from the start.
    fn open(&mut self) {
        for (who, member) in self.members.iter().enumerate() {
            let first = member.person.started.max(TRAINING_STARTED);
            // The trainer who opens the book is the first in it.
            let minute = if number(who) == TRAINER_NORTH { 0 } else { 15 };
            self.at(first.at(8, minute, 0, 0), Task::Add(who));
            if let Some((from, to)) = member.away {
                self.at(days_after(from, -1).at(15, 0, 0, 0), Task::Leave(who));
                self.at(days_after(to, 1).at(8, 30, 0, 0), Task::Return(who));
            }
            for (job, plan) in [(Job::Vein, Some(member.vein)), (Job::Line, member.line)] {
                if let Some(plan) = plan {
                    self.at_desk(who, plan.planned, Task::Plan(who, job));
                }
            }
        }
        self.at(VEIN_ONE.at(8, 30, 0, 0), Task::Publish(Job::Vein));
        self.at(LINE_ONE.at(8, 30, 0, 0), Task::Publish(Job::Line));
        self.at(VEIN_TWO.at(8, 30, 0, 0), Task::PublishSecond);
        self.at(date(2026, 6, 18).at(14, 20, 0, 0), Task::Withdraw(index(RETRAINED)));
    }

    fn at(&mut self, moment: DateTime, task: Task) {
        self.count += 1;
        self.tasks.insert((moment, self.count), task);
    }

    /// Puts a task at a time on or after a day at which a trainer other than the person is at the desk.
    pub(super) fn at_desk(&mut self, who: usize, from: Date, task: Task) {
        let mut day = from;
        while self.trainer_at_desk(who, day).is_none() && day < TODAY {
            day = days_after(day, 1);
        }
        let (hour, minute) = (self.dice.between(9, 15) as i8, self.dice.below(60) as i8);
        self.at(day.at(hour, minute, 0, 0), task);
    }

    /// The trainer who works that day; the one of the person's own area when both do.
    fn trainer_at_desk(&self, who: usize, day: Date) -> Option<usize> {
        let trainers = [index(TRAINER_NORTH), index(TRAINER_SOUTH)];
        let shift = Shift { on: day, kind: ShiftKind::Day };
        let area = |trainer: usize| self.members[trainer].person.unit == self.members[who].person.unit;
        let mut present: Vec<usize> = trainers
            .into_iter()
            .filter(|trainer| *trainer != who && self.roster.works(*trainer, shift))
            .collect();
        present.sort_by_key(|trainer| !area(*trainer));
        present.first().copied()
    }

    /// Does every task up to a moment.
    pub(crate) fn tell_until(&mut self, moment: DateTime) {
        while let Some((&(when, count), &task)) = self.tasks.first_key_value() {
            if when > moment {
                break;
            }
            self.tasks.remove(&(when, count));
            self.tell(when, task);
        }
    }

    /// Writes an entry down some minutes after it happened; from a phone out of reach, hours later.
    pub(crate) fn write(&mut self, happened: DateTime, by: usize, kind: EventKind) -> [u8; 16] {
        let late = matches!(kind, EventKind::DrawObserved(_)) && self.dice.chance(50_000);
        let minutes = if late { self.dice.between(200, 1_200) } else { self.dice.between(4, 35) };
        // Whom and what later entries name is written down at once.
        let at_once = matches!(kind, EventKind::PersonAdded(_) | EventKind::BreakdownPublished(_));
        let minutes = if at_once { 2 } else { minutes };
        let recorded = minutes_after(happened, minutes);
        let id = identifier::written_at(recorded, &mut self.ids);
        let by = self.members[by].person.id.clone();
        self.events.push(DemoEvent {
            id,
            happened,
            recorded,
            by,
            kind,
            corrects: None,
            correction_reason: None,
        });
        id
    }

    fn tell(&mut self, when: DateTime, task: Task) {
        match task {
            Task::Add(who) => {
                let person = self.members[who].person.clone();
                self.write(when, index(TRAINER_NORTH), EventKind::PersonAdded(person));
            }
            Task::Publish(job) => {
                let breakdown = self.jobs.in_force(job, when.date()).clone();
                self.write(when, index(TRAINER_NORTH), EventKind::BreakdownPublished(Box::new(breakdown)));
            }
            Task::PublishSecond => self.publish_second(when),
            Task::Leave(who) => {
                let person = self.members[who].person.id.clone();
                self.write(when, index(TRAINER_SOUTH), EventKind::PersonLeft { person });
            }
            Task::Return(who) => {
                let person = self.members[who].person.clone();
                self.write(when, index(TRAINER_NORTH), EventKind::PersonAdded(person));
                for job in Job::ALL {
                    if self.progress[who][job.place()].stage != Stage::Before {
                        self.progress[who][job.place()].stage = Stage::Lapsed;
                    }
                }
            }
            Task::Withdraw(who) => self.withdraw(when, who),
            Task::Plan(who, job)
            | Task::Demonstrate(who, job)
            | Task::TeachBack(who, job, _)
            | Task::Release(who, job, _) => match self.trainer_at_desk(who, when.date()) {
                Some(trainer) => self.teach(when, who, job, trainer, task),
                None => self.at_desk(who, days_after(when.date(), 1), task),
            },
            Task::TrainingArm(who) | Task::Refresh(who) => match self.trainer_at_desk(who, when.date()) {
                Some(trainer) => self.teach(when, who, Job::Vein, trainer, task),
                None => self.at_desk(who, days_after(when.date(), 1), task),
            },
        }
    }

    /// A draw as its watcher writes it down.
    pub(crate) fn observed(
        &mut self,
        job: Job,
        day: Date,
        drawn_by: usize,
        watched_by: usize,
        specimen: Option<String>,
        items: Vec<DrawItem>,
    ) -> ObservedDraw {
        ObservedDraw {
            job: self.jobs.code(job),
            version: self.jobs.version(job, day),
            drawn_by: self.members[drawn_by].person.id.clone(),
            watched_by: self.members[watched_by].person.id.clone(),
            setting: Setting::RealPatient,
            specimen,
            attempts: if self.dice.chance(170_000) { 2 } else { 1 },
            taken_over: false,
            items,
            note: None,
            circumstances: practice::Circumstances::default(),
        }
    }

    /// Whether a person may watch a learner at the job on this day: on the version in force, unless a trainer.
    pub(crate) fn may_watch(&self, who: usize, job: Job, on: Date) -> bool {
        let progress = &self.progress[who][job.place()];
        let current = job == Job::Line || on < VEIN_TWO || progress.second_version;
        self.members[who].person.role == Role::Trainer
            || (progress.stage == Stage::Released(Scope::MayPrecept) && current)
    }

    /// Tells the rest, up to the end of the day before today.
    pub(crate) fn finish(&mut self) {
        self.tell_until(days_after(TODAY, -1).at(23, 0, 0, 0));
        // Entries written after today are not there yet.
        self.events.retain(|event| event.recorded.date() < TODAY);
        self.events.sort_by_key(|event| (event.recorded, event.id));
    }
}

/// Number of a member's story, counted from 1 as the staff identifiers are.
pub(crate) fn number(who: usize) -> usize {
    who + 1
}

/// Whether the story of a person is told step by step.
pub(crate) fn is_scripted(who: usize) -> bool {
    number(who) >= TWO_OF_FOURTEEN || number(who) <= TRAINER_SOUTH
}
