use std::path::PathBuf;
use std::process::ExitCode;

use ::book::{Body, Draft, Store as _};
use clap::Args;
use jiff::ZonedDateTime;
use practice::{EventKind, PersonId};
use uuid::Uuid;

use crate::folder::Folder;
use crate::message::{Message, say};

/// Put a breakdown file in force: an entry in the record book
///
/// The file must be without faults. A published version is never changed; a new version has the next number.
#[derive(Debug, Args)]
pub struct PublishArgs {
    /// Breakdown file
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Staff identifier of the person who publishes it
    #[arg(long, value_name = "ID")]
    by: String,
}

pub fn run(args: &PublishArgs) -> ExitCode {
    match publish(args) {
        Ok(words) => {
            say!("{words}");
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn publish(args: &PublishArgs) -> Result<String, Message> {
    let breakdown = super::read_sound(&args.file)?;
    let folder = Folder::open(&args.data)?;
    let mut book = folder.book()?;
    let say = |error: ::book::BookError| crate::book::message(&error, folder.path());
    let published = ::book::history(&book).map_err(say)?;
    let newest = super::newest_version(&published, &breakdown.code);
    if let Some(newest) = newest.filter(|newest| *newest >= breakdown.version) {
        return Err(Message::new(
            args.file.display().to_string(),
            format!("version {} of {}", breakdown.version, breakdown.code),
            format!("version {} or later: version {newest} is in the book already", newest.0 + 1),
            "raise `version:` and say what changed with `change (major):` or `change (minor):`; nothing was written",
        ));
    }
    let now = ZonedDateTime::now();
    let words = format!("{}, version {}, is in the book.", breakdown.job, breakdown.version);
    let body = Body::Practice(EventKind::BreakdownPublished(Box::new(breakdown)));
    let draft = Draft::new(Uuid::now_v7(), now.datetime(), PersonId(args.by.clone()), body);
    book.append(vec![draft], now.timestamp()).map_err(say)?;
    Ok(words)
}
