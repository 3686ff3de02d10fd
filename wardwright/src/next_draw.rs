//! The command `wardwright next-draw`: who should take this draw, and who watches.

use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::JobCode;
use clap::Args;
use desk::{NOBODY_RELEASED, Named, NextDrawRow, OfferRow};
use jiff::civil::{DateTime, Time};
use serde_json::{Value, json};

use crate::breakdown::print;
use crate::desk_of_book::DeskOfBook;
use crate::folder::Folder;
use crate::message::{FAULTS, Message};

/// Say who of those on shift should take the next draw, and who watches
///
/// Works from the roster in the data folder, today's standings and the plan kept there (docs/next-draw.md). It is advice:
/// the charge nurse decides, the patient comes first, and local policy comes before both. Exit code: 0, 1 when nobody on
/// duty may draw in one of the jobs asked about, 2 when something could not be read.
#[derive(Debug, Args)]
pub struct NextDrawArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Moment of the draw, the unit's local time: 2026-11-02T21:30, or 21:30 for today; now when not given
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// Job; every job when not given
    #[arg(long, value_name = "CODE")]
    job: Option<String>,
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
}

const ADVICE: &str = "Advice, not an order: the charge nurse decides and the patient comes first. Training support, not \
                      a medical device; local policy comes first.";

pub fn run(args: &NextDrawArgs) -> ExitCode {
    match answered(args) {
        Ok((at, rows)) => {
            print(&if args.json { object(at, &rows) } else { report(at, &rows) });
            if rows.iter().any(|row| row.offers.is_empty()) {
                ExitCode::from(FAULTS)
            } else {
                ExitCode::SUCCESS
            }
        }
        Err(message) => message.give_up(),
    }
}

fn answered(args: &NextDrawArgs) -> Result<(DateTime, Vec<NextDrawRow>), Message> {
    let folder = Folder::open(&args.data)?;
    let at = match &args.at {
        None => folder.now(),
        Some(text) => moment(&folder, text).ok_or_else(|| {
            Message::new(
                "--at",
                format!("{text:?}"),
                "a moment such as 2026-11-02T21:30, or a time such as 21:30",
                "correct the moment",
            )
        })?,
    };
    let place = folder.path().display().to_string();
    let desk = DeskOfBook::unopened(folder);
    let job = args.job.as_ref().map(|code| JobCode(code.clone()));
    if let Some(job) = &job {
        let facts = desk.facts()?;
        if !facts.jobs().iter().any(|(known, _)| known == job) {
            let known: Vec<&str> = facts.jobs().iter().map(|(job, _)| job.0.as_str()).collect();
            return Err(Message::new(
                "--job",
                format!("{:?}", job.0),
                format!("one of the jobs with a breakdown in the book: {}", known.join(", ")),
                "give the short name of a job",
            ));
        }
    }
    let rows = desk.next_draws(at, job.as_ref())?.ok_or_else(|| {
        Message::new(
            place,
            "no roster",
            "roster.csv, roster.xlsx or roster.ics, which says who is on shift",
            "put the unit's roster into the data folder; docs/plan.md describes it",
        )
    })?;
    Ok((at, rows))
}

fn moment(folder: &Folder, text: &str) -> Option<DateTime> {
    let short = |text: &str| -> Option<Time> {
        let (hour, minute) = text.split_once(':')?;
        Time::new(hour.parse().ok()?, minute.parse().ok()?, 0, 0).ok()
    };
    text.parse()
        .ok()
        .filter(|_| text.contains('T'))
        .or_else(|| Some(folder.today().to_datetime(short(text)?)))
}

fn report(at: DateTime, rows: &[NextDrawRow]) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |words: String| {
        let _ = writeln!(text, "{words}");
    };
    for row in rows {
        line(format!(
            "{} at {}: {} shift of {}",
            row.job_name,
            at.strftime("%Y-%m-%d %H:%M"),
            row.shift.1,
            row.shift.0
        ));
        line(format!("  on duty: {}", row.n_on_duty));
        for (place, offer) in row.offers.iter().enumerate() {
            let lead = if place == 0 { "  NEXT  " } else { "  else  " };
            line(format!("{lead}{}", who(offer)));
            if place == 0 {
                for why in &offer.why {
                    line(format!("          {}: {why}", offer.draws.id));
                }
                if let Some(watcher) = &offer.watches {
                    for why in &offer.why_watches {
                        line(format!("          {}: {why}", watcher.id));
                    }
                }
            }
        }
        if row.offers.is_empty() {
            line(format!("  NOBODY  {NOBODY_RELEASED}"));
            match &row.next_released {
                Some((from, person)) => line(format!(
                    "          By the roster {} is the next who may draw alone, from {}.",
                    person.id,
                    from.strftime("%Y-%m-%d %H:%M")
                )),
                None => {
                    line("          By the roster nobody who may draw alone comes within 14 days.".to_owned())
                }
            }
        }
        if !row.to_be_shown_first.is_empty() {
            let ids: Vec<&str> = row.to_be_shown_first.iter().map(|one| one.id.0.as_str()).collect();
            line(format!("  To be shown the job before they draw: {}", ids.join(", ")));
        }
        line(String::new());
    }
    line(ADVICE.to_owned());
    text
}

fn who(offer: &OfferRow) -> String {
    let draws = format!("{} ({})", offer.draws.name, offer.draws.id);
    match &offer.watches {
        Some(watcher) => format!("{draws} draws, {} ({}) watches", watcher.name, watcher.id),
        None => format!("{draws} draws alone"),
    }
}

fn object(at: DateTime, rows: &[NextDrawRow]) -> String {
    let jobs: Vec<Value> = rows
        .iter()
        .map(|row| {
            json!({
                "job": row.job.0,
                "shift": { "date": row.shift.0.to_string(), "name": row.shift.1 },
                "on_duty": row.n_on_duty,
                "offers": row.offers.iter().map(offer).collect::<Vec<_>>(),
                "nobody": row.offers.is_empty().then_some(NOBODY_RELEASED),
                "next_released": row.next_released.as_ref().map(|(from, person)| json!({
                    "person": person.id.0, "from": from.to_string(),
                })),
                "to_be_shown_first": ids(&row.to_be_shown_first),
            })
        })
        .collect();
    let object = json!({ "schema": 1, "at": at.to_string(), "jobs": jobs, "advice": ADVICE });
    format!("{object:#}\n")
}

fn offer(offer: &OfferRow) -> Value {
    json!({
        "draws": offer.draws.id.0,
        "why": offer.why,
        "watches": offer.watches.as_ref().map(|one| &one.id.0),
        "why_watches": offer.why_watches,
        "must_be_watched": offer.must_be_watched,
    })
}

fn ids(people: &[Named]) -> Vec<&str> {
    people.iter().map(|one| one.id.0.as_str()).collect()
}
