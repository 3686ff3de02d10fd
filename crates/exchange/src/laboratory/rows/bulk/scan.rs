//! Blocks of text into rows of numbers. Several scanners work side by side, each on blocks of its own.

use culture::Moment;
use siphasher::sip128::SipHasher13;

use super::cells::{Cells, Found, line_end, line_ends, undo};
use super::digests::{Digests, patient_hash, specimen_hash};
use super::facts::{BETWEEN_ORGANISMS, BadRow, N_ROLES, OddRow, Role, RowFact, Scanned, Unfit};
use super::texts::Texts;
use super::times::Times;
use crate::laboratory::mapping::Mapping;
use crate::laboratory::rows::places::Places;
use crate::table::LARGEST_ROW_BYTES;

pub(super) struct Scanner<'m> {
    mapping: &'m Mapping,
    places: &'m Places,
    n_columns: usize,
    separator: u8,
    times: Times<'m>,
    last_moment: Moment,
    patient_key: SipHasher13,
    digests: Digests,
    roles: [Option<usize>; N_ROLES],
    texts: Vec<Texts>,
    cells: Cells,
    scratch: Vec<u8>,
    number: usize,
}

/// What the scanners of a file are told.
pub(super) struct Setting<'m> {
    pub mapping: &'m Mapping,
    pub places: &'m Places,
    pub n_columns: usize,
    pub separator: u8,
    pub last_moment: Moment,
    pub patient_key: SipHasher13,
    pub digest_seed: u64,
}

/// A record whose cells were found.
#[derive(Clone, Copy)]
struct Record {
    /// Where it begins, and where it ends without its line end.
    start: usize,
    end: usize,
    line: u32,
    /// So many of its cells are those of the row above, which is the last that became a row of numbers.
    kept: usize,
    /// Cells stand in quotation marks, or had white space around them.
    quoted: bool,
    trimmed: bool,
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
            digests: Digests::new(setting.digest_seed, setting.separator),
            roles,
            texts: (0..N_ROLES).map(|_| Texts::new()).collect(),
            cells: Cells::new(setting.separator),
            scratch: Vec::new(),
            number,
        }
    }

    /// Scans the bytes of a block; the first record of the first block is the line of column names.
    pub(super) fn scan(&mut self, out: &mut Scanned, skip_first: bool) -> Result<(), Unfit> {
        out.start(self.number, self.mapping.only_where.len());
        let room = std::mem::take(&mut out.room);
        let done = self.records(room.bytes(), out, skip_first);
        out.room = room;
        out.fresh = self.texts.iter_mut().map(Texts::take_fresh).collect();
        done
    }

    fn records(&mut self, bytes: &[u8], out: &mut Scanned, mut skip: bool) -> Result<(), Unfit> {
        self.cells.start(bytes)?;
        let mut at = 0;
        let mut line = 0_u32;
        // The record above, where it became a row of numbers.
        let mut last: Option<Record> = None;
        while at < bytes.len() {
            if bytes[at] == b'\n' || bytes[at] == b'\r' {
                at += line_end(bytes, at);
                line += 1;
                continue;
            }
            let (start, first_line) = (at, line);
            let mut undone = None;
            let mut quoted = true;
            let (kept, found) = self.cells.find(bytes, at, last.map(|above| (above.start, above.end)));
            // Kept cells stand as those of the row above do.
            let above = last.take().filter(|_| kept > 0);
            match found {
                Found::Plain { next, quoted: any } => {
                    at = next;
                    quoted = any || above.is_some_and(|above| above.quoted);
                }
                Found::Undo => {
                    let (record, next) = undo(&bytes[at..], self.separator).ok_or(Unfit)?;
                    at += next;
                    undone = Some(record);
                }
            }
            let trimmed = above.is_some_and(|above| above.trimmed);
            let mut record = Record { start, end: at, line: first_line, kept, quoted, trimmed };
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
            match undone {
                Some(cells) => self.odd(cells, first_line, out),
                None => {
                    record.trimmed |= self.cells.trim(bytes, kept)?;
                    if self.row(bytes, record, out)? {
                        last = Some(record);
                    }
                }
            }
        }
        out.lines = line;
        Ok(())
    }

    /// One record of plain cells. Says whether it became a row of numbers.
    fn row(&mut self, bytes: &[u8], record: Record, out: &mut Scanned) -> Result<bool, Unfit> {
        if self.cells.fit(self.n_columns) {
            return self.numbers(bytes, record, out);
        }
        out.bad.push(BadRow::Cells { line: record.line, found: self.cells.places().len() });
        Ok(false)
    }

    fn cell(&self, place: Option<usize>) -> (usize, usize) {
        place.and_then(|place| self.cells.places().get(place)).copied().unwrap_or_default()
    }

    fn numbers(&mut self, bytes: &[u8], record: Record, out: &mut Scanned) -> Result<bool, Unfit> {
        let patient = self.cell(self.places.patient);
        let specimen = self.cell(self.places.specimen);
        let whose = patient.0 != patient.1 && specimen.0 != specimen.1;
        if !whose && self.cells.places().iter().all(|(start, end)| start == end) {
            out.blank_rows += 1;
            return Ok(false);
        }
        for (place, filter) in self.mapping.only_where.iter().enumerate() {
            let (start, end) = self.cell(Some(self.places.filters[place]));
            let text = std::str::from_utf8(&bytes[start..end]).map_err(|_| Unfit)?;
            if !filter.keeps(text) {
                out.filtered[place] += 1;
                return Ok(false);
            }
        }
        let digest = self.digest(bytes, record);
        // The row above tells what the same cells say; none is the same where there is no such row.
        let above = out.rows.last().copied().filter(|_| record.kept > 0);
        let known = |place: Option<usize>| {
            let place = place.filter(|place| *place < record.kept);
            place.and(above)
        };
        let collected = match known(self.places.collected) {
            Some(above) => Some(above.collected),
            None => {
                let (start, end) = self.cell(self.places.collected);
                let fits = |collected: &Moment| !collected.is_day_only() && *collected <= self.last_moment;
                self.times.read(&bytes[start..end]).filter(fits)
            }
        };
        let received = match known(self.places.received) {
            Some(above) => Some(above.received),
            None => {
                let (start, end) = self.cell(self.places.received);
                if start == end {
                    Some(Moment::NONE)
                } else {
                    self.times.read(&bytes[start..end]).filter(|received| !received.is_day_only())
                }
            }
        };
        let (Some(collected), Some(received), true) = (collected, received, whose) else {
            out.odd.push(as_odd(bytes, self.cells.places(), record.line, digest, out.rows.len()));
            return Ok(false);
        };
        let mut codes = [0; N_ROLES];
        for (role, place) in self.roles.iter().enumerate() {
            if role == Role::Organism as usize && self.places.organisms.len() > 1 {
                continue;
            }
            codes[role] = match known(*place) {
                Some(above) => above.codes[role],
                None if place.is_some() => {
                    let (start, end) = self.cell(*place);
                    self.texts[role].code(bytes, start, end).ok_or(Unfit)?
                }
                None => 0,
            };
        }
        if self.places.organisms.len() > 1 {
            codes[Role::Organism as usize] = self.organisms(bytes)?;
        }
        let text = &bytes[specimen.0..specimen.1];
        let same_specimen = known(self.places.specimen);
        let same_patient = known(self.places.patient);
        out.rows.push(RowFact {
            line: record.line,
            specimen: (specimen.0 as u32, specimen.1 as u32),
            specimen_hash: same_specimen.map_or_else(|| specimen_hash(text), |above| above.specimen_hash),
            joins: same_specimen.is_some(),
            same_patient: same_patient.is_some(),
            patient: same_patient.map_or_else(
                || patient_hash(self.patient_key, &bytes[patient.0..patient.1]),
                |above| above.patient,
            ),
            collected,
            received,
            codes,
            digest,
        });
        Ok(true)
    }

    fn organisms(&mut self, bytes: &[u8]) -> Result<u32, Unfit> {
        self.scratch.clear();
        for (n, place) in self.places.organisms.iter().enumerate() {
            if n > 0 {
                self.scratch.push(BETWEEN_ORGANISMS as u8);
            }
            let (start, end) = self.cell(Some(*place));
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
            let digest = self.digests.of_cells(record.iter().map(|cell| cell.trim().as_bytes()));
            out.odd.push(OddRow { before: out.rows.len(), line, cells: record, digest });
        }
    }

    fn digest(&mut self, bytes: &[u8], record: Record) -> u64 {
        let cells = self.cells.places();
        if !record.quoted && !record.trimmed {
            let end = cells.last().map_or(record.end, |cell| cell.1);
            return self.digests.of_text(&bytes[record.start..end]);
        }
        self.digests.of_cells(cells.iter().map(|(start, end)| &bytes[*start..*end]))
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
