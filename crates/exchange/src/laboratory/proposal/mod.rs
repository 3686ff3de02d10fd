//! A mapping proposed from a file's headers and cells. A person reads it, corrects it and confirms it.
//!
//! No cell of a column that may name a patient or a collector is ever part of a proposal: of such columns only the
//! header is used. Words of statuses, sites, bottles, organisms and specimen types are shown when they stand there
//! more than once.

mod beside;
mod choose;
mod dates;
mod profile;
mod rows_are;
mod vocabulary;
mod write;

use jiff::civil::Date;

pub use choose::Sureness;

use super::mapping::RowsAre;
use super::words::{NO_GROWTH_WORDS, NoGrowth};
use super::{InputFile, Kind, kind};
use crate::table::{Table, TableOptions};
use beside::{Codes, Other, StaysFound};
use choose::Chosen;
use dates::Order;
use profile::Profile;
use rows_are::{Grain, Kept};
use vocabulary::Role;

/// Rows looked at; a file is much the same from there on.
const MOST_ROWS: usize = 100_000;
/// Lines above the column names that are looked through: titles, dates of export.
const MOST_LINES_ABOVE: u64 = 8;

/// A proposed mapping.
#[derive(Debug, Clone)]
pub struct Proposal {
    file: String,
    rows_seen: usize,
    header_line: u64,
    profiles: Vec<Profile>,
    chosen: Vec<Chosen>,
    dates: DatesFound,
    grain: Grain,
    positives_only: bool,
    blood_cultures: Vec<String>,
    organism_separator: Option<&'static str>,
    codes: Option<Codes>,
    stays: Option<StaysFound>,
    lacks: Vec<&'static str>,
}

/// How dates are written.
#[derive(Debug, Clone)]
struct DatesFound {
    formats: Vec<String>,
    order: Order,
    shifted: bool,
}

/// One thing the proposal says, for people and machines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proposed {
    /// Key of the mapping file.
    pub key: &'static str,
    /// Header of the column, or the value proposed.
    pub value: String,
    /// How sure it is.
    pub sureness: Sureness,
    /// Why.
    pub because: String,
}

/// Why no mapping can be proposed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("found {found}; expected {expected}; {to_do}")]
pub struct NoProposal {
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: &'static str,
    /// What to do.
    pub to_do: &'static str,
}

/// Proposes a mapping for a table. `others` are tables that lie beside it: names of organism codes and stays are looked
/// for there. `today` tells dates that were shifted into the future.
///
/// # Errors
/// Says why the file is no table a mapping could be for.
pub fn propose(file: &InputFile<'_>, others: &[InputFile<'_>], today: Date) -> Result<Proposal, NoProposal> {
    if kind(file.bytes) != Kind::Table {
        return Err(NoProposal {
            found: "HL7 v2 messages or FHIR resources".to_owned(),
            expected: "a table (CSV or XLSX)",
            to_do: "give the file to `cultures rates` as it is: messages name their own fields",
        });
    }
    let header_line = header_line(file.bytes);
    let options = TableOptions { header_line: Some(header_line), ..TableOptions::default() };
    let profiles = profiles(file.bytes, &options, today)?;
    let rows_seen = profiles.first().map_or(0, |profile| profile.rows);
    if rows_seen == 0 {
        return Err(NoProposal {
            found: "no row under the column names".to_owned(),
            expected: "rows of sets",
            to_do: "export a file of a month or more: a mapping is proposed from what stands in it",
        });
    }
    let others: Vec<Other> = others.iter().filter_map(|other| Other::read(other, today)).collect();
    let mut never = Vec::new();
    loop {
        let mut chosen = choose::choose(&profiles, &never);
        let column_of =
            |chosen: &[Chosen], role| chosen.iter().find(|one| one.role == role).map(|one| one.column);
        let blood_cultures = column_of(&chosen, Role::SpecimenType)
            .map(|column| blood_cultures(&profiles[column]))
            .unwrap_or_default();
        let kept = kept(file.bytes, &options, &chosen, &blood_cultures);
        if let Some(column) = column_of(&chosen, Role::Specimen) {
            // A number that several patients share, or that spans several draws, does not number sets.
            if kept.one_patient_each() < 0.98 || kept.one_time_each() < 0.8 {
                never.push((Role::Specimen, column));
                continue;
            }
            checked_specimen(&mut chosen, &kept);
        }
        let organism = column_of(&chosen, Role::Organism);
        let codes = organism
            .filter(|column| profiles[*column].organisms().0 < 0.6)
            .and_then(|column| others.iter().find_map(|other| other.codes_for(&profiles[column].values)));
        let stays = match (column_of(&chosen, Role::Unit), column_of(&chosen, Role::Patient)) {
            (None, Some(patient)) => others
                .iter()
                .filter_map(|other| other.stays_for(&profiles[patient].header))
                .max_by_key(|stays| stays.otherwise.is_some()),
            _ => None,
        };
        return Ok(Proposal {
            file: file.name.to_owned(),
            rows_seen,
            header_line,
            dates: dates(&profiles, &chosen),
            grain: kept.grain(),
            positives_only: positives_only(&profiles, &chosen),
            organism_separator: organism.and_then(|column| separator(&profiles[column])),
            lacks: lacks(&chosen),
            blood_cultures,
            codes,
            stays,
            profiles,
            chosen,
        });
    }
}

impl Proposal {
    /// Everything it says, in the order of the mapping file.
    pub fn says(&self) -> Vec<Proposed> {
        write::says(self)
    }

    /// Headers of columns it does not use.
    pub fn unused(&self) -> Vec<&str> {
        write::unused(self)
    }

    /// Keys a mapping needs and for which no column was found.
    pub fn lacks(&self) -> &[&'static str] {
        &self.lacks
    }

    /// Rows it was made from.
    pub fn rows_seen(&self) -> usize {
        self.rows_seen
    }

    /// The mapping as a file with the reasons as comments. It says `confirmed = false`.
    pub fn to_toml(&self) -> String {
        write::toml(self)
    }

    /// What one row of the file is.
    fn rows_word(&self) -> &'static str {
        match self.grain.rows {
            RowsAre::Set => "set",
            RowsAre::Bottle => "bottle",
            RowsAre::Isolate => "isolate",
            RowsAre::Susceptibility => "susceptibility",
        }
    }

    fn column(&self, role: Role) -> Option<&Profile> {
        self.chosen.iter().find(|chosen| chosen.role == role).map(|chosen| &self.profiles[chosen.column])
    }
}

/// The line whose cells look most like headers; the first of equals.
fn header_line(bytes: &[u8]) -> u64 {
    let mut best = (0_usize, 1_u64);
    for line in 1..=MOST_LINES_ABOVE {
        let options = TableOptions { header_line: Some(line), ..TableOptions::default() };
        let Ok(table) = Table::open(bytes, &options) else { break };
        let known = table
            .columns()
            .iter()
            .filter(|header| {
                vocabulary::HEADERS.iter().any(|(role, _)| vocabulary::header_fits(header, *role) >= 0.9)
            })
            .count();
        if known > best.0 {
            best = (known, line);
        }
    }
    best.1
}

fn profiles(bytes: &[u8], options: &TableOptions, today: Date) -> Result<Vec<Profile>, NoProposal> {
    let mut table = Table::open(bytes, options).map_err(|error| NoProposal {
        found: error.to_string(),
        expected: "a table: CSV text or an .xlsx workbook",
        to_do: "export the file anew, or save it as .xlsx or .csv in a spreadsheet program",
    })?;
    let mut profiles: Vec<Profile> = table.columns().iter().map(|name| Profile::new(name)).collect();
    let mut seen = 0;
    while seen < MOST_ROWS {
        let Some(row) = table.next_row() else { break };
        let Ok(row) = row else { continue };
        if row.is_blank() {
            continue;
        }
        seen += 1;
        for (column, profile) in profiles.iter_mut().enumerate() {
            profile.add(&row, column, today);
        }
    }
    Ok(profiles)
}

/// The rows that will count, with the cells that tell sets apart.
fn kept(bytes: &[u8], options: &TableOptions, chosen: &[Chosen], blood_cultures: &[String]) -> Kept {
    let looked_at = rows_are::looked_at(chosen);
    let type_column =
        chosen.iter().find(|chosen| chosen.role == Role::SpecimenType).map(|chosen| chosen.column);
    let mut rows = Vec::new();
    if let Ok(mut table) = Table::open(bytes, options) {
        while rows.len() < MOST_ROWS {
            let Some(row) = table.next_row() else { break };
            let Ok(row) = row else { continue };
            let is_kept = match type_column {
                Some(column) if !blood_cultures.is_empty() => {
                    blood_cultures.iter().any(|word| *word == row.text(column))
                }
                _ => true,
            };
            if is_kept && !row.is_blank() {
                rows.push(looked_at.iter().map(|(_, column)| row.text(*column).into_owned()).collect());
            }
        }
    }
    Kept { roles: looked_at.into_iter().map(|(role, _)| role).collect(), rows }
}

fn checked_specimen(chosen: &mut [Chosen], kept: &Kept) {
    let share = kept.one_patient_each();
    for one in chosen.iter_mut().filter(|one| one.role == Role::Specimen) {
        one.because.push_str(&format!(", and {:.0} % of the numbers belong to one patient", share * 100.0));
    }
}

/// The specimen types that are blood cultures, where there are others beside them.
fn blood_cultures(profile: &Profile) -> Vec<String> {
    let blood: Vec<String> =
        profile.values.keys().filter(|value| profile::is_blood_culture(value)).cloned().collect();
    let strict: Vec<String> = blood
        .iter()
        .filter(|value| {
            let bare = vocabulary::bare(value);
            !matches!(bare.as_str(), "blood" | "blut" | "sang" | "sangre")
        })
        .cloned()
        .collect();
    // "Blood" beside "Blood culture" is another test on blood.
    let chosen = if strict.is_empty() { blood } else { strict };
    if chosen.len() == profile.values.len() && !profile.many_values { Vec::new() } else { chosen }
}

fn dates(profiles: &[Profile], chosen: &[Chosen]) -> DatesFound {
    let dated: Vec<&Profile> = chosen
        .iter()
        .filter(|chosen| {
            matches!(
                chosen.role,
                Role::Collected | Role::CollectedDate | Role::Received | Role::Reported | Role::BirthDate
            )
        })
        .map(|chosen| &profiles[chosen.column])
        .collect();
    let orders: Vec<Order> = dated.iter().map(|profile| profile.clock.order()).collect();
    let has = |order| orders.contains(&order);
    let order = if has(Order::Contradictory) || (has(Order::DayFirst) && has(Order::MonthFirst)) {
        Order::Contradictory
    } else if has(Order::DayFirst) {
        Order::DayFirst
    } else if has(Order::MonthFirst) {
        Order::MonthFirst
    } else if has(Order::NotKnown) {
        Order::NotKnown
    } else {
        Order::Settled
    };
    let mut formats = Vec::new();
    for profile in &dated {
        for format in profile.clock.formats(order == Order::MonthFirst) {
            if !formats.contains(&format) {
                formats.push(format);
            }
        }
    }
    let time = chosen.iter().find(|chosen| chosen.role == Role::CollectedTime);
    formats.extend(time.and_then(|time| profiles[time.column].clock.time_format()));
    let collected = chosen.iter().find(|chosen| matches!(chosen.role, Role::Collected | Role::CollectedDate));
    let shifted = collected.is_some_and(|collected| {
        let clock = &profiles[collected.column].clock;
        clock.future() * 2 > clock.dates()
    });
    DatesFound { formats, order, shifted }
}

/// Only what grew: no empty cell and no word for no growth among the organisms.
fn positives_only(profiles: &[Profile], chosen: &[Chosen]) -> bool {
    let known = NoGrowth::new(NO_GROWTH_WORDS);
    let mut organisms =
        chosen.iter().filter(|chosen| chosen.role == Role::Organism).map(|chosen| &profiles[chosen.column]);
    let first = organisms.next();
    first.is_some_and(|profile| {
        profile.filled == profile.rows
            && !profile.values.keys().any(|value| known.is(value) || profile::is_no_growth(value))
    })
}

/// What parts two organisms in one cell.
fn separator(profile: &Profile) -> Option<&'static str> {
    let names = culture::Nomenclature::built_in();
    let is_name = |part: &str| {
        !part.trim().is_empty()
            && !matches!(names.identify(part.trim()).identity, culture::Identity::Unresolved(_))
    };
    [";", "|", "+", "&"].into_iter().find(|separator| {
        profile
            .values
            .keys()
            .filter(|value| value.contains(separator))
            .any(|value| value.split(separator).filter(|part| is_name(part)).count() >= 2)
    })
}

fn lacks(chosen: &[Chosen]) -> Vec<&'static str> {
    let has = |role| chosen.iter().any(|chosen| chosen.role == role);
    let mut lacks = Vec::new();
    if !has(Role::Patient) {
        lacks.push("patient");
    }
    if !has(Role::Collected) && !has(Role::CollectedDate) {
        lacks.push("collected");
    }
    if !has(Role::Organism) {
        lacks.push("organism");
    }
    lacks
}
