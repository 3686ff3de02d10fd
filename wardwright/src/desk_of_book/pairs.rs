//! Line and vein pairs of the unit.

use desk::PairsPage;
use site::{DeskError, PairsDesk};

use super::{DeskOfBook, failed};

impl PairsDesk for DeskOfBook {
    fn pairs(&self) -> Result<PairsPage, DeskError> {
        Ok(self.shared.at_hand().map_err(failed)?.pairs())
    }
}
