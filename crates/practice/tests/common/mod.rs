//! A small invented job and a unit to learn it, for tests.

use breakdown::{Breakdown, Change, ChangeKind, ItemId, JobCode, KeyPoint, KeyPointKind, Step, Version};
use jiff::civil::{Date, DateTime};
use practice::*;
use teachback::{Mark, TeachBack, TeachBackItem};

pub fn job() -> JobCode {
    JobCode("vein".to_owned())
}

pub fn person(id: &str) -> PersonId {
    PersonId(id.to_owned())
}

pub fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn moment(text: &str) -> DateTime {
    match text.contains('T') {
        true => text.parse().unwrap(),
        false => day(text).at(9, 0, 0, 0),
    }
}

/// Two steps; 1.1 and 2.1 are safety points, 1.2 and 2.2 are not.
pub fn breakdown(version: u32, change: Option<ChangeKind>, effective: Option<&str>) -> Breakdown {
    let point = |kind, text: &str| KeyPoint {
        label: None,
        kind,
        text: text.to_owned(),
        reasons: vec!["so that nobody is harmed".to_owned()],
        quantities: Vec::new(),
        line: 1,
    };
    let step = |name: &str| Step {
        name: name.to_owned(),
        key_points: vec![point(KeyPointKind::Safety, "safety"), point(KeyPointKind::MakesOrBreaks, "result")],
        line: 1,
    };
    Breakdown {
        job: "Draw one set from a vein".to_owned(),
        code: job(),
        version: Version(version),
        effective: effective.map(day),
        author: None,
        approved_by: None,
        change: change.map(|kind| Change { kind, what: "label at the bedside".to_owned() }),
        cautions: Vec::new(),
        supplies: Vec::new(),
        steps: vec![step("Check the patient"), step("Label the bottles")],
        orders: Vec::new(),
        synonyms: Vec::new(),
    }
}

pub fn key_points() -> [ItemId; 4] {
    [ItemId::key_point(1, 1), ItemId::key_point(1, 2), ItemId::key_point(2, 1), ItemId::key_point(2, 2)]
}

/// A history written one line per event.
#[derive(Default)]
pub struct Unit {
    pub history: History,
}

impl Unit {
    /// A trainer T, a preceptor P who may precept, a learner L, and version 1 of the breakdown from 2026-01-01.
    pub fn new() -> Unit {
        let mut unit = Unit::default();
        for (id, role) in [("T", Role::Trainer), ("P", Role::Preceptor), ("L", Role::Nurse)] {
            unit.add("2026-01-01", "T", person_added(id, role));
        }
        unit.add("2026-01-01", "T", EventKind::BreakdownPublished(Box::new(breakdown(1, None, None))));
        unit.release("2026-01-01", "T", "P", Scope::MayPrecept, 1);
        unit
    }

    pub fn add(&mut self, when: &str, by: &str, kind: EventKind) -> EventId {
        let id = EventId(format!("e{}", self.history.events.len() + 1));
        self.history.events.push(Event {
            id: id.clone(),
            happened: moment(when),
            by: person(by),
            kind,
            corrects: None,
            correction_reason: None,
        });
        id
    }

    pub fn correct(&mut self, earlier: &EventId, when: &str, by: &str, kind: EventKind) -> EventId {
        let id = self.add(when, by, kind);
        let event = self.history.events.last_mut().unwrap();
        event.corrects = Some(earlier.clone());
        event.correction_reason = Some("the form was read wrong".to_owned());
        id
    }

    pub fn release(&mut self, when: &str, by: &str, who: &str, scope: Scope, version: u32) -> EventId {
        let release =
            Release { person: person(who), job: job(), version: Version(version), scope, reason: None };
        self.add(when, by, EventKind::Released(release))
    }

    pub fn watch(&mut self, when: &str, by: &str, draw: ObservedDraw) -> EventId {
        self.add(when, by, EventKind::DrawObserved(draw))
    }

    pub fn spot_check(&mut self, when: &str, draw: ObservedDraw) -> EventId {
        self.add(
            when,
            "T",
            EventKind::SpotChecked(SpotCheck(ObservedDraw { watched_by: person("T"), ..draw })),
        )
    }

    pub fn teach_back(&mut self, when: &str, marks: &[(ItemId, Mark)]) -> EventId {
        let mut items: Vec<_> = [ItemId::step(1), ItemId::step(2)]
            .into_iter()
            .chain(key_points())
            .map(|item| TeachBackItem { item, mark: Mark::Unprompted, at_s: None })
            .collect();
        for (item, mark) in marks {
            items.iter_mut().filter(|heard| heard.item == *item).for_each(|heard| heard.mark = *mark);
        }
        let teachback = TeachBack::heard(job(), Version(1), items, None);
        self.add(when, "T", EventKind::TeachBackHeard { person: person("L"), teachback })
    }

    /// Everything the default rule asks for before the first release: two passes, five clean draws, a spot check.
    pub fn ready(&mut self) {
        self.teach_back("2026-01-05", &[]);
        self.teach_back("2026-01-06", &[]);
        for on in ["2026-01-07", "2026-01-08", "2026-01-09", "2026-01-10"] {
            self.watch(on, "P", draw());
        }
        self.spot_check("2026-01-11", draw());
    }

    pub fn standing(&self, who: &str, on: &str) -> Standing {
        self.standing_under(who, on, &ReleaseRule::default())
    }

    pub fn standing_under(&self, who: &str, on: &str, rule: &ReleaseRule) -> Standing {
        standings(&self.history, day(on), rule)
            .into_iter()
            .find(|standing| standing.person == person(who) && standing.job == job())
            .unwrap()
    }
}

pub fn person_added(id: &str, role: Role) -> EventKind {
    EventKind::PersonAdded(Person {
        id: person(id),
        name: format!("Invented {id}"),
        role,
        unit: "Critical care".to_owned(),
        started: day("2026-01-01"),
    })
}

/// L draws, P watches, everything done.
pub fn draw() -> ObservedDraw {
    draw_with(&[])
}

/// The same with other marks.
pub fn draw_with(marks: &[(ItemId, DrawMark)]) -> ObservedDraw {
    let mut items: Vec<_> =
        key_points().into_iter().map(|item| DrawItem { item, mark: DrawMark::Done }).collect();
    for (item, mark) in marks {
        items.iter_mut().filter(|marked| marked.item == *item).for_each(|marked| marked.mark = *mark);
    }
    ObservedDraw {
        job: job(),
        version: Version(1),
        drawn_by: person("L"),
        watched_by: person("P"),
        setting: Setting::RealPatient,
        specimen: None,
        attempts: 1,
        taken_over: false,
        items,
        note: None,
        circumstances: practice::Circumstances::default(),
    }
}
