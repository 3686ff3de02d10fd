//! What the pages on release, follow-up and watching ask.

use ::breakdown::JobCode;
use desk::{FollowUpPage, RulesAsked, RulesPage, SigningForm, WatchingPage};
use practice::PersonId;
use site::{DeskError, ReleaseDesk};
use stats::StatsError;

use super::{DeskOfBook, failed};

/// No count of a book leads to these: they are faults of the program.
fn bad(error: StatsError) -> DeskError {
    DeskError::Failed(error.to_string())
}

impl ReleaseDesk for DeskOfBook {
    fn rules(&self, asked: &RulesAsked) -> Result<RulesPage, DeskError> {
        self.facts().map_err(failed)?.rules(asked).map_err(bad)
    }

    fn signing(&self, person: &PersonId, job: &JobCode) -> Result<Option<SigningForm>, DeskError> {
        self.facts().map_err(failed)?.signing(person, job).map_err(bad)
    }

    fn follow_up(&self) -> Result<FollowUpPage, DeskError> {
        self.facts().map_err(failed)?.follow_up().map_err(bad)
    }

    fn watching(&self) -> Result<WatchingPage, DeskError> {
        self.facts().map_err(failed)?.watching().map_err(bad)
    }
}
