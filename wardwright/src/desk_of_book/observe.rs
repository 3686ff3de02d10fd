//! What the pages at the bed ask.

use ::breakdown::{JobCode, Version};
use desk::{ObserveForm, ObservedPage};
use jiff::civil::DateTime;
use practice::{EventKind, PersonId};
use site::{DeskError, ObserveDesk};
use uuid::Uuid;

use super::{DeskOfBook, failed};

impl ObserveDesk for DeskOfBook {
    fn observe_form(
        &self,
        job: &JobCode,
        version: Option<Version>,
    ) -> Result<Option<ObserveForm>, DeskError> {
        Ok(self.facts().map_err(failed)?.observe_form(job, version))
    }

    fn observed_preview(
        &self,
        what: &EventKind,
        when: DateTime,
        by: &PersonId,
    ) -> Result<Option<ObservedPage>, DeskError> {
        Ok(self.facts().map_err(failed)?.observed_preview(what, when, by))
    }

    fn observed(&self, entry: Uuid) -> Result<Option<ObservedPage>, DeskError> {
        Ok(self.facts().map_err(failed)?.observed_draw(&entry.to_string()))
    }
}
