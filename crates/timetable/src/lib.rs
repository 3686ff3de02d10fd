//! Rosters, expected draws, who practises when, the chance of being done by a date.
//!
//! This room is pure: rows of a roster and times of draws go in, a timetable, coverage and chances come out. It reads no
//! file and no clock. Times are the unit's local civil time; a night shift belongs to the day on which it begins.
//!
//! A roster is held as [`Duty`] spans, from whatever file they came: rows with a shift word ([`Roster::read`]) today,
//! calendar events with a start and an end as well.

mod coverage;
mod draws;
mod forecast;
mod grid;
mod next_draw;
pub mod pairing;
pub mod plan;
mod roster;
mod shift;

pub use coverage::{ShiftCoverage, coverage};
pub use draws::{DrawRates, Slot, draw_rates};
pub use forecast::{Bottleneck, Forecast, Wanted, forecast};
pub use grid::{Cell, Grid, grid};
pub use next_draw::{
    DrawOffer, DrawReason, NextDraw, NextDrawQuestion, WATCHED_DAYS, WatchedDraw, next_draw,
};
pub use roster::{Duty, Roster, RosterFault, RosterRow, RosterRows, RosterWords};
pub use shift::{MOST_SHIFTS, Shift, ShiftKind, ShiftTimes, ShiftTimesError};
