//! Where a folder's record book lies: in a file of the folder, or in a schema of a PostgreSQL database.

use std::path::{Path, PathBuf};
use std::time::Duration;

use ::book::{AnyBook, BookError, PostgresBook, SqliteBook};
use serde::{Deserialize, Serialize};

use crate::folder::{BOOK, Folder, SETTINGS};
use crate::message::Message;

/// The part `[book]` of the settings.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnServer {
    /// Address of the database, such as "host=/var/run/postgresql dbname=wardwright".
    pub postgresql: String,
    /// Schema that holds the book.
    #[serde(default = "usual_schema")]
    pub schema: String,
}

/// The schema that is taken when none is named.
pub fn usual_schema() -> String {
    "wardwright".to_owned()
}

impl OnServer {
    fn open(&self, how: fn(&str, &str) -> Result<PostgresBook, BookError>) -> Result<AnyBook, BookError> {
        how(&self.postgresql, &self.schema).map(AnyBook::from)
    }

    /// Refuses a schema that holds a book already: its patient key lies in another folder.
    pub fn is_free(&self, data: &Path) -> Result<(), Message> {
        match self.open(PostgresBook::open_read_only) {
            Err(BookError::Missing { .. }) => Ok(()),
            Err(error) => Err(crate::book::message(&error, data)),
            Ok(book) => Err(Message::new(
                book.place().display().to_string(),
                "a record book",
                "a schema without one",
                "name another schema with --schema; to go on with this book, restore its data folder from the backup; nothing was changed",
            )),
        }
    }

    /// Refuses settings with a password that others on this machine can read.
    pub fn keeps_its_password(&self, settings: &Path) -> Result<(), Message> {
        let holds = self.postgresql.contains("password")
            || self
                .postgresql
                .split_once("://")
                .is_some_and(|(_, rest)| rest.split_once('@').is_some_and(|(user, _)| user.contains(':')));
        if holds && others_can_read(settings) {
            return Err(Message::new(
                settings.display().to_string(),
                "a password, in a file that others on this machine can read",
                "a file that only its owner can read, or an address without a password",
                "take the rights of the others away (chmod 600), or let the server know this user by its socket",
            ));
        }
        Ok(())
    }
}

#[cfg(unix)]
fn others_can_read(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt as _;
    std::fs::metadata(path).is_ok_and(|about| about.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
fn others_can_read(_: &Path) -> bool {
    false
}

impl Folder {
    /// Opens the record book, making it on first use.
    pub fn book(&self) -> Result<AnyBook, Message> {
        let file = self.path().join(BOOK);
        let opened = match self.on_server()? {
            Some(server) => server.open(PostgresBook::open_or_create),
            None if file.exists() => SqliteBook::open(&file).map(AnyBook::from),
            None => SqliteBook::create(&file).map(AnyBook::from),
        };
        opened.map_err(|error| crate::book::message(&error, &file))
    }

    /// Opens the record book for a look that does not wait longer than this for another program. Readers of a server
    /// wait for nobody.
    pub fn book_waiting(&self, wait: Duration) -> Result<AnyBook, Message> {
        let file = self.path().join(BOOK);
        let opened = match self.on_server()? {
            Some(server) => server.open(PostgresBook::open_read_only),
            None => SqliteBook::open_waiting(&file, wait).map(AnyBook::from),
        };
        opened.map_err(|error| crate::book::message(&error, &file))
    }

    fn on_server(&self) -> Result<Option<&OnServer>, Message> {
        let server = self.settings().book.as_ref();
        server.map_or(Ok(()), |server| server.keeps_its_password(&self.path().join(SETTINGS)))?;
        Ok(server)
    }
}

/// A book opened for reading only, and the place it lies at, for messages.
pub struct ToRead {
    /// The book.
    pub book: AnyBook,
    /// Where it lies; nothing secret.
    pub place: PathBuf,
}

/// Opens for reading only the book of a data folder, or the book's file itself where somebody hands on only that, so that
/// showing and verifying work on a copy nobody may write.
pub fn open_to_read(data: &Path) -> Result<ToRead, Message> {
    let in_folder = data.join(BOOK);
    let file = if data.is_file() { data.to_owned() } else { in_folder };
    let server = match data.join(SETTINGS).is_file() {
        true => Folder::open(data)?.on_server()?.cloned(),
        false => None,
    };
    let opened = match &server {
        Some(server) => server.open(PostgresBook::open_read_only),
        None => SqliteBook::open_read_only(&file).map(AnyBook::from),
    };
    let book = opened.map_err(|error| crate::book::message(&error, &file))?;
    Ok(ToRead { place: book.place(), book })
}
