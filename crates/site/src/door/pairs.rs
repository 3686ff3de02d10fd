use desk::PairsPage;

use super::DeskError;

/// What the page of line and vein pairs asks.
pub trait PairsDesk {
    /// Pairs of the unit, with what makes each uninterpretable.
    fn pairs(&self) -> Result<PairsPage, DeskError>;
}
