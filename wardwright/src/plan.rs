//! The command `wardwright plan`: who learns with whom on which shift in the coming weeks, when each will be done, when
//! the trainer comes by, and what stands in the way.

mod gather;
mod json;
mod known;
mod settings;
mod text;

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Instant;

use ::breakdown::JobCode;
use clap::Args;
use jiff::ToSpan as _;
use timetable::pairing::PairingEffort;
use timetable::plan::{Plan, PlanError, PlanFault, PlanQuestion, make_plan};

use crate::breakdown::print;
use crate::folder::{Folder, write_over};
use crate::message::{FAULTS, Message};
use gather::Gathered;
use settings::Settings;

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
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
}

/// A plan with what it rests on.
struct Shown {
    plan: Plan,
    gathered: Gathered,
    seconds: f64,
}

const ADVICE: &str = "A plan is advice: the charge nurse decides on shift, and the patient comes first. Training \
                      support, not a medical device; local policy comes first. A person's figures are for that person \
                      and their trainer only.";

pub fn run(args: &PlanArgs) -> ExitCode {
    match planned(args) {
        Ok(Ok(shown)) => {
            print(&if args.json { json::object(&shown) } else { text::report(&shown) });
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

fn planned(args: &PlanArgs) -> Result<Result<Shown, Vec<PlanFault>>, Message> {
    let folder = Folder::open(&args.data)?;
    let mut settings = Settings::read(&folder)?;
    for words in &args.absent {
        settings.absences.push(settings::absence(words)?);
    }
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
    let until = from.saturating_add((i64::from(args.weeks) * 7 - 1).days());
    let job = args.job.as_ref().map(|code| JobCode(code.clone()));
    let gathered = gather::gather(&folder, &settings, job, until)?;
    let known = args.known.as_deref().map(|path| known::read(path, &gathered.job)).transpose()?;
    let began = Instant::now();
    let question = PlanQuestion {
        from,
        until,
        roster: &gathered.roster,
        learners: &gathered.learners,
        watchers: &gathered.watchers,
        trainers: &gathered.trainers,
        rates: &gathered.rates,
        offered: gathered.offered,
        absences: &settings.absences,
        checks: &gathered.checks,
        limits: settings.limits,
        known: known.as_deref(),
        effort: if known.is_some() { PairingEffort::again() } else { PairingEffort::default() },
    };
    let plan = match make_plan(&question) {
        Ok(plan) => plan,
        Err(PlanError::Infeasible(faults)) => return Ok(Err(faults)),
        Err(error) => {
            return Err(Message::new(
                "plan",
                error.to_string(),
                "days, limits and rates within their ranges",
                "correct plan.toml or the options named",
            ));
        }
    };
    let seconds = began.elapsed().as_secs_f64();
    if let Some(out) = &args.calendars {
        write_calendars(out, &plan, &gathered)?;
    }
    Ok(Ok(Shown { plan, gathered, seconds }))
}

/// One iCalendar file for each person with something in the plan.
fn write_calendars(out: &std::path::Path, plan: &Plan, gathered: &Gathered) -> Result<(), Message> {
    std::fs::create_dir_all(out).map_err(|error| {
        Message::new(
            out.display().to_string(),
            format!("the folder could not be made: {error}"),
            "a folder that can be written to",
            "choose another folder",
        )
    })?;
    for (person, events) in gather::calendars(plan, gathered) {
        let name: String =
            person.0.chars().map(|sign| if sign.is_ascii_alphanumeric() { sign } else { '-' }).collect();
        let text = exchange::roster::write_calendar(&events, gathered.today);
        write_over(&out.join(format!("{name}.ics")), text.as_bytes())?;
    }
    Ok(())
}
