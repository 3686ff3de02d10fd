//! The command `wardwright teachback`: a transcript held against a breakdown.

use std::fmt::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::{Breakdown, ItemId, ItemKind, ItemView, KeyPointKind};
use ::teachback::{HeardAs, Hearing, Proposal, Settings, StepPace, hear};
use clap::Args;
use exchange::transcript::{self, TranscriptReading};
use serde::Serialize;

use crate::breakdown::{print, read_file};
use crate::handed_in::{digest, program, text_of};
use crate::message::{FAULTS, Message};

/// Hold the transcript of a teach-back against a breakdown and propose a mark for each item
///
/// Reads WebVTT, SRT, SBV and plain lines that start with a time in brackets. The result is a draft: the trainer
/// confirms or changes every mark, and listens where it says so. Exit code: 0 when it is a
/// teach-back of this job, 1 when it does not seem to be, 2 when a file could not be read.
#[derive(Debug, Args)]
pub struct TeachbackArgs {
    /// Transcript file
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Breakdown file it is held against
    #[arg(long, value_name = "FILE")]
    breakdown: PathBuf,
    /// Print one JSON object for machines
    #[arg(long)]
    json: bool,
}

pub fn run(args: &TeachbackArgs) -> ExitCode {
    let (breakdown, reading, digest) = match read(args) {
        Ok(read) => read,
        Err(message) => return message.give_up(),
    };
    let hearing = hear(&breakdown, &reading.transcript, &Settings::default());
    if args.json {
        let report = Report::of(&breakdown, &reading, digest, &hearing);
        // A report of plain numbers and texts always has a JSON form.
        print(&format!("{:#}\n", serde_json::json!(report)));
    } else {
        print(&in_words(args, &breakdown, &reading, &hearing));
    }
    if hearing.same_job { ExitCode::SUCCESS } else { ExitCode::from(FAULTS) }
}

/// The breakdown, the transcript, and the digest of its text.
fn read(args: &TeachbackArgs) -> Result<(Breakdown, TranscriptReading, String), Message> {
    let parsed = read_file(&args.breakdown)?;
    let sound = parsed.is_sound();
    let breakdown = parsed.breakdown.filter(|breakdown| !breakdown.steps.is_empty()).ok_or_else(|| {
        Message::new(
            args.breakdown.display().to_string(),
            "no important step to hold the teach-back against",
            "a breakdown file",
            format!("run `wardwright breakdown check {}`", args.breakdown.display()),
        )
    })?;
    if !sound {
        eprintln!("{} has faults: run `wardwright breakdown check {0}`", args.breakdown.display());
    }
    let file = args.file.display().to_string();
    let bytes = std::fs::read(&args.file).map_err(|error| {
        Message::new(
            file.clone(),
            format!("the file could not be read: {error}"),
            "a transcript file",
            "check the name and the folder, and that you may read the file",
        )
    })?;
    let reading = transcript::read(&bytes);
    match reading.faults.first() {
        Some(fault) if reading.transcript.lines.is_empty() => {
            let place = if fault.line > 0 { format!("{file}:{}", fault.line) } else { file };
            Err(Message::new(place, fault.found.clone(), fault.expected, fault.to_do))
        }
        _ => Ok((breakdown, reading, digest(&text_of(&bytes)))),
    }
}

fn in_words(
    args: &TeachbackArgs,
    breakdown: &Breakdown,
    reading: &TranscriptReading,
    hearing: &Hearing,
) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |words: String| {
        let _ = writeln!(text, "{words}");
    };
    line(format!(
        "Draft: {} against \"{}\", version {}",
        args.file.display(),
        breakdown.job,
        breakdown.version
    ));
    line(
        "Proposed from the words, not from understanding them. The trainer confirms or changes every mark; local policy and \
         a licensed clinician decide."
            .to_owned(),
    );
    line(match hearing.same_job {
        true => format!("This job: {}", hearing.same_job_because),
        false => format!("THIS IS NOT THIS JOB, it seems: {}", hearing.same_job_because),
    });
    if let Some(named) = hearing.steps_named {
        line(format!("Steps the learner named: {named}; the breakdown has {}", breakdown.steps.len()));
    }
    for (item, proposal) in breakdown.items().iter().zip(&hearing.proposals) {
        if item.id.kind() == ItemKind::Step {
            line(String::new());
        }
        line(item_line(item, proposal));
    }
    line(String::new());
    for pace in &hearing.pace {
        line(pace_line(pace));
    }
    for error in &hearing.order_errors {
        line(format!("Out of order: {} was said before {}", error.then, error.first));
    }
    let n = |kind: ItemKind| {
        let of = hearing.proposals.iter().filter(move |proposal| proposal.item.kind() == kind);
        (of.clone().filter(|proposal| proposal.mark.is_known()).count(), of.count())
    };
    let ((steps, of_steps), (points, of_points)) = (n(ItemKind::Step), n(ItemKind::KeyPoint));
    line(format!(
        "Heard right in this draft: {steps} of {of_steps} important steps, {points} of {of_points} key points \
         (all items counted, no sample: no interval)"
    ));
    line(format!(
        "Confidence: probability that the proposed mark is the trainer's, fitted on invented teach-backs (docs/hearing.md); \
         it says nothing about the learner. Below {:.0} %: listen here",
        Settings::default().listen_below * 100.0
    ));
    for other in &hearing.unmatched {
        line(format!("Belongs to no item: {} {:?}", clock(other.at_s), other.text));
    }
    for fault in &reading.faults {
        line(format!(
            "{}:{}: {}; expected {}; {}",
            args.file.display(),
            fault.line,
            fault.found,
            fault.expected,
            fault.to_do
        ));
    }
    if let Some(note) = &reading.note {
        line(format!("{}: {note}", args.file.display()));
    }
    text
}

fn item_line(item: &ItemView<'_>, proposal: &Proposal) -> String {
    let indent = if item.id.kind() == ItemKind::Step { "" } else { "  " };
    let mut text = format!(
        "{indent}{:<5} {:<10} {} ",
        item.id.to_string(),
        proposal.mark.name(),
        clock(proposal.at_s.filter(|_| proposal.heard_as != HeardAs::NotHeard || proposal.listen))
    );
    let is_safety = item.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety);
    if is_safety && item.id.kind() == ItemKind::KeyPoint {
        text.push_str("SAFETY ");
    }
    if item.id.kind() == ItemKind::Reason {
        text.push_str("because ");
    }
    text.push_str(item.text);
    // What came nearest to an item that was surely not heard helps nobody.
    let worth_reading = proposal.heard_as != HeardAs::NotHeard || proposal.listen;
    if let Some(heard) = proposal.heard.as_ref().filter(|_| worth_reading) {
        let what = if proposal.heard_as == HeardAs::NotHeard { "nearest" } else { proposal.heard_as.words() };
        let _ = write!(
            text,
            "\n{indent}      {what}, confidence {:.0} %: {heard:?}",
            proposal.confidence * 100.0
        );
    }
    if let Some(asked) = &proposal.asked {
        let _ = write!(text, "\n{indent}      asked just before: {asked:?}");
    }
    if let (Some(expected), Some(heard)) = (&proposal.expected_quantity, &proposal.heard_quantity) {
        let _ = write!(text, "\n{indent}      number: {heard}; the breakdown says {expected}");
    }
    if proposal.listen {
        let _ = write!(text, "\n{indent}      listen here before you mark it");
    }
    text
}

/// Pace and long pauses of one step.
fn pace_line(pace: &StepPace) -> String {
    let mut text = format!("Step {} from {}: {} words", pace.step, clock(Some(pace.from_s)), pace.words);
    if pace.spoken_s > 0.0 {
        let _ = write!(text, " in {:.0} s", pace.spoken_s);
    }
    if let Some(rate) = pace.words_per_minute() {
        let _ = write!(text, ", {rate:.0} words a minute");
    }
    for pause in &pace.pauses {
        let _ = write!(text, "; silent for {:.0} s at {}", pause.seconds, clock(Some(pause.at_s)));
    }
    text
}

/// Minutes and seconds from the start, or a gap of the same width.
fn clock(at_s: Option<f64>) -> String {
    at_s.map_or("     ".to_owned(), |at| format!("{:02}:{:02}", (at / 60.0) as u64, (at % 60.0) as u64))
}

/// What `--json` prints.
#[derive(Debug, Serialize)]
struct Report<'a> {
    schema: u32,
    job: &'a str,
    code: &'a str,
    version: u32,
    /// Always true: a person confirms each mark.
    draft: bool,
    program: String,
    transcript_sha256: String,
    items: Vec<Item<'a>>,
    steps_named: Option<u32>,
    order_errors: Vec<OrderErrorReport>,
    unmatched: Vec<Unmatched<'a>>,
    pace: Vec<Pace>,
    same_job: bool,
    same_job_because: &'a str,
    faults: Vec<Fault<'a>>,
}

#[derive(Debug, Serialize)]
struct Item<'a> {
    item: String,
    step: u16,
    kind: &'static str,
    safety: bool,
    text: &'a str,
    mark: &'static str,
    time_s: Option<f64>,
    heard: Option<&'a str>,
    asked: Option<&'a str>,
    expected_quantity: Option<&'a str>,
    heard_quantity: Option<&'a str>,
    confidence: f64,
    heard_as: &'static str,
    listen: bool,
}

#[derive(Debug, Serialize)]
struct OrderErrorReport {
    first: String,
    then: String,
}

#[derive(Debug, Serialize)]
struct Unmatched<'a> {
    time_s: Option<f64>,
    text: &'a str,
}

#[derive(Debug, Serialize)]
struct Pace {
    step: u16,
    from_s: f64,
    spoken_s: f64,
    words: usize,
    words_per_minute: Option<f64>,
    pauses: Vec<PauseReport>,
}

#[derive(Debug, Serialize)]
struct PauseReport {
    time_s: f64,
    seconds: f64,
}

impl Pace {
    fn of(pace: &StepPace) -> Pace {
        Pace {
            step: pace.step,
            from_s: pace.from_s,
            spoken_s: pace.spoken_s,
            words: pace.words,
            words_per_minute: pace.words_per_minute(),
            pauses: pace
                .pauses
                .iter()
                .map(|pause| PauseReport { time_s: pause.at_s, seconds: pause.seconds })
                .collect(),
        }
    }
}

#[derive(Debug, Serialize)]
struct Fault<'a> {
    line: usize,
    found: &'a str,
    expected: &'a str,
    to_do: &'a str,
}

impl<'a> Report<'a> {
    fn of(
        breakdown: &'a Breakdown,
        reading: &'a TranscriptReading,
        digest: String,
        hearing: &'a Hearing,
    ) -> Report<'a> {
        let items = breakdown.items();
        let items = items.iter().zip(&hearing.proposals).map(|(view, proposal)| Item {
            item: view.id.to_string(),
            step: view.id.step,
            kind: kind_name(view.id),
            safety: view.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety),
            text: view.text,
            mark: proposal.mark.name(),
            time_s: proposal.at_s,
            heard: proposal.heard.as_deref(),
            asked: proposal.asked.as_deref(),
            expected_quantity: proposal.expected_quantity.as_deref(),
            heard_quantity: proposal.heard_quantity.as_deref(),
            confidence: proposal.confidence,
            heard_as: proposal.heard_as.name(),
            listen: proposal.listen,
        });
        let orders = hearing.order_errors.iter();
        let unmatched = hearing.unmatched.iter();
        let faults = reading.faults.iter();
        Report {
            schema: 1,
            job: &breakdown.job,
            code: &breakdown.code.0,
            version: breakdown.version.0,
            draft: true,
            program: program(),
            transcript_sha256: digest,
            items: items.collect(),
            steps_named: hearing.steps_named,
            order_errors: orders
                .map(|error| OrderErrorReport {
                    first: error.first.to_string(),
                    then: error.then.to_string(),
                })
                .collect(),
            pace: hearing.pace.iter().map(Pace::of).collect(),
            unmatched: unmatched.map(|other| Unmatched { time_s: other.at_s, text: &other.text }).collect(),
            same_job: hearing.same_job,
            same_job_because: &hearing.same_job_because,
            faults: faults
                .map(|fault| Fault {
                    line: fault.line,
                    found: &fault.found,
                    expected: fault.expected,
                    to_do: fault.to_do,
                })
                .collect(),
        }
    }
}

fn kind_name(id: ItemId) -> &'static str {
    match id.kind() {
        ItemKind::Step => "step",
        ItemKind::KeyPoint => "key_point",
        ItemKind::Reason => "reason",
    }
}
