//! A plan for machines; docs/json.md describes every key.

use ::draw::AntibioticClock;
use desk::{CAUTION, CollectionAsk, CollectionSheet, PlanBlock, UnitPolicy};
use serde_json::{Value, json};

/// One object and a line feed.
pub(super) fn object(ask: &CollectionAsk, unit: &UnitPolicy, sheet: &CollectionSheet) -> String {
    let plan = &sheet.plan;
    let sets: Vec<Value> = sheet
        .sets
        .iter()
        .zip(&plan.sets)
        .map(|(sheet, set)| {
            let bottles: Vec<Value> = sheet
                .bottles
                .iter()
                .zip(&set.bottles)
                .map(|(words, bottle)| {
                    json!({
                        "kind": words.kind,
                        "least_ml": bottle.least.to_ml(),
                        "target_ml": bottle.target.to_ml(),
                        "most_ml": bottle.most.to_ml(),
                    })
                })
                .collect();
            json!({
                "site": sheet.site,
                "lumen": sheet.lumen,
                "waste_ml": set.waste.to_ml(),
                "bottles": bottles,
            })
        })
        .collect();
    let notes: Vec<Value> =
        sheet.notes.iter().map(|note| json!({ "kind": note.kind, "sentence": note.sentence })).collect();
    let found: Vec<Value> = sheet
        .found
        .iter()
        .map(|row| {
            let studies: Vec<Value> = row
                .studies
                .iter()
                .map(|(study, percent)| json!({ "study": study, "percent": percent }))
                .collect();
            json!({
                "sets": row.sets,
                "is_plan": row.is_plan,
                "low_percent": row.published.0,
                "high_percent": row.published.1,
                "studies": studies,
                "volume_ml": row.volume_ml,
                "by_volume_low_percent": row.by_volume.map(|range| range.0),
                "by_volume_high_percent": row.by_volume.map(|range| range.1),
            })
        })
        .collect();
    let object = json!({
        "schema": 2,
        "patient": if ask.is_child == Some(true) { "child" } else { "adult" },
        "patient_in_words": sheet.patient,
        "weight_kg": sheet.weight_kg,
        "policy": {
            "name": unit.name,
            "version": unit.version,
            "confirmed_by": unit.policy.confirmed_by(),
        },
        "sets": sets,
        "cultured_ml": plan.cultured.to_ml(),
        "waste_ml": plan.waste.to_ml(),
        "flush_ml": plan.flush.to_ml(),
        "total_ml": plan.total.to_ml(),
        "blood_volume_ml": plan.blood_volume.to_ml(),
        "blood_volume_from": sheet.blood_volume_from,
        "share": plan.share,
        "taken_today_ml": ask.taken_today_ml.unwrap_or(0.0),
        "taken_today_entered": ask.taken_today_ml.is_some(),
        "day_total_ml": plan.day_total.to_ml(),
        "day_limit_ml": plan.day_limit.to_ml(),
        "day_limit_share": unit.policy.rules().day_limit_share,
        "haemoglobin": plan.haemoglobin.map(|cost| json!({
            "taken_g": cost.taken_g,
            "before_g_per_l": cost.before_g_per_l,
            "after_g_per_l": cost.after_g_per_l,
        })),
        "shortest_s": plan.shortest.to_s(),
        "breakdowns": ask.jobs.iter().map(|job| &job.name).collect::<Vec<_>>(),
        "laboratory_by": plan.latest.laboratory.to_string(),
        "incubator_by": plan.latest.incubator.to_string(),
        "antibiotic": antibiotic(&plan.antibiotic),
        "notes": notes,
        "found_by_sets": found,
        "blocks": sheet.blocks.iter().map(block).collect::<Vec<_>>(),
        "stops": sheet.stops,
        "cautions": sheet.cautions,
        "caution": CAUTION,
    });
    format!("{object:#}\n")
}

fn block(block: &PlanBlock) -> Value {
    let rows: Vec<Value> = block
        .rows
        .iter()
        .map(|row| json!({ "what": row.what, "value": row.value, "from": row.from }))
        .collect();
    json!({ "key": block.key, "title": block.title, "rows": rows, "remark": block.remark })
}

fn antibiotic(clock: &AntibioticClock) -> Value {
    match *clock {
        AntibioticClock::NotStated => json!({ "kind": "not-entered" }),
        AntibioticClock::NoneDue => json!({ "kind": "none" }),
        AntibioticClock::Given { before } => json!({ "kind": "given", "before_draw_s": before.to_s() }),
        AntibioticClock::DrawFirst { spare } => json!({ "kind": "draw-first", "spare_s": spare.to_s() }),
        AntibioticClock::DoseWaits { by, most } => {
            json!({ "kind": "dose-waits", "waits_s": by.to_s(), "waits_most_s": most.to_s() })
        }
        AntibioticClock::DoseFirst { by, most } => {
            json!({ "kind": "dose-first", "waits_s": by.to_s(), "waits_most_s": most.to_s() })
        }
    }
}
