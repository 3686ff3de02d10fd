//! How many will have come by then, and when the n-th comes.

use crate::arrivals::shrinkage::GammaRate;
use crate::dist::{beta_cdf, beta_quantile, beta_sf, beta_upper_quantile};
use crate::error::{StatsError, finite, positive};
use crate::value::{ConfidenceLevel, Interval, Probability};

/// The share of a rate that reaches one person, as a rate.
///
/// # Formula
/// Each event is kept with chance c, independently: gamma of the same shape and exposure/c, mean c times as large.
/// # Range
/// `share` above 0 to 1.
/// # Ends
/// Share 1: the rate itself. Share 0: an error, nothing ever arrives.
/// # Source
/// Kingman 1993, Poisson Processes, sec. 5.1 (colouring theorem; from memory).
/// # Check
/// The chances are those of the whole rate over a share of the exposure (property test).
/// # Example
/// ```
/// use stats::{Probability, arrivals::{GammaRate, thin_rate}};
/// // 12 draws in 60 hours, one in four offered to this learner: 3 in 60.
/// let rate = thin_rate(GammaRate::new(12.0, 60.0)?, Probability::new(0.25)?)?;
/// assert_eq!((rate.shape(), rate.mean()), (12.0, 0.05));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn thin_rate(rate: GammaRate, share: Probability) -> Result<GammaRate, StatsError> {
    let share = positive("share", share.get())?;
    GammaRate::new(rate.shape(), rate.exposure() / share)
}

/// Chance that at least `n` events come in an exposure, when the rate is known only so well.
///
/// # Formula
/// The count is negative binomial: P(N ≥ n) = I_x(n, a), x = t/(b + t), for a rate of shape a and exposure b.
/// # Range
/// `n` up to 1e12; `exposure` t 0 or more, in the unit of the rate; answer 0 to 1.
/// # Ends
/// n = 0: 1. Exposure 0: 0 for n above 0.
/// # Source
/// Greenwood and Yule 1920, J R Stat Soc 83:255 (from memory); tail as Abramowitz and Stegun 26.5.26.
/// # Check
/// scipy's negative binomial on 220 random rates, relative 1e-11.
/// # Example
/// ```
/// use stats::arrivals::{GammaRate, chance_of_at_least};
/// // Shape 1, exposure 1: the chance of none in an exposure of 1 is 1/2, of at least two 1/4.
/// let rate = GammaRate::new(1.0, 1.0)?;
/// assert!((chance_of_at_least(rate, 2, 1.0)?.get() - 0.25).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn chance_of_at_least(rate: GammaRate, n: u64, exposure: f64) -> Result<Probability, StatsError> {
    let exposure = not_negative(exposure)?;
    not_too_many(n)?;
    if n == 0 {
        return Probability::new(1.0);
    }
    let (n, a) = (n as f64, rate.shape());
    let total = rate.exposure() + exposure;
    let share = finite("exposure", exposure / total)?;
    // A share next to 1 has lost what tells it from 1; the rest has not.
    let chance = if share < 0.5 { beta_cdf(n, a, share) } else { beta_sf(a, n, rate.exposure() / total) };
    Probability::new(chance.clamp(0.0, 1.0))
}

/// Chance that at least `n` events come in all from several rates, each over its own exposure.
///
/// # Formula
/// The counts are negative binomial and independent; their chances below n are convolved, and P(N ≥ n) = 1 − P(N < n).
/// # Range
/// `parts`: rate and exposure (0 or more) of each; `n` 0 to 10,000. Absolute precision about 1e-13.
/// # Ends
/// No parts, or exposure 0 throughout: 0 for n above 0. The rates are taken as independent: give one rate once, with its
/// whole exposure.
/// # Source
/// Definition of the sum; each part as `chance_of_at_least`.
/// # Check
/// One part equals `chance_of_at_least`; two parts of one exposure b equal one part of summed shape; numpy
/// convolution of scipy's chances, 1e-11.
/// # Example
/// ```
/// use stats::arrivals::{GammaRate, chance_of_at_least_across};
/// // Two parts, each none with chance 1/2: none in all with chance 1/4.
/// let rate = GammaRate::new(1.0, 1.0)?;
/// let chance = chance_of_at_least_across(&[(rate, 1.0), (rate, 1.0)], 1)?;
/// assert!((chance.get() - 0.75).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn chance_of_at_least_across(parts: &[(GammaRate, f64)], n: u64) -> Result<Probability, StatsError> {
    const MOST: u64 = 10_000;
    if n > MOST {
        return Err(StatsError::CountTooLarge { what: "wanted events", value: n, most: MOST });
    }
    let n = n as usize;
    let mut below = vec![0.0; n];
    if let Some(none) = below.first_mut() {
        *none = 1.0;
    }
    for &(rate, exposure) in parts {
        let exposure = not_negative(exposure)?;
        if exposure == 0.0 {
            continue;
        }
        let part = count_chances(rate, exposure, n);
        // From the top down, so each place still holds what it held before this part.
        for total in (0..n).rev() {
            below[total] = (0..=total).map(|k| below[total - k] * part[k]).sum();
        }
    }
    Probability::new((1.0 - below.iter().sum::<f64>()).clamp(0.0, 1.0))
}

/// P(N = k) for k below `n`, in logarithms on the way so that a large mean does not underflow at the start.
fn count_chances(rate: GammaRate, exposure: f64, n: usize) -> Vec<f64> {
    let (a, b) = (rate.shape(), rate.exposure());
    let ln_share = -libm::log1p(b / exposure);
    let mut ln_chance = -a * libm::log1p(exposure / b);
    (0..n)
        .map(|k| {
            let chance = libm::exp(ln_chance);
            ln_chance += libm::log((a + k as f64) / (k as f64 + 1.0)) + ln_share;
            chance
        })
        .collect()
}

/// The exposure within which the `n`-th event has come with at least this chance.
///
/// # Formula
/// t = b·x/(1 − x), x the quantile of a beta distribution (n, a) at the chance, for a rate of shape a and exposure b.
/// # Range
/// `n` 1 to 1e12; `chance` 0 to below 1; answer in the unit of the rate.
/// # Ends
/// Chance 0: 0. Chance 1: an error, no exposure is certain. An answer beyond the largest double: an error.
/// # Source
/// Inverse of `chance_of_at_least`.
/// # Check
/// Inverts it (property test); scipy's beta prime distribution, 1e-11.
/// # Example
/// ```
/// use stats::{Probability, arrivals::{GammaRate, time_to_nth}};
/// // Shape 1, exposure 1: none in t has chance 1/(1 + t), so the first has come by t = 1 with chance 1/2.
/// let rate = GammaRate::new(1.0, 1.0)?;
/// assert!((time_to_nth(rate, 1, Probability::new(0.5)?)? - 1.0).abs() < 1e-14);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn time_to_nth(rate: GammaRate, n: u64, chance: Probability) -> Result<f64, StatsError> {
    if n == 0 {
        return Err(StatsError::TooFew { what: "events", found: 0, needed: 1 });
    }
    not_too_many(n)?;
    if chance.get() >= 1.0 {
        return Err(StatsError::NotStrictlyBetween {
            what: "chance",
            value: chance.get(),
            low: 0.0,
            high: 1.0,
        });
    }
    let (n, a) = (n as f64, rate.shape());
    let x = beta_quantile(n, a, chance.get());
    // 1 − x on its own keeps its digits when x is close to 1.
    let rest = beta_upper_quantile(a, n, chance.get());
    finite("time to that event", rate.exposure() * x / rest)
}

/// How many events to expect in an exposure, with the interval a single count will fall into.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Mean count.
    pub mean: f64,
    /// The smallest counts that leave no more than each tail outside: an interval for one count, not for the mean.
    pub interval: Interval,
}

/// How many events to expect in an exposure.
///
/// # Formula
/// Mean a·t/b. Interval: the smallest k with P(N ≤ k) ≥ tail, and the smallest with P(N ≤ k) ≥ 1 − tail.
/// # Range
/// `exposure` 0 or more in the unit of the rate, mean up to 1e9; bounds are whole counts.
/// # Ends
/// Exposure 0: 0, from 0 to 0.
/// # Source
/// As `chance_of_at_least`.
/// # Check
/// scipy's negative binomial quantiles on 220 random rates, exactly.
/// # Example
/// ```
/// use stats::{ConfidenceLevel, arrivals::{GammaRate, forecast_count}};
/// // Shape 1, exposure 1, t = 1: P(N ≤ k) = 1 − 2^−(k+1); 0.025 is passed at 0, 0.975 at 5 (63/64).
/// let forecast = forecast_count(GammaRate::new(1.0, 1.0)?, 1.0, ConfidenceLevel::default())?;
/// assert_eq!((forecast.mean, forecast.interval.lower(), forecast.interval.upper()), (1.0, 0.0, 5.0));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn forecast_count(
    rate: GammaRate,
    exposure: f64,
    level: ConfidenceLevel,
) -> Result<Forecast, StatsError> {
    let exposure = not_negative(exposure)?;
    let mean = finite("mean count", rate.mean() * exposure)?;
    if mean > 1e9 {
        return Err(StatsError::NotWithin { what: "mean count", value: mean, low: 0.0, high: 1e9 });
    }
    // The smallest k whose upper tail P(N > k) is no more than `above`, by doubling and halving. The slack is for
    // chances that meet the level exactly.
    let smallest = |above: f64| -> Result<f64, StatsError> {
        let met = |k: u64| Ok(chance_of_at_least(rate, k + 1, exposure)?.get() <= above * (1.0 + 1e-13));
        let (mut low, mut high) = (0u64, 1u64);
        if met(0)? {
            return Ok(0.0);
        }
        while !met(high)? {
            if high >= 1 << 39 {
                return Err(StatsError::NoAnswer { what: "forecast count", most: 1 << 39 });
            }
            (low, high) = (high, 2 * high);
        }
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if met(middle)? {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok(high as f64)
    };
    let (lower, upper) = (smallest(1.0 - level.tail())?, smallest(level.tail())?);
    Ok(Forecast { mean, interval: Interval::new(lower, upper, level)? })
}

/// Refuses counts so large that their chances could not be worked out in reasonable time.
fn not_too_many(n: u64) -> Result<(), StatsError> {
    const MOST: u64 = 1_000_000_000_000;
    if n > MOST { Err(StatsError::CountTooLarge { what: "events", value: n, most: MOST }) } else { Ok(()) }
}

fn not_negative(exposure: f64) -> Result<f64, StatsError> {
    crate::error::within("exposure", exposure, 0.0, f64::MAX)
}
