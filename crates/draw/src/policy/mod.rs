//! A unit's rules for one collection. The defaults are marked and must be confirmed before anything is planned by
//! them.

mod antisepsis;
mod conduct;
mod cost;

use quantity::{Seconds, Volume};

use crate::bands::WeightBands;
use crate::error::DrawError;
use crate::order::BottleKind;

pub use antisepsis::{Agent, AntisepsisRules, Cleaning, PublishedCleaning, Surface, published_cleaning};
pub use conduct::{ConductRules, DivertedInto, Gloves, LineRules, Mask, OrderRules, TimeRules};
pub use cost::PolicyCost;

/// A unit's rules, not yet confirmed.
#[derive(Debug, Clone, PartialEq)]
pub struct Policy {
    /// Sets of an adult, 1 to 4.
    pub adult_sets: u32,
    /// Least fill of an adult bottle.
    pub adult_fill_low: Volume,
    /// Fill an adult bottle is planned with.
    pub adult_fill_target: Volume,
    /// Most an adult bottle takes.
    pub adult_bottle_most: Volume,
    /// Least blood worth putting into a bottle at all.
    pub least_useful: Volume,
    /// Most a paediatric bottle takes.
    pub child_bottle_most: Volume,
    /// Volumes of children.
    pub child_bands: WeightBands,
    /// Discarded from a central or arterial line before each set, and not given back.
    pub line_discard: Volume,
    /// Diverted at a vein before each set.
    pub vein_divert: Volume,
    /// Most blood in 24 hours for all purposes, as a share of the patient's blood, above 0 to 0.10.
    pub day_limit_share: f64,
    /// Which bottle comes first.
    pub order: OrderRules,
    /// Cleaning of skin, bottle tops and connectors.
    pub antisepsis: AntisepsisRules,
    /// Draws from lines and cannulas.
    pub line: LineRules,
    /// Gloves, mask, attempts, who draws.
    pub conduct: ConductRules,
    /// Ways to the laboratory, and the antibiotic.
    pub time: TimeRules,
}

/// A unit's rules with the name of the role that confirmed them.
#[derive(Debug, Clone, PartialEq)]
pub struct ConfirmedPolicy {
    policy: Policy,
    confirmed_by: String,
}

/// Sources of the defaults: two sets (IDSA/ASM 2018: 2 to 4), 8 to 10 mL per adult bottle (weighing study 2019;
/// IDSA/ASM 20 to 30 mL per set), Kellogg's bands, 5 mL discarded from a line (3 and 5 mL were found equivalent in 64
/// adults; a manual says discard nothing when the catheter itself is cultured), nothing diverted at a vein, 3 % of
/// the blood volume in 24 hours (guidelines span 1 to 5 %, Howie 2011, Bulletin of the WHO 89:46). Least useful fill
/// 1 mL and paediatric bottle 4 mL: common practice, no source. The other groups name their sources themselves.
impl Default for Policy {
    fn default() -> Self {
        let ml = |value: f64| Volume::from_ml(value).unwrap_or(Volume::ZERO);
        Policy {
            adult_sets: 2,
            adult_fill_low: ml(8.0),
            adult_fill_target: ml(10.0),
            adult_bottle_most: ml(10.0),
            least_useful: ml(1.0),
            child_bottle_most: ml(4.0),
            child_bands: WeightBands::default(),
            line_discard: ml(5.0),
            vein_divert: Volume::ZERO,
            day_limit_share: 0.03,
            order: OrderRules::default(),
            antisepsis: AntisepsisRules::default(),
            line: LineRules::default(),
            conduct: ConductRules::default(),
            time: TimeRules::default(),
        }
    }
}

/// Less than this in a bottle is a slip of the pen.
const LEAST_FILL_ML: f64 = 0.1;
/// A contact or dry time longer than this is a slip of the pen.
const LONGEST_CLEANING_S: f64 = 900.0;

impl Policy {
    /// Checks that the rules are possible and marks them as confirmed by a role.
    pub fn confirm(self, by: &str) -> Result<ConfirmedPolicy, DrawError> {
        let refuse = |what, found: String, expected| Err(DrawError::Policy { what, found, expected });
        if by.trim().is_empty() {
            return refuse("confirmed by", "empty".to_owned(), "the role that answers for the rules");
        }
        if !(1..=4).contains(&self.adult_sets) {
            return refuse(
                "number of adult sets",
                self.adult_sets.to_string(),
                "1 to 4 (IDSA/ASM 2018: 2 to 4)",
            );
        }
        let fills = [self.least_useful, self.adult_fill_low, self.adult_fill_target, self.adult_bottle_most];
        if self.least_useful.to_ml() < LEAST_FILL_ML || !fills.is_sorted() {
            return refuse(
                "fill of an adult bottle",
                format!("{fills:?}"),
                "least useful, least, target and most must rise from 0.1 mL",
            );
        }
        if self.child_bottle_most < self.least_useful {
            let found = self.child_bottle_most.to_string();
            return refuse("most a paediatric bottle takes", found, "at least the least useful fill");
        }
        if !(self.day_limit_share > 0.0 && self.day_limit_share <= 0.10) {
            let found = format!("{} of the blood volume", self.day_limit_share);
            return refuse(
                "limit of a day",
                found,
                "above 0 and at most 0.10 (guidelines span 0.01 to 0.05)",
            );
        }
        self.conduct_is_possible()?;
        Ok(ConfirmedPolicy { policy: self, confirmed_by: by.trim().to_owned() })
    }

    fn conduct_is_possible(&self) -> Result<(), DrawError> {
        let refuse = |what, found: String, expected| Err(DrawError::Policy { what, found, expected });
        for (surface, cleaning) in self.antisepsis.all() {
            let what = match surface {
                Surface::Skin => "cleaning of the skin",
                Surface::NewbornSkin => "cleaning of a newborn's skin",
                Surface::BottleTop => "cleaning of bottle tops",
                Surface::Connector => "cleaning of the connector",
            };
            if cleaning.contact == Seconds::ZERO
                || cleaning.contact.to_s() > LONGEST_CLEANING_S
                || cleaning.dry.to_s() > LONGEST_CLEANING_S
            {
                let found = format!("{} of contact, {} to dry", cleaning.contact, cleaning.dry);
                return refuse(what, found, "contact above 0 to 900 s, drying 0 to 900 s");
            }
            if matches!(&cleaning.agent, Agent::Other(name) if name.trim().is_empty()) {
                return refuse(what, "no agent".to_owned(), "the name of the agent");
            }
        }
        if [self.order.winged_set_first, self.order.syringe_first].contains(&BottleKind::Paediatric) {
            let found = "the paediatric bottle first".to_owned();
            return refuse("order of an adult pair", found, "the aerobic or the anaerobic bottle");
        }
        if !(1..=5).contains(&self.conduct.attempts) {
            return refuse("attempts of one person", self.conduct.attempts.to_string(), "1 to 5");
        }
        let TimeRules { to_laboratory, to_incubator, dose_waits_most } = self.time;
        if to_laboratory == Seconds::ZERO
            || to_incubator < to_laboratory
            || to_incubator.to_minutes() > 2880.0
        {
            let found = format!("laboratory within {to_laboratory}, incubator within {to_incubator}");
            let expected = "the laboratory first, above 0, and the incubator at most 48 h after the draw";
            return refuse("way to the laboratory", found, expected);
        }
        if dose_waits_most.to_minutes() > 180.0 {
            return refuse("wait of an antibiotic for the draw", dose_waits_most.to_string(), "0 to 180 min");
        }
        if self.conduct.between_sets.to_minutes() > 1440.0 {
            let found = self.conduct.between_sets.to_string();
            return refuse("time between sets", found, "0 to 1440 min");
        }
        Ok(())
    }
}

impl ConfirmedPolicy {
    /// The rules.
    pub fn rules(&self) -> &Policy {
        &self.policy
    }

    /// The role that confirmed them.
    pub fn confirmed_by(&self) -> &str {
        &self.confirmed_by
    }

    /// What the rules cost against the guides.
    pub fn costs(&self) -> Vec<PolicyCost> {
        cost::of(&self.policy)
    }
}
