//! After release, and at signing: what a person's observed draws say of their fault rate, a chart that watches it, and
//! what they thought of themselves beside it. All of it is for that person and their trainer only.

use stats::people::BetaPrior;
use stats::proportion::wilson;
use stats::sequential::{log_likelihood_cusum, two_step_limit_for_mean, two_step_mean_run_length};
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
/// The published Jeffreys interval of 81 in 263.
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
pub fn fault_watch(outcomes: &[bool], design: &FaultWatchDesign) -> Result<FaultWatch, StatsError> {
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
    Ok(FaultWatch {
        path: chart.path(outcomes),
        limit: chart.limit(),
        first_signal: chart.first_signal(outcomes),
        draws_to_false_alarm,
        draws_to_notice,
    })
}

/// How a learner's own confidence stands beside what was observed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Confidence {
    /// They expect more clean draws than the observed ones allow.
    Over,
    /// They expect fewer.
    Under,
    /// The observed draws allow what they expect.
    CannotTell,
}

/// A learner's own confidence beside their observed draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConfidenceBeside {
    /// Share of their next draws that they expect to be clean, as they said before release.
    pub stated: Probability,
    /// Clean draws of those observed.
    pub clean: Proportion,
    /// Stated less observed share, with the interval that the observed share's gives it.
    pub difference: f64,
    /// From the lower to the upper end.
    pub interval: (f64, f64),
    /// What can be said.
    pub says: Confidence,
}

/// A learner's stated confidence, less the share of their observed draws that were clean.
///
/// # Formula
/// Stated − x / n; the interval is stated less the ends of Wilson's interval of x / n. What was stated is taken as it was
/// said, without an error of its own.
/// # Range
/// Stated 0 to 1; difference −1 to 1.
/// # Ends
/// Ten clean of ten allow any confidence from 72 % up: nobody is called over-confident on a perfect record.
/// # Source
/// E. B. Wilson, Journal of the American Statistical Association 22, 1927, 209.
/// # Check
/// Wilson's published interval of 81 in 263.
pub fn confidence_beside(stated: Probability, clean: Proportion, level: ConfidenceLevel) -> ConfidenceBeside {
    let share = wilson(clean, level);
    let interval = (stated.get() - share.upper(), stated.get() - share.lower());
    let says = if interval.0 > 0.0 {
        Confidence::Over
    } else if interval.1 < 0.0 {
        Confidence::Under
    } else {
        Confidence::CannotTell
    };
    ConfidenceBeside { stated, clean, difference: stated.get() - clean.estimate(), interval, says }
}
