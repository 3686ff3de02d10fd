//! What `book show --json` and `people --json` write. Field names are a promise: docs/json.md describes them.

use ::book::{Body, Recorded};
use practice::{Corrected, Evidence, Level, Person, Scope, Standing};
use serde::Serialize;

use super::people::{People, kind_word, role_word};
use super::show::{Shown, about, person_of};
use crate::message::Message;

#[derive(Serialize)]
struct Entries {
    schema: u32,
    entries: Vec<Entry>,
}

#[derive(Serialize)]
struct Entry {
    number: u64,
    id: String,
    kind: &'static str,
    happened: String,
    recorded_at: String,
    by: String,
    person: Option<String>,
    job: Option<String>,
    says: String,
    corrects: Option<u64>,
    because: Option<String>,
    corrected_by: Option<u64>,
    hash: String,
}

/// Entries as JSON.
pub(super) fn entries(entries: &[&Recorded], shown: &Shown<'_>) -> Result<String, Message> {
    let entries = entries.iter().map(|entry| Entry {
        number: entry.seq(),
        id: entry.id().to_string(),
        kind: entry.body().kind(),
        happened: entry.happened().to_string(),
        recorded_at: entry.recorded_at().to_string(),
        by: entry.by().to_string(),
        person: person_of(entry.body()).map(ToString::to_string),
        job: job_of(entry.body()),
        says: shown.says(entry),
        corrects: entry.corrects().map(|earlier| shown.number(earlier)),
        because: entry.correction_reason().map(str::to_owned),
        corrected_by: shown.corrected_by(entry.id()),
        hash: entry.hash().to_owned(),
    });
    text(&Entries { schema: 1, entries: entries.collect() })
}

fn job_of(body: &Body) -> Option<String> {
    let Body::Practice(kind) = body else { return None };
    match kind {
        practice::EventKind::BreakdownPublished(breakdown) => Some(breakdown.code.0.clone()),
        kind => about(kind)?.1.map(|job| job.0.clone()),
    }
}

#[derive(Serialize)]
struct PeopleOnADay {
    schema: u32,
    as_of: String,
    release_rule: String,
    release_rule_version: u32,
    people: Vec<OnePerson>,
}

#[derive(Serialize)]
struct OnePerson {
    id: String,
    name: String,
    role: &'static str,
    unit: String,
    started: String,
    jobs: Vec<Job>,
}

#[derive(Serialize)]
struct Job {
    job: String,
    level: &'static str,
    may_draw_alone: bool,
    scope: Option<&'static str>,
    version: Option<u32>,
    since: Option<String>,
    on_word_of: Option<String>,
    needed_by: Option<String>,
    draws_counted: u16,
    clean_in_a_row: u16,
    next_scope: Option<&'static str>,
    rule_met: bool,
    missing: Vec<String>,
    next_check: Option<Due>,
    #[serde(skip_serializing_if = "Option::is_none")]
    evidence: Option<Vec<EvidenceItem>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    corrected: Option<Vec<CorrectedItem>>,
}

#[derive(Serialize)]
struct Due {
    on: String,
    why: String,
}

#[derive(Serialize)]
struct EvidenceItem {
    entry: String,
    date: String,
    kind: &'static str,
    by: String,
    says: String,
    does_not_count: Option<String>,
}

#[derive(Serialize)]
struct CorrectedItem {
    original: String,
    original_says: String,
    correction: String,
    correction_says: String,
    by: String,
    because: String,
}

/// Everybody as JSON, without the evidence.
pub(super) fn people(people: &People) -> Result<String, Message> {
    on_a_day(people, people.people.values().map(|person| one(people, person, false)).collect())
}

/// One person as JSON, with the evidence.
pub(super) fn person(people: &People, person: &Person) -> Result<String, Message> {
    on_a_day(people, vec![one(people, person, true)])
}

fn on_a_day(of: &People, people: Vec<OnePerson>) -> Result<String, Message> {
    text(&PeopleOnADay {
        schema: 1,
        as_of: of.today.to_string(),
        release_rule: of.rule.name.clone(),
        release_rule_version: of.rule.version,
        people,
    })
}

fn one(people: &People, person: &Person, with_evidence: bool) -> OnePerson {
    OnePerson {
        id: person.id.0.clone(),
        name: person.name.clone(),
        role: role_word(person.role),
        unit: person.unit.clone(),
        started: person.started.to_string(),
        jobs: people.of(&person.id).map(|standing| job(standing, with_evidence)).collect(),
    }
}

fn job(standing: &Standing, with_evidence: bool) -> Job {
    Job {
        job: standing.job.0.clone(),
        level: level_word(standing.level),
        may_draw_alone: standing.level.may_draw_alone(),
        scope: standing.scope.map(scope_word),
        version: standing.version.map(|version| version.0),
        since: standing.since.map(|since| since.to_string()),
        on_word_of: standing.on_word_of.as_ref().map(ToString::to_string),
        needed_by: standing.needed_by.map(|by| by.to_string()),
        draws_counted: standing.draws_counted,
        clean_in_a_row: standing.clean_in_a_row,
        next_scope: standing.next_scope.map(scope_word),
        rule_met: standing.rule_met,
        missing: standing.missing.clone(),
        next_check: standing
            .next_check
            .as_ref()
            .map(|due| Due { on: due.on.to_string(), why: due.why.clone() }),
        evidence: with_evidence.then(|| standing.evidence.iter().map(evidence).collect()),
        corrected: with_evidence.then(|| standing.corrected.iter().map(corrected).collect()),
    }
}

fn evidence(of: &Evidence) -> EvidenceItem {
    EvidenceItem {
        entry: of.event.0.clone(),
        date: of.date.to_string(),
        kind: kind_word(of.kind),
        by: of.by.0.clone(),
        says: of.sentence.clone(),
        does_not_count: of.does_not_count.clone(),
    }
}

fn corrected(of: &Corrected) -> CorrectedItem {
    CorrectedItem {
        original: of.original.0.clone(),
        original_says: of.original_sentence.clone(),
        correction: of.correction.0.clone(),
        correction_says: of.correction_sentence.clone(),
        by: of.by.0.clone(),
        because: of.reason.clone(),
    }
}

fn level_word(level: Level) -> &'static str {
    match level {
        Level::NotPlanned => "not-planned",
        Level::Planned => "planned",
        Level::Learning => "learning",
        Level::OwnPatients => "own-patients",
        Level::AllPatients => "all-patients",
        Level::MayPrecept => "may-precept",
        Level::ToBeUpdated => "to-be-updated",
        Level::Lapsed => "lapsed",
        Level::Withdrawn => "withdrawn",
        Level::Away => "away",
    }
}

fn scope_word(scope: Scope) -> &'static str {
    match scope {
        Scope::OwnPatients => "own-patients",
        Scope::AllPatients => "all-patients",
        Scope::MayPrecept => "may-precept",
    }
}

fn text(value: &impl Serialize) -> Result<String, Message> {
    let mut text = serde_json::to_string_pretty(value).map_err(|error| {
        Message::new(
            "JSON",
            error.to_string(),
            "values that can be written",
            "report this fault with the message above",
        )
    })?;
    text.push('\n');
    Ok(text)
}
