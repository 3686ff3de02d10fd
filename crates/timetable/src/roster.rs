use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime, Time};
use practice::PersonId;

use crate::shift::{Shift, ShiftTimes};

/// One stretch of work, from its start up to but not including its end. The unit's local time.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Duty {
    /// When it begins.
    pub from: DateTime,
    /// When it ends.
    pub to: DateTime,
    /// Who works.
    pub person: PersonId,
}

/// One row of a roster file, as the file says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RosterRow {
    /// Line of the file, counted from 1.
    pub line: usize,
    /// Staff identifier.
    pub person: String,
    /// Day on which the shift begins.
    pub date: String,
    /// Name of a shift, or another word for a stretch of work.
    pub shift: String,
}

/// Words of a roster other than the shifts' names, each with its hours.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RosterWords {
    hours: BTreeMap<String, (Time, Time)>,
}

impl RosterWords {
    /// Words with the hours they stand for; one that ends no later than it begins ends on the next day.
    pub fn new(words: impl IntoIterator<Item = (String, Time, Time)>) -> RosterWords {
        let hours =
            words.into_iter().map(|(word, from, to)| (word.trim().to_lowercase(), (from, to))).collect();
        RosterWords { hours }
    }

    fn span(&self, word: &str, on: Date) -> Option<(DateTime, DateTime)> {
        let (from, to) = *self.hours.get(word)?;
        let ends = if to <= from { on.saturating_add(1.day()) } else { on };
        Some((on.to_datetime(from), ends.to_datetime(to)))
    }
}

/// What a row could not give.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RosterFault {
    /// Line of the file, counted from 1.
    pub line: usize,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub what_to_do: String,
}

impl fmt::Display for RosterFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let RosterFault { line, found, expected, what_to_do } = self;
        write!(f, "line {line}: found {found}; expected {expected}; what to do: {what_to_do}")
    }
}

/// A roster read from rows: what could be read, and every row that could not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RosterRows {
    /// What could be read.
    pub roster: Roster,
    /// Rows left out, each with the reason.
    pub faults: Vec<RosterFault>,
}

/// Who works when.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Roster {
    times: ShiftTimes,
    duties: BTreeSet<Duty>,
    on_shift: BTreeMap<Shift, BTreeSet<PersonId>>,
}

impl Roster {
    /// A roster from spans of work. A person is on a shift when they work at least half of it; a span that ends before
    /// it begins is left out, for the reader of the file has named it.
    pub fn from_duties(duties: impl IntoIterator<Item = Duty>, times: ShiftTimes) -> Roster {
        let duties: BTreeSet<Duty> = duties.into_iter().filter(|duty| duty.from < duty.to).collect();
        let mut worked: BTreeMap<(Shift, PersonId), i64> = BTreeMap::new();
        for duty in &duties {
            let mut shift = Shift::at(duty.from, times);
            while shift.start(times) < duty.to {
                let overlap = minutes(duty.from.max(shift.start(times)), duty.to.min(shift.end(times)));
                *worked.entry((shift, duty.person.clone())).or_default() += overlap;
                // At the end of the calendar a shift has no next one.
                if shift.next(times) == shift {
                    break;
                }
                shift = shift.next(times);
            }
        }
        let mut on_shift: BTreeMap<Shift, BTreeSet<PersonId>> = BTreeMap::new();
        for ((shift, person), worked) in worked {
            if 2 * worked >= minutes(shift.start(times), shift.end(times)) {
                on_shift.entry(shift).or_default().insert(person);
            }
        }
        Roster { times, duties, on_shift }
    }

    /// Reads rows with a date and a shift word. `known` are the people of the unit; a row about anyone else is a fault.
    pub fn read(
        rows: &[RosterRow],
        known: &BTreeSet<PersonId>,
        times: ShiftTimes,
        words: &RosterWords,
    ) -> RosterRows {
        let mut faults = Vec::new();
        let mut first_line: BTreeMap<Duty, usize> = BTreeMap::new();
        for row in rows {
            match row.duty(known, times, words) {
                Err(fault) => faults.push(fault),
                Ok(duty) => match first_line.get(&duty) {
                    Some(line) => faults.push(row.fault(
                        format!("the same shift of {} as on line {line}", row.person),
                        "each shift of a person once",
                        "remove one of the two rows",
                    )),
                    None => {
                        first_line.insert(duty, row.line);
                    }
                },
            }
        }
        RosterRows { roster: Roster::from_duties(first_line.into_keys(), times), faults }
    }

    /// When its shifts begin and end.
    pub fn times(&self) -> ShiftTimes {
        self.times
    }

    /// Everybody at work at a moment, each once, by the spans of work and not by shifts.
    pub fn at(&self, moment: DateTime) -> BTreeSet<&PersonId> {
        self.duties
            .iter()
            .take_while(|duty| duty.from <= moment)
            .filter(|duty| moment < duty.to)
            .map(|duty| &duty.person)
            .collect()
    }

    /// Every span of work, by its start.
    pub fn duties(&self) -> impl Iterator<Item = &Duty> {
        self.duties.iter()
    }

    /// Everybody who works at least half of a shift.
    pub fn on(&self, shift: Shift) -> impl Iterator<Item = &PersonId> {
        self.on_shift.get(&shift).into_iter().flatten()
    }

    /// Whether a person works at least half of a shift.
    pub fn works(&self, person: &PersonId, shift: Shift) -> bool {
        self.on_shift.get(&shift).is_some_and(|people| people.contains(person))
    }

    /// Shifts of a person that begin on a day from `from` to `to`, both included.
    pub fn shifts_of(&self, person: &PersonId, from: Date, to: Date) -> Vec<Shift> {
        let within = |shift: &Shift| (from..=to).contains(&shift.on);
        self.on_shift
            .iter()
            .filter(|(shift, people)| within(shift) && people.contains(person))
            .map(|(shift, _)| *shift)
            .collect()
    }

    /// Last day on which anybody's shift begins; a forecast beyond it has no roster to go by.
    pub fn last_day(&self) -> Option<Date> {
        self.on_shift.keys().next_back().map(|shift| shift.on)
    }
}

impl RosterRow {
    fn duty(
        &self,
        known: &BTreeSet<PersonId>,
        times: ShiftTimes,
        words: &RosterWords,
    ) -> Result<Duty, RosterFault> {
        let person = PersonId(self.person.trim().to_owned());
        if !known.contains(&person) {
            return Err(self.fault(
                format!("{:?}, whom the book does not know", self.person),
                "the staff identifier of a person of the unit",
                "correct the identifier, or add the person to the book",
            ));
        }
        let on: Date = self.date.trim().parse().map_err(|_| {
            let found = format!("the date {:?}", self.date);
            self.fault(found, "a date such as 2026-01-31", "write the day as year, month and day")
        })?;
        let word = self.shift.trim().to_lowercase();
        if let Some(kind) = times.kind(&word) {
            let shift = Shift { on, kind };
            return Ok(Duty { from: shift.start(times), to: shift.end(times), person });
        }
        if let Some((from, to)) = words.span(&word, on) {
            return Ok(Duty { from, to, person });
        }
        let names: Vec<String> = times.kinds().map(|kind| kind.words().to_owned()).collect();
        Err(self.fault(
            format!("the shift {:?}", self.shift),
            &names.join(" or "),
            "correct the word, or give its hours in plan.toml",
        ))
    }

    fn fault(&self, found: String, expected: &str, what_to_do: &str) -> RosterFault {
        RosterFault {
            line: self.line,
            found,
            expected: expected.to_owned(),
            what_to_do: what_to_do.to_owned(),
        }
    }
}

/// Minutes from one civil time to another, on a clock that is not moved; 0 when the second is earlier.
fn minutes(from: DateTime, to: DateTime) -> i64 {
    (from.duration_until(to).as_secs() / 60).max(0)
}
