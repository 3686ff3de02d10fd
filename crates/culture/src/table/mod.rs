//! Many sets in little space: one column for each fact, and every text kept once.
//!
//! A set of a [`SetTable`] takes about 35 bytes, where a [`CultureSet`] takes several hundred. Reports on millions
//! of sets are counted from it.

mod codes;
mod columns;
mod moment;
mod moments;
mod order;

use std::collections::HashMap;

use jiff::civil::DateTime;

use crate::set::{Bottle, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId, Specimen};
use crate::window::Timing;
pub use codes::{Codes, SparseCodes};
pub use columns::{Marks, SetColumns, SetColumnsError};
pub use moment::Moment;
pub(crate) use moment::civil;
pub use moments::Moments;
pub use order::PatientOrder;

/// Stands in a column of codes where the fact is not known.
pub const NOT_KNOWN: u32 = u32::MAX;

/// Many sets in little space.
#[derive(Debug, Clone, Default)]
pub struct SetTable {
    columns: SetColumns,
    n_patients: u32,
}

/// One set of a table.
#[derive(Debug, Clone, Copy)]
pub struct SetRef<'a> {
    /// Specimen number or derived key.
    pub id: &'a str,
    /// The patient, as a number that means nothing outside the table.
    pub patient: u32,
    /// When the blood was taken.
    pub collected: Collected,
    /// When the laboratory received it, where known.
    pub received: Option<DateTime>,
    /// Unit at the time of the draw.
    pub unit: Option<&'a str>,
    /// Person whose hands drew.
    pub collector: Option<&'a str>,
    /// Vein or line, where known.
    pub route: Option<Route>,
    /// What was put into the bottles.
    pub specimen: Specimen,
    /// Patient's age in years at the draw, where known.
    pub age_years: Option<f64>,
    /// How far the report has come.
    pub status: ReportStatus,
    table: &'a SetTable,
    place: usize,
}

impl SetTable {
    /// A table of columns.
    ///
    /// # Errors
    /// When a column has another length than the rest, an end lies before the one above it, or a code names nothing.
    pub fn new(columns: SetColumns) -> Result<Self, SetColumnsError> {
        columns.check()?;
        let n_patients = columns.patients.iter().max().map_or(0, |most| most + 1);
        Ok(Self { columns, n_patients })
    }

    /// The same sets in little space. Times keep whole seconds.
    pub fn of(sets: &[CultureSet]) -> Self {
        let mut columns = SetColumns::default();
        let mut patients = HashMap::new();
        let mut units = Names::default();
        let mut collectors = Names::default();
        let mut organisms = Names::default();
        let (mut ages, mut bottles) = (HashMap::new(), HashMap::new());
        let mut bottle_list = Vec::new();
        for (number, set) in (0_u32..).zip(sets) {
            columns.ids.push_str(&set.id.0);
            columns.id_ends.push(place(columns.ids.len()));
            let next = place(patients.len());
            columns.patients.push(*patients.entry(&set.patient).or_insert(next));
            columns.collected.push(set.collected.into());
            columns.received.push(set.received.map_or(Moment::NONE, Moment::at));
            columns.units.push(units.code(set.unit.as_deref()));
            columns.collectors.push(collectors.code(set.collector.as_deref()));
            columns.marks.push(Marks { route: set.route, specimen: set.specimen, status: set.status });
            columns.ages.push(
                set.age_years.map_or(NOT_KNOWN, |age| numbered(&mut ages, &mut columns.age_years, age)),
            );
            columns.push_bottles(set.bottles.iter().map(|bottle| {
                let kind = (bottle.kind, bottle.fill_ml.map(f64::to_bits));
                *bottles.entry(kind).or_insert_with(|| {
                    bottle_list.push(bottle.clone());
                    place(bottle_list.len() - 1)
                })
            }));
            if let Some(seconds) = set.positive_after_s {
                columns.positive_after.push(number, seconds);
            }
            for isolate in &set.isolates {
                columns.isolates.push(number, organisms.code(Some(&isolate.reported_name)));
            }
        }
        let n_patients = place(patients.len());
        columns.unit_names = units.names;
        columns.collector_names = collectors.names;
        columns.organism_names = organisms.names;
        columns.bottle_list = bottle_list;
        Self { columns, n_patients }
    }

    /// The sets whose place says so.
    pub fn keep(&self, keep: &[bool]) -> Self {
        self.joined(&HashMap::new(), keep, |first, _| first)
    }

    /// The sets whose place says so, with what stands at another place joined to some of them.
    pub(crate) fn joined(
        &self,
        halves: &HashMap<u32, u32>,
        keep: &[bool],
        status: impl Fn(ReportStatus, ReportStatus) -> ReportStatus,
    ) -> Self {
        let from = &self.columns;
        let mut to = SetColumns {
            unit_names: from.unit_names.clone(),
            collector_names: from.collector_names.clone(),
            age_years: from.age_years.clone(),
            bottle_list: from.bottle_list.clone(),
            organism_names: from.organism_names.clone(),
            ..SetColumns::default()
        };
        let mut organisms = Vec::new();
        for set in (0..self.len()).filter(|set| keep.get(*set).copied().unwrap_or(false)) {
            let half = u32::try_from(set).ok().and_then(|set| halves.get(&set)).map(|half| *half as usize);
            to.ids.push_str(self.id(set));
            to.id_ends.push(place(to.ids.len()));
            to.patients.push(from.patients[set]);
            to.collected.push(from.collected.get(set));
            let received = from.received.get(set);
            to.received.push(match half.map(|half| from.received.get(half)) {
                Some(other) if received.is_none() => other,
                Some(other) if !other.is_none() => received.min(other),
                _ => received,
            });
            for (to, from) in [
                (&mut to.units, &from.units),
                (&mut to.collectors, &from.collectors),
                (&mut to.ages, &from.ages),
            ] {
                let other = half.map_or(NOT_KNOWN, |half| from.get(half));
                let own = from.get(set);
                to.push(if own == NOT_KNOWN { other } else { own });
            }
            let marks = from.marks[set];
            let joined = half.map_or(marks.status, |half| status(marks.status, from.marks[half].status));
            to.marks.push(Marks { status: joined, ..marks });
            let new = place(to.marks.len() - 1);
            let parts = || std::iter::once(set).chain(half);
            to.push_bottles(parts().flat_map(|part| self.bottle_codes(part)));
            let earliest = parts().filter_map(|part| self.positive_after_s(part)).min();
            if let Some(seconds) = earliest {
                to.positive_after.push(new, seconds);
            }
            organisms.clear();
            for organism in parts().flat_map(|part| self.organism_codes(part)) {
                if !organisms.contains(organism) {
                    organisms.push(*organism);
                    to.isolates.push(new, *organism);
                }
            }
        }
        Self { columns: to, n_patients: self.n_patients }
    }

    /// How many sets there are.
    pub fn len(&self) -> usize {
        self.columns.patients.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Its columns.
    pub fn columns(&self) -> &SetColumns {
        &self.columns
    }

    /// The patients are numbered from 0 up to, not including, this.
    pub fn n_patients(&self) -> u32 {
        self.n_patients
    }

    /// One set; `None` beyond the last.
    pub fn get(&self, place: usize) -> Option<SetRef<'_>> {
        let columns = &self.columns;
        let marks = columns.marks.get(place)?;
        Some(SetRef {
            id: self.id(place),
            patient: *columns.patients.get(place)?,
            collected: columns.collected.get(place).collected()?,
            received: columns.received.get(place).date_time(),
            unit: columns.unit_names.get(columns.units.get(place) as usize).map(String::as_str),
            collector: columns
                .collector_names
                .get(columns.collectors.get(place) as usize)
                .map(String::as_str),
            route: marks.route,
            specimen: marks.specimen,
            age_years: self.age_years(place),
            status: marks.status,
            table: self,
            place,
        })
    }

    /// Every set in order.
    pub fn iter(&self) -> impl Iterator<Item = SetRef<'_>> {
        (0..self.len()).filter_map(|place| self.get(place))
    }

    /// Every set in full; a patient's key is the number the table has for the patient.
    pub fn to_sets(&self) -> Vec<CultureSet> {
        self.iter()
            .map(|set| CultureSet {
                id: SetId(set.id.to_owned()),
                patient: PatientKey(set.patient.to_string()),
                collected: set.collected,
                received: set.received,
                unit: set.unit.map(str::to_owned),
                collector: set.collector.map(str::to_owned),
                route: set.route,
                specimen: set.specimen,
                age_years: set.age_years,
                status: set.status,
                bottles: set.bottles().collect(),
                positive_after_s: self.positive_after_s(set.place),
                isolates: set.organisms().map(|name| Isolate { reported_name: name.to_owned() }).collect(),
            })
            .collect()
    }

    /// Specimen number of a set; empty beyond the last.
    pub fn id(&self, place: usize) -> &str {
        let range = range(&self.columns.id_ends, place);
        self.columns.ids.get(range).unwrap_or_default()
    }

    pub(crate) fn age_years(&self, place: usize) -> Option<f64> {
        self.columns.age_years.get(self.columns.ages.get(place) as usize).copied()
    }

    /// Places of the bottles of a set in the list of bottles.
    pub(crate) fn bottle_codes(&self, place: usize) -> impl Iterator<Item = u32> {
        self.columns.bottle_codes(place)
    }

    /// The bottles of a set.
    pub(crate) fn bottles(&self, place: usize) -> impl Iterator<Item = &Bottle> {
        self.bottle_codes(place).filter_map(|code| self.columns.bottle_list.get(code as usize))
    }

    /// Seconds to the first positive bottle of a set, where they are known.
    pub(crate) fn positive_after_s(&self, place: usize) -> Option<u32> {
        self.columns.positive_after.get(place).first().copied()
    }

    /// Places of the organisms of a set in the list of names.
    pub(crate) fn organism_codes(&self, place: usize) -> &[u32] {
        self.columns.isolates.get(place)
    }

    pub(crate) fn timing(&self, place: usize) -> Timing {
        Timing::of_moments(self.columns.collected.get(place), self.columns.received.get(place))
    }
}

impl<'a> SetRef<'a> {
    /// The bottles, where the file lists them.
    pub fn bottles(self) -> impl Iterator<Item = Bottle> + 'a {
        self.table.bottles(self.place).cloned()
    }

    /// The organisms as the laboratory wrote them; none means no growth reported.
    pub fn organisms(self) -> impl Iterator<Item = &'a str> {
        let names = &self.table.columns.organism_names;
        self.table
            .organism_codes(self.place)
            .iter()
            .filter_map(|code| names.get(*code as usize).map(String::as_str))
    }
}

/// Texts with a number each.
#[derive(Default)]
struct Names<'a> {
    codes: HashMap<&'a str, u32>,
    names: Vec<String>,
}

impl<'a> Names<'a> {
    fn code(&mut self, name: Option<&'a str>) -> u32 {
        let Some(name) = name else { return NOT_KNOWN };
        *self.codes.entry(name).or_insert_with(|| {
            self.names.push(name.to_owned());
            place(self.names.len() - 1)
        })
    }
}

/// Numbers with a code each; equal bits are equal numbers.
fn numbered(codes: &mut HashMap<u64, u32>, values: &mut Vec<f64>, value: f64) -> u32 {
    *codes.entry(value.to_bits()).or_insert_with(|| {
        values.push(value);
        place(values.len() - 1)
    })
}

fn place(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(NOT_KNOWN)
}

fn range(ends: &[u32], place: usize) -> std::ops::Range<usize> {
    let start = place.checked_sub(1).map_or(Some(0), |above| ends.get(above).copied()).unwrap_or(0);
    let end = ends.get(place).copied().unwrap_or(start);
    start as usize..end as usize
}
