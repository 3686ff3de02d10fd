//! The command `wardwright breakdown`: check, show, compare, print and publish breakdown files.

mod card;
mod check;
mod compare;
mod ledgers;
mod publish;
mod show;

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use ::breakdown::{JobCode, Parsed, Version, parse_bytes};
use clap::Subcommand;
use practice::{EventKind, History};

use crate::message::Message;

/// Work with job breakdowns: plain-text files of important steps, key points and reasons
#[derive(Debug, Subcommand)]
pub enum BreakdownCommand {
    Check(check::CheckArgs),
    Show(show::ShowArgs),
    Compare(compare::CompareArgs),
    Card(card::CardArgs),
    Publish(publish::PublishArgs),
}

pub fn run(command: &BreakdownCommand) -> ExitCode {
    match command {
        BreakdownCommand::Check(args) => check::run(args),
        BreakdownCommand::Show(args) => show::run(args),
        BreakdownCommand::Compare(args) => compare::run(args),
        BreakdownCommand::Card(args) => card::run(args),
        BreakdownCommand::Publish(args) => publish::run(args),
    }
}

/// Reads a breakdown file, whatever its faults.
pub fn read_file(path: &Path) -> Result<Parsed, Message> {
    let bytes = std::fs::read(path).map_err(|error| {
        Message::new(
            path.display().to_string(),
            format!("the file could not be read: {error}"),
            "a breakdown file",
            "check the name and the folder, and that you may read the file",
        )
    })?;
    Ok(parse_bytes(&bytes))
}

/// Reads a breakdown file that must be sound.
pub fn read_sound(path: &Path) -> Result<::breakdown::Breakdown, Message> {
    let parsed = read_file(path)?;
    if let Some(breakdown) = parsed.sound() {
        return Ok(breakdown.clone());
    }
    let fault = parsed.faults.iter().min_by_key(|fault| (fault.severity(), fault.place));
    Err(Message::new(
        path.display().to_string(),
        fault.map_or("no breakdown".to_owned(), |fault| {
            format!("line {}: {}", fault.place.line, fault.found())
        }),
        fault.map_or("a breakdown".to_owned(), |fault| fault.expected()),
        format!(
            "run `wardwright breakdown check {}`, put right what it names, and try again",
            path.display()
        ),
    ))
}

/// Prints a whole text. A reader that stops early, such as a pager, is no fault.
pub fn print(text: &str) {
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

/// The newest version of a job's breakdown in the book, in force or not.
pub fn newest_version(history: &History, job: &JobCode) -> Option<Version> {
    practice::standing_events(history)
        .into_iter()
        .filter_map(|standing| match &standing.event.kind {
            EventKind::BreakdownPublished(known) if known.code == *job => Some(known.version),
            _ => None,
        })
        .max()
}
