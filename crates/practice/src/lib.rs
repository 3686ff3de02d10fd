//! Observed draws, standing, release rules and their error rates, follow-up.
//!
//! This room is pure: a history goes in, a standing with its evidence comes out. It reads no clock; the day on
//! which the question is asked is an argument.

mod event;

pub use event::{
    DrawItem, DrawMark, Event, EventId, EventKind, History, ObservedDraw, Person, PersonId, Release, Role, Scope,
    Setting, SpotCheck,
};
