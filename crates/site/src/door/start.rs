//! What the pages that begin a unit ask the program.

use std::sync::Arc;

use breakdown::Breakdown;
use practice::{Person, PersonId};

use super::{Desk, DeskError, Draft, Recording, Refusal};
use crate::keeper::Doorkeeper;

/// The beginning of a unit's record: people, the first breakdown, the first date.
pub trait StartDesk {
    /// How far the unit has come.
    fn beginning(&self) -> Result<Beginning, DeskError>;

    /// Reads a list of people, CSV or XLSX, and holds each row against the book. Nothing is written.
    fn read_people(&self, file: &[u8]) -> Result<PeopleRead, DeskError>;

    /// Writes people into the book, all or none. The first may stand on the word of a trainer among them.
    fn take_in_people(&self, drafts: &[Draft]) -> Result<Recording, DeskError>;

    /// Breakdowns that come along, ready to be held against local policy and published.
    fn ready_breakdowns(&self) -> Vec<Breakdown>;
}

/// How far a unit has come.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Beginning {
    /// People on the unit.
    pub people: usize,
    /// Those of them who may publish and plan, by identifier and name.
    pub trainers: Vec<(PersonId, String)>,
    /// Jobs with a published breakdown, by code and name.
    pub jobs: Vec<(breakdown::JobCode, String)>,
    /// People with a job on the timetable.
    pub planned: usize,
    /// True when there is a roster.
    pub has_roster: bool,
    /// Sets that the laboratory found.
    pub sets: usize,
}

impl Beginning {
    /// True when the first learner is planned: from then on the first page leads.
    pub fn is_done(&self) -> bool {
        self.people > 0 && !self.jobs.is_empty() && self.planned > 0
    }
}

/// A list of people as it was read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PeopleRead {
    /// Its rows, in the order of the file.
    pub rows: Vec<PersonRead>,
    /// What could not be read as a row at all.
    pub unread: Vec<Refusal>,
}

/// One row, beside what it was read as.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonRead {
    /// Line of the file.
    pub line: u64,
    /// Staff identifier, name, role and first day as they stand there.
    pub found: [String; 4],
    /// What becomes of it.
    pub reading: Reading,
}

/// What becomes of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    /// A person who can be taken in, with what was assumed in words.
    New(Person, Vec<String>),
    /// Somebody whom the book has already; nothing is changed.
    Known(String),
    /// Why it cannot be taken in.
    Refused(Vec<Refusal>),
}

/// Makes the data folder of a unit whose pages were started in an empty one.
pub trait Founder: Send + Sync {
    /// Where it will lie, in words.
    fn place(&self) -> String;

    /// The time zone of this machine by its name, where that is known.
    fn machine_zone(&self) -> Option<String>;

    /// Names of time zones to choose from.
    fn zones(&self) -> Vec<String>;

    /// Makes it, and opens its pages. Nothing is written where something is refused.
    fn found(&self, unit: &str, zone: &str) -> Result<Opened, Vec<Refusal>>;
}

/// A desk and who knows its accounts.
pub type Opened = (Arc<dyn Desk>, Arc<dyn Doorkeeper>);
