//! Rows of numbers into sets. One thread does it, in the order of the file.

use std::collections::HashMap;

use culture::{BottleCode, BottleKind, Marks, Moment, NOT_KNOWN, ReportStatus, SetColumns, SetTable};
use foldhash::fast::FixedState;

use super::meanings::Lists;
use super::scan::Unfit;
use super::slots::Slots;
use crate::laboratory::account::{Account, Place};
use crate::laboratory::gather::{slower, two_patients_fault};
use crate::laboratory::in_bulk::Sources;

/// What a row says about its set, in numbers.
pub(super) struct Said<'r> {
    pub line: u32,
    pub digest: u64,
    pub patient: u32,
    pub collected: Moment,
    pub received: Moment,
    pub unit: u32,
    pub collector: u32,
    pub marks: Marks,
    pub age: u32,
    pub bottle: Option<LabelledBottle>,
    pub organisms: &'r [u32],
}

/// A bottle with its label, in four bytes: equal when label, kind and fill are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct LabelledBottle(u32);

impl LabelledBottle {
    const NONE: LabelledBottle = LabelledBottle(u32::MAX);
    const LABEL_BITS: u32 = 10;
    const NO_FILL: u32 = (1 << (32 - Self::LABEL_BITS)) - 1;

    /// Label and fill by their places. The kind follows from the label.
    pub(super) fn new(label: u32, fill: Option<u32>) -> Result<Self, Unfit> {
        let fill = fill.unwrap_or(Self::NO_FILL);
        if label >= (1 << Self::LABEL_BITS) - 1 || fill > Self::NO_FILL {
            return Err(Unfit);
        }
        Ok(Self(label << (32 - Self::LABEL_BITS) | fill))
    }

    /// Whether the two may be one bottle: the same label, and no two different fills.
    fn may_be(self, other: Self) -> bool {
        self == other
            || (self != Self::NONE
                && self.label() == other.label()
                && (self.fill().is_none() || other.fill().is_none()))
    }

    fn with_fill_of(self, other: Self) -> Self {
        if self.fill().is_some() { self } else { other }
    }

    fn label(self) -> u32 {
        self.0 >> (32 - Self::LABEL_BITS)
    }

    fn fill(self) -> Option<u32> {
        let fill = self.0 & Self::NO_FILL;
        (fill != Self::NO_FILL).then_some(fill)
    }
}

/// The first two rows of a set; further ones are in a map.
#[derive(Clone, Copy, Default)]
struct FirstRows {
    digests: [u64; 2],
    /// 0 where there is none.
    lines: [u32; 2],
}

const TWO_PATIENTS: u8 = 1;
const ALL_CANCELLED: u8 = 2;
const MORE_ROWS: u8 = 4;
const MORE_BOTTLES: u8 = 8;

/// The sets of all files, while they are read.
#[derive(Default)]
pub(super) struct Sets {
    ids: String,
    id_ends: Vec<u32>,
    places: Slots,
    patients: Patients,
    columns: SetColumns,
    states: Vec<u8>,
    rows: Vec<FirstRows>,
    /// File of the first row, where there is more than one file.
    files: Vec<u16>,
    more_rows: HashMap<(u32, u64), (u16, u32), FixedState>,
    bottles: Vec<[LabelledBottle; 2]>,
    more_bottles: HashMap<u32, Vec<LabelledBottle>, FixedState>,
    /// Organisms by set, in the order of the rows.
    grown: Vec<(u32, u32)>,
    pub lists: Lists,
}

/// Patients by their keyed hash.
#[derive(Default)]
struct Patients {
    keys: Vec<u128>,
    places: Slots,
}

impl Patients {
    fn number(&mut self, key: u128) -> Result<u32, Unfit> {
        let hash = (key >> 96) as u32;
        if let Some(place) = self.places.find(hash, |place| self.keys[place] == key) {
            return u32::try_from(place).map_err(|_| Unfit);
        }
        let number =
            u32::try_from(self.keys.len()).ok().filter(|number| *number < u32::MAX - 1).ok_or(Unfit)?;
        self.keys.push(key);
        self.places.insert(hash, number);
        Ok(number)
    }
}

impl Sets {
    pub(super) fn new() -> Self {
        Self { lists: Lists::new(), ..Self::default() }
    }

    /// Reads ahead where specimens and patients will be looked up.
    pub(super) fn touch(&self, specimen_hash: u32, patient: u128) -> u64 {
        self.places.touch(specimen_hash) ^ self.patients.places.touch((patient >> 96) as u32)
    }

    pub(super) fn patient(&mut self, key: u128) -> Result<u32, Unfit> {
        self.patients.number(key)
    }

    /// The set of a specimen number, if there is one.
    pub(super) fn find(&self, specimen: &[u8], hash: u32) -> Option<u32> {
        let place = self.places.find(hash, |place| {
            let start = place.checked_sub(1).map_or(0, |above| self.id_ends[above]) as usize;
            &self.ids.as_bytes()[start..self.id_ends[place] as usize] == specimen
        })?;
        u32::try_from(place).ok()
    }

    /// The line of a row of the set with the same content.
    pub(super) fn repeated(&self, set: u32, digest: u64) -> Option<u32> {
        let first = &self.rows[set as usize];
        for (known, line) in first.digests.iter().zip(first.lines) {
            if line > 0 && *known == digest {
                return Some(line);
            }
        }
        if self.states[set as usize] & MORE_ROWS == 0 {
            return None;
        }
        self.more_rows.get(&(set, digest)).map(|(_, line)| *line)
    }

    /// A set that was not met before.
    pub(super) fn begin(
        &mut self,
        specimen: &str,
        hash: u32,
        file: u16,
        said: &Said<'_>,
    ) -> Result<u32, Unfit> {
        let set = u32::try_from(self.id_ends.len()).ok().filter(|set| *set < u32::MAX - 1).ok_or(Unfit)?;
        self.ids.push_str(specimen);
        self.id_ends.push(u32::try_from(self.ids.len()).map_err(|_| Unfit)?);
        self.places.insert(hash, set);
        if file > 0 && self.files.is_empty() {
            self.files.resize(set as usize, 0);
        }
        if file > 0 || !self.files.is_empty() {
            self.files.push(file);
        }
        let columns = &mut self.columns;
        columns.patients.push(said.patient);
        columns.collected.push(said.collected);
        columns.received.push(said.received);
        columns.units.push(said.unit);
        columns.collectors.push(said.collector);
        columns.marks.push(said.marks);
        columns.ages.push(said.age);
        let cancelled = said.marks.status == ReportStatus::Cancelled;
        self.states.push(if cancelled { ALL_CANCELLED } else { 0 });
        self.rows.push(FirstRows { digests: [said.digest, 0], lines: [said.line, 0] });
        self.bottles.push([said.bottle.unwrap_or(LabelledBottle::NONE), LabelledBottle::NONE]);
        self.grown.extend(said.organisms.iter().map(|organism| (set, *organism)));
        Ok(set)
    }

    /// A further row of a set. Says whether its collection time differs from the set's.
    pub(super) fn add(&mut self, set: u32, file: u16, said: &Said<'_>) -> bool {
        let place = set as usize;
        self.keep_row(set, file, said);
        let columns = &mut self.columns;
        if columns.patients[place] != said.patient {
            self.states[place] |= TWO_PATIENTS;
            return false;
        }
        let other_time = columns.collected[place] != said.collected;
        let received = &mut columns.received[place];
        if received.is_none() || (!said.received.is_none() && said.received < *received) {
            *received = said.received;
        }
        for (known, new) in [
            (&mut columns.units[place], said.unit),
            (&mut columns.collectors[place], said.collector),
            (&mut columns.ages[place], said.age),
        ] {
            if *known == NOT_KNOWN {
                *known = new;
            }
        }
        let marks = &mut columns.marks[place];
        marks.route = marks.route.or(said.marks.route);
        if said.marks.status != ReportStatus::Cancelled {
            let all_cancelled = self.states[place] & ALL_CANCELLED != 0;
            marks.status =
                if all_cancelled { said.marks.status } else { slower(marks.status, said.marks.status) };
            self.states[place] &= !ALL_CANCELLED;
        }
        if let Some(bottle) = said.bottle {
            self.add_bottle(set, bottle);
        }
        self.grown.extend(said.organisms.iter().map(|organism| (set, *organism)));
        other_time
    }

    fn keep_row(&mut self, set: u32, file: u16, said: &Said<'_>) {
        let place = set as usize;
        let first = &mut self.rows[place];
        let file_of_set = self.files.get(place).copied().unwrap_or(0);
        if first.lines[1] == 0 && file == file_of_set {
            first.digests[1] = said.digest;
            first.lines[1] = said.line;
        } else {
            self.states[place] |= MORE_ROWS;
            self.more_rows.entry((set, said.digest)).or_insert((file, said.line));
        }
    }

    /// A row without a fill and one with it speak of the same bottle, whichever comes first.
    fn add_bottle(&mut self, set: u32, bottle: LabelledBottle) {
        let first = &mut self.bottles[set as usize];
        if let Some(known) = first.iter_mut().find(|known| known.may_be(bottle)) {
            *known = known.with_fill_of(bottle);
            return;
        }
        if let Some(free) = first.iter_mut().find(|known| **known == LabelledBottle::NONE) {
            *free = bottle;
            return;
        }
        let more = self.more_bottles.entry(set).or_default();
        match more.iter_mut().find(|known| known.may_be(bottle)) {
            Some(known) => *known = known.with_fill_of(bottle),
            None => more.push(bottle),
        }
        self.states[set as usize] |= MORE_BOTTLES;
    }

    /// Closes the books: sets that are sound, in the order of their first row.
    pub(super) fn finish(
        mut self,
        kinds: &[BottleKind],
        account: &mut Account,
    ) -> Result<(SetTable, Sources), Unfit> {
        let refused: Vec<u32> = (0_u32..)
            .zip(&self.states)
            .filter(|(_, state)| *state & TWO_PATIENTS != 0)
            .map(|(set, _)| set)
            .collect();
        for set in &refused {
            self.refuse(*set, account);
        }
        self.more_rows = HashMap::default();
        self.places = Slots::default();
        self.patients = Patients::default();
        let lines: Vec<u32> = self.rows.iter().map(|rows| rows.lines[0]).collect();
        self.rows = Vec::new();
        for (marks, state) in self.columns.marks.iter_mut().zip(&self.states) {
            if state & ALL_CANCELLED != 0 {
                marks.status = ReportStatus::Cancelled;
            }
        }
        self.put_bottles(kinds);
        self.put_organisms()?;
        let lists = self.lists;
        let mut columns = self.columns;
        columns.ids = self.ids;
        columns.id_ends = self.id_ends;
        columns.unit_names = lists.units.names;
        columns.collector_names = lists.collectors.names;
        columns.organism_names = lists.organisms.names;
        columns.age_years = lists.ages.values;
        columns.fills_ml = lists.fills.values;
        let sources = Sources::new(self.files, lines);
        let table = SetTable::new(columns).map_err(|_| Unfit)?;
        if refused.is_empty() {
            return Ok((table, sources));
        }
        let mut keep = vec![true; table.len()];
        for set in refused {
            keep[set as usize] = false;
        }
        Ok((table.keep(&keep), sources.keep(&keep)))
    }

    /// Every bottle of every set, one after the other.
    fn put_bottles(&mut self, kinds: &[BottleKind]) {
        let code = |bottle: LabelledBottle| {
            let kind = kinds.get(bottle.label() as usize).copied().unwrap_or(BottleKind::Other);
            BottleCode::new(kind, bottle.fill())
        };
        let columns = &mut self.columns;
        columns.bottle_ends.reserve_exact(self.bottles.len());
        columns.bottles.reserve(self.bottles.len());
        for (set, first) in (0_u32..).zip(&self.bottles) {
            columns.bottles.extend(first.iter().filter(|b| **b != LabelledBottle::NONE).map(|b| code(*b)));
            if self.states[set as usize] & MORE_BOTTLES != 0
                && let Some(more) = self.more_bottles.get(&set)
            {
                columns.bottles.extend(more.iter().map(|bottle| code(*bottle)));
            }
            columns.bottle_ends.push(columns.bottles.len() as u32);
        }
        self.bottles = Vec::new();
        self.more_bottles = HashMap::default();
    }

    /// Every organism of every set, each once, in the order of the rows.
    fn put_organisms(&mut self) -> Result<(), Unfit> {
        // Stable, and nearly in order already.
        self.grown.sort_by_key(|(set, _)| *set);
        let columns = &mut self.columns;
        columns.isolate_ends.reserve_exact(self.id_ends.len());
        let mut grown = self.grown.iter().peekable();
        for set in 0..self.id_ends.len() as u32 {
            let start = columns.isolates.len();
            while let Some((_, organism)) = grown.next_if(|(of, _)| *of == set) {
                if !columns.isolates[start..].contains(organism) {
                    columns.isolates.push(*organism);
                }
            }
            columns.isolate_ends.push(u32::try_from(columns.isolates.len()).map_err(|_| Unfit)?);
        }
        self.grown = Vec::new();
        Ok(())
    }

    fn id(&self, set: u32) -> &str {
        let place = set as usize;
        let start = place.checked_sub(1).map_or(0, |above| self.id_ends[above]) as usize;
        &self.ids[start..self.id_ends[place] as usize]
    }

    /// One specimen number for two patients: every row of it is named and none is used.
    fn refuse(&self, set: u32, account: &mut Account) {
        let place = set as usize;
        let file = self.files.get(place).copied().unwrap_or(0);
        let first =
            self.rows[place].lines.iter().filter(|line| **line > 0).map(|line| Place { file, line: *line });
        let mut rows: Vec<Place> = first.collect();
        if self.states[place] & MORE_ROWS != 0 {
            let more = self.more_rows.iter().filter(|((of, _), _)| *of == set);
            rows.extend(more.map(|(_, (file, line))| Place { file: *file, line: *line }));
        }
        rows.sort_unstable();
        let fault = two_patients_fault(self.id(set), true, rows.iter().map(|row| row.line));
        for row in rows {
            account.unread_row(row, fault.clone());
        }
    }
}
