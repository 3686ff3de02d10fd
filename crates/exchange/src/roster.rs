//! Rosters: a table with one row per person and shift, or a calendar; and a plan as a calendar.

mod calendar;
mod write;

pub use calendar::{CalendarDuty, CalendarFile, read_calendar};
pub use write::{CalendarEvent, write_calendar};

use timetable::RosterRow;

use crate::table::{Table, TableOptions};

/// The columns a roster has; further ones are ignored.
pub const COLUMNS: [&str; 3] = ["staff id", "date", "shift"];

/// Rows of a roster file, and what could not be read of it: line (`None` for the whole file) and reason.
///
/// The words of a row are read by `timetable::Roster::read`, which knows the people.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RosterFile {
    /// Rows in the order of the file.
    pub rows: Vec<RosterRow>,
    /// Lines that are not a row of the table, each with the reason.
    pub unread: Vec<(Option<u64>, String)>,
}

/// Reads a roster as CSV or XLSX with the columns `staff id`, `date` and `shift`.
pub fn read(bytes: &[u8]) -> RosterFile {
    let mut file = RosterFile::default();
    let mut table = match Table::open(bytes, &TableOptions::default()) {
        Ok(table) => table,
        Err(error) => {
            file.unread.push((None, error.to_string()));
            return file;
        }
    };
    let mut places = [0; COLUMNS.len()];
    for (place, name) in places.iter_mut().zip(COLUMNS) {
        match table.column(name) {
            Ok(found) => *place = found,
            Err(missing) => {
                let columns = missing.found.join(", ");
                file.unread
                    .push((None, format!("no column {name:?} among {columns}; name it so in the first row")));
                return file;
            }
        }
    }
    let [person, date, shift] = places;
    while let Some(row) = table.next_row() {
        match row {
            Ok(row) if row.is_blank() => {}
            Ok(row) => file.rows.push(RosterRow {
                line: usize::try_from(row.line).unwrap_or(usize::MAX),
                person: row.text(person).into_owned(),
                date: row
                    .date_cell(date)
                    .map_or_else(|| row.text(date).into_owned(), |at| at.date().to_string()),
                shift: row.text(shift).into_owned(),
            }),
            Err(error) => file.unread.push((Some(error.line()), error.to_string())),
        }
    }
    file
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_rows_and_names_a_missing_column() {
        let file =
            read(b"staff id,unit,date,shift\nn001,North,2026-10-05,day\n\nn002,North,2026-10-05,night\n");
        assert_eq!(file.unread, []);
        let rows: Vec<_> =
            file.rows.iter().map(|row| (row.line, row.person.as_str(), row.shift.as_str())).collect();
        assert_eq!(rows, [(2, "n001", "day"), (4, "n002", "night")]);

        let file = read(b"staff,date,shift\nn001,2026-10-05,day\n");
        assert!(file.rows.is_empty());
        assert!(file.unread.iter().any(|(_, why)| why.contains("staff id")), "{:?}", file.unread);
    }
}
