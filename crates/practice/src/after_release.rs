//! After release, and at signing: what a person's observed draws say of their fault rate, and a chart that watches it. All
//! of it is for that person and their trainer only.

use stats::people::BetaPrior;
use stats::sequential::{
    TwoStepCusum, log_likelihood_cusum, two_step_limit_for_mean, two_step_mean_run_length,
};
use stats::{ConfidenceLevel, Interval, Probability, Proportion, StatsError};

/// What the draws seen so far say of a person's fault rate: the chance on each draw that a safety point is missed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultRate {
    /// Draws with a missed safety point, of the draws that count.
    pub seen: Proportion,
    /// Mean of what is believed after them.
    pub mean: f64,
    /// Where the rate lies with the stated chance.
    pub interval: Interval,
    /// Chance that the rate is above the target.
    pub above_target: Probability,
    /// The target asked about.
    pub target: Probability,
}

/// The fault rate after the draws seen, with nothing assumed before but Jeffreys' prior.
///
/// # Formula
/// Beta(x + 1/2, n − x + 1/2) after x faults in n draws; equal-tailed interval.
/// # Range
/// At least one draw.
/// # Ends
/// No fault in n: the interval still reaches above 0; n = 1 tells little, and its width says so.
/// # Source
/// H. Jeffreys, Theory of Probability, 3rd edition 1961; from memory.
/// # Check
/// The published Jeffreys interval of 81 in 263; scipy's `beta` at counts a trainer meets.
///
/// # Example
/// ```
/// use practice::fault_rate;
/// use stats::{ConfidenceLevel, Probability, Proportion};
///
/// // No fault in five draws: the mean of Beta(1/2, 5 1/2) is 1 in 12.
/// let seen = Proportion::new(0, 5)?;
/// let rate = fault_rate(seen, Probability::new(0.2)?, ConfidenceLevel::default())?;
/// assert!((rate.mean - 1.0 / 12.0).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn fault_rate(
    seen: Proportion,
    target: Probability,
    level: ConfidenceLevel,
) -> Result<FaultRate, StatsError> {
    let posterior = BetaPrior::new(0.5, 0.5)?.after(seen);
    Ok(FaultRate {
        seen,
        mean: posterior.mean(),
        interval: posterior.credible_interval(level),
        above_target: posterior.probability_above(target),
        target,
    })
}

/// How faults after release are watched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultWatchDesign {
    /// Fault rate of somebody who does well.
    pub acceptable: Probability,
    /// Fault rate at which the trainer wants to know; above the first.
    pub not_acceptable: Probability,
    /// Observed draws between false alarms, at least, in the mean.
    pub draws_between_false_alarms: f64,
}

impl FaultWatchDesign {
    /// One draw in fifty against one in five, a false alarm no more often than every 200 observed draws in the mean:
    /// common practice, no source.
    pub fn usual() -> Result<FaultWatchDesign, StatsError> {
        Ok(FaultWatchDesign {
            acceptable: Probability::new(0.02)?,
            not_acceptable: Probability::new(0.2)?,
            draws_between_false_alarms: 200.0,
        })
    }
}

/// A chart of one person's observed draws after release.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultWatch {
    /// Value after each draw, in logarithms of odds.
    pub path: Vec<f64>,
    /// Value from which the chart signals.
    pub limit: f64,
    /// Draw at which it first signalled, from 1.
    pub first_signal: Option<usize>,
    /// Mean number of draws to a signal while the person does well: false alarms are this far apart.
    pub draws_to_false_alarm: f64,
    /// Mean number of draws to a signal once they do not: the delay.
    pub draws_to_notice: f64,
}

/// A Bernoulli CUSUM on draws after release, in the order in which they happened: true where a safety point was missed.
///
/// # Formula
/// `stats::sequential::log_likelihood_cusum` with the odds of the two rates; the smallest limit whose mean run length at
/// the acceptable rate is long enough. Both run lengths are exact.
/// # Range
/// 0 < acceptable < not acceptable < 1; false alarms 1 to 1e9 draws apart.
/// # Ends
/// No draw: an empty path and no signal. The chart begins at 0.
/// # Source
/// S. H. Steiner, R. J. Cook, V. T. Farewell, T. Treasure, Biostatistics 1, 2000, 441.
/// # Check
/// A path by hand; the run lengths against simulation.
///
/// # Example
/// ```
/// use practice::{FaultWatchDesign, fault_watch};
///
/// // Two faults in a row are too many for somebody of whom one in fifty is expected.
/// let watch = fault_watch(&[false, true, true], &FaultWatchDesign::usual()?)?;
/// assert_eq!(watch.first_signal, Some(3));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn fault_watch(outcomes: &[bool], design: &FaultWatchDesign) -> Result<FaultWatch, StatsError> {
    Ok(FaultChart::new(design)?.watch(outcomes))
}

/// The chart of a design with its limit worked out once, for many people.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultChart {
    chart: TwoStepCusum,
    draws_to_false_alarm: f64,
    draws_to_notice: f64,
}

impl FaultChart {
    /// Works the limit out; see [`fault_watch`].
    pub fn new(design: &FaultWatchDesign) -> Result<FaultChart, StatsError> {
        let (good, bad) = (design.acceptable.get(), design.not_acceptable.get());
        if !(0.0 < good && good < bad && bad < 1.0) {
            return Err(StatsError::NotStrictlyBetween {
                what: "acceptable fault rate",
                value: good,
                low: 0.0,
                high: bad,
            });
        }
        let odds_ratio = bad / (1.0 - bad) * ((1.0 - good) / good);
        let any_limit = log_likelihood_cusum(design.acceptable, odds_ratio, 1.0)?;
        let (chart, draws_to_false_alarm) =
            two_step_limit_for_mean(any_limit, design.acceptable, design.draws_between_false_alarms)?;
        let draws_to_notice = two_step_mean_run_length(chart, design.not_acceptable)?.unwrap_or(f64::MAX);
        Ok(FaultChart { chart, draws_to_false_alarm, draws_to_notice })
    }

    /// One person's draws in the order in which they happened: true where a safety point was missed.
    pub fn watch(&self, outcomes: &[bool]) -> FaultWatch {
        FaultWatch {
            path: self.chart.path(outcomes),
            limit: self.chart.limit(),
            first_signal: self.chart.first_signal(outcomes),
            draws_to_false_alarm: self.draws_to_false_alarm,
            draws_to_notice: self.draws_to_notice,
        }
    }
}
