//! One collection planned: sets, bottles, volumes, order, within the unit's limit.

use jiff::civil::DateTime;
use quantity::{Seconds, Volume};

use crate::access::{Access, Pairing, Site};
use crate::blood_volume::{AgeMonths, BodyWeight, Height, Sex, adult_ml_per_kg, child_ml_per_kg, nadler};
use crate::clock::{
    Antibiotic, AntibioticClock, JobTimes, Latest, antibiotic_clock, check_times, latest, shortest,
};
use crate::error::DrawError;
use crate::haemoglobin::{Haemoglobin, HaemoglobinCost, haemoglobin_cost};
use crate::order::{BottleKind, Method, filling_order};
use crate::policy::{Cleaning, ConfirmedPolicy, Policy, PolicyCost};
use crate::question::{BottlesAtHand, bottles_are_at_hand, weight_doubt};
use crate::supplies::{Supply, supplies};

/// The patient, as far as the plan needs to know. No identifier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Patient {
    /// 18 years or older.
    Adult {
        /// Body weight.
        weight: Option<BodyWeight>,
        /// Height, for Nadler's formula.
        height: Option<Height>,
        /// Sex, for Nadler's formula.
        sex: Option<Sex>,
    },
    /// Younger.
    Child {
        /// Body weight; the volumes go by it.
        weight: BodyWeight,
        /// Age, for the blood volume.
        age: Option<AgeMonths>,
    },
}

/// What is to be planned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Request {
    /// The patient.
    pub patient: Patient,
    /// The weight was read twice.
    pub weight_confirmed: bool,
    /// Haemoglobin, where it is known.
    pub haemoglobin: Option<Haemoglobin>,
    /// Blood taken in the last 24 hours for any purpose.
    pub taken_today: Volume,
    /// What blood can be had from.
    pub access: Access,
    /// An infection of the line is suspected: sets are paired.
    pub line_suspected: bool,
    /// How the blood gets into the bottles at a vein.
    pub method: Method,
    /// Bottles at hand; `None` where nothing was said.
    pub bottles: Option<BottlesAtHand>,
    /// What is known of antibiotics.
    pub antibiotic: Antibiotic,
    /// When the draw begins.
    pub draw_at: DateTime,
    /// The moment of the question.
    pub now: DateTime,
    /// Times of the breakdowns by which the draw is carried out, where some were chosen.
    pub job: Option<JobTimes>,
}

/// One bottle of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedBottle {
    /// What it is made for.
    pub kind: BottleKind,
    /// Least fill.
    pub least: Volume,
    /// Fill to aim at.
    pub target: Volume,
    /// Most fill.
    pub most: Volume,
}

/// One set of a plan; the bottles stand in the order of filling.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedSet {
    /// Where it is drawn.
    pub site: Site,
    /// Bottles in the order of filling.
    pub bottles: Vec<PlannedBottle>,
    /// Blood lost before the first bottle.
    pub waste: Volume,
}

/// What the plan had to give up, or what the reader must know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PlanNote {
    /// Fewer sets than the policy asks for, to stay within the limit.
    FewerSets {
        /// Sets the policy asks for.
        asked: usize,
        /// Sets planned.
        planned: usize,
    },
    /// Bottles are planned at the least fill, to stay within the limit.
    LeastFill,
    /// Only the aerobic bottle, or less than a bottle's least fill: what the limit leaves.
    ShortDraw,
    /// The sets of a pair have unequal volumes or one is missing: times to positivity cannot be compared.
    PairNotComparable,
    /// The weight decides the volumes: read it again before drawing.
    ReadWeightAgain,
    /// Blood volume estimated from the weight alone.
    BloodVolumeFromWeight,
    /// Drawn from a line although none is suspected: no vein can be had.
    LineForWantOfVein,
    /// Drawn from a cannula just placed.
    FromNewCannula,
    /// No vein can be had for the pair: sets from two lumens or two lines.
    PairFromLumens,
    /// A suspected line with one lumen and no vein: there is nothing to compare with.
    NoPair,
    /// All sets through the same line or cannula: they cannot tell a contaminant from a cause as two sites can.
    OneSite,
    /// A child whose age is not known: a newborn's skin needs the newborn's agent.
    AgeForSkin,
    /// A rule of the unit costs something.
    Cost(PolicyCost),
}

/// One collection. Every number follows from the unit's confirmed rules; a licensed clinician decides.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Sets in the order of drawing.
    pub sets: Vec<PlannedSet>,
    /// Into bottles.
    pub cultured: Volume,
    /// Lost before the bottles.
    pub waste: Volume,
    /// Cultured and wasted.
    pub total: Volume,
    /// The patient's estimated blood.
    pub blood_volume: Volume,
    /// `total` as a share of it.
    pub share: f64,
    /// Taken in 24 hours with this plan.
    pub day_total: Volume,
    /// The unit's limit for 24 hours.
    pub day_limit: Volume,
    /// What the draw costs in haemoglobin, where it is known.
    pub haemoglobin: Option<HaemoglobinCost>,
    /// What the sets are to each other.
    pub pairing: Pairing,
    /// How the skin is cleaned.
    pub skin: Cleaning,
    /// Saline to flush with after each set from a line, in all.
    pub flush: Volume,
    /// Contact and dry times alone.
    pub shortest: Seconds,
    /// Until when the bottles must arrive.
    pub latest: Latest,
    /// The draw against the antibiotic.
    pub antibiotic: AntibioticClock,
    /// What has to be at hand.
    pub supplies: Vec<Supply>,
    /// What was given up, and what to know.
    pub notes: Vec<PlanNote>,
}

/// Plans one collection so that the day's blood stays within the unit's limit; or says why it cannot be.
///
/// Where the limit binds, sets are kept before fill: all sets at the target fill, all at the least fill, then one set
/// fewer, and last whatever is left in an aerobic bottle (an adult) or in the first bottle (a child).
pub fn plan(request: &Request, policy: &ConfirmedPolicy) -> Result<Plan, DrawError> {
    let rules = policy.rules();
    let mut notes = Vec::new();
    check_times(request.draw_at, request.antibiotic, request.now)?;
    let blood_volume = blood_volume(&request.patient, &mut notes)?;
    if !request.weight_confirmed
        && let Some(doubt) = weight_doubt(&request.patient, &rules.child_bands)
    {
        return Err(DrawError::WeightAgain(doubt));
    }
    let day_limit = blood_volume.scaled(rules.day_limit_share)?;
    let left = day_limit.checked_sub(request.taken_today).unwrap_or(Volume::ZERO);
    let is_child = matches!(request.patient, Patient::Child { .. });
    let asked = match request.patient {
        Patient::Adult { .. } => rules.adult_sets as usize,
        Patient::Child { weight, .. } => {
            notes.push(PlanNote::ReadWeightAgain);
            rules.child_bands.sets(weight).len()
        }
    };
    let (sites, pairing) = request.access.sites(request.line_suspected, &rules.line, asked)?;
    let sets = candidates(request, rules, &sites, left)
        .into_iter()
        .find(|sets| total(sets) <= left)
        .ok_or_else(|| {
            let taken = request.taken_today;
            let needed = rules.least_useful + waste(sites[0], rules);
            DrawError::LimitReached { taken, limit: day_limit, left, needed }
        })?;
    if let Some(at_hand) = request.bottles {
        bottles_are_at_hand(&sets, at_hand, is_child)?;
    }
    describe(&sets, request, rules, asked, &mut notes);
    describe_sites(&sets, pairing, &mut notes);
    let skin = skin(request, rules, &sets, &mut notes);
    notes.extend(policy.costs().into_iter().map(PlanNote::Cost));
    let cultured = sets.iter().flat_map(|set| &set.bottles).map(|bottle| bottle.target).sum();
    let waste = sets.iter().map(|set| set.waste).sum();
    let total = cultured + waste;
    let stops: Vec<(Site, usize)> = sets.iter().map(|set| (set.site, set.bottles.len())).collect();
    let shortest = shortest(&stops, &skin, rules, request.job.unwrap_or_default());
    let n_lines = sets.iter().filter(|set| set.site.is_line()).count();
    Ok(Plan {
        cultured,
        waste,
        total,
        blood_volume,
        share: total / blood_volume,
        day_total: request.taken_today + total,
        day_limit,
        haemoglobin: request.haemoglobin.map(|known| haemoglobin_cost(known, total, blood_volume)),
        pairing,
        flush: rules.line.flush.times(u32::try_from(n_lines).unwrap_or(u32::MAX)),
        shortest,
        latest: latest(request.draw_at, rules),
        antibiotic: antibiotic_clock(
            request.antibiotic,
            request.draw_at,
            shortest,
            rules.time.dose_waits_most,
        ),
        supplies: supplies(&sets, request.method, rules),
        skin,
        notes,
        sets,
    })
}

/// The cleaning of the skin that holds for this patient. A child whose age is not known has the cleaning of others, and
/// a note that says what holds for the youngest.
fn skin(request: &Request, rules: &Policy, sets: &[PlannedSet], notes: &mut Vec<PlanNote>) -> Cleaning {
    let antisepsis = &rules.antisepsis;
    match request.patient {
        Patient::Child { age: Some(age), .. } if age < antisepsis.newborn_below => {
            antisepsis.newborn_skin.clone()
        }
        Patient::Child { age: None, .. } if sets.iter().any(|set| set.site == Site::Vein) => {
            notes.push(PlanNote::AgeForSkin);
            antisepsis.skin.clone()
        }
        _ => antisepsis.skin.clone(),
    }
}

fn describe_sites(sets: &[PlannedSet], pairing: Pairing, notes: &mut Vec<PlanNote>) {
    match pairing {
        Pairing::TwoLumens => notes.push(PlanNote::PairFromLumens),
        Pairing::NotPossible => notes.push(PlanNote::NoPair),
        Pairing::NotAsked | Pairing::LineAndVein => {}
    }
    let first = sets.first().map(|set| set.site);
    if pairing == Pairing::NotAsked {
        match first {
            Some(Site::NewCannula) => notes.push(PlanNote::FromNewCannula),
            Some(site) if site.is_line() => notes.push(PlanNote::LineForWantOfVein),
            _ => {}
        }
    }
    let one_line = sets.iter().all(|set| set.site != Site::Vein);
    if sets.len() > 1 && one_line && pairing != Pairing::NotPossible {
        notes.push(PlanNote::OneSite);
    }
}

fn blood_volume(patient: &Patient, notes: &mut Vec<PlanNote>) -> Result<Volume, DrawError> {
    let (weight, ml_per_kg) = match *patient {
        Patient::Adult { weight: Some(weight), height: Some(height), sex: Some(sex) } => {
            return nadler(sex, height, weight);
        }
        Patient::Adult { weight: Some(weight), sex, .. } => (weight, adult_ml_per_kg(sex)),
        Patient::Adult { weight: None, .. } => return Err(DrawError::WeightNeeded),
        Patient::Child { weight, age } => (weight, child_ml_per_kg(age)),
    };
    notes.push(PlanNote::BloodVolumeFromWeight);
    Ok(Volume::from_ml(weight.to_kg() * ml_per_kg)?)
}

/// Plans from the fullest to the smallest; the first within the limit is taken.
fn candidates(request: &Request, rules: &Policy, sites: &[Site], left: Volume) -> Vec<Vec<PlannedSet>> {
    let mut plans = Vec::new();
    let asked = sites.len();
    let method = request.method;
    match request.patient {
        Patient::Adult { .. } => {
            for n_sets in (1..=asked).rev() {
                for fill in [rules.adult_fill_target, rules.adult_fill_low] {
                    plans.push(
                        (0..n_sets).map(|at| adult_set(method, rules, sites[at], fill.times(2))).collect(),
                    );
                }
            }
        }
        Patient::Child { weight, .. } => {
            let volumes = rules.child_bands.sets(weight);
            for n_sets in (1..=asked).rev() {
                plans.push((0..n_sets).map(|at| child_set(method, rules, sites[at], volumes[at])).collect());
            }
        }
    }
    // The last resort: one bottle with what is left.
    let lost = waste(sites[0], rules);
    if let Some(rest) = left.checked_sub(lost).filter(|rest| *rest >= rules.least_useful) {
        let set = match request.patient {
            Patient::Adult { .. } => adult_set(method, rules, sites[0], rest.min(rules.adult_bottle_most)),
            Patient::Child { weight, .. } => {
                let most = rules.child_bands.sets(weight).first().copied().unwrap_or(rules.child_bottle_most);
                child_set(method, rules, sites[0], rest.min(rules.child_bottle_most).min(most))
            }
        };
        plans.push(vec![set]);
    }
    plans
}

/// A set of adult bottles: a pair, the aerobic alone for a short draw that fits into it, or further bottles where the
/// volume is more than a pair takes.
fn adult_set(method: Method, rules: &Policy, site: Site, blood: Volume) -> PlannedSet {
    // A line and a cannula are drawn from with a syringe, whatever is used at the vein.
    let method = if site == Site::Vein { method } else { Method::Syringe };
    let most = rules.adult_bottle_most;
    let short = rules.order.short_draw;
    let alone = blood <= short && blood <= most;
    let order = filling_order(method, if alone { blood } else { short + blood }, &rules.order);
    let n_bottles = n_bottles(blood, most).max(order.len());
    let each = share(blood, n_bottles);
    let bottle = |kind| PlannedBottle { kind, least: rules.adult_fill_low.min(each), target: each, most };
    let bottles = order.into_iter().cycle().take(n_bottles).map(bottle).collect();
    PlannedSet { site, bottles, waste: waste(site, rules) }
}

/// A child's set: as many paediatric bottles as its volume needs, evenly filled; adult bottles from the fill they are
/// made for.
fn child_set(method: Method, rules: &Policy, site: Site, blood: Volume) -> PlannedSet {
    let lost = waste(site, rules);
    if blood >= rules.adult_fill_low.times(2) {
        return adult_set(method, rules, site, blood);
    }
    let most = rules.child_bottle_most;
    let n_bottles = n_bottles(blood, most);
    let each = share(blood, n_bottles);
    let least = rules.least_useful.min(each);
    let bottle = PlannedBottle { kind: BottleKind::Paediatric, least, target: each, most };
    PlannedSet { site, bottles: vec![bottle; n_bottles], waste: lost }
}

/// Bottles that hold a volume, each up to `most`.
fn n_bottles(blood: Volume, most: Volume) -> usize {
    // A hair of slack, so that 20 mL are two bottles of 10 mL and not three.
    (blood / most - 1e-9).ceil().max(1.0) as usize
}

fn share(blood: Volume, n_bottles: usize) -> Volume {
    Volume::from_ml(blood.to_ml() / n_bottles as f64).unwrap_or(Volume::ZERO)
}

fn waste(site: Site, rules: &Policy) -> Volume {
    match site {
        Site::Vein => rules.vein_divert,
        Site::NewCannula => Volume::ZERO,
        Site::CentralLine { .. } | Site::ArterialLine => rules.line_discard,
    }
}

fn total(sets: &[PlannedSet]) -> Volume {
    let cultured: Volume = sets.iter().flat_map(|set| &set.bottles).map(|bottle| bottle.target).sum();
    cultured + sets.iter().map(|set| set.waste).sum()
}

/// Says what the chosen plan gave up.
fn describe(sets: &[PlannedSet], request: &Request, rules: &Policy, asked: usize, notes: &mut Vec<PlanNote>) {
    let planned = sets.len();
    if planned < asked {
        notes.push(PlanNote::FewerSets { asked, planned });
    }
    let is_adult = matches!(request.patient, Patient::Adult { .. });
    let blood_of = |set: &PlannedSet| -> Volume { set.bottles.iter().map(|bottle| bottle.target).sum() };
    let asked_of_first = match request.patient {
        Patient::Adult { .. } => rules.adult_fill_low.times(2),
        Patient::Child { weight, .. } => {
            rules.child_bands.sets(weight).first().copied().unwrap_or(Volume::ZERO)
        }
    };
    if sets.first().is_some_and(|set| blood_of(set) < asked_of_first) {
        notes.push(PlanNote::ShortDraw);
    } else if is_adult
        && sets.iter().flat_map(|set| &set.bottles).any(|bottle| bottle.target < rules.adult_fill_target)
    {
        notes.push(PlanNote::LeastFill);
    }
    let equal = sets.windows(2).all(|pair| blood_of(&pair[0]) == blood_of(&pair[1]));
    if request.line_suspected && (planned < 2 || !equal) {
        notes.push(PlanNote::PairNotComparable);
    }
}
