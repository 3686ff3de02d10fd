//! What the book asks of a database, in SQL that any of them understands.
//!
//! Statements use only what SQLite and PostgreSQL share, with numbered parameters written `?1`; a backend that writes
//! them another way rewrites them with [`dollar_parameters`].

use crate::chain::{EntryRow, SetRow};
use crate::error::{BookError, Fault};

pub(crate) const HEAD: &str = "SELECT seq, hash FROM book_head WHERE only_row = 1";
pub(crate) const SET_HEAD: &str = "UPDATE book_head SET seq = ?1, hash = ?2 WHERE only_row = 1";
pub(crate) const PATIENT_KEY_CHECK: &str = "SELECT patient_key_check FROM book_head WHERE only_row = 1";
pub(crate) const SET_PATIENT_KEY_CHECK: &str =
    "UPDATE book_head SET patient_key_check = ?1 WHERE only_row = 1";

pub(crate) const INSERT_ENTRY: &str = "INSERT INTO entry (seq, id, happened, recorded_at, by_person, kind, \
     kind_version, body, corrects, correction_reason, previous_hash, hash) \
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)";
pub(crate) const ENTRIES: &str = "SELECT seq, id, happened, recorded_at, by_person, kind, kind_version, body, \
     corrects, correction_reason, previous_hash, hash FROM entry ORDER BY seq";
pub(crate) const ENTRY_BY_ID: &str = "SELECT seq, id, happened, recorded_at, by_person, kind, kind_version, body, \
     corrects, correction_reason, previous_hash, hash FROM entry WHERE id = ?1";

pub(crate) const INSERT_SET: &str = "INSERT INTO culture_set_version (set_id, version, entry_seq, position, \
     patient_key, collected_on, unit, verdict, rule_name, rule_version, clause, body_version, body, row_sha256) \
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)";
pub(crate) const SETS_BY_ENTRY: &str = "SELECT set_id, version, entry_seq, position, patient_key, collected_on, \
     unit, verdict, rule_name, rule_version, clause, body_version, body, row_sha256 \
     FROM culture_set_version ORDER BY entry_seq, position";
pub(crate) const LATEST_SETS: &str = "SELECT v.set_id, v.version, v.entry_seq, v.position, v.patient_key, \
     v.collected_on, v.unit, v.verdict, v.rule_name, v.rule_version, v.clause, v.body_version, v.body, \
     v.row_sha256, e.recorded_at \
     FROM culture_set_version v JOIN entry e ON e.seq = v.entry_seq \
     WHERE v.version = (SELECT MAX(w.version) FROM culture_set_version w WHERE w.set_id = v.set_id)";
pub(crate) const VERSIONS_OF_SET: &str = "SELECT v.set_id, v.version, v.entry_seq, v.position, v.patient_key, \
     v.collected_on, v.unit, v.verdict, v.rule_name, v.rule_version, v.clause, v.body_version, v.body, \
     v.row_sha256, e.recorded_at \
     FROM culture_set_version v JOIN entry e ON e.seq = v.entry_seq WHERE v.set_id = ?1 ORDER BY v.version";
pub(crate) const LATEST_VERSION_OF_SET: &str = "SELECT set_id, version, entry_seq, position, patient_key, \
     collected_on, unit, verdict, rule_name, rule_version, clause, body_version, body, row_sha256 \
     FROM culture_set_version WHERE set_id = ?1 ORDER BY version DESC LIMIT 1";

pub(crate) const ENTRIES_NOT_OF_KIND: &str = "SELECT seq, id, happened, recorded_at, by_person, kind, kind_version, \
     body, corrects, correction_reason, previous_hash, hash FROM entry WHERE kind <> ?1 ORDER BY seq";
pub(crate) const ENTRY_NOT_OF_KIND_AFTER: &str =
    "SELECT seq FROM entry WHERE seq > ?1 AND kind <> ?2 ORDER BY seq LIMIT 1";
pub(crate) const HASH_OF_ENTRY: &str = "SELECT hash FROM entry WHERE seq = ?1";
pub(crate) const ENTRIES_THAT_NAME: &str = "SELECT seq, id, happened, recorded_at, by_person, kind, kind_version, \
     body, corrects, correction_reason, previous_hash, hash FROM entry WHERE kind = ?1 AND body LIKE ?2 ORDER BY seq";
pub(crate) const LATEST_SETS_OF_PATIENT: &str = "SELECT v.set_id, v.version, v.entry_seq, v.position, \
     v.patient_key, v.collected_on, v.unit, v.verdict, v.rule_name, v.rule_version, v.clause, v.body_version, \
     v.body, v.row_sha256 FROM culture_set_version v WHERE v.patient_key = ?1 \
     AND v.version = (SELECT MAX(w.version) FROM culture_set_version w WHERE w.set_id = v.set_id)";
pub(crate) const LATEST_SETS_AFTER: &str = "SELECT v.set_id, v.version, v.entry_seq, v.position, \
     v.patient_key, v.collected_on, v.unit, v.verdict, v.rule_name, v.rule_version, v.clause, v.body_version, \
     v.body, v.row_sha256 FROM culture_set_version v WHERE v.entry_seq > ?1 \
     AND v.version = (SELECT MAX(w.version) FROM culture_set_version w WHERE w.set_id = v.set_id)";
pub(crate) const ANY_SET: &str = "SELECT version FROM culture_set_version LIMIT 1";
pub(crate) const PATIENT_OF_SET: &str =
    "SELECT patient_key FROM culture_set_version WHERE set_id = ?1 ORDER BY version DESC LIMIT 1";

pub(crate) const LAST_MESSAGE: &str = "SELECT COALESCE(MAX(number), 0) FROM message";
pub(crate) const INSERT_MESSAGE: &str = "INSERT INTO message (number, identity, received_at, source, \
     times_received, entry_seq, answer, reason, sealed) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)";
pub(crate) const UPDATE_MESSAGE: &str = "UPDATE message SET times_received = ?2, entry_seq = ?3, answer = ?4, \
     reason = ?5, sealed = ?6 WHERE number = ?1";
pub(crate) const INSERT_MESSAGE_OF_SET: &str =
    "INSERT INTO message_of_set (set_id, number) VALUES (?1, ?2) ON CONFLICT DO NOTHING";
pub(crate) const MESSAGE_BY_IDENTITY: &str = "SELECT number, identity, received_at, source, times_received, \
     answer, reason, sealed FROM message WHERE identity = ?1";
pub(crate) const MESSAGES_OF_SET: &str = "SELECT m.number, m.identity, m.received_at, m.source, \
     m.times_received, m.answer, m.reason, m.sealed FROM message_of_set s JOIN message m ON m.number = s.number \
     WHERE s.set_id = ?1 ORDER BY m.number";
pub(crate) const MESSAGES_BY_ANSWER: &str = "SELECT number, identity, received_at, source, times_received, \
     answer, reason, sealed FROM message WHERE answer = ?1 ORDER BY number";
pub(crate) const MESSAGES: &str = "SELECT number, identity, received_at, source, times_received, entry_seq, \
     answer, reason, sealed FROM message ORDER BY number";
pub(crate) const SETS_OF_MESSAGES: &str = "SELECT set_id, number FROM message_of_set ORDER BY number, set_id";
pub(crate) const FORGET_MESSAGES: &str =
    "UPDATE message SET sealed = NULL WHERE answer = ?1 AND received_at < ?2 AND sealed IS NOT NULL";

/// One value of a row or one parameter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Value {
    Text(String),
    Integer(i64),
    Bytes(Vec<u8>),
    Null,
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Value::Text(text.to_owned())
    }
}

impl From<i64> for Value {
    fn from(number: i64) -> Self {
        Value::Integer(number)
    }
}

impl From<&Option<String>> for Value {
    fn from(text: &Option<String>) -> Self {
        text.as_ref().map_or(Value::Null, |text| Value::Text(text.clone()))
    }
}

/// Whether a transaction will write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Access {
    Read,
    Write,
}

/// What is done with each row of an answer.
pub(crate) type EachRow<'a> = &'a mut dyn FnMut(Row<'_>) -> Result<(), BookError>;

/// An open database.
pub(crate) trait Connection {
    /// Runs a statement that changes something.
    fn execute(&self, sql: &str, parameters: &[Value]) -> Result<(), BookError>;

    /// Runs a query and hands over its rows one by one.
    fn query(&self, sql: &str, parameters: &[Value], each: EachRow<'_>) -> Result<(), BookError>;

    /// Begins a transaction; a writing one keeps other writers out from here on.
    fn begin(&self, access: Access) -> Result<(), BookError>;

    /// From here to the end of the transaction, a row may name an entry that is written after it; whether it is there is
    /// asked at the end.
    fn defer_references(&self) -> Result<(), BookError>;

    /// Makes what the transaction wrote durable.
    fn commit(&self) -> Result<(), BookError>;

    /// Forgets what the transaction wrote. Called after an error, so it reports none of its own.
    fn roll_back(&self);

    /// What the database itself finds wrong with its file and its safeguards.
    fn faults(&self) -> Result<Vec<Fault>, BookError>;
}

/// Runs `work` in a transaction: all of it, or none.
pub(crate) fn within<C: Connection, T>(
    connection: &C,
    access: Access,
    work: impl FnOnce() -> Result<T, BookError>,
) -> Result<T, BookError> {
    connection.begin(access)?;
    let done = work().and_then(|value| connection.commit().map(|()| value));
    if done.is_err() {
        connection.roll_back();
    }
    done
}

/// A row of an answer, read by column number.
#[derive(Clone, Copy)]
pub(crate) struct Row<'a>(pub(crate) &'a [Value]);

impl Row<'_> {
    pub(crate) fn text(self, column: usize) -> Result<String, BookError> {
        match self.0.get(column) {
            Some(Value::Text(text)) => Ok(text.clone()),
            // The book never writes bytes where text belongs. As words that say so they fail their hash.
            Some(Value::Bytes(bytes)) => Ok(format!("<{} bytes>", bytes.len())),
            other => Err(self.unexpected(column, other, "text")),
        }
    }

    pub(crate) fn optional_text(self, column: usize) -> Result<Option<String>, BookError> {
        match self.0.get(column) {
            Some(Value::Null) => Ok(None),
            _ => self.text(column).map(Some),
        }
    }

    pub(crate) fn optional_bytes(self, column: usize) -> Result<Option<Vec<u8>>, BookError> {
        match self.0.get(column) {
            Some(Value::Null) => Ok(None),
            Some(Value::Bytes(bytes)) => Ok(Some(bytes.clone())),
            other => Err(self.unexpected(column, other, "bytes or nothing")),
        }
    }

    pub(crate) fn integer(self, column: usize) -> Result<i64, BookError> {
        match self.0.get(column) {
            Some(Value::Integer(number)) => Ok(*number),
            other => Err(self.unexpected(column, other, "a whole number")),
        }
    }

    pub(crate) fn entry(self) -> Result<EntryRow, BookError> {
        Ok(EntryRow {
            seq: self.integer(0)?,
            id: self.text(1)?,
            happened: self.text(2)?,
            recorded_at: self.text(3)?,
            by: self.text(4)?,
            kind: self.text(5)?,
            kind_version: self.integer(6)?,
            body: self.text(7)?,
            corrects: self.optional_text(8)?,
            correction_reason: self.optional_text(9)?,
            previous_hash: self.text(10)?,
            hash: self.text(11)?,
        })
    }

    pub(crate) fn set(self) -> Result<SetRow, BookError> {
        Ok(SetRow {
            set_id: self.text(0)?,
            version: self.integer(1)?,
            entry_seq: self.integer(2)?,
            position: self.integer(3)?,
            patient_key: self.text(4)?,
            collected_on: self.text(5)?,
            unit: self.optional_text(6)?,
            verdict: self.text(7)?,
            rule_name: self.text(8)?,
            rule_version: self.text(9)?,
            clause: self.text(10)?,
            body_version: self.integer(11)?,
            body: self.text(12)?,
            row_sha256: self.text(13)?,
        })
    }

    fn unexpected(self, column: usize, found: Option<&Value>, expected: &str) -> BookError {
        let first = self.0.first();
        BookError::Unreadable(Fault {
            place: format!("the row that begins with {first:?}, column {}", column + 1),
            found: format!("{found:?}"),
            expected: expected.to_owned(),
            what_to_do: crate::verify::GO_BACK.to_owned(),
        })
    }
}

pub(crate) fn entry_parameters(row: &EntryRow) -> [Value; 12] {
    [
        row.seq.into(),
        row.id.as_str().into(),
        row.happened.as_str().into(),
        row.recorded_at.as_str().into(),
        row.by.as_str().into(),
        row.kind.as_str().into(),
        row.kind_version.into(),
        row.body.as_str().into(),
        (&row.corrects).into(),
        (&row.correction_reason).into(),
        row.previous_hash.as_str().into(),
        row.hash.as_str().into(),
    ]
}

pub(crate) fn set_parameters(row: &SetRow) -> [Value; 14] {
    [
        row.set_id.as_str().into(),
        row.version.into(),
        row.entry_seq.into(),
        row.position.into(),
        row.patient_key.as_str().into(),
        row.collected_on.as_str().into(),
        (&row.unit).into(),
        row.verdict.as_str().into(),
        row.rule_name.as_str().into(),
        row.rule_version.as_str().into(),
        row.clause.as_str().into(),
        row.body_version.into(),
        row.body.as_str().into(),
        row.row_sha256.as_str().into(),
    ]
}

/// The statement with `$1` for `?1`, as PostgreSQL writes parameters. Question marks inside quotes stay.
pub(crate) fn dollar_parameters(sql: &str) -> String {
    let mut quote = None;
    sql.chars()
        .map(|character| match (quote, character) {
            (None, '\'' | '"') => {
                quote = Some(character);
                character
            }
            (Some(open), _) if character == open => {
                quote = None;
                character
            }
            (None, '?') => '$',
            _ => character,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [&str; 28] = [
        HEAD,
        SET_HEAD,
        PATIENT_KEY_CHECK,
        SET_PATIENT_KEY_CHECK,
        INSERT_ENTRY,
        ENTRIES,
        ENTRY_BY_ID,
        INSERT_SET,
        SETS_BY_ENTRY,
        LATEST_SETS,
        VERSIONS_OF_SET,
        ENTRIES_NOT_OF_KIND,
        ENTRY_NOT_OF_KIND_AFTER,
        HASH_OF_ENTRY,
        ENTRIES_THAT_NAME,
        LATEST_SETS_OF_PATIENT,
        LATEST_SETS_AFTER,
        ANY_SET,
        PATIENT_OF_SET,
        INSERT_MESSAGE,
        UPDATE_MESSAGE,
        INSERT_MESSAGE_OF_SET,
        MESSAGE_BY_IDENTITY,
        MESSAGES_OF_SET,
        MESSAGES_BY_ANSWER,
        FORGET_MESSAGES,
        MESSAGES,
        SETS_OF_MESSAGES,
    ];

    #[test]
    fn parameters_are_rewritten_outside_quotes_only() {
        assert_eq!(
            dollar_parameters("SELECT a FROM t WHERE b = ?1 AND c = 'why?' AND \"d?\" = ?12"),
            "SELECT a FROM t WHERE b = $1 AND c = 'why?' AND \"d?\" = $12"
        );
        assert_eq!(dollar_parameters("x = 'it''s ?1' AND y = ?2"), "x = 'it''s ?1' AND y = $2");
        for sql in ALL {
            assert!(!dollar_parameters(sql).contains('?'), "{sql}");
        }
    }

    /// Words that only SQLite understands, from its own list of SQL it adds to the standard.
    #[test]
    fn statements_use_nothing_that_only_one_database_has() {
        for sql in ALL.into_iter().chain([LATEST_VERSION_OF_SET, LAST_MESSAGE]) {
            let lower = sql.to_lowercase();
            for word in [
                "rowid",
                "autoincrement",
                "insert or",
                "replace into",
                "pragma",
                "ifnull",
                "strftime",
                "datetime(",
                "group_concat",
                "printf(",
                " glob ",
                "json_",
                "without rowid",
                "changes()",
            ] {
                assert!(!lower.contains(word), "{word} in {sql}");
            }
        }
    }
}
