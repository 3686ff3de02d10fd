//! A unit's policy as it stands in its file.

use std::path::Path;

use ::draw::{ConfirmedPolicy, DrawError, Policy, WeightBand, WeightBands};
use quantity::Volume;
use serde::Deserialize;

use crate::message::Message;
use crate::toml_file;

/// A confirmed policy with the name and version of its file.
#[derive(Debug)]
pub(super) struct NamedPolicy {
    pub(super) name: String,
    pub(super) version: String,
    pub(super) policy: ConfirmedPolicy,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PolicyFile {
    schema: u32,
    name: String,
    version: String,
    /// Optional here, so that a file without it gets words of its own.
    confirmed_by: Option<String>,
    adult: AdultRules,
    child: ChildRules,
    blood: BloodRules,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct AdultRules {
    sets: u32,
    fill_least_ml: f64,
    fill_target_ml: f64,
    bottle_most_ml: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ChildRules {
    bottle_most_ml: f64,
    weight_table: String,
    band: Vec<Band>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Band {
    from_kg: f64,
    sets_ml: Vec<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct BloodRules {
    least_useful_ml: f64,
    line_discard_ml: f64,
    vein_divert_ml: f64,
    day_limit_percent: f64,
}

/// Heaviest weight at which a band may begin: no patient weighs more.
const HEAVIEST_KG: f64 = 400.0;
/// Most blood a rule may state for one set, bottle or discard: a slip of the pen otherwise.
const MOST_ML: f64 = 100.0;
/// Most sets a band may have.
const MOST_SETS: usize = 4;

/// Reads a policy and checks that somebody confirmed it. `adult_sets` stands in for the policy's number of sets where
/// the order for this draw asks for another.
pub(super) fn read(path: &Path, adult_sets: Option<u32>) -> Result<NamedPolicy, Message> {
    let place = path.display().to_string();
    let file: PolicyFile = toml_file::read(path, "a unit's policy", "docs/draw-plan.md")?;
    file.confirmed(&place, adult_sets)
}

impl PolicyFile {
    fn confirmed(self, place: &str, adult_sets: Option<u32>) -> Result<NamedPolicy, Message> {
        if self.schema != 1 {
            return Err(Message::new(
                place,
                format!("schema = {}", self.schema),
                "schema = 1",
                "write the policy in the form of policies/example.toml",
            ));
        }
        for (key, value) in [("name", &self.name), ("version", &self.version)] {
            if value.trim().is_empty() {
                return Err(Message::new(
                    format!("{place}: {key}"),
                    "nothing between the quotation marks",
                    "the policy's name and version: every plan carries them",
                    "write them into the policy",
                ));
            }
        }
        let confirmed_by = self.confirmed_by.clone().unwrap_or_default();
        if confirmed_by.trim().is_empty() {
            return Err(Message::new(
                place,
                "a policy that nobody has confirmed: no confirmed_by",
                "the role that answers for these rules in the line confirmed_by; defaults are nobody's policy",
                "hold every value against your unit's policy and the laboratory's instructions, change what differs, \
                 then have confirmed_by filled in; no plan was made",
            ));
        }
        let (name, version) = (self.name.clone(), self.version.clone());
        let mut rules = self.rules(place)?;
        // The file is held to its own number before the order's takes its place.
        rules.clone().confirm(&confirmed_by).map_err(|error| impossible(place, &error))?;
        if let Some(adult_sets) = adult_sets {
            rules.adult_sets = adult_sets;
        }
        let policy = rules.confirm(&confirmed_by).map_err(|error| impossible("--sets", &error))?;
        Ok(NamedPolicy { name, version, policy })
    }

    fn rules(self, place: &str) -> Result<Policy, Message> {
        let ml = |key: &str, value: f64| volume(&format!("{place}: {key}"), value);
        let percent = self.blood.day_limit_percent;
        Ok(Policy {
            adult_sets: self.adult.sets,
            adult_fill_low: ml("adult.fill_least_ml", self.adult.fill_least_ml)?,
            adult_fill_target: ml("adult.fill_target_ml", self.adult.fill_target_ml)?,
            adult_bottle_most: ml("adult.bottle_most_ml", self.adult.bottle_most_ml)?,
            least_useful: ml("blood.least_useful_ml", self.blood.least_useful_ml)?,
            child_bottle_most: ml("child.bottle_most_ml", self.child.bottle_most_ml)?,
            line_discard: ml("blood.line_discard_ml", self.blood.line_discard_ml)?,
            vein_divert: ml("blood.vein_divert_ml", self.blood.vein_divert_ml)?,
            day_limit_share: percent / 100.0,
            child_bands: self.child.bands(place)?,
        })
    }
}

impl ChildRules {
    fn bands(self, place: &str) -> Result<WeightBands, Message> {
        let bands: Vec<WeightBand> =
            self.band.into_iter().map(|band| band.read(place)).collect::<Result<_, Message>>()?;
        WeightBands::new(self.weight_table, bands).map_err(|error| impossible(place, &error))
    }
}

impl Band {
    fn read(self, place: &str) -> Result<WeightBand, Message> {
        let here = format!("{place}: child.band from_kg = {}", self.from_kg);
        let grams = self.from_kg * 1000.0;
        // Whole grams: a patient's scale shows no less.
        if !(0.0..=HEAVIEST_KG).contains(&self.from_kg) || (grams - grams.round()).abs() > 1e-6 {
            return Err(Message::new(
                here,
                format!("{} kg", self.from_kg),
                format!("0 to {HEAVIEST_KG} kg, in whole grams"),
                "correct the band; no plan was made",
            ));
        }
        if !(1..=MOST_SETS).contains(&self.sets_ml.len()) {
            return Err(Message::new(
                here,
                format!("{} sets", self.sets_ml.len()),
                format!("sets_ml with the volumes of 1 to {MOST_SETS} sets"),
                "correct the band; no plan was made",
            ));
        }
        let mut sets = Vec::new();
        for ml in self.sets_ml {
            // A set without blood would be planned as an empty bottle.
            if ml == 0.0 {
                return Err(Message::new(
                    here,
                    "a set of 0 mL",
                    "only sets with blood",
                    "take the 0 out; no plan was made",
                ));
            }
            sets.push(volume(&here, ml)?);
        }
        Ok(WeightBand { from_g: grams.round() as u32, sets })
    }
}

fn volume(place: &str, ml: f64) -> Result<Volume, Message> {
    Volume::from_ml(ml).ok().filter(|volume| volume.to_ml() <= MOST_ML).ok_or_else(|| {
        Message::new(
            place,
            format!("{ml} mL"),
            format!("0 to {MOST_ML} mL"),
            "correct the value; no plan was made",
        )
    })
}

fn impossible(place: &str, error: &DrawError) -> Message {
    let to_do = "correct it; no plan was made";
    match error {
        DrawError::Policy { what, found, expected } => {
            Message::new(format!("{place}: {what}"), found.clone(), *expected, to_do)
        }
        other => Message::new(place, other.to_string(), "a possible rule", to_do),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXAMPLE: &str = include_str!("../../../policies/example.toml");

    fn example() -> PolicyFile {
        toml::from_str(EXAMPLE).unwrap()
    }

    /// The file that comes along says what the room's sourced defaults say, no more and no less.
    #[test]
    fn the_example_is_the_defaults() {
        assert_eq!(example().rules("example").unwrap(), Policy::default());
    }

    #[test]
    fn the_example_is_confirmed_by_nobody() {
        assert_eq!(example().confirmed_by, None);
        let refused = example().confirmed("example", None).unwrap_err();
        assert!(refused.found.contains("nobody has confirmed"), "{refused}");
        let blank = PolicyFile { confirmed_by: Some("  ".to_owned()), ..example() };
        assert!(blank.confirmed("example", None).is_err());
    }

    #[test]
    fn impossible_rules_are_named() {
        let confirmed_by = Some("the invented lead".to_owned());
        let check = |file: PolicyFile, place: &str| {
            let refused = file.confirmed("p", None).unwrap_err();
            assert!(refused.place.contains(place), "{refused}");
        };
        let file = || PolicyFile { confirmed_by: confirmed_by.clone(), ..example() };
        check(PolicyFile { schema: 2, ..file() }, "p");
        check(PolicyFile { name: " ".to_owned(), ..file() }, "name");
        check(PolicyFile { adult: AdultRules { sets: 5, ..file().adult }, ..file() }, "number of adult sets");
        check(
            PolicyFile { adult: AdultRules { fill_least_ml: f64::NAN, ..file().adult }, ..file() },
            "adult.fill_least_ml",
        );
        check(
            PolicyFile { blood: BloodRules { line_discard_ml: -1.0, ..file().blood }, ..file() },
            "blood.line_discard_ml",
        );
        check(
            PolicyFile { blood: BloodRules { day_limit_percent: 30.0, ..file().blood }, ..file() },
            "limit of a day",
        );
        let bands = |band: Vec<Band>| PolicyFile { child: ChildRules { band, ..file().child }, ..file() };
        check(bands(vec![]), "weight bands");
        check(bands(vec![Band { from_kg: 0.0, sets_ml: vec![] }]), "child.band");
        check(bands(vec![Band { from_kg: 0.0, sets_ml: vec![2.0, 0.0] }]), "child.band");
        check(bands(vec![Band { from_kg: f64::NAN, sets_ml: vec![2.0] }]), "child.band");
        check(bands(vec![Band { from_kg: 0.0005, sets_ml: vec![2.0] }]), "child.band");
        let order = file().confirmed("p", Some(5)).unwrap_err();
        assert!(order.place.starts_with("--sets"), "{order}");
    }
}
