//! Tables of millions of sets, read from where they are without being held.

use std::io::Read;

use culture::SetTable;
use jiff::civil::Date;

use super::account::Account;
use super::mapping::Mapping;
use super::patient::PatientHashKey;
use super::rows::{Bulk, NotInBulk};
use super::{Import, Source};

/// A file to be read in bulk.
pub struct BulkFile<'a> {
    /// Name to use in messages.
    pub name: &'a str,
    /// What is in it, read once from beginning to end.
    pub content: Box<dyn Read + Send + 'a>,
}

/// How much is done at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pace {
    /// Threads that scan the text, 1 to 16; one more brings the rows into sets.
    pub threads: usize,
    /// Bytes read at once, at least 1,024; the line of column names must lie within the first so many.
    pub block_bytes: usize,
}

impl Default for Pace {
    /// Two threads, a megabyte at once.
    fn default() -> Self {
        Self { threads: 2, block_bytes: 1 << 20 }
    }
}

/// What came out of laboratory files, in little space.
pub type BulkImport = Import<SetTable, Sources>;

/// Where each set was first met.
#[derive(Debug, Clone, Default)]
pub struct Sources {
    /// Empty where there is only the first file.
    files: Vec<u16>,
    /// 0 where a file has no lines to speak of.
    lines: Vec<u32>,
}

impl Sources {
    pub(super) fn new(files: Vec<u16>, lines: Vec<u32>) -> Self {
        Self { files, lines }
    }

    /// Where one set was first met.
    pub fn get(&self, place: usize) -> Option<Source> {
        let line = *self.lines.get(place)?;
        let file = self.files.get(place).copied().unwrap_or(0);
        Some(Source { file: usize::from(file), line: (line > 0).then_some(u64::from(line)) })
    }

    pub(super) fn keep(&self, keep: &[bool]) -> Self {
        fn kept<T: Copy>(values: &[T], keep: &[bool]) -> Vec<T> {
            values.iter().zip(keep).filter(|(_, keep)| **keep).map(|(value, _)| *value).collect()
        }
        Self { files: kept(&self.files, keep), lines: kept(&self.lines, keep) }
    }
}

impl Import {
    /// The same in little space.
    pub fn in_little_space(self) -> BulkImport {
        let number = |source: &Source| u16::try_from(source.file).unwrap_or(u16::MAX);
        let line = |source: &Source| source.line.and_then(|line| u32::try_from(line).ok()).unwrap_or(0);
        self.with(|sets, sources| {
            let files = sources.iter().map(number).collect();
            let lines = sources.iter().map(line).collect();
            (SetTable::of(&sets), Sources { files, lines })
        })
    }
}

/// Reads tables of separated text of any size into a table of sets, in memory that grows with the sets and not with
/// the bytes. It gives what [`read`](super::read) gives, and `None` where something asks for the general way: another
/// kind of file, another encoding than UTF-8, a mapping with stays, codes in a file, masses, times to positivity, or sets made by other
/// columns than the specimen number.
///
/// Patients are told apart by a keyed hash of 128 bits (SipHash-1-3, Aumasson and Bernstein 2012) under a key that is
/// worked out from `key`; identifiers are not kept.
///
/// # Errors
/// The place of the file in the list, and why it cannot be read.
pub fn read_in_bulk(
    files: Vec<BulkFile<'_>>,
    mapping: &Mapping,
    key: &PatientHashKey,
    today: Date,
    pace: Pace,
) -> Result<Option<BulkImport>, (usize, std::io::Error)> {
    let Some(mut bulk) = Bulk::new(mapping, key, today, pace) else { return Ok(None) };
    let names: Vec<&str> = files.iter().map(|file| file.name).collect();
    let mut account = Account::new(names.into_iter());
    for (place, file) in files.into_iter().enumerate() {
        account.start(place);
        match bulk.read(file.name, file.content, &mut account) {
            Ok(()) => {}
            Err(NotInBulk::Unfit) => return Ok(None),
            Err(NotInBulk::Broken(error)) => return Err((place, error)),
        }
    }
    let Ok((sets, sources)) = bulk.finish(&mut account) else { return Ok(None) };
    Ok(Some(Import::new(sets, sources, account, mapping)))
}
