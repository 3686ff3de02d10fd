//! Numbers only: intervals, charts, sequential tests, agreement, regression, forecasts.
//!
//! This room does no input or output, reads no clock and draws no random number that was not asked for with a
//! seed. It knows nothing of nurses, sets or files: it is given counts and measurements and gives back numbers,
//! each with its interval or with a typed error that says which value it could not work with. No function
//! returns NaN or infinity where a number was promised; an end without a bound is an `Option`.
//!
//! # How a method is documented
//!
//! Every public function that computes a figure carries these sections, in this order, and `docs/methods.md`
//! is built from them:
//!
//! * `# Formula`: what is computed, in plain characters.
//! * `# Range`: unit and range of every argument and of the answer.
//! * `# Ends`: what happens at 0 of n, n of n, n = 1, one point, all equal.
//! * `# Source`: author, year, equation or table; `common practice, no source` where there is none.
//! * `# Check`: what outside the project the answer is compared with, and how closely.
//! * `# Example`: a doc test whose answer can be checked by hand.
//!
//! The first line says in one sentence what the figure is for. A page that shows the figure links to
//! `docs/methods.md#<function name>`, so names of such functions are unique in the room.
//!
//! # Example
//!
//! ```
//! use stats::{ConfidenceLevel, Proportion, proportion::wilson};
//!
//! // 4 contaminated sets among 200.
//! let sets = Proportion::new(4, 200)?;
//! let interval = wilson(sets, ConfidenceLevel::default());
//! assert_eq!(format!("{:.5} to {:.5}", interval.lower(), interval.upper()), "0.00780 to 0.05029");
//! # Ok::<(), stats::StatsError>(())
//! ```

pub mod error;
pub mod value;

pub mod dist;

pub mod proportion;

pub mod charts;

pub mod people;

pub mod sequential;

pub mod agreement;

pub mod regression;

pub mod arrivals;

pub use error::StatsError;
pub use value::{ConfidenceLevel, Interval, Probability, Proportion};
