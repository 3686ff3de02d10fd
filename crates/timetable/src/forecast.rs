use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use practice::PersonId;
use stats::arrivals::{GammaRate, chance_of_at_least_across};
use stats::{Probability, StatsError};

use crate::coverage::ShiftCoverage;
use crate::draws::{DrawRates, Slot};
use crate::shift::ShiftKind;

/// What is asked about one learner.
#[derive(Debug, Clone)]
pub struct Wanted<'a> {
    /// The learner.
    pub person: &'a PersonId,
    /// Observed draws still needed.
    pub draws: u64,
    /// Last day that counts.
    pub by: Date,
    /// Share of the draws on a watched shift that are offered to learners at all, above 0 to 1: the rest are drawn by
    /// others, in a hurry or without a thought of the learner.
    pub offered: Probability,
}

/// Chance that a learner has had the draws by the date, and what stands in the way.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Chance of at least the draws wanted.
    pub chance: Probability,
    /// Mean number of draws.
    pub mean_draws: f64,
    /// Shifts of the learner in the period.
    pub n_shifts: usize,
    /// Those of them on which somebody may watch.
    pub n_watched_shifts: usize,
    /// What would raise the chance, the most first; empty when nothing would.
    pub bottlenecks: Vec<Bottleneck>,
}

/// One thing that stands in the way, with the chance if it did not.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottleneck {
    /// In a sentence, with its counts.
    pub what: String,
    /// The chance without it.
    pub chance: Probability,
}

/// Chance that a learner on this roster has `wanted.draws` draws by the date.
///
/// # Formula
/// Draws on a shift are Poisson with the gamma rate of its slot. On a shift where somebody may watch, each draw comes to
/// a learner with the chance `offered`, and the learners on the shift share alike; elsewhere none does. The counts of
/// the slots are convolved (`stats::arrivals::chance_of_at_least_across`). A bottleneck is the same chance with one thing
/// changed: someone to watch on every day shift, or night shift; no other learner on the shift; every draw offered.
/// # Range
/// `coverage`: the shifts from today to the date; mean in draws.
/// # Ends
/// No draw wanted: 1. No watched shift: 0 for any draw wanted.
/// # Source
/// As `stats::arrivals::chance_of_at_least_across`; equal sharing is our assumption.
/// # Check
/// A hand case with one slot, and a simulation of 100,000 periods.
pub fn forecast(
    wanted: &Wanted<'_>,
    coverage: &[ShiftCoverage],
    rates: &DrawRates,
) -> Result<Forecast, StatsError> {
    let own: Vec<_> = coverage
        .iter()
        .filter(|shift| shift.shift.on <= wanted.by && shift.learning.contains(wanted.person))
        .collect();
    let as_is = What { watched: None, alone: false, offered: wanted.offered };
    let chance = as_is.chance(wanted, &own, rates)?;
    let changed = |what: What, sentence: Option<String>| -> Result<Option<Bottleneck>, StatsError> {
        let Some(sentence) = sentence else { return Ok(None) };
        let with = what.chance(wanted, &own, rates)?;
        Ok((with.get() > chance.get()).then_some(Bottleneck { what: sentence, chance: with }))
    };
    let mut bottlenecks = Vec::new();
    let kinds: BTreeSet<ShiftKind> = own.iter().map(|shift| shift.shift.kind).collect();
    for kind in kinds {
        let of_kind: Vec<_> = own.iter().filter(|shift| shift.shift.kind == kind).collect();
        let unwatched = of_kind.iter().filter(|shift| shift.may_watch.is_empty()).count();
        let sentence = format!("nobody to watch on {unwatched} of {} {} shifts", of_kind.len(), kind.words());
        let what = What { watched: Some(kind), ..as_is };
        bottlenecks.extend(changed(what, (unwatched > 0).then_some(sentence))?);
    }
    let shared = own.iter().filter(|shift| shift.learning.len() > 1).count();
    let sentence = format!("another learner on {shared} of {} shifts", own.len());
    bottlenecks.extend(changed(What { alone: true, ..as_is }, (shared > 0).then_some(sentence))?);
    let percent = wanted.offered.get() * 100.0;
    let sentence = format!("{percent:.0} of 100 draws are offered to learners");
    let every_draw = What { offered: Probability::new(1.0)?, ..as_is };
    bottlenecks.extend(changed(every_draw, (wanted.offered.get() < 1.0).then_some(sentence))?);
    bottlenecks.sort_by(|a, b| b.chance.get().total_cmp(&a.chance.get()));
    let mean_draws = as_is.parts(&own, rates).iter().map(|(rate, exposure)| rate.mean() * exposure).sum();
    let n_watched_shifts = own.iter().filter(|shift| !shift.may_watch.is_empty()).count();
    Ok(Forecast { chance, mean_draws, n_shifts: own.len(), n_watched_shifts, bottlenecks })
}

/// The circumstances under which a chance is worked out.
#[derive(Debug, Clone, Copy)]
struct What {
    /// Every shift of this kind has somebody who may watch.
    watched: Option<ShiftKind>,
    /// No other learner shares the draws.
    alone: bool,
    offered: Probability,
}

impl What {
    fn chance(
        self,
        wanted: &Wanted<'_>,
        own: &[&ShiftCoverage],
        rates: &DrawRates,
    ) -> Result<Probability, StatsError> {
        chance_of_at_least_across(&self.parts(own, rates), wanted.draws)
    }

    /// Rates with their exposures in shifts; one part for each rate, for one rate's counts are not independent.
    fn parts(self, own: &[&ShiftCoverage], rates: &DrawRates) -> Vec<(GammaRate, f64)> {
        let mut exposures: BTreeMap<(i8, ShiftKind), (GammaRate, f64)> = BTreeMap::new();
        for shift in
            own.iter().filter(|shift| !shift.may_watch.is_empty() || self.watched == Some(shift.shift.kind))
        {
            let slot = Slot::of(shift.shift);
            let Some(rate) = rates.of(slot) else { continue };
            let key = if rates.is_alike() { (0, ShiftKind::DAY) } else { slot.place() };
            let n_learners = if self.alone { 1 } else { shift.learning.len().max(1) };
            exposures.entry(key).or_insert((rate, 0.0)).1 += self.offered.get() / n_learners as f64;
        }
        exposures.into_values().collect()
    }
}
