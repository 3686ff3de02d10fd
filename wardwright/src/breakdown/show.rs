//! `wardwright breakdown show`.

use std::fmt::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::ledger::{self, VolumeRange};
use ::breakdown::{Breakdown, ItemId};
use clap::Args;
use serde_json::{Value, json};

use super::check::summary;
use super::{print, read_file};
use crate::message::{FAULTS, Message};

/// Show a breakdown with its ledgers: blood, bottle fill, times and supplies
///
/// Shows what could be read even when the file has faults (exit code 1 then; `breakdown check` names them).
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// Breakdown file
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Draws to count the supplies for
    #[arg(long, default_value_t = 1, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    draws: u32,
    /// Print one JSON object for machines
    #[arg(long)]
    json: bool,
}

pub fn run(args: &ShowArgs) -> ExitCode {
    let parsed = match read_file(&args.file) {
        Ok(parsed) => parsed,
        Err(message) => return message.give_up(),
    };
    let Some(breakdown) = &parsed.breakdown else {
        let file = args.file.display().to_string();
        let fault = parsed.faults.first();
        return Message::new(
            file,
            fault.map_or("no breakdown".to_owned(), |fault| fault.found()),
            fault.map_or("a breakdown".to_owned(), |fault| fault.expected()),
            fault.map_or("check that this is the right file".to_owned(), |fault| fault.to_do()),
        )
        .give_up();
    };
    if args.json {
        print(&format!("{:#}\n", as_json(breakdown, args.draws)));
    } else {
        print(&in_words(breakdown, args.draws));
    }
    if parsed.is_sound() {
        return ExitCode::SUCCESS;
    }
    eprintln!("{} has faults: run `wardwright breakdown check {0}`", args.file.display());
    ExitCode::from(FAULTS)
}

fn in_words(breakdown: &Breakdown, draws: u32) -> String {
    let mut text = format!("{}\n", summary(breakdown));
    // Writing to a string cannot fail.
    let mut line = |words: String| {
        let _ = writeln!(text, "{words}");
    };
    let given = |name: &Option<String>| name.clone().unwrap_or_else(|| "not given".to_owned());
    let effective = breakdown.effective.map_or("not given".to_owned(), |date| date.to_string());
    line(format!("in force from {effective}; written by {}", given(&breakdown.author)));
    line(format!("approved by {}", given(&breakdown.approved_by)));
    line(String::new());
    for caution in &breakdown.cautions {
        line(format!("CAUTION  {caution}"));
    }
    for (number, step) in (1u16..).zip(&breakdown.steps) {
        line(String::new());
        line(format!("{number}  {}", step.name));
        for (point_number, point) in (1u16..).zip(&step.key_points) {
            let id = ItemId::key_point(number, point_number);
            line(format!("  {id}  {}: {}", point.kind.words(), point.text));
            for reason in &point.reasons {
                line(format!("       because {reason}"));
            }
            for quantity in &point.quantities {
                line(format!("       number to know: {quantity}"));
            }
        }
    }
    for order in &breakdown.orders {
        line(format!("order that binds: {} before {}", order.first, order.then));
    }
    line(String::new());
    ledgers(breakdown, draws, &mut line);
    text
}

fn ledgers(breakdown: &Breakdown, draws: u32, line: &mut impl FnMut(String)) {
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
        line(format!("  {}  {}", entry.item, entry.stated));
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
}

fn as_json(breakdown: &Breakdown, draws: u32) -> Value {
    let steps: Vec<Value> = (1u16..)
        .zip(&breakdown.steps)
        .map(|(number, step)| {
            let points = (1u16..).zip(&step.key_points).map(|(point_number, point)| {
                json!({
                    "item": ItemId::key_point(number, point_number).to_string(),
                    "kind": point.kind.words(),
                    "label": point.label,
                    "text": point.text,
                    "reasons": point.reasons,
                    "quantities": point.quantities.iter().map(ToString::to_string).collect::<Vec<_>>(),
                    "line": point.line,
                })
            });
            json!({ "item": number.to_string(), "name": step.name, "key_points": points.collect::<Vec<_>>() })
        })
        .collect();
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
    json!({
        "schema": 1,
        "job": breakdown.job,
        "code": breakdown.code.0,
        "version": breakdown.version.0,
        "effective": breakdown.effective.map(|date| date.to_string()),
        "author": breakdown.author,
        "approved_by": breakdown.approved_by,
        "cautions": breakdown.cautions,
        "steps": steps,
        "orders": breakdown.orders.iter().map(|pair| [&pair.first, &pair.then]).collect::<Vec<_>>(),
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
            "one_after_another_s": time.one_after_another.to_s(),
            "side_by_side_s": time.side_by_side.to_s(),
        },
        "draws": draws,
        "supplies": supplies.iter().map(|need| json!({ "name": need.name, "count": need.count })).collect::<Vec<_>>(),
    })
}

fn range(range: VolumeRange) -> [f64; 2] {
    [range.low.to_ml(), range.high.to_ml()]
}
