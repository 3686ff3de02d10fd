//! What is asked before there is a plan: a weight that may be a slip, and the bottles at hand.

use quantity::Volume;

use crate::bands::WeightBands;
use crate::blood_volume::BodyWeight;
use crate::error::DrawError;
use crate::order::BottleKind;
use crate::plan::{Patient, PlannedSet};

/// Bottles that are at hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BottlesAtHand {
    /// Aerobic and anaerobic bottles for adults.
    pub adult: bool,
    /// Bottles for the small volumes of children.
    pub paediatric: bool,
}

/// Why a weight is asked for once more.
#[derive(Debug, Clone, PartialEq)]
pub enum WeightDoubt {
    /// A child whose volume would be another with the point one place over.
    OtherVolume {
        /// All sets at the weight as given.
        volume: Volume,
        /// Weights with the point one place over, with the volume of all sets there.
        others: Vec<(BodyWeight, Volume)>,
    },
    /// A child's weight, and the patient is an adult.
    ChildsWeight,
    /// An adult who would be an adult with a tenth of the weight too, and with a tenth of the blood.
    TenthIsAdult {
        /// The weight with the point one place over.
        other: BodyWeight,
    },
}

/// A slip of the point is the commonest wrong weight. Where the weight with its point one place over would change the
/// plan, it is asked for once more before there is one.
pub fn weight_doubt(patient: &Patient, bands: &WeightBands) -> Option<WeightDoubt> {
    let (weight, is_child) = match *patient {
        Patient::Child { weight, .. } => (weight, true),
        Patient::Adult { weight, .. } => (weight?, false),
    };
    let total = |weight| bands.sets(weight).iter().copied().sum::<Volume>();
    let is_heaviest = |weight| bands.sets(weight) == bands.bands().last().map_or(&[][..], |band| &band.sets);
    let shifted = [weight.to_kg() / 10.0, weight.to_kg() * 10.0]
        .into_iter()
        .filter_map(|kg| BodyWeight::from_kg(kg).ok());
    if is_child {
        let others: Vec<_> = shifted
            .filter(|other| bands.sets(*other) != bands.sets(weight))
            .map(|other| (other, total(other)))
            .collect();
        return (!others.is_empty()).then(|| WeightDoubt::OtherVolume { volume: total(weight), others });
    }
    if bands.bands().len() > 1 && !is_heaviest(weight) {
        return Some(WeightDoubt::ChildsWeight);
    }
    // With the point one place to the left this would still be an adult, with a tenth of the blood.
    let mut lighter = shifted.filter(|other| *other < weight && is_heaviest(*other));
    lighter.next().map(|other| WeightDoubt::TenthIsAdult { other })
}

/// Whether a plan's bottles are at hand.
pub fn bottles_are_at_hand(
    sets: &[PlannedSet],
    at_hand: BottlesAtHand,
    patient_is_child: bool,
) -> Result<(), DrawError> {
    let has = |kind| match kind {
        BottleKind::Aerobic | BottleKind::Anaerobic => at_hand.adult,
        BottleKind::Paediatric => at_hand.paediatric,
    };
    let missing = sets.iter().flat_map(|set| &set.bottles).find(|bottle| !has(bottle.kind));
    missing.map_or(Ok(()), |bottle| {
        Err(DrawError::Bottles { kind: bottle.kind, target: bottle.target, patient_is_child })
    })
}
