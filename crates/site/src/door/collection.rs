use desk::{CollectionAsk, CollectionSheet, Refused};
use jiff::civil::{Date, DateTime};

use super::{DeskError, Refusal};

/// What the page of one collection asks. Nothing of it is stored.
pub trait CollectionDesk {
    /// Policy, version and who confirmed it; or why nothing can be planned.
    fn collection_policy(&self) -> Result<Result<String, Refusal>, DeskError>;

    /// Plans one collection by the unit's policy.
    fn collection(&self, ask: &CollectionAsk) -> Result<CollectionAnswer, DeskError>;

    /// A time of day as it is written, of a day or with its own; `None` where it cannot be read.
    fn time_of_day(&self, written: &str, day: Date) -> Option<DateTime>;
}

/// What became of a question for a plan.
#[derive(Debug, Clone, PartialEq)]
pub enum CollectionAnswer {
    /// A plan.
    Plan(Box<CollectionSheet>),
    /// No plan, and why.
    Refused(Refused),
    /// No policy, and what to do.
    NoPolicy(Refusal),
}
