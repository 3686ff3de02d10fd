//! Entries as a trainer writes them: a TOML file of `[[entry]]` tables, described in `docs/entries.md`.
//!
//! Reading is all or nothing: every fault of the file is named, and drafts come out only when there is none. An entry's
//! identifier is made from what it says, so the same file added twice adds nothing.

mod known;
mod marks;
mod say;
mod table;
mod transcript;

use breakdown::Breakdown;
use jiff::civil::{Date, DateTime};
use practice::{EventKind, ReleaseRule};
use sha2::{Digest, Sha256};
use teachback::Proposed;
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use uuid::Uuid;

use self::known::Known;
use self::table::{EntryTable, Lines};
use crate::entry::{Body, Draft, Recorded};
use crate::error::Fault;
use crate::stored;

/// What a file of entries is read against.
pub struct Written<'a> {
    /// Entries of the book.
    pub entries: &'a [Recorded],
    /// The day on which the file is read: nothing happens after it.
    pub today: Date,
    /// The release rule: a release it does not support needs a reason.
    pub rule: &'a ReleaseRule,
    /// Reads a breakdown file that an entry names.
    pub read_breakdown: &'a dyn Fn(&str) -> Result<Breakdown, Fault>,
    /// Reads a transcript that an entry names, or proposals made from one, against a breakdown: the proposals, with the
    /// transcript's text where it was at hand.
    pub read_transcript: &'a dyn Fn(&str, &Breakdown) -> Result<Proposed, Fault>,
    /// Reads the file of a release rule that an entry names.
    pub read_rule: &'a dyn Fn(&str) -> Result<ReleaseRule, Fault>,
}

/// Reads a file of entries into drafts, in the order of the file; or names every fault by line and entry.
pub fn read_entries(text: &str, against: &Written<'_>) -> Result<Vec<Draft>, Vec<Fault>> {
    let lines = Lines::of(text);
    let (root, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return Err(errors.iter().map(|error| not_toml(&lines, error)).collect());
    }
    let mut faults = Vec::new();
    let (entries, by) = top_level(root.get_ref(), &lines, &mut faults);
    let mut known = Known::of(against.entries);
    let mut drafts: Vec<Draft> = Vec::new();
    for (number, entry) in (1usize..).zip(entries) {
        let mut table = EntryTable::new(number, entry, &lines, by.as_deref());
        let draft = say::entry(&mut table, &mut known, against);
        faults.extend(table.finish());
        if let Some(draft) = draft {
            match drafts.iter().position(|earlier| earlier.id == draft.id) {
                Some(earlier) => faults.push(Fault {
                    place: EntryTable::place_of(number, entry, &lines),
                    found: format!("exactly what entry {} says", earlier + 1),
                    expected: "each thing that happened once".to_owned(),
                    what_to_do: "remove one of the two, or give each its own time or specimen number"
                        .to_owned(),
                }),
                None => {
                    known.add(&draft);
                    drafts.push(draft);
                }
            }
        }
    }
    if faults.is_empty() { Ok(drafts) } else { Err(faults) }
}

fn top_level<'a>(
    root: &'a DeTable<'a>,
    lines: &Lines,
    faults: &mut Vec<Fault>,
) -> (Vec<&'a Spanned<DeValue<'a>>>, Option<String>) {
    let mut entries = Vec::new();
    let mut by = None;
    let mut fault = |at: usize, found: String, expected: &str, what_to_do: &str| {
        faults.push(Fault {
            place: format!("line {}", lines.number(at)),
            found,
            expected: expected.to_owned(),
            what_to_do: what_to_do.to_owned(),
        });
    };
    for (key, value) in root {
        let at = value.span().start;
        match (key.get_ref().as_ref(), value.get_ref()) {
            ("by", DeValue::String(name)) => by = Some(name.trim().to_owned()),
            ("entry", DeValue::Array(list)) => entries = list.iter().collect(),
            ("by", other) => {
                fault(at, other.type_str().to_owned(), "a staff identifier in quotes", "write by = \"T-01\"")
            }
            (name, _) => fault(
                key.span().start,
                format!("{name:?}"),
                "`by` once, and any number of [[entry]] tables",
                "look at docs/entries.md for how a file of entries begins",
            ),
        }
    }
    if entries.is_empty() && root.get("entry").is_none() {
        fault(
            0,
            "no [[entry]]".to_owned(),
            "at least one",
            "begin each entry with a line [[entry]]; docs/entries.md has examples",
        );
    }
    (entries, by)
}

fn not_toml(lines: &Lines, error: &toml::de::Error) -> Fault {
    let at = error.span().map_or(0, |span| span.start);
    Fault {
        place: format!("line {}", lines.number(at)),
        found: error.message().trim().to_owned(),
        expected: "a line as docs/entries.md describes it: name = value, text in quotes".to_owned(),
        what_to_do: "correct the line; nothing was written".to_owned(),
    }
}

/// What was decided, and on which transcript: what the program proposed may change with its version.
fn without_proposals(body: &Body) -> Body {
    let mut body = body.clone();
    if let Body::Practice(EventKind::TeachBackHeard { teachback, .. }) = &mut body
        && let Some(proposed) = &mut teachback.proposed
    {
        let transcript_sha256 = proposed.transcript_sha256.clone();
        **proposed = Proposed {
            program: String::new(),
            transcript_sha256,
            transcript: None,
            listen_below: 0.0,
            items: Vec::new(),
            steps_named: None,
            order_errors: Vec::new(),
        };
    }
    body
}

/// An identifier that is the same whenever the same thing is written again: UUIDv7 with the time it happened and, for
/// the part that is otherwise drawn at random, the first bits of a hash over what it says.
fn identifier(
    happened: DateTime,
    by: &str,
    body: &Body,
    corrects: Option<Uuid>,
    reason: Option<&str>,
) -> Option<Uuid> {
    let stored = stored::encode(&without_proposals(body)).ok()?;
    let mut hash = Sha256::new();
    for part in [
        "wardwright-written-entry-1",
        &happened.to_string(),
        by,
        &stored.kind,
        &stored.text,
        &corrects.map(|id| id.to_string()).unwrap_or_default(),
        reason.unwrap_or_default(),
    ] {
        hash.update(format!("{}:{part}\n", part.len()).as_bytes());
    }
    let mut random = [0; 10];
    random.copy_from_slice(&hash.finalize()[..10]);
    // Local time as if it were UTC: the same on every machine, whatever its time zone.
    let since_1970 = jiff::tz::TimeZone::UTC.to_timestamp(happened).ok()?.as_millisecond();
    let millis = u64::try_from(since_1970).ok()?;
    Some(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
}
