//! One person's rate after what was seen, starting from how the unit's people vary.

use crate::dist::{beta_cdf, beta_quantile, beta_sf, beta_upper_quantile};
use crate::error::{StatsError, positive, strictly_between};
use crate::value::{ConfidenceLevel, Interval, Probability, Proportion};

/// How the true rates of people vary: a beta distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetaPrior {
    alpha: f64,
    beta: f64,
}

impl BetaPrior {
    /// Both shapes above 0 and finite.
    pub fn new(alpha: f64, beta: f64) -> Result<Self, StatsError> {
        Ok(Self { alpha: positive("alpha", alpha)?, beta: positive("beta", beta)? })
    }

    /// The first shape: behaves like so many events already seen.
    pub fn alpha(self) -> f64 {
        self.alpha
    }

    /// The second shape: behaves like so many non-events already seen.
    pub fn beta(self) -> f64 {
        self.beta
    }

    /// The mean rate.
    pub fn mean(self) -> f64 {
        self.alpha / (self.alpha + self.beta)
    }

    /// How many trials the prior weighs as much as.
    pub fn weight(self) -> f64 {
        self.alpha + self.beta
    }

    /// One person's rate given what was seen of them: their own proportion, pulled towards the unit the more
    /// the fewer trials they have.
    ///
    /// # Formula
    ///
    /// Beta(α + x, β + n − x); its mean is (α + x)/(α + β + n).
    ///
    /// # Range
    ///
    /// α and β above 0; x events of n trials.
    ///
    /// # Ends
    ///
    /// 0 of n gives a mean above 0: a small n proves little.
    ///
    /// # Source
    ///
    /// Gelman and others, Bayesian Data Analysis, section 2.4.
    ///
    /// # Check
    ///
    /// Rat tumours (Tarone 1982; Bayesian Data Analysis, Table 5.1): prior (1.4, 8.6), 4 of 14 gives mean
    /// .225, sd .083516.
    ///
    /// # Example
    ///
    /// ```
    /// use stats::{Proportion, people::BetaPrior};
    /// // (1.4 + 4) / (10 + 14).
    /// let posterior = BetaPrior::new(1.4, 8.6)?.after(Proportion::new(4, 14)?);
    /// assert!((posterior.mean() - 0.225).abs() < 1e-15);
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn after(self, seen: Proportion) -> BetaPosterior {
        let (x, n) = seen.as_f64();
        BetaPosterior { alpha: self.alpha + x, beta: self.beta + (n - x) }
    }
}

/// What is believed of one person's rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetaPosterior {
    alpha: f64,
    beta: f64,
}

impl BetaPosterior {
    /// The mean: the estimate to print.
    pub fn mean(self) -> f64 {
        self.alpha / (self.alpha + self.beta)
    }

    /// The standard deviation.
    pub fn standard_deviation(self) -> f64 {
        let n = self.alpha + self.beta;
        (self.alpha / n * (self.beta / n) / (n + 1.0)).sqrt()
    }

    /// The range that holds the person's rate with this probability, as much left out on each side.
    ///
    /// # Formula
    ///
    /// The (1 − level)/2 and (1 + level)/2 points of the beta distribution.
    ///
    /// # Range
    ///
    /// Level strictly between 0 and 1; bounds are proportions strictly between 0 and 1.
    ///
    /// # Ends
    ///
    /// At 0 of n the lower bound is above 0, because the prior already holds a trace of events.
    ///
    /// # Source
    ///
    /// Gelman and others, Bayesian Data Analysis, section 2.3.
    ///
    /// # Check
    ///
    /// scipy `beta.ppf` on 200 random inputs.
    ///
    /// # Example
    ///
    /// ```
    /// use stats::{ConfidenceLevel, Proportion, people::BetaPrior};
    /// // Beta(1, 2) after 0 of 1 from a flat prior: P(rate ≤ r) = 1 − (1 − r)².
    /// let interval = BetaPrior::new(1.0, 1.0)?.after(Proportion::new(0, 1)?).credible_interval(ConfidenceLevel::default());
    /// assert!((interval.upper() - (1.0 - 0.025_f64.sqrt())).abs() < 1e-14);
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn credible_interval(self, level: ConfidenceLevel) -> Interval {
        let lower = beta_quantile(self.alpha, self.beta, level.tail());
        let upper = beta_upper_quantile(self.alpha, self.beta, level.tail());
        Interval::of(lower, upper.max(lower), level)
    }

    /// The probability that the person's true rate is above the target.
    ///
    /// # Formula
    ///
    /// P(X > t) for X beta distributed.
    ///
    /// # Range
    ///
    /// Target 0 to 1; a probability.
    ///
    /// # Ends
    ///
    /// Target 0 gives 1, target 1 gives 0.
    ///
    /// # Source
    ///
    /// Gelman and others, Bayesian Data Analysis, section 2.3.
    ///
    /// # Check
    ///
    /// scipy `beta.sf` on 200 random inputs.
    ///
    /// # Example
    ///
    /// ```
    /// use stats::{Probability, Proportion, people::BetaPrior};
    /// // After 0 of 1 from a flat prior: (1 − 0.1)² = 0.81.
    /// let posterior = BetaPrior::new(1.0, 1.0)?.after(Proportion::new(0, 1)?);
    /// assert!((posterior.probability_above(Probability::new(0.1)?).get() - 0.81).abs() < 1e-15);
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn probability_above(self, target: Probability) -> Probability {
        Probability::computed(beta_sf(self.alpha, self.beta, target.get()))
    }
}

/// The most further trials that are looked at.
const MOST_FURTHER: u64 = 100_000;

/// How many more trials it would take to know on which side of the target a person is, if they go on as
/// estimated.
///
/// # Formula
///
/// The smallest m for which Beta(α + x + mr, β + n − x + m(1 − r)) leaves at most 1 − C on one side of the
/// target, r being the mean now.
///
/// # Range
///
/// Target strictly between 0 and 1; C strictly between 0.5 and 1; m in trials.
///
/// # Ends
///
/// 0 when it is known already; `None` when 100,000 further trials would not settle it, as when the estimate
/// is at the target.
///
/// # Source
///
/// Common practice, no source: the posterior carried forward at its own mean.
///
/// # Check
///
/// The posterior at m and at m − 1 trials: known at m, not known before.
///
/// # Example
///
/// ```
/// use stats::{Probability, Proportion, people::{BetaPrior, trials_to_know}};
/// let (flat, seen) = (BetaPrior::new(1.0, 1.0)?, Proportion::new(0, 1)?);
/// let more = |target| trials_to_know(flat, seen, Probability::new(target)?, Probability::new(0.9)?);
/// // P(rate > 0.9) = 0.1² = 0.01 already; at the mean of 1/3 no number of trials tells above from below.
/// assert_eq!(more(0.9)?, Some(0));
/// assert_eq!(more(1.0 / 3.0)?, None);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn trials_to_know(
    prior: BetaPrior,
    seen: Proportion,
    target: Probability,
    certainty: Probability,
) -> Result<Option<u64>, StatsError> {
    let target = target.interior("target")?;
    let certainty = strictly_between("certainty", certainty.get(), 0.5, 1.0)?;
    let now = prior.after(seen);
    let rate = now.mean();
    let known = |further: u64| {
        let m = further as f64;
        let (alpha, beta) = (now.alpha + m * rate, now.beta + m * (1.0 - rate));
        let left = if rate > target { beta_cdf(alpha, beta, target) } else { beta_sf(alpha, beta, target) };
        left <= 1.0 - certainty
    };
    if known(0) {
        return Ok(Some(0));
    }
    if !known(MOST_FURTHER) {
        return Ok(None);
    }
    let (mut not_yet, mut yes) = (0, MOST_FURTHER);
    while yes - not_yet > 1 {
        let middle = not_yet + (yes - not_yet) / 2;
        if known(middle) {
            yes = middle;
        } else {
            not_yet = middle;
        }
    }
    Ok(Some(yes))
}
