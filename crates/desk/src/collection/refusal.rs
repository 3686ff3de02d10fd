//! Why there is no plan, in four parts: where, what was found, what was expected, what to do.

use draw::{BottleKind, DrawError, WeightDoubt};
use jiff::civil::DateTime;

use super::sets::kg;

/// What a refusal is about. The command line names its option, the page its field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AskedFor {
    /// Adult or child.
    Who,
    /// Weight.
    Weight,
    /// Height.
    Height,
    /// Height or sex.
    HeightOrSex,
    /// Age in months.
    AgeMonths,
    /// Haemoglobin.
    Haemoglobin,
    /// Blood taken in the last 24 hours.
    TakenToday,
    /// Number of sets ordered.
    Sets,
    /// What blood can be had from.
    Access,
    /// Number of lumens.
    Lumens,
    /// Suspected infection of a line.
    LineSuspected,
    /// Bottles at hand.
    Bottles,
    /// Antibiotic given or due.
    Antibiotic,
    /// Time of the draw.
    DrawTime,
    /// The unit's limit for 24 hours.
    DayLimit,
    /// The unit's policy.
    Policy,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// What it is about.
    pub about: AskedFor,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub to_do: String,
    /// The weight is asked for once more: it may be right.
    pub weight_again: bool,
}

fn refused(about: AskedFor, found: impl Into<String>, expected: impl Into<String>, to_do: &str) -> Refused {
    Refused {
        about,
        found: found.into(),
        expected: expected.into(),
        to_do: format!("{to_do}; no plan was made"),
        weight_again: false,
    }
}

pub(super) fn of_who() -> Refused {
    refused(
        AskedFor::Who,
        "neither adult nor child",
        "one of them: the bottles and volumes differ",
        "say whether the patient is an adult (18 years or older) or a child",
    )
}

pub(super) fn of_order(sets: u32) -> Refused {
    refused(
        AskedFor::Sets,
        format!("{sets} sets"),
        "1 to 4 (IDSA/ASM 2018: 2 to 4)",
        "ask for the number that was ordered, or leave it out for the policy's",
    )
}

pub(super) fn of_taken(ml: f64, most_ml: f64) -> Refused {
    refused(
        AskedFor::TakenToday,
        format!("{ml} mL"),
        format!("0 to {most_ml} mL of blood taken in the last 24 hours"),
        "correct the number",
    )
}

pub(super) fn not_for_patient(about: AskedFor, found: &str, to_do: &str) -> Refused {
    refused(about, found, "what goes with the patient", to_do)
}

pub(super) fn of(error: &DrawError) -> Refused {
    match error {
        DrawError::Weight { kg, low, high } => refused(
            AskedFor::Weight,
            format!("{kg} kg"),
            format!("{low} to {high} kg"),
            "check the number and where its point stands",
        ),
        DrawError::Height { m, low, high } => refused(
            AskedFor::Height,
            format!("{} cm", (m * 10_000.0).round() / 100.0),
            format!("{:.0} to {:.0} cm", low * 100.0, high * 100.0),
            "give the height of an adult in centimetres, or leave it out",
        ),
        DrawError::Haemoglobin { g_per_l, low, high } => refused(
            AskedFor::Haemoglobin,
            format!("{g_per_l} g/L"),
            format!("{low} to {high} g/L; 8.5 g/dL are 85 g/L"),
            "give it in grams per litre, or leave it out",
        ),
        DrawError::WeightNeeded => refused(
            AskedFor::Weight,
            "no weight",
            "the patient's weight: without it the blood cannot be checked against the unit's limit",
            "weigh the patient or take the weight from the chart",
        ),
        DrawError::WeightAgain(doubt) => of_doubt(doubt),
        DrawError::LimitReached { taken, limit, left, needed } => refused(
            AskedFor::DayLimit,
            format!("{taken} was taken, the limit is {limit}, {left} is left"),
            format!("at least {needed} left for the smallest draw"),
            "ask the clinician who decides",
        ),
        DrawError::Bottles { kind, target, patient_is_child } => {
            let patient = if *patient_is_child { "a child" } else { "an adult" };
            let (needed, why) = match kind {
                BottleKind::Paediatric => ("paediatric", "so little blood is too little for an adult bottle"),
                _ => ("adult", "so much blood is too much for a paediatric bottle"),
            };
            refused(
                AskedFor::Bottles,
                format!("{patient} and no {needed} bottles at hand"),
                format!("{needed} bottles for {target} a bottle: {why}"),
                &format!("fetch {needed} bottles and plan again, or ask the laboratory"),
            )
        }
        DrawError::Lumens { lumens, most } => refused(
            AskedFor::Lumens,
            format!("{lumens} lumens"),
            format!("1 to {most}"),
            "count the lumens of the central line",
        ),
        DrawError::NoAccess => refused(
            AskedFor::Access,
            "no vein, no cannula and no line",
            "what blood can be had from",
            "name at least one",
        ),
        DrawError::NoLineToSuspect => refused(
            AskedFor::LineSuspected,
            "a suspected line infection and no line",
            "the central or arterial line that is suspected",
            "name the line too, or take the suspicion back",
        ),
        DrawError::NotDrawnFrom { new_cannula, arterial_line, central_line } => {
            let mut named = Vec::new();
            for (is_named, what, key) in [
                (new_cannula, "a cannula just placed", "line.from_new_cannula"),
                (arterial_line, "an arterial line", "line.from_arterial_line"),
                (central_line, "a central line that is not suspected", "line.from_central_line"),
            ] {
                if *is_named {
                    named.push(format!("{what} (policy {key} = false)"));
                }
            }
            refused(
                AskedFor::Access,
                format!("only {}", named.join(" and ")),
                "an access that the policy allows to draw from",
                "look for a vein, have a colleague try, or ask the clinician who decides",
            )
        }
        DrawError::DrawTime { draw_at, now } => refused(
            AskedFor::DrawTime,
            format!("a draw at {}, and it is {} now", moment(*draw_at), moment(*now)),
            "a time within a day of now",
            "correct the time, or leave it out for a draw now; check the clock of this machine",
        ),
        DrawError::AntibioticInFuture { given, draw_at, now } => {
            let than = if given > now {
                format!("it is {} now", moment(*now))
            } else {
                format!("the draw is at {}", moment(*draw_at))
            };
            refused(
                AskedFor::Antibiotic,
                format!("given at {}, and {than}", moment(*given)),
                "a time that has passed before the draw",
                "correct the time; write the date too if it was yesterday; if the dose is still to come, say when it \
                 is due instead",
            )
        }
        DrawError::AntibioticDue { due, draw_at } => refused(
            AskedFor::Antibiotic,
            format!("due at {}, with a draw at {}", moment(*due), moment(*draw_at)),
            "a dose due within a day of the draw",
            "correct the time and its date",
        ),
        DrawError::Policy { what, found, expected } => {
            refused(AskedFor::Policy, format!("{what}: {found}"), *expected, "have the policy corrected")
        }
        DrawError::Lighter { .. } | DrawError::Quantity(_) => {
            refused(AskedFor::Policy, error.to_string(), "values that fit", "correct it")
        }
        _ => refused(AskedFor::Policy, error.to_string(), "rules and values that fit", "correct it"),
    }
}

fn of_doubt(doubt: &WeightDoubt) -> Refused {
    let (weight, because) = match doubt {
        WeightDoubt::OtherVolume { volume, others } => {
            let others: Vec<String> = others
                .iter()
                .map(|(weight, volume)| format!("at {} kg it would be {volume}", kg(*weight)))
                .collect();
            (None, format!("a child of this weight gives {volume}; {}", others.join("; ")))
        }
        WeightDoubt::ChildsWeight => {
            (None, "this is a child's weight in the policy's table, and the patient is an adult".to_owned())
        }
        WeightDoubt::TenthIsAdult { other } => {
            (Some(*other), "with the point one place over the limit is a tenth".to_owned())
        }
    };
    let found = match weight {
        Some(other) => format!("{because}, at {} kg", kg(other)),
        None => because,
    };
    Refused {
        weight_again: true,
        ..refused(
            AskedFor::Weight,
            found,
            "a weight that was read twice, from the scale or the chart",
            "read the weight again, and where its point stands; if it is right, confirm it",
        )
    }
}

/// "2026-03-02 14:05".
pub(super) fn moment(at: DateTime) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}
