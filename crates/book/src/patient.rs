//! The key under which patients are hashed, kept beside the book and not in it.
//!
//! It lies in a file of its own because the book is meant to be handed on (to an auditor, to a colleague, as a copy
//! for safety) and patient numbers are short enough to be guessed back from their hashes by anyone who also holds
//! the key. The book keeps only a check value, so that another key is noticed instead of quietly splitting one
//! patient's sets in two.

use std::fmt;
use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::chain::{is_sha256_hex, sha256_hex};
use crate::error::{BookError, Fault};
use crate::sql::{self, Access, Connection, within};
use crate::sqlite::SqliteBook;

/// Name of the key's file in the data folder.
pub const PATIENT_KEY_FILE: &str = "patient-key";

/// The 256-bit key under which patient numbers are hashed (HMAC-SHA-256). `Debug` does not print it.
#[derive(Clone, PartialEq, Eq)]
pub struct PatientSecret([u8; 32]);

impl PatientSecret {
    /// The key's bytes, for the hash and for nothing else.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    fn check_value(&self) -> String {
        let mut text = b"wardwright-patient-key-check-1\n".to_vec();
        text.extend_from_slice(&self.0);
        sha256_hex(&text)
    }

    fn to_hex(&self) -> String {
        self.0.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    fn from_hex(text: &str) -> Option<PatientSecret> {
        let text = text.trim();
        if !is_sha256_hex(text) {
            return None;
        }
        let mut bytes = [0; 32];
        for (byte, digits) in bytes.iter_mut().zip(text.as_bytes().chunks(2)) {
            *byte = u8::from_str_radix(std::str::from_utf8(digits).ok()?, 16).ok()?;
        }
        Some(PatientSecret(bytes))
    }
}

impl fmt::Debug for PatientSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PatientSecret(not shown)")
    }
}

impl SqliteBook {
    /// The key that belongs to this book, from the file beside it. A book that has none yet takes the 32 random
    /// bytes given and keeps them from then on; a book that has one ignores them.
    ///
    /// Refuses when the file is gone or holds another key than the book was written with.
    pub fn patient_secret(&mut self, fresh: [u8; 32]) -> Result<PatientSecret, BookError> {
        let file = self.path().with_file_name(PATIENT_KEY_FILE);
        let connection = self.connection();
        within(connection, Access::Write, || {
            let noted = noted_check(connection)?;
            let secret = match (read(&file)?, &noted) {
                (Some(secret), _) => secret,
                (None, None) => write(&file, &PatientSecret(fresh))?,
                (None, Some(_)) => {
                    return Err(unfit(
                        &file,
                        "nothing",
                        "put the key's file back from a copy; with another key the sets of one patient would no longer meet",
                    ));
                }
            };
            match noted {
                Some(check) if check != secret.check_value() => Err(unfit(
                    &file,
                    "another key than this book was written with",
                    "put back the file that belongs to this book; nothing was taken in",
                )),
                Some(_) => Ok(secret),
                None => {
                    connection
                        .execute(sql::SET_PATIENT_KEY_CHECK, &[secret.check_value().as_str().into()])?;
                    Ok(secret)
                }
            }
        })
    }
}

fn noted_check<C: Connection>(connection: &C) -> Result<Option<String>, BookError> {
    let mut noted = None;
    connection.query(sql::PATIENT_KEY_CHECK, &[], &mut |row| {
        noted = row.optional_text(0)?;
        Ok(())
    })?;
    Ok(noted)
}

fn read(file: &Path) -> Result<Option<PatientSecret>, BookError> {
    let text = match fs::read_to_string(file) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) if error.kind() == ErrorKind::InvalidData => String::new(),
        Err(error) => return Err(failed(file, &error)),
    };
    match PatientSecret::from_hex(&text) {
        Some(secret) => Ok(Some(secret)),
        // The content is not repeated: it may be a key with one digit too few.
        None => Err(unfit(file, "something that is not a key", "put the key's file back from a copy")),
    }
}

fn write(file: &Path, secret: &PatientSecret) -> Result<PatientSecret, BookError> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
        .open(file)
        .and_then(|mut open| {
            open.write_all(format!("{}\n", secret.to_hex()).as_bytes())?;
            open.sync_all()
        })
        .map_err(|error| failed(file, &error))?;
    Ok(secret.clone())
}

fn failed(file: &Path, error: &std::io::Error) -> BookError {
    BookError::NotWritable { path: PathBuf::from(file), detail: error.to_string() }
}

fn unfit(file: &Path, found: &str, what_to_do: &str) -> BookError {
    BookError::PatientKey(Fault {
        place: file.display().to_string(),
        found: found.to_owned(),
        expected: "the key under which this book's patients are hashed, 64 hexadecimal digits".to_owned(),
        what_to_do: what_to_do.to_owned(),
    })
}
