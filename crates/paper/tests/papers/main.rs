//! Papers are read back: their structure with a PDF library, their text with pdftotext (poppler), where it is there.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

#[path = "../../examples/papers/larkfield.rs"]
mod larkfield;
#[path = "../../examples/papers/shipped.rs"]
mod shipped;
mod structure;
mod words;

use paper::{PaperSize, Printing};

const NOTICE: &str = "Invented demo unit: no real people or results";

fn printing() -> Printing<'static> {
    Printing { size: PaperSize::A4, notice: Some(NOTICE) }
}
