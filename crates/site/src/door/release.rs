//! What the pages on release, follow-up and watching ask the program.

use breakdown::JobCode;
use desk::{FollowUpPage, RulesAsked, RulesPage, SigningForm, WatchingPage};
use practice::PersonId;

use super::DeskError;

/// Release rules, signing, follow-up and watching.
pub trait ReleaseDesk {
    /// The rule in force, beside a changed one and a search.
    fn rules(&self, asked: &RulesAsked) -> Result<RulesPage, DeskError>;

    /// What a trainer has before them when they decide on a person and a job.
    fn signing(&self, person: &PersonId, job: &JobCode) -> Result<Option<SigningForm>, DeskError>;

    /// What is due after release, and what the watched draws say.
    fn follow_up(&self) -> Result<FollowUpPage, DeskError>;

    /// Two watchers on one draw, and each watcher beside the others.
    fn watching(&self) -> Result<WatchingPage, DeskError>;
}
