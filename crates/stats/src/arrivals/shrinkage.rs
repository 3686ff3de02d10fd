//! The rates of strata, each drawn towards all of them.

use crate::dist::{gamma_quantile, gamma_upper_quantile, ln_gamma, root_between};
use crate::error::{StatsError, positive, within};
use crate::value::{ConfidenceLevel, Interval};

/// The largest count of one stratum: with it every shape stays in range.
const LARGEST_STRATUM: u64 = 1_000_000_000;

/// What one stratum has shown: a count and what it was counted over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stratum {
    count: u64,
    exposure: f64,
}

impl Stratum {
    /// Refuses an exposure that is not above 0 and finite, and a count above 1,000,000,000.
    ///
    /// ```
    /// use stats::arrivals::Stratum;
    /// assert_eq!(Stratum::new(5, 94.3)?.exposure(), 94.3);
    /// assert_eq!(Stratum::new(5, 0.0).unwrap_err().to_string(), "exposure 0 is not above 0");
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn new(count: u64, exposure: f64) -> Result<Self, StatsError> {
        if count > LARGEST_STRATUM {
            return Err(StatsError::CountTooLarge { what: "count", value: count, most: LARGEST_STRATUM });
        }
        Ok(Self { count, exposure: positive("exposure", exposure)? })
    }

    /// How many events were seen.
    pub fn count(self) -> u64 {
        self.count
    }

    /// What they were counted over, in the unit the caller chose (hours, shifts), above 0.
    pub fn exposure(self) -> f64 {
        self.exposure
    }
}

/// The largest shape taken: the rate is then known to one part in a million.
pub(crate) const LARGEST_SHAPE: f64 = 1e12;

/// What is known of a rate: a gamma distribution, as if `shape` events had been seen in an exposure of `exposure`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GammaRate {
    shape: f64,
    exposure: f64,
}

impl GammaRate {
    /// Shape (events, above 0 to 1e12) and exposure (above 0) of the distribution; the mean is their quotient.
    ///
    /// ```
    /// use stats::arrivals::GammaRate;
    /// assert_eq!(GammaRate::new(3.0, 60.0)?.mean(), 0.05);
    /// assert!(GammaRate::new(0.0, 60.0).is_err());
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn new(shape: f64, exposure: f64) -> Result<Self, StatsError> {
        let (shape, exposure) = (positive("shape", shape)?, positive("exposure", exposure)?);
        within("shape", shape, 0.0, LARGEST_SHAPE)?;
        positive("rate", shape / exposure)?;
        Ok(Self { shape, exposure })
    }

    /// The shape: how many events the knowledge is worth.
    pub fn shape(self) -> f64 {
        self.shape
    }

    /// The exposure the knowledge is worth.
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// The mean rate, events per unit of exposure.
    pub fn mean(self) -> f64 {
        self.shape / self.exposure
    }

    /// The interval that leaves equal tails.
    pub fn interval(self, level: ConfidenceLevel) -> Interval {
        let lower = gamma_quantile(self.shape, level.tail()) / self.exposure;
        let upper = gamma_upper_quantile(self.shape, level.tail()) / self.exposure;
        // A rate near the largest double has its upper bound there.
        Interval::of(lower.min(upper), upper.max(lower).min(f64::MAX), level)
    }
}

/// How the true rates of strata differ from one another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RateSpread {
    /// They follow a gamma distribution.
    Differ(GammaRate),
    /// The counts differ no more than chance alone would make them: one rate for all, known as well as all the
    /// counts together tell (Jeffreys: half an event more than were seen).
    Alike(GammaRate),
}

/// How the rates of strata differ, by maximum likelihood from their counts.
///
/// # Formula
/// Counts x_i over exposures t_i are negative binomial given a gamma of shape α and exposure β; maximise Σ [ln Γ(α + x) −
/// ln Γ(α) + α ln(β/(β + t)) − x ln(β + t)]. For each α, β solves Σ (α t − x β)/(β + t) = 0; α by bracketing the profile
/// score. Without a maximum below 100·(1 + largest count): `Alike` with shape Σx + ½, exposure Σt.
/// # Range
/// At least 1 stratum; rates per unit of exposure.
/// # Ends
/// No stratum: an error. One stratum, or no event anywhere: `Alike`.
/// # Source
/// Gaver and O'Muircheartaigh 1987, Technometrics 29:1 (model, from memory); Jeffreys shape ½: Brown, Cai, DasGupta
/// 2003, Stat Sinica 13:19.
/// # Check
/// Root of both scores by scipy on 220 random sets, 1e-8; no step from the maximum is likelier (pump failures).
/// # Example
/// ```
/// use stats::arrivals::{RateSpread, Stratum, fit_rate_spread};
/// // The same count everywhere is less spread than chance: 9 events and a half over 30.
/// let strata = [Stratum::new(3, 10.0)?; 3];
/// let RateSpread::Alike(rate) = fit_rate_spread(&strata)? else { panic!() };
/// assert_eq!((rate.shape(), rate.exposure()), (9.5, 30.0));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn fit_rate_spread(strata: &[Stratum]) -> Result<RateSpread, StatsError> {
    if strata.is_empty() {
        return Err(StatsError::TooFew { what: "strata", found: 0, needed: 1 });
    }
    let total: f64 = strata.iter().map(|stratum| stratum.count as f64).sum();
    let exposure: f64 = strata.iter().map(|stratum| stratum.exposure).sum();
    let alike = GammaRate::new(total + 0.5, exposure).map(RateSpread::Alike);
    if strata.len() < 2 || total == 0.0 {
        return alike;
    }
    let largest = strata.iter().map(|stratum| stratum.count as f64).fold(0.0, f64::max);
    let score = |ln_shape: f64| profile_score(strata, libm::exp(ln_shape));
    // The likelihood rises from shape 0 whenever anything was seen; its peaks lie where the score falls through 0.
    const N_PLACES: usize = 96;
    let (low, high) = (libm::log(1e-8), libm::log(100.0 * (1.0 + largest)));
    let place = |index: usize| low + (high - low) * index as f64 / N_PLACES as f64;
    let mut best: Option<(f64, GammaRate)> = None;
    let mut left = score(low);
    for index in 1..=N_PLACES {
        let right = score(place(index));
        if left > 0.0 && right <= 0.0 {
            let shape = libm::exp(root_between(place(index - 1), place(index), score));
            let spread = GammaRate::new(shape, best_exposure(strata, shape))?;
            let likelihood = log_likelihood(strata, spread);
            if best.is_none_or(|(other, _)| likelihood > other) {
                best = Some((likelihood, spread));
            }
        }
        left = right;
    }
    match best {
        // A peak lower than the flat end is not the maximum.
        Some((likelihood, spread)) if left <= 0.0 || likelihood > alike_log_likelihood(total, exposure) => {
            Ok(RateSpread::Differ(spread))
        }
        _ => alike,
    }
}

/// The exposure β that goes best with a shape: its equation falls all the way, so there is one.
fn best_exposure(strata: &[Stratum], shape: f64) -> f64 {
    let total: f64 = strata.iter().map(|s| s.count as f64).sum();
    let exposure: f64 = strata.iter().map(|s| s.exposure).sum();
    let equation = |ln_exposure: f64| -> f64 {
        let beta = libm::exp(ln_exposure);
        strata.iter().map(|s| (shape * s.exposure - s.count as f64 * beta) / (beta + s.exposure)).sum()
    };
    // Around the exposure that would give the crude rate.
    let middle = libm::log(shape * exposure / total);
    let (mut low, mut high) = (middle - 1.0, middle + 1.0);
    while equation(low) < 0.0 && low > -700.0 {
        low -= 2.0 * (high - low);
    }
    while equation(high) > 0.0 && high < 700.0 {
        high += 2.0 * (high - low);
    }
    libm::exp(root_between(low, high, equation))
}

/// Slope of the log-likelihood in the shape, with the exposure at its best.
fn profile_score(strata: &[Stratum], shape: f64) -> f64 {
    let beta = best_exposure(strata, shape);
    strata.iter().map(|s| digamma_rise(shape, s.count) - libm::log1p(s.exposure / beta)).sum()
}

/// ψ(a + n) − ψ(a): the sum of 1/(a + j), or the asymptotic series (Abramowitz and Stegun 6.3.18) where that is long.
fn digamma_rise(a: f64, n: u64) -> f64 {
    const SUMMED: u64 = 512;
    let summed: f64 = (0..n.min(SUMMED)).map(|j| 1.0 / (a + j as f64)).sum();
    if n <= SUMMED {
        return summed;
    }
    let (from, to) = (a + SUMMED as f64, a + n as f64);
    let rest = |x: f64| -0.5 / x - 1.0 / (12.0 * x * x) + 1.0 / (120.0 * x.powi(4));
    summed + libm::log(to / from) + rest(to) - rest(from)
}

fn log_likelihood(strata: &[Stratum], spread: GammaRate) -> f64 {
    let GammaRate { shape, exposure } = spread;
    strata
        .iter()
        .map(|s| {
            let x = s.count as f64;
            ln_gamma(shape + x)
                - ln_gamma(shape)
                - shape * libm::log1p(s.exposure / exposure)
                - x * libm::log(exposure + s.exposure)
        })
        .sum()
}

/// The same likelihood when every rate is the crude one: Σ x ln μ − μ Σ t.
fn alike_log_likelihood(total: f64, exposure: f64) -> f64 {
    total * libm::log(total / exposure) - total
}

/// The rate of every stratum, drawn towards all of them.
///
/// # Formula
/// With spread α, β: gamma of shape α + x and exposure β + t, mean (α + x)/(β + t), between the stratum's own x/t and
/// α/β. The shape is kept to Σx + ½ with the same mean: what is known of one stratum is never worth more events than
/// all strata have shown. Where the strata are alike, the common rate for each.
/// # Range
/// In the order of the strata, rates per unit of exposure.
/// # Ends
/// As `fit_rate_spread`. A stratum without events still has a rate above 0.
/// # Source
/// Robbins 1956 (empirical Bayes, from memory); Gaver and O'Muircheartaigh 1987, Technometrics 29:1. The cap on
/// the shape is this room's own caution. What is not known of α and β is left out, so intervals are a little short with
/// few strata (Morris 1983, J Am Stat Assoc 78:47).
/// # Check
/// Between own and common rate (property test); with `fit_rate_spread` against scipy.
/// # Example
/// ```
/// use stats::arrivals::{Stratum, shrink_rates};
/// let strata = [Stratum::new(0, 1.0)?, Stratum::new(40, 10.0)?, Stratum::new(2, 10.0)?];
/// let rates = shrink_rates(&strata)?;
/// assert!(rates[0].mean() > 0.0 && rates[1].mean() < 4.0 && rates[2].mean() > 0.2);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn shrink_rates(strata: &[Stratum]) -> Result<Vec<GammaRate>, StatsError> {
    match fit_rate_spread(strata)? {
        RateSpread::Alike(rate) => Ok(vec![rate; strata.len()]),
        RateSpread::Differ(spread) => {
            let most = strata.iter().map(|s| s.count as f64).sum::<f64>() + 0.5;
            strata
                .iter()
                .map(|s| {
                    let shape = spread.shape + s.count as f64;
                    let exposure = spread.exposure + s.exposure;
                    // Less shape at the same mean: wider, about the same place.
                    let kept = shape.min(most);
                    GammaRate::new(kept, exposure * (kept / shape))
                })
                .collect()
        }
    }
}
