//! The command `wardwright draw`: one collection planned by the unit's confirmed policy.

mod json;
mod policy_file;
mod text;
mod words;

use std::path::PathBuf;
use std::process::ExitCode;

use ::draw::{
    Access, AgeMonths, BodyWeight, BottleKind, DrawError, Height, Method, Patient, Plan, Request, Sex,
    WeightBands, plan,
};
use clap::{Args, Subcommand, ValueEnum};
use quantity::Volume;

use crate::breakdown::print;
use crate::message::Message;
use policy_file::NamedPolicy;

/// Plan one collection of blood cultures
#[derive(Debug, Subcommand)]
pub enum DrawCommand {
    Plan(PlanArgs),
}

/// Plan one collection by the unit's policy: sets, bottles with their fill, order, and the blood it takes
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
    /// Blood taken in the last 24 hours for any purpose, in millilitres
    #[arg(long, value_name = "ML", allow_negative_numbers = true, value_parser = decimal)]
    taken_today_ml: Option<f64>,
    /// Sets ordered for an adult, 1 to 4, where the order differs from the policy
    #[arg(long, value_name = "NUMBER")]
    sets: Option<u32>,
    /// Where the blood comes from
    #[arg(long, value_enum, default_value = "vein")]
    route: RouteWord,
    /// How the blood gets into the bottles at a vein; a line is drawn with a syringe
    #[arg(long, value_enum, default_value = "winged-set")]
    method: MethodWord,
    /// Bottles at hand, parted by commas; no plan is made that needs others
    #[arg(long, value_enum, value_delimiter = ',')]
    bottles: Vec<BottlesWord>,
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
enum RouteWord {
    /// Each set from a fresh vein
    Vein,
    /// A suspected line: the first set from it, the second from a vein
    LineAndVein,
    /// Only a central line can be had
    CentralLine,
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

/// A plan with all that is said about it.
struct Planned<'a> {
    args: &'a PlanArgs,
    policy: NamedPolicy,
    weight: BodyWeight,
    request: Request,
    plan: Plan,
}

pub fn run(command: &DrawCommand) -> ExitCode {
    let DrawCommand::Plan(args) = command;
    match planned(args) {
        Ok(planned) => {
            print(&if args.json { json::object(&planned) } else { text::report(&planned) });
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn planned(args: &PlanArgs) -> Result<Planned<'_>, Message> {
    let Some(policy_path) = &args.policy else {
        return Err(Message::new(
            "--policy",
            "no policy",
            "the unit's own policy file: no number here is a policy",
            "copy policies/example.toml, hold it against your unit's policy, have it confirmed, and give it with \
             --policy; no plan was made",
        ));
    };
    let policy = policy_file::read(policy_path, args.sets)?;
    let weight = weight(args)?;
    let patient = patient(args, weight)?;
    let taken_today = Volume::from_ml(args.taken_today_ml.unwrap_or(0.0)).map_err(|error| {
        Message::new(
            "--taken-today-ml",
            error.to_string(),
            "millilitres of blood taken in the last 24 hours",
            "correct the number; no plan was made",
        )
    })?;
    if !args.weight_confirmed {
        ask_for_the_weight_again(args, weight, &policy.policy.rules().child_bands)?;
    }
    let access = match args.route {
        RouteWord::Vein => Access::Vein,
        RouteWord::LineAndVein => Access::LineAndVein,
        RouteWord::CentralLine => Access::CentralLine,
    };
    let method = match args.method {
        MethodWord::WingedSet => Method::WingedSet,
        MethodWord::Syringe => Method::Syringe,
    };
    let request = Request { patient, taken_today, access, method };
    let plan = plan(&request, &policy.policy).map_err(|error| no_plan(&error))?;
    bottles_are_at_hand(args, &plan)?;
    Ok(Planned { args, policy, weight, request, plan })
}

fn decimal(written: &str) -> Result<f64, String> {
    written
        .trim()
        .parse()
        .map_err(|_| "write a number with a point, such as 12.5, and no unit; no plan was made".to_owned())
}

fn weight(args: &PlanArgs) -> Result<BodyWeight, Message> {
    // The limit is a share of the patient's blood, so no one is planned for without a weight.
    let kg = args.weight_kg.ok_or_else(|| no_plan(&DrawError::WeightNeeded))?;
    BodyWeight::from_kg(kg).map_err(|error| no_plan(&error))
}

fn patient(args: &PlanArgs, weight: BodyWeight) -> Result<Patient, Message> {
    let not_for = |option: &str, found: &str, to_do: &str| {
        Err(Message::new(option, found, "an option that goes with the patient", to_do))
    };
    match (args.adult, args.child) {
        (true, _) if args.age_months.is_some() => {
            not_for("--age-months", "an age in months with --adult", "leave it out, or give --child")
        }
        (true, _) => {
            let height = args.height_cm.map(height).transpose()?;
            let sex = args.sex.map(|sex| match sex {
                SexWord::Female => Sex::Female,
                SexWord::Male => Sex::Male,
            });
            Ok(Patient::Adult { weight: Some(weight), height, sex })
        }
        (_, true) if args.height_cm.is_some() || args.sex.is_some() => not_for(
            "--height-cm, --sex",
            "height or sex with --child",
            "leave them out: a child's blood volume goes by weight and age",
        ),
        (_, true) if args.sets.is_some() => not_for(
            "--sets",
            "a number of sets with --child",
            "leave it out: a child's sets go by the weight table of the policy",
        ),
        (_, true) => Ok(Patient::Child { weight, age: args.age_months.map(AgeMonths) }),
        _ => Err(Message::new(
            "--adult or --child",
            "neither",
            "one of them: the bottles and volumes differ",
            "add --adult (18 years or older) or --child; no plan was made",
        )),
    }
}

fn height(cm: f64) -> Result<Height, Message> {
    Height::from_m(cm / 100.0).map_err(|error| match error {
        DrawError::Height { low, high, .. } => Message::new(
            "--height-cm",
            format!("{cm} cm"),
            format!("{:.0} to {:.0} cm", low * 100.0, high * 100.0),
            "give the height of an adult in centimetres, or leave it out; no plan was made",
        ),
        other => no_plan(&other),
    })
}

/// A slip of the point is the commonest wrong weight. Where the weight with its point one place over would change the
/// plan, it is asked for once more before there is one.
fn ask_for_the_weight_again(args: &PlanArgs, weight: BodyWeight, bands: &WeightBands) -> Result<(), Message> {
    let total = |weight| bands.sets(weight).iter().copied().sum::<Volume>();
    let is_heaviest = |weight| bands.sets(weight) == bands.bands().last().map_or(&[][..], |band| &band.sets);
    let shifted: Vec<BodyWeight> = [weight.to_kg() / 10.0, weight.to_kg() * 10.0]
        .into_iter()
        .filter_map(|kg| BodyWeight::from_kg(kg).ok())
        .collect();
    let because = if args.child {
        let other: Vec<String> = shifted
            .iter()
            .filter(|other| bands.sets(**other) != bands.sets(weight))
            .map(|other| format!("at {} kg it would be {}", words::kg(*other), total(*other)))
            .collect();
        (!other.is_empty())
            .then(|| format!("a child of this weight gives {}; {}", total(weight), other.join("; ")))
    } else if bands.bands().len() > 1 && !is_heaviest(weight) {
        Some("this is a child's weight in the policy's table, and the patient is an adult".to_owned())
    } else {
        // With the point one place to the left this would still be an adult, with a tenth of the blood.
        shifted.iter().find(|other| **other < weight && is_heaviest(**other)).map(|other| {
            format!("with the point one place over, {} kg, the limit is a tenth", words::kg(*other))
        })
    };
    because.map_or(Ok(()), |because| {
        Err(Message::new(
            "--weight-kg",
            format!("{} kg: {because}", words::kg(weight)),
            "a weight that was read twice, from the scale or the chart",
            "read the weight again, and where its point stands; if it is right, repeat the command with \
             --weight-confirmed; no plan was made",
        ))
    })
}

fn bottles_are_at_hand(args: &PlanArgs, plan: &Plan) -> Result<(), Message> {
    if args.bottles.is_empty() {
        return Ok(());
    }
    let at_hand = |kind: BottleKind| {
        args.bottles.contains(match kind {
            BottleKind::Aerobic | BottleKind::Anaerobic => &BottlesWord::Adult,
            BottleKind::Paediatric => &BottlesWord::Paediatric,
        })
    };
    let bottles = || plan.sets.iter().flat_map(|set| &set.bottles);
    let Some(missing) = bottles().find(|bottle| !at_hand(bottle.kind)) else { return Ok(()) };
    let patient = if args.child { "a child" } else { "an adult" };
    let (needed, why) = match missing.kind {
        BottleKind::Paediatric => ("paediatric", "so little blood is too little for an adult bottle"),
        _ => ("adult", "so much blood is too much for a paediatric bottle"),
    };
    Err(Message::new(
        "--bottles",
        format!("{patient} and no {needed} bottles at hand"),
        format!("{needed} bottles for {} a bottle: {why}", missing.target),
        format!("fetch {needed} bottles and plan again, or ask the laboratory; no plan was made"),
    ))
}

fn no_plan(error: &DrawError) -> Message {
    let message = |place: &str, found: String, expected: String, to_do: &str| {
        Message::new(place, found, expected, format!("{to_do}; no plan was made"))
    };
    match error {
        DrawError::Weight { kg, low, high } => message(
            "--weight-kg",
            format!("{kg} kg"),
            format!("{low} to {high} kg"),
            "check the number and where its point stands",
        ),
        DrawError::WeightNeeded => message(
            "--weight-kg",
            "no weight".to_owned(),
            "the patient's weight: without it the blood cannot be checked against the unit's limit"
                .to_owned(),
            "weigh the patient or take the weight from the chart",
        ),
        DrawError::LimitReached { taken, limit, left, needed } => message(
            "the unit's limit for 24 hours",
            format!("{taken} was taken, the limit is {limit}, {left} is left"),
            format!("at least {needed} left for the smallest draw"),
            "ask the clinician who decides",
        ),
        other => {
            message("draw plan", other.to_string(), "rules and values that fit".to_owned(), "correct it")
        }
    }
}
