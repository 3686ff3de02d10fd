//! The text of a breakdown file, written in one way only.

use crate::manuscript::Manuscript;
use crate::model::Breakdown;

/// Writes a breakdown as the text of its file. Reading it back gives the same breakdown, but for line numbers.
///
/// Texts must be one line each, as every breakdown that was read has them; a line end inside one becomes a space.
pub fn write(breakdown: &Breakdown) -> String {
    Manuscript::of(breakdown).text()
}
