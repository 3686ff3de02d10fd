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

mod table;

mod tally;

mod counts;

mod report;

mod single;

mod compare;

mod judgement;

mod quality;

mod collector;

mod fill;

mod pairs;

pub use collector::{CollectorFigures, NoCollectorFigures, collector_figures};
pub use commensal::{CommensalList, CommensalListError, Listing};
pub use compare::Comparison;
pub use counts::{GroupCounts, TableCounts};
pub use fill::{FillFacts, FillTarget, FillTargetError, fill_from_mass};
pub use judge::{Judged, judge, judge_table};
pub use judgement::{Beside, Judgement, JudgementError};
pub use merge::{joined, merge_split_sets, merge_split_table, split_pairs};
pub use organism::{
    Agreement, Identified, Identity, Matching, Nomenclature, NomenclatureError, Species, Unresolved,
};
pub use pairs::{
    APART_MOST_MIN, DIFFERENCE_MIN, Pair, PairDoubt, PairFinding, Pairs, PositiveTimes, VOLUME_SHARE_LEAST,
    line_and_vein_pairs,
};
pub use quality::{Doubt, DoubtCount, MOST_PLACES, doubts};
pub use report::{ReportOn, TableReport};
pub use rules::{
    DifferentCommensalsPolicy, ListName, MixedGrowthPolicy, READY_RULE_SETS, RuleSet, RuleSetError,
    SingleSetPolicy, Window,
};
pub use set::{
    Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId, Specimen,
};
pub use single::SingleSets;
pub use table::{
    Codes, Marks, Moment, Moments, NOT_KNOWN, PatientOrder, SetColumns, SetColumnsError, SetRef, SetTable,
    SparseCodes,
};
pub use tally::{
    DayShift, Month, PatientDayRate, Rate, Shift, Tally, count_clauses, per_thousand_patient_days, share,
    tally_by,
};
pub use verdict::{Clause, Flag, Flags, Verdict};
pub use window::{collected_after_received, counted_on};
