use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::book_place::{OnServer, usual_schema};
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
    /// Keep the record book on a PostgreSQL server instead of in a file, such as "host=/var/run/postgresql dbname=wardwright"
    #[arg(long, value_name = "ADDRESS")]
    postgresql: Option<String>,
    /// Schema for the book on the server; made when there is none
    #[arg(long, default_value_t = usual_schema(), value_name = "NAME", requires = "postgresql")]
    schema: String,
}

pub fn run(args: &SetupArgs) -> ExitCode {
    match set_up(args) {
        Ok(folder) => {
            say!("Made {}", folder.path().display());
            say!("  settings     {}", folder.path().join(crate::folder::SETTINGS).display());
            if let Some(server) = &folder.settings().book {
                say!("  record book  on the PostgreSQL server, schema {}", server.schema);
            }
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
    let book = args.postgresql.clone().map(|postgresql| OnServer { postgresql, schema: args.schema.clone() });
    if let Some(server) = &book {
        server.is_free(&args.data)?;
    }
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
            keep_views_days: None,
            book,
        },
    )?;
    folder.patient_key()?;
    folder.book()?;
    Ok(folder)
}
