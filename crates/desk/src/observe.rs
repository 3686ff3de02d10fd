use std::collections::BTreeMap;

use breakdown::ledger::{TimeUse, bottle_fill, recommended_adult_fill, time};
use breakdown::{Breakdown, ItemId, ItemKind, JobCode, KeyPointKind, Version};
use jiff::civil::DateTime;
use practice::{
    DrawMark, Event, EventId, EventKind, Level, ObservedDraw, PersonId, Role, SpotCheck, Standing,
    WhoMayWatch, standings,
};

use crate::facts::Desk;
use crate::teach_back::PractisePoint;

/// Attempts after which a collector hands over where the breakdown names no limit: common practice, no source.
const USUAL_ATTEMPTS: u8 = 2;
/// Shapes of specimen numbers that a form is told about; a laboratory uses few.
const MOST_SHAPES: usize = 4;

/// Somebody who may draw, watch or write down a draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AtTheBed {
    /// Staff identifier.
    pub id: PersonId,
    /// Name.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Why what they watch of this job does not count today; `None` when it counts.
    pub watching_does_not_count: Option<String>,
}

/// A time that must pass during the draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawTimer {
    /// Its key point.
    pub item: ItemId,
    /// What it is for, such as "skin contact".
    pub what: String,
    /// Least seconds.
    pub seconds: u32,
    /// True where it belongs to the course of the draw: contact and drying. Pressing after a fault is none of it.
    pub by_itself: bool,
    /// True where it follows at once upon the one before it: drying upon contact.
    pub follows: bool,
}

/// What somebody needs who watches a draw of a job, or carries one out.
#[derive(Debug, Clone, PartialEq)]
pub struct ObserveForm {
    /// The version it is marked against.
    pub breakdown: Breakdown,
    /// True when another version is in force today.
    pub replaced: bool,
    /// Everybody on the unit, trainers and preceptors first.
    pub people: Vec<AtTheBed>,
    /// Contact, drying and waiting times in the order of the breakdown.
    pub timers: Vec<DrawTimer>,
    /// Attempts after which another collector goes on.
    pub attempt_limit: u8,
    /// Least and most millilitres in a bottle, as the breakdown states it.
    pub fill_ml: Option<(f64, f64)>,
    /// What the laboratory's specimen numbers look like, most used first: letters as A, digits as 9, the rest as it is.
    /// A number of another shape may be half a code.
    pub specimen_shapes: Vec<String>,
}

/// A draw that was watched: before it is saved, and from the book.
#[derive(Debug, Clone, PartialEq)]
pub struct ObservedPage {
    /// Name of the one whose hands drew.
    pub name: String,
    /// Name of the job.
    pub job_name: String,
    /// When, the unit's local time.
    pub when: DateTime,
    /// Name of the watcher.
    pub watched_by: String,
    /// Name of the one who wrote it down.
    pub logged_by: String,
    /// The draw itself.
    pub draw: ObservedDraw,
    /// Why it does not count towards release; `Ok` when it counts.
    pub counts: Result<(), String>,
    /// Key points done without help, and key points somebody saw.
    pub done: (usize, usize),
    /// Key points that were not seen or not marked.
    pub not_seen: usize,
    /// Not done without help, safety points first, with how they were done.
    pub open: Vec<PractisePoint>,
    /// Important steps with their names, for the times.
    pub steps: Vec<String>,
    /// What the release rule still asks for with this draw counted; empty when nothing, or when the job is not planned.
    pub missing: Vec<String>,
    /// True when the release rule is met with this draw counted.
    pub rule_met: bool,
    /// The laboratory's verdict on the set, where the specimen number leads to one: for the collector and the trainer.
    pub result: Option<String>,
    /// The reason why another entry stands in its place, where it was corrected.
    pub corrected: Option<String>,
}

impl Desk {
    /// What is needed to watch a draw of a job, on the version in force or on a named one. `None` when the book does
    /// not know the job or the version.
    pub fn observe_form(&self, job: &JobCode, version: Option<Version>) -> Option<ObserveForm> {
        let in_force = self.in_force(job)?;
        let breakdown = match version {
            Some(version) => self.version(job, version)?,
            None => in_force,
        };
        let people = self.on_the_unit().into_iter().map(|(id, name, role)| AtTheBed {
            watching_does_not_count: self.watching_does_not_count(&id, role, job),
            id,
            name,
            role,
        });
        Some(ObserveForm {
            people: people.collect(),
            replaced: in_force.version != breakdown.version,
            timers: timers(breakdown),
            attempt_limit: attempt_limit(breakdown),
            fill_ml: bottle_fill(breakdown, recommended_adult_fill())
                .map(|fill| (fill.stated.low.to_ml(), fill.stated.high.to_ml())),
            specimen_shapes: self.specimen_shapes(),
            breakdown: breakdown.clone(),
        })
    }

    /// What a draw that is not in the book yet would show and count for.
    pub fn observed_preview(&self, what: &EventKind, when: DateTime, by: &PersonId) -> Option<ObservedPage> {
        let (EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))) = what else {
            return None;
        };
        let mut history = self.material.history.clone();
        let id = EventId("not saved yet".to_owned());
        history.events.push(Event {
            id: id.clone(),
            happened: when,
            by: by.clone(),
            kind: what.clone(),
            corrects: None,
            correction_reason: None,
        });
        // By the same rule as once it is saved: worked out with the draw among what happened.
        let standings =
            standings(&history, self.material.today.max(when.date()), &self.material.release_rule);
        let standing = standings.iter().find(|one| one.person == draw.drawn_by && one.job == draw.job);
        self.observed_page(draw, when, by, &id, standing)
    }

    /// An observed draw that is in the book, by the identifier of its entry.
    pub fn observed_draw(&self, entry: &str) -> Option<ObservedPage> {
        let events = &self.material.history.events;
        let event = events.iter().find(|event| event.id.0 == entry)?;
        let (EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))) = &event.kind else {
            return None;
        };
        let standing = self.standings_of(&draw.drawn_by).find(|standing| standing.job == draw.job);
        let mut page = self.observed_page(draw, event.happened, &event.by, &event.id, standing)?;
        let correction = events.iter().rev().find(|other| other.corrects.as_ref() == Some(&event.id));
        page.corrected = correction.map(|correction| {
            correction.correction_reason.clone().unwrap_or_else(|| "no reason given".to_owned())
        });
        Some(page)
    }

    fn observed_page(
        &self,
        draw: &ObservedDraw,
        when: DateTime,
        by: &PersonId,
        id: &EventId,
        standing: Option<&Standing>,
    ) -> Option<ObservedPage> {
        let breakdown = self.version(&draw.job, draw.version)?;
        let evidence = standing.into_iter().flat_map(|standing| &standing.evidence);
        let against = evidence.clone().find(|one| one.event == *id).map(|one| one.does_not_count.clone());
        let planned = standing.filter(|standing| standing.level != Level::NotPlanned);
        let points: Vec<_> =
            breakdown.items().into_iter().filter(|item| item.id.kind() == ItemKind::KeyPoint).collect();
        let mark = |item: ItemId| draw.items.iter().find(|one| one.item == item).map(|one| one.mark);
        let with = |wanted: DrawMark| points.iter().filter(|point| mark(point.id) == Some(wanted)).count();
        let seen = with(DrawMark::Done) + with(DrawMark::AfterPrompt) + with(DrawMark::NotDone);
        let mut open: Vec<PractisePoint> = points
            .iter()
            .filter_map(|point| {
                let why = match mark(point.id)? {
                    DrawMark::AfterPrompt => "after a prompt",
                    DrawMark::NotDone if draw.circumstances.wrong.contains(&point.id) => "done wrong",
                    DrawMark::NotDone => "missed",
                    _ => return None,
                };
                let safety = point.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety);
                Some(PractisePoint {
                    item: point.id,
                    text: point.text.to_owned(),
                    safety,
                    why: why.to_owned(),
                })
            })
            .collect();
        open.sort_by_key(|point| (!point.safety, point.item));
        Some(ObservedPage {
            name: self.name_of(&draw.drawn_by),
            job_name: breakdown.job.clone(),
            when,
            watched_by: self.name_of(&draw.watched_by),
            logged_by: self.name_of(by),
            draw: draw.clone(),
            counts: against.flatten().map_or(Ok(()), Err),
            done: (with(DrawMark::Done), seen),
            not_seen: points.len() - seen - with(DrawMark::NotApplicable),
            open,
            steps: breakdown.steps.iter().map(|step| step.name.clone()).collect(),
            missing: planned.map_or_else(Vec::new, |standing| standing.missing.clone()),
            rule_met: planned.is_some_and(|standing| standing.rule_met),
            result: draw
                .specimen
                .as_deref()
                .and_then(|specimen| self.set_of(specimen))
                .map(|(_, judged)| judged.verdict().to_string()),
            corrected: None,
        })
    }

    fn version(&self, job: &JobCode, version: Version) -> Option<&Breakdown> {
        let mut versions = self.published(job).into_iter().map(|(_, breakdown)| breakdown);
        versions.find(|breakdown| breakdown.version == version)
    }

    /// Why what a person watches of a job does not count today.
    fn watching_does_not_count(&self, id: &PersonId, role: Role, job: &JobCode) -> Option<String> {
        if role == Role::Trainer {
            return None;
        }
        if self.material.release_rule.who_may_watch == WhoMayWatch::Trainers {
            return Some("the release rule counts only what a trainer watched".to_owned());
        }
        let level =
            self.standings_of(id).find(|standing| standing.job == *job).map(|standing| standing.level);
        match level {
            Some(Level::MayPrecept) => None,
            Some(Level::ToBeUpdated) => Some("their own release on this job is to be updated".to_owned()),
            Some(Level::Lapsed) => Some("their own release on this job has lapsed".to_owned()),
            _ => Some("they are not released to precept on this job".to_owned()),
        }
    }

    fn specimen_shapes(&self) -> Vec<String> {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        // The newest tell what the laboratory uses now.
        for set in self.material.sets.iter().rev().take(2_000) {
            *counts.entry(shape(&set.id.0)).or_default() += 1;
        }
        let mut shapes: Vec<(String, usize)> = counts.into_iter().collect();
        shapes.sort_by(|one, other| other.1.cmp(&one.1).then_with(|| one.0.cmp(&other.0)));
        shapes.into_iter().take(MOST_SHAPES).map(|(shape, _)| shape).collect()
    }
}

/// `INV-26-000118` as `AAA-99-999999`.
fn shape(specimen: &str) -> String {
    let class = |c: char| match c {
        c if c.is_ascii_digit() => '9',
        c if c.is_alphabetic() => 'A',
        c => c,
    };
    specimen.chars().map(class).collect()
}

fn timers(breakdown: &Breakdown) -> Vec<DrawTimer> {
    let mut timers: Vec<DrawTimer> = Vec::new();
    for entry in time(breakdown).entries {
        let is_safety =
            breakdown.key_point(entry.item).is_some_and(|point| point.kind == KeyPointKind::Safety);
        let follows = entry.used_for == TimeUse::Dry
            && timers.last().is_some_and(|last| last.by_itself && last.item.step == entry.item.step);
        timers.push(DrawTimer {
            item: entry.item,
            what: entry.stated.what.clone().unwrap_or_else(|| "time".to_owned()),
            seconds: entry.at_least.to_s().ceil() as u32,
            by_itself: entry.used_for != TimeUse::Wait && !is_safety,
            follows,
        });
    }
    timers
}

fn attempt_limit(breakdown: &Breakdown) -> u8 {
    let quantities =
        breakdown.steps.iter().flat_map(|step| &step.key_points).flat_map(|point| &point.quantities);
    let limits = quantities
        .filter(|stated| stated.what.as_deref().is_some_and(|what| what.contains("attempt")))
        .filter_map(|stated| stated.high);
    let least = limits.fold(f64::INFINITY, f64::min);
    if (1.0..=9.0).contains(&least) { least as u8 } else { USUAL_ATTEMPTS }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VEIN: &str = include_str!("../../../breakdowns/vein.txt");
    const LINE: &str = include_str!("../../../breakdowns/central-line.txt");

    fn read(text: &str) -> Breakdown {
        breakdown::parse(text).sound().expect("a shipped breakdown is sound").clone()
    }

    /// The times as a reader finds them in the shipped files, in their order.
    #[test]
    fn timers_are_the_times_of_the_breakdown() {
        let told = |text| -> Vec<(String, String, u32, bool, bool)> {
            timers(&read(text))
                .into_iter()
                .map(|one| (one.item.to_string(), one.what, one.seconds, one.by_itself, one.follows))
                .collect()
        };
        let row = |item: &str, what: &str, seconds, by_itself, follows| {
            (item.to_owned(), what.to_owned(), seconds, by_itself, follows)
        };
        assert_eq!(
            told(VEIN),
            [
                row("2.3", "tops contact", 15, true, false),
                row("2.3", "tops dry", 30, true, true),
                row("3.4", "skin contact", 30, true, false),
                row("3.5", "skin dry", 30, true, true),
            ]
        );
        assert_eq!(
            told(LINE),
            [
                row("2.4", "tops contact", 15, true, false),
                row("2.4", "tops dry", 30, true, true),
                row("3.1", "hub contact", 15, true, false),
                row("3.2", "hub dry", 30, true, true),
            ]
        );
    }

    #[test]
    fn the_limit_of_attempts_is_the_breakdowns_own_or_the_usual_one() {
        assert_eq!(attempt_limit(&read(VEIN)), 2);
        assert_eq!(attempt_limit(&read(&VEIN.replace("at most 2 attempts", "at most 1 attempts"))), 1);
        assert_eq!(attempt_limit(&read(LINE)), USUAL_ATTEMPTS);
    }

    #[test]
    fn a_specimen_number_has_a_shape() {
        assert_eq!(shape("INV-26-000118"), "AAA-99-999999");
    }
}
