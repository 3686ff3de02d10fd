//! Sets, bottles, isolates: the verdict on each set, the rates, fill volume.
//!
//! This room is pure: it reads no file and no clock. Sets come in as plain values, verdicts go out with the
//! clause of the rule that gave them.

mod set;

mod organism;

mod commensal;

mod rules;

mod verdict;

mod window;

mod judge;

mod merge;

mod tally;

mod single;

mod fill;

pub use commensal::{CommensalList, CommensalListError, Listing};
pub use fill::{FillFacts, FillTarget, FillTargetError, fill_from_mass};
pub use judge::{Judged, judge};
pub use merge::merge_split_sets;
pub use organism::{
    Agreement, Identified, Identity, Matching, Nomenclature, NomenclatureError, Species, Unresolved,
};
pub use rules::{
    DifferentCommensalsPolicy, ListName, MixedGrowthPolicy, READY_RULE_SETS, RuleSet, RuleSetError,
    SingleSetPolicy, Window,
};
pub use set::{
    Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId, Specimen,
};
pub use single::SingleSets;
pub use tally::{DayShift, Month, Rate, Shift, Tally, count_clauses, share, tally_by};
pub use verdict::{Clause, Flag, Flags, Verdict};
pub use window::{collected_after_received, counted_on};
