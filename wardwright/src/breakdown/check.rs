//! `wardwright breakdown check`.

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ::breakdown::{Breakdown, Fault, ItemKind, Parsed, Severity};
use clap::Args;
use serde::Serialize;
use serde_json::Value;

use super::{ledgers, print, read_file};
use crate::message::{FAULTS, Message, NOTHING_DONE};

/// Check breakdown files, name every fault with its place, and add up what each job takes
///
/// Each finding says where it is, what was found, what was expected and what to do. A fault must be put right before
/// the breakdown is published; advice is worth a look. After them come the ledgers: blood drawn, wasted and returned,
/// bottle fill against the guides, contact and drying times, supplies. Exit code: 0 when every file is sound, 1 when one has faults,
/// 2 when one could not be read.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Breakdown files
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Draws to count the supplies for
    #[arg(long, default_value_t = 1, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    draws: u32,
    /// Print one JSON object for machines
    #[arg(long)]
    json: bool,
}

pub fn run(args: &CheckArgs) -> ExitCode {
    let mut reports = Vec::new();
    let mut worst = 0;
    for path in &args.files {
        match read_file(path) {
            Ok(parsed) => {
                worst = worst.max(exit_code(&parsed));
                if args.json {
                    reports.push(FileReport::of(path, &parsed, args.draws));
                } else {
                    print(&in_words(path, &parsed, args.draws));
                }
            }
            Err(message) => {
                worst = NOTHING_DONE;
                if args.json {
                    reports.push(FileReport::unreadable(path, &message));
                } else {
                    eprintln!("{message}");
                }
            }
        }
    }
    if args.json {
        let text = serde_json::json!({ "schema": 1, "sound": worst == 0, "files": reports });
        print(&format!("{text:#}\n"));
    }
    ExitCode::from(worst)
}

fn exit_code(parsed: &Parsed) -> u8 {
    match (&parsed.breakdown, parsed.is_sound()) {
        (None, _) => NOTHING_DONE,
        (Some(_), false) => FAULTS,
        (Some(_), true) => 0,
    }
}

fn in_words(path: &Path, parsed: &Parsed, draws: u32) -> String {
    let file = path.display();
    let mut text = String::new();
    for fault in &parsed.faults {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{file}{}: {} {}", place(fault), severity(fault), fault.name());
        let _ = writeln!(text, "  found:    {}", fault.found());
        let _ = writeln!(text, "  expected: {}", fault.expected());
        let _ = writeln!(text, "  to do:    {}", fault.to_do());
    }
    let verdict = match (&parsed.breakdown, parsed.n_of(Severity::Fault), parsed.n_of(Severity::Advice)) {
        (None, ..) => "not a breakdown".to_owned(),
        (_, 0, 0) => "sound".to_owned(),
        (_, 0, advice) => format!("sound, with {}", counted(advice, "piece of advice", "pieces of advice")),
        (_, faults, 0) => counted(faults, "fault", "faults"),
        (_, faults, advice) => format!(
            "{}, {}",
            counted(faults, "fault", "faults"),
            counted(advice, "piece of advice", "pieces of advice")
        ),
    };
    let _ = match &parsed.breakdown {
        Some(breakdown) => writeln!(text, "{file}: {verdict}. {}", summary(breakdown)),
        None => writeln!(text, "{file}: {verdict}."),
    };
    if let Some(breakdown) = with_ledgers(parsed) {
        for line in ledgers::in_words(breakdown, draws).lines() {
            let _ = writeln!(text, "  {line}");
        }
    }
    text
}

/// What a breakdown takes is added up once it has a step; faults are named above it.
fn with_ledgers(parsed: &Parsed) -> Option<&Breakdown> {
    parsed.breakdown.as_ref().filter(|breakdown| !breakdown.steps.is_empty())
}

/// One line on what was read.
pub(super) fn summary(breakdown: &Breakdown) -> String {
    let n_points = n_points(breakdown);
    let n_safety = breakdown.safety_points().len();
    let name = if breakdown.job.is_empty() { "Job without a name" } else { &breakdown.job };
    format!(
        "{name} ({}, version {}): {}, {}, {} of them safety points",
        if breakdown.code.0.is_empty() { "no code" } else { &breakdown.code.0 },
        if breakdown.version.0 == 0 { "not given".to_owned() } else { breakdown.version.to_string() },
        counted(breakdown.steps.len(), "important step", "important steps"),
        counted(n_points, "key point", "key points"),
        n_safety,
    )
}

fn n_points(breakdown: &Breakdown) -> usize {
    breakdown.items().iter().filter(|item| item.id.kind() == ItemKind::KeyPoint).count()
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn place(fault: &Fault) -> String {
    match (fault.place.line, fault.place.column) {
        (0, _) => String::new(),
        (line, 0) => format!(":{line}"),
        (line, column) => format!(":{line}:{column}"),
    }
}

fn severity(fault: &Fault) -> &'static str {
    match fault.severity() {
        Severity::Fault => "fault",
        Severity::Advice => "advice",
    }
}

/// One file, as `--json` prints it.
#[derive(Debug, Serialize)]
struct FileReport {
    file: String,
    sound: bool,
    encoding: Option<&'static str>,
    job: Option<String>,
    code: Option<String>,
    version: Option<u32>,
    steps: Option<usize>,
    key_points: Option<usize>,
    safety_points: Option<usize>,
    findings: Vec<Finding>,
    /// Null where nothing could be read.
    ledgers: Option<Value>,
}

/// One finding, as `--json` prints it; 0 for a line or column means the whole file or line.
#[derive(Debug, Serialize)]
struct Finding {
    severity: &'static str,
    name: &'static str,
    line: usize,
    column: usize,
    found: String,
    expected: String,
    to_do: String,
}

impl FileReport {
    fn of(path: &Path, parsed: &Parsed, draws: u32) -> FileReport {
        let read = parsed.breakdown.as_ref();
        let findings = parsed.faults.iter().map(|fault| Finding {
            severity: severity(fault),
            name: fault.name(),
            line: fault.place.line,
            column: fault.place.column,
            found: fault.found(),
            expected: fault.expected(),
            to_do: fault.to_do(),
        });
        FileReport {
            file: path.display().to_string(),
            sound: parsed.is_sound(),
            encoding: Some(parsed.encoding.name()),
            job: read.map(|breakdown| breakdown.job.clone()),
            code: read.map(|breakdown| breakdown.code.0.clone()),
            version: read.map(|breakdown| breakdown.version.0),
            steps: read.map(|breakdown| breakdown.steps.len()),
            key_points: read.map(n_points),
            safety_points: read.map(|breakdown| breakdown.safety_points().len()),
            findings: findings.collect(),
            ledgers: with_ledgers(parsed).map(|breakdown| ledgers::as_json(breakdown, draws)),
        }
    }

    fn unreadable(path: &Path, message: &Message) -> FileReport {
        let finding = Finding {
            severity: "fault",
            name: "unreadable",
            line: 0,
            column: 0,
            found: message.found.clone(),
            expected: message.expected.clone(),
            to_do: message.to_do.clone(),
        };
        FileReport {
            file: path.display().to_string(),
            sound: false,
            encoding: None,
            job: None,
            code: None,
            version: None,
            steps: None,
            key_points: None,
            safety_points: None,
            findings: vec![finding],
            ledgers: None,
        }
    }
}
