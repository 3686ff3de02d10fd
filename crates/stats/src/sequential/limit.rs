//! The inverse of a run length: the limit for a wanted false-alarm rate.

use crate::dist::root_between;
use crate::error::{StatsError, strictly_between};
use crate::sequential::normal::NormalCusum;
use crate::sequential::normal_run_length::{Sides, normal_mean_run_length};
use crate::sequential::two_step::{TwoStepCusum, two_step_mean_run_length, two_step_signal_within};
use crate::value::Probability;

/// The longest mean run length that may be asked for.
const LONGEST: f64 = 1e9;

/// The smallest limit at which a two-step chart runs `mean` observations or more on average.
///
/// The mean is a step function of the limit, so the wanted value is met or passed, rarely hit: the answer carries
/// the chart and what it really does.
///
/// # Formula
/// The smallest h with `two_step_mean_run_length` ≥ mean, by halving to a relative 1e-12; a whole number when both
/// weights are whole.
/// # Range
/// `mean` above 1 to 1e9 observations; `event_rate` 0 to 1. The limit of the chart given is not used.
/// # Ends
/// A rate at which the chart cannot rise: an error. A mean the first rise already gives: that rise.
/// # Source
/// Definition; run length as `two_step_mean_run_length`.
/// # Check
/// Inverts it: the limit found runs at least so long, one just below does not.
/// # Example
/// ```
/// use stats::{Probability, sequential::{lattice_cusum, two_step_limit_for_mean}};
/// // Limit 4 runs 27.24 on average (hand case), limit 3 less than 20.
/// let (chart, mean) = two_step_limit_for_mean(lattice_cusum(3, 1)?, Probability::new(0.2)?, 20.0)?;
/// assert_eq!(chart.limit(), 4.0);
/// assert!((mean - 27.241379).abs() < 1e-6);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn two_step_limit_for_mean(
    chart: TwoStepCusum,
    event_rate: Probability,
    mean: f64,
) -> Result<(TwoStepCusum, f64), StatsError> {
    let wanted = strictly_between("wanted mean run length", mean, 1.0, LONGEST)?;
    smallest_limit(chart, |chart| {
        let mean = two_step_mean_run_length(chart, event_rate)?.ok_or(StatsError::DoesNotApply {
            what: "a limit for a mean run length",
            because: "the chart cannot signal at that rate",
        })?;
        Ok((mean, mean >= wanted))
    })
}

/// The smallest limit at which a two-step chart signals within `n` observations with at most chance `alarm`.
///
/// # Formula
/// The smallest h with `two_step_signal_within`(n) ≤ alarm, by halving as in `two_step_limit_for_mean`.
/// # Range
/// `alarm` strictly between 0 and 1; `n` 1 to 100,000 observations; `event_rate` 0 to 1.
/// # Ends
/// n = 0 or a rate at which the chart cannot rise: an error, any limit would do.
/// # Source
/// Definition; chance as `two_step_signal_within`.
/// # Check
/// Inverts it, as `two_step_limit_for_mean`.
/// # Example
/// ```
/// use stats::{Probability, sequential::{lattice_cusum, two_step_limit_for_alarm_chance}};
/// // In 2 observations at rate 0.2 a sum of 4 needs two events: 0.04. A sum of 2 needs one: 0.36.
/// let p = Probability::new;
/// let (chart, alarm) = two_step_limit_for_alarm_chance(lattice_cusum(3, 1)?, p(0.2)?, 2, p(0.05)?)?;
/// assert_eq!(chart.limit(), 3.0);
/// assert!((alarm - 0.04).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn two_step_limit_for_alarm_chance(
    chart: TwoStepCusum,
    event_rate: Probability,
    n: u64,
    alarm: Probability,
) -> Result<(TwoStepCusum, f64), StatsError> {
    let wanted = alarm.interior("wanted chance of an alarm")?;
    let at_least_one =
        two_step_signal_within(chart.with_head_start(0.0)?.with_limit(chart.rise())?, event_rate, n)?;
    if at_least_one.get() == 0.0 {
        return Err(StatsError::DoesNotApply {
            what: "a limit for a chance of an alarm",
            because: "the chart cannot signal at that rate in that many observations",
        });
    }
    smallest_limit(chart, |chart| {
        let chance = two_step_signal_within(chart, event_rate, n)?.get();
        Ok((chance, chance <= wanted))
    })
}

/// The smallest limit whose figure is good enough, with that figure. Good enough must stay so as the limit grows.
fn smallest_limit(
    chart: TwoStepCusum,
    figure: impl Fn(TwoStepCusum) -> Result<(f64, bool), StatsError>,
) -> Result<(TwoStepCusum, f64), StatsError> {
    let whole =
        chart.rise().fract() == 0.0 && chart.fall().fract() == 0.0 && chart.head_start().fract() == 0.0;
    let lowest = if chart.head_start() > 0.0 { chart.head_start() } else { 0.0 };
    // Every limit up to here signals at the first rise.
    let mut high = if whole { lowest + 1.0 } else { lowest + chart.rise() };
    let mut low = lowest;
    let mut found = figure(chart.with_limit(high)?)?;
    if found.1 && !whole {
        return Ok((chart.with_limit(high)?, found.0));
    }
    while !found.1 {
        low = high;
        high = lowest + 2.0 * (high - lowest);
        found = figure(chart.with_limit(high)?)?;
    }
    loop {
        let middle = if whole { libm::floor(0.5 * (low + high)) } else { 0.5 * (low + high) };
        if middle <= low || middle >= high || (!whole && high - low <= 1e-12 * high) {
            return Ok((chart.with_limit(high)?, found.0));
        }
        let there = figure(chart.with_limit(middle)?)?;
        if there.1 {
            (high, found) = (middle, there);
        } else {
            low = middle;
        }
    }
}

/// The limit at which a normal CUSUM runs `mean` measurements on average on target.
///
/// # Formula
/// The root h of `normal_mean_run_length`(h) = mean at shift 0, by Brent's method to the last digits.
/// # Range
/// `allowance` 0 to 10 standard deviations; `mean` above the mean of a limit near 0, up to 1e9; answer up to 50.
/// # Ends
/// A mean that a limit near 0 already exceeds, or that needs a limit above 50: an error. No head start.
/// # Source
/// Definition; run length as `normal_mean_run_length`.
/// # Check
/// k 0.5, 930.887 one-sided gives 5; two-sided h = 4.77 runs 368.56; the R package spc (xcusum.crit) on
/// 220 random means, 1e-7 (where its search stops).
/// # Example
/// ```
/// use stats::sequential::{normal_cusum_limit, Sides};
/// let chart = normal_cusum_limit(0.5, 465.444, Sides::Two)?;
/// assert!((chart.limit() - 5.0).abs() < 1e-5);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn normal_cusum_limit(allowance: f64, mean: f64, sides: Sides) -> Result<NormalCusum, StatsError> {
    let wanted = strictly_between("wanted mean run length", mean, 1.0, LONGEST)?;
    // Logarithm of how many times too long the chart runs; a mean beyond the largest double is too long.
    let excess = |limit: f64| -> Result<f64, StatsError> {
        match normal_mean_run_length(NormalCusum::new(allowance, limit)?, 0.0, sides) {
            Ok(mean) => Ok(libm::log(mean / wanted)),
            Err(StatsError::NotFinite { .. }) => Ok(1e3),
            Err(other) => Err(other),
        }
    };
    let (mut low, mut high) = (1e-9, 1.0);
    if excess(low)? >= 0.0 {
        return Err(StatsError::DoesNotApply {
            what: "a limit for a mean run length",
            because: "a limit of 0 already runs longer than that",
        });
    }
    while excess(high)? < 0.0 {
        low = high;
        if high >= NormalCusum::LARGEST_LIMIT {
            return Err(StatsError::NoAnswer {
                what: "limit for a mean run length",
                most: NormalCusum::LARGEST_LIMIT as u64,
            });
        }
        high = (2.0 * high).min(NormalCusum::LARGEST_LIMIT);
    }
    // Between two limits that could be computed nothing fails; should it, it counts as no excess and is met again below.
    let limit = root_between(low, high, |limit| excess(limit).unwrap_or(0.0));
    excess(limit)?;
    NormalCusum::new(allowance, limit)
}
