//! How a figure, a date, a standing or a table looks, each in one place.

mod dates;
mod figures;
mod marks;
mod opened;
mod section;
mod strata;

pub(crate) use dates::{day, moment, month_words};
pub(crate) use figures::{count, hundredths, of, percent, rate, rate_of, rate_short, sentence_start};
pub(crate) use marks::{Shape, safety_mark, shape, standing};
pub(crate) use opened::opened;
pub(crate) use section::{caution, cell, name, section, table};
pub(crate) use strata::{Stratum, fill, strata, verdicts};
