//! Pairs for machines; docs/json.md describes every key.

use culture::{
    APART_MOST_MIN, Collected, CultureSet, DIFFERENCE_MIN, PairDoubt, PairFinding, VOLUME_SHARE_LEAST,
};
use serde_json::{Value, json};

use super::Compared;

pub(super) fn object(compared: &Compared) -> String {
    let Compared { sets, pairs, times, .. } = compared;
    let side = |set: &CultureSet| {
        let collected = match set.collected {
            Collected::At(at) => at.to_string(),
            Collected::On(day) => day.to_string(),
        };
        json!({
            "set": set.id.0,
            "collected": collected,
            "positive_after_s": times.after_s.get(&set.id),
            "organisms": set.isolates.iter().map(|isolate| &isolate.reported_name).collect::<Vec<_>>(),
        })
    };
    let list: Vec<Value> = pairs
        .pairs
        .iter()
        .map(|pair| {
            let doubts: Vec<Value> = pair
                .doubts
                .iter()
                .map(|doubt| json!({ "kind": doubt_kind(doubt), "sentence": desk::pair_doubt(doubt) }))
                .collect();
            json!({
                "line": side(&sets[pair.line]),
                "vein": side(&sets[pair.vein]),
                "line_earlier_s": pair.line_earlier_s,
                "finding": finding_kind(&pair.finding),
                "sentence": desk::pair_finding(&pair.finding),
                "doubts": doubts,
            })
        })
        .collect();
    let object = json!({
        "schema": 1,
        "rule": {
            "difference_min": DIFFERENCE_MIN,
            "apart_most_min": APART_MOST_MIN,
            "volume_share_least": VOLUME_SHARE_LEAST,
            "source": "IDSA 2009 for 120 minutes, equal volumes and drawing at the same time; 15 minutes: common practice, no source",
        },
        "sets": sets.len(),
        "pairs": list,
        "alone": pairs.alone.iter().map(|place| &sets[*place].id.0).collect::<Vec<_>>(),
        "unused": compared.unused,
        "antibiotics_known": compared.knows_antibiotics,
    });
    format!("{object:#}\n")
}

fn finding_kind(finding: &PairFinding) -> &'static str {
    match finding {
        PairFinding::PointsToLine => "points-to-line",
        PairFinding::DoesNotPointToLine => "does-not-point-to-line",
        PairFinding::OnlyLineGrew => "only-line-grew",
        PairFinding::OnlyVeinGrew => "only-vein-grew",
        PairFinding::NeitherGrew => "neither-grew",
        PairFinding::NotComparable => "not-comparable",
    }
}

fn doubt_kind(doubt: &PairDoubt) -> &'static str {
    match doubt {
        PairDoubt::VolumeNotKnown => "volume-not-known",
        PairDoubt::UnequalVolumes { .. } => "unequal-volumes",
        PairDoubt::TimeOfDrawMissing => "time-of-draw-missing",
        PairDoubt::TooFarApart { .. } => "too-far-apart",
        PairDoubt::TimeToPositivityMissing => "time-to-positivity-missing",
        PairDoubt::DifferentOrganisms => "different-organisms",
        PairDoubt::OrganismNotKnown => "organism-not-known",
        PairDoubt::Antibiotic => "antibiotic",
    }
}
