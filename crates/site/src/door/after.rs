use desk::AfterPage;
use practice::PersonId;

use super::DeskError;

/// What the page of a person's own draws beside their results asks.
pub trait AfterDesk {
    /// A person's watched draws with what became of them.
    fn after(&self, id: &PersonId) -> Result<Option<AfterPage>, DeskError>;
}
