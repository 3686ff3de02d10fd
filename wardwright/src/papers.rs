use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use jiff::civil::Date;
use practice::PersonId;
use site::Recording;

use crate::desk_of_book::DeskOfBook;
use crate::folder::{Folder, write_over};
use crate::message::{Message, say};

/// Write the papers: pocket cards, observation sheets, people's records and the unit's monthly reports
#[derive(Debug, Args)]
pub struct PapersArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Folder for the papers; the data folder's own `papers` when not given
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
    /// Only this month's report, such as 2026-10
    #[arg(long, value_name = "MONTH")]
    month: Option<String>,
    /// Publish the report of the month: its figures are kept in the record book as they are printed
    #[arg(long, requires_all = ["month", "by"])]
    publish: bool,
    /// Staff identifier of the trainer who publishes
    #[arg(long, value_name = "ID", requires = "publish")]
    by: Option<String>,
}

pub fn run(args: &PapersArgs) -> ExitCode {
    match Folder::open(&args.data).and_then(|folder| write(args, folder)) {
        Ok(written) => {
            for path in &written {
                say!("{}", path.display());
            }
            say!("{} papers written", written.len());
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn write(args: &PapersArgs, folder: Folder) -> Result<Vec<PathBuf>, Message> {
    let out = args.out.clone().unwrap_or_else(|| folder.path().join("papers"));
    let desk = DeskOfBook::open(folder)?;
    match &args.month {
        None => write_all(&desk, &out),
        Some(text) => {
            let month = parse_month(text).ok_or_else(|| {
                Message::new(
                    "--month",
                    format!("{text:?}"),
                    "a year and month such as 2026-10",
                    "give a month for which the book holds sets",
                )
            })?;
            let bytes = desk.month_paper(month)?.ok_or_else(|| {
                Message::new(
                    format!("--month {text}"),
                    "no sets in that month",
                    format!("one of {}", desk.month_words().join(", ")),
                    "take in that month's laboratory file first, or choose another month",
                )
            })?;
            let path = write_one(&out, &format!("month-{text}.pdf"), &bytes)?;
            if let (true, Some(by)) = (args.publish, &args.by) {
                publish(&desk, &PersonId(by.clone()), month, &bytes)?;
            }
            Ok(vec![path])
        }
    }
}

fn publish(desk: &DeskOfBook, by: &PersonId, month: Date, file: &[u8]) -> Result<(), Message> {
    let digest = ::book::sha256_hex(file);
    let now = desk.folder().now();
    match desk.publish_month(uuid::Uuid::now_v7(), now, by, month, Some(digest))? {
        Recording::Recorded | Recording::AlreadyThere => {
            say!("Published: the report of {}, on the word of {by}.", month.strftime("%B %Y"));
            Ok(())
        }
        Recording::Refused(refusals) => {
            let Some(first) = refusals.into_iter().next() else { return Ok(()) };
            let to_do = format!("{}; the paper is written, nothing was published", first.to_do);
            Err(Message::new(first.place, first.found, first.expected, to_do))
        }
    }
}

/// Reads "2026-10" as the first day of that month.
pub fn parse_month(text: &str) -> Option<Date> {
    let (year, month) = text.split_once('-')?;
    if year.len() != 4 || month.len() != 2 {
        return None;
    }
    Date::new(year.parse().ok()?, month.parse().ok()?, 1).ok()
}

/// Writes every paper: cards and sheets of all breakdowns, everybody's record, every month's report.
pub fn write_all(desk: &DeskOfBook, out: &Path) -> Result<Vec<PathBuf>, Message> {
    let mut written = Vec::new();
    for (name, bytes) in desk.all_papers()? {
        written.push(write_one(out, &name, &bytes)?);
    }
    Ok(written)
}

fn write_one(out: &Path, name: &str, bytes: &[u8]) -> Result<PathBuf, Message> {
    let path = out.join(name);
    let parent = path.parent().unwrap_or(out);
    std::fs::create_dir_all(parent).map_err(|error| {
        Message::new(
            parent.display().to_string(),
            error.to_string(),
            "a folder you may write to",
            "choose another folder with --out",
        )
    })?;
    write_over(&path, bytes)?;
    Ok(path)
}
