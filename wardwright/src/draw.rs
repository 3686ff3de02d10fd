//! The command `wardwright draw`: one collection planned by the unit's confirmed policy.

mod json;
pub(crate) mod policy_file;
mod text;
pub(crate) mod times;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};
use desk::{Antibiotic, AskedFor, BottlesAtHand, ChosenJob, CollectionAsk, Method, Refused, Sex, collection};
use jiff::ZonedDateTime;
use jiff::civil::DateTime;

use crate::breakdown::print;
use crate::message::Message;

/// Plan one collection of blood cultures
#[derive(Debug, Subcommand)]
pub enum DrawCommand {
    Plan(PlanArgs),
}

/// Plan one collection by the unit's policy: sets, sites, bottles, order, supplies, times, and the blood it takes
///
/// The plan stays within the unit's limit for blood in 24 hours; where the limit binds it says what was given up, and
/// where nothing is left it makes no plan. Every number names the policy or its source. The policy is a file the unit
/// owns and has confirmed (docs/draw-plan.md); policies/example.toml shows its form. Nothing is stored. Exit code: 0
/// when there is a plan, 2 when there is none.
///
/// Training support, not a medical device: local policy and the laboratory's instructions come first, and a licensed
/// clinician decides.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// The unit's confirmed policy
    #[arg(long, value_name = "FILE.toml")]
    policy: Option<PathBuf>,
    /// The patient is 18 years or older
    #[arg(long, conflicts_with = "child")]
    adult: bool,
    /// The patient is younger: volumes go by weight
    #[arg(long)]
    child: bool,
    /// Body weight in kilograms, 0.3 to 400
    #[arg(long, value_name = "KG", allow_negative_numbers = true, value_parser = decimal)]
    weight_kg: Option<f64>,
    /// The weight was read again where the plan asks for it
    #[arg(long)]
    weight_confirmed: bool,
    /// Height of an adult in centimetres, 100 to 250; with the sex it gives a better estimate of the blood volume
    #[arg(long, value_name = "CM", allow_negative_numbers = true, value_parser = decimal)]
    height_cm: Option<f64>,
    /// Sex of an adult, as the formulas for the blood volume know it
    #[arg(long, value_enum)]
    sex: Option<SexWord>,
    /// Age of a child in completed months, 0 to 215
    #[arg(long, value_name = "MONTHS", value_parser = clap::value_parser!(u16).range(0..216))]
    age_months: Option<u16>,
    /// Haemoglobin in grams per litre, 20 to 250 (8.5 g/dL are 85 g/L): what the draw costs of it is stated
    #[arg(long, value_name = "G_PER_L", allow_negative_numbers = true, value_parser = decimal)]
    haemoglobin_g_per_l: Option<f64>,
    /// Blood taken in the last 24 hours for any purpose, in millilitres
    #[arg(long, value_name = "ML", allow_negative_numbers = true, value_parser = decimal)]
    taken_today_ml: Option<f64>,
    /// Sets ordered for an adult, 1 to 4, where the order differs from the policy
    #[arg(long, value_name = "NUMBER")]
    sets: Option<u32>,
    /// What blood can be had from, parted by commas
    #[arg(long, value_enum, value_delimiter = ',', default_value = "vein")]
    access: Vec<AccessWord>,
    /// Lumens of the central line, 1 to 5
    #[arg(long, value_name = "NUMBER")]
    lumens: Option<u8>,
    /// An infection of the line is suspected: one set from it and one from a vein, to be compared
    #[arg(long)]
    line_suspected: bool,
    /// How the blood gets into the bottles at a vein; a line is drawn with a syringe
    #[arg(long, value_enum, default_value = "winged-set")]
    method: MethodWord,
    /// Bottles at hand, parted by commas; no plan is made that needs others
    #[arg(long, value_enum, value_delimiter = ',')]
    bottles: Vec<BottlesWord>,
    /// When the first dose of antibiotic was given: HH:MM today, or "YYYY-MM-DD HH:MM"
    #[arg(long, value_name = "TIME", conflicts_with_all = ["antibiotic_due", "no_antibiotic"])]
    antibiotic_given: Option<String>,
    /// When the first dose of antibiotic is due, written the same way
    #[arg(long, value_name = "TIME", conflicts_with = "no_antibiotic")]
    antibiotic_due: Option<String>,
    /// No antibiotic was given and none is due
    #[arg(long)]
    no_antibiotic: bool,
    /// A breakdown by which the draw is carried out, once for each: where its contact or drying is longer than the
    /// policy's, the longer counts
    #[arg(long, value_name = "FILE")]
    breakdown: Vec<PathBuf>,
    /// When the draw begins, written the same way; now otherwise
    #[arg(long, value_name = "TIME")]
    draw_time: Option<String>,
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum SexWord {
    Female,
    Male,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum AccessWord {
    /// A vein that can be punctured
    Vein,
    /// A peripheral cannula just placed
    NewCannula,
    /// A central line
    CentralLine,
    /// An arterial line
    ArterialLine,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum MethodWord {
    /// A closed winged set with tubing
    WingedSet,
    /// A syringe and a transfer device
    Syringe,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum BottlesWord {
    /// Aerobic and anaerobic bottles for adults
    Adult,
    /// Bottles for the small volumes of children
    Paediatric,
}

pub fn run(command: &DrawCommand) -> ExitCode {
    let DrawCommand::Plan(args) = command;
    match planned(args) {
        Ok(text) => {
            print(&text);
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn planned(args: &PlanArgs) -> Result<String, Message> {
    let Some(policy_path) = &args.policy else {
        return Err(Message::new(
            "--policy",
            "no policy",
            "the unit's own policy file: no number here is a policy",
            "copy policies/example.toml, hold it against your unit's policy, have it confirmed, and give it with \
             --policy; no plan was made",
        ));
    };
    let unit = policy_file::read(policy_path)?;
    let now = ZonedDateTime::now().datetime();
    let ask = asked(args, now)?;
    let sheet = collection(&ask, &unit, now).map_err(|refused| message(&refused))?;
    Ok(if args.json { json::object(&ask, &unit, &sheet) } else { text::report(&sheet) })
}

fn decimal(written: &str) -> Result<f64, String> {
    written
        .trim()
        .parse()
        .map_err(|_| "write a number with a point, such as 12.5, and no unit; no plan was made".to_owned())
}

fn asked(args: &PlanArgs, now: DateTime) -> Result<CollectionAsk, Message> {
    let time = |option: &str, written: &Option<String>| {
        let read = |written: &String| {
            times::read(written, now.date()).ok_or_else(|| {
                Message::new(
                    option,
                    format!("{written:?}"),
                    "HH:MM today, such as 14:05, or \"YYYY-MM-DD HH:MM\"",
                    "write the time in this form; no plan was made",
                )
            })
        };
        written.as_ref().map(read).transpose()
    };
    let given = time("--antibiotic-given", &args.antibiotic_given)?;
    let due = time("--antibiotic-due", &args.antibiotic_due)?;
    let antibiotic = match (given, due) {
        (Some(given), _) => Antibiotic::Given(given),
        (None, Some(due)) => Antibiotic::Due(due),
        (None, None) if args.no_antibiotic => Antibiotic::NoneDue,
        (None, None) => Antibiotic::NotStated,
    };
    let has = |word| args.access.contains(&word);
    Ok(CollectionAsk {
        is_child: match (args.adult, args.child) {
            (true, _) => Some(false),
            (_, true) => Some(true),
            _ => None,
        },
        weight_kg: args.weight_kg,
        weight_confirmed: args.weight_confirmed,
        height_cm: args.height_cm,
        sex: args.sex.map(|sex| match sex {
            SexWord::Female => Sex::Female,
            SexWord::Male => Sex::Male,
        }),
        age_months: args.age_months,
        haemoglobin_g_per_l: args.haemoglobin_g_per_l,
        taken_today_ml: args.taken_today_ml,
        sets: args.sets,
        vein: has(AccessWord::Vein),
        new_cannula: has(AccessWord::NewCannula),
        central_line: has(AccessWord::CentralLine),
        lumens: args.lumens,
        arterial_line: has(AccessWord::ArterialLine),
        line_suspected: args.line_suspected,
        method: match args.method {
            MethodWord::WingedSet => Method::WingedSet,
            MethodWord::Syringe => Method::Syringe,
        },
        bottles: (!args.bottles.is_empty()).then(|| BottlesAtHand {
            adult: args.bottles.contains(&BottlesWord::Adult),
            paediatric: args.bottles.contains(&BottlesWord::Paediatric),
        }),
        antibiotic,
        draw_at: time("--draw-time", &args.draw_time)?,
        jobs: args.breakdown.iter().map(|path| job(path)).collect::<Result<_, _>>()?,
    })
}

/// The times of a breakdown file.
fn job(path: &Path) -> Result<ChosenJob, Message> {
    crate::breakdown::read_sound(path).map(|breakdown| desk::chosen_job(&breakdown))
}

/// A refusal with the option it is about.
fn message(refused: &Refused) -> Message {
    let place = match refused.about {
        AskedFor::Who => "--adult or --child",
        AskedFor::Weight => "--weight-kg",
        AskedFor::Height => "--height-cm",
        AskedFor::HeightOrSex => "--height-cm, --sex",
        AskedFor::AgeMonths => "--age-months",
        AskedFor::Haemoglobin => "--haemoglobin-g-per-l",
        AskedFor::TakenToday => "--taken-today-ml",
        AskedFor::Sets => "--sets",
        AskedFor::Access => "--access",
        AskedFor::Lumens => "--lumens",
        AskedFor::LineSuspected => "--line-suspected",
        AskedFor::Bottles => "--bottles",
        AskedFor::Antibiotic => "--antibiotic-given, --antibiotic-due",
        AskedFor::DrawTime => "--draw-time",
        AskedFor::DayLimit => "the unit's limit for 24 hours",
        AskedFor::Policy => "--policy",
    };
    let to_do = match refused.weight_again {
        true => {
            format!(
                "{} by repeating the command with --weight-confirmed",
                refused.to_do.trim_end_matches("; no plan was made")
            ) + "; no plan was made"
        }
        false => refused.to_do.clone(),
    };
    Message::new(place, refused.found.clone(), refused.expected.clone(), to_do)
}
