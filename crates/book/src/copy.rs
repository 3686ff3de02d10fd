//! A whole book carried to another place: entries, rows of sets and messages as they are, with their hashes.

use crate::error::{BookError, Fault};
use crate::ledger;
use crate::sql::{self, Access, Connection, within};
use crate::store::Head;

/// Copies one book into another, which must be empty: all of it, or nothing. Both keep other writers out meanwhile.
pub(crate) fn copy<A: Connection, B: Connection>(from: &A, to: &B) -> Result<Head, BookError> {
    within(from, Access::Write, || {
        within(to, Access::Write, || {
            let there = ledger::head(to)?;
            if there.seq > 0 {
                return Err(BookError::Unreadable(Fault {
                    place: "the book to copy into".to_owned(),
                    found: format!("a book of {} entries", there.seq),
                    expected: "an empty one".to_owned(),
                    what_to_do: "name another place; nothing was changed".to_owned(),
                }));
            }
            let carry = |all: &str, insert: &str| from.query(all, &[], &mut |row| to.execute(insert, row.0));
            carry(sql::ENTRIES, sql::INSERT_ENTRY)?;
            carry(sql::SETS_BY_ENTRY, sql::INSERT_SET)?;
            carry(sql::MESSAGES, sql::INSERT_MESSAGE)?;
            carry(sql::SETS_OF_MESSAGES, sql::INSERT_MESSAGE_OF_SET)?;
            from.query(sql::PATIENT_KEY_CHECK, &[], &mut |row| match row.optional_text(0)? {
                Some(check) => to.execute(sql::SET_PATIENT_KEY_CHECK, &[check.as_str().into()]),
                None => Ok(()),
            })?;
            let head = ledger::head(from)?;
            ledger::write_head(to, &head)?;
            Ok(head)
        })
    })
}
