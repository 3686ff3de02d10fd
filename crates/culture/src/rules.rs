//! The rule set that turns growth into a verdict: data with a name and a version.

use std::fmt;

use serde::Deserialize;

use crate::organism::Matching;

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
    /// Youngest age in years the rule is for; `None` for all ages.
    pub adults_from_years: Option<f64>,
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
pub const READY_RULE_SETS: [&str; 3] = ["adult-24h", "nhsn-match", "episode-48h"];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleFile {
    schema: u32,
    name: String,
    version: String,
    title: String,
    source: String,
    list: String,
    window: WindowFile,
    matching: MatchingFile,
    minimum_sets: u32,
    single_set: SingleSetPolicy,
    mixed_growth: MixedGrowthPolicy,
    different_commensals: DifferentCommensalsPolicy,
    adults_from_years: Option<f64>,
    days_to_close: i32,
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
            _ => return None,
        };
        Some(Self::from_toml(text).expect("the ready rule sets are read by a test of this room"))
    }

    /// Reads a rule set from its file.
    ///
    /// Ranges: hours 1 to 336, days 0 to 14, minimum sets 2 to 10, days to close 0 to 30, age 0 to 130 years.
    ///
    /// # Errors
    /// Says which value is missing, unknown or out of range, and what was expected.
    pub fn from_toml(text: &str) -> Result<Self, RuleSetError> {
        let file: RuleFile = toml::from_str(text).map_err(|error| RuleSetError(error.to_string()))?;
        if file.schema != 1 {
            return Err(RuleSetError(format!("schema is {}; this version reads schema 1", file.schema)));
        }
        if file.list != "common-commensals" {
            return Err(RuleSetError(format!(
                "list is {:?}; the one list that comes with this version is \"common-commensals\"",
                file.list
            )));
        }
        let window = match file.window {
            WindowFile::AnchoredHours { hours } => {
                Window::AnchoredHours(within("window hours", hours, 1, 336)?)
            }
            WindowFile::RollingHours { hours } => {
                Window::RollingHours(within("window hours", hours, 1, 336)?)
            }
            WindowFile::CalendarDays { days } => Window::CalendarDays(within("window days", days, 0, 14)?),
        };
        if let Some(age) = file.adults_from_years
            && !(0.0..=130.0).contains(&age)
        {
            return Err(RuleSetError(format!("adults_from_years {age} is not within 0 to 130")));
        }
        if !(0..=30).contains(&file.days_to_close) {
            return Err(RuleSetError(format!("days_to_close {} is not within 0 to 30", file.days_to_close)));
        }
        Ok(Self {
            name: file.name,
            version: file.version,
            title: file.title,
            source: file.source,
            window,
            matching: match file.matching {
                MatchingFile::Species => Matching::Species,
                MatchingFile::Genus => Matching::Genus,
            },
            minimum_sets: within("minimum_sets", file.minimum_sets, 2, 10)?,
            single_set: file.single_set,
            mixed_growth: file.mixed_growth,
            different_commensals: file.different_commensals,
            adults_from_years: file.adults_from_years,
            days_to_close: file.days_to_close,
        })
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

fn within(what: &str, value: u32, low: u32, high: u32) -> Result<u32, RuleSetError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(RuleSetError(format!("{what} {value} is not within {low} to {high}")))
    }
}
