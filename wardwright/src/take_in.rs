use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ::book::{AnyBook, TakeInOutcome};
use ::door::{Door, LaboratoryFile, Moment};
use clap::Args;
use exchange::laboratory::Holds;

use crate::folder::{Folder, read};
use crate::message::{Message, say};
use crate::progress::Progress;

/// Take laboratory files into the record book
///
/// Shows first what could not be read. A set that is in the book already with another result becomes a new version; the
/// old one stays with its date. Taking the same file in twice changes nothing. HL7 messages go in one by one, as if they
/// had come over the wire: the parts of a set that come in two files are put together.
#[derive(Debug, Args)]
pub struct TakeInArgs {
    /// Laboratory files, in the order they arrived
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Mapping file: which column is what; messages can be read without one
    #[arg(long, value_name = "FILE.toml")]
    map: Option<PathBuf>,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Staff identifier of the person who takes them in
    #[arg(long, value_name = "ID")]
    by: String,
    /// Take a file in although some of its rows could not be read; messages that could not be read are kept aside
    #[arg(long)]
    with_unread: bool,
    #[command(flatten)]
    keeping: crate::door::Keeping,
}

pub fn run(args: &TakeInArgs) -> ExitCode {
    match take_in(args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => message.give_up(),
    }
}

fn take_in(args: &TakeInArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let clock = crate::door::clock(&folder);
    let mut door = crate::door::open(&folder, args.map.as_deref(), &args.by)?;
    args.keeping.forget(&mut door, &folder, &clock())?;
    let say_book = |error: ::book::BookError| crate::book::message(&error, folder.path());
    for path in &args.files {
        let bytes = read(path)?;
        let name = file_name(path);
        let file = LaboratoryFile { name: &name, bytes: &bytes };
        let now = clock();
        let progress = Progress::new();
        progress.stage(&format!("{name}: reading {} MB", bytes.len().div_ceil(1_000_000)));
        let import = door.read_file(file, &now).map_err(say_book)?;
        progress.clear();
        for unread in &import.unread {
            say!("{unread}");
        }
        if import.holds == Holds::PositivesOnly {
            return Err(Message::new(
                path.display().to_string(),
                "a file of positive cultures only, as the mapping says",
                "a file with every set that was taken",
                "ask the laboratory for negative sets too: without them there is no rate; nothing was stored",
            ));
        }
        if !import.unread.is_empty() && !args.with_unread {
            return Err(Message::new(
                path.display().to_string(),
                format!("{} rows that cannot be read, listed above", import.unread.len()),
                "a file of which every row can be read",
                "correct the file or the mapping, or add --with-unread to take in the rest; nothing was stored",
            ));
        }
        progress.stage(&format!("{name}: storing {} sets", import.sets.len()));
        if file.is_messages() {
            let of_messages = door.take_in_message_file(file, &*clock).map_err(|problem| {
                Message::new(
                    path.display().to_string(),
                    problem.text,
                    "a book that can be written",
                    "take the file in again: messages that are in the book are known there",
                )
            })?;
            progress.clear();
            say!("{name}: {of_messages}");
            continue;
        }
        let outcome = door.take_in_file(file, &import, &now).map_err(say_book)?;
        progress.clear();
        report(&name, &outcome);
    }
    Ok(())
}

fn report(name: &str, outcome: &TakeInOutcome) {
    let ::book::Body::LaboratoryFileTakenIn(taken) = outcome.entry().body() else { return };
    match outcome {
        TakeInOutcome::AlreadyTakenIn(entry) => {
            say!("{name}: taken in before as entry {}; nothing was added.", entry.seq());
        }
        TakeInOutcome::TakenIn(entry) => say!(
            "{name}: entry {}, {} rows, {} not read; {} sets new, {} with a new version, {} unchanged.",
            entry.seq(),
            taken.counts.rows,
            taken.counts.rows_unread,
            taken.sets_new,
            taken.sets_changed,
            taken.sets_unchanged,
        ),
    }
}

/// Takes one of the demo's files in, at the moment the story says.
pub fn demo_file(
    door: &mut Door<AnyBook>,
    folder: &Folder,
    file: &demo::LaboratoryFile,
    now: &Moment,
) -> Result<(), Message> {
    let say = |error: ::book::BookError| crate::book::message(&error, folder.path());
    let incoming = LaboratoryFile { name: &file.name, bytes: file.text.as_bytes() };
    let import = door.read_file(incoming, now).map_err(say)?;
    door.take_in_file(incoming, &import, now).map_err(say).map(|_| ())
}

fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}
