//! The store over any database, and a book on whichever there is.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use culture::{PatientKey, SetId};
use jiff::Timestamp;

use crate::copy::copy;
use crate::entry::{Draft, Recorded};
use crate::error::BookError;
use crate::messages::{Intake, IntakeOutcome, KeptMessage};
use crate::postgresql::PostgresBook;
use crate::sqlite::SqliteBook;
use crate::store::{Appended, Head, KnownSet, SetVersion, SetsAfter, Store, Verification};
use crate::{ledger, messages, verify};

/// The store of a book that has a `connection`: the same on every database.
macro_rules! store_over_connection {
    ($book:ty) => {
        impl Store for $book {
            fn append_timed(&mut self, drafts: Vec<(Draft, Timestamp)>) -> Result<Appended, BookError> {
                ledger::append(&self.connection, drafts)
            }

            fn entries(&self) -> Result<Vec<Recorded>, BookError> {
                ledger::entries(&self.connection)
            }

            fn entries_of_people(&self) -> Result<Vec<Recorded>, BookError> {
                ledger::entries_of_people(&self.connection)
            }

            fn take_in_with_messages(
                &mut self,
                intake: Intake,
                recorded_at: Timestamp,
            ) -> Result<IntakeOutcome, BookError> {
                self.write_intake(intake, recorded_at)
            }

            fn message(&self, identity: &str) -> Result<Option<KeptMessage>, BookError> {
                messages::by_identity(&self.connection, identity)
            }

            fn messages_of_sets(&self, sets: &BTreeSet<SetId>) -> Result<Vec<KeptMessage>, BookError> {
                messages::of_sets(&self.connection, sets)
            }

            fn messages_kept_aside(&self) -> Result<Vec<KeptMessage>, BookError> {
                messages::aside(&self.connection)
            }

            fn forget_messages_before(&mut self, time: Timestamp) -> Result<(), BookError> {
                messages::forget_before(&self.connection, time)
            }

            fn sets_of_patients(&self, patients: &BTreeSet<PatientKey>) -> Result<Vec<KnownSet>, BookError> {
                messages::sets_of_patients(&self.connection, patients)
            }

            fn patients_of_sets(
                &self,
                sets: &BTreeSet<SetId>,
            ) -> Result<BTreeMap<SetId, PatientKey>, BookError> {
                messages::patients_of_sets(&self.connection, sets)
            }

            fn sets_after(&self, seq: u64) -> Result<SetsAfter, BookError> {
                ledger::sets_after(&self.connection, seq)
            }

            fn accept_patient_key(&mut self, key: &[u8]) -> Result<(), BookError> {
                ledger::accept_patient_key(&self.connection, key)
            }

            fn latest_set_versions(&self) -> Result<Vec<SetVersion>, BookError> {
                ledger::latest_set_versions(&self.connection)
            }

            fn set_versions(&self, id: &SetId) -> Result<Vec<SetVersion>, BookError> {
                ledger::set_versions(&self.connection, id)
            }

            fn has_entries_of_people_after(&self, seq: u64) -> Result<bool, BookError> {
                ledger::has_entries_of_people_after(&self.connection, seq)
            }

            fn goes_on_from(&self, head: &Head) -> Result<bool, BookError> {
                ledger::goes_on_from(&self.connection, head)
            }

            fn head(&self) -> Result<Head, BookError> {
                ledger::head(&self.connection)
            }

            fn verify(&self) -> Result<Verification, BookError> {
                verify::verify(&self.connection)
            }
        }
    };
}

store_over_connection!(SqliteBook);
store_over_connection!(PostgresBook);

/// A book on whichever database it lies.
#[derive(Debug)]
pub enum AnyBook {
    /// In a file.
    Sqlite(Box<SqliteBook>),
    /// On a server.
    Postgres(Box<PostgresBook>),
}

impl From<SqliteBook> for AnyBook {
    fn from(book: SqliteBook) -> Self {
        AnyBook::Sqlite(Box::new(book))
    }
}

impl From<PostgresBook> for AnyBook {
    fn from(book: PostgresBook) -> Self {
        AnyBook::Postgres(Box::new(book))
    }
}

impl AnyBook {
    /// Where it lies, in words that hold no password.
    pub fn place(&self) -> PathBuf {
        match self {
            AnyBook::Sqlite(book) => book.path().to_owned(),
            AnyBook::Postgres(book) => PathBuf::from(book.place()),
        }
    }

    /// Copies the whole book into another, which must be empty: entries, rows of sets and messages as they are, with
    /// their hashes. All of it, or nothing; other writers of either wait meanwhile.
    pub fn copy_into(&self, to: &mut AnyBook) -> Result<Head, BookError> {
        match (self, to) {
            (AnyBook::Sqlite(from), AnyBook::Sqlite(to)) => copy(&from.connection, &to.connection),
            (AnyBook::Sqlite(from), AnyBook::Postgres(to)) => copy(&from.connection, &to.connection),
            (AnyBook::Postgres(from), AnyBook::Sqlite(to)) => copy(&from.connection, &to.connection),
            (AnyBook::Postgres(from), AnyBook::Postgres(to)) => copy(&from.connection, &to.connection),
        }
    }

    /// Writes ahead where the book is a file (see [`SqliteBook::write_ahead`]); a server does so by itself.
    pub fn write_ahead(&mut self) -> Result<(), BookError> {
        match self {
            AnyBook::Sqlite(book) => book.write_ahead(),
            AnyBook::Postgres(_) => Ok(()),
        }
    }

    /// Makes a file one again (see [`SqliteBook::stop_writing_ahead`]).
    pub fn stop_writing_ahead(&mut self) -> Result<(), BookError> {
        match self {
            AnyBook::Sqlite(book) => book.stop_writing_ahead(),
            AnyBook::Postgres(_) => Ok(()),
        }
    }
}

macro_rules! whichever {
    ($book:expr, $store:ident => $call:expr) => {
        match $book {
            AnyBook::Sqlite($store) => $call,
            AnyBook::Postgres($store) => $call,
        }
    };
}

impl Store for AnyBook {
    fn append_timed(&mut self, drafts: Vec<(Draft, Timestamp)>) -> Result<Appended, BookError> {
        whichever!(self, book => book.append_timed(drafts))
    }

    fn entries(&self) -> Result<Vec<Recorded>, BookError> {
        whichever!(self, book => book.entries())
    }

    fn entries_of_people(&self) -> Result<Vec<Recorded>, BookError> {
        whichever!(self, book => book.entries_of_people())
    }

    fn take_in_with_messages(
        &mut self,
        intake: Intake,
        recorded_at: Timestamp,
    ) -> Result<IntakeOutcome, BookError> {
        whichever!(self, book => book.take_in_with_messages(intake, recorded_at))
    }

    fn message(&self, identity: &str) -> Result<Option<KeptMessage>, BookError> {
        whichever!(self, book => book.message(identity))
    }

    fn messages_of_sets(&self, sets: &BTreeSet<SetId>) -> Result<Vec<KeptMessage>, BookError> {
        whichever!(self, book => book.messages_of_sets(sets))
    }

    fn messages_kept_aside(&self) -> Result<Vec<KeptMessage>, BookError> {
        whichever!(self, book => book.messages_kept_aside())
    }

    fn forget_messages_before(&mut self, time: Timestamp) -> Result<(), BookError> {
        whichever!(self, book => book.forget_messages_before(time))
    }

    fn sets_of_patients(&self, patients: &BTreeSet<PatientKey>) -> Result<Vec<KnownSet>, BookError> {
        whichever!(self, book => book.sets_of_patients(patients))
    }

    fn patients_of_sets(&self, sets: &BTreeSet<SetId>) -> Result<BTreeMap<SetId, PatientKey>, BookError> {
        whichever!(self, book => book.patients_of_sets(sets))
    }

    fn sets_after(&self, seq: u64) -> Result<SetsAfter, BookError> {
        whichever!(self, book => book.sets_after(seq))
    }

    fn accept_patient_key(&mut self, key: &[u8]) -> Result<(), BookError> {
        whichever!(self, book => book.accept_patient_key(key))
    }

    fn latest_set_versions(&self) -> Result<Vec<SetVersion>, BookError> {
        whichever!(self, book => book.latest_set_versions())
    }

    fn set_versions(&self, id: &SetId) -> Result<Vec<SetVersion>, BookError> {
        whichever!(self, book => book.set_versions(id))
    }

    fn has_entries_of_people_after(&self, seq: u64) -> Result<bool, BookError> {
        whichever!(self, book => book.has_entries_of_people_after(seq))
    }

    fn goes_on_from(&self, head: &Head) -> Result<bool, BookError> {
        whichever!(self, book => book.goes_on_from(head))
    }

    fn head(&self) -> Result<Head, BookError> {
        whichever!(self, book => book.head())
    }

    fn verify(&self) -> Result<Verification, BookError> {
        whichever!(self, book => book.verify())
    }
}
