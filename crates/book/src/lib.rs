//! The record book: append-only, hash-chained, behind one store trait.
//!
//! Training records are entries that are only ever added. What people see (standing, due lists, pages) is derived
//! from them; nothing derived is stored. A correction is a new entry that names the one it corrects.
//!
//! The doors, in reading order: a [`Draft`] is an entry that has been written but not yet recorded; [`Store`] is
//! what any backend must do; a [`Recorded`] entry has its place in the chain and cannot be changed;
//! [`SqliteBook`] is the backend on one SQLite file; [`history()`] hands the practice room what it works on.
//!
//! This room does input and output but reads no clock and draws no identifiers: the time of recording and the
//! identifiers are arguments.

mod backend;
mod chain;
mod check;
mod copy;
mod entry;
mod error;
mod history;
mod ledger;
mod messages;
mod postgresql;
mod sql;
mod sqlite;
mod store;
mod stored;
mod verify;
mod written;

#[cfg(test)]
mod postgresql_tests;
#[cfg(test)]
mod sqlite_tests;
#[cfg(test)]
mod story;
#[cfg(test)]
mod story_of_halves;

pub use backend::AnyBook;
pub use chain::sha256_hex;
pub use entry::{Body, Draft, Figure, PublishedReport, Recorded, RuleNamed, TakenIn, TakenInCounts};
pub use error::{BookError, Fault};
pub use history::{event, history, history_with, job_of_route};
pub use messages::{Intake, IntakeOutcome, KeptMessage, MessageFate, NewMessage};
pub use postgresql::PostgresBook;
pub use sqlite::SqliteBook;
pub use store::{
    Appended, Head, JudgedSet, KnownSet, SetVersion, SetsAfter, Stands, Store, TakeIn, TakeInOutcome,
    Verification,
};
pub use written::{Written, read_entries};
