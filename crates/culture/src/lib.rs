//! Sets, bottles, isolates: the verdict on each set, the rates, fill volume.
//!
//! This room is pure: it reads no file and no clock. Sets come in as plain values, verdicts go out with the
//! clause of the rule that gave them.

mod set;

pub use set::{
    Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId,
};
