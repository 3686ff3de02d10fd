//! The roster file through the timetable's reader, and the draws of its weeks held against it.

use std::collections::BTreeSet;

use crate::rows::specimens;
use demo::{SEED, unit};
use jiff::civil::date;
use timetable::{Roster, RosterRow, RosterWords, Shift, ShiftTimes};

fn roster(unit: &demo::DemoUnit) -> Roster {
    let mut reader = csv::Reader::from_reader(unit.roster_csv.as_bytes());
    let headers = reader.headers().expect("a header").clone();
    let place = |name: &str| headers.iter().position(|header| header == name).expect("the column is there");
    let (person, day, shift) = (place("staff id"), place("date"), place("shift"));
    let rows: Vec<_> = (2usize..)
        .zip(reader.records())
        .map(|(line, row)| row.map(|row| (line, row)).expect("the row reads"))
        .map(|(line, row)| RosterRow {
            line,
            person: row[person].to_owned(),
            date: row[day].to_owned(),
            shift: row[shift].to_owned(),
        })
        .collect();
    let known: BTreeSet<_> = unit.people.iter().map(|person| person.id.clone()).collect();
    let read = Roster::read(&rows, &known, ShiftTimes::default(), &RosterWords::default());
    assert_eq!(read.faults, []);
    read.roster
}

#[test]
fn the_roster_file_reads_without_a_fault_and_spans_its_weeks() {
    let unit = unit(SEED).unwrap();
    let roster = roster(&unit);
    assert_eq!(roster.last_day(), Some(date(2026, 12, 27)));
    for person in &unit.people {
        let shifts = roster.shifts_of(&person.id, date(2026, 11, 2), date(2026, 11, 8)).len();
        assert_eq!(shifts, 3, "{}: three shifts a week", person.id);
    }
}

/// A roster can refute an attribution: nobody drew in a shift they did not work.
#[test]
fn whoever_drew_was_on_shift() {
    let unit = unit(SEED).unwrap();
    let roster = roster(&unit);
    let mut checked = 0;
    for (number, specimen) in specimens(&unit) {
        let Some(person) = unit.people.iter().find(|person| person.id.0 == specimen.collector) else {
            continue;
        };
        if specimen.collected.date() >= date(2026, 10, 6) {
            let shift = Shift::at(specimen.collected, ShiftTimes::default());
            assert!(roster.works(&person.id, shift), "{number}: {} at {}", person.id, specimen.collected);
            checked += 1;
        }
    }
    assert!(checked > 60, "{checked} draws checked");
}
