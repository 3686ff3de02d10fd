use std::cell::RefCell;
use std::collections::HashMap;
use std::error::Error as _;
use std::net::IpAddr;
use std::path::PathBuf;
use std::time::Duration;

use bytes::BytesMut;
use jiff::Timestamp;
use postgres::config::Host;
use postgres::error::SqlState;
use postgres::fallible_iterator::FallibleIterator as _;
use postgres::types::{IsNull, ToSql, Type, to_sql_checked};
use postgres::{Client, Config, NoTls, Statement};

use crate::error::{BookError, Fault};
use crate::ledger;
use crate::messages::{Intake, IntakeOutcome};
use crate::sql::{Access, Connection, EachRow, Row, Value, dollar_parameters, within};
use crate::sqlite::SAFEGUARDS;
use crate::verify;

/// Steps of the book's form in the order they run; their names are noted in the book.
const STEPS: [(&str, &str); 1] =
    [("20261130_150000_first_book", include_str!("../migrations/postgresql/20261130_150000_first_book.sql"))];

/// How long a connection is waited for, and another program that writes in the book.
const WAIT: Duration = Duration::from_secs(5);

/// The record book in a schema of a PostgreSQL database.
///
/// One program writes at a time: a writing transaction holds an advisory lock that is taken from the name of the schema.
/// Readers wait for nobody and see the book as it was when they began.
pub struct PostgresBook {
    pub(crate) connection: PostgresConnection,
}

impl std::fmt::Debug for PostgresBook {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // The address may hold a password.
        f.debug_struct("PostgresBook").field("place", &self.connection.place).finish_non_exhaustive()
    }
}

impl PostgresBook {
    /// Opens a book that exists, and brings its form up to date.
    pub fn open(address: &str, schema: &str) -> Result<PostgresBook, BookError> {
        let connection = PostgresConnection::open(address, schema)?;
        connection.is_a_book()?;
        connection.bring_up_to_date()?;
        Ok(PostgresBook { connection })
    }

    /// Opens a book for reading only; nothing can be written through it.
    pub fn open_read_only(address: &str, schema: &str) -> Result<PostgresBook, BookError> {
        let connection = PostgresConnection::open(address, schema)?;
        connection.is_a_book()?;
        connection.steps_known()?;
        connection.run("SET default_transaction_read_only = on")?;
        Ok(PostgresBook { connection })
    }

    /// Opens the book, or makes it where there is none: the schema with its tables. Never touches a schema that holds
    /// something else.
    pub fn open_or_create(address: &str, schema: &str) -> Result<PostgresBook, BookError> {
        let connection = PostgresConnection::open(address, schema)?;
        match connection.is_a_book() {
            Err(BookError::Missing { .. }) => connection.make(schema)?,
            other => other?,
        }
        connection.bring_up_to_date()?;
        Ok(PostgresBook { connection })
    }

    pub(crate) fn write_intake(
        &self,
        intake: Intake,
        recorded_at: Timestamp,
    ) -> Result<IntakeOutcome, BookError> {
        ledger::take_in(&self.connection, intake, recorded_at)
    }

    /// Database and schema, in words; never the address, which may hold a password.
    pub fn place(&self) -> &str {
        self.connection.place.to_str().unwrap_or("PostgreSQL")
    }
}

pub(crate) struct PostgresConnection {
    place: PathBuf,
    schema: String,
    client: RefCell<Client>,
    statements: RefCell<HashMap<String, Statement>>,
}

impl PostgresConnection {
    fn open(address: &str, schema: &str) -> Result<PostgresConnection, BookError> {
        let place =
            |database: &str| PathBuf::from(format!("PostgreSQL database {database}, schema {schema}"));
        let refused = |found: &str, expected: &str, what_to_do: &str| {
            Err(BookError::Unreadable(Fault {
                place: "the address of the PostgreSQL book".to_owned(),
                found: found.to_owned(),
                expected: expected.to_owned(),
                what_to_do: what_to_do.to_owned(),
            }))
        };
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
        let begins = schema.starts_with(|c: char| c.is_ascii_lowercase());
        if !begins || !schema.chars().all(plain) || schema.len() > 60 || schema.starts_with("pg_") {
            return refused(
                &format!("the schema {schema:?}"),
                "a name of small letters, digits and _ that begins with a letter, at most 60 of them, not pg_",
                "choose another name; nothing was changed",
            );
        }
        // What is wrong with an address is not repeated: it may be a part of the password.
        let Ok(mut config) = address.parse::<Config>() else {
            return refused(
                "text that is no address",
                "host=... user=... dbname=..., or postgresql://user@host/database",
                "correct it; docs/data-folder.md shows examples",
            );
        };
        if !config.get_hosts().iter().all(is_this_machine)
            || !config.get_hostaddrs().iter().all(IpAddr::is_loopback)
        {
            return refused(
                "a server on another machine",
                "a server on this machine, or the end of an encrypted tunnel here: the connection is not encrypted",
                "name localhost, a loopback address or the folder of a socket",
            );
        }
        config.connect_timeout(WAIT).application_name("wardwright");
        let place = place(config.get_dbname().or(config.get_user()).unwrap_or("(not named)"));
        let client = config.connect(NoTls).map_err(|error| explained(&place, &error))?;
        let connection = PostgresConnection {
            place,
            schema: schema.to_owned(),
            client: RefCell::new(client),
            statements: RefCell::default(),
        };
        let wait_ms = WAIT.as_millis();
        connection.run(&format!(
            "SET search_path = {schema}; SET lock_timeout = {wait_ms}; SET synchronous_commit = on; \
             SET client_min_messages = warning"
        ))?;
        Ok(connection)
    }

    fn or_explained<T>(&self, result: Result<T, postgres::Error>) -> Result<T, BookError> {
        result.map_err(|error| explained(&self.place, &error))
    }

    /// Runs statements without parameters.
    fn run(&self, sql: &str) -> Result<(), BookError> {
        self.or_explained(self.client.borrow_mut().batch_execute(sql))
    }

    fn prepared(&self, sql: &str) -> Result<Statement, BookError> {
        if let Some(statement) = self.statements.borrow().get(sql) {
            return Ok(statement.clone());
        }
        let prepared = self.client.borrow_mut().prepare(&dollar_parameters(sql));
        let statement = self.or_explained(prepared)?;
        self.statements.borrow_mut().insert(sql.to_owned(), statement.clone());
        Ok(statement)
    }

    /// A schema with the note of the steps it has been through is a book; one without any table may become one.
    fn is_a_book(&self) -> Result<(), BookError> {
        let mut tables = Vec::new();
        self.query(
            "SELECT tablename::text FROM pg_catalog.pg_tables WHERE schemaname::text = ?1",
            &[self.schema.as_str().into()],
            &mut |row| {
                tables.push(row.text(0)?);
                Ok(())
            },
        )?;
        if tables.is_empty() {
            return Err(BookError::Missing { path: self.place.clone() });
        }
        if ["schema_step", "entry", "book_head"].iter().all(|name| tables.iter().any(|table| table == name)) {
            return Ok(());
        }
        Err(BookError::NotABook {
            path: self.place.clone(),
            found: "a schema with tables of another program".to_owned(),
        })
    }

    fn make(&self, schema: &str) -> Result<(), BookError> {
        self.run("BEGIN")?;
        let made = self
            .lock()
            .and_then(|()| match self.is_a_book() {
                // Another program has made it meanwhile.
                Ok(()) => Ok(()),
                Err(BookError::Missing { .. }) => {
                    self.run(&format!("CREATE SCHEMA IF NOT EXISTS {schema}"))?;
                    STEPS.iter().try_for_each(|step| self.step(step))
                }
                Err(other) => Err(other),
            })
            .and_then(|()| self.commit());
        if made.is_err() {
            self.roll_back();
        }
        made
    }

    fn step(&self, (name, text): &(&str, &str)) -> Result<(), BookError> {
        self.run(text)?;
        self.execute("INSERT INTO schema_step (name) VALUES (?1)", &[(*name).into()])
    }

    /// Steps the book has been through; refuses one this program does not know.
    fn steps_known(&self) -> Result<Vec<String>, BookError> {
        let mut steps = Vec::new();
        self.query("SELECT name FROM schema_step", &[], &mut |row| {
            steps.push(row.text(0)?);
            Ok(())
        })?;
        steps.sort();
        match steps.iter().find(|step| STEPS.iter().all(|(name, _)| name != step)) {
            Some(found) => Err(BookError::Newer {
                path: self.place.clone(),
                found: found.clone(),
                known: STEPS.last().map(|(name, _)| (*name).to_owned()).unwrap_or_default(),
            }),
            None => Ok(steps),
        }
    }

    fn bring_up_to_date(&self) -> Result<(), BookError> {
        if self.steps_known()?.len() == STEPS.len() {
            return Ok(());
        }
        within(self, Access::Write, || {
            // Asked again inside: another program may have brought the book up to date meanwhile.
            let done = self.steps_known()?;
            STEPS
                .iter()
                .filter(|(name, _)| !done.iter().any(|step| step == name))
                .try_for_each(|step| self.step(step))
        })
    }

    /// Keeps other writers of this book out until the transaction ends.
    fn lock(&self) -> Result<(), BookError> {
        let name = format!("wardwright record book {}", self.schema);
        self.query(
            "SELECT pg_advisory_xact_lock(hashtextextended(?1, 0))",
            &[name.as_str().into()],
            &mut |_| Ok(()),
        )
    }
}

impl Connection for PostgresConnection {
    fn execute(&self, sql: &str, parameters: &[Value]) -> Result<(), BookError> {
        let statement = self.prepared(sql)?;
        let parameters: Vec<&(dyn ToSql + Sync)> = parameters.iter().map(|value| value as _).collect();
        let done = self.client.borrow_mut().execute(&statement, &parameters);
        self.or_explained(done).map(|_| ())
    }

    fn query(&self, sql: &str, parameters: &[Value], each: EachRow<'_>) -> Result<(), BookError> {
        let statement = self.prepared(sql)?;
        let mut client = self.client.borrow_mut();
        let mut rows = self.or_explained(client.query_raw(&statement, parameters))?;
        let mut values = Vec::new();
        while let Some(row) = self.or_explained(rows.next())? {
            values.clear();
            for column in 0..row.len() {
                values.push(value(&row, column));
            }
            each(Row(&values))?;
        }
        Ok(())
    }

    fn begin(&self, access: Access) -> Result<(), BookError> {
        match access {
            Access::Read => self.run("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"),
            Access::Write => {
                self.run("BEGIN")?;
                let locked = self.lock();
                if locked.is_err() {
                    self.roll_back();
                }
                locked
            }
        }
    }

    fn defer_references(&self) -> Result<(), BookError> {
        // Holds until the transaction ends.
        self.run("SET CONSTRAINTS ALL DEFERRED")
    }

    fn commit(&self) -> Result<(), BookError> {
        self.run("COMMIT")
    }

    fn roll_back(&self) {
        // What went wrong is being reported already, and closing the connection forgets the rest.
        let _ = self.client.borrow_mut().batch_execute("ROLLBACK");
    }

    fn faults(&self) -> Result<Vec<Fault>, BookError> {
        let mut present = Vec::new();
        self.query(
            "SELECT t.tgname::text FROM pg_catalog.pg_trigger t JOIN pg_catalog.pg_class c ON c.oid = t.tgrelid \
             JOIN pg_catalog.pg_namespace n ON n.oid = c.relnamespace \
             WHERE n.nspname::text = ?1 AND NOT t.tgisinternal AND t.tgenabled IN ('O', 'A')",
            &[self.schema.as_str().into()],
            &mut |row| {
                present.push(row.text(0)?);
                Ok(())
            },
        )?;
        let gone = SAFEGUARDS.iter().filter(|name| !present.iter().any(|found| found == *name));
        Ok(gone
            .map(|safeguard| Fault {
                place: format!("the safeguard {safeguard}"),
                found: "nothing: it was removed or switched off".to_owned(),
                expected: "the safeguard that refuses changes to the book".to_owned(),
                what_to_do: verify::GO_BACK.to_owned(),
            })
            .collect())
    }
}

fn is_this_machine(host: &Host) -> bool {
    match host {
        Host::Tcp(name) => {
            name == "localhost" || name.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
        }
        #[cfg(unix)]
        Host::Unix(_) => true,
    }
}

impl ToSql for Value {
    fn to_sql(
        &self,
        kind: &Type,
        out: &mut BytesMut,
    ) -> Result<IsNull, Box<dyn std::error::Error + Sync + Send>> {
        match self {
            Value::Text(text) => text.to_sql(kind, out),
            Value::Integer(number) => number.to_sql(kind, out),
            Value::Bytes(bytes) => bytes.to_sql(kind, out),
            Value::Null => Ok(IsNull::Yes),
        }
    }

    fn accepts(kind: &Type) -> bool {
        [Type::TEXT, Type::VARCHAR, Type::INT8, Type::BYTEA].contains(kind)
    }

    to_sql_checked!();
}

/// A value as the book reads it. Anything the book never writes comes as a text that says so; it will not pass for
/// what was written, because its hash differs.
fn value(row: &postgres::Row, column: usize) -> Value {
    let kind = row.columns()[column].type_();
    let found = match *kind {
        Type::TEXT | Type::VARCHAR => {
            row.try_get::<_, Option<String>>(column).map(|text| text.map(Value::Text))
        }
        Type::INT8 => row.try_get::<_, Option<i64>>(column).map(|number| number.map(Value::Integer)),
        Type::BYTEA => row.try_get::<_, Option<Vec<u8>>>(column).map(|bytes| bytes.map(Value::Bytes)),
        _ => Ok(Some(Value::Text(format!("<{kind}>")))),
    };
    found.map_or_else(|_| Value::Text(format!("<unreadable {kind}>")), |found| found.unwrap_or(Value::Null))
}

/// What went wrong, without what was sent: statements and addresses are never repeated.
fn explained(place: &std::path::Path, error: &postgres::Error) -> BookError {
    let path = place.to_owned();
    let waited_ms = u64::try_from(WAIT.as_millis()).unwrap_or(u64::MAX);
    let Some(said) = error.as_db_error() else {
        let why = error.source().map_or_else(|| error.to_string(), |source| format!("{error}: {source}"));
        return BookError::NoAnswer { path, detail: why };
    };
    let detail = said.message().to_owned();
    match *error.code().unwrap_or(&SqlState::INTERNAL_ERROR) {
        SqlState::LOCK_NOT_AVAILABLE | SqlState::T_R_DEADLOCK_DETECTED | SqlState::TOO_MANY_CONNECTIONS => {
            BookError::Locked { path, waited_ms }
        }
        SqlState::INSUFFICIENT_PRIVILEGE | SqlState::READ_ONLY_SQL_TRANSACTION => {
            BookError::NotWritable { path, detail }
        }
        SqlState::DATA_CORRUPTED | SqlState::INDEX_CORRUPTED => BookError::Damaged { path, detail },
        _ => BookError::Failed { path, detail },
    }
}
