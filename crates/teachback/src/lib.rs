//! A teach-back held against a breakdown.
//!
//! This room is pure. Said, done and result are three kinds of evidence; this room knows only what was said.

mod mark;

pub use mark::{Mark, TeachBack, TeachBackItem};
