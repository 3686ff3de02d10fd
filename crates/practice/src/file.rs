//! What the book holds on each person and job, gathered once from the events that stand.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use breakdown::{ItemId, JobCode, Version};
use jiff::civil::{Date, DateTime};
use teachback::TeachBack;

use crate::effective::StandingEvent;
use crate::event::{
    DrawMark, Event, EventId, EventKind, ObservedDraw, Person, PersonId, Role, Scope, Setting,
};
use crate::passes::passes;
use crate::versions::Versions;
use crate::words::Names;

/// One draw on a patient or training arm, however many people watched it.
#[derive(Debug, Clone)]
pub(crate) struct DrawOnFile {
    pub(crate) happened: DateTime,
    pub(crate) version: Version,
    pub(crate) specimen: Option<String>,
    /// The mark of each item; where two watchers differ, the worse one.
    pub(crate) marks: BTreeMap<ItemId, DrawMark>,
    /// Whether one of the watchers was a trainer on a spot check.
    pub(crate) spot_check: bool,
    /// Whether one of the watchers was a trainer.
    pub(crate) by_trainer: bool,
    /// Why the draw itself does not count; a second watcher who may watch makes it count.
    pub(crate) does_not_count: Option<String>,
    /// Whether hands and patient were real and the learner's own, whoever watched.
    pub(crate) is_practice: bool,
}

impl DrawOnFile {
    pub(crate) fn date(&self) -> Date {
        self.happened.date()
    }

    pub(crate) fn mark(&self, item: ItemId) -> DrawMark {
        self.marks.get(&item).copied().unwrap_or(DrawMark::NotSeen)
    }
}

/// One pass of a teach-back, however many heard it.
#[derive(Debug, Clone)]
pub(crate) struct Pass<'a> {
    pub(crate) happened: DateTime,
    /// Entries of those who heard it.
    pub(crate) entries: Vec<&'a EventId>,
    /// The marks that count: where two listeners differ, the worse one.
    pub(crate) teachback: Cow<'a, TeachBack>,
    pub(crate) does_not_count: Option<String>,
}

/// A decision about a standing.
#[derive(Debug, Clone)]
pub(crate) struct Decision<'a> {
    pub(crate) on: Date,
    pub(crate) happened: DateTime,
    pub(crate) by: &'a PersonId,
    pub(crate) change: Change,
}

impl<'a> Decision<'a> {
    fn of(event: &'a Event, change: Change) -> Decision<'a> {
        Decision { on: event.happened.date(), happened: event.happened, by: &event.by, change }
    }
}

/// Time away from the unit, now over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Leave {
    pub(crate) from: Date,
    pub(crate) back: Date,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Change {
    Released(Scope, Version),
    Withdrawn,
    Refreshed(Version),
}

/// Everything on one person and job.
#[derive(Debug, Default)]
pub(crate) struct File<'a> {
    pub(crate) events: Vec<(&'a Event, Option<String>)>,
    pub(crate) planned: Option<(Date, &'a Event)>,
    pub(crate) passes: Vec<Pass<'a>>,
    pub(crate) draws: Vec<DrawOnFile>,
    pub(crate) decisions: Vec<Decision<'a>>,
}

impl File<'_> {
    /// Scope and version held on a day, by the decisions up to then.
    pub(crate) fn held(&self) -> Option<(Scope, Version)> {
        let mut held = None;
        for decision in &self.decisions {
            held = match (decision.change, held) {
                (Change::Released(scope, version), _) => Some((scope, version)),
                (Change::Withdrawn, _) => None,
                (Change::Refreshed(version), Some((scope, before))) => Some((scope, version.max(before))),
                (Change::Refreshed(_), None) => None,
            };
        }
        held
    }

    /// Day of the last withdrawal: evidence starts anew after it.
    pub(crate) fn withdrawn_on(&self) -> Option<Date> {
        self.decisions
            .iter()
            .rev()
            .find(|decision| decision.change == Change::Withdrawn)
            .map(|decision| decision.on)
    }
}

/// People and files as they stand at the end of a day.
#[derive(Debug, Default)]
pub(crate) struct Files<'a> {
    pub(crate) people: BTreeMap<PersonId, &'a Person>,
    /// People who are away, since when and on whose word.
    pub(crate) away: BTreeMap<PersonId, (Date, &'a PersonId)>,
    /// When people were away who are back, oldest first.
    pub(crate) leaves: BTreeMap<PersonId, Vec<Leave>>,
    pub(crate) files: BTreeMap<(PersonId, JobCode), File<'a>>,
    pub(crate) mentioned: BTreeSet<PersonId>,
    pub(crate) names: Names<'a>,
}

impl<'a> Files<'a> {
    /// Gathers the events up to the end of `today`. Events must come in the order they happened.
    pub(crate) fn read(events: &[StandingEvent<'a>], versions: &Versions<'a>, today: Date) -> Files<'a> {
        let mut files = Files { names: Names::read(events), ..Files::default() };
        let happened: Vec<StandingEvent<'a>> =
            events.iter().filter(|standing| standing.event.happened.date() <= today).cloned().collect();
        for standing in &happened {
            files.add(standing.event, versions);
        }
        for pass in passes(&happened) {
            let file = files.file(pass.person, &pass.listened[0].teachback.job);
            file.passes.push(Pass {
                happened: pass.happened(),
                entries: pass.listened.iter().map(|listened| &listened.event.id).collect(),
                does_not_count: pass.does_not_count().map(str::to_owned),
                teachback: pass.counted,
            });
        }
        files
    }

    pub(crate) fn get(&self, person: &PersonId, job: &JobCode) -> Option<&File<'a>> {
        self.files.get(&(person.clone(), job.clone()))
    }

    pub(crate) fn is_trainer(&self, person: &PersonId) -> bool {
        self.people.get(person).is_some_and(|person| person.role == Role::Trainer)
    }

    fn file(&mut self, person: &PersonId, job: &JobCode) -> &mut File<'a> {
        self.mentioned.insert(person.clone());
        self.files.entry((person.clone(), job.clone())).or_default()
    }

    fn add(&mut self, event: &'a Event, versions: &Versions<'a>) {
        let on = event.happened.date();
        match &event.kind {
            EventKind::PersonAdded(person) => {
                self.people.insert(person.id.clone(), person);
                if let Some((from, _)) = self.away.remove(&person.id) {
                    self.leaves.entry(person.id.clone()).or_default().push(Leave { from, back: on });
                }
                self.mentioned.insert(person.id.clone());
            }
            EventKind::PersonLeft { person } => {
                self.away.insert(person.clone(), (on, &event.by));
                self.mentioned.insert(person.clone());
            }
            EventKind::BreakdownPublished(_)
            | EventKind::RulePublished { .. }
            | EventKind::EnteredInError => {}
            EventKind::Planned { person, job, by } => {
                let file = self.file(person, job);
                file.planned = Some((*by, event));
                file.events.push((event, None));
            }
            EventKind::Demonstrated { person, job, .. }
            | EventKind::NotYet { person, job, .. }
            | EventKind::ConfidenceSaid { person, job, .. } => {
                self.file(person, job).events.push((event, None));
            }
            EventKind::TeachBackHeard { person, teachback } => {
                let against = (event.by == *person).then(|| "heard by the learner alone".to_owned());
                let file = self.file(person, &teachback.job);
                file.events.push((event, against));
            }
            EventKind::DrawObserved(draw) => self.add_draw(event, draw, false, versions),
            EventKind::SpotChecked(check) => self.add_draw(event, &check.0, true, versions),
            EventKind::Released(release) => {
                let against = self.may_not_decide(event, &release.person);
                let counts = against.is_none();
                let file = self.file(&release.person, &release.job);
                file.events.push((event, against));
                if counts {
                    let change = Change::Released(release.scope, release.version);
                    file.decisions.push(Decision::of(event, change));
                }
            }
            EventKind::Withdrawn { person, job, .. } => {
                let file = self.file(person, job);
                file.events.push((event, None));
                file.decisions.push(Decision::of(event, Change::Withdrawn));
            }
            EventKind::RefresherDone { person, job, version, .. } => {
                let against = self.may_not_watch(&event.by, person, job, on, versions);
                let counts = against.is_none();
                let file = self.file(person, job);
                file.events.push((event, against));
                if counts {
                    file.decisions.push(Decision::of(event, Change::Refreshed(*version)));
                }
            }
        }
    }

    fn add_draw(
        &mut self,
        event: &'a Event,
        draw: &'a ObservedDraw,
        spot_check: bool,
        versions: &Versions<'a>,
    ) {
        let on = event.happened.date();
        let by_trainer = self.is_trainer(&draw.watched_by) && draw.watched_by != draw.drawn_by;
        let spot_check_by_trainer = spot_check && self.is_trainer(&draw.watched_by);
        let is_practice = draw.setting == Setting::RealPatient && !draw.taken_over;
        let against = match (draw.setting, draw.taken_over) {
            (Setting::Simulated, _) => Some("on a training arm, not on a patient".to_owned()),
            (_, true) => Some("the watcher took over".to_owned()),
            _ if spot_check && !spot_check_by_trainer => Some(format!(
                "a spot check is the trainer's own look, and {} is not a trainer",
                self.names.of(&draw.watched_by)
            )),
            _ => self.may_not_watch(&draw.watched_by, &draw.drawn_by, &draw.job, on, versions),
        };
        let file = self.file(&draw.drawn_by, &draw.job);
        file.events.push((event, against.clone()));
        let marks = draw.items.iter().map(|marked| (marked.item, marked.mark));
        match file.draws.iter_mut().find(|known| is_same_draw(known, draw, event.happened)) {
            Some(known) => {
                for (item, mark) in marks {
                    let worst = known.marks.entry(item).or_insert(mark);
                    *worst = worse(*worst, mark);
                }
                known.spot_check |= spot_check_by_trainer && against.is_none();
                known.by_trainer |= by_trainer;
                known.is_practice &= is_practice;
                // Two people watched one draw: it is one draw, and one of them who may watch is enough. A draw taken
                // over or on a training arm does not count whoever else watched.
                if against.is_none() && known.is_practice {
                    known.does_not_count = None;
                } else if !is_practice {
                    known.does_not_count = against;
                }
            }
            None => file.draws.push(DrawOnFile {
                happened: event.happened,
                version: draw.version,
                specimen: draw.specimen.clone(),
                marks: marks.collect(),
                spot_check: spot_check_by_trainer && against.is_none(),
                by_trainer,
                does_not_count: against,
                is_practice,
            }),
        }
    }

    /// Why a release does not hold: it is the trainer's decision and never one's own.
    fn may_not_decide(&self, event: &Event, person: &PersonId) -> Option<String> {
        if event.by == *person {
            Some("nobody releases themselves".to_owned())
        } else if !self.is_trainer(&event.by) {
            Some(format!("signed by {}, who is not a trainer", self.names.of(&event.by)))
        } else {
            None
        }
    }

    /// Why what this person watched does not count: a watcher is a trainer, or released on the job and allowed to
    /// precept, on a version that was current on the day.
    fn may_not_watch(
        &self,
        watcher: &PersonId,
        learner: &PersonId,
        job: &JobCode,
        on: Date,
        versions: &Versions<'a>,
    ) -> Option<String> {
        if watcher == learner {
            return Some("watched by nobody else".to_owned());
        }
        if self.is_trainer(watcher) {
            return None;
        }
        let name = self.names.of(watcher);
        match self.get(watcher, job).and_then(File::held) {
            Some((Scope::MayPrecept, version)) if versions.is_current(job, version, on) => None,
            Some((Scope::MayPrecept, version)) => Some(format!(
                "watched by {name}, whose own release on version {version} was to be updated that day"
            )),
            _ => Some(format!("watched by {name}, who might not precept on this job that day")),
        }
    }
}

/// The same specimen number, or, where one of the two has none, the same minute.
pub(crate) fn is_same_draw(known: &DrawOnFile, draw: &ObservedDraw, happened: DateTime) -> bool {
    match (&known.specimen, &draw.specimen) {
        (Some(one), Some(other)) => one == other,
        _ => known.happened == happened,
    }
}

/// Of two watchers' marks, the one that is worse; seeing it beats not having seen it.
fn worse(one: DrawMark, other: DrawMark) -> DrawMark {
    let rank = |mark| match mark {
        DrawMark::NotApplicable => 0,
        DrawMark::NotSeen => 1,
        DrawMark::Done => 2,
        DrawMark::AfterPrompt => 3,
        DrawMark::NotDone => 4,
    };
    if rank(other) > rank(one) { other } else { one }
}

/// Identifiers of everything gathered in a file.
pub(crate) fn ids<'a>(file: &'a File<'_>) -> impl Iterator<Item = &'a EventId> {
    file.events.iter().map(|(event, _)| &event.id)
}
