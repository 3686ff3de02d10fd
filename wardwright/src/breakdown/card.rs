use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use paper::Printing;

use crate::folder::write_over;
use crate::message::{Message, say};

/// Print a breakdown file as a pocket card and an observation sheet
#[derive(Debug, Args)]
pub struct CardArgs {
    /// Breakdown file
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// PDF of the pocket card; the breakdown's own name when not given
    #[arg(long, value_name = "FILE.pdf")]
    out: Option<PathBuf>,
    /// Write the observation sheet instead, for when the screen is down
    #[arg(long)]
    sheet: bool,
}

pub fn run(args: &CardArgs) -> ExitCode {
    match print(args) {
        Ok(path) => {
            say!("{}", path.display());
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn print(args: &CardArgs) -> Result<PathBuf, Message> {
    let breakdown = super::read_sound(&args.file)?;
    let printing = Printing::default();
    let (word, printed) = if args.sheet {
        ("observation-sheet", paper::observation_sheet(&breakdown, &printing))
    } else {
        ("pocket-card", paper::pocket_card(&breakdown, &printing))
    };
    let bytes = printed.map_err(|error| {
        Message::new(
            args.file.display().to_string(),
            error.to_string(),
            "a breakdown that can be set on paper",
            "run `wardwright breakdown check` on it first",
        )
    })?;
    let path = args.out.clone().unwrap_or_else(|| PathBuf::from(format!("{word}-{}.pdf", breakdown.code)));
    write_over(&path, &bytes)?;
    Ok(path)
}
