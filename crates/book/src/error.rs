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
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BookError {
    /// No file at that path.
    #[error("{}: there is no record book here; make one first, or name the folder that holds it", path.display())]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// A file stands where a new book was to be made.
    #[error("{}: a file with this name is already here; open it, or choose another folder. Nothing was changed", path.display())]
    AlreadyThere {
        /// Where the book was to be made.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{}: this is not a record book ({found}); nothing was changed. Name the folder that holds the book", path.display())]
    NotABook {
        /// The file.
        path: PathBuf,
        /// What was found instead.
        found: String,
    },
    /// The book was written by a newer program.
    #[error(
        "{}: the book's form is newer than this program knows (it has the step {found:?}, this program knows up to {known:?}); \
         use the newer program. Nothing was changed", path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// The step this program does not know.
        found: String,
        /// The last step this program knows.
        known: String,
    },
    /// Another program holds the book.
    #[error(
        "{}: another program is writing in the book and did not finish within {waited_ms} ms; nothing was written. Try again, \
         or close the other program", path.display()
    )]
    Locked {
        /// The file.
        path: PathBuf,
        /// How long was waited.
        waited_ms: u64,
    },
    /// The folder or file does not allow writing.
    #[error("{}: the book may not be written here ({detail}); nothing was written. Allow writing to the folder and the file, or copy the book elsewhere", path.display())]
    NotWritable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        detail: String,
    },
    /// The file cannot be read as a whole.
    #[error("{}: the book's file is damaged ({detail}); keep it as it is and go back to the last good copy", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was noticed.
        detail: String,
    },
    /// A stored entry cannot be read back.
    #[error("{0}")]
    Unreadable(Fault),
    /// The key under which patients are hashed is not the book's.
    #[error("{0}")]
    PatientKey(Fault),
    /// The same identifier came twice with different content.
    #[error(
        "entry {id} is already in the book as number {seq} and says something else; nothing was written. To change what the \
         book says, write a correction with an identifier of its own that names this entry"
    )]
    IdTaken {
        /// The identifier.
        id: Uuid,
        /// Where it stands in the book.
        seq: u64,
    },
    /// A draft says something the book cannot keep.
    #[error("entry {id}: {fault}")]
    BadDraft {
        /// The draft's identifier.
        id: Uuid,
        /// What is wrong.
        fault: Fault,
    },
    /// The file system or the database said no for another reason.
    #[error("{}: {detail}; nothing was written", path.display())]
    Failed {
        /// The file.
        path: PathBuf,
        /// What was said.
        detail: String,
    },
}
