//! Observed draws, standing, release rules and their error rates, follow-up.
//!
//! This room is pure: a history goes in, a standing with its evidence comes out. It reads no clock; the day on
//! which the question is asked is an argument.
//!
//! Three kinds of evidence never stand in for each other: what was said (teach-back), what was done (observed draw)
//! and what came of it (the laboratory's result, which is not in this room). The program never raises a standing by
//! itself: a standing rests on a release that a trainer signed.

mod event;
mod rule;
mod standing;

pub use event::{
    DrawItem, DrawMark, Event, EventId, EventKind, History, LaboratoryDraw, ObservedDraw, Person, PersonId,
    Release, Role, Scope, Setting, SpotCheck,
};
pub use rule::{FollowUp, ReleaseRule, TeachBackRule};
pub use standing::{Corrected, Due, Evidence, EvidenceKind, Level, Standing};
