//! Messages of the laboratory as the door keeps them, apart from the record itself.

use culture::{PatientKey, SetId};
use jiff::Timestamp;
use std::collections::{BTreeMap, BTreeSet};

use crate::error::{BookError, Fault};
use crate::ledger::{known_set, whole};
use crate::sql::{self, Connection, Row, Value};
use crate::store::{Head, KnownSet, TakeIn, TakeInOutcome};

/// What is taken in at one commit: the sets that messages or a file brought, and the messages themselves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Intake {
    /// The book as it was when the verdicts were worked out. Where it has grown since, nothing is written and
    /// [`BookError::Moved`] asks to work them out again. `None` writes whatever the book holds by now.
    pub seen: Option<Head>,
    /// The sets with their verdicts, where there are any.
    pub file: Option<TakeIn>,
    /// Whether an entry is written although no set is new or changed.
    pub entry_when_unchanged: bool,
    /// Messages, in the order in which they came.
    pub messages: Vec<NewMessage>,
}

/// What [`Store::take_in_with_messages`](crate::Store::take_in_with_messages) did.
#[derive(Debug, Clone, PartialEq)]
pub struct IntakeOutcome {
    /// What became of the sets; `None` where there were none, or none was new or changed.
    pub file: Option<TakeInOutcome>,
    /// The book after the commit.
    pub head: Head,
}

/// A message as it is to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewMessage {
    /// By what the message is known again; a message of the same identity is kept once.
    pub identity: String,
    /// When it came.
    pub received_at: Timestamp,
    /// Where it came from, such as the name of a file; never anything about a patient.
    pub source: String,
    /// What became of it.
    pub fate: MessageFate,
    /// The message itself, unreadable without a key that is not in the book.
    pub sealed: Vec<u8>,
}

/// What became of a message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MessageFate {
    /// It speaks of these sets, which are in the book.
    TakenIn {
        /// Sets it speaks of.
        sets: Vec<SetId>,
    },
    /// It could not be taken in and waits for a person.
    KeptAside {
        /// What was wrong, in words that name no patient.
        reason: String,
    },
}

/// A message that is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptMessage {
    /// Counted from 1 in the order in which messages first came.
    pub number: u64,
    /// By what it is known again.
    pub identity: String,
    /// When it first came.
    pub received_at: Timestamp,
    /// Where it came from.
    pub source: String,
    /// How often it has come.
    pub times_received: u64,
    /// Why it waits for a person; `None` for a message that was taken in.
    pub aside_because: Option<String>,
    /// The sealed message; `None` once it has been forgotten.
    pub sealed: Option<Vec<u8>>,
}

const TAKEN_IN: &str = "taken-in";
const ASIDE: &str = "aside";
const SEALED_AT_MOST: usize = 64 << 20;

/// Writes messages; part of the transaction that writes what they brought.
pub(crate) fn write<C: Connection>(
    connection: &C,
    messages: &[NewMessage],
    entry_seq: Option<u64>,
) -> Result<(), BookError> {
    if messages.is_empty() {
        return Ok(());
    }
    let mut last = 0;
    connection.query(sql::LAST_MESSAGE, &[], &mut |row| {
        last = row.integer(0)?;
        Ok(())
    })?;
    for message in messages {
        let known = by_identity(connection, &message.identity)?;
        let (answer, reason, sets): (&str, Value, &[SetId]) = match &message.fate {
            MessageFate::TakenIn { sets } => (TAKEN_IN, Value::Null, sets),
            MessageFate::KeptAside { reason } => (ASIDE, reason.as_str().into(), &[]),
        };
        let seq = entry_seq.map_or(Value::Null, |seq| whole(seq).into());
        let sealed = Value::Bytes(message.sealed.clone());
        let number = match known {
            Some(known) => {
                let number = whole(known.number);
                let times = whole(known.times_received.saturating_add(1));
                let parameters = [number.into(), times.into(), seq, answer.into(), reason, sealed];
                connection.execute(sql::UPDATE_MESSAGE, &parameters)?;
                number
            }
            None => {
                last += 1;
                let parameters = [
                    last.into(),
                    message.identity.as_str().into(),
                    message.received_at.to_string().as_str().into(),
                    message.source.as_str().into(),
                    1.into(),
                    seq,
                    answer.into(),
                    reason,
                    sealed,
                ];
                connection.execute(sql::INSERT_MESSAGE, &parameters)?;
                last
            }
        };
        for set in sets {
            connection.execute(sql::INSERT_MESSAGE_OF_SET, &[set.0.as_str().into(), number.into()])?;
        }
    }
    Ok(())
}

/// Checks messages before any is written.
pub(crate) fn check(messages: &[NewMessage]) -> Result<(), BookError> {
    let refuse = |found: String, expected: &str| {
        Err(BookError::Unreadable(Fault {
            place: "a message to be kept".to_owned(),
            found,
            expected: expected.to_owned(),
            what_to_do: "report this fault; nothing was written".to_owned(),
        }))
    };
    let mut seen = BTreeSet::new();
    for message in messages {
        if message.identity.is_empty() || !seen.insert(&message.identity) {
            return refuse(
                "no identity, or one that stands twice".to_owned(),
                "each message once, with its identity",
            );
        }
        if message.sealed.len() > SEALED_AT_MOST {
            return refuse(format!("{} bytes", message.sealed.len()), "at most 64 MiB");
        }
        let reason = match &message.fate {
            MessageFate::KeptAside { reason } => reason.as_str(),
            MessageFate::TakenIn { .. } => "",
        };
        if [&message.identity, &message.source, reason].iter().any(|text| text.contains('\0')) {
            return refuse("a NUL character".to_owned(), "plain text");
        }
    }
    Ok(())
}

pub(crate) fn by_identity<C: Connection>(
    connection: &C,
    identity: &str,
) -> Result<Option<KeptMessage>, BookError> {
    let mut found = None;
    connection.query(sql::MESSAGE_BY_IDENTITY, &[identity.into()], &mut |row| {
        found = Some(message(row)?);
        Ok(())
    })?;
    Ok(found)
}

/// Messages that speak of any of these sets, each once, in the order in which they came.
pub(crate) fn of_sets<C: Connection>(
    connection: &C,
    sets: &BTreeSet<SetId>,
) -> Result<Vec<KeptMessage>, BookError> {
    let mut found = BTreeMap::new();
    for set in sets {
        connection.query(sql::MESSAGES_OF_SET, &[set.0.as_str().into()], &mut |row| {
            let message = message(row)?;
            found.insert(message.number, message);
            Ok(())
        })?;
    }
    Ok(found.into_values().collect())
}

pub(crate) fn aside<C: Connection>(connection: &C) -> Result<Vec<KeptMessage>, BookError> {
    let mut found = Vec::new();
    connection.query(sql::MESSAGES_BY_ANSWER, &[ASIDE.into()], &mut |row| {
        found.push(message(row)?);
        Ok(())
    })?;
    Ok(found)
}

pub(crate) fn forget_before<C: Connection>(connection: &C, day: Timestamp) -> Result<(), BookError> {
    connection.execute(sql::FORGET_MESSAGES, &[TAKEN_IN.into(), day.to_string().as_str().into()])
}

/// Whether the book holds any set: into an empty one, a million go without being looked up.
pub(crate) fn has_sets<C: Connection>(connection: &C) -> Result<bool, BookError> {
    let mut any = false;
    connection.query(sql::ANY_SET, &[], &mut |_| {
        any = true;
        Ok(())
    })?;
    Ok(any)
}

/// What the book says last of every specimen number of these patients, in no order.
pub(crate) fn sets_of_patients<C: Connection>(
    connection: &C,
    patients: &BTreeSet<PatientKey>,
) -> Result<Vec<KnownSet>, BookError> {
    let mut sets = Vec::new();
    if !has_sets(connection)? {
        return Ok(sets);
    }
    for patient in patients {
        connection.query(sql::LATEST_SETS_OF_PATIENT, &[patient.0.as_str().into()], &mut |row| {
            sets.push(known_set(&row.set()?)?);
            Ok(())
        })?;
    }
    Ok(sets)
}

/// Whose each of these sets is by its latest version; sets the book does not know are left out.
pub(crate) fn patients_of_sets<C: Connection>(
    connection: &C,
    sets: &BTreeSet<SetId>,
) -> Result<BTreeMap<SetId, PatientKey>, BookError> {
    let mut patients = BTreeMap::new();
    if !has_sets(connection)? {
        return Ok(patients);
    }
    for set in sets {
        connection.query(sql::PATIENT_OF_SET, &[set.0.as_str().into()], &mut |row| {
            patients.insert(set.clone(), PatientKey(row.text(0)?));
            Ok(())
        })?;
    }
    Ok(patients)
}

fn message(row: Row<'_>) -> Result<KeptMessage, BookError> {
    let number = row.integer(0)?;
    let count = |value: i64| u64::try_from(value).unwrap_or_default();
    let received = row.text(2)?;
    let received_at = received.parse().map_err(|_| {
        BookError::Unreadable(Fault {
            place: format!("message {number}"),
            found: format!("received at {received:?}"),
            expected: "a time in UTC".to_owned(),
            what_to_do: crate::verify::VERIFY_OR_NEWER.to_owned(),
        })
    })?;
    let answer = row.text(5)?;
    let reason = row.optional_text(6)?;
    Ok(KeptMessage {
        number: count(number),
        identity: row.text(1)?,
        received_at,
        source: row.text(3)?,
        times_received: count(row.integer(4)?),
        aside_because: (answer == ASIDE).then(|| reason.unwrap_or_default()),
        sealed: row.optional_bytes(7)?,
    })
}
