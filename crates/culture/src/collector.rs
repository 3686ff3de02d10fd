//! One person's figures: how far their contaminated sets can be told from chance.
//!
//! They are for that person and their trainer only. A bare percentage of a few sets says less than it seems to, so there
//! is none: an estimate drawn towards the unit's rate, with its interval and what it would take to know.

use std::collections::BTreeMap;

use stats::people::{
    Excess, FunnelMethod, benjamini_hochberg, beta_binomial_likelihood, funnel_limits, probability_as_high,
    trials_to_know,
};
use stats::{ConfidenceLevel, Interval, Probability, Proportion, StatsError};

use crate::tally::Tally;

/// How sure an estimate must be of its side of the target before it is called known.
pub const CERTAINTY: f64 = 0.95;

/// One person's contaminated sets among those of their unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CollectorFigures {
    /// Contaminated out of closed sets.
    pub seen: Proportion,
    /// The same of everybody whose collector is recorded.
    pub everyone: Proportion,
    /// How many people that is.
    pub people: u64,
    /// Estimate of the true rate, drawn towards everyone's rate.
    pub estimate: f64,
    /// 95 % credible interval of the estimate.
    pub interval: Interval,
    /// People differ by more than chance; otherwise everyone's estimate is the rate of all.
    pub people_differ: bool,
    /// The target the next figures refer to.
    pub target: f64,
    /// Probability that the true rate is above the target.
    pub above_target: f64,
    /// Funnel limits at everyone's rate for this many sets: 95 %, exact.
    pub funnel: Interval,
    /// Probability of so many contaminated sets or more at everyone's rate.
    pub as_high_by_chance: f64,
    /// The same, adjusted for looking at everybody (false discovery rate).
    pub adjusted: f64,
    /// Further closed sets at this rate until it would be known on which side of the target the rate lies; `None` where
    /// no reachable number would tell.
    pub sets_to_know: Option<u64>,
}

/// Why there are no figures of a person.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoCollectorFigures {
    /// Nobody of that name has a closed set.
    #[error("no closed set is recorded for this collector")]
    NoSets,
    /// There is nothing to compare with.
    #[error("nobody has a contaminated set, or everybody's are, so nothing can be told apart")]
    NothingToCompare,
    /// The arithmetic refused the numbers.
    #[error("the figures cannot be worked out: {0}")]
    Numbers(String),
}

/// Works out one person's figures from everybody's tallies.
///
/// # Errors
/// Says why there are none.
pub fn collector_figures(
    tallies: &BTreeMap<String, Tally>,
    collector: &str,
    target: Probability,
) -> Result<CollectorFigures, NoCollectorFigures> {
    let people: Vec<(&str, Proportion)> = tallies
        .iter()
        .filter_map(|(name, tally)| {
            Some((name.as_str(), Proportion::new(tally.contaminated, tally.closed()).ok()?))
        })
        .collect();
    let place = people.iter().position(|(name, _)| *name == collector).ok_or(NoCollectorFigures::NoSets)?;
    let proportions: Vec<Proportion> = people.iter().map(|(_, seen)| *seen).collect();
    let (events, trials) = proportions
        .iter()
        .fold((0, 0), |(events, trials), seen| (events + seen.events(), trials + seen.trials()));
    if events == 0 || events == trials {
        return Err(NoCollectorFigures::NothingToCompare);
    }
    work_out(&proportions, place, (events, trials), target)
        .map_err(|error| NoCollectorFigures::Numbers(error.to_string()))
}

fn work_out(
    people: &[Proportion],
    place: usize,
    (events, trials): (u64, u64),
    target: Probability,
) -> Result<CollectorFigures, StatsError> {
    let seen = people[place];
    let everyone = Proportion::new(events, trials)?;
    let rate = Probability::new(everyone.estimate())?;
    let as_high = people.iter().map(|one| probability_as_high(*one, rate)).collect::<Result<Vec<_>, _>>()?;
    let adjusted = benjamini_hochberg(&as_high);
    let fit = beta_binomial_likelihood(people)?;
    let posterior = fit.prior.after(seen);
    let level = ConfidenceLevel::default();
    Ok(CollectorFigures {
        seen,
        everyone,
        people: people.len() as u64,
        estimate: posterior.mean(),
        interval: posterior.credible_interval(level),
        people_differ: fit.excess == Excess::Found,
        target: target.get(),
        above_target: posterior.probability_above(target).get(),
        funnel: funnel_limits(rate, seen.trials(), level, FunnelMethod::Exact, 1.0)?,
        as_high_by_chance: as_high[place].get(),
        adjusted: adjusted[place].get(),
        sets_to_know: trials_to_know(fit.prior, seen, target, Probability::new(CERTAINTY)?)?,
    })
}
