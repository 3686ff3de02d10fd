//! What the page on leave and return asks the program.

use desk::AwayPage;

use super::DeskError;

/// Leave and return.
pub trait AwayDesk {
    /// Who is here, who is away since when, and who signs.
    fn away(&self) -> Result<AwayPage, DeskError>;
}
