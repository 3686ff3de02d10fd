//! `wardwright cultures pairs`: line and vein sets of one episode, and how much earlier the line's grew.

mod json;
mod text;
mod times;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use culture::{CultureSet, Pairs, PositiveTimes, line_and_vein_pairs};
use exchange::laboratory::Mapping;
use jiff::ZonedDateTime;

use super::{as_inputs, inputs, say};
use crate::message::{Message, NOTHING_DONE};

/// Compare line and vein sets of one episode by their times to positivity
///
/// Pairs each set from a line with the same patient's set from a vein that was drawn nearest to it, within 24 hours. A
/// line's set that is positive 120 minutes or more before the vein's points to the line (IDSA 2009), where both were
/// drawn within 15 minutes and with equal volumes and grew the same organism; otherwise the pair is not comparable, and
/// is listed with the reason. Times to positivity come with the sets, where the mapping names their column
/// (positive_after_h), or from the laboratory's instrument as a table with a specimen number and hours, which goes first;
/// the mapping's sets need a route, a time and volumes. Exit code: 0 when sets were read, 2 when none
/// was.
///
/// Training support, not a medical device: whether a line is removed is decided by a licensed clinician.
#[derive(Debug, Args)]
pub struct PairsArgs {
    /// Laboratory files, as for `cultures rates`
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Mapping file: which column is what (docs/mapping.md)
    #[arg(long, value_name = "FILE.toml")]
    map: PathBuf,
    /// Table of times to positivity (CSV or XLSX); one row for each specimen or each bottle
    #[arg(long, value_name = "FILE.csv")]
    times: Option<PathBuf>,
    /// Column with the specimen number, as the mapping gives it to sets
    #[arg(long, default_value = "specimen", value_name = "COLUMN")]
    specimen_column: String,
    /// Column with the hours from loading to positive: 13.5 or 13:30; blank where nothing grew
    #[arg(long, default_value = "positive_after_h", value_name = "COLUMN")]
    hours_column: String,
    /// Column that says "yes" where the set was drawn under an antibiotic
    #[arg(long, value_name = "COLUMN")]
    antibiotic_column: Option<String>,
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
}

/// Pairs with what they were found in.
struct Compared {
    sets: Vec<CultureSet>,
    times: PositiveTimes,
    pairs: Pairs,
    /// Rows of the times that could not be used, and why.
    unused: Vec<String>,
    knows_antibiotics: bool,
}

pub fn run(args: &PairsArgs) -> ExitCode {
    match pairs(args) {
        Ok(code) => code,
        Err(message) => message.give_up(),
    }
}

fn pairs(args: &PairsArgs) -> Result<ExitCode, Message> {
    let mapping = inputs::mapping(&args.map)?;
    let sets = sets(args, &mapping)?;
    if sets.is_empty() {
        eprintln!("No set could be read, so there is nothing to pair.");
        return Ok(ExitCode::from(NOTHING_DONE));
    }
    let (apart, mut unused) = match &args.times {
        Some(path) => times::read(args, path)?,
        None => Default::default(),
    };
    let known: std::collections::HashSet<_> = sets.iter().map(|set| &set.id).collect();
    let n_strange = apart.after_s.keys().filter(|id| !known.contains(id)).count();
    if n_strange > 0 {
        unused.push(format!(
            "specimen numbers that are in no set: {n_strange}; the mapping may make set numbers another way"
        ));
    }
    let times = PositiveTimes::of(&sets).with(apart);
    let pairs = line_and_vein_pairs(&sets, &times);
    let knows_antibiotics = args.times.is_some() && args.antibiotic_column.is_some();
    let compared = Compared { sets, times, pairs, unused, knows_antibiotics };
    say(&if args.json { json::object(&compared) } else { text::report(&compared) })?;
    Ok(ExitCode::SUCCESS)
}

fn sets(args: &PairsArgs, mapping: &Mapping) -> Result<Vec<CultureSet>, Message> {
    let key = inputs::key_for_this_run()?;
    let today = ZonedDateTime::now().date();
    let files = args.files.iter().map(|path| inputs::named_file(path)).collect::<Result<Vec<_>, _>>()?;
    let folders: Vec<&Path> = args.files.iter().chain([&args.map]).filter_map(|path| path.parent()).collect();
    let companions = inputs::companions_in(mapping, &folders)?;
    let import =
        exchange::laboratory::read(&as_inputs(&files), mapping, &as_inputs(&companions), &key, today);
    for unread in &import.unread {
        eprintln!("{unread}");
    }
    Ok(import.sets)
}
