//! `wardwright kept-aside`: messages of the laboratory that could not be read and wait for a person.

use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use ::door::Fate;
use clap::{Args, Subcommand};

use crate::folder::Folder;
use crate::message::{FAULTS, Message, say};

/// List, show, retry or dismiss messages that could not be taken in
///
/// They lie sealed in the book's file: what they say about patients can be read only with the patient key beside it.
#[derive(Debug, Args)]
pub struct KeptAsideArgs {
    #[command(subcommand)]
    what: Option<What>,
    /// Data folder
    #[arg(long, global = true, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Mapping file to read them by
    #[arg(long, global = true, value_name = "FILE.toml")]
    map: Option<PathBuf>,
    /// Staff identifier of the person who does this
    #[arg(long, global = true, default_value = "listener", value_name = "ID")]
    by: String,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Print one message as it came; it names a patient, so mind who sees the screen
    Show {
        /// Its number in the list
        number: u64,
    },
    /// Try all of them again, as after a change of the mapping
    Retry,
    /// Take one off the list without taking it in
    Dismiss {
        /// Its number in the list
        number: u64,
    },
}

pub fn run(args: &KeptAsideArgs) -> ExitCode {
    match kept_aside(args) {
        Ok(code) => code,
        Err(message) => message.give_up(),
    }
}

fn kept_aside(args: &KeptAsideArgs) -> Result<ExitCode, Message> {
    let folder = Folder::open(&args.data)?;
    let clock = crate::door::clock(&folder);
    let mut door = crate::door::open(&folder, args.map.as_deref(), &args.by)?;
    let say_door = |error: ::door::DoorError| crate::door::message(&error, folder.path());
    let none = |number: u64| {
        Message::new(
            format!("message {number}"),
            "no message of this number that waits",
            "a number of the list",
            "list them with `wardwright kept-aside`",
        )
    };
    match &args.what {
        None => {
            let waiting = door.kept_aside().map_err(say_door)?;
            if waiting.is_empty() {
                say!("No message waits.");
                return Ok(ExitCode::SUCCESS);
            }
            for message in &waiting {
                say!(
                    "{}  first {} from {}, {} time(s): {}",
                    message.number,
                    message.received_at,
                    message.source,
                    message.times_received,
                    message.reason
                );
            }
            Ok(ExitCode::from(FAULTS))
        }
        Some(What::Show { number }) => {
            let bytes = door.message_kept_aside(*number).map_err(say_door)?.ok_or_else(|| none(*number))?;
            // Segments end with a carriage return, which a terminal would write over.
            let text: Vec<u8> =
                bytes.into_iter().map(|byte| if byte == b'\r' { b'\n' } else { byte }).collect();
            // A reader that stops early, such as a pager, is no fault.
            let _ = std::io::stdout().write_all(&text);
            Ok(ExitCode::SUCCESS)
        }
        Some(What::Retry) => {
            let mut any_left = false;
            for (number, fate) in door.retry(&*clock).map_err(say_door)? {
                let what = match fate {
                    Fate::TakenIn => "taken in".to_owned(),
                    Fate::TakenInBefore => "known already".to_owned(),
                    Fate::NothingForUs | Fate::NotOurs(_) => "holds no blood culture; done with".to_owned(),
                    Fate::KeptAside(problem) => {
                        any_left = true;
                        format!("still waits: {}", problem.text)
                    }
                    Fate::NotStored(problem) => {
                        any_left = true;
                        problem.text
                    }
                };
                say!("{number}  {what}");
            }
            Ok(if any_left { ExitCode::from(FAULTS) } else { ExitCode::SUCCESS })
        }
        Some(What::Dismiss { number }) => match door.dismiss(*number, &clock()).map_err(say_door)? {
            true => {
                say!("{number}  off the list; nothing of it was taken in.");
                Ok(ExitCode::SUCCESS)
            }
            false => Err(none(*number)),
        },
    }
}
