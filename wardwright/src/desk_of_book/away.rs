//! What the page on leave and return asks.

use desk::AwayPage;
use site::{AwayDesk, DeskError};

use super::{DeskOfBook, failed};

impl AwayDesk for DeskOfBook {
    fn away(&self) -> Result<AwayPage, DeskError> {
        Ok(self.facts().map_err(failed)?.away_page())
    }
}
