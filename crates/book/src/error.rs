use std::fmt;
use std::path::PathBuf;

use uuid::Uuid;

/// Something in the book that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where: "entry 12 (id ...)", "set S-104 version 2".
    pub place: String,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// What to do about it.
    pub what_to_do: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: found {}; expected {}; what to do: {}",
            self.place, self.found, self.expected, self.what_to_do
        )
    }
}

/// Why the book could not do what was asked. Where a write fails, the book is as it was before.
///
/// Each prints as its [`fault`](BookError::fault): where, what was found, what was expected, what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum BookError {
    /// No file at that path.
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// A file stands where a new book was to be made.
    AlreadyThere {
        /// Where the book was to be made.
        path: PathBuf,
    },
    /// The file is something else.
    NotABook {
        /// The file.
        path: PathBuf,
        /// What was found instead.
        found: String,
    },
    /// The book was written by a newer program.
    Newer {
        /// The file.
        path: PathBuf,
        /// The step of the book's form that this program does not know.
        found: String,
        /// The last step this program knows.
        known: String,
    },
    /// Another program holds the book.
    Locked {
        /// The file.
        path: PathBuf,
        /// How long was waited.
        waited_ms: u64,
    },
    /// The folder or file does not allow writing.
    NotWritable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        detail: String,
    },
    /// The file cannot be read as a whole.
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was noticed.
        detail: String,
    },
    /// A stored entry cannot be read back.
    Unreadable(Fault),
    /// The key under which patients are hashed is not the book's.
    OtherPatientKey,
    /// The same identifier came twice with different content.
    IdTaken {
        /// The identifier.
        id: Uuid,
        /// Where it stands in the book.
        seq: u64,
    },
    /// The book has grown since what was to be written was worked out from it.
    Moved,
    /// A draft says something the book cannot keep.
    BadDraft {
        /// The draft's identifier.
        id: Uuid,
        /// What is wrong.
        fault: Fault,
    },
    /// The server of the database cannot be reached, or has gone away.
    NoAnswer {
        /// Database and schema.
        path: PathBuf,
        /// What was said.
        detail: String,
    },
    /// The file system or the database said no for another reason.
    Failed {
        /// The file.
        path: PathBuf,
        /// What was said.
        detail: String,
    },
}

impl BookError {
    /// The error in its four parts.
    pub fn fault(&self) -> Fault {
        let of = |path: &PathBuf, found: String, expected: &str, what_to_do: &str| Fault {
            place: path.display().to_string(),
            found,
            expected: expected.to_owned(),
            what_to_do: what_to_do.to_owned(),
        };
        match self {
            BookError::Missing { path } => of(
                path,
                "no record book".to_owned(),
                "a record book",
                "name the folder that holds the book, or make one with `wardwright setup`",
            ),
            BookError::AlreadyThere { path } => of(
                path,
                "a file of this name".to_owned(),
                "no file where a new book is to be made",
                "open the book that is there, or choose another folder; nothing was changed",
            ),
            BookError::NotABook { path, found } => of(
                path,
                found.clone(),
                "a record book",
                "name the folder that holds the book; nothing was changed",
            ),
            BookError::Newer { path, found, known } => of(
                path,
                format!("a book in a newer form (step {found})"),
                &format!("a form this program knows (up to step {known})"),
                "use the newer program; nothing was changed",
            ),
            BookError::Locked { path, waited_ms } => of(
                path,
                format!("another program writing in the book, still after {waited_ms} ms"),
                "a book that is free to be written",
                "try again, or close the other program; nothing was written",
            ),
            BookError::NotWritable { path, detail } => of(
                path,
                detail.clone(),
                "a file and a folder that may be written",
                "allow writing to both, or copy the book to another folder; nothing was written",
            ),
            BookError::Damaged { path, detail } => {
                of(path, format!("a damaged file ({detail})"), "a book that can be read as a whole", crate::verify::GO_BACK)
            }
            BookError::Unreadable(fault) => fault.clone(),
            BookError::OtherPatientKey => Fault {
                place: "the patient key".to_owned(),
                found: "another key than this book was written with".to_owned(),
                expected: "the key under which the book's patients are hashed".to_owned(),
                what_to_do: "put back the key that belongs to this book: with another one the sets of one patient would no \
                             longer meet; nothing was taken in"
                    .to_owned(),
            },
            BookError::IdTaken { id, seq } => Fault {
                place: format!("entry {id}"),
                found: format!("the identifier of entry {seq} of the book, which says something else"),
                expected: "an identifier of its own for every entry".to_owned(),
                what_to_do: "to change what the book says, write a correction that names the earlier entry; nothing was \
                             written"
                    .to_owned(),
            },
            BookError::Moved => Fault {
                place: "the record book".to_owned(),
                found: "entries that came while the verdicts were worked out".to_owned(),
                expected: "the book as it was read".to_owned(),
                what_to_do: "try again: the verdicts are then worked out from the book as it is now; nothing was \
                             written"
                    .to_owned(),
            },
            BookError::BadDraft { id, fault } => {
                Fault { place: format!("entry {id}: {}", fault.place), ..fault.clone() }
            }
            BookError::NoAnswer { path, detail } => of(
                path,
                format!("the database server does not answer: {detail}"),
                "a PostgreSQL server that answers at the address in the settings",
                "start the server or correct the address, then try again; what was not said to be written was not",
            ),
            BookError::Failed { path, detail } => of(
                path,
                detail.clone(),
                "a file system that does what is asked",
                "look at the disk and its room, then try again; nothing was written",
            ),
        }
    }
}

impl fmt::Display for BookError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.fault().fmt(f)
    }
}

impl std::error::Error for BookError {}
