//! What a confirmed rule costs against the guides. It is followed all the same.

use quantity::{Seconds, Volume};

use super::Policy;
use super::antisepsis::{Surface, published_cleaning};
use super::conduct::DivertedInto;

/// A rule that is allowed and costs something; shown beside every plan made by it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PolicyCost {
    /// Adult bottles are filled below the 8 mL of the guides. The volumes are those of all sets of the policy.
    FillsLess {
        /// Below the 8 mL of the guides, in each bottle.
        short: Volume,
        /// All bottles of an adult with this policy.
        volume: Volume,
        /// The same with 8 mL in each bottle.
        guide_volume: Volume,
    },
    /// One set misses about a quarter of bloodstream infections (Lee 2007) and cannot tell a contaminant from a
    /// cause.
    SingleSet,
    /// More is discarded from a line than is cultured.
    DiscardsMoreThanItCultures {
        /// Discarded before each set.
        discarded: Volume,
        /// Cultured with each adult set.
        cultured: Volume,
    },
    /// A surface is cleaned for less than the shortest published time of its agent.
    CleansTooShort {
        /// Which.
        surface: Surface,
        /// The rule's time.
        rule: Seconds,
        /// Shortest published.
        published: Seconds,
    },
    /// A surface dries for less than the shortest published time of its agent.
    DriesTooShort {
        /// Which.
        surface: Surface,
        /// The rule's time.
        rule: Seconds,
        /// Shortest published.
        published: Seconds,
    },
    /// The first blood goes into tubes, whose stoppers are not sterile, before it goes into culture bottles.
    DivertsIntoTubes,
    /// More than 2 h to the laboratory or 4 h to the incubator.
    SlowToTheLaboratory,
    /// Sets so far apart that a pair from line and vein cannot be compared.
    PairsTooFarApart,
}

/// Least fill of the guides.
const GUIDE_FILL_ML: f64 = 8.0;
/// Sets of a pair may be this far apart.
pub(crate) const PAIR_APART_MIN: f64 = 15.0;

pub(super) fn of(rules: &Policy) -> Vec<PolicyCost> {
    let mut costs = Vec::new();
    let guide = Volume::from_ml(GUIDE_FILL_ML).unwrap_or(Volume::ZERO);
    if let Some(short) = guide.checked_sub(rules.adult_fill_target).filter(|short| *short > Volume::ZERO) {
        let n_bottles = rules.adult_sets * 2;
        let volume = rules.adult_fill_target.times(n_bottles);
        costs.push(PolicyCost::FillsLess { short, volume, guide_volume: guide.times(n_bottles) });
    }
    if rules.adult_sets == 1 {
        costs.push(PolicyCost::SingleSet);
    }
    let cultured = rules.adult_fill_target.times(2);
    if rules.line_discard > cultured {
        costs.push(PolicyCost::DiscardsMoreThanItCultures { discarded: rules.line_discard, cultured });
    }
    for (surface, cleaning) in rules.antisepsis.all() {
        let Some(published) = published_cleaning(surface, &cleaning.agent) else { continue };
        let seconds = |value| Seconds::from_s(value).unwrap_or(Seconds::ZERO);
        let (contact, dry) = (seconds(published.contact_s), seconds(published.dry_s));
        if cleaning.contact < contact {
            costs.push(PolicyCost::CleansTooShort { surface, rule: cleaning.contact, published: contact });
        }
        if cleaning.dry < dry {
            costs.push(PolicyCost::DriesTooShort { surface, rule: cleaning.dry, published: dry });
        }
    }
    if rules.vein_divert > Volume::ZERO && rules.order.diverted_into == DivertedInto::Tubes {
        costs.push(PolicyCost::DivertsIntoTubes);
    }
    if rules.time.to_laboratory.to_minutes() > 120.0 || rules.time.to_incubator.to_minutes() > 240.0 {
        costs.push(PolicyCost::SlowToTheLaboratory);
    }
    if rules.conduct.between_sets.to_minutes() > PAIR_APART_MIN {
        costs.push(PolicyCost::PairsTooFarApart);
    }
    costs
}
