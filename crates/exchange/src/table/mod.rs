//! Tables: rows with named columns, out of CSV or XLSX.
//!
//! Rows are handed out one at a time and keep the line they stood on, so that a message can name it.

mod csv_rows;
mod sheet_rows;

use std::borrow::Cow;

use jiff::civil::DateTime;

use crate::nearest::nearest;
use crate::text::{DecodeError, TextEncoding};

/// Longest row taken, in bytes. A longer one is nearly always a quotation mark that was never closed.
pub const LARGEST_ROW_BYTES: usize = 1 << 20;
/// Most bytes an XLSX file may unpack to.
pub const LARGEST_UNPACKED_BYTES: u64 = 512 << 20;

/// How a table is to be read, where the mapping says so.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TableOptions {
    /// Encoding of a CSV file.
    pub encoding: Option<TextEncoding>,
    /// What parts the cells of a CSV file.
    pub separator: Option<char>,
    /// Sheet of an XLSX file; the first one otherwise.
    pub sheet: Option<String>,
    /// The line that names the columns, counted from 1; 1 otherwise.
    pub header_line: Option<u64>,
}

/// A table that is being read.
#[derive(Debug)]
pub struct Table<'a> {
    columns: Vec<String>,
    rows: Rows<'a>,
    /// What was assumed about the file.
    notes: Vec<String>,
}

#[derive(Debug)]
enum Rows<'a> {
    Csv(csv_rows::CsvRows<'a>),
    Sheet(sheet_rows::SheetRows),
}

/// One row, with the line it stands on.
#[derive(Debug, Clone, Copy)]
pub struct Row<'r> {
    /// Line of the file, or row of the sheet, counted from 1.
    pub line: u64,
    cells: Cells<'r>,
}

#[derive(Debug, Clone, Copy)]
enum Cells<'r> {
    Csv(&'r csv::StringRecord),
    Sheet(&'r [calamine::Data]),
}

/// Why no table could be made of a file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// There is nothing in it.
    #[error("an empty file")]
    Empty,
    /// The text is not in the stated encoding.
    #[error(transparent)]
    Decode(#[from] DecodeError),
    /// The sheet is not there.
    #[error("no sheet {wanted:?}; the sheets are {found}")]
    NoSheet { wanted: String, found: String },
    /// It is no workbook, or a damaged one.
    #[error("a workbook that cannot be opened: {0}")]
    Workbook(String),
    /// It unpacks to more than is taken.
    #[error("a workbook that unpacks to more than {} MB or spans more than 50 million cells", LARGEST_UNPACKED_BYTES >> 20)]
    TooLarge,
    /// The line that should name the columns is not there.
    #[error("no line {0}, which should name the columns")]
    NoHeader(u64),
}

/// Why a row could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RowError {
    /// More or fewer cells than columns.
    #[error("{found} cells under {expected} columns")]
    Cells { line: u64, found: usize, expected: usize },
    /// Longer than [`LARGEST_ROW_BYTES`].
    #[error("a row longer than {} MB", LARGEST_ROW_BYTES >> 20)]
    TooLong { line: u64 },
}

/// A column that is not there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoColumn {
    /// The name that was looked for.
    pub wanted: String,
    /// The columns that are there.
    pub found: Vec<String>,
    /// The nearest of them, when it may be a slip.
    pub nearest: Option<String>,
    /// The name stands over more than one column.
    pub twice: bool,
}

impl<'a> Table<'a> {
    /// Opens a table: a workbook when the bytes are one, text otherwise.
    ///
    /// # Errors
    /// When the file is empty, in another encoding than stated, damaged or too large.
    pub fn open(bytes: &'a [u8], options: &TableOptions) -> Result<Self, TableError> {
        if is_workbook(bytes) {
            let (columns, rows) = sheet_rows::open(bytes, options)?;
            return Ok(Self { columns, rows: Rows::Sheet(rows), notes: Vec::new() });
        }
        let (columns, rows, notes) = csv_rows::open(bytes, options)?;
        Ok(Self { columns, rows: Rows::Csv(rows), notes })
    }

    /// Names of the columns, trimmed.
    pub fn columns(&self) -> &[String] {
        &self.columns
    }

    /// How the text is laid out; `None` for a workbook.
    pub(crate) fn layout(&self) -> Option<Layout> {
        match &self.rows {
            Rows::Csv(rows) => Some(rows.layout()),
            Rows::Sheet(_) => None,
        }
    }

    /// What was assumed about the file.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// Place of a column: by its exact name, else by the only name that is the same but for case and blanks.
    ///
    /// # Errors
    /// Names the columns that are there and the nearest one.
    pub fn column(&self, wanted: &str) -> Result<usize, NoColumn> {
        let places = |same: &dyn Fn(&str) -> bool| -> Vec<usize> {
            (0..self.columns.len()).filter(|&place| same(&self.columns[place])).collect()
        };
        let exact = places(&|name| name == wanted.trim());
        let found = if exact.is_empty() {
            places(&|name| name.trim().eq_ignore_ascii_case(wanted.trim()))
        } else {
            exact
        };
        match found.as_slice() {
            [one] => Ok(*one),
            several => Err(NoColumn {
                wanted: wanted.to_owned(),
                found: self.columns.clone(),
                nearest: nearest(wanted, self.columns.iter().map(String::as_str)).map(str::to_owned),
                twice: !several.is_empty(),
            }),
        }
    }

    /// The next row; `None` at the end.
    pub fn next_row(&mut self) -> Option<Result<Row<'_>, RowError>> {
        match &mut self.rows {
            Rows::Csv(rows) => rows.next_row(self.columns.len()),
            Rows::Sheet(rows) => rows.next_row(),
        }
    }
}

/// How separated text is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Layout {
    /// What parts the cells.
    pub separator: u8,
    /// Where the line of column names begins, in bytes from the beginning of the file.
    pub start: usize,
    /// The line of the file on which that is.
    pub line: u64,
}

impl<'r> Row<'r> {
    /// A row of a record of separated text.
    pub(crate) fn of_record(line: u64, record: &'r csv::StringRecord) -> Self {
        Self { line, cells: Cells::Csv(record) }
    }

    /// A cell as text, without blanks around it; empty where there is none.
    pub fn text(&self, column: usize) -> Cow<'r, str> {
        match self.cells {
            Cells::Csv(record) => Cow::Borrowed(record.get(column).unwrap_or_default().trim()),
            Cells::Sheet(cells) => cells.get(column).map_or(Cow::Borrowed(""), sheet_rows::text),
        }
    }

    /// A true date cell of a workbook; `None` for text.
    pub fn date_cell(&self, column: usize) -> Option<DateTime> {
        match self.cells {
            Cells::Csv(_) => None,
            Cells::Sheet(cells) => cells.get(column).and_then(sheet_rows::date),
        }
    }

    /// Whether every cell is blank.
    pub fn is_blank(&self) -> bool {
        (0..self.n_cells()).all(|column| self.text(column).is_empty())
    }

    /// How many cells there are.
    pub fn n_cells(&self) -> usize {
        match self.cells {
            Cells::Csv(record) => record.len(),
            Cells::Sheet(cells) => cells.len(),
        }
    }
}

impl RowError {
    /// The line the row starts on.
    pub fn line(&self) -> u64 {
        match self {
            RowError::Cells { line, .. } | RowError::TooLong { line } => *line,
        }
    }
}

/// A workbook is a ZIP archive, or the older compound file.
fn is_workbook(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0])
}
