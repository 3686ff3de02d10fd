//! The roster in a data folder, whichever of its forms the unit keeps.

use std::collections::BTreeSet;

use jiff::ToSpan as _;
use practice::PersonId;
use timetable::{Duty, Roster, ShiftTimes};

use crate::folder::{Folder, read};
use crate::message::Message;

/// Tables, in the order in which they are looked for.
const TABLES: [&str; 2] = ["roster.csv", "roster.xlsx"];
const CALENDAR: &str = "roster.ics";
/// Days of a calendar before today and after it: repeated shifts have no end of their own.
const DAYS_BEFORE: i64 = 60;
const DAYS_AFTER: i64 = 366;

/// The roster, where there is one. What cannot be read is named on standard error and the rest is used.
pub fn roster(folder: &Folder, known: &BTreeSet<PersonId>) -> Result<Option<Roster>, Message> {
    let times = ShiftTimes::default();
    for name in TABLES {
        let path = folder.path().join(name);
        if path.exists() {
            let file = exchange::roster::read(&read(&path)?);
            let rows = Roster::read(&file.rows, known, times);
            for (line, why) in &file.unread {
                let place = line.map_or_else(|| name.to_owned(), |line| format!("{name}, line {line}"));
                eprintln!("{place}: {why}");
            }
            for fault in &rows.faults {
                eprintln!("{name}, {fault}");
            }
            return Ok(Some(rows.roster));
        }
    }
    let path = folder.path().join(CALENDAR);
    if !path.exists() {
        return Ok(None);
    }
    let today = folder.today();
    let (from, until) = (today.saturating_sub(DAYS_BEFORE.days()), today.saturating_add(DAYS_AFTER.days()));
    let file = exchange::roster::read_calendar(&read(&path)?, None, from, until);
    for (event, why) in &file.unread {
        let place = if event.is_empty() { CALENDAR.to_owned() } else { format!("{CALENDAR}, event {event}") };
        eprintln!("{place}: {why}");
    }
    let mut unknown = BTreeSet::new();
    let mut duties = Vec::with_capacity(file.duties.len());
    for duty in file.duties {
        let person = PersonId(duty.person);
        if known.contains(&person) {
            duties.push(Duty { from: duty.from, to: duty.to, person });
        } else if unknown.insert(person.clone()) {
            eprintln!(
                "{CALENDAR}, event {}: found {:?}, whom the book does not know; expected the staff identifier of a \
                 person of the unit; what to do: correct the attendee or the summary, or add the person to the book",
                duty.event, person.0
            );
        }
    }
    Ok(Some(Roster::from_duties(duties, times)))
}
