//! Lists of people: a table with one row per person, as an office program saves it.

use crate::table::{Table, TableOptions};

/// The columns a list of people may have; further ones are passed over. The first two must be there.
pub const COLUMNS: [&str; 4] = ["staff id", "name", "role", "started"];

/// One row as it stands in the file. What the words mean is read by whoever takes the people in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PeopleRow {
    /// Line of the file, or row of the sheet, from 1.
    pub line: u64,
    /// Staff identifier.
    pub id: String,
    /// Name as colleagues say it.
    pub name: String,
    /// Role; empty where the file has no such column.
    pub role: String,
    /// First day on the unit; empty where the file has no such column.
    pub started: String,
}

/// Rows of a list of people, and what could not be read of it: line (`None` for the whole file) and reason.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PeopleFile {
    /// Rows in the order of the file.
    pub rows: Vec<PeopleRow>,
    /// Lines that are not a row of the table, each with the reason.
    pub unread: Vec<(Option<u64>, String)>,
}

/// Reads a list of people as CSV or XLSX.
pub fn read(bytes: &[u8]) -> PeopleFile {
    let mut file = PeopleFile::default();
    let mut table = match Table::open(bytes, &TableOptions::default()) {
        Ok(table) => table,
        Err(error) => {
            file.unread.push((None, error.to_string()));
            return file;
        }
    };
    let mut places = [None; COLUMNS.len()];
    for ((place, name), needed) in places.iter_mut().zip(COLUMNS).zip([true, true, false, false]) {
        match table.column(name) {
            Ok(found) => *place = Some(found),
            Err(missing) if needed || missing.twice => {
                let what = if missing.twice { "two columns" } else { "no column" };
                let columns = missing.found.join(", ");
                file.unread
                    .push((None, format!("{what} “{name}” among “{columns}”; name one so in the first row")));
                return file;
            }
            Err(_) => {}
        }
    }
    let [id, name, role, started] = places;
    while let Some(row) = table.next_row() {
        match row {
            Ok(row) if row.is_blank() => {}
            Ok(row) => {
                let text = |place: Option<usize>| {
                    place.map_or_else(String::new, |place| row.text(place).trim().to_owned())
                };
                let day = started.and_then(|place| row.date_cell(place));
                file.rows.push(PeopleRow {
                    line: row.line,
                    id: text(id),
                    name: text(name),
                    role: text(role),
                    started: day.map_or_else(|| text(started), |at| at.date().to_string()),
                });
            }
            Err(error) => file.unread.push((Some(error.line()), error.to_string())),
        }
    }
    file
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_rows_with_and_without_the_columns_that_may_be_missing() {
        let file = read(b"Name;Staff ID;Role\nAnsa Wolfendale;T-01;trainer\n;;\nIlse Varga;N-109;\n");
        assert_eq!(file.unread, []);
        let rows: Vec<_> = file
            .rows
            .iter()
            .map(|row| (row.line, row.id.as_str(), row.name.as_str(), row.role.as_str()))
            .collect();
        assert_eq!(rows, [(2, "T-01", "Ansa Wolfendale", "trainer"), (4, "N-109", "Ilse Varga", "")]);
    }

    #[test]
    fn says_which_column_or_line_cannot_be_read() {
        let file = read(b"id,name\n1,A\n");
        assert!(file.rows.is_empty() && file.unread[0].1.contains("staff id"), "{:?}", file.unread);
        let file = read(b"staff id,name\n1,A,nurse\n2,B\n");
        assert_eq!(file.rows.len(), 1);
        assert_eq!(file.unread.len(), 1);
        assert_eq!(file.unread[0].0, Some(2));
        assert_eq!(read(b"").rows, []);
    }
}
