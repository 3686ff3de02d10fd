//! The cells of a record, found where they stand in the block.

use memchr::{memchr, memchr2};

use super::blocks::Walk;
use super::facts::Unfit;
use super::stops::{Stops, alike};

/// How the cells of a record were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Found {
    /// Every cell stands in the block as it is.
    Plain { next: usize, quoted: bool },
    /// A quotation mark stands where it has to be undone first.
    Undo,
}

/// The cells of one record after the other.
pub(super) struct Cells {
    separator: u8,
    stops: Stops,
    /// Begin and end of each cell, without what parts or quotes it.
    places: Vec<(usize, usize)>,
    /// What stands behind each cell: a separator or the end of the record.
    ends: Vec<usize>,
}

impl Cells {
    pub(super) fn new(separator: u8) -> Self {
        Self { separator, stops: Stops::new(), places: Vec::new(), ends: Vec::new() }
    }

    /// Makes a block ready.
    pub(super) fn start(&mut self, bytes: &[u8]) -> Result<(), Unfit> {
        let ascii = self.stops.mark(bytes, self.separator);
        if ascii || std::str::from_utf8(bytes).is_ok() { Ok(()) } else { Err(Unfit) }
    }

    pub(super) fn places(&self) -> &[(usize, usize)] {
        &self.places
    }

    /// Finds the cells of the record that begins here. `above` is where the record began and ended whose cells were
    /// found last: cells that are the same there are kept, for a record of a set mostly begins like the one above it.
    /// Gives how many were kept.
    pub(super) fn find(
        &mut self,
        bytes: &[u8],
        start: usize,
        above: Option<(usize, usize)>,
    ) -> (usize, Found) {
        let mut kept = 0;
        if let Some((from, to)) = above {
            let same = alike(&bytes[from..to], &bytes[start..]);
            // A cell is the same when what stands behind it is the same too.
            kept = self.ends.iter().take_while(|end| **end - from < same).count();
            let by = start - from;
            for place in &mut self.places[..kept] {
                *place = (place.0 + by, place.1 + by);
            }
            for end in &mut self.ends[..kept] {
                *end += by;
            }
        }
        self.places.truncate(kept);
        self.ends.truncate(kept);
        let at = self.ends.last().map_or(start, |end| end + 1);
        (kept, self.find_from(bytes, at))
    }

    fn find_from(&mut self, bytes: &[u8], mut at: usize) -> Found {
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
                let end = self.stops.next(at).unwrap_or(bytes.len());
                (at, end, end)
            };
            self.places.push((start, end));
            self.ends.push(next);
            if bytes.get(next) != Some(&self.separator) {
                return Found::Plain { next, quoted };
            }
            at = next + 1;
        }
    }

    /// Leaves out the white space around the cells from this one on. Says whether there was any.
    pub(super) fn trim(&mut self, bytes: &[u8], from: usize) -> Result<bool, Unfit> {
        let mut trimmed = false;
        for cell in &mut self.places[from..] {
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
        Ok(trimmed)
    }

    /// Whether the record has one cell for each column; blank ones beyond are let pass, and so is a blank record.
    pub(super) fn fit(&self, n_columns: usize) -> bool {
        let blank = |cells: &[(usize, usize)]| cells.iter().all(|(start, end)| start == end);
        let found = self.places.len();
        found == n_columns || (found > n_columns && blank(&self.places[n_columns..])) || blank(&self.places)
    }
}

/// One record by the general reader of separated text, and how long it is without its line end.
pub(super) fn undo(bytes: &[u8], separator: u8) -> Option<(csv::StringRecord, usize)> {
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
pub(super) fn line_end(bytes: &[u8], at: usize) -> usize {
    if bytes[at] == b'\r' && bytes.get(at + 1) == Some(&b'\n') { 2 } else { 1 }
}

/// Line ends inside the quoted cells of a record.
pub(super) fn line_ends(record: &[u8]) -> u32 {
    let mut at = 0;
    let mut n = 0;
    while let Some(found) = memchr2(b'\n', b'\r', &record[at..]) {
        at += found;
        at += line_end(record, at);
        n += 1;
    }
    n
}
