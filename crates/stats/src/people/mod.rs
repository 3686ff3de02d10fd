//! Many people, few trials each: what may be said of one of them.
//!
//! A bare percentage of a person says little: 2 of 14 is 14 %, and chance does that to a careful nurse. Here
//! are the funnel (who stands out at all), the over-dispersion that every funnel must allow for, the estimate
//! shrunk towards the unit with its interval and the probability of being above target, and the correction
//! for looking at many people at once.

// Apart, so that they stay in reading order.
mod posterior;

mod beta_binomial;

mod funnel;

mod discovery;

pub use beta_binomial::{BetaFit, Excess, beta_binomial_likelihood, beta_binomial_moments};
pub use discovery::{benjamini_hochberg, probability_as_high};
pub use funnel::{FunnelCentre, FunnelMethod, OverDispersion, funnel_limits, over_dispersion};
pub use posterior::{BetaPosterior, BetaPrior, trials_to_know};
