//! Tables of any size, in bounded memory: the file is cut into blocks, several threads turn blocks into numbers, and
//! one brings them into sets in the order of the file.
//!
//! It gives what the general way gives, and where it cannot it says so and the file is read the general way: the
//! rules for cells are the same functions, asked once for every different text.

mod blocks;
mod cells;
mod digests;
mod facts;
mod meanings;
mod merge;
mod notes;
mod scan;
mod sets;
mod slots;
mod stops;
mod texts;
mod times;

use std::collections::{BTreeMap, HashMap};
use std::io::Read;
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, Sender, channel};

use culture::{BottleKind, Moment, SetTable, merge_split_table};
use jiff::civil::{Date, Time};

use super::places::find_places;
use super::{Aids, Reader};
use crate::laboratory::account::Account;
use crate::laboratory::gather::{Gatherer, joined_note};
use crate::laboratory::in_bulk::{Pace, Sources};
use crate::laboratory::mapping::{DateKind, Mapping, SplitSets};
use crate::laboratory::patient::PatientHashKey;
use crate::laboratory::{Kind, kind};
use crate::table::Table;
use crate::text::TextEncoding;
use blocks::{Blocks, Next};
use facts::{Scanned, Unfit};
use merge::Merge;
use scan::{Scanner, Setting};
use sets::Sets;

/// Blocks on their way at one time, for each thread that scans.
const BLOCKS_FOR_EACH: usize = 3;

/// Why a file was not read in bulk.
#[derive(Debug)]
pub(in crate::laboratory) enum NotInBulk {
    /// It has to be read the general way.
    Unfit,
    /// It cannot be read at all.
    Broken(std::io::Error),
}

impl From<Unfit> for NotInBulk {
    fn from(_: Unfit) -> Self {
        Self::Unfit
    }
}

/// Reads files into one table of sets.
pub(in crate::laboratory) struct Bulk<'m> {
    mapping: &'m Mapping,
    key: &'m PatientHashKey,
    aids: Aids,
    /// Holds nothing; it knows which day is too late.
    gatherer: Gatherer,
    last_moment: Moment,
    pace: Pace,
    sets: Sets,
    kinds: Vec<BottleKind>,
}

/// What a scanner or the cutter hands on.
enum Done {
    Block(Scanned),
    TooLong { lines: u64, unused: Scanned },
}

type Numbered = (u64, Result<Done, NotInBulk>);

impl<'m> Bulk<'m> {
    /// `None` where the mapping asks for something only the general way does.
    pub(in crate::laboratory) fn new(
        mapping: &'m Mapping,
        key: &'m PatientHashKey,
        today: Date,
        pace: Pace,
    ) -> Option<Self> {
        let last_moment = match mapping.dates {
            DateKind::AsRecorded => today.to_datetime(Time::MAX),
            DateKind::Shifted => Date::MAX.to_datetime(Time::MAX),
        };
        fits(mapping).then(|| Self {
            mapping,
            key,
            aids: Aids::default(),
            gatherer: Gatherer::new(mapping, today),
            last_moment: Moment::at(last_moment),
            pace: Pace { threads: pace.threads.clamp(1, 16), block_bytes: pace.block_bytes.max(1 << 10) },
            sets: Sets::new(),
            kinds: vec![BottleKind::Other],
        })
    }

    /// Reads one file.
    pub(in crate::laboratory) fn read(
        &mut self,
        name: &str,
        mut source: impl Read + Send,
        account: &mut Account,
    ) -> Result<(), NotInBulk> {
        let mut start = Vec::with_capacity(self.pace.block_bytes);
        source
            .by_ref()
            .take(self.pace.block_bytes as u64)
            .read_to_end(&mut start)
            .map_err(NotInBulk::Broken)?;
        if kind(&start) != Kind::Table {
            return Err(NotInBulk::Unfit);
        }
        // A whole line is looked at, so that no character is cut.
        let whole = memchr::memrchr(b'\n', &start).map_or(start.len(), |end| end + 1);
        let table = Table::open(&start[..whole], &self.mapping.table).map_err(|_| NotInBulk::Unfit)?;
        let (places, missing) = find_places(&table, self.mapping);
        let layout = table.layout().filter(|_| missing.is_empty() && table.notes().is_empty());
        let layout = layout.ok_or(NotInBulk::Unfit)?;
        let n_columns = table.columns().len();
        drop(table);
        start.drain(..layout.start);
        let patient_key = self.key.for_one_run();
        let setting = Setting {
            mapping: self.mapping,
            places: &places,
            n_columns,
            separator: layout.separator,
            last_moment: self.last_moment,
            patient_key,
            digest_seed: self.key.seed(),
        };
        let reader = Reader {
            mapping: self.mapping,
            aids: &self.aids,
            key: self.key,
            places: places.clone(),
            seen: HashMap::new(),
            patients: HashMap::new(),
        };
        let mut merge = Merge::new(
            reader,
            &self.gatherer,
            patient_key,
            name,
            n_columns,
            layout.line,
            &mut self.sets,
            &mut self.kinds,
            account,
        );
        run(
            Blocks::new(start, source, layout.separator, self.pace.block_bytes),
            &setting,
            self.pace.threads,
            &mut merge,
        )?;
        // A file without rows gets its own message.
        if merge.finish() == 0 { Err(NotInBulk::Unfit) } else { Ok(()) }
    }

    /// Closes the books.
    pub(in crate::laboratory) fn finish(
        self,
        account: &mut Account,
    ) -> Result<(SetTable, Sources), NotInBulk> {
        let (sets, sources) = self.sets.finish(&self.kinds, account)?;
        if self.mapping.split_sets != SplitSets::Join {
            return Ok((sets, sources));
        }
        let Some((joined, keep)) = merge_split_table(&sets) else { return Ok((sets, sources)) };
        account.note_file(joined_note(sets.len() - joined.len()));
        Ok((joined, sources.keep(&keep)))
    }
}

/// Whether the fast way can do what the mapping asks for.
fn fits(mapping: &Mapping) -> bool {
    let columns = &mapping.columns;
    columns.specimen.is_some()
        && columns.patient.is_some()
        && columns.collected.is_some()
        && columns.reported.is_none()
        && columns.birth_date.is_none()
        && columns.bottle_id.is_none()
        && columns.mass_gain_g.is_none()
        && columns.mass_full_g.is_none()
        && columns.lot.is_none()
        && columns.positive_after_h.is_none()
        && mapping.wide_bottles.is_empty()
        && mapping.stays.is_none()
        && mapping.organism_codes.is_none()
        && matches!(mapping.table.encoding, None | Some(TextEncoding::Utf8))
        && mapping.table.separator.is_none_or(|separator| separator.is_ascii())
}

/// Cuts on one thread, scans on several and merges on this one.
fn run<R: Read + Send>(
    mut blocks: Blocks<R>,
    setting: &Setting<'_>,
    threads: usize,
    merge: &mut Merge<'_>,
) -> Result<(), NotInBulk> {
    let (give_back, free) = channel::<Scanned>();
    let (to_scan, waiting) = channel::<(u64, Scanned)>();
    let (finished, done) = channel::<Numbered>();
    for _ in 0..threads * BLOCKS_FOR_EACH + 1 {
        // The other end is held below.
        let _ = give_back.send(Scanned::default());
    }
    let waiting = Mutex::new(waiting);
    std::thread::scope(|scope| {
        let cut_to = finished.clone();
        scope.spawn(move || cut(&mut blocks, &free, &to_scan, &cut_to));
        for number in 0..threads {
            let finished = finished.clone();
            let waiting = &waiting;
            scope.spawn(move || scan(Scanner::new(setting, number), waiting, &finished));
        }
        drop(finished);
        let merged = merge_in_order(&done, &give_back, merge);
        // With these ends gone the other threads find nobody to work for and stop.
        drop(give_back);
        drop(done);
        merged
    })
}

fn cut<R: Read>(
    blocks: &mut Blocks<R>,
    free: &Receiver<Scanned>,
    to_scan: &Sender<(u64, Scanned)>,
    finished: &Sender<Numbered>,
) {
    for number in 0.. {
        let Ok(mut block) = free.recv() else { return };
        let sent = match blocks.next(&mut block.room) {
            Ok(Next::End) => return,
            Ok(Next::Records) => to_scan.send((number, block)).is_ok(),
            Ok(Next::TooLong { lines }) => {
                finished.send((number, Ok(Done::TooLong { lines, unused: block }))).is_ok()
            }
            Ok(Next::OtherLineEnds) => {
                let _ = finished.send((number, Err(NotInBulk::Unfit)));
                return;
            }
            Err(error) => {
                let _ = finished.send((number, Err(NotInBulk::Broken(error))));
                return;
            }
        };
        if !sent {
            return;
        }
    }
}

fn scan(mut scanner: Scanner<'_>, waiting: &Mutex<Receiver<(u64, Scanned)>>, finished: &Sender<Numbered>) {
    loop {
        let next = match waiting.lock() {
            Ok(waiting) => waiting.recv(),
            // Another scanner failed while it held the lock.
            Err(_) => return,
        };
        let Ok((number, mut block)) = next else { return };
        let scanned = scanner.scan(&mut block, number == 0);
        let sent = finished.send((number, scanned.map(|()| Done::Block(block)).map_err(NotInBulk::from)));
        if sent.is_err() {
            return;
        }
    }
}

fn merge_in_order(
    done: &Receiver<Numbered>,
    give_back: &Sender<Scanned>,
    merge: &mut Merge<'_>,
) -> Result<(), NotInBulk> {
    let mut early = BTreeMap::new();
    let mut next = 0;
    while let Ok((number, result)) = done.recv() {
        early.insert(number, result);
        while let Some(result) = early.remove(&next) {
            next += 1;
            let block = match result? {
                Done::Block(block) => {
                    merge.block(&block)?;
                    block
                }
                Done::TooLong { lines, unused } => {
                    merge.too_long(lines);
                    unused
                }
            };
            // The cutter may have stopped at the end of the file.
            let _ = give_back.send(block);
        }
    }
    // A thread that stopped early leaves a gap behind.
    if early.is_empty() { Ok(()) } else { Err(NotInBulk::Unfit) }
}
