use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::folder::{Folder, Settings};
use crate::message::{Message, say};

/// Make a data folder for a unit: settings, an empty record book and the key for patient hashes
#[derive(Debug, Args)]
pub struct SetupArgs {
    /// Folder to make
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Name of the unit, as it is to stand on papers
    #[arg(long, value_name = "NAME")]
    unit: String,
    /// Rule set for verdicts; `docs/rules.md` lists them
    #[arg(long, default_value = "adult-24h", value_name = "NAME")]
    rules: String,
}

pub fn run(args: &SetupArgs) -> ExitCode {
    match set_up(args) {
        Ok(folder) => {
            say!("Made {}", folder.path().display());
            say!("  settings     {}", folder.path().join(crate::folder::SETTINGS).display());
            say!(
                "  patient key  patient.key: back it up apart from the book; without it, sets of one patient"
            );
            say!("               in old and new files no longer meet");
            say!(
                "Next: publish a breakdown with `wardwright breakdown publish FILE --data {0} --by ID`,",
                args.data.display()
            );
            say!(
                "      add people with `wardwright book add FILE.toml --data {}` (docs/entries.md).",
                args.data.display()
            );
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn set_up(args: &SetupArgs) -> Result<Folder, Message> {
    crate::cultures::named_rules(&args.rules)?;
    let folder = Folder::create(
        &args.data,
        Settings {
            schema: 1,
            unit: args.unit.clone(),
            invented: false,
            today: None,
            rules: args.rules.clone(),
            release_rule: None,
            training_started: None,
            timezone: None,
        },
    )?;
    folder.patient_key()?;
    folder.book()?;
    Ok(folder)
}
