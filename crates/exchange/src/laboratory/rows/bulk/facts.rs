//! What scanners hand on.

use culture::Moment;

use super::blocks::Room;

/// The columns whose cells are kept as numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Unit,
    Collector,
    Route,
    Specimen,
    Status,
    Age,
    Bottle,
    Fill,
    Organism,
}

pub(super) const N_ROLES: usize = 9;
/// Several organism columns are one text with this between them; it stands in no cell of a table.
pub(super) const BETWEEN_ORGANISMS: char = '\u{1f}';

/// What a row says, in numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowFact {
    /// Line on which the row begins, from 0 at the beginning of the block.
    pub line: u32,
    /// Where the specimen number stands in the block.
    pub specimen: (u32, u32),
    pub specimen_hash: u32,
    /// The row above is of the same specimen.
    pub joins: bool,
    /// The row above is of the same patient.
    pub same_patient: bool,
    pub patient: u128,
    pub collected: Moment,
    pub received: Moment,
    pub codes: [u32; N_ROLES],
    /// Stands for the whole content of the row.
    pub digest: u64,
}

/// A row that is read the general way.
pub(super) struct OddRow {
    /// How many rows of the block stand before it.
    pub before: usize,
    pub line: u32,
    pub cells: csv::StringRecord,
    pub digest: u64,
}

/// A row without one cell for each column.
pub(super) enum BadRow {
    Cells { line: u32, found: usize },
    TooLong { line: u32 },
}

/// What came out of a block; its parts are filled anew for every block.
#[derive(Default)]
pub(super) struct Scanned {
    pub room: Room,
    pub rows: Vec<RowFact>,
    pub odd: Vec<OddRow>,
    pub bad: Vec<BadRow>,
    /// Line ends in the block.
    pub lines: u32,
    pub n_rows: u64,
    pub blank_rows: u64,
    /// Rows left out, by the place of the filter.
    pub filtered: Vec<u64>,
    /// Texts that were not met before, by role.
    pub fresh: Vec<Vec<String>>,
    /// The scanner that did it: numbers of texts are its own.
    pub scanner: usize,
}

impl Scanned {
    /// Makes it empty but for its bytes.
    pub(super) fn start(&mut self, scanner: usize, n_filters: usize) {
        self.rows.clear();
        self.odd.clear();
        self.bad.clear();
        (self.lines, self.n_rows, self.blank_rows) = (0, 0, 0);
        self.filtered.clear();
        self.filtered.resize(n_filters, 0);
        self.scanner = scanner;
    }
}

/// Something the fast way cannot do; the file is read the general way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Unfit;
