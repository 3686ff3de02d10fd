//! What the page that confirms a transcript asks.

use ::breakdown::Breakdown;
use site::{DeskError, HandedIn, TranscriptDesk};

use super::DeskOfBook;

impl TranscriptDesk for DeskOfBook {
    fn hear(&self, breakdown: &Breakdown, handed_in: &[u8]) -> Result<HandedIn, DeskError> {
        Ok(crate::handed_in::hand_in(breakdown, handed_in))
    }
}
