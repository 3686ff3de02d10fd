use desk::PublishedMonth;
use jiff::civil::{Date, DateTime};
use practice::PersonId;
use uuid::Uuid;

use super::{DeskError, Recording};

/// What a month's report asks about its publication.
pub trait PublishedDesk {
    /// Publications of a month's report, latest first.
    fn published(&self, month: Date) -> Result<Vec<PublishedMonth>, DeskError>;

    /// Who may publish a report: the trainers on the unit.
    fn publishers(&self) -> Result<Vec<(PersonId, String)>, DeskError>;

    /// Writes a publication into the record book, with the figures of today. The same publication sent twice is kept once.
    fn publish(&self, publication: &Publication) -> Result<Recording, DeskError>;
}

/// A report's publication as a page sends it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Publication {
    /// Identifier, a UUID of version 7, made when the form is opened.
    pub id: Uuid,
    /// When it is published, the unit's local time.
    pub at: DateTime,
    /// On whose word.
    pub by: PersonId,
    /// First day of the month.
    pub month: Date,
}
