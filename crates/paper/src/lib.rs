//! Papers as PDF: pocket card, observation sheet, a person's record and the unit's monthly report.
//!
//! Plain facts in, bytes out. The room computes no figure, reads no file and no clock: the typesetter runs on fonts
//! and templates that are part of the program, and the only dates on a paper are those it is given. The same facts
//! give the same bytes.
//!
//! Every paper is a tagged PDF that keeps to PDF/UA-1 (ISO 14289-1): title and language are set, fonts are embedded,
//! tables have header cells and charts have a text that says what they show. A character that none of the fonts
//! holds is printed as its code point, so that nothing vanishes from a name.
//!
//! Text from outside is handed over as values, never pasted into markup.

mod card;
mod error;
mod press;
mod printing;
mod record;
mod report;
mod sheet;
mod value;
mod words;

pub use card::pocket_card;
pub use error::{PaperError, PaperName};
pub use printing::{PaperSize, Printing};
pub use record::person_record;
pub use report::month_report;
pub use sheet::observation_sheet;
