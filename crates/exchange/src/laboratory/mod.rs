//! The laboratory's door: files as laboratories export them in, sets and a list of what could not be read out.
//!
//! Nothing here opens a file or reads a clock: names, bytes, the day and the patient key are arguments. Every row is
//! accounted for: kept, dropped for a stated reason, or listed as unread with its line. Patient identifiers become
//! keyed hashes here and go no further.

pub mod acknowledge;
pub mod mllp;

mod account;
mod age;
mod amount;
mod codes;
mod fhir;
mod gather;
mod header;
mod hl7;
mod in_bulk;
mod mapping;
mod mapping_file;
mod message_rules;
mod moment;
mod patient;
mod proposal;
mod reports;
mod rows;
mod shown;
mod stays;
mod until_positive;
mod words;

use std::collections::HashSet;

use culture::{CultureSet, SetId};
use jiff::civil::Date;

pub use account::{Column, Dropped, FileCounts, Note, Unread};
pub use in_bulk::{BulkFile, BulkImport, Pace, Sources, read_in_bulk};
pub use mapping::{DateKind, Holds, Mapping, MappingError};
pub use patient::{PatientHashKey, PatientHashKeyError};
pub use proposal::{NoProposal, Proposal, Proposed, Sureness, propose};
pub use until_positive::seconds_to_positivity;

use account::Account;
use gather::Gatherer;

/// Why a row is left out that stands in the file already.
pub const REPEATED_ROW: &str = "repeats another row word for word";

/// A file as it was found: its name, for messages, and its bytes.
#[derive(Debug, Clone, Copy)]
pub struct InputFile<'a> {
    /// Name to use in messages.
    pub name: &'a str,
    /// What is in it.
    pub bytes: &'a [u8],
}

/// What came out of laboratory files.
#[derive(Debug, Clone)]
pub struct Import<S = Vec<CultureSet>, P = Vec<Source>> {
    /// The sets, in the order in which they were first met.
    pub sets: S,
    /// Where each set was first met: the place of the file in the list, and the line.
    pub sources: P,
    /// The two halves of each set that stood under two specimen numbers and was joined, where they are known.
    pub halves: Vec<[CultureSet; 2]>,
    /// In messages, the numbers of orders: what leads from an order that names no specimen to its set.
    pub orders: Vec<OrderNumber>,
    /// In messages, numbers that would have been sets of their own, had the order they hang under not been known, each
    /// with its set.
    pub parts: Vec<(SetId, SetId)>,
    /// What could not be read, by file and line.
    pub unread: Vec<Unread>,
    /// Rows left out on purpose, by reason.
    pub dropped: Vec<Dropped>,
    /// What was assumed or looks wrong, without being left out.
    pub notes: Vec<Note>,
    /// Rows in, kept, dropped and unread of every file.
    pub counts: Vec<FileCounts>,
    /// Whether the files hold every set or only those that grew.
    pub holds: Holds,
    /// Whether dates were shifted to protect patients, so that every set is closed and months mean nothing.
    pub dates: DateKind,
}

/// The number of an order that speaks of a set.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct OrderNumber {
    /// The set.
    pub set: SetId,
    /// The laboratory's number of the order. That of the order itself is left out where it is the set's number too.
    pub number: String,
    /// True for the number of an order that one without a specimen hangs under.
    pub is_above: bool,
}

/// Where a set was first met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// Place of the file in the list that was read.
    pub file: usize,
    /// Line in that file, counted from 1; `None` where the file is a single JSON text.
    pub line: Option<u64>,
}

/// Reads laboratory files into sets.
///
/// A file is taken for an XLSX workbook, HL7 v2 messages, FHIR resources as JSON or NDJSON, or a table of text by what
/// it starts with. Tables need a mapping that names the columns; [`Mapping::for_messages`] does for messages.
/// `companions` are the further files a mapping names (see [`Mapping::companions`]). `today` is the last day on
/// which a set can have been taken, unless the mapping says that dates were shifted.
pub fn read(
    files: &[InputFile<'_>],
    mapping: &Mapping,
    companions: &[InputFile<'_>],
    key: &PatientHashKey,
    today: Date,
) -> Import {
    let mut account = Account::new(files.iter().map(|file| file.name));
    let mut gatherer = Gatherer::new(mapping, today);
    let aids = rows::Aids::open(mapping, companions, key, &mut account);
    let mut resources = fhir::Resources::default();
    let mut reports = reports::Reports::default();
    for (place, file) in files.iter().enumerate() {
        account.start(place);
        match kind(file.bytes) {
            Kind::Table => rows::read(file, mapping, &aids, key, &mut gatherer, &mut account),
            Kind::Hl7 => hl7::read(file, mapping, key, &mut reports, &mut account),
            Kind::Fhir => resources.add(file, &mut account),
        }
    }
    resources.read(mapping, key, &mut reports, &mut account);
    let orders = reports.finish(mapping, &mut gatherer, &mut account);
    let gathered = gatherer.finish(mapping, &aids, &mut account);
    Import {
        halves: gathered.halves,
        orders: orders.of_sets,
        parts: orders.parts.into_iter().map(|(part, set)| (SetId(part), SetId(set))).collect(),
        ..Import::new(gathered.sets, gathered.sources, account, mapping)
    }
}

impl<S, P> Import<S, P> {
    /// Sets and where they are from, with the account of how they were read.
    fn new(sets: S, sources: P, account: Account, mapping: &Mapping) -> Self {
        let report = account.finish();
        Self {
            sets,
            sources,
            halves: Vec::new(),
            orders: Vec::new(),
            parts: Vec::new(),
            unread: report.unread,
            dropped: report.dropped,
            notes: report.notes,
            counts: report.counts,
            holds: mapping.holds,
            dates: mapping.dates,
        }
    }

    /// The same with the sets and their sources in another form.
    fn with<T, Q>(self, change: impl FnOnce(S, P) -> (T, Q)) -> Import<T, Q> {
        let (sets, sources) = change(self.sets, self.sources);
        Import {
            sets,
            sources,
            halves: self.halves,
            orders: self.orders,
            parts: self.parts,
            unread: self.unread,
            dropped: self.dropped,
            notes: self.notes,
            counts: self.counts,
            holds: self.holds,
            dates: self.dates,
        }
    }
}

impl Import {
    /// The sets by the laboratory's numbers, each half of a joined set by itself.
    pub fn unjoined(&self) -> Vec<CultureSet> {
        let wholes: HashSet<&SetId> = self.halves.iter().map(|[first, _]| &first.id).collect();
        let alone = self.sets.iter().filter(|set| !wholes.contains(&set.id));
        alone.chain(self.halves.iter().flatten()).cloned().collect()
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Table,
    Hl7,
    Fhir,
}

/// What a file is, by how it starts.
fn kind(bytes: &[u8]) -> Kind {
    let start = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes).trim_ascii_start();
    // A message on the wire starts with a vertical tab.
    let start = start.strip_prefix(&[0x0B]).unwrap_or(start);
    if starts_like_messages(start)
        || (hl7::is_utf16(bytes) && starts_like_messages(&hl7::one_byte_ascii(start_of(bytes))))
    {
        Kind::Hl7
    } else if start.starts_with(b"{") || start.starts_with(b"[") {
        Kind::Fhir
    } else {
        Kind::Table
    }
}

fn starts_like_messages(start: &[u8]) -> bool {
    [b"MSH", b"FHS", b"BHS"].iter().any(|segment| {
        start.starts_with(*segment)
            && start.get(3).is_some_and(|byte| !byte.is_ascii_alphanumeric() && !b",;\t ".contains(byte))
    })
}

/// Enough to tell what a file is.
fn start_of(bytes: &[u8]) -> &[u8] {
    &bytes[..bytes.len().min(64)]
}
