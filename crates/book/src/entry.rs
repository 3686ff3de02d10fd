use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use practice::{EventKind, PersonId};
use uuid::Uuid;

/// An entry as it was written, before the book has given it a place.
///
/// The identifier is made where the entry is written (UUIDv7), so a phone that sends an entry twice sends the same
/// identifier twice and the book keeps one.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Identifier made where the entry was written.
    pub id: Uuid,
    /// When it happened, unit's local time.
    pub happened: DateTime,
    /// Who writes it down, and on whose word it stands.
    pub by: PersonId,
    /// What happened.
    pub body: Body,
    /// The entry this one replaces, when it is a correction.
    pub corrects: Option<Uuid>,
    /// Why it is corrected; required with `corrects`.
    pub correction_reason: Option<String>,
}

impl Draft {
    /// A first-hand entry that corrects nothing.
    pub fn new(id: Uuid, happened: DateTime, by: PersonId, body: Body) -> Draft {
        Draft { id, happened, by, body, corrects: None, correction_reason: None }
    }

    /// The same entry as a correction of an earlier one, which stays in the book and stays visible.
    pub fn correcting(self, earlier: Uuid, reason: impl Into<String>) -> Draft {
        Draft { corrects: Some(earlier), correction_reason: Some(reason.into()), ..self }
    }
}

/// What an entry says.
#[derive(Debug, Clone, PartialEq)]
pub enum Body {
    /// Something that happened to a person, a breakdown or a standing.
    Practice(EventKind),
    /// A laboratory file was taken in. Written by [`Store::take_in`](crate::Store::take_in) only.
    LaboratoryFileTakenIn(TakenIn),
    /// A report was published; it keeps its figures when later corrections change them.
    ReportPublished(PublishedReport),
}

impl Body {
    /// The word under which the book keeps it, such as `draw-observed`; `docs/record-book.md` lists them.
    pub fn kind(&self) -> &'static str {
        crate::stored::kind(self)
    }
}

/// The rule that gave the verdicts, by name and version.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RuleNamed {
    /// Name of the rule.
    pub name: String,
    /// Version of the rule, in the rule's own words.
    pub version: String,
}

/// Counts of one laboratory file, as the reader of the file gives them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TakenInCounts {
    /// Rows of the file.
    pub rows: u64,
    /// Rows that could not be read; they were listed when the file was taken in.
    pub rows_unread: u64,
    /// Sets the rows made.
    pub sets: u64,
}

/// What the book keeps about a laboratory file it took in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TakenIn {
    /// Name of the file, without its folder.
    pub file_name: String,
    /// SHA-256 of the file's bytes, 64 hexadecimal digits.
    pub file_sha256: String,
    /// Counts of the file.
    pub counts: TakenInCounts,
    /// Rule that gave the verdicts.
    pub rule: RuleNamed,
    /// Sets the book did not know before.
    pub sets_new: u64,
    /// Sets of which a newer version was written, because the report or the verdict changed.
    pub sets_changed: u64,
    /// Sets that were already in the book exactly so.
    pub sets_unchanged: u64,
    /// SHA-256 over the canonical form of every row this entry wrote, 64 hexadecimal digits.
    pub rows_sha256: String,
}

/// One figure of a published report, as it was printed.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// What it is, such as "contamination rate".
    pub name: String,
    /// How often it happened.
    pub events: u64,
    /// How often it could have happened.
    pub trials: u64,
    /// Lower and upper bound of its interval, where it has one.
    pub interval: Option<(f64, f64)>,
}

/// The snapshot a published report keeps.
#[derive(Debug, Clone, PartialEq)]
pub struct PublishedReport {
    /// Title as printed.
    pub title: String,
    /// Unit it is about; `None` for all units.
    pub unit: Option<String>,
    /// First day of the period.
    pub from: Date,
    /// Last day of the period.
    pub to: Date,
    /// Day on which the figures were computed.
    pub as_of: Date,
    /// Rule behind the figures.
    pub rule: RuleNamed,
    /// The figures, in the order printed.
    pub figures: Vec<Figure>,
    /// SHA-256 of the printed file, where one was kept.
    pub file_sha256: Option<String>,
}

/// An entry with its place in the book. It has no setters and is made only by a store.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    seq: u64,
    recorded_at: Timestamp,
    draft: Draft,
    previous_hash: String,
    hash: String,
}

impl Recorded {
    pub(crate) fn of(
        seq: u64,
        recorded_at: Timestamp,
        draft: Draft,
        previous_hash: String,
        hash: String,
    ) -> Self {
        Recorded { seq, recorded_at, draft, previous_hash, hash }
    }

    /// Place in the book, counted from 1 without gaps.
    pub fn seq(&self) -> u64 {
        self.seq
    }

    /// Identifier made where the entry was written.
    pub fn id(&self) -> Uuid {
        self.draft.id
    }

    /// When it happened, unit's local time.
    pub fn happened(&self) -> DateTime {
        self.draft.happened
    }

    /// When the book recorded it.
    pub fn recorded_at(&self) -> Timestamp {
        self.recorded_at
    }

    /// Who wrote it down.
    pub fn by(&self) -> &PersonId {
        &self.draft.by
    }

    /// What it says.
    pub fn body(&self) -> &Body {
        &self.draft.body
    }

    /// The entry this one replaces, when it is a correction.
    pub fn corrects(&self) -> Option<Uuid> {
        self.draft.corrects
    }

    /// Why it was corrected.
    pub fn correction_reason(&self) -> Option<&str> {
        self.draft.correction_reason.as_deref()
    }

    /// Hash of the entry before this one, 64 hexadecimal digits; all zeros for the first.
    pub fn previous_hash(&self) -> &str {
        &self.previous_hash
    }

    /// Hash of this entry, 64 hexadecimal digits.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    /// The entry as it was written.
    pub fn draft(&self) -> &Draft {
        &self.draft
    }
}
