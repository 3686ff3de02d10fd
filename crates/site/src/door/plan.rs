use breakdown::JobCode;
use desk::{NextDrawRow, PlanFacts, PlanPair, PlanWarning, TradePage};
use jiff::civil::{Date, DateTime};
use practice::PersonId;

use super::DeskError;

/// What the pages on the plan, the next draw and the timetable ask.
pub trait PlanDesk: Send + Sync {
    /// What could not be read of the roster and the kept plans and is left out, each with what to do.
    fn roster_problems(&self) -> Result<Vec<String>, DeskError>;

    /// Who should take the next draw, job by job, or in one job. `Ok(None)` without a roster, or without that job.
    fn next_draw(&self, at: DateTime, job: Option<&JobCode>) -> Result<Option<Vec<NextDrawRow>>, DeskError>;

    /// Jobs that can be planned, by code and name, with the one to show first.
    fn plan_jobs(&self) -> Result<Vec<(JobCode, String)>, DeskError>;

    /// The plan kept for a job.
    fn kept_plan(&self, job: &JobCode) -> Result<Option<KeptPlanPage>, DeskError>;

    /// A plan made from today's state. Being worked out takes a second or two: the answer says so, and the next time it is
    /// there.
    fn proposed_plan(&self, asked: &PlanAsked) -> Result<Proposed, DeskError>;

    /// Keeps a proposed plan in place of the one before. `mark` names the proposal that was looked at.
    fn keep_plan(&self, asked: &PlanAsked, mark: &str) -> Result<Keeping, DeskError>;

    /// One person's own part of the kept plan as iCalendar.
    fn plan_calendar(&self, job: &JobCode, person: &PersonId) -> Result<Option<String>, DeskError>;

    /// The timetable of the trade, with coverage of the coming days.
    fn trade(&self) -> Result<TradePage, DeskError>;
}

/// What plan is wanted.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct PlanAsked {
    /// The job.
    pub job: JobCode,
    /// Weeks from today.
    pub weeks: u16,
    /// Somebody away, beside the absences already known: first and last day.
    pub absent: Option<(PersonId, Date, Date)>,
    /// True to plan without regard to the plan kept before.
    pub anew: bool,
}

/// The plan kept for a job, seen from today.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptPlanPage {
    /// The plan: its pairings from today on, with today's chances and visits.
    pub facts: PlanFacts,
    /// Day on which it was made.
    pub made_on: Option<Date>,
    /// Pairings that cannot be any more.
    pub broken: Vec<PlanPair>,
    /// Why chances and visits are those of the day it was made, where today's cannot be worked out.
    pub not_seen_from_today: Option<String>,
}

/// A plan made from today's state.
#[derive(Debug, Clone, PartialEq)]
pub enum Proposed {
    /// It is being worked out, for so many whole seconds by now.
    Working {
        /// Seconds.
        seconds: u64,
    },
    /// Here it is.
    Made {
        /// The plan.
        facts: Box<PlanFacts>,
        /// Names exactly this proposal.
        mark: String,
        /// Time it took, in seconds.
        seconds: f64,
        /// Pairings kept, with another preceptor, dropped and added, of so many known; `None` with no plan before.
        changes: Option<[usize; 5]>,
    },
    /// No plan keeps every limit; the plan kept before stays.
    Impossible(Vec<PlanWarning>),
    /// There is nothing to plan from: what was found, and what to do.
    NoGround {
        /// What was found.
        found: String,
        /// What to do.
        to_do: String,
    },
}

/// What became of keeping a plan.
#[derive(Debug, Clone, PartialEq)]
pub enum Keeping {
    /// It is kept.
    Kept,
    /// The book, the roster or the settings have changed since it was looked at: look again.
    Overtaken,
}
