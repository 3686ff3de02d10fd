//! What grows in the bottles of a set, and how full they are.

use super::set::{Area, DemoBottle, DemoSet, Hands, Infection, Source};
use crate::calendar::{Shift, ShiftKind};
use crate::dice::Dice;

/// Chance in a million that a plain vein draw by day is contaminated before anybody is taught. It is set so that the
/// first six months come to about 4.6 % by the adult rule.
const CHANCE_BEFORE: u64 = 44_000;

/// Skin germs and germs of the surroundings, as laboratories spell them, with how often they come.
const SKIN: [(&str, u32); 12] = [
    ("Staphylococcus epidermidis", 24),
    ("STAPHYLOCOCCUS, COAGULASE NEGATIVE", 20),
    ("Coag neg staph", 9),
    ("Staphylococcus hominis", 12),
    ("Staph capitis", 8),
    ("Micrococcus luteus", 7),
    ("Corynebacterium sp.", 6),
    ("CUTIBACTERIUM ACNES", 5),
    ("Bacillus sp. not anthracis", 3),
    ("Viridans group streptococcus", 4),
    ("Staphylococcus warneri", 1),
    ("Diphtheroids", 1),
];

/// What bears on the chance that a draw is contaminated, in thousandths of the plain chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Care {
    /// The person's own hand: 1,000 is the unit's.
    pub(crate) hand: u64,
    /// Taught with the breakdown: released, or watched while learning.
    pub(crate) taught: bool,
    /// Refreshed on, or taught with, the second version.
    pub(crate) second_version: bool,
    /// Never: the story gives this person's results by name.
    pub(crate) told: bool,
}

/// Fills the bottles and lets them grow.
pub(crate) fn fill_and_grow(set: &mut DemoSet, care: Care, dice: &mut Dice) {
    set.bottles = bottles(set, care, dice);
    if let Infection::With(name) = set.infection
        && dice.chance(if care.taught { 900_000 } else { 860_000 })
    {
        spread(&mut set.bottles, name, 650_000, dice);
    }
    let touched = dice.chance(chance_of_contamination(set, care));
    if touched && !care.told {
        contaminate(set, dice);
    }
}

/// Lets a skin germ grow in the set.
pub(crate) fn contaminate(set: &mut DemoSet, dice: &mut Dice) {
    let weights = SKIN.map(|(_, weight)| weight);
    let name = dice.weighted(&weights).map_or(SKIN[0].0, |index| SKIN[index].0);
    spread(&mut set.bottles, name, 220_000, dice);
}

fn chance_of_contamination(set: &DemoSet, care: Care) -> u32 {
    let mut chance = CHANCE_BEFORE * care.hand / 1_000;
    // Line against vein: the published odds ratio is 2.69 (Snyder 2012); this unit's is milder.
    chance = chance
        * match set.source {
            Source::Vein => 1_000,
            Source::ArterialLine => 1_200,
            Source::CentralLine => 1_900,
        }
        / 1_000;
    if Shift::at(set.collected).kind == ShiftKind::Night {
        chance = chance * 1_250 / 1_000;
    }
    if care.taught {
        chance = chance * 430 / 1_000;
    }
    if care.second_version {
        chance = chance * 880 / 1_000;
    }
    if matches!(set.hands, Hands::DrawTeam(_)) {
        chance = chance * 600 / 1_000;
    }
    if set.area == Area::StepDown {
        chance = chance * 900 / 1_000;
    }
    u32::try_from(chance).unwrap_or(500_000).min(500_000)
}

fn bottles(set: &DemoSet, care: Care, dice: &mut Dice) -> Vec<DemoBottle> {
    let bottle =
        |code, fill: i64| DemoBottle { code, fill_tenths: fill.clamp(5, 125) as u32, organisms: Vec::new() };
    if !set.is_adult() {
        return vec![bottle("PED", dice.bell(24, 8))];
    }
    let mean = match (care.taught, care.second_version) {
        (false, _) => 73,
        (true, false) => 83,
        (true, true) => 89,
    };
    let aerobic = bottle("AER", dice.bell(mean, 13));
    // A short draw fills the aerobic bottle and leaves little, or nothing, for the other.
    if dice.chance(30_000) {
        return vec![aerobic];
    }
    let short = dice.chance(if care.taught { 40_000 } else { 90_000 });
    let anaerobic = bottle("ANA", if short { dice.bell(35, 8) } else { dice.bell(mean - 2, 14) });
    vec![aerobic, anaerobic]
}

/// Puts a name into one bottle, or into all of them with the given chance in a million.
fn spread(bottles: &mut [DemoBottle], name: &'static str, all: u32, dice: &mut Dice) {
    let everywhere = dice.chance(all);
    let one = dice.below(bottles.len() as u32) as usize;
    for (index, bottle) in bottles.iter_mut().enumerate() {
        if (everywhere || index == one) && !bottle.organisms.contains(&name) {
            bottle.organisms.push(name);
        }
    }
}
