//! The Bernoulli CUSUM with log-likelihood weights: has the rate of an event gone up (or down)?

use crate::error::{StatsError, finite, positive};
use crate::sequential::two_step::{RisesOn, TwoStepCusum};
use crate::value::Probability;

/// What an event and a non-event add to a log-likelihood CUSUM that tests for a change of the odds.
///
/// # Formula
/// event ln(R / (1 − p + R·p)), non-event −ln(1 − p + R·p), with R the odds ratio tested for.
/// # Range
/// `base_rate` strictly between 0 and 1; `odds_ratio` above 0 and not 1. Answer `(event, non_event)` in logarithms.
/// # Ends
/// Rate 0 or 1, odds ratio 1 (both weights would be 0): an error.
/// # Source
/// Steiner, Cook, Farewell, Treasure 2000, Biostatistics 1:441, eq. 2.3 with R0 = 1 (equation number from memory).
/// # Check
/// Six rows for R = 2, p 0.01 to 0.50, to the six published digits.
/// # Example
/// ```
/// use stats::{Probability, sequential::log_likelihood_weights};
/// // p = 0.5, R = 2: ln(2/1.5) and −ln(1.5).
/// let (event, non_event) = log_likelihood_weights(Probability::new(0.5)?, 2.0)?;
/// assert!((event - (4.0f64 / 3.0).ln()).abs() < 1e-15 && (non_event + 1.5f64.ln()).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn log_likelihood_weights(base_rate: Probability, odds_ratio: f64) -> Result<(f64, f64), StatsError> {
    let p = base_rate.interior("base rate")?;
    let ratio = positive("odds ratio", odds_ratio)?;
    // 1 − p + R p = 1 + p (R − 1): log1p keeps the digits at small p.
    let non_event = -libm::log1p(p * (ratio - 1.0));
    let event = libm::log(ratio) + non_event;
    if event == 0.0 || non_event == 0.0 {
        return Err(StatsError::DoesNotApply {
            what: "a log-likelihood CUSUM",
            because: "an odds ratio of 1 is no change to test for",
        });
    }
    Ok((event, non_event))
}

/// A Bernoulli CUSUM that tests whether the odds of an event became `odds_ratio` times those of `base_rate`.
///
/// # Formula
/// S = max(0, S + w), w from `log_likelihood_weights`, signal at S ≥ limit. An odds ratio above 1 watches for a
/// rise (the sum rises on events), below 1 for a fall (it rises on non-events).
/// # Range
/// As `log_likelihood_weights`; `limit` above 0, in logarithms.
/// # Ends
/// As `log_likelihood_weights`.
/// # Source
/// Steiner, Cook, Farewell, Treasure 2000, Biostatistics 1:441. Common limits: 3.5 (Neuburger 2017, BMJ Qual Saf),
/// 4.5 up and 4.0 down (Steiner 2000). A limit means nothing without its run length: ask `two_step_run_length`.
/// # Check
/// A path of 28 observations value by value; 24 mean run lengths.
/// # Example
/// ```
/// use stats::{Probability, sequential::log_likelihood_cusum};
/// let chart = log_likelihood_cusum(Probability::new(0.03)?, 2.0, 3.5)?;
/// // One event adds ln(2 / 1.03).
/// assert!((chart.path(&[true])[0] - (2.0f64 / 1.03).ln()).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn log_likelihood_cusum(
    base_rate: Probability,
    odds_ratio: f64,
    limit: f64,
) -> Result<TwoStepCusum, StatsError> {
    let (event, non_event) = log_likelihood_weights(base_rate, odds_ratio)?;
    finite("limit of the chart", limit)?;
    if odds_ratio > 1.0 {
        TwoStepCusum::new(event, -non_event, limit, RisesOn::Event)
    } else {
        TwoStepCusum::new(non_event, -event, limit, RisesOn::NonEvent)
    }
}
