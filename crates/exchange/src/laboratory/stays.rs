//! Where a patient was at the time of the draw, from a file of stays.

use std::collections::HashMap;

use culture::{Collected, PatientKey};
use jiff::civil::{DateTime, Time};

use super::InputFile;
use super::account::{Account, Fault};
use super::mapping::Stays;
use super::patient::PatientHashKey;
use super::rows::missing_column;
use crate::table::{Table, TableOptions};
use crate::when::DateFormats;

/// Stays of every patient, by the time they began.
#[derive(Debug, Default)]
pub(super) struct StayTable(HashMap<PatientKey, Vec<Stay>>);

#[derive(Debug, Clone, PartialEq, Eq)]
struct Stay {
    from: DateTime,
    until: DateTime,
    unit: String,
}

impl StayTable {
    pub(super) fn read(
        file: &InputFile<'_>,
        stays: &Stays,
        key: &PatientHashKey,
        account: &mut Account,
    ) -> Self {
        let mut by_patient: HashMap<PatientKey, Vec<Stay>> = HashMap::new();
        let mut table = match Table::open(file.bytes, &TableOptions::default()) {
            Ok(table) => table,
            Err(error) => {
                let fault = Fault::new(
                    error.to_string(),
                    "a table of stays",
                    "give the file that the mapping names under [stays]",
                );
                account.unread_companion(file.name, fault);
                return Self::default();
            }
        };
        let mut place = |name: &str, role: &str| {
            table
                .column(name)
                .map_err(|missing| account.unread_companion(file.name, missing_column(&missing, role)))
                .ok()
        };
        let (Some(patient), Some(from), Some(until), Some(unit)) = (
            place(&stays.patient, "stays.patient"),
            place(&stays.from, "stays.in"),
            place(&stays.until, "stays.out"),
            place(&stays.unit, "stays.unit"),
        ) else {
            return Self::default();
        };
        let otherwise = stays.unit_otherwise.as_ref().and_then(|name| place(name, "stays.unit_otherwise"));
        let mut n_unread = 0_u64;
        let mut first_unread = None;
        while let Some(row) = table.next_row() {
            let Ok(row) = row else {
                n_unread += 1;
                continue;
            };
            let identifier = row.text(patient);
            let named = row.text(unit);
            let unit = match otherwise {
                _ if !named.is_empty() => named.into_owned(),
                Some(otherwise) if !row.text(otherwise).is_empty() => {
                    format!("{}{}", stays.unit_otherwise_prefix, row.text(otherwise))
                }
                // A row without a unit is the way out of the hospital, not a stay.
                _ => continue,
            };
            let time = |column| row.date_cell(column).or_else(|| moment(&stays.formats, &row.text(column)));
            let until_text = row.text(until);
            let until = if until_text.is_empty() { Some(DateTime::MAX) } else { time(until) };
            match (time(from), until) {
                (Some(from), Some(until)) if !identifier.is_empty() => {
                    by_patient.entry(key.hash(&identifier)).or_default().push(Stay { from, until, unit });
                }
                _ => {
                    n_unread += 1;
                    first_unread.get_or_insert((row.line, row.text(from).into_owned()));
                }
            }
        }
        if let Some((line, found)) = first_unread {
            let fault = Fault::new(
                format!(
                    "{n_unread} stays without a patient or a readable time, first on line {line} ({})",
                    super::shown::time(&found)
                ),
                format!("times as {}", stays.formats.tried()),
                "name the format under [stays] date_formats; these stays are not used",
            );
            account.unread_companion(file.name, fault);
        }
        for stays in by_patient.values_mut() {
            stays.sort_by_key(|stay| stay.from);
        }
        Self(by_patient)
    }

    /// The unit at the time of a draw. Where only the day is known: the unit of every stay of that day, if it is one.
    pub(super) fn unit_at(&self, patient: &PatientKey, collected: Collected) -> Option<&str> {
        let stays = self.0.get(patient)?;
        match collected {
            Collected::At(at) => {
                // The latest stay that had begun; a stay ends where the next begins.
                let stay = stays.iter().rev().find(|stay| stay.from <= at)?;
                (at < stay.until).then_some(stay.unit.as_str())
            }
            Collected::On(date) => {
                let (start, end) = (date.to_datetime(Time::MIN), date.to_datetime(Time::MAX));
                let mut that_day = stays.iter().filter(|stay| stay.from <= end && start < stay.until);
                let unit = that_day.next()?.unit.as_str();
                that_day.all(|stay| stay.unit == unit).then_some(unit)
            }
        }
    }
}

fn moment(formats: &DateFormats, text: &str) -> Option<DateTime> {
    let when = formats.read(text)?;
    Some(when.date_time().unwrap_or_else(|| when.date.to_datetime(Time::MIN)))
}
