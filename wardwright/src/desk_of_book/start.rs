//! What the pages that begin a unit ask.

use std::collections::BTreeMap;

use ::breakdown::Breakdown;
use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use practice::{Person, PersonId, Role};
use site::{Beginning, DeskError, Draft, PeopleRead, PersonRead, Reading, Recording, Refusal, StartDesk};

use super::{DeskOfBook, failed};

/// Breakdowns that come along. They are of an invented unit: whoever publishes one answers for it.
const READY: [&str; 2] =
    [include_str!("../../../breakdowns/vein.txt"), include_str!("../../../breakdowns/central-line.txt")];
/// Who wrote a breakdown that came along.
const READY_AUTHOR: &str = "came along with the program; held against local policy by the unit";
/// Longest staff identifier and name.
const LONGEST_ID: usize = 64;
const LONGEST_NAME: usize = 120;
/// The earliest first day that is taken: an earlier one is a slip.
const EARLIEST: Date = date(1950, 1, 1);
const ROSTERS: [&str; 3] = ["roster.csv", "roster.xlsx", "roster.ics"];

impl StartDesk for DeskOfBook {
    fn beginning(&self) -> Result<Beginning, DeskError> {
        let facts = self.facts().map_err(failed)?;
        let people = facts.people();
        let trainers = people.iter().filter(|row| row.role == Role::Trainer);
        let is_planned = |row: &&desk::PersonRow| row.standings.iter().any(|each| each.planned_by.is_some());
        Ok(Beginning {
            people: people.len(),
            trainers: trainers.map(|row| (row.id.clone(), row.name.clone())).collect(),
            jobs: facts.jobs().to_vec(),
            planned: people.iter().filter(is_planned).count(),
            has_roster: ROSTERS.iter().any(|name| self.folder().path().join(name).exists()),
            sets: facts.sets().len(),
        })
    }

    fn read_people(&self, file: &[u8]) -> Result<PeopleRead, DeskError> {
        let facts = self.facts().map_err(failed)?;
        let known = facts.people().into_iter().map(|row| (row.id.0, row.name)).collect();
        Ok(read(file, &known, &self.folder().settings().unit, self.folder().today()))
    }

    fn take_in_people(&self, drafts: &[Draft]) -> Result<Recording, DeskError> {
        let _writing = self.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        crate::recording::take_in_people(self.folder(), drafts, self.folder().now()).map_err(failed)
    }

    fn ready_breakdowns(&self) -> Vec<Breakdown> {
        let ready = READY.iter().filter_map(|text| ::breakdown::parse(text).sound().cloned());
        ready
            .map(|job| Breakdown {
                effective: None,
                author: Some(READY_AUTHOR.to_owned()),
                approved_by: None,
                ..job
            })
            .collect()
    }
}

/// Reads a list of people against those known by identifier and name.
fn read(file: &[u8], known: &BTreeMap<String, String>, unit: &str, today: Date) -> PeopleRead {
    let file = exchange::people::read(file);
    let unread = file.unread.into_iter().map(|(line, why)| {
        let place = line.map_or_else(|| "the list".to_owned(), |line| format!("line {line}"));
        Refusal::new(
            place,
            why,
            format!(
                "the columns {} in the first row, and as many cells in each",
                exchange::people::COLUMNS.join(", ")
            ),
            "correct it and hand the list in again",
        )
    });
    let mut first_line: BTreeMap<String, u64> = BTreeMap::new();
    let mut rows = Vec::with_capacity(file.rows.len());
    for row in file.rows {
        let found = [row.id.clone(), row.name.clone(), row.role.clone(), row.started.clone()];
        let reading = match (known.get(&row.id), first_line.get(&row.id)) {
            (Some(name), _) if *name == row.name => Reading::Known("on the unit already".to_owned()),
            (Some(name), _) => Reading::Known(format!("on the unit already, as {name}; nothing is changed")),
            (None, Some(line)) => Reading::Refused(vec![Refusal::new(
                "staff id",
                format!("“{}”, which line {line} has already", row.id),
                "an identifier of their own for each person",
                "correct one of the two rows",
            )]),
            (None, None) => {
                first_line.insert(row.id.clone(), row.line);
                one(&found, unit, today)
            }
        };
        rows.push(PersonRead { line: row.line, found, reading });
    }
    PeopleRead { rows, unread: unread.collect() }
}

fn one([id, name, role, started]: &[String; 4], unit: &str, today: Date) -> Reading {
    let mut faults = Vec::new();
    let mut assumed = Vec::new();
    faults.extend(plain("staff id", id, LONGEST_ID));
    faults.extend(plain("name", name, LONGEST_NAME));
    let role = match role.to_lowercase().as_str() {
        "" => {
            assumed.push("nurse, as no role is given".to_owned());
            Role::Nurse
        }
        "nurse" => Role::Nurse,
        "preceptor" => Role::Preceptor,
        "trainer" => Role::Trainer,
        _ => {
            faults.push(Refusal::new(
                "role",
                format!("“{role}”"),
                "nurse, preceptor or trainer",
                "write one of these, or leave it empty for a nurse",
            ));
            Role::Nurse
        }
    };
    let started = match (started.as_str(), day(started)) {
        ("", _) => {
            assumed.push("from today, as no first day is given".to_owned());
            today
        }
        (_, Some(day)) if day >= EARLIEST && day <= today.saturating_add(1.years()) => day,
        (written, _) => {
            faults.push(Refusal::new(
                "started",
                format!("“{written}”"),
                "a day such as 2026-03-02 or 2 March 2026, from 1950 to a year from now",
                "write the month in letters, or the year first: 03/02/2026 can be read in two ways",
            ));
            today
        }
    };
    if !faults.is_empty() {
        return Reading::Refused(faults);
    }
    let person =
        Person { id: PersonId(id.clone()), name: name.clone(), role, unit: unit.to_owned(), started };
    Reading::New(person, assumed)
}

/// A day that can be read in one way only.
fn day(written: &str) -> Option<Date> {
    let by_name = ["%d %B %Y", "%d %b %Y"].iter().find_map(|format| Date::strptime(format, written).ok());
    written.parse().ok().or(by_name)
}

/// Text of one line that does not turn the direction of what stands around it.
fn plain(place: &str, text: &str, longest: usize) -> Option<Refusal> {
    let n_characters = text.chars().count();
    let turns =
        |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}');
    let (found, expected) = if text.is_empty() {
        ("nothing".to_owned(), format!("1 to {longest} characters"))
    } else if n_characters > longest {
        (format!("{n_characters} characters"), format!("at most {longest} characters"))
    } else if text.chars().any(|c| c.is_control() || turns(c)) {
        ("a control character".to_owned(), "letters, digits, blanks and signs on one line".to_owned())
    } else {
        return None;
    };
    Some(Refusal::new(place, found, expected, "correct the row"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TODAY: Date = date(2026, 3, 3);

    fn reading(text: &str) -> PeopleRead {
        let known = BTreeMap::from([("n001".to_owned(), "Odile Brackmoor".to_owned())]);
        read(text.as_bytes(), &known, "Invented unit", TODAY)
    }

    #[test]
    fn every_row_says_what_becomes_of_it() {
        let read = reading(
            "staff id,name,role,started\nn001,Odile Brackmoor,trainer,\nt1,Ansa,Trainer,2 March 2020\nt1,Twin,nurse,\n\
             ,No id,nurse,\nx,\u{202e}Turned,nurse,\ny,Y,chief,\nz,Z,,03/02/2026\nw,דנה שדה 👩🏽‍⚕️,,2025-01-31\n",
        );
        let words: Vec<String> = read
            .rows
            .iter()
            .map(|row| match &row.reading {
                Reading::New(person, assumed) => {
                    format!("{} {:?} {} {}", person.id, person.role, person.started, assumed.join(";"))
                }
                Reading::Known(what) => what.clone(),
                Reading::Refused(faults) => {
                    faults.iter().map(|fault| format!("{}: {};", fault.place, fault.found)).collect()
                }
            })
            .collect();
        assert_eq!(
            words,
            [
                "on the unit already",
                "t1 Trainer 2020-03-02 ",
                "staff id: “t1”, which line 3 has already;",
                "staff id: nothing;",
                "name: a control character;",
                "role: “chief”;",
                "started: “03/02/2026”;",
                "w Nurse 2025-01-31 nurse, as no role is given",
            ]
        );
    }

    #[test]
    fn what_comes_along_is_sound_and_of_no_invented_unit() {
        for text in READY {
            let parsed = ::breakdown::parse(text);
            assert!(parsed.sound().is_some());
        }
    }
}
