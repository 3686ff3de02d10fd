//! The rule set that turns growth into a verdict: data with a name and a version.

use std::fmt;

use serde::Deserialize;

use crate::commensal::CommensalList;
use crate::organism::{Identity, Matching, Nomenclature};
use crate::set::Specimen;

/// When a set counts as contaminated.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleSet {
    /// Short name: "adult-24h".
    pub name: String,
    /// Version of this rule set.
    pub version: String,
    /// One line for people.
    pub title: String,
    /// The published definition it follows, and what was settled beside it.
    pub source: String,
    /// Which organisms are taken for skin commensals.
    pub list: ListName,
    /// Organisms this rule takes for commensals whatever the list says.
    pub also_commensal: Vec<Identity>,
    /// Organisms this rule never takes for commensals whatever the list says.
    pub never_commensal: Vec<Identity>,
    /// Specimens the rule is not about.
    pub excluded_specimens: Vec<Specimen>,
    /// Which sets of one patient are looked at together.
    pub window: Window,
    /// How far two names must agree to count as one organism.
    pub matching: Matching,
    /// How many sets must lie in the window before a lone commensal counts as contamination; at least 2.
    pub minimum_sets: u32,
    /// A commensal in a set that stands alone.
    pub single_set: SingleSetPolicy,
    /// A commensal beside a recognised organism in the same set.
    pub mixed_growth: MixedGrowthPolicy,
    /// Two sets of a series with different commensals.
    pub different_commensals: DifferentCommensalsPolicy,
    /// Youngest age in years the rule is for; `None` from birth on.
    pub from_years: Option<f64>,
    /// The rule is for patients younger than this, in years; `None` without an upper end.
    pub below_years: Option<f64>,
    /// Days after collection at which a set counts as closed though its report is not marked final.
    pub days_to_close: i32,
}

/// Which sets of one patient are looked at together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Window {
    /// A series starts with a set and holds every set up to this many hours after it; the next set after that
    /// starts the next series.
    AnchoredHours(u32),
    /// Every set not more than this many hours before or after.
    RollingHours(u32),
    /// Every set whose calendar day differs by at most this many days.
    CalendarDays(u32),
}

/// A commensal list that comes with this room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ListName {
    /// The NHSN common commensals.
    CommonCommensals,
    /// The six kinds of organism of the College of American Pathologists' monitor.
    ShortList,
}

impl ListName {
    /// Every list.
    pub const ALL: [ListName; 2] = [ListName::CommonCommensals, ListName::ShortList];

    /// The name used in rule set files.
    pub fn id(self) -> &'static str {
        match self {
            ListName::CommonCommensals => "common-commensals",
            ListName::ShortList => "short-list",
        }
    }

    /// The list itself.
    pub fn list(self) -> &'static CommensalList {
        match self {
            ListName::CommonCommensals => CommensalList::built_in(),
            ListName::ShortList => CommensalList::short(),
        }
    }
}

/// What a commensal in a set that stands alone is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SingleSetPolicy {
    /// Nobody can tell; reported beside the rate.
    Undetermined,
    /// Counted as contaminated, as some laboratories do.
    Contaminated,
}

/// What a set is called that grew a commensal beside a recognised organism.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MixedGrowthPolicy {
    /// The recognised organism decides; the mixture is noted.
    TruePositive,
    /// A person decides.
    Undetermined,
}

/// What two sets of a series are called that grew different commensals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DifferentCommensalsPolicy {
    /// Each is a commensal in only one set: both contaminated.
    Contaminated,
    /// A person decides.
    Undetermined,
}

/// A rule set that could not be read, with the place and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("rule set: {0}")]
pub struct RuleSetError(String);

/// Names of the rule sets that come with this room; the first is the default.
pub const READY_RULE_SETS: [&str; 8] = [
    "adult-24h",
    "nhsn-match",
    "episode-48h",
    "cap-series",
    "cap-neonates",
    "children-24h",
    "match-48h",
    "frame-7d",
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleFile {
    schema: u32,
    name: String,
    version: String,
    title: String,
    source: String,
    list: String,
    #[serde(default)]
    also_commensal: Vec<String>,
    #[serde(default)]
    never_commensal: Vec<String>,
    #[serde(default)]
    excluded_specimens: Vec<SpecimenFile>,
    window: WindowFile,
    matching: MatchingFile,
    minimum_sets: u32,
    single_set: SingleSetPolicy,
    mixed_growth: MixedGrowthPolicy,
    different_commensals: DifferentCommensalsPolicy,
    #[serde(alias = "adults_from_years")]
    from_years: Option<f64>,
    below_years: Option<f64>,
    days_to_close: i32,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
enum SpecimenFile {
    PostMortem,
    OtherFluid,
    QualityControl,
}

#[derive(Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
enum WindowFile {
    AnchoredHours { hours: u32 },
    RollingHours { hours: u32 },
    CalendarDays { days: u32 },
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
enum MatchingFile {
    Species,
    Genus,
}

impl RuleSet {
    /// A rule set that comes with this room, by name; see [`READY_RULE_SETS`].
    pub fn ready(name: &str) -> Option<Self> {
        let text = match name {
            "adult-24h" => include_str!("../data/rules/adult-24h.toml"),
            "nhsn-match" => include_str!("../data/rules/nhsn-match.toml"),
            "episode-48h" => include_str!("../data/rules/episode-48h.toml"),
            "cap-series" => include_str!("../data/rules/cap-series.toml"),
            "cap-neonates" => include_str!("../data/rules/cap-neonates.toml"),
            "children-24h" => include_str!("../data/rules/children-24h.toml"),
            "match-48h" => include_str!("../data/rules/match-48h.toml"),
            "frame-7d" => include_str!("../data/rules/frame-7d.toml"),
            _ => return None,
        };
        Some(Self::from_toml(text).expect("the ready rule sets are read by a test of this room"))
    }

    /// Reads a rule set from its file.
    ///
    /// Ranges: hours 1 to 336, days 0 to 14, minimum sets 2 to 10, days to close 0 to 30, ages 0 to 130 years.
    ///
    /// # Errors
    /// Says which value is missing, unknown or out of range, and what was expected.
    pub fn from_toml(text: &str) -> Result<Self, RuleSetError> {
        let file: RuleFile = toml::from_str(text).map_err(|error| RuleSetError(error.to_string()))?;
        if file.schema != 1 {
            return Err(RuleSetError(format!("schema is {}; this version reads schema 1", file.schema)));
        }
        let list = ListName::ALL.into_iter().find(|list| list.id() == file.list).ok_or_else(|| {
            let known = ListName::ALL.map(ListName::id).join("\" or \"");
            RuleSetError(format!(
                "list is {:?}; the lists that come with this version are \"{known}\"",
                file.list
            ))
        })?;
        let window = match file.window {
            WindowFile::AnchoredHours { hours } => {
                Window::AnchoredHours(within("window hours", hours, 1, 336)?)
            }
            WindowFile::RollingHours { hours } => {
                Window::RollingHours(within("window hours", hours, 1, 336)?)
            }
            WindowFile::CalendarDays { days } => Window::CalendarDays(within("window days", days, 0, 14)?),
        };
        for (key, age) in [("from_years", file.from_years), ("below_years", file.below_years)] {
            if let Some(age) = age
                && !(0.0..=130.0).contains(&age)
            {
                return Err(RuleSetError(format!("{key} {age} is not within 0 to 130")));
            }
        }
        if let (Some(from), Some(below)) = (file.from_years, file.below_years)
            && from >= below
        {
            return Err(RuleSetError(format!("from_years {from} is not less than below_years {below}")));
        }
        if !(0..=30).contains(&file.days_to_close) {
            return Err(RuleSetError(format!("days_to_close {} is not within 0 to 30", file.days_to_close)));
        }
        Ok(Self {
            name: file.name,
            version: file.version,
            title: file.title,
            source: file.source,
            list,
            also_commensal: organisms("also_commensal", &file.also_commensal)?,
            never_commensal: organisms("never_commensal", &file.never_commensal)?,
            excluded_specimens: file
                .excluded_specimens
                .iter()
                .map(|specimen| match specimen {
                    SpecimenFile::PostMortem => Specimen::PostMortem,
                    SpecimenFile::OtherFluid => Specimen::OtherFluid,
                    SpecimenFile::QualityControl => Specimen::QualityControl,
                })
                .collect(),
            window,
            matching: match file.matching {
                MatchingFile::Species => Matching::Species,
                MatchingFile::Genus => Matching::Genus,
            },
            minimum_sets: within("minimum_sets", file.minimum_sets, 2, 10)?,
            single_set: file.single_set,
            mixed_growth: file.mixed_growth,
            different_commensals: file.different_commensals,
            from_years: file.from_years,
            below_years: file.below_years,
            days_to_close: file.days_to_close,
        })
    }

    /// The ages the rule is for, in words: "18 years and over".
    pub fn ages(&self) -> String {
        match (self.from_years, self.below_years) {
            (None, None) => "all ages".to_owned(),
            (Some(from), None) => format!("{} and over", age_words(from)),
            (None, Some(below)) => format!("under {}", age_words(below)),
            (Some(from), Some(below)) => format!("{} to under {}", age_words(from), age_words(below)),
        }
    }

    /// Name and version, as printed with every figure: "adult-24h, version 1".
    pub fn label(&self) -> String {
        format!("{}, version {}", self.name, self.version)
    }
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Window::AnchoredHours(hours) => write!(f, "{hours} hours from the first set of the series"),
            Window::RollingHours(hours) => write!(f, "{hours} hours before or after the set"),
            Window::CalendarDays(0) => f.write_str("the same calendar day"),
            Window::CalendarDays(1) => f.write_str("the same or a consecutive calendar day"),
            Window::CalendarDays(days) => write!(f, "{days} calendar days before or after the set"),
        }
    }
}

/// Days below two months, years from there on.
fn age_words(years: f64) -> String {
    if years < 1.0 / 6.0 {
        format!("{:.0} days", years * DAYS_OF_A_YEAR)
    } else if years == 1.0 {
        "1 year".to_owned()
    } else {
        format!("{years} years")
    }
}

const DAYS_OF_A_YEAR: f64 = 365.25;

fn organisms(key: &str, names: &[String]) -> Result<Vec<Identity>, RuleSetError> {
    names
        .iter()
        .map(|name| match Nomenclature::built_in().identify(name).identity {
            Identity::Unresolved(why) => Err(RuleSetError(format!(
                "{key}: {name:?} is no organism that can be read ({why}); write genus and species in full"
            ))),
            identity => Ok(identity),
        })
        .collect()
}

fn within(what: &str, value: u32, low: u32, high: u32) -> Result<u32, RuleSetError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(RuleSetError(format!("{what} {value} is not within {low} to {high}")))
    }
}
