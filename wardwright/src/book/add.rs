use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ::book::{Fault, Recorded, Store as _, Written, read_entries};
use ::breakdown::Breakdown;
use clap::Args;
use practice::{EventKind, ReleaseRule, Sentences};
use site::HandedIn;
use teachback::Proposed;

use super::{from_fault, message, print};
use crate::folder::{self, Folder};
use crate::handed_in::hand_in;
use crate::message::{Message, NOTHING_DONE};

/// Add the entries of a file to the book: all of them, or none when one has a fault
///
/// docs/entries.md describes the file. The same file added twice adds nothing the second time.
#[derive(Debug, Args)]
pub struct AddArgs {
    /// File of entries, as docs/entries.md describes it
    file: PathBuf,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
}

pub fn run(args: &AddArgs) -> ExitCode {
    add(args).unwrap_or_else(|message| message.give_up())
}

fn add(args: &AddArgs) -> Result<ExitCode, Message> {
    let folder = Folder::open(&args.data)?;
    let mut book = folder.book()?;
    let path = book.place();
    let say = |error: ::book::BookError| message(&error, &path);
    let bytes = folder::read(&args.file)?;
    let text = ::breakdown::decode(&bytes).text;
    let entries = book.entries().map_err(say)?;
    let rule = folder.release_rule()?;
    let written = Written {
        entries: &entries,
        today: folder.today(),
        rule: &rule,
        read_breakdown: &|name| read_breakdown(&args.file, name),
        read_transcript: &|name, breakdown| read_transcript(&args.file, name, breakdown),
        read_rule: &|name| read_rule(&args.file, name),
    };
    let drafts = match read_entries(&text, &written) {
        Ok(drafts) => drafts,
        Err(faults) => return Ok(refuse(&args.file, &faults)),
    };
    let appended = book.append(drafts, jiff::Timestamp::now()).map_err(say)?;
    print(&report(&appended.recorded, appended.already_there.len(), &book.entries().map_err(say)?));
    Ok(ExitCode::SUCCESS)
}

/// A breakdown file named by an entry lies beside the file of entries.
fn read_breakdown(entries: &Path, name: &str) -> Result<Breakdown, Fault> {
    let path = entries.with_file_name(name);
    crate::breakdown::read_sound(&path).map_err(|message| Fault {
        place: message.place,
        found: message.found,
        expected: message.expected,
        what_to_do: message.to_do,
    })
}

/// A transcript named by an entry, or proposals made from one, lies beside the file of entries.
fn read_transcript(entries: &Path, name: &str, breakdown: &Breakdown) -> Result<Proposed, Fault> {
    let path = entries.with_file_name(name);
    let fault = |found: String, expected: String, what_to_do: String| Fault {
        place: path.display().to_string(),
        found,
        expected,
        what_to_do,
    };
    let bytes =
        folder::read(&path).map_err(|message| fault(message.found, message.expected, message.to_do))?;
    match hand_in(breakdown, &bytes) {
        HandedIn::Heard(heard) if heard.same_job => {
            let transcript = (!heard.lines.is_empty()).then_some(heard.text);
            Ok(Proposed { transcript, ..heard.proposed })
        }
        HandedIn::Heard(heard) => Err(fault(
            format!("a transcript that does not seem to be of this job: {}", heard.same_job_because),
            format!("a teach-back of {}", breakdown.code),
            "look whether job and file are right; a pass that went so badly is marked without its transcript"
                .to_owned(),
        )),
        HandedIn::Unreadable(refusals) => {
            let first = refusals.into_iter().next();
            let first = first
                .unwrap_or_else(|| site::Refusal::new("", "no words", "a transcript", "choose another file"));
            Err(fault(first.found, first.expected, first.to_do))
        }
    }
}

/// A file of a release rule named by an entry lies beside the file of entries.
fn read_rule(entries: &Path, name: &str) -> Result<ReleaseRule, Fault> {
    crate::release_rule::read(&entries.with_file_name(name)).map_err(|message| Fault {
        place: message.place,
        found: message.found,
        expected: message.expected,
        what_to_do: message.to_do,
    })
}

fn refuse(file: &Path, faults: &[Fault]) -> ExitCode {
    for fault in faults {
        let message = from_fault(fault);
        eprintln!("{}", Message { place: format!("{}, {}", file.display(), message.place), ..message });
    }
    let n = faults.len();
    eprintln!("Nothing was written: {n} {} in {}.", if n == 1 { "fault" } else { "faults" }, file.display());
    ExitCode::from(NOTHING_DONE)
}

fn report(recorded: &[Recorded], n_already_there: usize, all: &[Recorded]) -> String {
    let history =
        practice::History { events: all.iter().filter_map(::book::event).collect(), laboratory_draws: None };
    let sentences = Sentences::new(&history);
    let mut text = String::new();
    for entry in recorded {
        if let ::book::Body::Practice(kind) = entry.body() {
            text.push_str(&format!(
                "{:>6}  {}  {}\n",
                entry.seq(),
                entry.happened().date(),
                line(kind, &sentences)
            ));
        }
    }
    text.push_str(&match (recorded.len(), n_already_there) {
        (n, 0) => format!("Added {n} {}.\n", entries_word(n)),
        (n, there) => format!("Added {n} {}; {there} were in the book already.\n", entries_word(n)),
    });
    text
}

fn entries_word(n: usize) -> &'static str {
    if n == 1 { "entry" } else { "entries" }
}

/// Who, and what in a sentence.
pub(super) fn line(kind: &EventKind, sentences: &Sentences<'_>) -> String {
    match super::show::about(kind) {
        Some((person, _)) => format!("{person}: {}", sentences.of(kind)),
        None => sentences.of(kind),
    }
}
