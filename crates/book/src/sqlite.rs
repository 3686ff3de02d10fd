use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{ErrorCode, OpenFlags, ToSql, params_from_iter};

use crate::error::{BookError, Fault};
use crate::messages::{Intake, IntakeOutcome};
use crate::sql::{Access, Connection, EachRow, Row, Value, within};
use crate::{ledger, verify};

/// Steps of the book's form in the order they run; their names are noted in the book.
const STEPS: [(&str, &str); 2] = [
    ("20261125_140000_first_book", include_str!("../migrations/sqlite/20261125_140000_first_book.sql")),
    ("20261125_173000_messages", include_str!("../migrations/sqlite/20261125_173000_messages.sql")),
];

/// Marks a file as a record book among SQLite files ("WdBk").
const APPLICATION_ID: i64 = 0x5764_426b;

/// Triggers that keep the tables from being changed; a file without them is not as the program made it.
pub(crate) const SAFEGUARDS: [&str; 9] = [
    "book_head_is_one",
    "book_head_only_grows",
    "book_head_refuses_delete",
    "culture_set_version_comes_after_the_last",
    "culture_set_version_refuses_delete",
    "culture_set_version_refuses_update",
    "entry_comes_after_the_last",
    "entry_refuses_delete",
    "entry_refuses_update",
];

/// 64 MiB, in the database's own words: a month's laboratory file goes in without pages being written twice.
const CACHE: &str = "-65536";
/// 768 MiB for a file of so many sets: patients' keyed hashes come in no order, so the index over them is touched
/// everywhere, and with less room each of its pages would be written thousands of times.
const LARGE_CACHE: &str = "-786432";
const MANY_SETS: usize = 20_000;

const WAIT: Duration = Duration::from_secs(5);

/// The record book on one SQLite file.
///
/// The file uses a rollback journal with `synchronous = EXTRA`: after an append has returned, the entries survive a
/// power cut, and between appends the book is one file that can be copied. Write-ahead logging would be faster, but
/// keeps recent entries in a second file that a copy of the first leaves behind.
#[derive(Debug)]
pub struct SqliteBook {
    pub(crate) connection: SqliteConnection,
}

impl SqliteBook {
    /// Opens a book that exists. Waits up to 5 seconds for another program that is writing.
    pub fn open(path: impl AsRef<Path>) -> Result<SqliteBook, BookError> {
        SqliteBook::open_waiting(path, WAIT)
    }

    /// Opens a book that exists and waits that long for another program that is writing.
    pub fn open_waiting(path: impl AsRef<Path>, wait: Duration) -> Result<SqliteBook, BookError> {
        let path = path.as_ref();
        looks_like_a_database(path)?;
        let connection = SqliteConnection::open(path, OpenFlags::SQLITE_OPEN_READ_WRITE, wait)?;
        connection.is_a_book()?;
        connection.bring_up_to_date()?;
        Ok(SqliteBook { connection })
    }

    /// Opens a book for reading only: it can be shown and verified where writing is not allowed.
    pub fn open_read_only(path: impl AsRef<Path>) -> Result<SqliteBook, BookError> {
        let path = path.as_ref();
        looks_like_a_database(path)?;
        let open = |name: &Path, flags| {
            let connection = SqliteConnection::open(name, flags, WAIT)?;
            connection.is_a_book()?;
            connection.steps_known()?;
            Ok(SqliteBook { connection })
        };
        let opened = open(path, OpenFlags::SQLITE_OPEN_READ_ONLY);
        match opened {
            // A listener that was cut off leaves a book that wants a file beside it. Where none can be made and none is
            // there, nobody writes the book, and it can be read as it stands.
            Err(BookError::NotWritable { .. }) if !beside(path, "-wal").exists() => {
                let name = format!("file:{}?immutable=1", percent_encoded(path));
                open(Path::new(&name), OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI)
            }
            other => other,
        }
    }

    /// Writes ahead into a second file from here on, for a feed that commits many times a second: each commit then
    /// waits for the disk once in place of four or five times. What is committed survives a power cut all the same.
    /// While this lasts a copy must hold both files; [`SqliteBook::stop_writing_ahead`] makes them one again.
    pub fn write_ahead(&mut self) -> Result<(), BookError> {
        self.connection.journal("WAL")
    }

    /// Makes the book one file again. Where another program has it open it stays as it is: nothing is lost, and the
    /// last program to close it puts everything into the one file.
    pub fn stop_writing_ahead(&mut self) -> Result<(), BookError> {
        self.connection.journal("DELETE")
    }

    /// Makes a new, empty book, and the folder for it where that is missing. Never touches a file that exists.
    pub fn create(path: impl AsRef<Path>) -> Result<SqliteBook, BookError> {
        let path = path.as_ref();
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            fs::create_dir_all(folder).map_err(|error| not_writable(path, &error))?;
        }
        OpenOptions::new().write(true).create_new(true).open(path).map_err(|error| match error.kind() {
            ErrorKind::AlreadyExists => BookError::AlreadyThere { path: path.to_owned() },
            _ => not_writable(path, &error),
        })?;
        let made =
            SqliteConnection::open(path, OpenFlags::SQLITE_OPEN_READ_WRITE, WAIT).and_then(|connection| {
                connection.make()?;
                Ok(SqliteBook { connection })
            });
        if made.is_err() {
            // The file was made a moment ago and holds nothing; leaving it would look like a damaged book. Should
            // removing it fail, the error that led here says more than that one would.
            let _ = fs::remove_file(path);
        }
        made
    }

    /// Opens the book, or makes it where there is none.
    pub fn open_or_create(path: impl AsRef<Path>) -> Result<SqliteBook, BookError> {
        match SqliteBook::open(path.as_ref()) {
            Err(BookError::Missing { .. }) => SqliteBook::create(path),
            other => other,
        }
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.connection.path
    }
}

impl SqliteBook {
    pub(crate) fn write_intake(
        &self,
        intake: Intake,
        recorded_at: Timestamp,
    ) -> Result<IntakeOutcome, BookError> {
        let n_sets = intake.file.as_ref().map_or(0, |file| file.sets.len());
        if n_sets < MANY_SETS {
            return ledger::take_in(&self.connection, intake, recorded_at);
        }
        self.connection.setting("cache_size", LARGE_CACHE)?;
        let outcome = ledger::take_in(&self.connection, intake, recorded_at);
        self.connection.setting("cache_size", CACHE)?;
        outcome
    }
}

#[derive(Debug)]
pub(crate) struct SqliteConnection {
    path: PathBuf,
    wait: Duration,
    inner: rusqlite::Connection,
}

impl SqliteConnection {
    fn open(path: &Path, flags: OpenFlags, wait: Duration) -> Result<SqliteConnection, BookError> {
        let inner = rusqlite::Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
            .map_err(|error| explained(path, wait, &error))?;
        let connection = SqliteConnection { path: path.to_owned(), wait, inner };
        connection.or_explained(connection.inner.busy_timeout(wait))?;
        // Every statement of the book stays prepared, those of messages included.
        connection.inner.set_prepared_statement_cache_capacity(64);
        connection.setting("foreign_keys", "ON")?;
        connection.setting("synchronous", "EXTRA")?;
        connection.setting("trusted_schema", "OFF")?;
        connection.setting("cell_size_check", "ON")?;
        connection.setting("cache_size", CACHE)?;
        Ok(connection)
    }

    fn or_explained<T>(&self, result: rusqlite::Result<T>) -> Result<T, BookError> {
        result.map_err(|error| explained(&self.path, self.wait, &error))
    }

    fn setting(&self, name: &str, value: &str) -> Result<(), BookError> {
        self.or_explained(self.inner.pragma_update(None, name, value))
    }

    fn journal(&self, mode: &str) -> Result<(), BookError> {
        self.or_explained(self.inner.pragma_update_and_check(None, "journal_mode", mode, |_| Ok(())))
    }

    fn make(&self) -> Result<(), BookError> {
        self.setting("journal_mode", "DELETE")?;
        within(self, Access::Write, || {
            self.setting("application_id", &APPLICATION_ID.to_string())?;
            STEPS.iter().try_for_each(|step| self.run(step))
        })
    }

    fn run(&self, (name, text): &(&str, &str)) -> Result<(), BookError> {
        self.or_explained(self.inner.execute_batch(text))?;
        self.execute("INSERT INTO schema_step (name) VALUES (?1)", &[(*name).into()])
    }

    fn is_a_book(&self) -> Result<(), BookError> {
        let id: i64 =
            self.or_explained(self.inner.pragma_query_value(None, "application_id", |row| row.get(0)))?;
        if id == APPLICATION_ID {
            return Ok(());
        }
        Err(BookError::NotABook {
            path: self.path.clone(),
            found: "a database that another program made".to_owned(),
        })
    }

    /// Steps the book has been through; refuses one this program does not know.
    fn steps_known(&self) -> Result<Vec<String>, BookError> {
        let mut steps = Vec::new();
        self.query("SELECT name FROM schema_step ORDER BY name", &[], &mut |row| {
            steps.push(row.text(0)?);
            Ok(())
        })?;
        let unknown = steps.iter().find(|step| STEPS.iter().all(|(name, _)| name != step));
        match unknown {
            Some(found) => Err(BookError::Newer {
                path: self.path.clone(),
                found: found.clone(),
                known: STEPS.last().map(|(name, _)| (*name).to_owned()).unwrap_or_default(),
            }),
            None => Ok(steps),
        }
    }

    fn bring_up_to_date(&self) -> Result<(), BookError> {
        let done = self.steps_known()?;
        if done.len() == STEPS.len() {
            return Ok(());
        }
        within(self, Access::Write, || {
            // Asked again inside: another program may have brought the book up to date meanwhile.
            let done = self.steps_known()?;
            STEPS
                .iter()
                .filter(|(name, _)| !done.iter().any(|step| step == name))
                .try_for_each(|step| self.run(step))
        })
    }
}

impl Connection for SqliteConnection {
    fn execute(&self, sql: &str, parameters: &[Value]) -> Result<(), BookError> {
        let mut statement = self.or_explained(self.inner.prepare_cached(sql))?;
        self.or_explained(statement.execute(params_from_iter(parameters))).map(|_| ())
    }

    fn query(&self, sql: &str, parameters: &[Value], each: EachRow<'_>) -> Result<(), BookError> {
        let mut statement = self.or_explained(self.inner.prepare_cached(sql))?;
        let n_columns = statement.column_count();
        let mut rows = self.or_explained(statement.query(params_from_iter(parameters)))?;
        let mut values = Vec::with_capacity(n_columns);
        while let Some(row) = self.or_explained(rows.next())? {
            values.clear();
            for column in 0..n_columns {
                values.push(value(self.or_explained(row.get_ref(column))?));
            }
            each(Row(&values))?;
        }
        Ok(())
    }

    fn begin(&self, access: Access) -> Result<(), BookError> {
        let statement = match access {
            Access::Read => "BEGIN DEFERRED",
            Access::Write => "BEGIN IMMEDIATE",
        };
        self.or_explained(self.inner.execute_batch(statement))
    }

    fn defer_references(&self) -> Result<(), BookError> {
        // Holds until the transaction ends.
        self.setting("defer_foreign_keys", "ON")
    }

    fn commit(&self) -> Result<(), BookError> {
        self.or_explained(self.inner.execute_batch("COMMIT"))
    }

    fn roll_back(&self) {
        if !self.inner.is_autocommit() {
            // What went wrong is being reported already, and closing the file forgets the rest.
            let _ = self.inner.execute_batch("ROLLBACK");
        }
    }

    fn faults(&self) -> Result<Vec<Fault>, BookError> {
        let mut faults = Vec::new();
        self.query("PRAGMA integrity_check(20)", &[], &mut |row| {
            let found = row.text(0)?;
            if found != "ok" {
                faults.push(Fault {
                    place: "the book's file".to_owned(),
                    found,
                    expected: "a file the database can read as a whole".to_owned(),
                    what_to_do: verify::GO_BACK.to_owned(),
                });
            }
            Ok(())
        })?;
        faults.extend(self.cut_short()?);
        let mut present = Vec::new();
        self.query("SELECT name FROM sqlite_master WHERE type = 'trigger'", &[], &mut |row| {
            present.push(row.text(0)?);
            Ok(())
        })?;
        for safeguard in SAFEGUARDS.iter().filter(|name| !present.iter().any(|found| found == *name)) {
            faults.push(Fault {
                place: format!("the safeguard {safeguard}"),
                found: "nothing: it was removed".to_owned(),
                expected: "the safeguard that refuses changes to the book".to_owned(),
                what_to_do: verify::GO_BACK.to_owned(),
            });
        }
        Ok(faults)
    }
}

impl SqliteConnection {
    /// A file that is shorter than it says of itself. The database takes what is missing for zeros, and where the end of
    /// the last page is empty it finds nothing wrong.
    fn cut_short(&self) -> Result<Option<Fault>, BookError> {
        let number = |name: &str| -> Result<i64, BookError> {
            self.or_explained(self.inner.pragma_query_value(None, name, |row| row.get(0)))
        };
        let mode: String =
            self.or_explained(self.inner.pragma_query_value(None, "journal_mode", |row| row.get(0)))?;
        // With a second file beside it, the first may be behind.
        if mode == "wal" {
            return Ok(None);
        }
        let expected = number("page_count")?.saturating_mul(number("page_size")?);
        let found = fs::metadata(&self.path).ok().and_then(|about| i64::try_from(about.len()).ok());
        Ok(found.filter(|found| *found < expected).map(|found| Fault {
            place: "the book's file".to_owned(),
            found: format!("{found} bytes"),
            expected: format!("{expected} bytes, as the file says of itself"),
            what_to_do: verify::GO_BACK.to_owned(),
        }))
    }
}

impl ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Value::Text(text) => ValueRef::Text(text.as_bytes()),
            Value::Integer(number) => ValueRef::Integer(*number),
            Value::Bytes(bytes) => ValueRef::Blob(bytes),
            Value::Null => ValueRef::Null,
        }))
    }
}

/// A value as the book reads it. Anything the book never writes comes as a text that says so; it will not pass for
/// what was written, because its hash differs.
fn value(found: ValueRef<'_>) -> Value {
    match found {
        ValueRef::Null => Value::Null,
        ValueRef::Integer(number) => Value::Integer(number),
        ValueRef::Text(bytes) => Value::Text(String::from_utf8_lossy(bytes).into_owned()),
        ValueRef::Real(number) => Value::Text(format!("<number {number}>")),
        ValueRef::Blob(bytes) => Value::Bytes(bytes.to_vec()),
    }
}

/// Tells a file that is no database before SQLite is asked, so the message can say what the file is.
fn looks_like_a_database(path: &Path) -> Result<(), BookError> {
    let not_a_book =
        |found: &str| Err(BookError::NotABook { path: path.to_owned(), found: found.to_owned() });
    let failed = |error: &std::io::Error| match error.kind() {
        ErrorKind::NotFound => BookError::Missing { path: path.to_owned() },
        _ => BookError::Failed { path: path.to_owned(), detail: error.to_string() },
    };
    if fs::metadata(path).map_err(|error| failed(&error))?.is_dir() {
        return not_a_book("a folder");
    }
    let mut start = Vec::new();
    fs::File::open(path)
        .and_then(|file| file.take(16).read_to_end(&mut start))
        .map_err(|error| failed(&error))?;
    match start.as_slice() {
        b"SQLite format 3\0" => Ok(()),
        [] => not_a_book("an empty file"),
        _ => not_a_book("a file of another kind"),
    }
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// A path as it stands in a URI of SQLite.
fn percent_encoded(path: &Path) -> String {
    let text = path.display().to_string();
    text.replace('%', "%25").replace('?', "%3f").replace('#', "%23")
}

fn not_writable(path: &Path, error: &std::io::Error) -> BookError {
    BookError::NotWritable { path: path.to_owned(), detail: error.to_string() }
}

fn explained(path: &Path, wait: Duration, error: &rusqlite::Error) -> BookError {
    let path = path.to_owned();
    let detail = error.to_string();
    match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            BookError::Locked { path, waited_ms: u64::try_from(wait.as_millis()).unwrap_or(u64::MAX) }
        }
        Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
            BookError::NotWritable { path, detail }
        }
        Some(ErrorCode::NotADatabase) => BookError::NotABook { path, found: detail },
        Some(ErrorCode::DatabaseCorrupt) => BookError::Damaged { path, detail },
        _ => BookError::Failed { path, detail },
    }
}
