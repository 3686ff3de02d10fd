//! Rows of numbers into sets. One thread does it, in the order of the file.

use std::borrow::Cow;
use std::collections::HashMap;

use culture::{Bottle, BottleKind, Marks, Moment, NOT_KNOWN, ReportStatus, SetColumns, SetTable};
use foldhash::fast::FixedState;

use super::facts::Unfit;
use super::meanings::Lists;
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
    /// The place of the bottle in the list of labelled bottles, or [`NOT_KNOWN`].
    pub bottle: u32,
    pub organisms: &'r [u32],
}

/// The first two rows of a set; further ones are in a map.
#[derive(Clone, Copy)]
struct FirstRows {
    digests: [Digest; 2],
    /// How many lines below the first row the second stands; 0 where there is none.
    second: u16,
}

/// 48 bits of a digest.
#[derive(Clone, Copy, PartialEq, Eq, Default)]
struct Digest([u16; 3]);

impl Digest {
    fn of(digest: u64) -> Self {
        Self([digest as u16, (digest >> 16) as u16, (digest >> 32) as u16])
    }
}

const TWO_PATIENTS: u8 = 1;
const ALL_CANCELLED: u8 = 2;
const MORE_ROWS: u8 = 4;

/// The sets of all files, while they are read.
#[derive(Default)]
pub(super) struct Sets {
    /// Specimen numbers one after the other; all were checked to be UTF-8 with their blocks.
    ids: Vec<u8>,
    id_ends: Vec<u32>,
    places: Slots,
    patients: Patients,
    columns: SetColumns,
    states: Vec<u8>,
    rows: Vec<FirstRows>,
    /// Line of the first row.
    lines: Vec<u32>,
    /// File of the first row, where there is more than one file.
    files: Vec<u16>,
    more_rows: HashMap<(u32, u64), (u16, u32), FixedState>,
    /// Bottles of a set beyond the second.
    more_bottles: HashMap<u32, Vec<u32>, FixedState>,
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
    pub(super) fn touch(&self, specimen_hash: u32, patient: Option<u128>) -> u64 {
        let patient = patient.map_or(0, |patient| self.patients.places.touch((patient >> 96) as u32));
        self.places.touch(specimen_hash) ^ patient
    }

    pub(super) fn patient(&mut self, key: u128) -> Result<u32, Unfit> {
        self.patients.number(key)
    }

    /// The set of a specimen number, if there is one.
    pub(super) fn find(&self, specimen: &[u8], hash: u32) -> Option<u32> {
        let place = self.places.find(hash, |place| {
            let start = place.checked_sub(1).map_or(0, |above| self.id_ends[above]) as usize;
            &self.ids[start..self.id_ends[place] as usize] == specimen
        })?;
        u32::try_from(place).ok()
    }

    /// The line of a row of the set with the same content.
    pub(super) fn repeated(&self, set: u32, digest: u64) -> Option<u32> {
        let first = &self.rows[set as usize];
        let line = self.lines[set as usize];
        let short = Digest::of(digest);
        if first.digests[0] == short {
            return Some(line);
        }
        if first.second > 0 && first.digests[1] == short {
            return Some(line + u32::from(first.second));
        }
        if self.states[set as usize] & MORE_ROWS == 0 {
            return None;
        }
        self.more_rows.get(&(set, digest)).map(|(_, line)| *line)
    }

    /// A set that was not met before.
    pub(super) fn begin(
        &mut self,
        specimen: &[u8],
        hash: u32,
        file: u16,
        said: &Said<'_>,
    ) -> Result<u32, Unfit> {
        let set = u32::try_from(self.id_ends.len()).ok().filter(|set| *set < u32::MAX - 1).ok_or(Unfit)?;
        self.ids.extend_from_slice(specimen);
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
        self.rows.push(FirstRows { digests: [Digest::of(said.digest), Digest::default()], second: 0 });
        self.lines.push(said.line);
        let bottle = Some(said.bottle).filter(|bottle| *bottle != NOT_KNOWN);
        columns.push_bottles(bottle);
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
        let other_time = columns.collected.get(place) != said.collected;
        let received = columns.received.get(place);
        if received.is_none() || (!said.received.is_none() && said.received < received) {
            columns.received.set(place, said.received);
        }
        for (column, new) in [
            (&mut columns.units, said.unit),
            (&mut columns.collectors, said.collector),
            (&mut columns.ages, said.age),
        ] {
            if new != NOT_KNOWN && column.get(place) == NOT_KNOWN {
                column.set(place, new);
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
        if said.bottle != NOT_KNOWN {
            self.add_bottle(set, said.bottle);
        }
        self.grown.extend(said.organisms.iter().map(|organism| (set, *organism)));
        other_time
    }

    fn keep_row(&mut self, set: u32, file: u16, said: &Said<'_>) {
        let place = set as usize;
        let first = &mut self.rows[place];
        let file_of_set = self.files.get(place).copied().unwrap_or(0);
        let below = said.line.checked_sub(self.lines[place]).and_then(|below| u16::try_from(below).ok());
        match below {
            Some(below) if below > 0 && first.second == 0 && file == file_of_set => {
                first.digests[1] = Digest::of(said.digest);
                first.second = below;
            }
            _ => {
                self.states[place] |= MORE_ROWS;
                self.more_rows.entry((set, said.digest)).or_insert((file, said.line));
            }
        }
    }

    /// A row without a fill and one with it speak of the same bottle, whichever comes first.
    fn add_bottle(&mut self, set: u32, bottle: u32) {
        let place = set as usize;
        let bottles = &self.lists.bottles;
        for column in [&mut self.columns.first_bottles, &mut self.columns.second_bottles] {
            let known = column.get(place);
            if known == NOT_KNOWN {
                column.set(place, bottle);
                return;
            }
            if bottles.may_be_one(known, bottle) {
                column.set(place, bottles.with_fill(known, bottle));
                return;
            }
        }
        let more = self.more_bottles.entry(set).or_default();
        match more.iter_mut().find(|known| bottles.may_be_one(**known, bottle)) {
            Some(known) => *known = bottles.with_fill(*known, bottle),
            None => more.push(bottle),
        }
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
        self.rows = Vec::new();
        for (marks, state) in self.columns.marks.iter_mut().zip(&self.states) {
            if state & ALL_CANCELLED != 0 {
                marks.status = ReportStatus::Cancelled;
            }
        }
        self.put_bottles();
        self.put_organisms();
        let lists = self.lists;
        let mut columns = self.columns;
        columns.ids = String::from_utf8(self.ids).map_err(|_| Unfit)?;
        columns.id_ends = self.id_ends;
        columns.unit_names = lists.units.names;
        columns.collector_names = lists.collectors.names;
        columns.organism_names = lists.organisms.names;
        columns.age_years = lists.ages.values;
        let fills = lists.fills.values;
        columns.bottle_list = lists
            .bottles
            .list
            .iter()
            .map(|(label, fill)| Bottle {
                kind: kinds.get(*label as usize).copied().unwrap_or(BottleKind::Other),
                fill_ml: fills.get(*fill as usize).copied(),
            })
            .collect();
        let sources = Sources::new(self.files, self.lines);
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

    /// The bottles beyond the second, in the order of the sets.
    fn put_bottles(&mut self) {
        let mut more: Vec<(u32, Vec<u32>)> = std::mem::take(&mut self.more_bottles).into_iter().collect();
        more.sort_unstable_by_key(|(set, _)| *set);
        for (set, bottles) in more {
            for bottle in bottles {
                self.columns.more_bottles.push(set, bottle);
            }
        }
    }

    /// Every organism of every set, each once, in the order of the rows.
    fn put_organisms(&mut self) {
        // Stable, and nearly in order already.
        self.grown.sort_by_key(|(set, _)| *set);
        for grown in self.grown.chunk_by(|one, other| one.0 == other.0) {
            for (place, (set, organism)) in grown.iter().enumerate() {
                if !grown[..place].iter().any(|(_, known)| known == organism) {
                    self.columns.isolates.push(*set, *organism);
                }
            }
        }
        self.grown = Vec::new();
    }

    fn id(&self, set: u32) -> Cow<'_, str> {
        let place = set as usize;
        let start = place.checked_sub(1).map_or(0, |above| self.id_ends[above]) as usize;
        String::from_utf8_lossy(&self.ids[start..self.id_ends[place] as usize])
    }

    /// One specimen number for two patients: every row of it is named and none is used.
    fn refuse(&self, set: u32, account: &mut Account) {
        let place = set as usize;
        let file = self.files.get(place).copied().unwrap_or(0);
        let mut rows = vec![Place { file, line: self.lines[place] }];
        if let second @ 1.. = self.rows[place].second {
            rows.push(Place { file, line: self.lines[place] + u32::from(second) });
        }
        if self.states[place] & MORE_ROWS != 0 {
            let more = self.more_rows.iter().filter(|((of, _), _)| *of == set);
            rows.extend(more.map(|(_, (file, line))| Place { file: *file, line: *line }));
        }
        rows.sort_unstable();
        let fault = two_patients_fault(&self.id(set), true, rows.iter().map(|row| row.line));
        for row in rows {
            account.unread_row(row, fault.clone());
        }
    }
}
