//! A unit's policy as it stands in its file.

use std::path::Path;

use ::draw::{
    AgeMonths, Agent, AntisepsisRules, BottleKind, Cleaning, ConductRules, DivertedInto, DrawError, Gloves,
    LineRules, Mask, OrderRules, Policy, TimeRules, WeightBand, WeightBands,
};
use desk::UnitPolicy;
use quantity::{Seconds, Volume};
use serde::Deserialize;

use crate::message::Message;
use crate::toml_file;

/// The form of the file that this version reads.
const SCHEMA: i64 = 2;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PolicyFile {
    #[serde(rename = "schema")]
    _schema: i64,
    name: String,
    version: String,
    /// Optional here, so that a file without it gets words of its own.
    confirmed_by: Option<String>,
    adult: AdultRules,
    child: ChildRules,
    blood: BloodRules,
    order: OrderFile,
    antisepsis: AntisepsisFile,
    line: LineFile,
    conduct: ConductFile,
    time: TimeFile,
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

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct OrderFile {
    winged_set_first: FirstBottle,
    syringe_first: FirstBottle,
    short_draw_ml: f64,
    diverted_into: DivertedWord,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum FirstBottle {
    Aerobic,
    Anaerobic,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum DivertedWord {
    Waste,
    Tubes,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct AntisepsisFile {
    newborn_below_months: u16,
    skin: CleaningFile,
    newborn_skin: CleaningFile,
    bottle_top: CleaningFile,
    connector: CleaningFile,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct CleaningFile {
    agent: String,
    contact_s: f64,
    dry_s: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct LineFile {
    flush_ml: f64,
    new_connector: bool,
    from_central_line: bool,
    from_arterial_line: bool,
    from_new_cannula: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ConductFile {
    gloves: GlovesWord,
    mask: MaskWord,
    drape: bool,
    second_checker: bool,
    attempts: u8,
    between_sets_min: f64,
    who_vein: String,
    who_central_line: String,
    who_arterial_line: String,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum GlovesWord {
    Sterile,
    Clean,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum MaskWord {
    Never,
    AtLines,
    Always,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct TimeFile {
    to_laboratory_min: f64,
    to_incubator_min: f64,
    dose_waits_most_min: f64,
}

/// Heaviest weight at which a band may begin: no patient weighs more.
const HEAVIEST_KG: f64 = 400.0;
/// Most blood a rule may state for one set, bottle or discard: a slip of the pen otherwise.
const MOST_ML: f64 = 100.0;
/// Most sets a band may have.
const MOST_SETS: usize = 4;

/// Reads a policy and checks that somebody confirmed it.
pub(crate) fn read(path: &Path) -> Result<UnitPolicy, Message> {
    let place = path.display().to_string();
    let form: toml::Table = toml_file::read(path, "a unit's policy", "docs/draw-plan.md")?;
    check_form(&form, &place)?;
    let file: PolicyFile = toml_file::read(path, "a unit's policy", "docs/draw-plan.md")?;
    file.confirmed(&place)
}

fn check_form(form: &toml::Table, place: &str) -> Result<(), Message> {
    let (found, to_do) = match form.get("schema").and_then(toml::Value::as_integer) {
        Some(SCHEMA) => return Ok(()),
        Some(1) => (
            "schema = 1: the older form, which says nothing of antisepsis, lines, conduct and time"
                .to_owned(),
            "write schema = 2, copy the tables order, antisepsis, line, conduct and time from policies/example.toml, \
             hold their values against your unit's policy, raise the version, and have the whole confirmed again; no \
             plan was made",
        ),
        Some(other) => (
            format!("schema = {other}"),
            "write the policy in the form of policies/example.toml; no plan was made",
        ),
        None => (
            "no schema, or one that is not a whole number".to_owned(),
            "write the policy in the form of policies/example.toml; no plan was made",
        ),
    };
    Err(Message::new(place, found, format!("schema = {SCHEMA}"), to_do))
}

impl PolicyFile {
    fn confirmed(self, place: &str) -> Result<UnitPolicy, Message> {
        for (key, value) in [
            ("name", &self.name),
            ("version", &self.version),
            ("conduct.who_vein", &self.conduct.who_vein),
            ("conduct.who_central_line", &self.conduct.who_central_line),
            ("conduct.who_arterial_line", &self.conduct.who_arterial_line),
        ] {
            if value.trim().is_empty() {
                return Err(Message::new(
                    format!("{place}: {key}"),
                    "nothing between the quotation marks",
                    "a few words: every plan carries them",
                    "write them into the policy; no plan was made",
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
        let policy = self.rules(place)?.confirm(&confirmed_by).map_err(|error| impossible(place, &error))?;
        Ok(UnitPolicy { name, version, policy })
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
            order: OrderRules {
                winged_set_first: self.order.winged_set_first.kind(),
                syringe_first: self.order.syringe_first.kind(),
                short_draw: ml("order.short_draw_ml", self.order.short_draw_ml)?,
                diverted_into: match self.order.diverted_into {
                    DivertedWord::Waste => DivertedInto::Waste,
                    DivertedWord::Tubes => DivertedInto::Tubes,
                },
            },
            line: LineRules {
                flush: ml("line.flush_ml", self.line.flush_ml)?,
                connector_changed: self.line.new_connector,
                central_without_suspicion: self.line.from_central_line,
                arterial: self.line.from_arterial_line,
                new_cannula: self.line.from_new_cannula,
            },
            antisepsis: self.antisepsis.read(place)?,
            conduct: self.conduct.read(place)?,
            time: self.time.read(place)?,
        })
    }
}

impl FirstBottle {
    fn kind(self) -> BottleKind {
        match self {
            FirstBottle::Aerobic => BottleKind::Aerobic,
            FirstBottle::Anaerobic => BottleKind::Anaerobic,
        }
    }
}

impl AntisepsisFile {
    fn read(self, place: &str) -> Result<AntisepsisRules, Message> {
        Ok(AntisepsisRules {
            skin: self.skin.read(place, "skin")?,
            newborn_skin: self.newborn_skin.read(place, "newborn_skin")?,
            newborn_below: AgeMonths(self.newborn_below_months),
            bottle_top: self.bottle_top.read(place, "bottle_top")?,
            connector: self.connector.read(place, "connector")?,
        })
    }
}

impl CleaningFile {
    fn read(self, place: &str, table: &str) -> Result<Cleaning, Message> {
        let here = |key: &str| format!("{place}: antisepsis.{table}.{key}");
        Ok(Cleaning {
            contact: seconds(&here("contact_s"), self.contact_s, "s")?,
            dry: seconds(&here("dry_s"), self.dry_s, "s")?,
            agent: match self.agent.trim() {
                "chlorhexidine-alcohol" => Agent::ChlorhexidineAlcohol,
                "alcohol" => Agent::Alcohol,
                "iodine-tincture" => Agent::IodineTincture,
                "povidone-iodine" => Agent::PovidoneIodine,
                other => Agent::Other(other.to_owned()),
            },
        })
    }
}

impl ConductFile {
    fn read(self, place: &str) -> Result<ConductRules, Message> {
        Ok(ConductRules {
            gloves: match self.gloves {
                GlovesWord::Sterile => Gloves::Sterile,
                GlovesWord::Clean => Gloves::Clean,
            },
            mask: match self.mask {
                MaskWord::Never => Mask::Never,
                MaskWord::AtLines => Mask::AtLines,
                MaskWord::Always => Mask::Always,
            },
            drape: self.drape,
            second_checker: self.second_checker,
            attempts: self.attempts,
            between_sets: seconds(
                &format!("{place}: conduct.between_sets_min"),
                self.between_sets_min,
                "min",
            )?,
            who_vein: self.who_vein.trim().to_owned(),
            who_central_line: self.who_central_line.trim().to_owned(),
            who_arterial_line: self.who_arterial_line.trim().to_owned(),
        })
    }
}

impl TimeFile {
    fn read(&self, place: &str) -> Result<TimeRules, Message> {
        let minutes = |key: &str, value| seconds(&format!("{place}: time.{key}"), value, "min");
        Ok(TimeRules {
            to_laboratory: minutes("to_laboratory_min", self.to_laboratory_min)?,
            to_incubator: minutes("to_incubator_min", self.to_incubator_min)?,
            dose_waits_most: minutes("dose_waits_most_min", self.dose_waits_most_min)?,
        })
    }
}

/// A time in seconds or minutes, as its key says.
fn seconds(place: &str, value: f64, unit: &str) -> Result<Seconds, Message> {
    let factor = if unit == "min" { 60.0 } else { 1.0 };
    Seconds::from_s(value * factor).map_err(|_| {
        Message::new(
            place,
            format!("{value} {unit}"),
            format!("a number of {unit}, 0 or more"),
            "correct the value; no plan was made",
        )
    })
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
        assert!(check_form(&toml::from_str(EXAMPLE).unwrap(), "example").is_ok());
    }

    #[test]
    fn the_example_is_confirmed_by_nobody() {
        assert_eq!(example().confirmed_by, None);
        let refused = example().confirmed("example").unwrap_err();
        assert!(refused.found.contains("nobody has confirmed"), "{refused}");
        let blank = PolicyFile { confirmed_by: Some("  ".to_owned()), ..example() };
        assert!(blank.confirmed("example").is_err());
    }

    #[test]
    fn an_older_form_is_named() {
        let form = |text: &str| check_form(&toml::from_str(text).unwrap(), "p").unwrap_err();
        let older = form("schema = 1");
        assert!(older.found.contains("older form") && older.to_do.contains("antisepsis"), "{older}");
        assert!(form("schema = 3").found.contains("3"));
        assert!(form("name = \"x\"").found.contains("no schema"));
    }

    #[test]
    fn impossible_rules_are_named() {
        let confirmed_by = Some("the invented lead".to_owned());
        let check = |file: PolicyFile, place: &str| {
            let refused = file.confirmed("p").unwrap_err();
            assert!(refused.place.contains(place), "{refused}");
        };
        let file = || PolicyFile { confirmed_by: confirmed_by.clone(), ..example() };
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
        let cleaning =
            |agent: &str, contact_s, dry_s| CleaningFile { agent: agent.to_owned(), contact_s, dry_s };
        let skin = |skin| PolicyFile { antisepsis: AntisepsisFile { skin, ..file().antisepsis }, ..file() };
        check(skin(cleaning("alcohol", -1.0, 30.0)), "antisepsis.skin.contact_s");
        check(skin(cleaning("alcohol", 0.0, 30.0)), "cleaning of the skin");
        check(skin(cleaning(" ", 30.0, 30.0)), "cleaning of the skin");
        check(PolicyFile { conduct: ConductFile { attempts: 0, ..file().conduct }, ..file() }, "attempts");
        let time = TimeFile { to_laboratory_min: 300.0, ..file().time };
        check(PolicyFile { time, ..file() }, "way to the laboratory");
    }
}
