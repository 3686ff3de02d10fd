//! The columns of a table of sets.

use super::{Codes, Moments, NOT_KNOWN, SparseCodes};
use crate::set::{Bottle, ReportStatus, Route, Specimen};

/// The columns of a [`SetTable`](super::SetTable), for whoever fills one. Every column has one value for each set; a
/// code is a place in the list beside it, or [`NOT_KNOWN`].
#[derive(Debug, Clone, Default)]
pub struct SetColumns {
    /// Specimen numbers, one after the other.
    pub ids: String,
    /// Where each specimen number ends.
    pub id_ends: Vec<u32>,
    /// The patient of each set, as a number from 0; memory is taken for every number up to the highest.
    pub patients: Vec<u32>,
    /// When the blood was taken.
    pub collected: Moments,
    /// When it was received.
    pub received: Moments,
    /// Unit of each set.
    pub units: Codes,
    /// Names of the units.
    pub unit_names: Vec<String>,
    /// Collector of each set.
    pub collectors: Codes,
    /// Names of the collectors.
    pub collector_names: Vec<String>,
    /// Route, kind of specimen and status.
    pub marks: Vec<Marks>,
    /// Age of each patient.
    pub ages: Codes,
    /// Ages in years.
    pub age_years: Vec<f64>,
    /// The first bottle of each set.
    pub first_bottles: Codes,
    /// The second.
    pub second_bottles: Codes,
    /// All further bottles.
    pub more_bottles: SparseCodes,
    /// Kinds and fills of bottles, each kind and fill once.
    pub bottle_list: Vec<Bottle>,
    /// Organisms of each set.
    pub isolates: SparseCodes,
    /// Seconds to the first positive bottle, where they are known.
    pub positive_after: SparseCodes,
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

/// Columns that do not fit each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the column {column:?} does not fit the other columns of the table of sets")]
pub struct SetColumnsError {
    /// The column that does not fit.
    pub column: &'static str,
}

impl SetColumns {
    /// The bottles of one more set, as places in the list of bottles.
    pub fn push_bottles(&mut self, bottles: impl IntoIterator<Item = u32>) {
        let mut bottles = bottles.into_iter();
        let set = u32::try_from(self.first_bottles.len()).unwrap_or(NOT_KNOWN);
        self.first_bottles.push(bottles.next().unwrap_or(NOT_KNOWN));
        self.second_bottles.push(bottles.next().unwrap_or(NOT_KNOWN));
        for bottle in bottles {
            self.more_bottles.push(set, bottle);
        }
    }

    /// The bottles of a set, as places in the list of bottles.
    pub fn bottle_codes(&self, set: usize) -> impl Iterator<Item = u32> {
        let second = self.second_bottles.get(set);
        let more = if second == NOT_KNOWN { &[] } else { self.more_bottles.get(set) };
        [self.first_bottles.get(set), second]
            .into_iter()
            .filter(|bottle| *bottle != NOT_KNOWN)
            .chain(more.iter().copied())
    }

    pub(super) fn check(&self) -> Result<(), SetColumnsError> {
        let n = self.patients.len();
        let fits =
            |column: &'static str, fits: bool| if fits { Ok(()) } else { Err(SetColumnsError { column }) };
        let ends = |ends: &[u32], last: usize| {
            ends.len() == n && ends.is_sorted() && ends.last().map_or(last == 0, |end| *end as usize == last)
        };
        let codes = |codes: &Codes, n_names: usize| codes.len() == n && codes.all_below(n_names);
        let few = |codes: &SparseCodes, n_names: usize| {
            codes.last_set().is_none_or(|last| (last as usize) < n)
                && codes.codes().iter().all(|code| (*code as usize) < n_names)
        };
        fits("patients", n < NOT_KNOWN as usize && self.patients.iter().max() != Some(&NOT_KNOWN))?;
        fits("id_ends", ends(&self.id_ends, self.ids.len()))?;
        fits("collected", self.collected.len() == n && self.collected.all_known())?;
        fits("received", self.received.len() == n)?;
        fits("units", codes(&self.units, self.unit_names.len()))?;
        fits("collectors", codes(&self.collectors, self.collector_names.len()))?;
        fits("marks", self.marks.len() == n)?;
        fits("ages", codes(&self.ages, self.age_years.len()))?;
        fits("first_bottles", codes(&self.first_bottles, self.bottle_list.len()))?;
        fits("second_bottles", codes(&self.second_bottles, self.bottle_list.len()))?;
        fits("more_bottles", few(&self.more_bottles, self.bottle_list.len()))?;
        fits("isolates", few(&self.isolates, self.organism_names.len()))?;
        fits("positive_after", self.positive_after.last_set().is_none_or(|last| (last as usize) < n))
    }
}
