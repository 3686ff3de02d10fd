//! `wardwright cultures map`: a mapping proposed from a file, for a person to confirm.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use exchange::laboratory::{Import, Mapping, Proposal, propose};
use jiff::ZonedDateTime;
use serde::Serialize;

use super::{as_inputs, inputs, say};
use crate::message::{FAULTS, Message};

/// Propose a mapping file from a table's headers and values
///
/// Prints the mapping as TOML, with how sure it is of each line and why, and what comes out when the file is read by it.
/// Read every line with someone from the laboratory, correct it, and write confirmed = true: until then no figure is
/// made with it. No cell that may name a patient or a person is shown.
#[derive(Debug, Args)]
pub struct MapArgs {
    /// The laboratory's file: CSV or XLSX
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Another table of the same export: names of organism codes, or where patients were when; may be repeated
    #[arg(long, value_name = "FILE")]
    beside: Vec<PathBuf>,
    /// Write the mapping to this new file instead of printing it
    #[arg(long, value_name = "FILE.toml")]
    write: Option<PathBuf>,
    /// Print one JSON object instead (docs/json.md)
    #[arg(long)]
    json: bool,
}

pub fn run(args: &MapArgs) -> ExitCode {
    map(args).unwrap_or_else(|message| message.give_up())
}

fn map(args: &MapArgs) -> Result<ExitCode, Message> {
    let file = inputs::named_file(&args.file)?;
    let beside = args.beside.iter().map(|path| inputs::named_file(path)).collect::<Result<Vec<_>, _>>()?;
    let today = ZonedDateTime::now().date();
    let files = [file];
    let given = as_inputs(&files);
    let others = as_inputs(&beside);
    let proposal = propose(&given[0], &others, today).map_err(|error| {
        Message::new(args.file.display().to_string(), error.found, error.expected, error.to_do)
    })?;
    let text = proposal.to_toml();
    let trial = Mapping::from_toml(&text).ok().map(|mapping| -> Result<Import, Message> {
        Ok(exchange::laboratory::read(&given, &mapping, &others, &inputs::key_for_this_run()?, today))
    });
    let trial = trial.transpose()?;
    if let Some(path) = &args.write {
        crate::folder::write_new(path, text.as_bytes())?;
    }
    if args.json {
        say(&(object(&proposal, &text, trial.as_ref()) + "\n"))?;
    } else if let Some(path) = &args.write {
        say(&format!("Written to {}.\n\n{}", path.display(), summary(trial.as_ref(), "")))?;
    } else {
        say(&format!("{text}\n{}", summary(trial.as_ref(), "# ")))?;
    }
    if proposal.lacks().is_empty() {
        return Ok(ExitCode::SUCCESS);
    }
    let message = Message::new(
        args.file.display().to_string(),
        format!("no column that can be taken for {}", proposal.lacks().join(" or ")),
        "columns for patient, collected and organism",
        "name them under [columns] by hand; docs/mapping.md explains each key",
    );
    eprintln!("{message}");
    Ok(ExitCode::from(FAULTS))
}

/// What comes out, so that a person can hold it against what the laboratory counts.
fn summary(trial: Option<&Import>, start: &str) -> String {
    let Some(import) = trial else { return String::new() };
    let mut lines = vec![
        "What comes out when the file is read by it; hold it against what the laboratory counts:".to_owned(),
    ];
    let read = Read::new(import);
    lines.push(format!(
        "  {} sets of {} patients, {} with growth, from {} to {}",
        read.sets,
        read.patients,
        read.with_growth,
        read.first_day.as_deref().unwrap_or("no day"),
        read.last_day.as_deref().unwrap_or("no day")
    ));
    for file in &import.counts {
        lines.push(format!(
            "  {} rows in, {} kept, {} left out, {} unread",
            file.rows, file.kept, file.dropped, file.unread
        ));
    }
    for dropped in &import.dropped {
        lines.push(format!("  {} left out: {}", dropped.rows, dropped.reason));
    }
    if let Some(first) = import.unread.first() {
        let line = first.line.map_or_else(String::new, |line| format!(", the first on line {line}"));
        lines.push(format!(
            "  {} rows cannot be read{line}; `cultures rates` lists each with the reason",
            import.unread.len()
        ));
    }
    lines.into_iter().map(|line| format!("{start}{line}\n")).collect()
}

#[derive(Serialize)]
struct Object<'a> {
    schema: u32,
    file: String,
    rows_seen: u64,
    confirmed: bool,
    says: Vec<SaidPart>,
    unused: Vec<&'a str>,
    lacks: &'a [&'static str],
    mapping: &'a str,
    read: Option<Read>,
}

#[derive(Serialize)]
struct SaidPart {
    key: &'static str,
    value: String,
    sureness: &'static str,
    because: String,
}

#[derive(Serialize)]
struct Read {
    sets: u64,
    patients: u64,
    with_growth: u64,
    first_day: Option<String>,
    last_day: Option<String>,
    rows: u64,
    kept: u64,
    dropped: u64,
    unread: u64,
}

impl Read {
    fn new(import: &Import) -> Self {
        let days = || import.sets.iter().map(|set| set.collected.date());
        let mut patients: Vec<_> = import.sets.iter().map(|set| &set.patient).collect();
        patients.sort_unstable();
        patients.dedup();
        let sum = |count: fn(&exchange::laboratory::FileCounts) -> u64| import.counts.iter().map(count).sum();
        Self {
            sets: import.sets.len() as u64,
            patients: patients.len() as u64,
            with_growth: import.sets.iter().filter(|set| !set.isolates.is_empty()).count() as u64,
            first_day: days().min().map(|day| day.to_string()),
            last_day: days().max().map(|day| day.to_string()),
            rows: sum(|file| file.rows),
            kept: sum(|file| file.kept),
            dropped: sum(|file| file.dropped),
            unread: sum(|file| file.unread),
        }
    }
}

fn object(proposal: &Proposal, text: &str, trial: Option<&Import>) -> String {
    let object = Object {
        schema: 1,
        file: trial
            .and_then(|import| import.counts.first())
            .map(|file| file.file.clone())
            .unwrap_or_default(),
        rows_seen: proposal.rows_seen() as u64,
        confirmed: false,
        says: proposal
            .says()
            .into_iter()
            .map(|said| SaidPart {
                key: said.key,
                value: said.value,
                sureness: said.sureness.id(),
                because: said.because,
            })
            .collect(),
        unused: proposal.unused(),
        lacks: proposal.lacks(),
        mapping: text,
        read: trial.map(Read::new),
    };
    // Every part is a plain struct with text keys, so this cannot fail; an empty object would be seen at once.
    serde_json::to_string_pretty(&object).unwrap_or_else(|_| "{}".to_owned())
}
