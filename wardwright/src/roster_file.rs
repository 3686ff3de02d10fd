//! The roster in a data folder, whichever of its forms the unit keeps.

use std::collections::BTreeSet;

use jiff::ToSpan as _;
use practice::PersonId;
use timetable::{Duty, Roster};

use crate::folder::{Folder, read};
use crate::message::Message;
use crate::plan::Settings;

/// Tables, in the order in which they are looked for.
const TABLES: [&str; 2] = ["roster.csv", "roster.xlsx"];
const CALENDAR: &str = "roster.ics";
/// Days of a calendar before today and after it: repeated shifts have no end of their own.
const DAYS_BEFORE: i64 = 60;
const DAYS_AFTER: i64 = 366;

/// What the roster was read from, as it lies in the folder now: when a file was last written and how long it is.
pub fn stamp(folder: &Folder) -> Vec<(std::time::SystemTime, u64)> {
    let names = TABLES.into_iter().chain([CALENDAR, "plan.toml"]);
    names
        .map(|name| {
            std::fs::metadata(folder.path().join(name))
                .and_then(|file| Ok((file.modified()?, file.len())))
                .unwrap_or((std::time::SystemTime::UNIX_EPOCH, 0))
        })
        .collect()
}

/// The roster, where there is one. What cannot be read is named on standard error and the rest is used.
pub fn roster(folder: &Folder, known: &BTreeSet<PersonId>) -> Result<(Option<Roster>, Vec<String>), Message> {
    let (roster, problems) = read_roster(folder, known)?;
    for problem in &problems {
        eprintln!("{problem}");
    }
    Ok((roster, problems))
}

/// The roster, where there is one, and what could not be read of it.
fn read_roster(
    folder: &Folder,
    known: &BTreeSet<PersonId>,
) -> Result<(Option<Roster>, Vec<String>), Message> {
    let Settings { times, words, .. } = Settings::read(folder)?;
    let mut problems = Vec::new();
    for name in TABLES {
        let path = folder.path().join(name);
        if path.exists() {
            let file = exchange::roster::read(&read(&path)?);
            let rows = Roster::read(&file.rows, known, times, &words);
            for (line, why) in &file.unread {
                let place = line.map_or_else(|| name.to_owned(), |line| format!("{name}, line {line}"));
                problems.push(format!("{place}: {why}"));
            }
            problems.extend(rows.faults.iter().map(|fault| format!("{name}, {fault}")));
            return Ok((Some(rows.roster), problems));
        }
    }
    let path = folder.path().join(CALENDAR);
    if !path.exists() {
        return Ok((None, problems));
    }
    let today = folder.today();
    let (from, until) = (today.saturating_sub(DAYS_BEFORE.days()), today.saturating_add(DAYS_AFTER.days()));
    let zone = folder.settings().timezone.as_deref();
    let file = exchange::roster::read_calendar(&read(&path)?, zone, from, until);
    for (event, why) in &file.unread {
        let place = if event.is_empty() { CALENDAR.to_owned() } else { format!("{CALENDAR}, event {event}") };
        problems.push(format!("{place}: {why}"));
    }
    let mut unknown = BTreeSet::new();
    let mut duties = Vec::with_capacity(file.duties.len());
    for duty in file.duties {
        let person = PersonId(duty.person);
        if known.contains(&person) {
            duties.push(Duty { from: duty.from, to: duty.to, person });
        } else if unknown.insert(person.clone()) {
            problems.push(format!(
                "{CALENDAR}, event {}: found {:?}, whom the book does not know; expected the staff identifier of a \
                 person of the unit; what to do: correct the attendee or the summary, or add the person to the book",
                duty.event, person.0
            ));
        }
    }
    Ok((Some(Roster::from_duties(duties, times)), problems))
}
