//! The command `wardwright plan`: who learns with whom on which shift in the coming weeks, when each will be done, when
//! the trainer comes by, and what stands in the way.

mod expected;
mod gather;
mod json;
mod kept;
mod made;
mod settings;
mod text;

pub use gather::calendar_of;
pub use kept::{KeptPlan, keep};
pub use made::{Ask, MadePlan, ground_and_settings, make, question};
pub use settings::{Settings, absence};

use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::JobCode;
use clap::Args;
use timetable::plan::PlanFault;

use crate::breakdown::print;
use crate::desk_of_book::DeskOfBook;
use crate::folder::{Folder, write_over};
use crate::message::{FAULTS, Message};
use crate::progress::Progress;

/// Plan the coming weeks: who learns with whom on which shift, and when each learner will be done
///
/// Works from the record book, the roster in the data folder and, where there is one, its plan.toml (docs/plan.md). A
/// plan is advice for the trainer; it changes nobody's standing and no roster. Exit code: 0, 1 when no plan keeps every
/// limit, 2 when something could not be read.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Job to plan; the one with most learners when not given
    #[arg(long, value_name = "CODE")]
    job: Option<String>,
    /// First day; today when not given
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    /// Weeks to plan
    #[arg(long, default_value_t = 6, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=26))]
    weeks: u16,
    /// A plan written with --json: change as little of it as possible
    #[arg(long, value_name = "PLAN.json")]
    known: Option<PathBuf>,
    /// Somebody away: staff identifier, first and last day, such as n012:2026-11-05:2026-11-09; may be repeated
    #[arg(long, value_name = "ID:FROM:TO")]
    absent: Vec<String>,
    /// Write each person's own part of the plan as an iCalendar file into this folder
    #[arg(long, value_name = "FOLDER")]
    calendars: Option<PathBuf>,
    /// Keep this plan in the data folder as the one the pages show; the plan kept before is replaced
    #[arg(long)]
    keep: bool,
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
}

const ADVICE: &str = "A plan is advice: the charge nurse decides on shift, and the patient comes first. Training \
                      support, not a medical device; local policy comes first. A person's figures are for that person \
                      and their trainer only.";

pub fn run(args: &PlanArgs) -> ExitCode {
    let progress = Progress::new();
    progress.stage("working the plan out");
    let planned = planned(args);
    drop(progress);
    match planned {
        Ok(Ok(made)) => {
            print(&if args.json { json::object(&made) } else { text::report(&made) });
            ExitCode::SUCCESS
        }
        Ok(Err(faults)) => {
            eprintln!("No plan keeps every limit; a plan made before stays as it is.");
            for fault in &faults {
                eprintln!("  {fault}");
            }
            ExitCode::from(FAULTS)
        }
        Err(message) => message.give_up(),
    }
}

fn planned(args: &PlanArgs) -> Result<Result<MadePlan, Vec<PlanFault>>, Message> {
    let folder = Folder::open(&args.data)?;
    let from = match &args.from {
        None => folder.today(),
        Some(text) => text.parse().map_err(|_| {
            Message::new("--from", format!("{text:?}"), "a date such as 2026-11-02", "correct the date")
        })?,
    };
    if from < folder.today() {
        return Err(Message::new(
            "--from",
            format!("{from}, which is past"),
            format!("today, {}, or a later day", folder.today()),
            "plan from today's state: what has happened is in the book",
        ));
    }
    let absences = args.absent.iter().map(|words| absence(words)).collect::<Result<Vec<_>, _>>()?;
    let desk_of_book = DeskOfBook::unopened(folder);
    let desk = desk_of_book.facts()?;
    let folder = desk_of_book.folder();
    let job = args.job.as_ref().map(|code| JobCode(code.clone()));
    let mut ask = Ask { job, from, weeks: args.weeks, known: None, absences };
    if let Some(path) = &args.known {
        let (ground, settings) = ground_and_settings(folder, &desk, &ask)?;
        ask.known = Some(KeptPlan::read(path, &ground.job, settings.times)?.plan.pairings);
        ask.job = Some(ground.job);
    }
    let made = match make(folder, &desk, &ask)? {
        Ok(made) => made,
        Err(faults) => return Ok(Err(faults)),
    };
    if let Some(out) = &args.calendars {
        write_calendars(out, &made, &folder.zone_of_unit())?;
    }
    if args.keep {
        keep(folder, &made)?;
    }
    Ok(Ok(made))
}

/// One iCalendar file for each person with something in the plan.
fn write_calendars(out: &std::path::Path, made: &MadePlan, zone: &jiff::tz::TimeZone) -> Result<(), Message> {
    std::fs::create_dir_all(out).map_err(|error| {
        Message::new(
            out.display().to_string(),
            format!("the folder could not be made: {error}"),
            "a folder that can be written to",
            "choose another folder",
        )
    })?;
    for (person, events) in gather::calendars(&made.plan, &made.about()) {
        let name: String =
            person.0.chars().map(|sign| if sign.is_ascii_alphanumeric() { sign } else { '-' }).collect();
        let text = exchange::roster::write_calendar(&events, made.today, zone);
        write_over(&out.join(format!("{name}.ics")), text.as_bytes())?;
    }
    Ok(())
}
