//! Every count of a report on a table of sets.

use std::collections::BTreeMap;

use crate::fill::{FillFacts, FillTarget};
use crate::judge::Judged;
use crate::set::Route;
use crate::table::SetTable;
use crate::tally::{DayShift, Month, Shift, Tally};
use crate::verdict::{Clause, Flag};

mod counter;

pub(crate) use counter::Counter;

/// The counts of a report on a table of sets.
#[derive(Debug, Clone, PartialEq)]
pub struct TableCounts {
    /// All sets.
    pub tally: Tally,
    /// By month of collection.
    pub months: BTreeMap<Month, GroupCounts>,
    /// By unit; `None` where the unit is not known.
    pub units: BTreeMap<Option<String>, GroupCounts>,
    /// By collector; `None` where nobody is recorded.
    pub collectors: BTreeMap<Option<String>, Tally>,
    /// By vein or line; `None` where it is not known.
    pub routes: BTreeMap<Option<Route>, Tally>,
    /// By shift.
    pub shifts: BTreeMap<Shift, Tally>,
    /// How often each clause fired.
    pub clauses: BTreeMap<Clause, u64>,
    /// How often each flag was raised, among the sets the rule is about; flags never raised are left out.
    pub flags: Vec<(Flag, u64)>,
    /// Sets the rule is about whose collector is recorded.
    pub with_collector: u64,
    /// Fill of the bottles of the sets the rule is about.
    pub fill: FillFacts,
}

/// The counts of a month or a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupCounts {
    /// Its sets.
    pub tally: Tally,
    /// Fill of the bottles of its sets that the rule is about.
    pub fill: FillFacts,
}

impl TableCounts {
    /// Counts sets that were judged.
    pub fn of(sets: &SetTable, judged: &[Judged], shift: DayShift, target: FillTarget) -> Self {
        let mut counter = Counter::new(sets, shift, target);
        for (place, judged) in judged.iter().enumerate().take(sets.len()) {
            counter.add(place, judged);
        }
        counter.finish()
    }
}
