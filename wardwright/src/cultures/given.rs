//! Small tables a person keeps beside the laboratory's files: signed judgements and patient-days.

use std::collections::BTreeMap;
use std::path::Path;

use culture::{Judgement, Month, SetId, Verdict};
use exchange::table::{Table, TableOptions};
use jiff::civil::Date;

use crate::message::Message;

/// Patient-days by month, and by unit where the table names units.
pub type PatientDays = BTreeMap<(Month, Option<String>), f64>;

const JUDGEMENT_COLUMNS: [&str; 5] = ["set", "verdict", "by", "on", "because"];

/// Reads signed judgements. The first fault refuses the file: a judgement must not be lost in silence.
pub fn judgements(path: &Path) -> Result<Vec<Judgement>, Message> {
    let bytes = crate::folder::read(path)?;
    let mut rows = Rows::open(path, &bytes, &JUDGEMENT_COLUMNS, &[])?;
    let mut judgements = Vec::new();
    while let Some((line, cells)) = rows.next()? {
        let [set, verdict, by, on, because] = &cells[..] else { continue };
        let on: Date = on.parse().map_err(|_| {
            fault(
                path,
                line,
                format!("the day {on:?}"),
                "a day as YYYY-MM-DD",
                "write the day of the judgement in this form",
            )
        })?;
        let verdict = JUDGED.into_iter().find(|known| known.id() == verdict.trim()).ok_or_else(|| {
            fault(
                path,
                line,
                format!("the verdict {verdict:?}"),
                "contaminated, true-positive, negative or undetermined",
                "write one of these words",
            )
        })?;
        let judgement = Judgement::new(SetId(set.clone()), verdict, by, on, because).map_err(|error| {
            fault(
                path,
                line,
                error.to_string(),
                "a name and a reason for every judgement",
                "complete the row",
            )
        })?;
        judgements.push(judgement);
    }
    Ok(judgements)
}

const JUDGED: [Verdict; 4] =
    [Verdict::Contaminated, Verdict::TruePositive, Verdict::Negative, Verdict::Undetermined];

/// Reads patient-days: `month` (YYYY-MM), `patient_days` and, where wanted, `unit`.
pub fn patient_days(path: &Path) -> Result<PatientDays, Message> {
    let bytes = crate::folder::read(path)?;
    let mut rows = Rows::open(path, &bytes, &["month", "patient_days"], &["unit"])?;
    let mut days = PatientDays::new();
    while let Some((line, cells)) = rows.next()? {
        let [month, written, unit] = &cells[..] else { continue };
        let first: Date = format!("{month}-01").parse().map_err(|_| {
            fault(
                path,
                line,
                format!("the month {month:?}"),
                "a month as YYYY-MM",
                "write the month in this form",
            )
        })?;
        let count =
            written.parse::<f64>().ok().filter(|days| (0.0..=10_000_000.0).contains(days) && *days > 0.0);
        let count = count.ok_or_else(|| {
            fault(path, line, format!("{written:?} patient-days"), "a number above 0", "correct the number")
        })?;
        let key = (
            Month { year: first.year(), month: first.month() },
            Some(unit.clone()).filter(|unit| !unit.is_empty()),
        );
        if days.insert(key, count).is_some() {
            return Err(fault(
                path,
                line,
                "a month and unit that stand above already".to_owned(),
                "each month once for each unit",
                "take one of the rows out",
            ));
        }
    }
    let with_units = days.keys().filter(|(_, unit)| unit.is_some()).count();
    if with_units > 0 && with_units < days.len() {
        return Err(Message::new(
            path.display().to_string(),
            "rows with a unit and rows without",
            "a unit in every row, or in none",
            "fill the unit in, or leave the column out",
        ));
    }
    Ok(days)
}

/// Rows of a small table, by the names of its columns.
struct Rows<'a> {
    path: &'a Path,
    table: Table<'a>,
    places: Vec<Option<usize>>,
}

impl<'a> Rows<'a> {
    fn open(path: &'a Path, bytes: &'a [u8], needed: &[&str], more: &[&str]) -> Result<Self, Message> {
        let columns = needed.join(", ");
        let table = Table::open(bytes, &TableOptions::default()).map_err(|error| {
            Message::new(
                path.display().to_string(),
                error.to_string(),
                format!("a table with the columns {columns}"),
                "save it as CSV or XLSX",
            )
        })?;
        let mut places = Vec::new();
        for name in needed {
            let place = table.column(name).map_err(|missing| {
                Message::new(
                    path.display().to_string(),
                    format!("the columns {}", missing.found.join(", ")),
                    format!("a column {name:?}, once"),
                    format!("name the columns {columns}"),
                )
            })?;
            places.push(Some(place));
        }
        places.extend(more.iter().map(|name| table.column(name).ok()));
        Ok(Self { path, table, places })
    }

    fn next(&mut self) -> Result<Option<(u64, Vec<String>)>, Message> {
        loop {
            let Some(row) = self.table.next_row() else { return Ok(None) };
            let row = row.map_err(|error| {
                fault(
                    self.path,
                    error.line(),
                    error.to_string(),
                    "one cell for each column",
                    "correct the row",
                )
            })?;
            if !row.is_blank() {
                let cell = |place: &Option<usize>| {
                    place.map(|place| row.text(place).into_owned()).unwrap_or_default()
                };
                return Ok(Some((row.line, self.places.iter().map(cell).collect())));
            }
        }
    }
}

fn fault(path: &Path, line: u64, found: String, expected: &str, to_do: &str) -> Message {
    Message::new(format!("{}, line {line}", path.display()), found, expected, to_do)
}
