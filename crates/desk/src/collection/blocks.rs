//! The values of a plan, each with where it is from.

use draw::{
    AFTER_DOSE, AntibioticClock, BottleKind, ConductRules, DivertedInto, Gloves, LineRules, Mask, OrderRules,
    Pairing, Patient, Policy, Site, Supply, TimeRules,
};
use quantity::Volume;

use super::origin::{blood_volume, by};
use super::refusal::moment;
use super::sets::bottle;
use super::{Case, PlanBlock, PlanRow, chance, cleaning};

pub(super) fn all(case: &Case<'_>) -> Vec<PlanBlock> {
    let mut blocks = vec![blood(case), order(case), cleaning::block(case)];
    blocks.extend(line(case));
    blocks.extend([time(case), supplies(case), conduct(case), chance::block(case)]);
    blocks
}

fn row(what: &str, value: String, from: impl Into<String>) -> PlanRow {
    PlanRow { what: what.to_owned(), value, from: from.into() }
}

fn blood(case: &Case<'_>) -> PlanBlock {
    let (plan, rules, defaults) = (&case.plan, case.policy.rules(), Policy::default());
    let mut rows = Vec::new();
    if matches!(case.request.patient, Patient::Adult { .. }) {
        let from_policy =
            by("adult.sets", rules.adult_sets == defaults.adult_sets, "IDSA/ASM 2018 asks for 2 to 4");
        let from = case.ask.sets.map_or(from_policy, |_| "the order, as entered".to_owned());
        rows.push(row("sets", plan.sets.len().to_string(), from));
    } else {
        // The table's own name goes along, for a unit may have changed the numbers or the name.
        let is_default = rules.child_bands == defaults.child_bands;
        let table = format!("{}; volumes per set from memory, totals read there", rules.child_bands.source);
        let from = by("child.band", is_default, &table);
        let named = format!("{from}; the policy names its source as {:?}", rules.child_bands.source);
        let from = if is_default { from } else { named };
        rows.push(row("sets, by the weight table", plan.sets.len().to_string(), from));
    }
    rows.push(row("into bottles", plan.cultured.to_string(), fill_from(case)));
    rows.push(row("into no bottle", plan.waste.to_string(), waste_from(case)));
    rows.push(row(
        "this collection",
        format!("{}, {:.1} % of the patient's blood", plan.total, plan.share * 100.0),
        "the two above, over the patient's blood",
    ));
    rows.push(row(
        "the patient's blood",
        format!("about {:.0} mL", plan.blood_volume.to_ml()),
        format!("{}; an estimate, whose source gives no interval", blood_volume(case)),
    ));
    rows.push(match case.ask.taken_today_ml {
        Some(_) => row("taken in 24 hours before", case.request.taken_today.to_string(), "as entered"),
        None => row("taken in 24 hours before", "NOT ENTERED, counted as 0 mL".to_owned(), "nothing entered"),
    });
    rows.push(row(
        "24 hours with this plan",
        format!(
            "{} of at most {} ({} % of the patient's blood)",
            plan.day_total,
            plan.day_limit,
            (rules.day_limit_share * 10_000.0).round() / 100.0
        ),
        by(
            "blood.day_limit_percent",
            rules.day_limit_share == defaults.day_limit_share,
            "guidelines span 1 to 5 %, Howie 2011, Bulletin of the WHO 89:46",
        ),
    ));
    rows.push(match plan.haemoglobin {
        Some(cost) => row(
            "haemoglobin",
            format!(
                "{:.1} g taken; {} g/L before, about {:.1} g/L once the volume is made up",
                cost.taken_g, cost.before_g_per_l, cost.after_g_per_l
            ),
            "entered value x volume; Gross 1983, Anesthesiology 58:277, from memory; without bleeding or transfusion; no \
             interval in the source",
        ),
        None => row(
            "haemoglobin",
            "left out: it was not entered".to_owned(),
            "the share of blood above does not depend on it",
        ),
    });
    PlanBlock { key: "blood", title: "Blood", rows, remark: None }
}

fn fill_from(case: &Case<'_>) -> String {
    let (rules, defaults) = (case.policy.rules(), Policy::default());
    let mut from = Vec::new();
    let has = |paediatric: bool| {
        let mut bottles = case.plan.sets.iter().flat_map(|set| &set.bottles);
        bottles.any(|bottle| (bottle.kind == BottleKind::Paediatric) == paediatric)
    };
    if has(false) {
        let same = (rules.adult_fill_low, rules.adult_fill_target, rules.adult_bottle_most)
            == (defaults.adult_fill_low, defaults.adult_fill_target, defaults.adult_bottle_most);
        from.push(by(
            "adult.fill_least_ml, adult.fill_target_ml, adult.bottle_most_ml",
            same,
            "8 to 10 mL, weighing study of 2019; 20 to 30 mL per set, IDSA/ASM 2018",
        ));
    }
    if has(true) {
        let same = (rules.child_bottle_most, rules.least_useful)
            == (defaults.child_bottle_most, defaults.least_useful);
        from.push(by("child.bottle_most_ml, blood.least_useful_ml", same, "common practice, no source"));
    }
    from.join("; ")
}

fn waste_from(case: &Case<'_>) -> String {
    let (rules, defaults) = (case.policy.rules(), Policy::default());
    let mut from = Vec::new();
    if case.plan.sets.iter().any(|set| set.site.is_line()) {
        from.push(by(
            "blood.line_discard_ml",
            rules.line_discard == defaults.line_discard,
            "3 and 5 mL were found equivalent in 64 adults; one manual discards nothing when the line is cultured",
        ));
    }
    if case.plan.sets.iter().any(|set| set.site == Site::Vein) {
        let is_default = rules.vein_divert == defaults.vein_divert;
        from.push(by("blood.vein_divert_ml", is_default, "nothing is diverted at a vein"));
    }
    if from.is_empty() {
        from.push("nothing is discarded from a cannula: common practice, no source".to_owned());
    }
    from.join("; ")
}

fn order(case: &Case<'_>) -> PlanBlock {
    let (rules, defaults) = (&case.policy.rules().order, OrderRules::default());
    let adult = case.plan.sets.iter().flat_map(|set| &set.bottles).any(|b| b.kind != BottleKind::Paediatric);
    let mut rows = Vec::new();
    if adult {
        rows.push(row(
            "winged set",
            format!("{} first", bottle(rules.winged_set_first)),
            by(
                "order.winged_set_first",
                rules.winged_set_first == defaults.winged_set_first,
                "the air of its tubing, about 0.5 mL, would spoil the anaerobic bottle; a hospital's phlebotomy guide",
            ),
        ));
        rows.push(row(
            "syringe",
            format!("{} first", bottle(rules.syringe_first)),
            by(
                "order.syringe_first",
                rules.syringe_first == defaults.syringe_first,
                "from memory, no source read",
            ),
        ));
        rows.push(row(
            "short draw",
            format!(
                "{} or less came: all of it into the aerobic bottle, up to its most, whatever the method",
                rules.short_draw
            ),
            by("order.short_draw_ml", rules.short_draw == defaults.short_draw, "IDSA/ASM, from memory"),
        ));
    } else {
        rows.push(row(
            "short draw",
            "fill one bottle to its target before the next".to_owned(),
            "common practice, no source",
        ));
    }
    if case.policy.rules().vein_divert > Volume::ZERO {
        let (into, says) = match rules.diverted_into {
            DivertedInto::Waste => ("into waste", "1 mL diverted: 2.8 to 1.4 %, Patton and Schmitt 2010"),
            DivertedInto::Tubes => ("into tubes for other tests", "a trial of it: Lalezari 2020"),
        };
        rows.push(row(
            "first blood at a vein",
            into.to_owned(),
            format!("policy order.diverted_into; {says}"),
        ));
    }
    rows.push(row(
        "other tubes",
        "after the culture bottles".to_owned(),
        "common practice: stoppers of other tubes are not sterile",
    ));
    PlanBlock { key: "order", title: "Order of filling", rows, remark: None }
}

fn line(case: &Case<'_>) -> Option<PlanBlock> {
    let (rules, defaults) = (case.policy.rules(), Policy::default());
    let n_lines = case.plan.sets.iter().filter(|set| set.site.is_line()).count();
    if n_lines == 0 {
        return None;
    }
    let lines = LineRules::default();
    let pairing = match case.plan.pairing {
        Pairing::LineAndVein => Some((
            "line first, then a vein, equal volumes, no more than 15 minutes apart",
            "IDSA 2009: the line's bottle positive 120 minutes or more before the vein's points to the line",
        )),
        Pairing::TwoLumens => {
            Some(("two lumens or lines, equal volumes", "IDSA 2009, from memory: where no vein can be had"))
        }
        Pairing::NotPossible => Some(("no pair can be made", "one lumen, and no vein")),
        Pairing::NotAsked => None,
    };
    let mut rows = Vec::new();
    if let Some((value, from)) = pairing {
        rows.push(row("pair", value.to_owned(), from));
    }
    rows.push(row(
        "discard before each set",
        rules.line_discard.to_string(),
        by(
            "blood.line_discard_ml",
            rules.line_discard == defaults.line_discard,
            "3 and 5 mL equivalent in 64 adults",
        ),
    ));
    rows.push(row(
        "flush after each set",
        format!("{} of saline, {} in all", rules.line.flush, case.plan.flush),
        by("line.flush_ml", rules.line.flush == lines.flush, "often 10 to 20 mL, common practice, no source"),
    ));
    rows.push(row(
        "connector",
        if rules.line.connector_changed { "a new sterile one first" } else { "drawn through the one in place" }
            .to_owned(),
        by(
            "line.new_connector",
            rules.line.connector_changed == lines.connector_changed,
            "Mathew 2009: 36 positive through old connectors, 17 of them confirmed through new ones; opening a line has \
             a risk of its own",
        ),
    ));
    Some(PlanBlock {
        key: "line",
        title: "The line",
        rows,
        remark: Some(
            "Syringe of 10 mL or more, gentle pull. Never interrupt a life-sustaining infusion; clamp before every \
             opening (common practice, no source)."
                .to_owned(),
        ),
    })
}

fn time(case: &Case<'_>) -> PlanBlock {
    let (rules, defaults) = (&case.policy.rules().time, TimeRules::default());
    let plan = &case.plan;
    let jobs: Vec<String> = case.ask.jobs.iter().map(|job| format!("{:?}", job.name)).collect();
    let longer = if jobs.is_empty() {
        "no breakdown was chosen".to_owned()
    } else {
        format!("each the longer of the policy's and that of {}", jobs.join(" and "))
    };
    let mut rows = vec![row(
        "at the least",
        format!(
            "{} of contact and drying alone: the puncture, filling and labels are not in it, and no published time of \
             them is at hand",
            plan.shortest
        ),
        format!(
            "contact and dry times above, one set after the other, {longer}; policy conduct.between_sets_min"
        ),
    )];
    let dose = by(
        "time.dose_waits_most_min",
        rules.dose_waits_most == defaults.dose_waits_most,
        "Surviving Sepsis Campaign 2021, from memory: cultures first, if that delays the dose by less than 45 minutes",
    );
    let (value, from) = match plan.antibiotic {
        AntibioticClock::NotStated => {
            ("not entered: cultures come before the first dose, and never delay it".to_owned(), dose)
        }
        AntibioticClock::NoneDue => ("none given, none due".to_owned(), "as entered".to_owned()),
        AntibioticClock::Given { before } => (given(before.to_minutes()), given_from()),
        AntibioticClock::DrawFirst { spare } => (
            format!("draw first: {spare} are left for puncture, filling and labels before the dose is due"),
            dose,
        ),
        AntibioticClock::DoseWaits { by, most } => (
            format!(
                "draw first: the dose waits {by} or a little more; the policy allows {most} at most, so start now"
            ),
            dose,
        ),
        AntibioticClock::DoseFirst { by, most } => (
            format!(
                "GIVE THE DOSE FIRST: it would wait {by}, and the policy allows {most} at most; draw as soon as it runs"
            ),
            dose,
        ),
    };
    rows.push(row("antibiotic", value, from));
    rows.push(row(
        "at the laboratory by",
        moment(plan.latest.laboratory),
        format!(
            "{} after the draw: {}; never in a refrigerator",
            rules.to_laboratory,
            by(
                "time.to_laboratory_min",
                rules.to_laboratory == defaults.to_laboratory,
                "CLSI 2007, from memory"
            )
        ),
    ));
    rows.push(row(
        "in the incubator by",
        moment(plan.latest.incubator),
        format!(
            "{} after the draw: {}",
            rules.to_incubator,
            by(
                "time.to_incubator_min",
                rules.to_incubator == defaults.to_incubator,
                "UK SMI B 37 and NHS England 2022, from memory"
            )
        ),
    ));
    PlanBlock {
        key: "time",
        title: "Time",
        rows,
        remark: Some(format!("The draw is planned for {}.", moment(case.request.draw_at))),
    }
}

/// A dose was given: draw all the same, and what that costs as far as anybody has measured it.
fn given(before_min: f64) -> String {
    let (share, low, high) = AFTER_DOSE.found_after;
    let (lost, lost_low, lost_high) = AFTER_DOSE.points_lost;
    let start =
        format!("given {before_min:.0} min before the draw: draw now all the same, and tell the laboratory");
    if before_min > AFTER_DOSE.within_min {
        return format!(
            "{start}; fewer infections are found after a dose. How many fewer so long after it is in no study at hand, and \
             so there is no number"
        );
    }
    format!(
        "{start}. In one study {share} % ({low} to {high} %) of the adults positive before a dose were positive again within \
         {:.0} min after it: {lost:.1} percentage points fewer of all ({lost_low} to {lost_high})",
        AFTER_DOSE.within_min
    )
}

fn given_from() -> String {
    let (before, after, all) = AFTER_DOSE.counts;
    format!(
        "as entered; {}: {before} of {all} positive before, {after} of {all} after a median of 70 min, severe sepsis in 7 \
         emergency departments; 95 % intervals; read in the abstract. One study: another place or agent may differ",
        AFTER_DOSE.source
    )
}

fn supplies(case: &Case<'_>) -> PlanBlock {
    let rows = case
        .plan
        .supplies
        .iter()
        .map(|supply| {
            let (what, how_many, from) = supply_words(*supply);
            row(what, how_many, from)
        })
        .collect();
    PlanBlock {
        key: "supplies",
        title: "Supplies",
        rows,
        remark: Some("Check dates; broth clear, bottles whole.".to_owned()),
    }
}

/// What, how many, and why.
fn supply_words(supply: Supply) -> (&'static str, String, &'static str) {
    const COMMON: &str = "common practice, no source";
    match supply {
        Supply::Bottles(BottleKind::Aerobic, n) => ("aerobic bottles", n.to_string(), "this plan"),
        Supply::Bottles(BottleKind::Anaerobic, n) => ("anaerobic bottles", n.to_string(), "this plan"),
        Supply::Bottles(BottleKind::Paediatric, n) => ("paediatric bottles", n.to_string(), "this plan"),
        Supply::Labels(n) => {
            ("labels", n.to_string(), "one for each bottle, put on at the bedside after filling")
        }
        Supply::Pen => ("pen", "1".to_owned(), "to mark the fill on each upright bottle (Keller 2024)"),
        Supply::WingedSets(n) => ("winged sets with holder", n.to_string(), "one for each vein"),
        Supply::SafetyNeedles(n) => ("needles with safety device", n.to_string(), "one for each vein"),
        Supply::Syringes(n, held) => (
            "syringes of 20 mL",
            format!("{n}, for {held} in all"),
            "or more of a smaller size, never below 10 mL at a line",
        ),
        Supply::TransferDevices(n) => {
            ("transfer devices", n.to_string(), "one for each set drawn with a syringe")
        }
        Supply::DiscardSyringes(n) => {
            ("syringes of 10 mL for discard", n.to_string(), "policy blood.line_discard_ml")
        }
        Supply::DiversionTubes(n) => {
            ("tubes for the first blood", n.to_string(), "policy blood.vein_divert_ml")
        }
        Supply::Tourniquet => ("tourniquet", "1, single use".to_owned(), COMMON),
        Supply::SkinAntiseptic(n) => ("skin antiseptic", n.to_string(), "one for each vein"),
        Supply::BottleTopWipes(n) => ("wipes for bottle tops", n.to_string(), "one for each bottle"),
        Supply::ConnectorWipes(n) => {
            ("wipes for the connector", n.to_string(), "one for each set from a line or cannula")
        }
        Supply::Connectors(n) => ("new sterile connectors", n.to_string(), "policy line.new_connector"),
        Supply::Flush(volume) => ("saline to flush", volume.to_string(), "policy line.flush_ml"),
        Supply::Gloves(Gloves::Sterile, n) => {
            ("sterile gloves", format!("{n} pairs"), "policy conduct.gloves")
        }
        Supply::Gloves(Gloves::Clean, n) => ("clean gloves", format!("{n} pairs"), "policy conduct.gloves"),
        Supply::Mask => ("mask", "1".to_owned(), "policy conduct.mask"),
        Supply::Drapes(n) => ("sterile drapes", n.to_string(), "policy conduct.drape"),
        Supply::SharpsBin => ("sharps bin", "1, within reach".to_owned(), COMMON),
        Supply::Dressings(n) => ("gauze or dressing", n.to_string(), COMMON),
    }
}

fn conduct(case: &Case<'_>) -> PlanBlock {
    let (rules, defaults) = (&case.policy.rules().conduct, ConductRules::default());
    const COMMON: &str = "common practice, no source";
    let has = |wanted: fn(Site) -> bool| case.plan.sets.iter().any(|set| wanted(set.site));
    let mut rows = Vec::new();
    for (present, what, key, value, default) in [
        (
            has(|site| matches!(site, Site::Vein | Site::NewCannula)),
            "who draws from a vein",
            "conduct.who_vein",
            &rules.who_vein,
            &defaults.who_vein,
        ),
        (
            has(|site| matches!(site, Site::CentralLine { .. })),
            "who draws from a central line",
            "conduct.who_central_line",
            &rules.who_central_line,
            &defaults.who_central_line,
        ),
        (
            has(|site| site == Site::ArterialLine),
            "who draws from an arterial line",
            "conduct.who_arterial_line",
            &rules.who_arterial_line,
            &defaults.who_arterial_line,
        ),
    ] {
        if present {
            rows.push(row(what, value.clone(), by(key, value == default, COMMON)));
        }
    }
    rows.push(row(
        "attempts",
        format!("{} by one person at most, then another collector", rules.attempts),
        by("conduct.attempts", rules.attempts == defaults.attempts, COMMON),
    ));
    rows.push(row(
        "gloves",
        if rules.gloves == Gloves::Sterile { "sterile" } else { "clean" }.to_owned(),
        by(
            "conduct.gloves",
            rules.gloves == defaults.gloves,
            "Kim 2011: 0.6 against 1.1 % contaminated with sterile gloves",
        ),
    ));
    let mask = match rules.mask {
        Mask::Never => "not asked for",
        Mask::AtLines => "when a line is opened",
        Mask::Always => "always",
    };
    rows.push(row("mask", mask.to_owned(), by("conduct.mask", rules.mask == defaults.mask, COMMON)));
    rows.push(row(
        "drape",
        if rules.drape { "a sterile one" } else { "not asked for" }.to_owned(),
        by(
            "conduct.drape",
            rules.drape == defaults.drape,
            "dropped at one site because it was not kept: Self 2014",
        ),
    ));
    rows.push(row(
        "second checker",
        if rules.second_checker { "checks patient, order and labels" } else { "not asked for" }.to_owned(),
        by("conduct.second_checker", rules.second_checker == defaults.second_checker, COMMON),
    ));
    PlanBlock { key: "conduct", title: "Who, and with what", rows, remark: None }
}
