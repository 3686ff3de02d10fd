//! Arrivals: how often something happens by chance, how many by a date, and how long until the n-th.
//!
//! Events per exposure (draws per nurse shift) differ between strata (unit, weekday, shift), and some strata have been
//! watched for so short a time that their own rate means little. Each stratum's rate is therefore drawn towards the
//! rates of all, by as much as the data ask for, and a forecast carries both the chance of arrivals and what is not
//! known of the rate.
//!
//! * `fit_rate_spread`, `shrink_rates`: the rates of all strata together, and of each.
//! * `thin_rate`: the share that reaches one person.
//! * `chance_of_at_least`, `chance_of_at_least_across`, `time_to_nth`: forecasts.
//! * `chance_of_at_most_present`: how many of some people come.
//! * `waiting_time`: trials until the k-th event at a known chance.

pub mod forecast;
pub mod presence;
pub mod shrinkage;
pub mod waiting;

pub use forecast::{
    Forecast, chance_of_at_least, chance_of_at_least_across, forecast_count, thin_rate, time_to_nth,
};
pub use presence::chance_of_at_most_present;
pub use shrinkage::{GammaRate, RateSpread, Stratum, fit_rate_spread, shrink_rates};
pub use waiting::{WaitingTime, waiting_time};
