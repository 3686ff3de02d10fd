//! What is said about a plan: where each number is from, what was given up, and the usual cautions.

use ::draw::{
    Access, BodyWeight, BottleKind, Method, Patient, PlanNote, Policy, PolicyCost, Sex, Site,
    adult_ml_per_kg, child_ml_per_kg, published_range,
};

use super::Planned;

/// Where one number of a plan is from.
pub(super) struct Origin {
    pub(super) what: String,
    pub(super) from: String,
}

/// Stands under every plan.
pub(super) const CAUTION: &str = "Training support, not a medical device: local policy and the laboratory's \
                                  instructions come first, and a licensed clinician decides.";

/// Who the patient is, without an identifier.
pub(super) fn patient(planned: &Planned<'_>) -> String {
    let kg = kg(planned.weight);
    match planned.request.patient {
        Patient::Adult { height, sex, .. } => {
            let height = height.map(|height| format!(", {:.0} cm", height.to_m() * 100.0));
            let sex = sex.map(|sex| if sex == Sex::Female { ", female" } else { ", male" });
            format!("adult, {kg} kg{}{}", height.unwrap_or_default(), sex.unwrap_or_default())
        }
        Patient::Child { age, .. } => {
            let age = age.map(|age| format!(", {} months old", age.0));
            format!("child, {kg} kg{}", age.unwrap_or_default())
        }
    }
}

/// Kilograms as a reader writes them: whole grams, no trailing noughts.
pub(super) fn kg(weight: BodyWeight) -> String {
    format!("{}", (weight.to_kg() * 1000.0).round() / 1000.0)
}

pub(super) fn site(site: Site) -> &'static str {
    match site {
        Site::Vein => "from a fresh vein, at its own site",
        Site::CentralLine => "from the central line",
    }
}

pub(super) fn bottle(kind: BottleKind) -> &'static str {
    match kind {
        BottleKind::Aerobic => "aerobic",
        BottleKind::Anaerobic => "anaerobic",
        BottleKind::Paediatric => "paediatric",
    }
}

/// How the patient's blood volume was estimated.
pub(super) fn blood_volume(planned: &Planned<'_>) -> String {
    let by_weight = |ml_per_kg: f64| {
        format!(
            "{ml_per_kg} mL/kg x {} kg, Geigy Scientific Tables, 7th edition, as given by a university review board",
            kg(planned.weight)
        )
    };
    match planned.request.patient {
        Patient::Adult { height: Some(_), sex: Some(_), .. } => {
            "formula of Nadler, Hidalgo and Bloch 1962 from height, weight and sex".to_owned()
        }
        Patient::Adult { sex, .. } => by_weight(adult_ml_per_kg(sex)),
        Patient::Child { age, .. } => by_weight(child_ml_per_kg(age)),
    }
}

/// Where every number of the plan is from, in the order in which the plan is read.
pub(super) fn origins(planned: &Planned<'_>) -> Vec<Origin> {
    let (rules, defaults) = (planned.policy.policy.rules(), Policy::default());
    let by = |key: &str, is_default: bool, source: &str| match is_default {
        true => format!("policy {key}; equal to the default that comes along: {source}"),
        false => format!("policy {key}; the unit's own, not the default that comes along"),
    };
    let bottles = || planned.plan.sets.iter().flat_map(|set| &set.bottles);
    let mut origins = Vec::new();
    let mut add = |what: &str, from: String| origins.push(Origin { what: what.to_owned(), from });

    let is_adult = matches!(planned.request.patient, Patient::Adult { .. });
    if is_adult {
        let from_policy =
            by("adult.sets", rules.adult_sets == defaults.adult_sets, "IDSA/ASM 2018 asks for 2 to 4");
        let from = planned.args.sets.map_or(from_policy, |sets| format!("the order: --sets {sets}"));
        add("number of sets", from);
    } else {
        // The table's own name goes along, for a unit may have changed the numbers or the name.
        let is_default = rules.child_bands == defaults.child_bands;
        let table = format!("{}; volumes per set from memory, totals read there", rules.child_bands.source);
        let from = by("child.band", is_default, &table);
        let named = format!("{from}; the policy names its source as {:?}", rules.child_bands.source);
        add("sets and their volumes", if is_default { from } else { named });
    }
    if bottles().any(|bottle| bottle.kind != BottleKind::Paediatric) {
        let same = (rules.adult_fill_low, rules.adult_fill_target, rules.adult_bottle_most)
            == (defaults.adult_fill_low, defaults.adult_fill_target, defaults.adult_bottle_most);
        add(
            "fill of an adult bottle",
            by(
                "adult.fill_least_ml, adult.fill_target_ml, adult.bottle_most_ml",
                same,
                "8 to 10 mL, weighing study of 2019; 20 to 30 mL per set, IDSA/ASM 2018",
            ),
        );
    }
    if bottles().any(|bottle| bottle.kind == BottleKind::Paediatric) {
        let same = (rules.child_bottle_most, rules.least_useful)
            == (defaults.child_bottle_most, defaults.least_useful);
        add(
            "fill of a paediatric bottle",
            by("child.bottle_most_ml, blood.least_useful_ml", same, "common practice, no source"),
        );
    }
    if planned.plan.sets.iter().any(|set| {
        set.bottles.len() > 1 && set.bottles.iter().all(|bottle| bottle.kind != BottleKind::Paediatric)
    }) {
        add("order of filling", order(planned));
    }
    for (site, key, is_default, source) in [
        (
            Site::CentralLine,
            "blood.line_discard_ml",
            rules.line_discard == defaults.line_discard,
            "3 and 5 mL were found equivalent in 64 adults; one manual discards nothing when the line is cultured",
        ),
        (
            Site::Vein,
            "blood.vein_divert_ml",
            rules.vein_divert == defaults.vein_divert,
            "nothing is diverted at a vein",
        ),
    ] {
        if planned.plan.sets.iter().any(|set| set.site == site) {
            let what = if site == Site::Vein { "diverted at a vein" } else { "discarded from a line" };
            add(what, by(key, is_default, source));
        }
    }
    add("the patient's blood", format!("{}; an estimate", blood_volume(planned)));
    add("taken in the last 24 hours", taken(planned));
    add(
        "limit for 24 hours",
        by(
            "blood.day_limit_percent",
            rules.day_limit_share == defaults.day_limit_share,
            "guidelines span 1 to 5 %, Howie 2011, Bulletin of the WHO 89:46",
        ),
    );
    origins
}

fn taken(planned: &Planned<'_>) -> String {
    match planned.args.taken_today_ml {
        Some(_) => "as entered: --taken-today-ml".to_owned(),
        None => "not entered, so counted as 0 mL".to_owned(),
    }
}

fn order(planned: &Planned<'_>) -> String {
    const SYRINGE: &str = "syringe: anaerobic first (from memory, no source read)";
    const WINGED_SET: &str = "winged set: aerobic first, because its air would spoil the anaerobic bottle (a hospital's phlebotomy guide)";
    let has = |site: Site| planned.plan.sets.iter().any(|set| set.site == site);
    match (has(Site::CentralLine), has(Site::Vein), planned.request.method) {
        (true, false, _) => SYRINGE.to_owned(),
        (true, true, Method::WingedSet) => format!("line with a {SYRINGE}; vein with a {WINGED_SET}"),
        (_, _, Method::Syringe) => SYRINGE.to_owned(),
        (_, _, Method::WingedSet) => WINGED_SET.to_owned(),
    }
}

/// What the plan gave up and what to know, as a word for machines and a sentence for people.
pub(super) fn note(note: &PlanNote) -> (&'static str, String) {
    let (kind, sentence) = match *note {
        PlanNote::FewerSets { asked, planned } => {
            let sentence = format!(
                "{planned} of the {asked} sets asked for: the unit's limit leaves no blood for more. Ask the clinician \
                 who decides."
            );
            return ("fewer-sets", sentence);
        }
        PlanNote::LeastFill => {
            ("least-fill", "Bottles are planned at their least fill, to stay within the unit's limit.")
        }
        PlanNote::ShortDraw => (
            "short-draw",
            "A short draw: less than the policy asks for, because the unit's limit leaves no more. Tell the laboratory \
             and the clinician who decides.",
        ),
        PlanNote::PairNotComparable => (
            "pair-not-comparable",
            "The set from the line and the set from the vein have unequal volumes, or one is missing: their times to \
             positivity cannot be compared (IDSA 2009 asks for equal volumes).",
        ),
        PlanNote::ReadWeightAgain => {
            ("read-weight-again", "The weight decides the volumes: read it again before drawing.")
        }
        PlanNote::BloodVolumeFromWeight => (
            "blood-volume-from-weight",
            "The patient's blood is estimated from the weight alone: in a heavy or oedematous patient it is less than \
             that.",
        ),
        PlanNote::Cost(PolicyCost::FillsLess { short }) => {
            let sentence = format!(
                "The policy fills an adult bottle {short} below the 8 mL of the guides: each missing millilitre costs \
                 about 3 percentage points of yield (Mermel and Maki 1993)."
            );
            return ("fills-less", sentence);
        }
        PlanNote::Cost(PolicyCost::SingleSet) => (
            "single-set",
            "One set alone misses about a quarter of bloodstream infections (Lee 2007) and cannot tell a contaminant \
             from a cause.",
        ),
        PlanNote::Cost(PolicyCost::DiscardsMoreThanItCultures) => {
            ("discards-more-than-it-cultures", "The policy discards more from a line than it cultures.")
        }
    };
    (kind, sentence.to_owned())
}

/// Percent of bloodstream infections found, for one set less, the plan's number and one more: sets, lowest, highest.
/// The studies are of adults.
pub(super) fn found_by_sets(planned: &Planned<'_>) -> Vec<(usize, f64, f64)> {
    let n = planned.plan.sets.len();
    match planned.request.patient {
        Patient::Adult { .. } => (n.saturating_sub(1)..=n + 1)
            .filter_map(|n| published_range(n).map(|(low, high)| (n, low, high)))
            .collect(),
        Patient::Child { .. } => Vec::new(),
    }
}

/// The usual cautions of a draw: common practice, no source, except where one is named.
pub(super) fn cautions(planned: &Planned<'_>) -> Vec<&'static str> {
    let mut cautions = vec![
        "Check the patient against the wristband before the draw; label every bottle at the bedside, after filling.",
        "Never draw from an arm or lumen that is running blood, feed or drugs.",
        "Shooting pain, tingling or tremor: needle out at once. Bright pulsing blood: needle out, press 5 minutes or \
         more, call.",
        "Two attempts by one person at most, or what your policy says; then another collector.",
        "A failed attempt adds no extra draw: blood already lost counts towards the limit; plan again with it.",
        "Sharps: activate the safety device, straight into the bin, never recap.",
    ];
    if planned.request.access != Access::Vein {
        cautions.push(
            "Line: never interrupt a life-sustaining infusion; clamp before every opening. Breathlessness after an \
             opening: clamp, left side, head down, oxygen, call.",
        );
    }
    if matches!(planned.request.patient, Patient::Child { .. }) {
        cautions.push(
            "Skin antisepsis of a newborn follows the unit's own agent and amount: it can burn the skin.",
        );
    }
    cautions
}
