//! The canonical form of entries and rows, and the hashes over it. FROZEN: names, order and punctuation of the
//! fields may not change, or every book ever written would fail its verification. A change is a new form with a
//! new first line, beside this one.
//!
//! The form is plain so that anyone can recompute it with other tools: a first line that names the form, then one
//! line per field, `name=length:value`, where the length is in bytes of UTF-8; an absent value is `name=-`. Lines end
//! with a line feed. A hash is SHA-256 in lower-case hexadecimal. `docs/record-book.md` repeats it for auditors.

use sha2::{Digest, Sha256};

/// What stands where an empty book has no hash.
pub(crate) const NO_HASH: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// An entry as it stands in the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct EntryRow {
    pub(crate) seq: i64,
    pub(crate) id: String,
    pub(crate) happened: String,
    pub(crate) recorded_at: String,
    pub(crate) by: String,
    pub(crate) kind: String,
    pub(crate) kind_version: i64,
    pub(crate) body: String,
    pub(crate) corrects: Option<String>,
    pub(crate) correction_reason: Option<String>,
    pub(crate) previous_hash: String,
    pub(crate) hash: String,
}

impl EntryRow {
    /// The text over which the hash is taken. The hash itself is not part of it.
    pub(crate) fn canonical(&self) -> String {
        let mut form = Form::named("wardwright-entry-1");
        form.number("seq", self.seq);
        form.field("id", Some(&self.id));
        form.field("happened", Some(&self.happened));
        form.field("recorded_at", Some(&self.recorded_at));
        form.field("by", Some(&self.by));
        form.field("kind", Some(&self.kind));
        form.number("kind_version", self.kind_version);
        form.field("body", Some(&self.body));
        form.field("corrects", self.corrects.as_deref());
        form.field("correction_reason", self.correction_reason.as_deref());
        form.field("previous_hash", Some(&self.previous_hash));
        form.0
    }

    /// The hash that what the entry says calls for.
    pub(crate) fn computed_hash(&self) -> String {
        sha256_hex(self.canonical().as_bytes())
    }
}

/// A version of a set as it stands in the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SetRow {
    pub(crate) set_id: String,
    pub(crate) version: i64,
    pub(crate) entry_seq: i64,
    pub(crate) position: i64,
    pub(crate) patient_key: String,
    pub(crate) collected_on: String,
    pub(crate) unit: Option<String>,
    pub(crate) verdict: String,
    pub(crate) rule_name: String,
    pub(crate) rule_version: String,
    pub(crate) clause: String,
    pub(crate) body_version: i64,
    pub(crate) body: String,
    pub(crate) row_sha256: String,
}

impl SetRow {
    /// The text over which the row's hash and the digest of its entry are taken.
    pub(crate) fn canonical(&self) -> String {
        let mut form = Form::named("wardwright-set-row-1");
        form.field("set_id", Some(&self.set_id));
        form.number("version", self.version);
        form.number("entry_seq", self.entry_seq);
        form.number("position", self.position);
        form.field("patient_key", Some(&self.patient_key));
        form.field("collected_on", Some(&self.collected_on));
        form.field("unit", self.unit.as_deref());
        form.field("verdict", Some(&self.verdict));
        form.field("rule_name", Some(&self.rule_name));
        form.field("rule_version", Some(&self.rule_version));
        form.field("clause", Some(&self.clause));
        form.number("body_version", self.body_version);
        form.field("body", Some(&self.body));
        form.0
    }
}

/// Digest over the canonical form of the rows of one entry, in the order of their position.
#[derive(Clone)]
pub(crate) struct RowsDigest(Sha256);

impl RowsDigest {
    pub(crate) fn new() -> Self {
        RowsDigest(Sha256::new())
    }

    /// Adds the canonical form of the next row.
    pub(crate) fn add(&mut self, canonical: &str) {
        self.0.update(canonical.as_bytes());
    }

    pub(crate) fn finish(self) -> String {
        hex(&self.0.finalize())
    }
}

/// SHA-256 in lower-case hexadecimal.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Whether the text is a SHA-256 in lower-case hexadecimal.
pub(crate) fn is_sha256_hex(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}

fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digit = |value: u8| char::from(DIGITS[usize::from(value & 15)]);
    bytes.iter().flat_map(|byte| [digit(byte >> 4), digit(*byte)]).collect()
}

struct Form(String);

impl Form {
    fn named(name: &str) -> Self {
        let mut form = Form(String::with_capacity(1024));
        form.0.push_str(name);
        form.0.push('\n');
        form
    }

    fn field(&mut self, name: &str, value: Option<&str>) {
        self.0.push_str(name);
        match value {
            Some(value) => {
                self.0.push('=');
                self.0.push_str(&value.len().to_string());
                self.0.push(':');
                self.0.push_str(value);
                self.0.push('\n');
            }
            None => self.0.push_str("=-\n"),
        }
    }

    fn number(&mut self, name: &str, value: i64) {
        self.field(name, Some(&value.to_string()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry() -> EntryRow {
        EntryRow {
            seq: 1,
            id: "019ab0c4-1f00-7000-8000-000000000001".to_owned(),
            happened: "2026-01-05T09:30:00".to_owned(),
            recorded_at: "2026-01-05T08:31:00Z".to_owned(),
            by: "T-01".to_owned(),
            kind: "withdrawn".to_owned(),
            kind_version: 1,
            body: r#"{"person":"N-07","job":"vein","reason":"über 90 Tage"}"#.to_owned(),
            corrects: None,
            correction_reason: None,
            previous_hash: NO_HASH.to_owned(),
            hash: String::new(),
        }
    }

    /// The expectation was computed apart from this program, with hashlib of Python 3 over the text that
    /// `docs/record-book.md` describes, typed by hand:
    ///
    /// `f = lambda n, v: f"{n}={len(v.encode())}:{v}\n"`, then `hashlib.sha256(("wardwright-entry-1\n" + f("seq", "1") +
    /// ... + "corrects=-\n" + "correction_reason=-\n" + f("previous_hash", "0" * 64)).encode()).hexdigest()`.
    #[test]
    fn the_hash_of_an_entry_is_the_one_other_tools_compute() {
        assert_eq!(
            entry().computed_hash(),
            "ddbe5e0e7791e0083b47590d98b407f0548cfa6cccea4edeff111936bc4f4e38"
        );
    }

    /// FIPS 180-4 / NIST example: SHA-256 of "abc".
    #[test]
    fn sha256_is_the_published_one() {
        assert_eq!(sha256_hex(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn every_field_is_under_the_hash() {
        let base = entry();
        let changed = [
            EntryRow { seq: 2, ..base.clone() },
            EntryRow { id: base.id.replace('1', "2"), ..base.clone() },
            EntryRow { happened: "2026-01-05T09:31:00".to_owned(), ..base.clone() },
            EntryRow { recorded_at: "2026-01-05T08:31:01Z".to_owned(), ..base.clone() },
            EntryRow { by: "T-02".to_owned(), ..base.clone() },
            EntryRow { kind: "released".to_owned(), ..base.clone() },
            EntryRow { kind_version: 2, ..base.clone() },
            EntryRow { body: base.body.replace("90", "91"), ..base.clone() },
            EntryRow { corrects: Some(String::new()), ..base.clone() },
            EntryRow { correction_reason: Some(String::new()), ..base.clone() },
            EntryRow { previous_hash: NO_HASH.replacen('0', "1", 1), ..base.clone() },
        ];
        for row in changed {
            assert_ne!(row.computed_hash(), base.computed_hash(), "{row:?}");
        }
    }

    #[test]
    fn text_cannot_move_from_one_field_to_the_next() {
        let base = entry();
        let one = EntryRow { by: "a\nkind=1:b".to_owned(), kind: "c".to_owned(), ..base.clone() };
        let other = EntryRow { by: "a".to_owned(), kind: "b\nkind=1:c".to_owned(), ..base };
        assert_ne!(one.canonical(), other.canonical());
    }
}
