use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ::book::{AnyBook, Head, PostgresBook, SqliteBook, Store as _};
use clap::{ArgGroup, Args};

use super::message;
use crate::book_place::{OnServer, usual_schema};
use crate::folder::{BOOK, Folder, SETTINGS};
use crate::message::{Message, say};

/// What the file is called once the book lies on a server.
const LEFT_BEHIND: &str = "book-before-the-server.sqlite";
/// What the file is called until it is whole.
const NOT_WHOLE: &str = "book-being-copied.sqlite";

/// Move the record book to a PostgreSQL server, or back into a file
///
/// Every entry, row and message is copied as it is, with its hashes; the copy is verified, and only then do the settings
/// name it. The old book is left where it was. Stop `serve`, `listen` and `watch` before: what they wrote meanwhile would
/// stand in the old book alone.
#[derive(Debug, Args)]
#[command(group(ArgGroup::new("place").required(true).args(["postgresql", "to_file"])))]
pub struct MoveArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// To a PostgreSQL server, such as "host=/var/run/postgresql dbname=wardwright"
    #[arg(long, value_name = "ADDRESS")]
    postgresql: Option<String>,
    /// Schema for the book on the server; made when there is none
    #[arg(long, default_value_t = usual_schema(), value_name = "NAME", requires = "postgresql")]
    schema: String,
    /// Back into the file of the data folder
    #[arg(long)]
    to_file: bool,
}

pub fn run(args: &MoveArgs) -> ExitCode {
    let moved = match &args.postgresql {
        Some(address) => to_server(args, address),
        None => to_file(args),
    };
    moved.map_or_else(|message| message.give_up(), |()| ExitCode::SUCCESS)
}

fn to_server(args: &MoveArgs, address: &str) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    if folder.settings().book.is_some() {
        return Err(already(&args.data, "on a server", "in a file"));
    }
    let left_behind = args.data.join(LEFT_BEHIND);
    is_free(&left_behind)?;
    let server = OnServer { postgresql: address.to_owned(), schema: args.schema.clone() };
    let said = |error: ::book::BookError| message(&error, &args.data);
    let from = folder.book()?;
    let mut to =
        AnyBook::from(PostgresBook::open_or_create(&server.postgresql, &server.schema).map_err(said)?);
    let head = copied(&from, &mut to, &args.data)?;
    folder.note_book(Some(server))?;
    drop(from);
    let file = args.data.join(BOOK);
    std::fs::rename(&file, &left_behind).map_err(|error| {
        Message::new(
            file.display().to_string(),
            format!("cannot be renamed: {error}"),
            format!("the old file as {LEFT_BEHIND}"),
            "rename it yourself; the book lies on the server, and the settings name it",
        )
    })?;
    say!("Moved to {}: {} entries, verified.", to.place().display(), head.seq);
    say!("The old file is kept as {}: a copy of the book as it was.", left_behind.display());
    say!("Ends with entry {}, hash {}", head.seq, head.hash);
    Ok(())
}

fn to_file(args: &MoveArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    if folder.settings().book.is_none() {
        return Err(already(&args.data, "in a file", "on a server"));
    }
    let (file, not_whole) = (args.data.join(BOOK), args.data.join(NOT_WHOLE));
    is_free(&file)?;
    is_free(&not_whole)?;
    let said = |error: ::book::BookError| message(&error, &args.data);
    let from = folder.book()?;
    let mut to = AnyBook::from(SqliteBook::create(&not_whole).map_err(said)?);
    let done = copied(&from, &mut to, &args.data).and_then(|head| {
        drop(to);
        std::fs::rename(&not_whole, &file).map_err(|error| {
            Message::new(
                file.display().to_string(),
                format!("cannot be written: {error}"),
                "a folder you may write to",
                "change its permissions; the book stays on the server",
            )
        })?;
        Ok(head)
    });
    let head = done.inspect_err(|_| {
        // The copy is of no use; should removing it fail, the message before says more.
        let _ = std::fs::remove_file(&not_whole);
    })?;
    folder.note_book(None)?;
    say!("Moved to {}: {} entries, verified.", file.display(), head.seq);
    say!(
        "The book on the server ({}) is left as it was; nothing is written to it any more.",
        from.place().display()
    );
    say!("Ends with entry {}, hash {}", head.seq, head.hash);
    Ok(())
}

/// Copies, and proves the copy before anybody relies on it.
fn copied(from: &AnyBook, to: &mut AnyBook, data: &Path) -> Result<Head, Message> {
    let said = |error: ::book::BookError| message(&error, data);
    let head = from.copy_into(to).map_err(said)?;
    let found = to.verify().map_err(said)?;
    if let Some(fault) = found.faults.first() {
        return Err(Message::new(
            fault.place.clone(),
            fault.found.clone(),
            fault.expected.clone(),
            "run `wardwright book verify` on the old book, which is still the one in use; nothing else was changed",
        ));
    }
    // Somebody who writes between the copy and now would be left behind.
    if from.head().map_err(said)? != head {
        return Err(Message::new(
            from.place().display().to_string(),
            "entries that were written while it was copied",
            "a book that nobody writes",
            "stop serve, listen and watch, and move it to another place; the old book is still the one in use",
        ));
    }
    Ok(head)
}

fn already(data: &Path, found: &str, expected: &str) -> Message {
    Message::new(
        data.join(SETTINGS).display().to_string(),
        format!("a record book that lies {found} already"),
        format!("one that lies {expected}"),
        "look at [book] in the settings; nothing was changed",
    )
}

fn is_free(file: &Path) -> Result<(), Message> {
    if !file.exists() {
        return Ok(());
    }
    Err(Message::new(
        file.display().to_string(),
        "a file of this name",
        "none: a book is never written over",
        "move it away once you know that you need it no longer; nothing was changed",
    ))
}
