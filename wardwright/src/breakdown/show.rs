//! `wardwright breakdown show`.

use std::fmt::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::ledger;
use ::breakdown::{Breakdown, ItemId};
use clap::{Args, ValueEnum};
use desk::{Body, PatientBlood, Sex, patient_blood, percent};
use serde_json::{Value, json};

use super::check::summary;
use super::{ledgers, print, read_file};
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
    /// Weight in kilograms of a patient to hold the blood against
    #[arg(long, value_name = "KG")]
    weight: Option<f64>,
    /// Height of an adult in metres, for Nadler's formula
    #[arg(long, value_name = "M", requires = "weight")]
    height: Option<f64>,
    /// Whose blood: a woman's, a man's or a child's
    #[arg(long, value_enum, value_name = "WHO", requires = "weight")]
    patient: Option<Who>,
    /// Blood taken before in the same 24 hours, in millilitres
    #[arg(long, default_value_t = 0.0, value_name = "ML", requires = "weight")]
    taken_before: f64,
    /// Print one JSON object for machines
    #[arg(long)]
    json: bool,
}

/// Whose blood a job is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Who {
    Woman,
    Man,
    Child,
}

impl ShowArgs {
    fn body(&self) -> Option<Body> {
        let sex = match self.patient {
            Some(Who::Woman) => Some(Sex::Female),
            Some(Who::Man) => Some(Sex::Male),
            Some(Who::Child) | None => None,
        };
        Some(Body {
            sex,
            height_m: self.height,
            weight_kg: self.weight?,
            child: self.patient == Some(Who::Child),
        })
    }

    /// What the job takes of the patient's blood; nothing where no patient is given or the breakdown does not say how
    /// much blood it takes.
    fn patient(&self, breakdown: &Breakdown) -> Result<Option<PatientBlood>, Message> {
        let Some((body, taken)) = self.body().zip(ledger::blood(breakdown).taken_per_patient) else {
            return Ok(None);
        };
        patient_blood(taken, body, self.taken_before).map(Some).map_err(|error| {
            Message::new(
                "the patient",
                error.to_string(),
                "a body that can be",
                "correct the number and run the command again",
            )
        })
    }
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
    let patient = match args.patient(breakdown) {
        Ok(patient) => patient,
        Err(message) => return message.give_up(),
    };
    if args.json {
        print(&format!("{:#}\n", as_json(breakdown, args.draws, patient.as_ref())));
    } else {
        let mut text = in_words(breakdown, args.draws);
        if let Some(patient) = &patient {
            text.push_str(&patient_in_words(patient));
        } else if args.weight.is_some() {
            text.push_str(
                "Against the patient's blood: not known, the breakdown does not state what all sets take\n",
            );
        }
        print(&text);
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
    text.push_str(&ledgers::in_words(breakdown, draws));
    text
}

fn patient_in_words(patient: &PatientBlood) -> String {
    let ml = |(low, high): (f64, f64)| {
        if low == high { format!("{low:.1} mL") } else { format!("{low:.1} to {high:.1} mL") }
    };
    let share = |(low, high): (f64, f64)| match (percent(low), percent(high)) {
        (low, high) if low == high => low,
        (low, high) => format!("{low} to {high}"),
    };
    let mut lines = vec![
        "Against the patient's blood".to_owned(),
        format!("  blood volume: {:.0} mL ({})", patient.blood_ml, patient.how),
        format!("  this job takes {}: {} of it", ml(patient.taken_ml), share(patient.share)),
        format!(
            "  in 24 hours with what was taken before: {}, {} of it",
            ml(patient.day_ml),
            share(patient.day_share)
        ),
    ];
    if let Some((total, source)) = &patient.table {
        lines.push(format!("  the weight table asks for {total} mL in all ({source})"));
    }
    lines.push(format!("  {}", patient.sentence));
    lines.push(
        "  An estimate for planning; the unit's own limit and the clinician who decides come first."
            .to_owned(),
    );
    lines.push(String::new());
    lines.join("\n")
}

fn as_json(breakdown: &Breakdown, draws: u32, patient: Option<&PatientBlood>) -> Value {
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
    let mut shown = json!({
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
        "patient": patient.map(|patient| json!({
            "blood_ml": patient.blood_ml,
            "how": patient.how,
            "taken_ml": [patient.taken_ml.0, patient.taken_ml.1],
            "share": [patient.share.0, patient.share.1],
            "day_ml": [patient.day_ml.0, patient.day_ml.1],
            "day_share": [patient.day_share.0, patient.day_share.1],
            "weight_table_ml": patient.table.as_ref().map(|(total, _)| total),
        })),
    });
    if let (Value::Object(shown), Value::Object(ledgers)) = (&mut shown, ledgers::as_json(breakdown, draws)) {
        shown.extend(ledgers);
    }
    shown
}
