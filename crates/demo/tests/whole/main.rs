//! The whole demo unit, held against itself and against the rooms that read it.

mod laboratory;
mod roster;
mod rows;
mod same_bytes;
mod story;
