//! Many sets in little space: one column for each fact, and every text kept once.
//!
//! A set of a [`SetTable`] takes about 65 bytes, where a [`CultureSet`] takes several hundred. Reports on millions
//! of sets are counted from it.

mod moment;
mod order;

use std::collections::HashMap;

use jiff::civil::DateTime;

use crate::set::{
    Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId, Specimen,
};
use crate::window::Timing;
pub use moment::Moment;
pub(crate) use moment::civil;
pub use order::PatientOrder;

/// Stands in a column of codes where the fact is not known.
pub const NOT_KNOWN: u32 = u32::MAX;

/// The columns of a [`SetTable`], for whoever fills one. Every column has one value for each set; a code is a place in
/// the list beside it, or [`NOT_KNOWN`].
#[derive(Debug, Clone, Default)]
pub struct SetColumns {
    /// Specimen numbers, one after the other.
    pub ids: String,
    /// Where each specimen number ends.
    pub id_ends: Vec<u32>,
    /// The patient of each set, as a number from 0; memory is taken for every number up to the highest.
    pub patients: Vec<u32>,
    /// When the blood was taken.
    pub collected: Vec<Moment>,
    /// When it was received.
    pub received: Vec<Moment>,
    /// Unit of each set, as a code.
    pub units: Vec<u32>,
    /// Names of the units.
    pub unit_names: Vec<String>,
    /// Collector of each set, as a code.
    pub collectors: Vec<u32>,
    /// Names of the collectors.
    pub collector_names: Vec<String>,
    /// Route, kind of specimen and status.
    pub marks: Vec<Marks>,
    /// Age of each patient, as a code.
    pub ages: Vec<u32>,
    /// Ages in years.
    pub age_years: Vec<f64>,
    /// Bottles, set after set.
    pub bottles: Vec<BottleCode>,
    /// Where the bottles of each set end.
    pub bottle_ends: Vec<u32>,
    /// Fills in millilitres.
    pub fills_ml: Vec<f64>,
    /// Organisms as codes, set after set.
    pub isolates: Vec<u32>,
    /// Where the organisms of each set end.
    pub isolate_ends: Vec<u32>,
    /// Names of the organisms as the laboratory wrote them.
    pub organism_names: Vec<String>,
}

/// Route, kind of specimen and status of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Marks {
    /// Where the blood came from, where known.
    pub route: Option<Route>,
    /// What was put into the bottles.
    pub specimen: Specimen,
    /// How far the report has come.
    pub status: ReportStatus,
}

/// A bottle in four bytes: its kind, and its fill as a place in a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BottleCode(u32);

/// Columns that do not fit each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the column {column:?} does not fit the other columns of the table of sets")]
pub struct SetColumnsError {
    /// The column that does not fit.
    pub column: &'static str,
}

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

impl BottleCode {
    /// Most different fills a table can hold.
    pub const MOST_FILLS: u32 = (1 << 29) - 2;
    const NO_FILL: u32 = (1 << 29) - 1;

    /// A bottle and the place of its fill in the list of fills; `None` where the fill is not known, or its place is
    /// beyond [`BottleCode::MOST_FILLS`].
    pub fn new(kind: BottleKind, fill: Option<u32>) -> Self {
        let kind = match kind {
            BottleKind::Aerobic => 0,
            BottleKind::Anaerobic => 1,
            BottleKind::Paediatric => 2,
            BottleKind::Other => 3,
        };
        let fill = fill.filter(|fill| *fill <= Self::MOST_FILLS).unwrap_or(Self::NO_FILL);
        Self(fill << 2 | kind)
    }

    /// Which broth it holds.
    pub fn kind(self) -> BottleKind {
        match self.0 & 3 {
            0 => BottleKind::Aerobic,
            1 => BottleKind::Anaerobic,
            2 => BottleKind::Paediatric,
            _ => BottleKind::Other,
        }
    }

    /// The place of its fill in the list of fills.
    pub fn fill(self) -> Option<u32> {
        let fill = self.0 >> 2;
        (fill != Self::NO_FILL).then_some(fill)
    }
}

impl SetTable {
    /// A table of columns.
    ///
    /// # Errors
    /// When a column has another length than the rest, an end lies before the one above it, or a code names nothing.
    pub fn new(columns: SetColumns) -> Result<Self, SetColumnsError> {
        check(&columns)?;
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
        let (mut ages, mut fills) = (HashMap::new(), HashMap::new());
        for set in sets {
            columns.ids.push_str(&set.id.0);
            columns.id_ends.push(place(columns.ids.len()));
            let next = place(patients.len());
            columns.patients.push(*patients.entry(&set.patient).or_insert(next));
            columns.collected.push(set.collected.into());
            columns.received.push(set.received.map_or(Moment::NONE, Moment::at));
            columns.units.push(units.code(set.unit.as_deref()));
            columns.collectors.push(collectors.code(set.collector.as_deref()));
            columns.marks.push(Marks { route: set.route, specimen: set.specimen, status: set.status });
            columns
                .ages
                .push(set.age_years.map_or(NOT_KNOWN, |age| number(&mut ages, &mut columns.age_years, age)));
            for bottle in &set.bottles {
                let fill = bottle.fill_ml.map(|fill| number(&mut fills, &mut columns.fills_ml, fill));
                columns.bottles.push(BottleCode::new(bottle.kind, fill));
            }
            columns.bottle_ends.push(place(columns.bottles.len()));
            for isolate in &set.isolates {
                columns.isolates.push(organisms.code(Some(&isolate.reported_name)));
            }
            columns.isolate_ends.push(place(columns.isolates.len()));
        }
        let n_patients = place(patients.len());
        columns.unit_names = units.names;
        columns.collector_names = collectors.names;
        columns.organism_names = organisms.names;
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
            fills_ml: from.fills_ml.clone(),
            organism_names: from.organism_names.clone(),
            ..SetColumns::default()
        };
        for set in (0..self.len()).filter(|set| keep.get(*set).copied().unwrap_or(false)) {
            let half = u32::try_from(set).ok().and_then(|set| halves.get(&set)).map(|half| *half as usize);
            to.ids.push_str(self.id(set));
            to.id_ends.push(place(to.ids.len()));
            to.patients.push(from.patients[set]);
            to.collected.push(from.collected[set]);
            to.received.push(match half.map(|half| from.received[half]) {
                Some(other) if from.received[set].is_none() => other,
                Some(other) if !other.is_none() => from.received[set].min(other),
                _ => from.received[set],
            });
            for (to, from) in [
                (&mut to.units, &from.units),
                (&mut to.collectors, &from.collectors),
                (&mut to.ages, &from.ages),
            ] {
                let other = half.map_or(NOT_KNOWN, |half| from[half]);
                to.push(if from[set] == NOT_KNOWN { other } else { from[set] });
            }
            let marks = from.marks[set];
            let joined = half.map_or(marks.status, |half| status(marks.status, from.marks[half].status));
            to.marks.push(Marks { status: joined, ..marks });
            let start = to.isolates.len();
            for part in std::iter::once(set).chain(half) {
                to.bottles.extend_from_slice(self.bottle_codes(part));
                for organism in self.organism_codes(part) {
                    if !to.isolates[start..].contains(organism) {
                        to.isolates.push(*organism);
                    }
                }
            }
            to.bottle_ends.push(place(to.bottles.len()));
            to.isolate_ends.push(place(to.isolates.len()));
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
        let text = |codes: &[u32], names: &'_ [String]| -> Option<usize> {
            let code = *codes.get(place)? as usize;
            (code < names.len()).then_some(code)
        };
        let marks = columns.marks.get(place)?;
        Some(SetRef {
            id: self.id(place),
            patient: *columns.patients.get(place)?,
            collected: columns.collected.get(place)?.collected()?,
            received: columns.received.get(place)?.date_time(),
            unit: text(&columns.units, &columns.unit_names).map(|code| columns.unit_names[code].as_str()),
            collector: text(&columns.collectors, &columns.collector_names)
                .map(|code| columns.collector_names[code].as_str()),
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
        let code = *self.columns.ages.get(place)?;
        self.columns.age_years.get(code as usize).copied()
    }

    pub(crate) fn bottle_codes(&self, place: usize) -> &[BottleCode] {
        self.columns.bottles.get(range(&self.columns.bottle_ends, place)).unwrap_or_default()
    }

    /// Places of the organisms of a set in the list of names.
    pub(crate) fn organism_codes(&self, place: usize) -> &[u32] {
        self.columns.isolates.get(range(&self.columns.isolate_ends, place)).unwrap_or_default()
    }

    pub(crate) fn timing(&self, place: usize) -> Timing {
        Timing::of_moments(self.columns.collected[place], self.columns.received[place])
    }
}

impl<'a> SetRef<'a> {
    /// The bottles, where the file lists them.
    pub fn bottles(self) -> impl Iterator<Item = Bottle> + 'a {
        let fills = &self.table.columns.fills_ml;
        self.table.bottle_codes(self.place).iter().map(|bottle| Bottle {
            kind: bottle.kind(),
            fill_ml: bottle.fill().and_then(|fill| fills.get(fill as usize).copied()),
        })
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
fn number(codes: &mut HashMap<u64, u32>, values: &mut Vec<f64>, value: f64) -> u32 {
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

fn check(columns: &SetColumns) -> Result<(), SetColumnsError> {
    let n = columns.patients.len();
    let fits = |column: &'static str, fits: bool| if fits { Ok(()) } else { Err(SetColumnsError { column }) };
    let ends = |ends: &[u32], last: usize| {
        ends.len() == n && ends.is_sorted() && ends.last().map_or(last == 0, |end| *end as usize == last)
    };
    let codes = |codes: &[u32], n_names: usize| {
        codes.len() == n && codes.iter().all(|code| *code == NOT_KNOWN || (*code as usize) < n_names)
    };
    fits("patients", n < NOT_KNOWN as usize && !columns.patients.contains(&NOT_KNOWN))?;
    fits("id_ends", ends(&columns.id_ends, columns.ids.len()))?;
    fits("collected", columns.collected.len() == n && columns.collected.iter().all(|at| !at.is_none()))?;
    fits("received", columns.received.len() == n)?;
    fits("units", codes(&columns.units, columns.unit_names.len()))?;
    fits("collectors", codes(&columns.collectors, columns.collector_names.len()))?;
    fits("marks", columns.marks.len() == n)?;
    fits("ages", codes(&columns.ages, columns.age_years.len()))?;
    fits("bottle_ends", ends(&columns.bottle_ends, columns.bottles.len()))?;
    let fill_is_there =
        |bottle: &BottleCode| bottle.fill().is_none_or(|fill| (fill as usize) < columns.fills_ml.len());
    fits("bottles", columns.bottles.iter().all(fill_is_there))?;
    fits("isolate_ends", ends(&columns.isolate_ends, columns.isolates.len()))?;
    let named = |code: &u32| (*code as usize) < columns.organism_names.len();
    fits("isolates", columns.isolates.iter().all(named))
}
