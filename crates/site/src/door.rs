use breakdown::{Breakdown, JobCode};
use desk::{BreakdownPage, MonthReport, PersonPage, PersonRow, Results, TodayPage};
use jiff::civil::Date;
use practice::PersonId;

/// Where the pages get their facts. The program that starts the site implements it over the record book.
///
/// Calls may block: the site makes each on a thread kept for blocking work. `Ok(None)` means that there is no
/// such person, job, month or paper.
pub trait Desk: Send + Sync {
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
