//! Scanned blocks, in the order of the file, into sets.

use std::collections::HashMap;

use culture::{BottleKind, Marks, Moment, NOT_KNOWN, ReportStatus, Specimen};
use foldhash::fast::FixedState;
use siphasher::sip128::SipHasher13;

use super::digests::{patient_hash, specimen_hash};
use super::facts::{BadRow, OddRow, Role, RowFact, Scanned, Unfit};
use super::meanings::Meanings;
use super::notes::{NoteId, Notes, Step};
use super::sets::{Said, Sets};
use crate::laboratory::REPEATED_ROW;
use crate::laboratory::account::Account;
use crate::laboratory::gather::{Fact, Gatherer, OTHER_TIME};
use crate::laboratory::mapping::DuplicateRows;
use crate::laboratory::rows::{REPEATED, Reader, repeated_row_fault, row_fault};
use crate::table::{Row, RowError};

/// Rows whose specimens and patients are looked for in memory before they are needed: so few that what was found is
/// still near when its turn comes.
const READ_AHEAD: usize = 128;

/// What is known of the row above.
#[derive(Default)]
struct Above {
    set: Option<u32>,
    patient: Option<u32>,
}

/// Brings the rows of one file into the sets.
pub(super) struct Merge<'a> {
    reader: Reader<'a>,
    gatherer: &'a Gatherer,
    patient_key: SipHasher13,
    file_name: &'a str,
    n_columns: usize,
    sets: &'a mut Sets,
    /// Kinds of bottles by their label.
    kinds: &'a mut Vec<BottleKind>,
    account: &'a mut Account,
    meanings: Meanings,
    notes: Notes,
    repeated: NoteId,
    other_time: NoteId,
    /// Lines by what stood there, of rows that could not be read.
    faulty: HashMap<u64, u64, FixedState>,
    /// The line on which the next block begins.
    line: u64,
    n_rows: u64,
    /// Keeps what was read ahead from being left out.
    touched: u64,
}

impl<'a> Merge<'a> {
    #[expect(clippy::too_many_arguments, reason = "everything a file is read with, said once")]
    pub(super) fn new(
        reader: Reader<'a>,
        gatherer: &'a Gatherer,
        patient_key: SipHasher13,
        file_name: &'a str,
        n_columns: usize,
        first_line: u64,
        sets: &'a mut Sets,
        kinds: &'a mut Vec<BottleKind>,
        account: &'a mut Account,
    ) -> Self {
        let mut notes = Notes::default();
        let repeated = notes.id(REPEATED.to_owned());
        let other_time = notes.id(OTHER_TIME.to_owned());
        Self {
            reader,
            gatherer,
            patient_key,
            file_name,
            n_columns,
            sets,
            kinds,
            account,
            meanings: Meanings::default(),
            notes,
            repeated,
            other_time,
            faulty: HashMap::default(),
            line: first_line,
            n_rows: 0,
            touched: 0,
        }
    }

    /// Takes in a block.
    pub(super) fn block(&mut self, block: &Scanned) -> Result<(), Unfit> {
        self.account.count_rows(block.n_rows);
        self.n_rows += block.n_rows;
        self.account.drop_rows("blank row", block.blank_rows);
        for (filter, n) in self.reader.mapping.only_where.iter().zip(&block.filtered) {
            self.account.drop_rows(&filter.reason, *n);
        }
        self.meanings.learn(block.scanner, &block.fresh, &self.reader, &mut self.sets.lists, &mut self.notes);
        for label in self.kinds.len()..self.sets.lists.labels.names.len() {
            let word = &self.sets.lists.labels.names[label];
            self.kinds.push(self.reader.mapping.bottles.get(word).unwrap_or(BottleKind::Other));
        }
        for bad in &block.bad {
            let error = match *bad {
                BadRow::Cells { line, found } => {
                    RowError::Cells { line: self.line + u64::from(line), found, expected: self.n_columns }
                }
                BadRow::TooLong { line } => RowError::TooLong { line: self.line + u64::from(line) },
            };
            self.account.unread_row(self.account.place(error.line()), row_fault(&error));
        }
        let mut odd = block.odd.iter().peekable();
        let mut above = Above::default();
        let mut place = 0;
        for rows in block.rows.chunks(READ_AHEAD) {
            for row in rows.iter().filter(|row| !row.joins) {
                let patient = (!row.same_patient).then_some(row.patient);
                self.touched ^= self.sets.touch(row.specimen_hash, patient);
            }
            for row in rows {
                while let Some(row) = odd.next_if(|odd| odd.before <= place) {
                    self.odd(row)?;
                }
                self.row(block, row, &mut above)?;
                place += 1;
            }
        }
        for row in odd {
            self.odd(row)?;
        }
        self.line += u64::from(block.lines);
        Ok(())
    }

    /// A record that was too long to be kept.
    pub(super) fn too_long(&mut self, lines: u64) {
        self.account.count_rows(1);
        self.n_rows += 1;
        let error = RowError::TooLong { line: self.line };
        self.account.unread_row(self.account.place(self.line), row_fault(&error));
        self.line += lines;
    }

    /// Tells the notes. Gives how many rows there were.
    pub(super) fn finish(self) -> u64 {
        std::hint::black_box(self.touched);
        self.notes.tell(self.account);
        self.n_rows
    }

    fn row(&mut self, block: &Scanned, row: &RowFact, above: &mut Above) -> Result<(), Unfit> {
        let line = self.line + u64::from(row.line);
        let specimen = &block.room.bytes()[row.specimen.0 as usize..row.specimen.1 as usize];
        let set = match above.set {
            Some(set) if row.joins => Some(set),
            _ => self.sets.find(specimen, row.specimen_hash),
        };
        above.set = set;
        above.patient = above.patient.filter(|_| row.same_patient);
        if let Some(set) = set
            && self.is_repeated(Some(set), row.digest, line)
        {
            return Ok(());
        }
        let organism = row.codes[Role::Organism as usize];
        let unread = match self.meanings.organisms.get(block.scanner, organism) {
            Some(organisms) => organisms.unread,
            None => return Err(Unfit),
        };
        // A set that does not exist yet has no rows to repeat, but a row that could not be read may stand before.
        if unread && self.is_repeated(None, row.digest, line) {
            return Ok(());
        }
        let patient = match above.patient {
            Some(patient) => patient,
            None => self.sets.patient(row.patient)?,
        };
        above.patient = Some(patient);
        let said = self.said(block.scanner, row, patient, line)?;
        if unread {
            self.faulty.insert(row.digest, line);
            self.account.unread_row(self.account.place(line), self.reader.empty_organism_fault());
            return Ok(());
        }
        let Some(organisms) = self.meanings.organisms.get(block.scanner, organism) else {
            return Err(Unfit);
        };
        let said = Said { organisms: &organisms.names, ..said };
        let file = self.account.file();
        match set {
            Some(set) => {
                if self.sets.add(set, file, &said) {
                    self.notes.count(self.other_time, line, Step::Set);
                }
            }
            None => {
                above.set = Some(self.sets.begin(specimen, row.specimen_hash, file, &said)?);
            }
        }
        Ok(())
    }

    /// Whether the row repeats another word for word and is to be left out; if so, that is told.
    fn is_repeated(&mut self, set: Option<u32>, digest: u64, line: u64) -> bool {
        let policy = self.reader.mapping.duplicate_rows;
        if policy == DuplicateRows::Keep {
            return false;
        }
        let first = set
            .and_then(|set| self.sets.repeated(set, digest).map(u64::from))
            .or_else(|| self.faulty.get(&digest).copied());
        let Some(first) = first else { return false };
        if policy == DuplicateRows::CountOnce {
            self.account.drop_rows(REPEATED_ROW, 1);
            self.notes.count(self.repeated, line, Step::Row);
        } else {
            self.account.unread_row(self.account.place(line), repeated_row_fault(first));
        }
        true
    }

    fn said(
        &mut self,
        scanner: usize,
        row: &RowFact,
        patient: u32,
        line: u64,
    ) -> Result<Said<'static>, Unfit> {
        let meanings = &self.meanings;
        let code = |role: Role| row.codes[role as usize];
        let status = meanings.statuses.get(scanner, code(Role::Status)).copied();
        let route = meanings.routes.get(scanner, code(Role::Route)).copied();
        let age = meanings.ages.get(scanner, code(Role::Age)).copied();
        let bottle = meanings.bottles.get(scanner, code(Role::Bottle)).copied();
        let fill = meanings.fills.get(scanner, code(Role::Fill)).copied();
        let organisms = meanings.organisms.get(scanner, code(Role::Organism));
        let unread = organisms.is_some_and(|organisms| organisms.unread);
        for (note, step) in [
            (status.and_then(|status| status.note), Step::Status),
            (route.and_then(|route| route.note), Step::Route),
            (age.and_then(|age| age.note), Step::Age),
            (bottle.and_then(|bottle| bottle.note), Step::Bottle),
            (fill.and_then(|fill| fill.note), Step::Fill),
        ] {
            // A row that is not read is noted only as far as it was looked at.
            if let Some(note) = note
                && (!unread || step == Step::Status)
            {
                self.notes.count(note, line, step);
            }
        }
        let cancelled = organisms.is_some_and(|organisms| organisms.cancelled);
        let status = match status {
            _ if cancelled => ReportStatus::Cancelled,
            Some(status) => status.value,
            None => ReportStatus::NotStated,
        };
        let label = bottle.map_or(0, |bottle| bottle.value);
        let fill = fill.and_then(|fill| fill.value);
        let there = label > 0 || fill.is_some();
        let line_number = u32::try_from(line).unwrap_or(u32::MAX);
        Ok(Said {
            line: line_number,
            digest: self.digest(row.digest, line),
            patient,
            collected: row.collected,
            received: row.received,
            unit: meanings.units.get(scanner, code(Role::Unit)).copied().unwrap_or(NOT_KNOWN),
            collector: meanings.collectors.get(scanner, code(Role::Collector)).copied().unwrap_or(NOT_KNOWN),
            marks: Marks {
                route: route.and_then(|route| route.value),
                specimen: meanings
                    .specimens
                    .get(scanner, code(Role::Specimen))
                    .copied()
                    .unwrap_or(Specimen::Blood),
                status,
            },
            age: age.map_or(NOT_KNOWN, |age| age.value),
            bottle: if there { self.sets.lists.bottles.place(label, fill)? } else { NOT_KNOWN },
            organisms: &[],
        })
    }

    /// Where rows that repeat another are kept, no two rows are the same.
    fn digest(&self, digest: u64, line: u64) -> u64 {
        let keep = self.reader.mapping.duplicate_rows == DuplicateRows::Keep;
        if keep { u64::from(self.account.file()) << 48 | line } else { digest }
    }

    /// A row that is read the general way.
    fn odd(&mut self, odd: &OddRow) -> Result<(), Unfit> {
        let line = self.line + u64::from(odd.line);
        let place = self.account.place(line);
        let row = Row::of_record(line, &odd.cells);
        let places = &self.reader.places;
        let specimen = places.specimen.map(|column| row.text(column).into_owned()).unwrap_or_default();
        if specimen.is_empty() && !self.reader.mapping.set_by.is_empty() {
            return Err(Unfit);
        }
        let identifier = row.text(places.patient.unwrap_or_default()).into_owned();
        let hash = specimen_hash(specimen.as_bytes());
        let set = self.sets.find(specimen.as_bytes(), hash);
        if self.is_repeated(set, odd.digest, line) {
            return Ok(());
        }
        let mut own = Account::new(std::iter::once(self.file_name));
        let read = self.reader.fact(&row, self.gatherer, &mut own);
        for (text, count, _) in own.into_notes() {
            let note = self.notes.id(text);
            for _ in 0..count {
                self.notes.count(note, line, Step::Row);
            }
        }
        let fact = match read {
            Ok(fact) => fact,
            Err(fault) => {
                self.faulty.insert(odd.digest, line);
                self.account.unread_row(place, fault);
                return Ok(());
            }
        };
        let organisms: Vec<u32> =
            fact.organisms.iter().map(|name| self.sets.lists.organisms.place(name)).collect();
        let said = Said { organisms: &organisms, ..self.said_of(&fact, &identifier, odd.digest, line)? };
        let file = self.account.file();
        match set {
            Some(set) => {
                if self.sets.add(set, file, &said) {
                    self.notes.count(self.other_time, line, Step::Set);
                }
            }
            None => {
                self.sets.begin(specimen.as_bytes(), hash, file, &said)?;
            }
        }
        Ok(())
    }

    fn said_of(
        &mut self,
        fact: &Fact,
        identifier: &str,
        digest: u64,
        line: u64,
    ) -> Result<Said<'static>, Unfit> {
        let lists = &mut self.sets.lists;
        let bottle = match fact.bottles.as_slice() {
            [] => NOT_KNOWN,
            [bottle] => {
                let label = lists.labels.place(&bottle.label);
                let fill = bottle.fill_ml.map(|fill| lists.fills.place(fill));
                if self.kinds.len() <= label as usize {
                    self.kinds.resize(label as usize + 1, bottle.kind);
                }
                lists.bottles.place(label, fill)?
            }
            _ => return Err(Unfit),
        };
        let age = fact.age_years.map_or(NOT_KNOWN, |age| lists.ages.place(age));
        let unit = lists.units.known(fact.unit.as_deref().unwrap_or_default());
        let collector = lists.collectors.known(fact.collector.as_deref().unwrap_or_default());
        Ok(Said {
            line: u32::try_from(line).unwrap_or(u32::MAX),
            digest: self.digest(digest, line),
            patient: self.sets.patient(patient_hash(self.patient_key, identifier.as_bytes()))?,
            collected: Moment::from(fact.collected),
            received: fact.received.map_or(Moment::NONE, Moment::at),
            unit,
            collector,
            marks: Marks { route: fact.route, specimen: fact.specimen, status: fact.status },
            age,
            bottle,
            organisms: &[],
        })
    }
}
