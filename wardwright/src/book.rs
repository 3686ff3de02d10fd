//! The commands `wardwright book` and `wardwright people`: add to the record book, read it, prove it.

mod add;
mod json;
mod people;
mod relocate;
mod show;
mod verify;

pub use people::{is_known, people_by_name};

use std::path::Path;
use std::process::ExitCode;

use ::book::{BookError, Fault};
use clap::{Args, Subcommand};

use crate::message::Message;

/// Work with the record book: add entries, show them, verify that nothing in it was changed
#[derive(Debug, Subcommand)]
pub enum BookCommand {
    Add(add::AddArgs),
    Show(show::ShowArgs),
    Verify(verify::VerifyArgs),
    Move(relocate::MoveArgs),
}

/// Show who may do what now, on whose word, and what is still missing
///
/// A person's record is for that person and their trainer only.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct PeopleArgs {
    #[command(subcommand)]
    command: Option<people::PeopleCommand>,
    #[command(flatten)]
    list: people::ListArgs,
}

/// Runs one of the commands on the book.
pub fn run(command: &BookCommand) -> ExitCode {
    match command {
        BookCommand::Add(args) => add::run(args),
        BookCommand::Show(args) => show::run(args),
        BookCommand::Verify(args) => verify::run(args),
        BookCommand::Move(args) => relocate::run(args),
    }
}

/// Lists people, or shows one.
pub fn people(args: &PeopleArgs) -> ExitCode {
    match &args.command {
        Some(people::PeopleCommand::Show(args)) => people::show(args),
        None => people::list(&args.list),
    }
}

/// What the book says about an error, in the four parts of every message. `file` is named where the error names none.
pub fn message(error: &BookError, file: &Path) -> Message {
    let fault = error.fault();
    let place = match error {
        BookError::Unreadable(_)
        | BookError::IdTaken { .. }
        | BookError::BadDraft { .. }
        | BookError::OtherPatientKey => {
            format!("{}: {}", file.display(), fault.place)
        }
        _ => fault.place.clone(),
    };
    Message { place, passes: matches!(error, BookError::Locked { .. }), ..from_fault(&fault) }
}

fn from_fault(fault: &Fault) -> Message {
    Message::new(
        fault.place.as_str(),
        fault.found.as_str(),
        fault.expected.as_str(),
        fault.what_to_do.as_str(),
    )
}

/// Prints a whole text. A reader that stops early, such as a pager, is no fault.
fn print(text: &str) {
    crate::breakdown::print(text);
}
