//! `wardwright breakdown compare`.

use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::{ChangeKind, Difference, compare, suggested_kind};
use clap::Args;

use super::{kind_name, print, read_file};
use crate::message::Message;

/// Name what changed between two versions of a breakdown
///
/// Says whether the change is major (safety or sequence: releases on the older version are to be updated) or minor.
/// That is a proposal; the author decides.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Older version
    #[arg(value_name = "OLD")]
    old: PathBuf,
    /// Newer version
    #[arg(value_name = "NEW")]
    new: PathBuf,
}

pub fn run(args: &CompareArgs) -> ExitCode {
    let read = |path: &PathBuf| {
        let parsed = read_file(path)?;
        parsed.breakdown.ok_or_else(|| {
            Message::new(
                path.display().to_string(),
                "no breakdown in this file",
                "a breakdown file",
                format!("run `wardwright breakdown check {}`", path.display()),
            )
        })
    };
    let (old, new) = match (read(&args.old), read(&args.new)) {
        (Ok(old), Ok(new)) => (old, new),
        (Err(message), _) | (_, Err(message)) => return message.give_up(),
    };
    let differences = compare(&old, &new);
    let mut text: String =
        differences.iter().map(|difference| format!("{}\n", in_words(difference))).collect();
    text.push_str(match (differences.is_empty(), suggested_kind(&differences)) {
        (true, _) => "Nothing changed.\n",
        (_, ChangeKind::Major) => {
            "Proposed: change (major). Safety, sequence or a number changed; the author decides.\n"
        }
        (_, ChangeKind::Minor) => "Proposed: change (minor). Wording only; the author decides.\n",
    });
    print(&text);
    ExitCode::SUCCESS
}

fn in_words(difference: &Difference) -> String {
    let list = |items: &[String]| if items.is_empty() { "none".to_owned() } else { items.join("; ") };
    match difference {
        Difference::StepAdded { step } => format!("new step: {step}"),
        Difference::StepRemoved { step } => format!("step gone: {step}"),
        Difference::StepRenamed { was, now } => format!("step renamed\n  was: {was}\n  now: {now}"),
        Difference::StepsReordered { was, now } => {
            format!("steps in another order\n  was: {}\n  now: {}", list(was), list(now))
        }
        Difference::PointAdded { step, kind, text } => format!("{step}: new {}: {text}", kind_name(*kind)),
        Difference::PointRemoved { step, kind, text } => format!("{step}: {} gone: {text}", kind_name(*kind)),
        Difference::PointMoved { text, was, now } => {
            format!("moved: {text}\n  was under: {was}\n  now under: {now}")
        }
        Difference::PointReworded { step, kind, was, now } => {
            format!("{step}: {} reworded\n  was: {was}\n  now: {now}", kind_name(*kind))
        }
        Difference::KindChanged { step, text, was, now } => {
            format!("{step}: {text}\n  was a {}\n  now a {}", kind_name(*was), kind_name(*now))
        }
        Difference::ReasonsChanged { step, text, was, now } => {
            format!("{step}: {text}\n  reason was: {}\n  reason now: {}", list(was), list(now))
        }
        Difference::QuantitiesChanged { step, text, was, now } => {
            format!("{step}: {text}\n  number was: {}\n  number now: {}", list(was), list(now))
        }
        Difference::OrderAdded { first, then } => format!("now binding: {first} before {then}"),
        Difference::OrderRemoved { first, then } => format!("no longer binding: {first} before {then}"),
        Difference::Added { what, text } => format!("new {what}: {text}"),
        Difference::Removed { what, text } => format!("{what} gone: {text}"),
    }
}
