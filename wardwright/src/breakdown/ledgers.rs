//! What a job takes, added up from its quantities: blood, bottle fill, time and supplies. `check` and `show` print it.

use std::fmt::Write;

use ::breakdown::Breakdown;
use ::breakdown::ledger::{self, TimeUse, VolumeRange};
use serde_json::{Value, json};

/// The ledgers of a breakdown in words, each on lines of its own.
pub(super) fn in_words(breakdown: &Breakdown, draws: u32) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |words: String| {
        let _ = writeln!(text, "{words}");
    };
    let blood = ledger::blood(breakdown);
    line("Blood".to_owned());
    let mut row = |name: &str, range: Option<VolumeRange>| {
        line(format!("  {name}: {}", range.map_or("not known".to_owned(), |range| range.to_string())));
    };
    row("into the bottles, per set", blood.cultured_per_set);
    row("discarded, per set", Some(blood.wasted_per_set));
    row("given back, per set", Some(blood.returned_per_set));
    row("taken from the patient, per set", blood.taken_per_set);
    row("taken from the patient, all sets of the job", blood.taken_per_patient);
    for missing in &blood.unknown {
        line(format!("  the breakdown does not state the {missing}"));
    }
    if let Some(fill) = ledger::bottle_fill(breakdown, ledger::recommended_adult_fill()) {
        line("Fill of an adult bottle".to_owned());
        line(format!("  stated {}, guides {}", fill.stated, fill.recommended));
        if !fill.short.is_nothing() {
            let lost = fill.yield_lost;
            line(format!("  short by {} a bottle", fill.short));
            line(format!(
                "  yield lost: about {:.0} to {:.0} percentage points at 3 per mL; {:.1} to {:.1} over the published interval",
                lost.about_low, lost.about_high, lost.at_least, lost.at_most
            ));
            line("  (Mermel and Maki 1993: 8.7 against 2.7 mL, 23 points, 95 % interval 9 to 37; later work found less)".to_owned());
        }
        if fill.over.to_ml() > 0.0 {
            line(format!("  above the guides by up to {}: the bottle's own maximum comes first", fill.over));
        }
    }
    let time = ledger::time(breakdown);
    line("Time that must pass (handling comes on top)".to_owned());
    for entry in &time.entries {
        line(format!("  {}  {}: {}", entry.item, used_for(entry.used_for), entry.stated));
    }
    line(format!("  one after another: {}", time.one_after_another));
    line(format!("  if different things dry side by side: {}", time.side_by_side));
    line(format!("Supplies for {draws} {}", if draws == 1 { "draw" } else { "draws" }));
    let supplies = ledger::supplies(breakdown, draws);
    if supplies.is_empty() {
        line("  the breakdown lists none".to_owned());
    }
    for need in supplies {
        match need.count {
            Some(count) => line(format!("  {count} x {}", need.name)),
            None => line(format!("  {} (no count given)", need.name)),
        }
    }
    text
}

/// The same as an object with the keys `blood`, `fill`, `time`, `draws` and `supplies`.
pub(super) fn as_json(breakdown: &Breakdown, draws: u32) -> Value {
    let blood = ledger::blood(breakdown);
    let fill = ledger::bottle_fill(breakdown, ledger::recommended_adult_fill()).map(|fill| {
        json!({
            "stated_ml": range(fill.stated),
            "recommended_ml": range(fill.recommended),
            "short_ml": range(fill.short),
            "over_ml": fill.over.to_ml(),
            "yield_lost_points": {
                "about": [fill.yield_lost.about_low, fill.yield_lost.about_high],
                "interval": [fill.yield_lost.at_least, fill.yield_lost.at_most],
                "source": "Mermel and Maki 1993, Annals of Internal Medicine 119:270",
            },
        })
    });
    let time = ledger::time(breakdown);
    let supplies = ledger::supplies(breakdown, draws);
    let entries = time.entries.iter().map(|entry| {
        json!({
            "item": entry.item.to_string(),
            "for": used_for(entry.used_for),
            "stated": entry.stated.to_string(),
            "at_least_s": entry.at_least.to_s(),
        })
    });
    json!({
        "blood": {
            "cultured_per_set_ml": blood.cultured_per_set.map(range),
            "wasted_per_set_ml": range(blood.wasted_per_set),
            "returned_per_set_ml": range(blood.returned_per_set),
            "taken_per_set_ml": blood.taken_per_set.map(range),
            "taken_per_patient_ml": blood.taken_per_patient.map(range),
            "unknown": blood.unknown,
        },
        "fill": fill,
        "time": {
            "entries": entries.collect::<Vec<_>>(),
            "one_after_another_s": time.one_after_another.to_s(),
            "side_by_side_s": time.side_by_side.to_s(),
        },
        "draws": draws,
        "supplies": supplies.iter().map(|need| json!({ "name": need.name, "count": need.count })).collect::<Vec<_>>(),
    })
}

fn used_for(used: TimeUse) -> &'static str {
    match used {
        TimeUse::Contact => "contact",
        TimeUse::Dry => "drying",
        TimeUse::Wait => "waiting",
    }
}

fn range(range: VolumeRange) -> [f64; 2] {
    [range.low.to_ml(), range.high.to_ml()]
}
