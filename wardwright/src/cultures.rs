//! `wardwright cultures`: laboratory files into verdicts and rates.

mod chart;
mod extras;
mod extras_json;
mod extras_text;
mod figures;
mod given;
mod inputs;
mod json;
mod map;
mod pairs;
mod sets_file;
mod text;

use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand};
use culture::PatientOrder;
use exchange::laboratory::{BulkImport, DateKind, Holds, Import, InputFile, Mapping, PatientHashKey};
use jiff::ZonedDateTime;
use jiff::civil::Date;

use crate::message::{Message, NOTHING_DONE};
use extras::Extras;
use figures::Figures;
pub use inputs::{companions, mapping, named_rules};

/// Read laboratory files of blood cultures
#[derive(Debug, Subcommand)]
pub enum CulturesCommand {
    Rates(RatesArgs),
    Map(map::MapArgs),
    Pairs(pairs::PairsArgs),
    TakeIn(crate::take_in::TakeInArgs),
}

/// Give each set its verdict and print the contamination rate
///
/// Reads tables (CSV, XLSX) through a mapping file, and HL7 v2 and FHIR R4 messages with or without one. Prints sets,
/// contaminated, true positive, negative, undetermined, and the rate with its 95 % interval and denominator, by month
/// and by unit. Every row that could not be read is listed by line with the reason.
///
/// Training support, not a medical device: local policy and the laboratory's instructions come first, and a licensed
/// clinician decides.
#[derive(Debug, Args)]
pub struct RatesArgs {
    /// Laboratory files: CSV, XLSX, HL7 v2, FHIR R4 (JSON or NDJSON)
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Mapping file: which column is what (docs/mapping.md)
    #[arg(long, value_name = "FILE.toml")]
    map: Option<PathBuf>,
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
    /// Write the control chart of the monthly rate to this file
    #[arg(long, value_name = "FILE.svg")]
    chart: Option<PathBuf>,
    /// Write every set with its verdict and the rule's clause to this file
    #[arg(long, value_name = "FILE.csv")]
    sets: Option<PathBuf>,
    /// Rule set: adult-24h, nhsn-match, episode-48h, cap-series or another of docs/rules.md, or a file
    #[arg(long, default_value = "adult-24h", value_name = "NAME or FILE.toml")]
    rules: String,
    /// Day of the report; today otherwise
    #[arg(long, value_name = "YYYY-MM-DD")]
    as_of: Option<String>,
    #[command(flatten)]
    extras: extras::ExtraArgs,
}

/// Runs a command on laboratory files.
pub fn run(command: &CulturesCommand) -> ExitCode {
    match command {
        CulturesCommand::Rates(args) => match rates(args) {
            Ok(code) => code,
            Err(message) => message.give_up(),
        },
        CulturesCommand::Map(args) => map::run(args),
        CulturesCommand::Pairs(args) => pairs::run(args),
        CulturesCommand::TakeIn(args) => crate::take_in::run(args),
    }
}

fn rates(args: &RatesArgs) -> Result<ExitCode, Message> {
    let rules = named_rules(&args.rules)?;
    let clock = ZonedDateTime::now().date();
    let as_of = args.as_of.as_deref().map_or(Ok(clock), day)?;
    let mapping = match &args.map {
        Some(path) => inputs::mapping(path)?,
        None => Mapping::for_messages(),
    };
    let key = inputs::key_for_this_run()?;
    let last_day = as_of.max(clock);
    let import = match inputs::in_bulk(&args.files, &mapping, &key, last_day)? {
        Some(import) => import,
        None => whole_files(args, &mapping, &key, last_day)?.in_little_space(),
    };
    let shifted = import.dates == DateKind::Shifted;
    let threads = inputs::threads();
    let order = PatientOrder::of(&import.sets, threads);
    let judged = if args.sets.is_some() || args.extras.any() {
        culture::judge_table(&import.sets, &order, &rules, (!shifted).then_some(as_of))
    } else {
        Vec::new()
    };
    let mut figures = Figures::new(&import, &order, &judged, &rules, as_of, threads);
    figures.density_g_per_ml = mapping.density_g_per_ml();
    // What is asked for besides looks at sets one by one and needs them in full.
    let in_full = if args.extras.any() { import.sets.to_sets() } else { Vec::new() };
    let case = extras::Case {
        sets: &in_full,
        judged: &judged,
        rules: &rules,
        as_of: (!shifted).then_some(as_of),
        positives_only: import.holds == Holds::PositivesOnly,
    };
    let extras = if import.sets.is_empty() { Extras::default() } else { Extras::new(&args.extras, case)? };
    if args.json {
        say(&(json::object(&figures, &extras) + "\n"))?;
    } else if !import.sets.is_empty() {
        say(&text::report(&figures, &extras_text::report(&figures, &extras)))?;
    }
    if let Some(path) = &args.sets {
        sets_file::write(path, &figures)?;
    }
    if import.sets.is_empty() {
        say_nothing_done(&import);
        return Ok(ExitCode::from(NOTHING_DONE));
    }
    if let Some(path) = &args.chart {
        chart::write(path, &figures)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Reads files that have to be held whole.
fn whole_files(
    args: &RatesArgs,
    mapping: &Mapping,
    key: &PatientHashKey,
    last_day: Date,
) -> Result<Import, Message> {
    let files = args.files.iter().map(|path| inputs::named_file(path)).collect::<Result<Vec<_>, _>>()?;
    let folders = args.files.iter().chain(&args.map).filter_map(|path| path.parent()).collect::<Vec<&Path>>();
    let companions = inputs::companions_in(mapping, &folders)?;
    Ok(exchange::laboratory::read(&as_inputs(&files), mapping, &as_inputs(&companions), key, last_day))
}

/// Prints; a reader that has seen enough and closes the pipe is no fault.
fn say(text: &str) -> Result<(), Message> {
    match std::io::stdout().lock().write_all(text.as_bytes()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Message::new(
            "standard output",
            format!("cannot be written: {error}"),
            "a place to print to",
            "check where the output goes",
        )),
        _ => Ok(()),
    }
}

fn as_inputs(files: &[(String, Vec<u8>)]) -> Vec<InputFile<'_>> {
    files.iter().map(|(name, bytes)| InputFile { name, bytes }).collect()
}

/// No set came out: everything that was found wrong goes to standard error.
fn say_nothing_done(import: &BulkImport) {
    for unread in &import.unread {
        eprintln!("{unread}");
    }
    for note in &import.notes {
        eprintln!("{}: {}", note.file, note.text);
    }
    for dropped in &import.dropped {
        eprintln!("{}: {} rows left out: {}", dropped.file, dropped.rows, dropped.reason);
    }
    eprintln!("No set could be read, so there is nothing to report.");
}

fn day(written: &str) -> Result<Date, Message> {
    written.parse().map_err(|_| {
        Message::new(
            "--as-of",
            format!("{written:?}"),
            "a day as YYYY-MM-DD, such as 2026-03-31",
            "write the day in this form",
        )
    })
}
