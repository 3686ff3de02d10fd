use std::path::PathBuf;
use std::process::ExitCode;

use ::book::Store as _;
use clap::Args;

use super::{from_fault, message, print};
use crate::book_place::{ToRead, open_to_read};
use crate::message::{FAULTS, Message};

/// Walk the whole book and name everything that is not as it was written
///
/// Exits with 0 when the book is sound, 1 when something in it was changed, 2 when it cannot be read at all.
#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// Data folder, or the book's file itself
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// A hash the book ended with earlier, as a paper or an earlier check gave it: the book must still hold it
    #[arg(long, value_name = "HASH")]
    head: Option<String>,
}

pub fn run(args: &VerifyArgs) -> ExitCode {
    verify(args).unwrap_or_else(|message| message.give_up())
}

fn verify(args: &VerifyArgs) -> Result<ExitCode, Message> {
    let ToRead { book, place: file } = open_to_read(&args.data)?;
    let say = |error: ::book::BookError| message(&error, &file);
    let found = book.verify().map_err(say)?;
    let mut faults: Vec<_> = found.faults.iter().map(from_fault).collect();
    if let Some(head) = &args.head {
        // Entries that cannot be read were named above; the hashes of the others still answer.
        let held = book.entries().is_ok_and(|entries| entries.iter().any(|entry| entry.hash() == head));
        if !held {
            faults.push(Message::new(
                file.display().to_string(),
                format!("no entry with the hash {head}"),
                "the entry that the book ended with when that hash was noted",
                "compare the hash with the paper once more; if it is right, entries were removed or the book was replaced",
            ));
        }
    }
    for fault in &faults {
        eprintln!("{fault}");
    }
    let (entries, rows) = (found.n_entries, found.n_set_rows);
    if faults.is_empty() {
        let mut text = format!(
            "Sound: {entries} entries and {rows} rows of laboratory sets are as they were written.\n"
        );
        text.push_str(&format!("The book ends with entry {}, hash {}\n", found.head.seq, found.head.hash));
        print(&text);
        return Ok(ExitCode::SUCCESS);
    }
    let n_faults = faults.len();
    eprintln!(
        "Not sound: {n_faults} findings in {entries} entries and {rows} rows of laboratory sets. Nothing was changed."
    );
    Ok(ExitCode::from(FAULTS))
}
