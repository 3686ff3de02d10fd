//! Walks the book and names everything that is not as it was written.

use std::collections::BTreeMap;

use crate::chain::{EntryRow, NO_HASH, RowsDigest, SetRow, is_sha256_hex, sha256_hex};
use crate::entry::Body;
use crate::error::{BookError, Fault};
use crate::ledger::{self, place_of, place_of_set};
use crate::sql::{self, Access, Connection, within};
use crate::store::{Head, KnownSet, Verification};

pub(crate) const GO_BACK: &str = "keep this file as it is for whoever looks into it, go back to the last good copy and add what came after it";
pub(crate) const VERIFY_OR_NEWER: &str =
    "run `wardwright book verify`; if the book is sound, it was written by a newer program";

pub(crate) fn verify<C: Connection>(connection: &C) -> Result<Verification, BookError> {
    within(connection, Access::Read, || {
        let mut walk = Walk { faults: connection.faults()?, ..Walk::default() };
        connection.query(sql::ENTRIES, &[], &mut |row| {
            walk.entry(row.entry()?);
            Ok(())
        })?;
        walk.head(&ledger::head(connection)?);
        connection.query(sql::SETS_BY_ENTRY, &[], &mut |row| {
            walk.set(row.set()?);
            Ok(())
        })?;
        walk.digests();
        walk.versions();
        Ok(walk.finish())
    })
}

/// What an entry that took in a file promises about its rows.
struct Promise {
    n_rows: u64,
    rows_sha256: String,
    place: String,
}

/// What the rows of one entry turned out to be.
struct Found {
    n_rows: u64,
    digest: RowsDigest,
}

#[derive(Default)]
struct Walk {
    faults: Vec<Fault>,
    n_entries: u64,
    n_set_rows: u64,
    last: Option<EntryRow>,
    seq_of_id: BTreeMap<String, i64>,
    promises: BTreeMap<i64, Promise>,
    found: BTreeMap<i64, Found>,
    versions: BTreeMap<String, Vec<i64>>,
}

impl Walk {
    fn fault(&mut self, place: String, found: impl Into<String>, expected: impl Into<String>) {
        let what_to_do = GO_BACK.to_owned();
        self.faults.push(Fault { place, found: found.into(), expected: expected.into(), what_to_do });
    }

    fn entry(&mut self, row: EntryRow) {
        self.n_entries += 1;
        let expected_seq = self.last.as_ref().map_or(1, |last| last.seq + 1);
        let expected_previous = self.last.as_ref().map_or(NO_HASH.to_owned(), |last| last.hash.clone());
        if row.seq != expected_seq {
            let missing = match row.seq - expected_seq {
                1 => format!("entry {expected_seq}"),
                _ => format!("entries {expected_seq} to {}", row.seq - 1),
            };
            self.fault(
                missing,
                "nothing: removed from the book",
                "an entry, for entries are numbered without gaps",
            );
        } else if row.previous_hash != expected_previous {
            let before = match &self.last {
                Some(last) => format!("entry {} as it stands", last.seq),
                None => "the beginning of the book".to_owned(),
            };
            self.fault(
                place_of(&row),
                format!("that it follows {}", short(&row.previous_hash)),
                format!(
                    "that it follows {before}, {}; one of the two was replaced",
                    short(&expected_previous)
                ),
            );
        }
        let computed = row.computed_hash();
        if computed != row.hash {
            self.fault(
                place_of(&row),
                format!("text whose hash is {}", short(&computed)),
                format!(
                    "the text that was recorded, with the hash {}; the entry was altered",
                    short(&row.hash)
                ),
            );
        }
        if let Some(earlier) = &row.corrects
            && !self.seq_of_id.contains_key(earlier)
        {
            self.fault(
                place_of(&row),
                format!("a correction of {earlier}, which does not come before it"),
                "an earlier entry",
            );
        }
        match ledger::recorded(row.clone()) {
            Ok(recorded) => {
                if let Body::LaboratoryFileTakenIn(file) = recorded.body() {
                    let promise = Promise {
                        n_rows: file.sets_new.saturating_add(file.sets_changed),
                        rows_sha256: file.rows_sha256.clone(),
                        place: place_of(&row),
                    };
                    self.promises.insert(row.seq, promise);
                }
            }
            Err(BookError::Unreadable(fault)) if computed == row.hash => self.faults.push(fault),
            // An altered entry that can no longer be read is named once, as altered.
            Err(_) => {}
        }
        self.seq_of_id.insert(row.id.clone(), row.seq);
        self.last = Some(row);
    }

    fn head(&mut self, noted: &Head) {
        let (seq, hash) = self.last.as_ref().map_or((0, NO_HASH), |last| (last.seq, last.hash.as_str()));
        let (noted_seq, hash) = (i64::try_from(noted.seq).unwrap_or(i64::MAX), hash.to_owned());
        if seq < noted_seq {
            let missing = match noted_seq - seq {
                1 => format!("entry {noted_seq}"),
                _ => format!("entries {} to {noted_seq}", seq + 1),
            };
            self.fault(
                missing,
                "nothing: removed from the end of the book",
                format!("{noted_seq} entries, as the book notes of itself"),
            );
        } else if seq > noted_seq || hash != noted.hash {
            self.fault(
                "the note of how long the book is".to_owned(),
                format!("{noted_seq} entries ending in {}", short(&noted.hash)),
                format!("{seq} entries ending in {}", short(&hash)),
            );
        }
    }

    fn set(&mut self, row: SetRow) {
        self.n_set_rows += 1;
        let canonical = row.canonical();
        let computed = sha256_hex(canonical.as_bytes());
        if computed != row.row_sha256 {
            self.fault(
                place_of_set(&row),
                format!("text whose hash is {}", short(&computed)),
                format!(
                    "the row that was taken in, with the hash {}; the row was altered",
                    short(&row.row_sha256)
                ),
            );
        } else {
            match ledger::known_set(&row) {
                Ok(KnownSet { set, .. }) => {
                    let agrees = set.id.0 == row.set_id
                        && set.patient.0 == row.patient_key
                        && set.collected.date().to_string() == row.collected_on
                        && set.unit == row.unit;
                    if !agrees {
                        self.fault(
                            place_of_set(&row),
                            "columns that say otherwise than its report",
                            "the same in both",
                        );
                    }
                }
                Err(BookError::Unreadable(fault)) => self.faults.push(fault),
                Err(other) => self.fault(place_of_set(&row), other.to_string(), "a readable row"),
            }
        }
        let found =
            self.found.entry(row.entry_seq).or_insert_with(|| Found { n_rows: 0, digest: RowsDigest::new() });
        found.n_rows += 1;
        found.digest.add(&canonical);
        self.versions.entry(row.set_id).or_default().push(row.version);
    }

    fn digests(&mut self) {
        let promises = std::mem::take(&mut self.promises);
        let mut found = std::mem::take(&mut self.found);
        for (seq, promise) in promises {
            let rows = found.remove(&seq).unwrap_or(Found { n_rows: 0, digest: RowsDigest::new() });
            if rows.n_rows != promise.n_rows {
                self.fault(
                    promise.place,
                    format!("{} rows of sets", rows.n_rows),
                    format!("the {} rows it took in", promise.n_rows),
                );
            } else if rows.digest.finish() != promise.rows_sha256 {
                self.fault(
                    promise.place,
                    "rows of sets that are not the ones it took in",
                    format!("rows whose digest is {}", short(&promise.rows_sha256)),
                );
            }
        }
        for (seq, rows) in found {
            self.fault(
                format!("entry {seq}"),
                format!("{} rows of sets that say this entry took them in", rows.n_rows),
                "an entry that took in a laboratory file",
            );
        }
    }

    fn versions(&mut self) {
        for (set_id, mut versions) in std::mem::take(&mut self.versions) {
            versions.sort_unstable();
            let gap = (1..).zip(&versions).find(|(expected, version)| expected != *version);
            if let Some((expected, version)) = gap {
                self.fault(
                    format!("set {set_id}"),
                    format!("version {version} and no version {expected}"),
                    "versions counted from 1 without gaps",
                );
            }
        }
    }

    fn finish(self) -> Verification {
        let head = match self.last {
            Some(last) => Head { seq: u64::try_from(last.seq).unwrap_or_default(), hash: last.hash },
            None => Head { seq: 0, hash: NO_HASH.to_owned() },
        };
        Verification { n_entries: self.n_entries, n_set_rows: self.n_set_rows, head, faults: self.faults }
    }
}

/// The first digits of a hash, enough to compare by eye; anything else in full, for it is the finding.
fn short(hash: &str) -> String {
    if is_sha256_hex(hash) { format!("{}...", &hash[..12]) } else { format!("{hash:?}") }
}
