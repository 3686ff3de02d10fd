use breakdown::{JobCode, Version};
use desk::{ObserveForm, ObservedPage};
use jiff::civil::DateTime;
use practice::{EventKind, PersonId};
use uuid::Uuid;

use super::DeskError;

/// What the pages at the bed ask: whom a form lists, what a draw shows before it is saved, and one from the book.
pub trait ObserveDesk {
    /// What is needed to watch a draw of a job, on the version in force or on a named one.
    fn observe_form(&self, job: &JobCode, version: Option<Version>)
    -> Result<Option<ObserveForm>, DeskError>;

    /// What an observed draw or spot check that is not in the book yet would show.
    fn observed_preview(
        &self,
        what: &EventKind,
        when: DateTime,
        by: &PersonId,
    ) -> Result<Option<ObservedPage>, DeskError>;

    /// An observed draw or spot check that is in the book.
    fn observed(&self, entry: Uuid) -> Result<Option<ObservedPage>, DeskError>;
}
