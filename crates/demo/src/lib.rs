//! The invented demo unit, the same every time from one seed.
//!
//! Everything here is made up: the unit, its people, its patients, its laboratory. One seed gives one story, byte
//! for byte the same on every machine, so that pages, papers and tests can be compared. The room is pure: it opens
//! no file and reads no clock.

mod breakdowns;
mod calendar;
mod cast;
mod dice;
mod identifier;
mod laboratory;
mod people;
mod story;
mod unit;

use jiff::civil::{Date, DateTime};
use practice::{Event, EventId, EventKind, Person, PersonId};

pub use cast::Cast;
pub use people::{NORTH, SOUTH, STEP_DOWN};
pub use unit::{SEED, unit};

/// The unit with everything a trainer would have by today.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoUnit {
    /// Name of the invented unit.
    pub unit_name: String,
    /// The day on which the story is told.
    pub today: Date,
    /// Day on which training with the breakdowns started.
    pub training_started: Date,
    /// Everybody who works or learns here, in the order of their identifiers.
    pub people: Vec<Person>,
    /// What happened, in the order it was written down.
    pub events: Vec<DemoEvent>,
    /// What the laboratory sent, in the order it arrived.
    pub laboratory_files: Vec<LaboratoryFile>,
    /// The mapping file that reads the laboratory's files.
    pub mapping_toml: String,
    /// Shifts of the last four and the next eight weeks.
    pub roster_csv: String,
    /// The breakdown files, every version, in the order they came into force.
    pub breakdown_files: Vec<BreakdownFile>,
    /// People whose stories the demo tells.
    pub cast: Cast,
    /// Rows of the laboratory's files that cannot be read, on purpose.
    pub unreadable: Vec<UnreadableRow>,
    /// Draws made alone before release, with the entry whose note says so.
    pub drawn_alone: Vec<DrawnAlone>,
}

/// One entry for the record book.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoEvent {
    /// UUID version 7 of the moment it was written down (RFC 9562).
    pub id: [u8; 16],
    /// When it happened, unit's local time.
    pub happened: DateTime,
    /// When it was written down, unit's local time.
    pub recorded: DateTime,
    /// Who wrote it down.
    pub by: PersonId,
    /// What happened.
    pub kind: EventKind,
    /// The entry it replaces, when it is a correction.
    pub corrects: Option<[u8; 16]>,
    /// Why it was corrected.
    pub correction_reason: Option<String>,
}

impl DemoEvent {
    /// The same entry as the rules of practice read it.
    pub fn to_event(&self) -> Event {
        Event {
            id: EventId(identifier::text(self.id)),
            happened: self.happened,
            by: self.by.clone(),
            kind: self.kind.clone(),
            corrects: self.corrects.map(|id| EventId(identifier::text(id))),
            correction_reason: self.correction_reason.clone(),
        }
    }
}

/// A file as the laboratory sent it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaboratoryFile {
    /// File name.
    pub name: String,
    /// When the trainer took it in, unit's local time.
    pub taken_in: DateTime,
    /// Its text.
    pub text: String,
}

/// A breakdown as a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BreakdownFile {
    /// File name.
    pub name: String,
    /// Its text.
    pub text: String,
}

/// A row that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnreadableRow {
    /// File it stands in.
    pub file: String,
    /// Its line, counted from 1.
    pub line: usize,
    /// What is wrong with it.
    pub what: String,
}

/// A draw made alone before release.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawnAlone {
    /// Who drew.
    pub person: PersonId,
    /// The laboratory's specimen number.
    pub specimen: String,
    /// The entry whose note records it.
    pub entry: EventId,
}

/// Why the demo unit could not be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DemoError {
    /// A breakdown that comes with the program does not read; the program was built from a faulty file.
    #[error("breakdown {file}: {faults}")]
    Breakdown {
        /// File name.
        file: String,
        /// Its faults, one a line.
        faults: String,
    },
}
