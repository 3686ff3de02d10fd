//! Rows out of a workbook.

use std::borrow::Cow;
use std::io::{Cursor, Read};

use calamine::{Data, Reader, Xlsx, open_workbook_from_rs};
use jiff::civil::{Date, DateTime};

use super::{Cells, LARGEST_UNPACKED_BYTES, Row, RowError, TableError, TableOptions};
use crate::when::DateFormats;

/// Most cells a sheet may span, counted as rows times columns.
const LARGEST_CELLS: u64 = 50_000_000;

pub(super) struct SheetRows {
    cells: calamine::Range<Data>,
    next: usize,
    /// Row number of the first row of the range, counted from 1.
    first_line: u64,
}

impl std::fmt::Debug for SheetRows {
    /// Rows hold patients' data; only the place is printed.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SheetRows").field("next", &self.next).finish_non_exhaustive()
    }
}

pub(super) fn open(bytes: &[u8], options: &TableOptions) -> Result<(Vec<String>, SheetRows), TableError> {
    if !bytes.starts_with(b"PK") {
        return Err(TableError::Workbook("it is in the older .xls form; save it as .xlsx".to_owned()));
    }
    refuse_what_unpacks_too_large(bytes, LARGEST_UNPACKED_BYTES)?;
    let mut workbook: Xlsx<_> = open_workbook_from_rs(Cursor::new(bytes)).map_err(unreadable)?;
    let sheets = workbook.sheet_names();
    let sheet = match &options.sheet {
        Some(wanted) => sheets
            .iter()
            .find(|sheet| *sheet == wanted)
            .ok_or_else(|| TableError::NoSheet { wanted: wanted.clone(), found: sheets.join(", ") })?,
        None => sheets.first().ok_or(TableError::Empty)?,
    };
    refuse_too_many_cells(&mut workbook, sheet)?;
    let cells = workbook.worksheet_range(sheet).map_err(unreadable)?;
    let first_line = u64::from(cells.start().ok_or(TableError::Empty)?.0) + 1;
    let header_line = options.header_line.unwrap_or(first_line);
    let skipped = header_line
        .checked_sub(first_line)
        .and_then(|skipped| usize::try_from(skipped).ok())
        .filter(|skipped| *skipped < cells.height())
        .ok_or(TableError::NoHeader(header_line))?;
    let header: &[Data] = cells.rows().nth(skipped).unwrap_or_default();
    let columns: Vec<String> = header.iter().map(|cell| text(cell).into_owned()).collect();
    if columns.iter().all(String::is_empty) {
        return Err(TableError::Empty);
    }
    Ok((columns, SheetRows { cells, next: skipped + 1, first_line }))
}

impl SheetRows {
    pub(super) fn next_row(&mut self) -> Option<Result<Row<'_>, RowError>> {
        if self.next >= self.cells.height() {
            return None;
        }
        let place = self.next;
        self.next += 1;
        Some(Ok(Row { line: self.first_line + place as u64, cells: Cells::Sheet(&self.cells[place]) }))
    }
}

/// A cell as text. Whole numbers are written without a decimal point, dates as ISO 8601.
pub(super) fn text(cell: &Data) -> Cow<'_, str> {
    match cell {
        Data::String(text) | Data::DateTimeIso(text) | Data::DurationIso(text) => Cow::Borrowed(text.trim()),
        Data::Int(number) => Cow::Owned(number.to_string()),
        Data::Float(number) => Cow::Owned(number.to_string()),
        Data::Bool(truth) => Cow::Borrowed(if *truth { "TRUE" } else { "FALSE" }),
        Data::DateTime(_) => date(cell).map_or(Cow::Borrowed(""), |at| Cow::Owned(at.to_string())),
        Data::Error(error) => Cow::Owned(error.to_string()),
        Data::Empty => Cow::Borrowed(""),
    }
}

/// A true date cell.
pub(super) fn date(cell: &Data) -> Option<DateTime> {
    match cell {
        Data::DateTime(at) if at.is_datetime() => {
            let (year, month, day, hour, minute, second, _) = at.to_ymd_hms_milli();
            let date =
                Date::new(i16::try_from(year).ok()?, i8::try_from(month).ok()?, i8::try_from(day).ok()?)
                    .ok()?;
            let time = jiff::civil::Time::new(
                i8::try_from(hour).ok()?,
                i8::try_from(minute).ok()?,
                i8::try_from(second).ok()?,
                0,
            );
            Some(date.to_datetime(time.ok()?))
        }
        Data::DateTimeIso(written) => {
            let when = DateFormats::plain().read(written)?;
            Some(when.date_time().unwrap_or_else(|| when.date.to_datetime(jiff::civil::Time::midnight())))
        }
        _ => None,
    }
}

/// A table is kept as a full rectangle, so one cell in the last corner of a sheet would ask for all of it.
fn refuse_too_many_cells(workbook: &mut Xlsx<Cursor<&[u8]>>, sheet: &str) -> Result<(), TableError> {
    let mut cells = workbook.worksheet_cells_reader(sheet).map_err(unreadable)?;
    let (mut rows, mut columns) = (0_u64, 0_u64);
    while let Some(cell) = cells.next_cell().map_err(unreadable)? {
        let (row, column) = cell.get_position();
        rows = rows.max(u64::from(row) + 1);
        columns = columns.max(u64::from(column) + 1);
        if rows * columns > LARGEST_CELLS {
            return Err(TableError::TooLarge);
        }
    }
    Ok(())
}

fn unreadable(error: calamine::XlsxError) -> TableError {
    TableError::Workbook(error.to_string())
}

/// Unpacks every part once and counts, since the sizes an archive states may be false.
fn refuse_what_unpacks_too_large(bytes: &[u8], most: u64) -> Result<(), TableError> {
    let mut archive =
        zip::ZipArchive::new(Cursor::new(bytes)).map_err(|error| TableError::Workbook(error.to_string()))?;
    let mut left = most;
    for place in 0..archive.len() {
        let part = archive.by_index(place).map_err(|error| TableError::Workbook(error.to_string()))?;
        let unpacked = std::io::copy(&mut part.take(left + 1), &mut std::io::sink())
            .map_err(|error| TableError::Workbook(error.to_string()))?;
        left = left.checked_sub(unpacked).ok_or(TableError::TooLarge)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::io::Write as _;

    use super::*;

    #[test]
    fn an_archive_that_unpacks_to_too_much_is_refused_before_it_is_opened() {
        let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for part in ["xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"] {
            archive.start_file(part, zip::write::SimpleFileOptions::default()).unwrap();
            archive.write_all(&[b'x'; 600_000]).unwrap();
        }
        let bytes = archive.finish().unwrap().into_inner();
        assert!(bytes.len() < 10_000, "it is small before it is unpacked: {}", bytes.len());
        assert_eq!(refuse_what_unpacks_too_large(&bytes, 1_200_000), Ok(()));
        assert_eq!(refuse_what_unpacks_too_large(&bytes, 1_199_999), Err(TableError::TooLarge));
        assert_eq!(
            TableError::TooLarge.to_string(),
            "a workbook that unpacks to more than 512 MB or spans more than 50 million cells"
        );
    }
}
