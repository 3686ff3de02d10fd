//! Millilitres, seconds, grams and counts: read from text, written back.
//!
//! A number that is not finite or lies outside its range is refused when the value is made, so no later room has to
//! ask. [`Volume`], [`Seconds`] and [`Mass`] are for computing; [`Stated`] is a quantity as a job words it, with its
//! range, its direction ("at least") and what it is counted per.

mod bounds;
mod find;
mod measure;
mod misheard;
mod numbers;
mod read;
mod reckoned;
pub mod spelling;
mod stated;
mod taken_back;
mod tokens;
mod vocabulary;

pub use bounds::QuantityError;
pub use find::{Found, find, find_spoken};
pub use measure::{Mass, Seconds, Volume};
pub use read::ReadError;
pub use stated::{Agreement, Per, Stated, StatedError, Unit};

/// True for a word that names a unit of volume or time: "mL", "mils", "seconds".
pub fn names_unit(word: &str) -> bool {
    vocabulary::unit(&word.to_lowercase()).is_some()
}
