//! A teach-back held against a breakdown.
//!
//! This room is pure. Said, done and result are three kinds of evidence; this room knows only what was said. The
//! marks of a pass are a trainer's; [`hear`] reads a transcript and proposes marks, as a draft that the trainer
//! confirms or changes.

mod mark;
mod proposed;
mod rule;

mod outcome;
mod said_order;
mod series;
mod two_listeners;

mod hear;
mod transcript;

pub use hear::{HeardAs, Hearing, N_SIGNS, Pause, Proposal, Settings, StepPace, Unmatched, hear, signs};
pub use mark::{Mark, TeachBack, TeachBackItem};
pub use outcome::{CountOf, OrderError, Outcome, OutcomeError, Practise, Shortfall, Why, outcome};
pub use proposed::{Compared, Proposed, ProposedItem};
pub use rule::{PassRule, RuleError};
pub use said_order::{OrdersConflict, PairHeard, binding_pairs, in_said_order};
pub use series::{Series, series};
pub use transcript::{SpokenLine, Transcript};
pub use two_listeners::as_counted;
