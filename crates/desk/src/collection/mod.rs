//! One collection planned, in the words that the command line and the page share.

mod blocks;
mod chance;
mod cleaning;
mod notes;
mod origin;
mod refusal;
mod sets;

use breakdown::Breakdown;
use breakdown::ledger::{TimeUse, time};
use draw::{
    Access, AgeMonths, BodyWeight, ConfirmedPolicy, DrawError, Haemoglobin, Height, JobTimes, Patient, Plan,
    Request, plan,
};
use jiff::civil::DateTime;
use quantity::Volume;

pub use chance::FoundRow;
pub use draw::{Antibiotic, BottlesAtHand, Method, Sex};
pub use refusal::{AskedFor, Refused};

/// Stands under every plan.
pub const CAUTION: &str = "Training support, not a medical device: local policy and the laboratory's instructions come \
                           first, and a licensed clinician decides.";

/// What is asked for, as a form or a command gives it. No identifier of a patient.
#[derive(Debug, Clone, PartialEq)]
pub struct CollectionAsk {
    /// A child, or an adult of 18 years or more; `None` where nothing was said.
    pub is_child: Option<bool>,
    /// Weight in kilograms.
    pub weight_kg: Option<f64>,
    /// The weight was read twice.
    pub weight_confirmed: bool,
    /// Height of an adult in centimetres.
    pub height_cm: Option<f64>,
    /// Sex of an adult.
    pub sex: Option<Sex>,
    /// Age of a child in completed months.
    pub age_months: Option<u16>,
    /// Haemoglobin in grams per litre.
    pub haemoglobin_g_per_l: Option<f64>,
    /// Blood taken in the last 24 hours in millilitres.
    pub taken_today_ml: Option<f64>,
    /// Sets ordered for an adult, where the order differs from the policy.
    pub sets: Option<u32>,
    /// A vein can be had.
    pub vein: bool,
    /// A peripheral cannula just placed.
    pub new_cannula: bool,
    /// A central line.
    pub central_line: bool,
    /// Lumens of the central line.
    pub lumens: Option<u8>,
    /// An arterial line.
    pub arterial_line: bool,
    /// An infection of the line is suspected.
    pub line_suspected: bool,
    /// How blood gets into the bottles at a vein.
    pub method: Method,
    /// Bottles at hand, where that was said.
    pub bottles: Option<BottlesAtHand>,
    /// What is known of antibiotics.
    pub antibiotic: Antibiotic,
    /// When the draw begins; now, where nothing was said.
    pub draw_at: Option<DateTime>,
    /// Breakdowns by which the draw is carried out, with their times.
    pub jobs: Vec<ChosenJob>,
}

/// A breakdown that was chosen, and what it says of contact and drying.
#[derive(Debug, Clone, PartialEq)]
pub struct ChosenJob {
    /// Name and version, as they are shown.
    pub name: String,
    /// Its times.
    pub times: JobTimes,
}

/// The times of a breakdown by what they are of: its words for skin, bottle tops and connectors.
pub fn chosen_job(breakdown: &Breakdown) -> ChosenJob {
    let mut times = JobTimes::default();
    for entry in time(breakdown).entries {
        let what = entry.stated.what.as_deref().unwrap_or_default().to_lowercase();
        let says = |words: &[&str]| words.iter().any(|word| what.contains(word));
        let of = if says(&["top", "septum", "stopper"]) {
            &mut times.bottle_top
        } else if says(&["hub", "connector", "cap"]) {
            &mut times.connector
        } else if says(&["skin"]) {
            &mut times.skin
        } else {
            continue;
        };
        let field = match entry.used_for {
            TimeUse::Contact => &mut of.contact,
            TimeUse::Dry => &mut of.dry,
            TimeUse::Wait => continue,
        };
        *field = field.max(entry.at_least);
    }
    ChosenJob { name: format!("{}, version {}", breakdown.job, breakdown.version), times }
}

/// An adult with a vein, and nothing else known.
impl Default for CollectionAsk {
    fn default() -> Self {
        CollectionAsk {
            is_child: None,
            weight_kg: None,
            weight_confirmed: false,
            height_cm: None,
            sex: None,
            age_months: None,
            haemoglobin_g_per_l: None,
            taken_today_ml: None,
            sets: None,
            vein: true,
            new_cannula: false,
            central_line: false,
            lumens: None,
            arterial_line: false,
            line_suspected: false,
            method: Method::WingedSet,
            bottles: None,
            antibiotic: Antibiotic::NotStated,
            draw_at: None,
            jobs: Vec::new(),
        }
    }
}

/// A unit's confirmed policy with the name and version of its file.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitPolicy {
    /// Name.
    pub name: String,
    /// Version.
    pub version: String,
    /// The rules.
    pub policy: ConfirmedPolicy,
}

/// One value of a plan, and where it is from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanRow {
    /// What it is.
    pub what: String,
    /// The value in words.
    pub value: String,
    /// Policy or source.
    pub from: String,
}

/// Values that belong together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanBlock {
    /// A word for machines and anchors.
    pub key: &'static str,
    /// Heading.
    pub title: &'static str,
    /// Values.
    pub rows: Vec<PlanRow>,
    /// What has to be said about all of them.
    pub remark: Option<String>,
}

/// One bottle of a plan in words.
#[derive(Debug, Clone, PartialEq)]
pub struct BottleSheet {
    /// "aerobic".
    pub kind: &'static str,
    /// Fill to aim at, rounded down to a tenth, millilitres.
    pub target_ml: f64,
    /// Least fill, the same way.
    pub least_ml: f64,
    /// Most the bottle takes, millilitres.
    pub most_ml: f64,
}

/// One set of a plan in words.
#[derive(Debug, Clone, PartialEq)]
pub struct SetSheet {
    /// A word for machines: `vein`, `new-cannula`, `central-line`, `arterial-line`.
    pub site: &'static str,
    /// Lumen of a central line.
    pub lumen: Option<u8>,
    /// "from a fresh vein, at its own site".
    pub site_words: String,
    /// What goes into no bottle, in words; nothing where all goes into bottles.
    pub first: Option<String>,
    /// Bottles in the order of filling.
    pub bottles: Vec<BottleSheet>,
    /// What follows the last bottle, such as a flush.
    pub then: Option<String>,
}

/// Something to know about a plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanSentence {
    /// A word for machines.
    pub kind: &'static str,
    /// The sentence.
    pub sentence: String,
}

/// A plan with all that is said about it.
#[derive(Debug, Clone, PartialEq)]
pub struct CollectionSheet {
    /// The patient, without an identifier.
    pub patient: String,
    /// Weight in kilograms.
    pub weight_kg: f64,
    /// Policy, version, and who confirmed it.
    pub policy: String,
    /// The sets.
    pub sets: Vec<SetSheet>,
    /// Blood, order, cleaning, lines, time, chance, supplies, conduct.
    pub blocks: Vec<PlanBlock>,
    /// Share of infections found by numbers of sets.
    pub found: Vec<FoundRow>,
    /// What was given up, what the policy costs, and what to know.
    pub notes: Vec<PlanSentence>,
    /// When to stop.
    pub stops: Vec<String>,
    /// The usual cautions.
    pub cautions: Vec<String>,
    /// How the patient's blood was estimated.
    pub blood_volume_from: String,
    /// The numbers.
    pub plan: Plan,
}

/// What the words of a plan are made from.
struct Case<'a> {
    ask: &'a CollectionAsk,
    policy: &'a ConfirmedPolicy,
    request: Request,
    weight: BodyWeight,
    plan: Plan,
}

/// Most blood that can have been taken in a day: more than anybody has to lose.
const MOST_TAKEN_ML: f64 = 5_000.0;

/// Plans one collection by the unit's policy; or says in plain words why there is no plan.
pub fn collection(ask: &CollectionAsk, unit: &UnitPolicy, now: DateTime) -> Result<CollectionSheet, Refused> {
    let refuse = |error: DrawError| refusal::of(&error);
    let ordered = ask.sets.map(|sets| {
        let mut rules = unit.policy.rules().clone();
        rules.adult_sets = sets;
        rules.confirm(unit.policy.confirmed_by()).map_err(|_| refusal::of_order(sets))
    });
    let policy = ordered.transpose()?.unwrap_or_else(|| unit.policy.clone());
    // The limit is a share of the patient's blood, so no one is planned for without a weight.
    let kg = ask.weight_kg.ok_or_else(|| refuse(DrawError::WeightNeeded))?;
    let weight = BodyWeight::from_kg(kg).map_err(refuse)?;
    let patient = patient(ask, weight)?;
    let taken = ask.taken_today_ml.unwrap_or(0.0);
    let taken_today = Volume::from_ml(taken)
        .ok()
        .filter(|taken| taken.to_ml() <= MOST_TAKEN_ML)
        .ok_or_else(|| refusal::of_taken(taken, MOST_TAKEN_ML))?;
    let haemoglobin = ask.haemoglobin_g_per_l.map(Haemoglobin::from_g_per_l).transpose().map_err(refuse)?;
    let request = Request {
        patient,
        weight_confirmed: ask.weight_confirmed,
        haemoglobin,
        taken_today,
        access: Access {
            vein: ask.vein,
            new_cannula: ask.new_cannula,
            central_line_lumens: ask.central_line.then(|| ask.lumens.unwrap_or(1)),
            arterial_line: ask.arterial_line,
        },
        line_suspected: ask.line_suspected,
        method: ask.method,
        bottles: ask.bottles,
        antibiotic: ask.antibiotic,
        draw_at: ask.draw_at.unwrap_or(now),
        now,
        job: ask.jobs.iter().map(|job| job.times).reduce(JobTimes::longer),
    };
    let plan = plan(&request, &policy).map_err(refuse)?;
    let case = Case { ask, policy: &policy, request, weight, plan };
    Ok(CollectionSheet {
        patient: sets::patient(&case),
        weight_kg: weight.to_kg(),
        policy: format!(
            "Policy {:?}, version {}, confirmed by: {}",
            unit.name,
            unit.version,
            policy.confirmed_by()
        ),
        sets: sets::sheets(&case),
        blocks: blocks::all(&case),
        found: chance::found(&case),
        notes: case.plan.notes.iter().map(notes::note).chain(notes::of_ask(&case)).collect(),
        stops: notes::stops(&case),
        cautions: notes::cautions(&case),
        blood_volume_from: origin::blood_volume(&case),
        plan: case.plan,
    })
}

fn patient(ask: &CollectionAsk, weight: BodyWeight) -> Result<Patient, Refused> {
    match ask.is_child {
        None => Err(refusal::of_who()),
        Some(false) if ask.age_months.is_some() => Err(refusal::not_for_patient(
            AskedFor::AgeMonths,
            "an age in months for an adult",
            "leave it out, or say that the patient is a child",
        )),
        Some(false) => {
            let height = ask.height_cm.map(|cm| Height::from_m(cm / 100.0)).transpose();
            let height = height.map_err(|error| refusal::of(&error))?;
            Ok(Patient::Adult { weight: Some(weight), height, sex: ask.sex })
        }
        Some(true) if ask.height_cm.is_some() || ask.sex.is_some() => Err(refusal::not_for_patient(
            AskedFor::HeightOrSex,
            "height or sex of a child",
            "leave them out: a child's blood volume goes by weight and age",
        )),
        Some(true) if ask.sets.is_some() => Err(refusal::not_for_patient(
            AskedFor::Sets,
            "a number of sets for a child",
            "leave it out: a child's sets go by the weight table of the policy",
        )),
        Some(true) => match ask.age_months {
            Some(months) if months >= 216 => Err(refusal::not_for_patient(
                AskedFor::AgeMonths,
                "an age of 18 years or more for a child",
                "give completed months, 0 to 215, or say that the patient is an adult",
            )),
            age => Ok(Patient::Child { weight, age: age.map(AgeMonths) }),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The shipped breakdowns as a reader finds their times: tops 15 and 30 s, skin 30 and 30 s, hub 15 and 30 s.
    #[test]
    fn times_of_the_shipped_breakdowns() {
        let times = |text: &str| {
            let parsed = breakdown::parse(text);
            let job = chosen_job(parsed.sound().expect("a shipped breakdown is sound")).times;
            [job.bottle_top, job.skin, job.connector].map(|of| (of.contact.to_s(), of.dry.to_s()))
        };
        let vein = times(include_str!("../../../../breakdowns/vein.txt"));
        assert_eq!(vein, [(15.0, 30.0), (30.0, 30.0), (0.0, 0.0)]);
        let line = times(include_str!("../../../../breakdowns/central-line.txt"));
        assert_eq!(line, [(15.0, 30.0), (0.0, 0.0), (15.0, 30.0)]);
    }
}
