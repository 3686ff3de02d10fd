//! A unit's rules for one collection. The defaults are marked and must be confirmed before anything is planned by
//! them.

use quantity::Volume;

use crate::bands::WeightBands;
use crate::error::DrawError;

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
    /// Discarded from a central line before each set, and not given back.
    pub line_discard: Volume,
    /// Diverted at a vein before each set.
    pub vein_divert: Volume,
    /// Most blood in 24 hours for all purposes, as a share of the patient's blood, above 0 to 0.10.
    pub day_limit_share: f64,
}

/// A unit's rules with the name of the role that confirmed them.
#[derive(Debug, Clone, PartialEq)]
pub struct ConfirmedPolicy {
    policy: Policy,
    confirmed_by: String,
}

/// A rule that is allowed and costs something; shown beside every plan made by it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PolicyCost {
    /// Adult bottles are filled below 8 mL: each missing millilitre costs yield, about 3 percentage points (Mermel
    /// and Maki 1993).
    FillsLess {
        /// Below the 8 mL of the guides.
        short: Volume,
    },
    /// One set misses about a quarter of bloodstream infections (Lee 2007) and cannot tell a contaminant from a
    /// cause.
    SingleSet,
    /// More is discarded from a line than is cultured.
    DiscardsMoreThanItCultures,
}

/// Sources of the defaults: two sets (IDSA/ASM 2018: 2 to 4), 8 to 10 mL per adult bottle (weighing study 2019;
/// IDSA/ASM 20 to 30 mL per set), Kellogg's bands, 5 mL discarded from a line (3 and 5 mL were found equivalent in 64
/// adults; a manual says discard nothing when the catheter itself is cultured), nothing diverted at a vein, 3 % of
/// the blood volume in 24 hours (guidelines span 1 to 5 %, Howie 2011, Bulletin of the WHO 89:46). Least useful fill
/// 1 mL and paediatric bottle 4 mL: common practice, no source.
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
        }
    }
}

/// Less than this in a bottle is a slip of the pen.
const LEAST_FILL_ML: f64 = 0.1;

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
        Ok(ConfirmedPolicy { policy: self, confirmed_by: by.trim().to_owned() })
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
        let rules = &self.policy;
        let mut costs = Vec::new();
        let guide = Volume::from_ml(8.0).unwrap_or(Volume::ZERO);
        if let Some(short) = guide.checked_sub(rules.adult_fill_target).filter(|short| *short > Volume::ZERO)
        {
            costs.push(PolicyCost::FillsLess { short });
        }
        if rules.adult_sets == 1 {
            costs.push(PolicyCost::SingleSet);
        }
        if rules.line_discard > rules.adult_fill_target.times(2) {
            costs.push(PolicyCost::DiscardsMoreThanItCultures);
        }
        costs
    }
}
