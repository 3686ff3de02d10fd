//! What people said of themselves before they were released, a release put off, and a release rule of the unit's own.

use std::collections::BTreeSet;

use jiff::ToSpan as _;
use jiff::civil::{DateTime, date};
use practice::{EventKind, PersonId, ReleaseRule, Scope};

use super::engine::Engine;
use super::jobs::Job;
use crate::calendar::minutes_after;
use crate::cast::{DECISION_DUE, SAFETY_POINT_MISSED, TRAINER_NORTH, TRAINER_SOUTH};
use crate::dice::Dice;
use crate::people::id;
use crate::{DemoEvent, identifier};

/// Adds the answers, the decision and the rule.
pub(crate) fn say(seed: u64, engine: &mut Engine<'_>) {
    let mut dice = Dice::new(seed, "own words");
    let job = engine.jobs.code(Job::Vein);
    let mut answered = BTreeSet::new();
    let mut answers: Vec<(DateTime, PersonId)> = Vec::new();
    for event in &engine.events {
        if let EventKind::Released(release) = &event.kind
            && release.job == job
            && release.scope == Scope::OwnPatients
            && answered.insert(release.person.clone())
        {
            // Asked in the hour before the trainer signs.
            let asked = event.happened.saturating_sub(55.minutes());
            answers.push((asked, release.person.clone()));
        }
    }
    answers.push((date(2026, 10, 30).at(14, 20, 0, 0), id(DECISION_DUE)));
    for (when, person) in answers {
        // Most are sure of themselves, some more than their draws bear out.
        let clean_of_ten = 10 - [0, 0, 0, 1, 1, 1, 1, 2, 2, 4][dice.below(10) as usize];
        let kind = EventKind::ConfidenceSaid { person: person.clone(), job: job.clone(), clean_of_ten };
        push(engine, when, person, kind, &mut dice);
    }
    let not_yet = EventKind::NotYet {
        person: id(SAFETY_POINT_MISSED),
        job,
        reason: "A safety point was missed in September: two more watched draws first".to_owned(),
    };
    push(engine, date(2026, 10, 20).at(15, 10, 0, 0), id(TRAINER_NORTH), not_yet, &mut dice);
    let rule = ReleaseRule {
        name: "five draws, last three clean, stock after twelve".to_owned(),
        version: 2,
        most_draws: 12,
        ..ReleaseRule::default()
    };
    let why =
        "On nights several learners had watched draws left after ten, and none of them was stuck".to_owned();
    let published = EventKind::RulePublished { rule: Box::new(rule), why };
    push(engine, date(2026, 3, 4).at(10, 30, 0, 0), id(TRAINER_SOUTH), published, &mut dice);
    engine.events.sort_by_key(|event| (event.recorded, event.id));
}

fn push(engine: &mut Engine<'_>, when: DateTime, by: PersonId, kind: EventKind, dice: &mut Dice) {
    let recorded = minutes_after(when, 2);
    let id = identifier::written_at(recorded, dice);
    engine.events.push(DemoEvent {
        id,
        happened: when,
        recorded,
        by,
        kind,
        corrects: None,
        correction_reason: None,
    });
}
