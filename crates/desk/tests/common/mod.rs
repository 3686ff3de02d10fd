//! An invented unit of three people, small enough to count by hand.

#![allow(dead_code, reason = "each test file uses a part, so no expectation would hold in all of them")]

use breakdown::{Breakdown, ItemId, JobCode, KeyPoint, KeyPointKind, Step, Version};
use culture::{Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, RuleSet, SetId};
use desk::Material;
use jiff::civil::{Date, DateTime};
use practice::*;
use teachback::{Mark, TeachBack, TeachBackItem};

pub const TRAINER: &str = "T";
pub const PRECEPTOR: &str = "P";
pub const LEARNER: &str = "L";

pub fn day(text: &str) -> Date {
    text.parse().unwrap()
}

pub fn person(id: &str) -> PersonId {
    PersonId(id.to_owned())
}

pub fn job(code: &str) -> JobCode {
    JobCode(code.to_owned())
}

fn moment(text: &str) -> DateTime {
    if text.contains('T') { text.parse().unwrap() } else { day(text).at(9, 0, 0, 0) }
}

/// One step with one safety point.
fn breakdown(code: &str, name: &str) -> Breakdown {
    let point = KeyPoint {
        label: None,
        kind: KeyPointKind::Safety,
        text: "let the skin dry".to_owned(),
        reasons: vec!["wet skin still holds bacteria".to_owned()],
        quantities: Vec::new(),
        line: 1,
    };
    Breakdown {
        job: name.to_owned(),
        code: job(code),
        version: Version(1),
        effective: None,
        author: None,
        approved_by: None,
        change: None,
        cautions: Vec::new(),
        supplies: Vec::new(),
        steps: vec![Step { name: "Clean the skin".to_owned(), key_points: vec![point], line: 1 }],
        orders: Vec::new(),
        synonyms: Vec::new(),
    }
}

fn added(id: &str, name: &str, role: Role) -> EventKind {
    EventKind::PersonAdded(Person {
        id: person(id),
        name: name.to_owned(),
        role,
        unit: "Invented unit".to_owned(),
        started: day("2026-01-01"),
    })
}

fn drawn(watched_by: &str) -> ObservedDraw {
    ObservedDraw {
        job: job("vein"),
        version: Version(1),
        drawn_by: person(LEARNER),
        watched_by: person(watched_by),
        setting: Setting::RealPatient,
        specimen: None,
        attempts: 1,
        taken_over: false,
        items: vec![DrawItem { item: ItemId::key_point(1, 1), mark: DrawMark::Done }],
        note: None,
        circumstances: practice::Circumstances::default(),
    }
}

fn said() -> EventKind {
    let items = [ItemId::step(1), ItemId::key_point(1, 1)]
        .into_iter()
        .map(|item| TeachBackItem { item, mark: Mark::Unprompted, at_s: None })
        .collect();
    EventKind::TeachBackHeard {
        person: person(LEARNER),
        teachback: TeachBack::heard(job("vein"), Version(1), items, None),
    }
}

fn released(id: &str, scope: Scope) -> EventKind {
    EventKind::Released(Release {
        person: person(id),
        job: job("vein"),
        version: Version(1),
        scope,
        reason: None,
    })
}

/// A trainer, a preceptor who is also to learn the central line, and a learner who is released on 1 February 2026 after
/// two teach-backs, four draws watched by the preceptor and one by the trainer.
pub fn history() -> History {
    let planned = |id: &str, code: &str, by: &str| EventKind::Planned {
        person: person(id),
        job: job(code),
        by: day(by),
    };
    let told = [
        ("2026-01-01", TRAINER, added(TRAINER, "Tamsin Ode", Role::Trainer)),
        ("2026-01-01", TRAINER, added(PRECEPTOR, "Pell Orrin", Role::Preceptor)),
        ("2026-01-01", TRAINER, added(LEARNER, "Lio Marsh", Role::Nurse)),
        (
            "2026-01-01",
            TRAINER,
            EventKind::BreakdownPublished(Box::new(breakdown("vein", "Draw one set from a vein"))),
        ),
        (
            "2026-01-01",
            TRAINER,
            EventKind::BreakdownPublished(Box::new(breakdown(
                "central-line",
                "Draw one set from a central line",
            ))),
        ),
        ("2026-01-01", TRAINER, released(PRECEPTOR, Scope::MayPrecept)),
        ("2026-01-02", TRAINER, planned(LEARNER, "vein", "2026-02-14")),
        ("2026-01-02", TRAINER, planned(PRECEPTOR, "central-line", "2026-04-15")),
        ("2026-01-05", TRAINER, said()),
        ("2026-01-06", TRAINER, said()),
        ("2026-01-07", PRECEPTOR, EventKind::DrawObserved(drawn(PRECEPTOR))),
        ("2026-01-08", PRECEPTOR, EventKind::DrawObserved(drawn(PRECEPTOR))),
        ("2026-01-09", PRECEPTOR, EventKind::DrawObserved(drawn(PRECEPTOR))),
        ("2026-01-10", PRECEPTOR, EventKind::DrawObserved(drawn(PRECEPTOR))),
        ("2026-01-11", TRAINER, EventKind::SpotChecked(SpotCheck(drawn(TRAINER)))),
        ("2026-02-01T07:00", TRAINER, released(LEARNER, Scope::OwnPatients)),
    ];
    let events = (1..)
        .zip(told)
        .map(|(number, (when, by, kind))| Event {
            id: EventId(format!("e{number}")),
            happened: moment(when),
            by: person(by),
            kind,
            corrects: None,
            correction_reason: None,
        })
        .collect();
    History { events, laboratory_draws: None }
}

/// A final vein set of an adult, without growth where no organism is named.
pub fn set(
    id: &str,
    patient: &str,
    when: &str,
    collector: Option<&str>,
    organism: Option<&str>,
) -> CultureSet {
    CultureSet {
        id: SetId(id.to_owned()),
        patient: PatientKey(patient.to_owned()),
        collected: if when.contains('T') { Collected::At(moment(when)) } else { Collected::On(day(when)) },
        received: None,
        unit: Some("Invented unit".to_owned()),
        collector: collector.map(str::to_owned),
        route: Some(Route::Vein),
        specimen: culture::Specimen::Blood,
        age_years: Some(60.0),
        status: ReportStatus::Final,
        bottles: Vec::new(),
        positive_after_s: None,
        isolates: organism.map(|name| Isolate { reported_name: name.to_owned() }).into_iter().collect(),
    }
}

/// The unit on a day, with a release rule that takes stock after five draws.
pub fn material(today: &str, sets: Vec<CultureSet>) -> Material {
    let history = history();
    let events = history.events.into_iter().filter(|event| event.happened.date() <= day(today)).collect();
    Material {
        unit: "Invented unit".to_owned(),
        today: day(today),
        history: History { events, laboratory_draws: None },
        sets,
        rules: RuleSet::ready("adult-24h").unwrap(),
        release_rule: ReleaseRule { most_draws: 5, ..ReleaseRule::default() },
        roster: None,
        training_started: Some(day("2026-02-01")),
    }
}
