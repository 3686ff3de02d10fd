//! The words quantities are said in. Adding a word here is all it takes to have it understood.

use crate::stated::{Per, Unit};

/// Names of units with how many of the base unit (mL, s) each is.
const UNITS: &[(&str, Unit, f64)] = &[
    ("ml", Unit::Millilitre, 1.0),
    ("mls", Unit::Millilitre, 1.0),
    ("millilitre", Unit::Millilitre, 1.0),
    ("millilitres", Unit::Millilitre, 1.0),
    ("milliliter", Unit::Millilitre, 1.0),
    ("milliliters", Unit::Millilitre, 1.0),
    ("mil", Unit::Millilitre, 1.0),
    ("mils", Unit::Millilitre, 1.0),
    ("mill", Unit::Millilitre, 1.0),
    ("mills", Unit::Millilitre, 1.0),
    ("cc", Unit::Millilitre, 1.0),
    ("ccs", Unit::Millilitre, 1.0),
    ("cl", Unit::Millilitre, 10.0),
    ("dl", Unit::Millilitre, 100.0),
    ("decilitre", Unit::Millilitre, 100.0),
    ("decilitres", Unit::Millilitre, 100.0),
    ("l", Unit::Millilitre, 1000.0),
    ("litre", Unit::Millilitre, 1000.0),
    ("litres", Unit::Millilitre, 1000.0),
    ("liter", Unit::Millilitre, 1000.0),
    ("liters", Unit::Millilitre, 1000.0),
    ("µl", Unit::Millilitre, 0.001),
    ("μl", Unit::Millilitre, 0.001),
    ("microlitre", Unit::Millilitre, 0.001),
    ("microlitres", Unit::Millilitre, 0.001),
    ("microliter", Unit::Millilitre, 0.001),
    ("microliters", Unit::Millilitre, 0.001),
    ("s", Unit::Second, 1.0),
    ("sec", Unit::Second, 1.0),
    ("secs", Unit::Second, 1.0),
    ("second", Unit::Second, 1.0),
    ("seconds", Unit::Second, 1.0),
    ("min", Unit::Second, 60.0),
    ("mins", Unit::Second, 60.0),
    ("minute", Unit::Second, 60.0),
    ("minutes", Unit::Second, 60.0),
    ("h", Unit::Second, 3600.0),
    ("hr", Unit::Second, 3600.0),
    ("hrs", Unit::Second, 3600.0),
    ("hour", Unit::Second, 3600.0),
    ("hours", Unit::Second, 3600.0),
    ("day", Unit::Second, 86_400.0),
    ("days", Unit::Second, 86_400.0),
    ("week", Unit::Second, 604_800.0),
    ("weeks", Unit::Second, 604_800.0),
];

/// Things a job counts, singular and plural. A word outside this list is taken for a misspelt unit.
const COUNTED: &[(&str, &str)] = &[
    ("attempt", "attempts"),
    ("bottle", "bottles"),
    ("breath", "breaths"),
    ("cap", "caps"),
    ("check", "checks"),
    ("connector", "connectors"),
    ("draw", "draws"),
    ("drop", "drops"),
    ("finger", "fingers"),
    ("flush", "flushes"),
    ("glove", "gloves"),
    ("hand", "hands"),
    ("identifier", "identifiers"),
    ("inversion", "inversions"),
    ("label", "labels"),
    ("layer", "layers"),
    ("lumen", "lumens"),
    ("needle", "needles"),
    ("nurse", "nurses"),
    ("pair", "pairs"),
    ("pass", "passes"),
    ("person", "people"),
    ("piece", "pieces"),
    ("prompt", "prompts"),
    ("question", "questions"),
    ("set", "sets"),
    ("site", "sites"),
    ("step", "steps"),
    ("stroke", "strokes"),
    ("swab", "swabs"),
    ("syringe", "syringes"),
    ("time", "times"),
    ("try", "tries"),
    ("tube", "tubes"),
    ("turn", "turns"),
    ("wipe", "wipes"),
];

/// What a quantity may be counted per.
const PERS: &[(&str, Per)] = &[
    ("bottle", Per::Bottle),
    ("set", Per::Set),
    ("patient", Per::Patient),
    ("person", Per::Patient),
    ("kg", Per::Kilogram),
    ("kilo", Per::Kilogram),
    ("kilogram", Per::Kilogram),
    ("kilogramme", Per::Kilogram),
    ("day", Per::Day),
];

/// Words before the number that leave the upper end open.
pub(crate) const AT_LEAST_BEFORE: &[&[&str]] = &[
    &["at", "least"],
    &["no", "less", "than"],
    &["not", "less", "than"],
    &["never", "less", "than"],
    &["no", "fewer", "than"],
    &["not", "under"],
    &["not", "below"],
    &["never", "under"],
    &["never", "below"],
    &["a", "minimum", "of"],
    &["minimum", "of"],
    &["minimum"],
    &["more", "than"],
    &["over"],
    &["above"],
    &["longer", "than"],
    &["≥"],
    &[">"],
];

/// Words before the number that leave the lower end open.
pub(crate) const AT_MOST_BEFORE: &[&[&str]] = &[
    &["at", "most"],
    &["at", "the", "most"],
    &["no", "more", "than"],
    &["not", "more", "than"],
    &["never", "more", "than"],
    &["no", "longer", "than"],
    &["not", "longer", "than"],
    &["never", "longer", "than"],
    &["not", "over"],
    &["not", "above"],
    &["never", "over"],
    &["never", "above"],
    &["a", "maximum", "of"],
    &["maximum", "of"],
    &["maximum"],
    &["max"],
    &["up", "to"],
    &["less", "than"],
    &["fewer", "than"],
    &["under"],
    &["below"],
    &["within"],
    &["≤"],
    &["<"],
];

/// Words after the number and unit that leave the upper end open.
pub(crate) const AT_LEAST_AFTER: &[&[&str]] = &[
    &["or", "more"],
    &["or", "longer"],
    &["or", "over"],
    &["and", "more"],
    &["at", "least"],
    &["minimum"],
    &["as", "a", "minimum"],
];

/// Words after the number and unit that leave the lower end open.
pub(crate) const AT_MOST_AFTER: &[&[&str]] = &[
    &["or", "less"],
    &["or", "fewer"],
    &["or", "under"],
    &["at", "most"],
    &["at", "the", "most"],
    &["maximum"],
    &["as", "a", "maximum"],
];

/// Words that give no limit anyone could be held to.
pub(crate) const VAGUE: &[&str] =
    &["about", "around", "approximately", "approx", "roughly", "circa", "ca", "some", "~", "≈"];

/// The unit a word names, with how many of the base unit it is.
pub(crate) fn unit(word: &str) -> Option<(Unit, f64)> {
    UNITS.iter().find(|(name, ..)| *name == word).map(|&(_, unit, factor)| (unit, factor))
}

/// The plural of a thing a job counts, from either form.
pub(crate) fn counted(word: &str) -> Option<&'static str> {
    COUNTED.iter().find(|(one, many)| *one == word || *many == word).map(|&(_, many)| many)
}

/// The singular of a thing a job counts.
pub(crate) fn singular(plural: &str) -> Option<&'static str> {
    COUNTED.iter().find(|(_, many)| *many == plural).map(|&(one, _)| one)
}

/// What a word after "per" means.
pub(crate) fn per(word: &str) -> Option<Per> {
    let word = word.strip_suffix('s').filter(|one| per_exact(one).is_some()).unwrap_or(word);
    per_exact(word)
}

fn per_exact(word: &str) -> Option<Per> {
    PERS.iter().find(|(name, _)| *name == word).map(|&(_, per)| per)
}

/// Every word that may stand after a number, for suggestions.
pub(crate) fn after_a_number() -> impl Iterator<Item = &'static str> {
    let units = UNITS.iter().map(|(name, ..)| *name).filter(|name| name.chars().count() > 2);
    units.chain(COUNTED.iter().flat_map(|(one, many)| [*one, *many]))
}

/// Words that may stand between a number or "each" and the thing itself: "each adult bottle".
const DESCRIBING: &[&str] = &[
    "adult",
    "aerobic",
    "anaerobic",
    "blood",
    "clean",
    "complete",
    "culture",
    "different",
    "first",
    "full",
    "good",
    "gentle",
    "more",
    "new",
    "one",
    "paired",
    "patient",
    "peripheral",
    "same",
    "separate",
    "single",
    "slow",
    "sterile",
    "whole",
];

/// True for a word that only describes what follows it.
pub(crate) fn describes(word: &str) -> bool {
    DESCRIBING.contains(&word)
}
