//! Change over time: what a series did after something changed, against what it would have done otherwise.
//!
//! A series of periods is cut in two by a change (training, a new kit, a new policy). A regression with a level and a
//! trend before, and their changes after, is carried on past the cut as if nothing had changed; the difference is what
//! was avoided. It comes with an interval, and with a plain answer, which is often `CannotTell`.
//!
//! The comparison is with the unit's own past. It cannot tell the change from anything else that happened at the
//! same time.

mod design;
mod fit;
mod newey_west;
pub mod segmented;

pub use design::{Harmonics, SegmentedPlan, SlopeChange};
pub use newey_west::{durbin_watson, newey_west_lag};
pub use segmented::{
    Answer, Counterfactual, Effect, Scale, SegmentedFit, Series, StandardErrors, Term, segmented_regression,
};
