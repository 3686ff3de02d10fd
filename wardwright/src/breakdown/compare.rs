//! `wardwright breakdown compare`.

use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::{ChangeKind, compare, suggested_kind};
use clap::Args;

use super::{print, read_file};
use crate::message::Message;

/// Name what changed between two versions of a breakdown
///
/// Says whether the change is major (safety or sequence: releases on the older version are to be updated) or minor.
/// That is a proposal; the author decides.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Older version
    #[arg(value_name = "OLD")]
    old: PathBuf,
    /// Newer version
    #[arg(value_name = "NEW")]
    new: PathBuf,
}

pub fn run(args: &CompareArgs) -> ExitCode {
    let read = |path: &PathBuf| {
        let parsed = read_file(path)?;
        parsed.breakdown.ok_or_else(|| {
            Message::new(
                path.display().to_string(),
                "no breakdown in this file",
                "a breakdown file",
                format!("run `wardwright breakdown check {}`", path.display()),
            )
        })
    };
    let (old, new) = match (read(&args.old), read(&args.new)) {
        (Ok(old), Ok(new)) => (old, new),
        (Err(message), _) | (_, Err(message)) => return message.give_up(),
    };
    let differences = compare(&old, &new);
    let mut text: String = differences.iter().map(|difference| format!("{difference}\n")).collect();
    text.push_str(match (differences.is_empty(), suggested_kind(&differences)) {
        (true, _) => "Nothing changed.\n",
        (_, ChangeKind::Major) => {
            "Proposed: change (major). Safety, sequence or a number changed; the author decides.\n"
        }
        (_, ChangeKind::Minor) => "Proposed: change (minor). Wording only; the author decides.\n",
    });
    print(&text);
    ExitCode::SUCCESS
}
