//! A job broken down: its file format, its checks, its ledgers.
//!
//! This room is pure: text in, a breakdown and its faults out. It opens no file and reads no clock. [`parse`] never
//! fails: broken input gives what could be read together with every fault, each with its place.

mod model;

mod decode;
mod words;

mod keyword;
mod lines;
mod manuscript;
mod read;
mod write;

mod check;
mod fault;
mod wording;

mod diff;
mod diff_wording;
pub mod ledger;

pub use check::{MOST_KEY_POINTS, MOST_STEPS, USUAL_STEPS, check};
pub use decode::{Decoded, Encoding, decode};
pub use diff::{Difference, compare, suggested_kind};
pub use fault::{Fault, FaultKind, Place, Severity};
pub use keyword::Keyword;
pub use manuscript::{Field, Manuscript, PointText, StepText};
pub use model::{
    Breakdown, Change, ChangeKind, ItemId, ItemKind, ItemView, JobCode, KeyPoint, KeyPointKind, OrderPair,
    Step, Supply, Version,
};
pub use read::{LARGEST_FILE_BYTES, Parsed, parse, parse_bytes};
pub use words::content_words;
pub use write::write;
