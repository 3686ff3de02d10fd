use breakdown::ItemId;
use desk::{Chance, DrawRow, EvidenceRow, JobStanding, PersonPage, PersonResults};
use jiff::civil::Date;
use practice::Role;
use typst::foundations::Value;

use crate::error::{PaperError, PaperName};
use crate::press::print;
use crate::printing::Printing;
use crate::value::{date, dict, list, named, optional, text, texts};
use crate::words::{clock, day, percent, percent_range, rate, short_day, shorten};

/// One person's record: for that person and the trainer only, and every page says so.
///
/// Said (teach-back), done (observed draw) and result (laboratory) stay apart, and a correction stands beside what
/// it corrects. `as_of` is the day for which the standing was worked out.
///
/// # Errors
/// [`PaperError::Date`] when `as_of` cannot be printed.
pub fn person_record(
    person: &PersonPage,
    as_of: Date,
    unit: &str,
    printing: &Printing,
) -> Result<Vec<u8>, PaperError> {
    let paper = PaperName::PersonRecord;
    let printed = date(as_of).ok_or(PaperError::Date { paper, year: as_of.year() })?;
    let role = match person.row.role {
        Role::Nurse => "Nurse",
        Role::Preceptor => "Preceptor",
        Role::Trainer => "Trainer",
    };
    let facts = dict([
        ("size", text(printing.size.name())),
        ("notice", optional(printing.notice)),
        ("date", printed),
        ("as-of", text(&day(as_of))),
        ("unit", text(unit)),
        ("name", text(&person.row.name)),
        ("name-short", text(&shorten(&person.row.name, 26))),
        ("id", text(&person.row.id.0)),
        ("role", text(role)),
        ("started", text(&day(person.row.started))),
        ("standings", list(person.row.standings.iter().map(standing))),
        ("practise", list(person.practise.iter().map(item))),
        ("draws", list(person.draws.iter().map(draw))),
        ("evidence", list(evidence(&person.evidence))),
        ("results", results(&person.results)),
    ]);
    print(paper, facts)
}

fn standing(standing: &JobStanding) -> Value {
    let next = standing.next.as_ref().map(|(when, what)| format!("{} on {}", what, day(*when)));
    named([
        ("job", text(&standing.job_name)),
        ("standing", text(&standing.standing)),
        ("short", text(&standing.short)),
        ("since", optional(standing.since.map(day).as_deref())),
        ("on-word-of", optional(standing.on_word_of.as_deref())),
        ("missing", texts(&standing.missing)),
        ("rule-met", Value::Bool(standing.rule_met)),
        ("next", optional(next.as_deref())),
        ("planned-by", optional(standing.planned_by.map(day).as_deref())),
    ])
}

fn item((place, words): &(ItemId, String)) -> Value {
    named([("place", text(&place.to_string())), ("words", text(words))])
}

fn draw(draw: &DrawRow) -> Value {
    let counts = draw.counts.as_ref().err().map(String::as_str);
    named([
        ("day", text(&short_day(draw.when.date()))),
        ("clock", text(&clock(draw.when))),
        ("job", text(&draw.job.0)),
        ("watched-by", text(&draw.watched_by)),
        ("spot-check", Value::Bool(draw.spot_check)),
        ("done", text(&draw.done.to_string())),
        ("seen", text(&draw.seen.to_string())),
        ("open", list(draw.open.iter().map(item))),
        ("not-counted", optional(counts)),
        ("result", optional(draw.result.as_deref())),
    ])
}

/// Every entry with its corrections directly after it. A correction whose entry is not in the list keeps its own
/// place, so that nothing is lost.
fn evidence(rows: &[EvidenceRow]) -> Vec<Value> {
    let mut ordered = Vec::new();
    let is_listed = |entry: &String| rows.iter().any(|row| row.entry == *entry);
    for row in rows {
        if row.corrects.as_ref().is_some_and(is_listed) {
            continue;
        }
        ordered.push(entry(row, false));
        let corrections = rows.iter().filter(|later| later.corrects.as_ref() == Some(&row.entry));
        ordered.extend(corrections.map(|later| entry(later, true)));
    }
    ordered
}

fn entry(row: &EvidenceRow, is_under: bool) -> Value {
    let corrected = row.corrected_by.as_ref();
    named([
        ("day", text(&short_day(row.when.date()))),
        ("clock", text(&clock(row.when))),
        ("entry", text(&short_entry(&row.entry))),
        ("kind", text(&row.kind)),
        ("what", text(&row.what)),
        ("by", text(&row.by)),
        ("corrected-by", optional(corrected.map(|(entry, _)| short_entry(entry)).as_deref())),
        ("reason", optional(corrected.map(|(_, reason)| reason.as_str()))),
        ("corrects", optional(row.corrects.as_deref().map(short_entry).as_deref())),
        ("under", Value::Bool(is_under)),
    ])
}

/// The last characters of an identifier: those of one day begin alike.
fn short_entry(entry: &str) -> String {
    let n_characters = entry.chars().count();
    if n_characters <= 12 { entry.to_owned() } else { entry.chars().skip(n_characters - 8).collect() }
}

fn results(results: &PersonResults) -> Value {
    named([
        ("contamination", rate(&results.contamination)),
        ("unknown", rate(&results.unknown_collectors)),
        ("chance", results.chance.as_ref().map_or(Value::None, chance)),
    ])
}

fn chance(chance: &Chance) -> Value {
    named([
        ("sentence", text(&chance.sentence)),
        ("unit-rate", text(&percent(chance.unit_rate))),
        ("at-least", text(&percent(chance.at_least_this_many))),
        ("shrunk", text(&percent(chance.shrunk))),
        ("shrunk-interval", text(&percent_range(chance.shrunk_interval.0, chance.shrunk_interval.1))),
        ("target", text(&percent(chance.target))),
        ("above-target", text(&percent(chance.above_target))),
        ("to-know", text(&chance.to_know())),
        ("anchors", texts(&chance.anchors)),
    ])
}
