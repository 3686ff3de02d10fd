//! Blocks of text into rows of numbers. Several scanners work side by side, each on blocks of its own.

use culture::Moment;
use foldhash::quality::FixedState;
use memchr::{memchr, memchr2, memchr3};
use siphasher::sip128::{Hasher128, SipHasher13};
use std::hash::{BuildHasher, Hasher};

use super::blocks::Walk;
use super::texts::Texts;
use super::times::Times;
use crate::laboratory::mapping::Mapping;
use crate::laboratory::rows::places::Places;
use crate::table::LARGEST_ROW_BYTES;

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
    pub bytes: Vec<u8>,
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

/// Something the fast way cannot do; the file is read the general way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Unfit;

pub(super) struct Scanner<'m> {
    mapping: &'m Mapping,
    places: &'m Places,
    n_columns: usize,
    separator: u8,
    times: Times<'m>,
    last_moment: Moment,
    patient_key: SipHasher13,
    digests: FixedState,
    roles: [Option<usize>; N_ROLES],
    texts: Vec<Texts>,
    cells: Vec<(usize, usize)>,
    scratch: Vec<u8>,
    number: usize,
}

pub(super) struct Setting<'m> {
    pub mapping: &'m Mapping,
    pub places: &'m Places,
    pub n_columns: usize,
    pub separator: u8,
    /// The last moment at which a set can have been taken.
    pub last_moment: Moment,
    pub patient_key: SipHasher13,
    pub digest_seed: u64,
}

/// How the cells of a row were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Found {
    /// Every cell stands in the block as it is.
    Plain { next: usize, quoted: bool },
    /// A quotation mark stands where it has to be undone first.
    Undo,
}

impl<'m> Scanner<'m> {
    pub(super) fn new(setting: &Setting<'m>, number: usize) -> Self {
        let places = setting.places;
        let roles = [
            places.unit,
            places.collector,
            places.route,
            places.specimen_type,
            places.status,
            places.age_years,
            places.bottle,
            places.fill_ml,
            places.organisms.first().copied(),
        ];
        Self {
            mapping: setting.mapping,
            places,
            n_columns: setting.n_columns,
            separator: setting.separator,
            times: Times::new(&setting.mapping.formats),
            last_moment: setting.last_moment,
            patient_key: setting.patient_key,
            digests: FixedState::with_seed(setting.digest_seed),
            roles,
            texts: (0..N_ROLES).map(|_| Texts::new()).collect(),
            cells: Vec::new(),
            scratch: Vec::new(),
            number,
        }
    }

    /// Scans the bytes of a block; the first record of the first block is the line of column names.
    pub(super) fn scan(&mut self, out: &mut Scanned, skip_first: bool) -> Result<(), Unfit> {
        out.rows.clear();
        out.odd.clear();
        out.bad.clear();
        (out.lines, out.n_rows, out.blank_rows) = (0, 0, 0);
        out.filtered.clear();
        out.filtered.resize(self.mapping.only_where.len(), 0);
        out.scanner = self.number;
        for texts in &mut self.texts {
            texts.start_block();
        }
        let bytes = std::mem::take(&mut out.bytes);
        let done = self.records(&bytes, out, skip_first);
        out.bytes = bytes;
        out.fresh = self.texts.iter_mut().map(Texts::take_fresh).collect();
        done
    }

    fn records(&mut self, bytes: &[u8], out: &mut Scanned, mut skip: bool) -> Result<(), Unfit> {
        if std::str::from_utf8(bytes).is_err() {
            return Err(Unfit);
        }
        let mut at = 0;
        let mut line = 0_u32;
        let mut above: Option<(usize, usize)> = None;
        while at < bytes.len() {
            if bytes[at] == b'\n' || bytes[at] == b'\r' {
                at += line_end(bytes, at);
                line += 1;
                continue;
            }
            let (start, first_line) = (at, line);
            let mut undone = None;
            let mut quoted = true;
            match self.find_cells(bytes, at) {
                Found::Plain { next, quoted: any } => {
                    at = next;
                    quoted = any;
                }
                Found::Undo => {
                    let (record, next) = undo(&bytes[at..], self.separator).ok_or(Unfit)?;
                    at += next;
                    undone = Some(record);
                }
            }
            if quoted {
                line += line_ends(&bytes[start..at]);
            }
            if at < bytes.len() {
                at += line_end(bytes, at);
                line += 1;
            }
            if std::mem::take(&mut skip) {
                continue;
            }
            out.n_rows += 1;
            if at - start > LARGEST_ROW_BYTES && undone.is_none() {
                undone = Some(undo(&bytes[start..], self.separator).ok_or(Unfit)?.0);
            }
            if let Some(record) = undone {
                self.odd(record, first_line, out);
                above = None;
                continue;
            }
            match self.row(bytes, (start, at), quoted, first_line, above, out)? {
                Some(specimen) => above = Some(specimen),
                None => above = None,
            }
        }
        out.lines = line;
        Ok(())
    }

    /// Finds the cells of the record that begins here, without what parts or quotes them.
    fn find_cells(&mut self, bytes: &[u8], mut at: usize) -> Found {
        self.cells.clear();
        let mut quoted = false;
        loop {
            let (start, end, next) = if bytes.get(at) == Some(&b'"') {
                quoted = true;
                let Some(length) = memchr(b'"', &bytes[at + 1..]) else { return Found::Undo };
                let end = at + 1 + length;
                match bytes.get(end + 1) {
                    None => (at + 1, end, end + 1),
                    Some(&after) if after == self.separator || after == b'\n' || after == b'\r' => {
                        (at + 1, end, end + 1)
                    }
                    Some(_) => return Found::Undo,
                }
            } else {
                let length = memchr3(self.separator, b'\n', b'\r', &bytes[at..]);
                let end = length.map_or(bytes.len(), |length| at + length);
                (at, end, end)
            };
            self.cells.push((start, end));
            if bytes.get(next) != Some(&self.separator) {
                return Found::Plain { next, quoted };
            }
            at = next + 1;
        }
    }

    /// One row of plain cells. Gives where its specimen number stands when it became a row of numbers.
    fn row(
        &mut self,
        bytes: &[u8],
        record: (usize, usize),
        quoted: bool,
        line: u32,
        above: Option<(usize, usize)>,
        out: &mut Scanned,
    ) -> Result<Option<(usize, usize)>, Unfit> {
        let mut trimmed = false;
        for cell in &mut self.cells {
            let blank = |byte: &u8| *byte <= b' ' || *byte >= 0x80;
            let text = &bytes[cell.0..cell.1];
            if text.first().is_some_and(blank) || text.last().is_some_and(blank) {
                let whole = std::str::from_utf8(text).map_err(|_| Unfit)?;
                let from = whole.len() - whole.trim_start().len();
                let new = (cell.0 + from, cell.0 + from + whole.trim().len());
                trimmed |= new != *cell;
                *cell = new;
            }
        }
        let found = self.cells.len();
        if found != self.n_columns {
            let blank = |cells: &[(usize, usize)]| cells.iter().all(|(start, end)| start == end);
            let extra_blank = found > self.n_columns && blank(&self.cells[self.n_columns..]);
            if !extra_blank && !blank(&self.cells) {
                out.bad.push(BadRow::Cells { line, found });
                return Ok(None);
            }
        }
        let cells = std::mem::take(&mut self.cells);
        let done = self.numbers(bytes, record, &cells, (quoted || trimmed, line), above, out);
        self.cells = cells;
        done
    }

    fn numbers(
        &mut self,
        bytes: &[u8],
        record: (usize, usize),
        cells: &[(usize, usize)],
        (changed, line): (bool, u32),
        above: Option<(usize, usize)>,
        out: &mut Scanned,
    ) -> Result<Option<(usize, usize)>, Unfit> {
        let cell = |place: usize| cells.get(place).copied().unwrap_or_default();
        let patient = cell(self.places.patient.unwrap_or_default());
        let specimen = cell(self.places.specimen.unwrap_or_default());
        if (patient.0 == patient.1 || specimen.0 == specimen.1)
            && cells.iter().all(|(start, end)| start == end)
        {
            out.blank_rows += 1;
            return Ok(None);
        }
        for (place, filter) in self.mapping.only_where.iter().enumerate() {
            let (start, end) = cell(self.places.filters[place]);
            let text = std::str::from_utf8(&bytes[start..end]).map_err(|_| Unfit)?;
            if !filter.keeps(text) {
                out.filtered[place] += 1;
                return Ok(None);
            }
        }
        let digest = self.digest(bytes, record, cells, changed);
        let collected =
            self.places.collected.map(cell).and_then(|(start, end)| self.times.read(&bytes[start..end]));
        let received = self.places.received.map(cell).map_or(Some(Moment::NONE), |(start, end)| {
            if start == end {
                return Some(Moment::NONE);
            }
            self.times.read(&bytes[start..end]).filter(|received| !received.is_day_only())
        });
        let fits = |collected: &Moment| !collected.is_day_only() && *collected <= self.last_moment;
        let (Some(collected), Some(received)) = (collected.filter(fits), received) else {
            out.odd.push(as_odd(bytes, cells, line, digest, out.rows.len()));
            return Ok(None);
        };
        if patient.0 == patient.1 || specimen.0 == specimen.1 {
            out.odd.push(as_odd(bytes, cells, line, digest, out.rows.len()));
            return Ok(None);
        }
        let mut codes = [0; N_ROLES];
        for (role, place) in self.roles.iter().enumerate() {
            if role == Role::Organism as usize && self.places.organisms.len() > 1 {
                continue;
            }
            if let Some(place) = place {
                let (start, end) = cell(*place);
                codes[role] = self.texts[role].code(bytes, start, end).ok_or(Unfit)?;
            }
        }
        if self.places.organisms.len() > 1 {
            codes[Role::Organism as usize] = self.organisms(bytes, cells)?;
        }
        let text = &bytes[specimen.0..specimen.1];
        let joins = above.is_some_and(|(start, end)| &bytes[start..end] == text);
        out.rows.push(RowFact {
            line,
            specimen: (specimen.0 as u32, specimen.1 as u32),
            specimen_hash: specimen_hash(text),
            joins,
            patient: patient_hash(self.patient_key, &bytes[patient.0..patient.1]),
            collected,
            received,
            codes,
            digest,
        });
        Ok(Some(specimen))
    }

    fn organisms(&mut self, bytes: &[u8], cells: &[(usize, usize)]) -> Result<u32, Unfit> {
        self.scratch.clear();
        for (n, place) in self.places.organisms.iter().enumerate() {
            if n > 0 {
                self.scratch.push(BETWEEN_ORGANISMS as u8);
            }
            let (start, end) = cells.get(*place).copied().unwrap_or_default();
            self.scratch.extend_from_slice(&bytes[start..end]);
        }
        self.texts[Role::Organism as usize].code_of(&self.scratch).ok_or(Unfit)
    }

    /// A row whose quotation marks had to be undone.
    fn odd(&mut self, record: csv::StringRecord, line: u32, out: &mut Scanned) {
        if record.as_slice().len() > LARGEST_ROW_BYTES {
            out.bad.push(BadRow::TooLong { line });
            return;
        }
        let blank = record.iter().all(|cell| cell.trim().is_empty());
        let extra_blank = || record.iter().skip(self.n_columns).all(|cell| cell.trim().is_empty());
        let found = record.len();
        if !blank && (found < self.n_columns || (found > self.n_columns && !extra_blank())) {
            out.bad.push(BadRow::Cells { line, found });
        } else if blank {
            out.blank_rows += 1;
        } else if let Some(place) = self
            .mapping
            .only_where
            .iter()
            .zip(&self.places.filters)
            .position(|(filter, column)| !filter.keeps(record.get(*column).unwrap_or_default().trim()))
        {
            out.filtered[place] += 1;
        } else {
            let digest = digest_of_cells(
                &self.digests,
                &mut self.scratch,
                self.separator,
                record.iter().map(|cell| cell.trim().as_bytes()),
            );
            out.odd.push(OddRow { before: out.rows.len(), line, cells: record, digest });
        }
    }

    fn digest(
        &mut self,
        bytes: &[u8],
        record: (usize, usize),
        cells: &[(usize, usize)],
        changed: bool,
    ) -> u64 {
        if !changed {
            let end = cells.last().map_or(record.1, |cell| cell.1);
            return self.digests.hash_one(&bytes[record.0..end]);
        }
        let cells = cells.iter().map(|(start, end)| &bytes[*start..*end]);
        digest_of_cells(&self.digests, &mut self.scratch, self.separator, cells)
    }
}

/// A row for the general way.
fn as_odd(bytes: &[u8], cells: &[(usize, usize)], line: u32, digest: u64, before: usize) -> OddRow {
    let mut record = csv::StringRecord::new();
    for (start, end) in cells {
        // The block was checked to be UTF-8 and cells are cut at ASCII, so no cell is lost here.
        record.push_field(std::str::from_utf8(&bytes[*start..*end]).unwrap_or_default());
    }
    OddRow { before, line, cells: record, digest }
}

/// The digest of the trimmed cells of a row. It is that of the row as it stands where the row holds nothing but them
/// and what parts them.
fn digest_of_cells<'c>(
    digests: &FixedState,
    scratch: &mut Vec<u8>,
    separator: u8,
    cells: impl Iterator<Item = &'c [u8]> + Clone,
) -> u64 {
    // A cell that holds a separator must not look like two cells; 0xFF stands in no UTF-8 text.
    let between = if cells.clone().any(|cell| memchr(separator, cell).is_some()) { 0xFF } else { separator };
    scratch.clear();
    for (n, cell) in cells.enumerate() {
        if n > 0 {
            scratch.push(between);
        }
        scratch.extend_from_slice(cell);
    }
    digests.hash_one(scratch.as_slice())
}

pub(super) fn specimen_hash(text: &[u8]) -> u32 {
    let mut hasher = foldhash::fast::FixedState::default().build_hasher();
    hasher.write(text);
    (hasher.finish() >> 32) as u32
}

/// The keyed hash under which a patient is known until the program ends.
pub(super) fn patient_hash(key: SipHasher13, identifier: &[u8]) -> u128 {
    let mut hasher = key;
    hasher.write(identifier);
    hasher.finish128().as_u128()
}

/// One record by the general reader of separated text, and how long it is without its line end.
fn undo(bytes: &[u8], separator: u8) -> Option<(csv::StringRecord, usize)> {
    let mut walk = Walk::default();
    let length = bytes.iter().position(|byte| walk.ends_record(*byte, separator)).unwrap_or(bytes.len());
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(&bytes[..length]);
    let mut record = csv::StringRecord::new();
    reader.read_record(&mut record).ok().filter(|there| *there)?;
    Some((record, length))
}

/// How long the line end is that begins here.
fn line_end(bytes: &[u8], at: usize) -> usize {
    if bytes[at] == b'\r' && bytes.get(at + 1) == Some(&b'\n') { 2 } else { 1 }
}

/// Line ends inside the quoted cells of a record.
fn line_ends(record: &[u8]) -> u32 {
    let mut at = 0;
    let mut n = 0;
    while let Some(found) = memchr2(b'\n', b'\r', &record[at..]) {
        at += found;
        at += line_end(record, at);
        n += 1;
    }
    n
}
