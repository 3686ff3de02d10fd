//! Sequential tests: charts that accumulate evidence observation by observation, and how long they run.
//!
//! Every chart here carries its run length: the mean, the quantiles and the chance of a signal within so many
//! observations, exactly and not by simulation, and the inverse, the limit for a wanted false-alarm rate. A chart
//! without its run length says nothing: a limit that passes most adequate learners may pass most others too.
//!
//! * `two_step`: charts of yes-or-no outcomes, whose sum moves by one of two sizes. The log-likelihood
//!   Bernoulli CUSUM, its lattice form, the learning-curve CUSUM and the chart with the slope of a sequential
//!   probability ratio test are one type with different weights.
//! * `sprt`: the sequential probability ratio test itself, with two decisions.
//! * `normal`: the CUSUM of measurements, two-sided, with a head start.
//! * `run_length`: the distribution both kinds of chart answer with.
//! * `limit`: the limit for a wanted run length or false-alarm chance.

pub mod bernoulli;
pub mod lattice;
pub mod learning_curve;
pub mod limit;
pub mod normal;
pub mod normal_run_length;
pub mod run_length;
mod skip_free;
pub mod sprt;
pub mod two_step;
mod walk;

pub use bernoulli::{log_likelihood_cusum, log_likelihood_weights};
pub use lattice::{LatticeReference, lattice_alternative, lattice_cusum, lattice_reference};
pub use learning_curve::learning_curve_cusum;
pub use limit::{normal_cusum_limit, two_step_limit_for_alarm_chance, two_step_limit_for_mean};
pub use normal::{NormalCusum, NormalCusumPoint, Side, normal_cusum_path, shift_estimate};
pub use normal_run_length::{
    Sides, brook_evans_mean_run_length, normal_mean_run_length, normal_run_length, siegmund_mean_run_length,
};
pub use run_length::RunLength;
pub use sprt::{
    Sprt, SprtCharacteristics, SprtVerdict, ratio_slope_cusum, sequential_ratio_test, sprt_characteristics,
};
pub use two_step::{
    RisesOn, TwoStepCusum, TwoStepState, two_step_mean_run_length, two_step_run_length,
    two_step_signal_within,
};
