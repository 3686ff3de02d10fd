//! What the page that corrects an entry asks the program.

use jiff::civil::DateTime;
use practice::PersonId;
use uuid::Uuid;

use super::{DeskError, Recording};

/// Undoing an entry: by another one, which stands beside it.
pub trait CorrectDesk {
    /// An entry that may be corrected.
    fn correctable(&self, entry: Uuid) -> Result<Option<Correctable>, DeskError>;

    /// Writes that an entry was made in error. Both stay in the book.
    fn correct(&self, correction: &Correction) -> Result<Recording, DeskError>;
}

/// An entry as it stands before it is corrected.
#[derive(Debug, Clone, PartialEq)]
pub struct Correctable {
    /// What it says, in a sentence.
    pub what: String,
    /// When it happened.
    pub when: DateTime,
    /// On whose word, by identifier and name.
    pub by: (PersonId, String),
    /// Whom it is about.
    pub of: Option<(PersonId, String)>,
    /// Why it was corrected already.
    pub corrected: Option<String>,
    /// Who may correct it: whoever wrote it, and trainers.
    pub writers: Vec<(PersonId, String)>,
}

/// That an entry was made in error.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Correction {
    /// Identifier of the correction.
    pub id: Uuid,
    /// The entry it corrects.
    pub corrects: Uuid,
    /// When it is written.
    pub when: DateTime,
    /// On whose word.
    pub by: PersonId,
    /// Why.
    pub reason: String,
}
