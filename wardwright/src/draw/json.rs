//! A plan for machines; docs/json.md describes every key.

use ::draw::Site;
use serde_json::{Value, json};

use super::{Planned, words};

/// One object and a line feed.
pub(super) fn object(planned: &Planned<'_>) -> String {
    let plan = &planned.plan;
    let policy = &planned.policy;
    let sets: Vec<Value> = plan
        .sets
        .iter()
        .map(|set| {
            let bottles: Vec<Value> = set
                .bottles
                .iter()
                .map(|bottle| {
                    json!({
                        "kind": words::bottle(bottle.kind),
                        "least_ml": bottle.least.to_ml(),
                        "target_ml": bottle.target.to_ml(),
                        "most_ml": bottle.most.to_ml(),
                    })
                })
                .collect();
            let site = match set.site {
                Site::Vein => "vein",
                Site::CentralLine => "central-line",
            };
            json!({ "site": site, "waste_ml": set.waste.to_ml(), "bottles": bottles })
        })
        .collect();
    let notes: Vec<Value> = plan
        .notes
        .iter()
        .map(|note| {
            let (kind, sentence) = words::note(note);
            json!({ "kind": kind, "sentence": sentence })
        })
        .collect();
    let found: Vec<Value> = words::found_by_sets(planned)
        .into_iter()
        .map(|(sets, low, high)| json!({ "sets": sets, "low_percent": low, "high_percent": high }))
        .collect();
    let origins: Vec<Value> = words::origins(planned)
        .into_iter()
        .map(|origin| json!({ "what": origin.what, "from": origin.from }))
        .collect();
    let object = json!({
        "schema": 1,
        "patient": if planned.args.child { "child" } else { "adult" },
        "patient_in_words": words::patient(planned),
        "weight_kg": planned.weight.to_kg(),
        "policy": {
            "name": policy.name,
            "version": policy.version,
            "confirmed_by": policy.policy.confirmed_by(),
        },
        "sets": sets,
        "cultured_ml": plan.cultured.to_ml(),
        "waste_ml": plan.waste.to_ml(),
        "total_ml": plan.total.to_ml(),
        "blood_volume_ml": plan.blood_volume.to_ml(),
        "blood_volume_from": words::blood_volume(planned),
        "share": plan.share,
        "taken_today_ml": planned.request.taken_today.to_ml(),
        "taken_today_entered": planned.args.taken_today_ml.is_some(),
        "day_total_ml": plan.day_total.to_ml(),
        "day_limit_ml": plan.day_limit.to_ml(),
        "day_limit_share": policy.policy.rules().day_limit_share,
        "notes": notes,
        "found_by_sets": found,
        "origins": origins,
        "cautions": words::cautions(planned),
        "caution": words::CAUTION,
    });
    format!("{object:#}\n")
}
