//! Rows out of text whose cells are parted by commas, semicolons, tabs or bars.

use std::io::Cursor;

use super::{Cells, LARGEST_ROW_BYTES, Layout, Row, RowError, TableError, TableOptions};
use crate::text::decode;

const SEPARATORS: [char; 4] = [',', ';', '\t', '|'];

pub(super) struct CsvRows<'a> {
    reader: csv::Reader<Cursor<Text<'a>>>,
    record: csv::StringRecord,
    lines: Lines,
    layout: Layout,
}

/// Counts the lines up to a place. The reader's own count stops before the end of the line above and does not count
/// the empty lines it passes over.
struct Lines {
    byte: usize,
    line: u64,
}

impl Lines {
    /// The line on which the record that starts here has its first character.
    fn at(&mut self, text: &[u8], record_start: usize) -> u64 {
        while let Some(byte) = text.get(self.byte) {
            let line_end = matches!(byte, b'\r' | b'\n');
            if self.byte >= record_start && !line_end {
                break;
            }
            let first_of_two = *byte == b'\r' && text.get(self.byte + 1) == Some(&b'\n');
            self.line += u64::from(line_end && !first_of_two);
            self.byte += 1;
        }
        self.line
    }
}

impl std::fmt::Debug for CsvRows<'_> {
    /// Rows hold patients' data; only the place is printed.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("CsvRows").field("line", &self.reader.position().line()).finish_non_exhaustive()
    }
}

/// Text that was borrowed or had to be made.
struct Text<'a> {
    text: std::borrow::Cow<'a, str>,
    start: usize,
}

impl AsRef<[u8]> for Text<'_> {
    fn as_ref(&self) -> &[u8] {
        &self.text.as_bytes()[self.start..]
    }
}

type Opened<'a> = (Vec<String>, CsvRows<'a>, Vec<String>);

pub(super) fn open<'a>(bytes: &'a [u8], options: &TableOptions) -> Result<Opened<'a>, TableError> {
    let decoded = decode(bytes, options.encoding)?;
    if decoded.text.trim().is_empty() {
        return Err(TableError::Empty);
    }
    let mut stated = options.separator;
    let mut start = 0;
    let mut lines_before = 0;
    let header_line = options.header_line.unwrap_or(1);
    // Spreadsheets write the separator into a first line of its own.
    if let Some(rest) = decoded.text.strip_prefix("sep=")
        && let Some(separator) = rest.chars().next()
        && let Some(end) = decoded.text.find('\n')
    {
        stated = stated.or(Some(separator));
        (start, lines_before) = (end + 1, 1);
    }
    while lines_before + 1 < header_line {
        let Some(end) = decoded.text[start..].find('\n') else {
            return Err(TableError::NoHeader(header_line));
        };
        start += end + 1;
        lines_before += 1;
    }
    let separator = stated.unwrap_or_else(|| guess_separator(&decoded.text[start..]));
    let separator = u8::try_from(separator).unwrap_or(b',');
    let mark_length = if bytes.starts_with(&BYTE_ORDER_MARK) { BYTE_ORDER_MARK.len() } else { 0 };
    let layout = Layout { separator, start: start + mark_length, line: lines_before + 1 };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(Cursor::new(Text { text: decoded.text, start }));
    let mut record = csv::StringRecord::new();
    match reader.read_record(&mut record) {
        Ok(true) => {}
        Ok(false) | Err(_) => return Err(TableError::NoHeader(header_line)),
    }
    let columns = record.iter().map(|name| name.trim().to_owned()).collect();
    let lines = Lines { byte: 0, line: lines_before + 1 };
    Ok((columns, CsvRows { reader, record, lines, layout }, decoded.note.into_iter().collect()))
}

/// The mark of UTF-8.
const BYTE_ORDER_MARK: [u8; 3] = [0xEF, 0xBB, 0xBF];

impl CsvRows<'_> {
    /// How the text is laid out; it means something for UTF-8 only.
    pub(super) fn layout(&self) -> Layout {
        self.layout
    }

    pub(super) fn next_row(&mut self, n_columns: usize) -> Option<Result<Row<'_>, RowError>> {
        // The reader passes over empty lines, so the line is taken from the record once it is there.
        let there = self.reader.read_record(&mut self.record);
        let start = self.record.position().map_or(0, csv::Position::byte);
        let text = self.reader.get_ref().get_ref().as_ref();
        let line = self.lines.at(text, usize::try_from(start).unwrap_or(usize::MAX));
        match there {
            Ok(false) => return None,
            Ok(true) => {}
            // Text is UTF-8 already and lengths are free, so no other fault is left; it is named all the same.
            Err(_) => return Some(Err(RowError::Cells { line, found: 0, expected: n_columns })),
        }
        if self.record.as_slice().len() > LARGEST_ROW_BYTES {
            return Some(Err(RowError::TooLong { line }));
        }
        let found = self.record.len();
        // Programs that write a separator after the last cell are common and harmless.
        let extra_blank = || self.record.iter().skip(n_columns).all(|cell| cell.trim().is_empty());
        if found < n_columns || (found > n_columns && !extra_blank()) {
            let blank = self.record.iter().all(|cell| cell.trim().is_empty());
            if !blank {
                return Some(Err(RowError::Cells { line, found, expected: n_columns }));
            }
        }
        Some(Ok(Row { line, cells: Cells::Csv(&self.record) }))
    }
}

/// The separator that occurs most often, outside quotation marks, in the line that names the columns.
fn guess_separator(text: &str) -> char {
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let mut counts = [0_usize; SEPARATORS.len()];
    let mut quoted = false;
    for character in header.chars() {
        match SEPARATORS.iter().position(|separator| *separator == character) {
            _ if character == '"' => quoted = !quoted,
            Some(place) if !quoted => counts[place] += 1,
            _ => {}
        }
    }
    let most = counts.iter().copied().max().unwrap_or_default();
    SEPARATORS
        .into_iter()
        .zip(counts)
        .find(|(_, count)| *count == most)
        .map_or(',', |(separator, _)| separator)
}
