//! The mapping as it stands in its file, version 1. Documented with a full example in docs/mapping.md.

use std::collections::BTreeMap;

use serde::Deserialize;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MappingFile {
    pub schema: u32,
    pub name: String,
    #[serde(default)]
    #[expect(dead_code, reason = "a remark for the people who keep the file")]
    pub about: Option<String>,
    /// A proposed mapping says false until a person has read it; one written by hand need not say anything.
    pub confirmed: Option<bool>,
    pub encoding: Option<String>,
    pub separator: Option<String>,
    pub sheet: Option<String>,
    pub header_line: Option<u64>,
    #[serde(default)]
    pub columns: ColumnsFile,
    pub date_formats: Option<Vec<String>>,
    #[serde(default)]
    pub dates: DatesFile,
    #[serde(default)]
    pub holds: HoldsFile,
    pub rows: Option<RowsFile>,
    pub set_by: Option<Vec<SetPartFile>>,
    #[serde(default)]
    pub without_time: WithoutTimeFile,
    #[serde(default)]
    pub duplicate_rows: DuplicateRowsFile,
    #[serde(default)]
    pub empty_organism: EmptyOrganismFile,
    #[serde(default)]
    pub split_sets: SplitSetsFile,
    pub no_growth: Option<Vec<String>>,
    pub organism_separator: Option<String>,
    #[serde(default)]
    pub organism_names: BTreeMap<String, String>,
    pub organism_codes: Option<CodesFile>,
    #[serde(default)]
    pub only_where: Vec<FilterFile>,
    #[serde(default)]
    pub status_words: StatusWords,
    #[serde(default)]
    pub route_words: RouteWords,
    #[serde(default)]
    pub bottle_words: BottleWords,
    #[serde(default)]
    pub wide_bottle: Vec<WideBottleFile>,
    pub density_g_per_ml: Option<f64>,
    #[serde(default)]
    pub lot_tare_g: BTreeMap<String, f64>,
    pub stays: Option<StaysFile>,
    #[serde(default)]
    pub messages: MessagesFile,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ColumnsFile {
    pub specimen: Option<String>,
    pub patient: Option<String>,
    pub collected: Option<String>,
    pub collected_date: Option<String>,
    pub collected_time: Option<String>,
    pub received: Option<String>,
    pub reported: Option<String>,
    pub unit: Option<String>,
    pub collector: Option<String>,
    pub specimen_type: Option<String>,
    pub organism: Option<OneOrMore>,
    pub route: Option<String>,
    pub status: Option<String>,
    pub age_years: Option<String>,
    pub birth_date: Option<String>,
    pub bottle: Option<String>,
    pub bottle_id: Option<String>,
    pub fill_ml: Option<String>,
    pub mass_gain_g: Option<String>,
    pub mass_empty_g: Option<String>,
    pub mass_full_g: Option<String>,
    pub lot: Option<String>,
    pub positive_after_h: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum OneOrMore {
    One(String),
    More(Vec<String>),
}

/// What one row of the file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum RowsFile {
    Set,
    Bottle,
    Isolate,
    Susceptibility,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum SetPartFile {
    Patient,
    Collected,
    SpecimenType,
    Unit,
    Route,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum DatesFile {
    #[default]
    AsRecorded,
    Shifted,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum HoldsFile {
    #[default]
    AllSets,
    PositivesOnly,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum WithoutTimeFile {
    #[default]
    ByDate,
    OneSetPerRow,
    Unread,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum DuplicateRowsFile {
    #[default]
    CountOnce,
    Keep,
    Unread,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum EmptyOrganismFile {
    #[default]
    NoGrowth,
    Unread,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum SplitSetsFile {
    #[default]
    Join,
    Leave,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CodesFile {
    pub file: String,
    pub code: String,
    pub name: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FilterFile {
    pub column: String,
    #[serde(default)]
    pub is: Vec<String>,
    #[serde(default)]
    pub is_not: Vec<String>,
    pub reason: Option<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct StatusWords {
    pub preliminary: Vec<String>,
    #[serde(rename = "final")]
    pub final_: Vec<String>,
    pub corrected: Vec<String>,
    pub cancelled: Vec<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RouteWords {
    pub vein: Vec<String>,
    pub central_line: Vec<String>,
    pub arterial_line: Vec<String>,
    pub cannula: Vec<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct BottleWords {
    pub aerobic: Vec<String>,
    pub anaerobic: Vec<String>,
    pub paediatric: Vec<String>,
    pub other: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WideBottleFile {
    pub kind: String,
    pub fill_ml: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StaysFile {
    pub file: String,
    pub patient: String,
    #[serde(rename = "in")]
    pub from: String,
    #[serde(rename = "out")]
    pub until: String,
    pub unit: String,
    pub unit_otherwise: Option<String>,
    #[serde(default)]
    pub unit_otherwise_prefix: String,
    pub date_formats: Option<Vec<String>>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct MessagesFile {
    pub blood_culture_codes: Vec<String>,
    pub organism_codes: Vec<String>,
    pub volume_codes: BTreeMap<String, String>,
    pub positive_after_codes: Vec<String>,
    pub specimen_number: Option<String>,
    pub number_endings: BTreeMap<String, String>,
    pub clock: Option<String>,
    pub day_from_report: bool,
}
