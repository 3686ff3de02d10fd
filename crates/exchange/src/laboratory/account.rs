//! The account of what was read: rows kept, dropped, unread, and what was noticed.

use std::collections::BTreeMap;
use std::fmt;

/// Something that could not be read, in the words a trainer needs. No patient identifier is ever part of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unread {
    /// Name of the file.
    pub file: String,
    /// Line, where it is about one; `None` for the whole file.
    pub line: Option<u64>,
    /// Column of a table or field of a message, where it is about one.
    pub column: Option<Column>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do about it.
    pub to_do: String,
}

impl Unread {
    /// Column, finding, expectation and what to do, without file and line.
    pub fn reason(&self) -> String {
        let place = self.column.as_ref().map(|column| format!("{column}: ")).unwrap_or_default();
        format!("{place}found {}; expected {}; {}", self.found, self.expected, self.to_do)
    }
}

impl fmt::Display for Unread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        write!(f, ": {}", self.reason())
    }
}

/// The part of a row that is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Column {
    /// A column of a table, by its name.
    Named(String),
    /// A field of a message, by its standard: "SPM-17".
    Field(&'static str),
}

impl Column {
    /// The name alone.
    pub fn name(&self) -> &str {
        match self {
            Column::Named(name) => name,
            Column::Field(field) => field,
        }
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Column::Named(name) => write!(f, "column {name:?}"),
            Column::Field(field) => write!(f, "field {field}"),
        }
    }
}

/// Rows left out on purpose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dropped {
    /// Name of the file.
    pub file: String,
    /// Why, in a few words.
    pub reason: String,
    /// How many rows.
    pub rows: u64,
}

/// Something noticed that left nothing out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Name of the file.
    pub file: String,
    /// What was noticed, as a sentence.
    pub text: String,
    /// How many rows or sets it concerns; 0 where it is about the file.
    pub count: u64,
    /// The first line it concerns.
    pub first_line: Option<u64>,
}

/// What became of the rows of one file: `rows` is the sum of the other three.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileCounts {
    /// Name of the file.
    pub file: String,
    /// Rows, or messages, or resources about cultures.
    pub rows: u64,
    /// Rows that are part of a set.
    pub kept: u64,
    /// Rows left out on purpose.
    pub dropped: u64,
    /// Rows that could not be read.
    pub unread: u64,
}

/// A row by file and line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Place {
    pub file: u16,
    /// 0 where a file has no lines to speak of: a single JSON text.
    pub line: u32,
}

impl Place {
    pub(super) fn line(self) -> Option<u64> {
        (self.line > 0).then_some(u64::from(self.line))
    }
}

/// Keeps the account while files are read.
pub(super) struct Account {
    files: Vec<String>,
    current: u16,
    rows: Vec<u64>,
    unread_rows: Vec<u64>,
    unread: Vec<(Option<Place>, Unread)>,
    /// How many unread rows of each file are kept, and how many more were only counted.
    named_unread: Vec<(u64, u64)>,
    dropped: BTreeMap<(u16, String), u64>,
    notes: BTreeMap<(u16, String), (u64, Option<u64>)>,
}

pub(super) struct Report {
    pub unread: Vec<Unread>,
    pub dropped: Vec<Dropped>,
    pub notes: Vec<Note>,
    pub counts: Vec<FileCounts>,
}

/// Most different notes kept for one file: a free-text column may hold a new word in every row.
const MOST_NOTES: usize = 60;

/// Most unread rows of one file that are named; a file of which nothing can be read must not fill the memory.
const MOST_NAMED_UNREAD: u64 = 10_000;

impl Account {
    pub(super) fn new<'n>(names: impl Iterator<Item = &'n str>) -> Self {
        let files: Vec<String> = names.map(str::to_owned).collect();
        Self {
            current: 0,
            rows: vec![0; files.len()],
            unread_rows: vec![0; files.len()],
            named_unread: vec![(0, 0); files.len()],
            files,
            unread: Vec::new(),
            dropped: BTreeMap::new(),
            notes: BTreeMap::new(),
        }
    }

    /// From now on rows belong to this file.
    pub(super) fn start(&mut self, file: usize) {
        self.current = u16::try_from(file).unwrap_or(u16::MAX);
    }

    pub(super) fn file(&self) -> u16 {
        self.current
    }

    pub(super) fn place(&self, line: u64) -> Place {
        Place { file: self.current, line: u32::try_from(line).unwrap_or(u32::MAX) }
    }

    /// One more row was met.
    pub(super) fn row(&mut self) {
        if let Some(rows) = self.rows.get_mut(usize::from(self.current)) {
            *rows += 1;
        }
    }

    /// A row was left out for a reason.
    pub(super) fn drop_row(&mut self, file: u16, reason: impl Into<String>) {
        *self.dropped.entry((file, reason.into())).or_insert(0) += 1;
    }

    /// A row could not be read.
    pub(super) fn unread_row(&mut self, place: Place, fault: Fault) {
        if let Some(rows) = self.unread_rows.get_mut(usize::from(place.file)) {
            *rows += 1;
        }
        if let Some((named, more)) = self.named_unread.get_mut(usize::from(place.file)) {
            if *named >= MOST_NAMED_UNREAD {
                *more += 1;
                return;
            }
            *named += 1;
        }
        let unread = fault.at(self.name(place.file), place.line());
        self.unread.push((Some(place), unread));
    }

    /// A whole file could not be read.
    pub(super) fn unread_file(&mut self, fault: Fault) {
        let unread = fault.at(self.name(self.current), None);
        self.unread.push((None, unread));
    }

    /// A file that is not among those read could not be used.
    pub(super) fn unread_companion(&mut self, name: &str, fault: Fault) {
        self.unread.push((None, fault.at(name.to_owned(), None)));
    }

    /// Something was noticed about a row.
    pub(super) fn note(&mut self, place: Place, text: impl Into<String>) {
        self.note_at(place.file, text.into(), 1, place.line());
    }

    /// Something was noticed about rows of the current file, the first of them on this line.
    pub(super) fn note_rows(&mut self, text: String, count: u64, first_line: u64) {
        self.note_at(self.current, text, count, Some(first_line));
    }

    /// So many more rows were met.
    pub(super) fn count_rows(&mut self, n: u64) {
        if let Some(rows) = self.rows.get_mut(usize::from(self.current)) {
            *rows += n;
        }
    }

    /// So many rows were left out for a reason.
    pub(super) fn drop_rows(&mut self, reason: &str, n: u64) {
        if n > 0 {
            *self.dropped.entry((self.current, reason.to_owned())).or_insert(0) += n;
        }
    }

    /// The notes about rows: text, count and first line.
    pub(super) fn into_notes(self) -> impl Iterator<Item = (String, u64, Option<u64>)> {
        self.notes.into_iter().map(|((_, text), (count, first_line))| (text, count, first_line))
    }

    /// Something was noticed about the file.
    pub(super) fn note_file(&mut self, text: impl Into<String>) {
        self.note_at(self.current, text.into(), 0, None);
    }

    fn note_at(&mut self, file: u16, text: String, count: u64, line: Option<u64>) {
        let full = self.notes.len() >= MOST_NOTES * self.files.len().max(1);
        let key = (file, text);
        let key = if full && !self.notes.contains_key(&key) {
            (file, "further notes like these were left out".to_owned())
        } else {
            key
        };
        let entry = self.notes.entry(key).or_insert((0, line));
        entry.0 += count;
    }

    fn name(&self, file: u16) -> String {
        self.files.get(usize::from(file)).cloned().unwrap_or_default()
    }

    pub(super) fn finish(mut self) -> Report {
        // By file and line; what concerns a whole file comes first.
        self.unread.sort_by_key(|(place, _)| *place);
        for (file, (named, more)) in
            self.files.iter().zip(&self.named_unread).filter(|(_, (_, more))| *more > 0)
        {
            let fault = Fault::new(
                format!("{more} further rows that cannot be read, besides the {named} that are named"),
                "rows like those that could be read",
                "correct what is named first and read the file again",
            );
            self.unread.push((None, fault.at(file.clone(), None)));
        }
        let mut dropped_rows = vec![0_u64; self.files.len()];
        for ((file, _), rows) in &self.dropped {
            if let Some(sum) = dropped_rows.get_mut(usize::from(*file)) {
                *sum += rows;
            }
        }
        let counts = self
            .files
            .iter()
            .enumerate()
            .map(|(place, file)| {
                let (rows, dropped, unread) =
                    (self.rows[place], dropped_rows[place], self.unread_rows[place]);
                let kept = rows.saturating_sub(dropped + unread);
                FileCounts { file: file.clone(), rows, kept, dropped, unread }
            })
            .collect();
        let name = |file: u16| self.files.get(usize::from(file)).cloned().unwrap_or_default();
        Report {
            dropped: self
                .dropped
                .iter()
                .map(|((file, reason), rows)| Dropped {
                    file: name(*file),
                    reason: reason.clone(),
                    rows: *rows,
                })
                .collect(),
            notes: self
                .notes
                .iter()
                .map(|((file, text), (count, first_line))| Note {
                    file: name(*file),
                    text: text.clone(),
                    count: *count,
                    first_line: *first_line,
                })
                .collect(),
            unread: self.unread.into_iter().map(|(_, unread)| unread).collect(),
            counts,
        }
    }
}

/// What is wrong, before its place is known.
#[derive(Debug, Clone)]
pub(super) struct Fault {
    pub column: Option<Column>,
    pub found: String,
    pub expected: String,
    pub to_do: String,
}

impl Fault {
    pub(super) fn new(
        found: impl Into<String>,
        expected: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Self {
        Self { column: None, found: found.into(), expected: expected.into(), to_do: to_do.into() }
    }

    pub(super) fn in_column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(Column::Named(column.into()));
        self
    }

    pub(super) fn in_field(mut self, field: &'static str) -> Self {
        self.column = Some(Column::Field(field));
        self
    }

    fn at(self, file: String, line: Option<u64>) -> Unread {
        Unread {
            file,
            line,
            column: self.column,
            found: self.found,
            expected: self.expected,
            to_do: self.to_do,
        }
    }
}

/// A cell in quotation marks, cut when it is long, for a message.
pub(super) fn quoted(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST {
        return format!("{text:?}");
    }
    let cut: String = text.chars().take(LONGEST).collect();
    format!("{cut:?} and more")
}
