//! Millilitres, seconds, counts and rates: read from text, written back.
//!
//! A number that is not finite or lies outside its range is refused when the value is made, so no later room has
//! to ask.

mod stated;

pub use stated::{Per, Stated, Unit};
