//! Rows of a table into what they say about sets.

mod aids;
mod bulk;
mod cells;
mod places;

use std::borrow::Cow;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

use culture::{Collected, PatientKey, ReportStatus, Specimen};

use super::account::{Account, Fault, Place, quoted};
use super::gather::{Fact, Gatherer};
use super::mapping::{DuplicateRows, EmptyOrganism, Filter, Mapping, SetPart, WithoutTime};
use super::patient::PatientHashKey;
use super::shown;
use super::words::{self, plain};
use super::{InputFile, REPEATED_ROW};
use crate::table::{Row, RowError, Table, TableError};

pub(super) use aids::Aids;
pub(super) use bulk::{Bulk, NotInBulk};
pub(super) use places::missing_column;
use places::{Places, find_places};

/// Reads one table into the gatherer.
pub(super) fn read(
    file: &InputFile<'_>,
    mapping: &Mapping,
    aids: &Aids,
    key: &PatientHashKey,
    gatherer: &mut Gatherer,
    account: &mut Account,
) {
    if mapping.columns.patient.is_none() {
        account.unread_file(no_mapping(file.bytes));
        return;
    }
    let mut table = match Table::open(file.bytes, &mapping.table) {
        Ok(table) => table,
        Err(error) => {
            account.unread_file(table_fault(&error));
            return;
        }
    };
    for note in table.notes().to_vec() {
        account.note_file(note);
    }
    let (places, missing) = find_places(&table, mapping);
    if !missing.is_empty() {
        for fault in missing {
            account.unread_file(fault);
        }
        return;
    }
    let mut reader = Reader { mapping, aids, key, places, seen: HashMap::new(), patients: HashMap::new() };
    let mut any = false;
    while let Some(row) = table.next_row() {
        any = true;
        account.row();
        match row {
            Err(error) => {
                let place = account.place(error.line());
                account.unread_row(place, row_fault(&error));
            }
            Ok(row) => reader.row(&row, gatherer, account),
        }
    }
    if !any {
        account.unread_file(Fault::new(
            "a line of column names and no row",
            "rows of sets",
            "export the file anew; if there were no sets in that time, leave it out",
        ));
    }
}

/// What organism cells say, before codes become names.
struct OrganismParts<'c> {
    written: Vec<&'c str>,
    any_text: bool,
    cancelled: bool,
}

struct Reader<'a> {
    mapping: &'a Mapping,
    aids: &'a Aids,
    key: &'a PatientHashKey,
    places: Places,
    /// Rows by their content, with the line of the first.
    seen: HashMap<u128, u64>,
    /// Identifiers that were hashed already; forgotten with the reader.
    patients: HashMap<String, PatientKey>,
}

impl Reader<'_> {
    fn row(&mut self, row: &Row<'_>, gatherer: &mut Gatherer, account: &mut Account) {
        let place = account.place(row.line);
        if row.is_blank() {
            account.drop_row(place.file, "blank row");
            return;
        }
        let dropped = self
            .mapping
            .only_where
            .iter()
            .zip(&self.places.filters)
            .find(|(filter, column)| !filter.keeps(&row.text(**column)));
        if let Some((Filter { reason, .. }, _)) = dropped {
            account.drop_row(place.file, reason.clone());
            return;
        }
        if let Some(first) = self.repeats(row) {
            match self.mapping.duplicate_rows {
                DuplicateRows::Keep => {}
                DuplicateRows::CountOnce => {
                    account.drop_row(place.file, REPEATED_ROW);
                    account.note(place, REPEATED);
                    return;
                }
                DuplicateRows::Unread => {
                    account.unread_row(place, repeated_row_fault(first));
                    return;
                }
            }
        }
        match self.fact(row, gatherer, account) {
            Ok(fact) => gatherer.add(fact, account),
            Err(fault) => account.unread_row(place, fault),
        }
    }

    /// The line of the first row with the same content, if there is one.
    fn repeats(&mut self, row: &Row<'_>) -> Option<u64> {
        if self.mapping.duplicate_rows == DuplicateRows::Keep {
            return None;
        }
        let digest = |salt: u8| {
            let mut hasher = DefaultHasher::new();
            salt.hash(&mut hasher);
            for column in 0..row.n_cells() {
                row.text(column).hash(&mut hasher);
            }
            u128::from(hasher.finish())
        };
        match self.seen.entry(digest(0) << 64 | digest(1)) {
            std::collections::hash_map::Entry::Occupied(first) => Some(*first.get()),
            std::collections::hash_map::Entry::Vacant(vacant) => {
                vacant.insert(row.line);
                None
            }
        }
    }

    fn fact(&mut self, row: &Row<'_>, gatherer: &Gatherer, account: &mut Account) -> Result<Fact, Fault> {
        let place = account.place(row.line);
        let patient = self.patient(row)?;
        let collected = self.collected(row)?;
        if let Some(fault) = gatherer.future(collected) {
            return Err(fault.in_column(self.collected_column()));
        }
        let timed = collected.time().is_some();
        if !timed && self.mapping.without_time == WithoutTime::Unread {
            return Err(Fault::new(
                "a day without a time",
                "the time of collection",
                "write without_time = \"by-date\" in the mapping to take such rows by their day",
            )
            .in_column(self.collected_column()));
        }
        let (key, id, numbered) = self.set_key(row, place, &patient, collected)?;
        let mut status = self.status(row, account);
        let organisms = self.organisms(row, &mut status, account)?;
        let text = |column: Option<usize>| -> Option<String> {
            column.map(|column| row.text(column)).filter(|text| !text.is_empty()).map(Cow::into_owned)
        };
        Ok(Fact {
            place,
            key,
            id,
            numbered,
            patient,
            collected,
            received: self.moment(row, self.places.received, "receipt time", account),
            reported: self.moment(row, self.places.reported, "report time", account),
            unit: text(self.places.unit),
            collector: text(self.places.collector),
            route: self
                .word(row, self.places.route, "route_words", account, |word| self.mapping.routes.get(word)),
            specimen: self
                .places
                .specimen_type
                .map_or(Specimen::Blood, |column| words::specimen(&row.text(column))),
            age_years: self.age(row, collected, account),
            status,
            bottles: self.bottles(row, account),
            positive_after_s: self.positive_after_s(row, account),
            organisms,
        })
    }

    fn patient(&mut self, row: &Row<'_>) -> Result<PatientKey, Fault> {
        let column = self.places.patient.unwrap_or_default();
        let identifier = row.text(column);
        if identifier.is_empty() {
            return Err(Fault::new(
                "an empty cell",
                "something that tells patients apart",
                "fill it in; without it no set can be compared with the others of the patient",
            )
            .in_column(name(&self.mapping.columns.patient)));
        }
        if let Some(known) = self.patients.get(identifier.as_ref()) {
            return Ok(known.clone());
        }
        let hashed = self.key.hash(&identifier);
        self.patients.insert(identifier.into_owned(), hashed.clone());
        Ok(hashed)
    }

    fn collected_column(&self) -> String {
        let columns = &self.mapping.columns;
        name(if columns.collected.is_some() { &columns.collected } else { &columns.collected_date })
    }

    fn collected(&self, row: &Row<'_>) -> Result<Collected, Fault> {
        let formats = &self.mapping.formats;
        let columns = &self.mapping.columns;
        let unreadable = |column: &Option<String>, text: &str| {
            Fault::new(
                shown::time(text),
                format!("a time of collection as {}", formats.tried()),
                "correct the cell, or add its format to date_formats in the mapping",
            )
            .in_column(name(column))
        };
        if let Some(column) = self.places.collected {
            if let Some(at) = row.date_cell(column) {
                return Ok(Collected::At(at));
            }
            let text = row.text(column);
            if !text.is_empty() {
                let when = formats.read(&text).ok_or_else(|| unreadable(&columns.collected, &text))?;
                return Ok(when.date_time().map_or(Collected::On(when.date), Collected::At));
            }
        }
        if let Some(column) = self.places.collected_date {
            let date = match row.date_cell(column) {
                Some(at) => Some(at.date()),
                None => formats.read(&row.text(column)).map(|when| when.date),
            };
            if let Some(date) = date {
                return self.with_time(row, date);
            }
            if !row.text(column).is_empty() {
                return Err(unreadable(&columns.collected_date, &row.text(column)));
            }
        }
        Err(Fault::new(
            "an empty cell",
            "the time of collection",
            "fill it in; without it the set belongs to no day and no window",
        )
        .in_column(self.collected_column()))
    }

    fn with_time(&self, row: &Row<'_>, date: jiff::civil::Date) -> Result<Collected, Fault> {
        let Some(column) = self.places.collected_time else { return Ok(Collected::On(date)) };
        if let Some(at) = row.date_cell(column) {
            return Ok(Collected::At(date.to_datetime(at.time())));
        }
        let text = row.text(column);
        if text.is_empty() {
            return Ok(Collected::On(date));
        }
        let time = self.mapping.formats.read_time(&text).ok_or_else(|| {
            Fault::new(
                shown::time(&text),
                format!("a time of day as {}", self.mapping.formats.tried()),
                "correct the cell, or add its format (such as hh:mm) to date_formats in the mapping",
            )
            .in_column(name(&self.mapping.columns.collected_time))
        })?;
        Ok(Collected::At(date.to_datetime(time)))
    }

    /// Key and name of the set a row belongs to, and whether it is a specimen number.
    fn set_key(
        &self,
        row: &Row<'_>,
        place: Place,
        patient: &PatientKey,
        collected: Collected,
    ) -> Result<(String, String, bool), Fault> {
        if let Some(column) = self.places.specimen {
            let specimen = row.text(column);
            if !specimen.is_empty() {
                let specimen = specimen.into_owned();
                return Ok((specimen.clone(), specimen, true));
            }
            if self.mapping.set_by.is_empty() {
                return Err(Fault::new(
                    "an empty cell",
                    "a specimen number",
                    "fill it in, or say with set_by in the mapping what makes a set where the number is missing",
                )
                .in_column(name(&self.mapping.columns.specimen)));
            }
        }
        let mut key = String::new();
        for part in &self.mapping.set_by {
            let column = match part {
                SetPart::Patient => {
                    key.push_str(patient.0.get(..16).unwrap_or(&patient.0));
                    None
                }
                SetPart::Collected => {
                    match collected {
                        Collected::At(at) => key.push_str(&at.to_string()),
                        Collected::On(date) => key.push_str(&date.to_string()),
                    }
                    None
                }
                SetPart::SpecimenType => self.places.specimen_type,
                SetPart::Unit => self.places.unit,
                SetPart::Route => self.places.route,
            };
            if let Some(column) = column {
                key.push_str(&plain(&row.text(column)));
            }
            key.push('~');
        }
        if collected.time().is_none() && self.mapping.without_time == WithoutTime::OneSetPerRow {
            key.push_str(&format!("file {} row {}", place.file + 1, row.line));
        }
        let id = key.trim_end_matches('~').to_owned();
        Ok((key, id, false))
    }

    fn status(&self, row: &Row<'_>, account: &mut Account) -> ReportStatus {
        self.word(row, self.places.status, "status_words", account, |word| self.mapping.statuses.get(word))
            .unwrap_or(ReportStatus::NotStated)
    }

    fn organisms(
        &self,
        row: &Row<'_>,
        status: &mut ReportStatus,
        account: &mut Account,
    ) -> Result<Vec<String>, Fault> {
        let cells: Vec<Cow<'_, str>> = self.places.organisms.iter().map(|&column| row.text(column)).collect();
        let parts = self.organisms_in(cells.iter().map(AsRef::as_ref));
        if parts.cancelled {
            *status = ReportStatus::Cancelled;
        }
        if !parts.any_text && self.mapping.empty_organism == EmptyOrganism::Unread {
            return Err(self.empty_organism_fault());
        }
        Ok(parts.written.into_iter().map(|part| self.organism_name(part, row.line, account)).collect())
    }

    fn empty_organism_fault(&self) -> Fault {
        Fault::new(
            "an empty cell",
            "an organism or a word for no growth",
            "fill it in, or write empty_organism = \"no-growth\" in the mapping if an empty cell means that",
        )
        .in_column(self.mapping.columns.organisms.join(" and "))
    }

    /// The parts of organism cells that say more than no growth.
    fn organisms_in<'c>(&self, cells: impl Iterator<Item = &'c str>) -> OrganismParts<'c> {
        let mut found = OrganismParts { written: Vec::new(), any_text: false, cancelled: false };
        for cell in cells {
            let parts: Vec<&str> = match &self.mapping.organism_separator {
                Some(separator) => cell.split(separator.as_str()).map(str::trim).collect(),
                None => vec![cell],
            };
            for part in parts.into_iter().filter(|part| !part.is_empty()) {
                found.any_text = true;
                if self.mapping.no_growth.is(part) {
                    continue;
                }
                // "Cancelled" or "rejected" stands where the organism would.
                if self.mapping.statuses.get(part) == Some(ReportStatus::Cancelled) {
                    found.cancelled = true;
                } else {
                    found.written.push(part);
                }
            }
        }
        found
    }

    /// The name behind a code; what is no code stays as the laboratory wrote it.
    fn organism_name(&self, written: &str, line: u64, account: &mut Account) -> String {
        let code = plain(written);
        if let Some(name) = self.mapping.organism_names.get(&code) {
            return name.clone();
        }
        if self.mapping.organism_codes.is_none() {
            return written.to_owned();
        }
        match self.aids.organism_codes.get(&code) {
            Some(name) => name.clone(),
            None => {
                let text = format!(
                    "the organism code {} is not in the table of codes; it stays as it is",
                    quoted(written)
                );
                account.note(account.place(line), text);
                written.to_owned()
            }
        }
    }
}

const REPEATED: &str = "rows repeat another row word for word and were counted once";

fn repeated_row_fault(first: u64) -> Fault {
    Fault::new(
        format!("a row that repeats line {first} word for word"),
        "every row once",
        "take the repetition out, or write duplicate_rows = \"count-once\" in the mapping",
    )
}

fn row_fault(error: &RowError) -> Fault {
    Fault::new(
        error.to_string(),
        "one cell for each column",
        "look for a quotation mark that is not closed or a separator inside a cell, and export the file anew",
    )
}

fn table_fault(error: &TableError) -> Fault {
    match error {
        TableError::Empty => Fault::new(
            "an empty file",
            "a line of column names and rows",
            "export the file anew from the laboratory's system",
        ),
        TableError::Decode(error) => Fault::new(
            error.to_string(),
            format!("{} text, as the mapping states", error.stated.name()),
            "correct encoding in the mapping (windows-1252 is usual for older systems), or leave it out and it is recognised",
        ),
        TableError::NoSheet { .. } => {
            Fault::new(error.to_string(), "the sheet that the mapping names", "correct sheet in the mapping")
        }
        TableError::Workbook(_) | TableError::TooLarge => Fault::new(
            error.to_string(),
            "an .xlsx workbook with one table",
            "open it in a spreadsheet program and save it as .xlsx or .csv",
        ),
        TableError::NoHeader(_) => {
            Fault::new(error.to_string(), "the line of column names", "correct header_line in the mapping")
        }
    }
}

fn no_mapping(bytes: &[u8]) -> Fault {
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return table_fault(&TableError::Empty);
    }
    Fault::new(
        "a table",
        "a mapping that says which column is what",
        "give one with --map FILE.toml; docs/mapping.md shows how to write it",
    )
}

fn name(column: &Option<String>) -> String {
    column.clone().unwrap_or_default()
}
