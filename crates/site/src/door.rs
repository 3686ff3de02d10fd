mod plan;

pub use plan::{Keeping, KeptPlanPage, PlanAsked, PlanDesk, Proposed};

use breakdown::{Breakdown, JobCode, Version};
use desk::{
    BreakdownPage, EditForm, MissedPage, MonthReport, PersonPage, PersonRow, Results, TeachBackForm,
    TeachBackResult, TodayPage,
};
use jiff::civil::{Date, DateTime};
use practice::{EventKind, PersonId};
use teachback::TeachBack;
use uuid::Uuid;

mod after;
mod away;
mod collection;
mod correct;
mod observe;
mod pairs;
mod published;
mod release;
mod start;
mod transcript;

pub use after::AfterDesk;
pub use away::AwayDesk;
pub use collection::{CollectionAnswer, CollectionDesk};
pub use correct::{CorrectDesk, Correctable, Correction};
pub use observe::ObserveDesk;
pub use pairs::PairsDesk;
pub use published::{Publication, PublishedDesk};
pub use release::ReleaseDesk;
pub use start::{Beginning, Founder, Opened, PeopleRead, PersonRead, Reading, StartDesk};
pub use transcript::{HandedIn, HeardFrom, TranscriptDesk};

/// Where the pages get their facts. The program that starts the site implements it over the record book.
///
/// Calls may block: the site makes each on a thread kept for blocking work. `Ok(None)` means that there is no
/// such person, job, month or paper.
pub trait Desk:
    AfterDesk
    + AwayDesk
    + CollectionDesk
    + CorrectDesk
    + ObserveDesk
    + PairsDesk
    + PlanDesk
    + PublishedDesk
    + ReleaseDesk
    + StartDesk
    + TranscriptDesk
    + Send
    + Sync
{
    /// What needs the trainer today.
    fn today(&self) -> Result<TodayPage, DeskError>;

    /// Everybody on the unit with their standing in each job.
    fn people(&self) -> Result<Vec<PersonRow>, DeskError>;

    /// One person's record.
    fn person(&self, id: &PersonId) -> Result<Option<PersonPage>, DeskError>;

    /// The breakdowns in force, one per job.
    fn breakdowns(&self) -> Result<Vec<Breakdown>, DeskError>;

    /// One breakdown with what learners make of it.
    fn breakdown(&self, job: &JobCode) -> Result<Option<BreakdownPage>, DeskError>;

    /// The unit's results.
    fn results(&self) -> Result<Results, DeskError>;

    /// First days of the months that have a report, in any order.
    fn months(&self) -> Result<Vec<Date>, DeskError>;

    /// The report of the month that starts on this day.
    fn report(&self, month: Date) -> Result<Option<MonthReport>, DeskError>;

    /// The text of `docs/methods.md`.
    fn methods(&self) -> &str;

    /// A paper as the bytes of a PDF file.
    fn paper(&self, paper: &Paper) -> Result<Option<Vec<u8>>, DeskError>;

    /// What every page says about the unit and the program.
    fn about(&self) -> About;

    /// The moment a form is opened, in the unit's local time.
    fn now(&self) -> DateTime;

    /// What is needed to hear a person's teach-back, on the version in force or on a named one.
    fn teach_back_form(
        &self,
        person: &PersonId,
        job: &JobCode,
        version: Option<Version>,
    ) -> Result<Option<TeachBackForm>, DeskError>;

    /// What a pass that is not in the book yet would show.
    fn teach_back_preview(
        &self,
        person: &PersonId,
        heard: &TeachBack,
        when: DateTime,
        by: &PersonId,
    ) -> Result<Option<TeachBackResult>, DeskError>;

    /// A teach-back that is in the book.
    fn teach_back(&self, entry: Uuid) -> Result<Option<TeachBackResult>, DeskError>;

    /// What many learners miss in a job.
    fn missed(&self, job: &JobCode) -> Result<Option<MissedPage>, DeskError>;

    /// What is needed to write a job's next breakdown. A job the book does not know has no versions yet.
    fn edit_form(&self, job: &JobCode) -> Result<EditForm, DeskError>;

    /// Whom an entry is about, and on whose word it stands.
    fn people_of(&self, entry: Uuid) -> Result<Option<(PersonId, PersonId)>, DeskError>;

    /// Writes an entry into the record book. The same entry sent twice is kept once.
    fn record(&self, draft: &Draft) -> Result<Recording, DeskError>;
}

/// An entry as a page sends it. Its identifier is made when the form is opened, so that a form sent twice is one entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Identifier, a UUID of version 7.
    pub id: Uuid,
    /// When it happened, the unit's local time.
    pub happened: DateTime,
    /// On whose word.
    pub by: PersonId,
    /// What happened.
    pub what: EventKind,
}

/// What became of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Recording {
    /// It is in the book now.
    Recorded,
    /// It was in the book already, word for word.
    AlreadyThere,
    /// The book does not take it, and says why; nothing was written.
    Refused(Vec<Refusal>),
}

/// Why an entry, or one field of a form, is not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Where: the field or the part of the entry, in words.
    pub place: String,
    /// What was found there.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub to_do: String,
}

impl Refusal {
    /// A refusal in its four parts.
    pub fn new(
        place: impl Into<String>,
        found: impl Into<String>,
        expected: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Refusal {
        Refusal { place: place.into(), found: found.into(), expected: expected.into(), to_do: to_do.into() }
    }
}

/// A paper that can be asked for.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Paper {
    /// Pocket card of a job.
    PocketCard(JobCode),
    /// Observation sheet of a job, for when the screen is down.
    ObservationSheet(JobCode),
    /// One person's record.
    PersonRecord(PersonId),
    /// One month's report, given by its first day.
    MonthReport(Date),
}

/// What every page says about the unit and the program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// Name of the unit.
    pub unit: String,
    /// True when people and results are invented: every page then says so.
    pub invented: bool,
    /// Where the record book lies, in words for the foot of each page; empty for nothing.
    pub data_folder: String,
    /// Version of the program.
    pub version: String,
    /// Of what time the figures on results are, where the book has grown since.
    pub older: Option<Older>,
}

/// Figures that were worked out before the book had grown: a page shows them at once rather than wait for new ones.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Older {
    /// When the book was read for them, in the unit's local time.
    pub as_of: DateTime,
    /// How many seconds ago that was.
    pub seconds: u64,
}

/// Why the desk could not answer. The detail goes to the log and never to a page: it must not name a person.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DeskError {
    /// The record book is in use for a moment; asking again will do.
    #[error("the record book is busy: {0}")]
    Busy(String),
    /// Something is wrong that asking again will not mend.
    #[error("{0}")]
    Failed(String),
}
