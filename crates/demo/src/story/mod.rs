//! What people did: tasks at the trainers' desks, draws at the bedside, and what was put right later.

mod bedside;
mod corrections;
mod desk;
mod engine;
mod jobs;
mod marks;
mod own_words;
mod spoken;
mod state;

pub(crate) use bedside::TOLD_SETS;
pub(crate) use corrections::correct;
pub(crate) use engine::{Engine, number};
pub(crate) use jobs::{Job, Jobs};
pub(crate) use own_words::say;
pub(crate) use spoken::listen;
pub(crate) use state::Stage;
