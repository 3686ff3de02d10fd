//! The invented laboratory: which sets there were, what grew, and the files it sent.

mod episode;
mod files;
mod growth;
mod set;

pub(crate) use episode::{earlier_sets, sets};
pub(crate) use files::{Sent, files};
pub(crate) use growth::{Care, contaminate, fill_and_grow};
pub(crate) use set::{Area, DemoSet, Hands, Infection, Source};
