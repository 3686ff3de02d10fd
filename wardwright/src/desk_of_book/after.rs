//! What became of a person's own draws.

use desk::AfterPage;
use practice::PersonId;
use site::{AfterDesk, DeskError};

use super::{DeskOfBook, failed};

impl AfterDesk for DeskOfBook {
    fn after(&self, id: &PersonId) -> Result<Option<AfterPage>, DeskError> {
        Ok(self.facts().map_err(failed)?.after(id))
    }
}
