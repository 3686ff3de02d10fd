//! Further tables beside the laboratory's file: names of organism codes, and where patients were when.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use super::profile::Profile;
use super::vocabulary::{Role, STAY_FROM, STAY_UNTIL, bare, header_fits};
use crate::laboratory::InputFile;
use crate::table::{Table, TableOptions};

/// Rows looked at in a further table.
const MOST_ROWS: usize = 20_000;

/// A further table, column by column.
pub(super) struct Other {
    pub name: String,
    pub profiles: Vec<Profile>,
}

/// A table of codes: file, code column, name column.
#[derive(Debug, Clone)]
pub(super) struct Codes {
    pub file: String,
    pub code: String,
    pub name: String,
    pub share: f64,
}

/// A table of stays.
#[derive(Debug, Clone)]
pub(super) struct StaysFound {
    pub file: String,
    pub patient: String,
    pub from: String,
    pub until: String,
    pub unit: String,
    pub otherwise: Option<String>,
    pub formats: Vec<String>,
}

impl Other {
    /// Reads a further table; one that is no table is passed over.
    pub(super) fn read(file: &InputFile<'_>, today: Date) -> Option<Self> {
        let mut table = Table::open(file.bytes, &TableOptions::default()).ok()?;
        let mut profiles: Vec<Profile> = table.columns().iter().map(|name| Profile::new(name)).collect();
        for _ in 0..MOST_ROWS {
            let Some(row) = table.next_row() else { break };
            let Ok(row) = row else { continue };
            for (column, profile) in profiles.iter_mut().enumerate() {
                profile.add(&row, column, today);
            }
        }
        Some(Self { name: file.name.to_owned(), profiles })
    }

    /// A column that holds the codes, beside one that names organisms.
    pub(super) fn codes_for(&self, coded: &BTreeMap<String, usize>) -> Option<Codes> {
        let wanted: BTreeSet<&str> = coded.keys().map(String::as_str).collect();
        let (share, code) = self
            .profiles
            .iter()
            .map(|profile| {
                let there = wanted.iter().filter(|code| profile.values.contains_key(**code)).count();
                (super::profile::share(there, wanted.len()), profile)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))?;
        if share < 0.5 {
            return None;
        }
        let named = |profile: &&Profile| profile.header != code.header && profile.organisms().1;
        let name = self
            .profiles
            .iter()
            .filter(named)
            // The full name is the column with the most different words.
            .max_by_key(|profile| profile.different())?;
        Some(Codes { file: self.name.clone(), code: code.header.clone(), name: name.header.clone(), share })
    }

    /// Patient, from, until and unit under the headers that stays have.
    pub(super) fn stays_for(&self, patient: &str) -> Option<StaysFound> {
        let find = |fits: &dyn Fn(&Profile) -> bool| self.profiles.iter().find(|profile| fits(profile));
        let same_patient = find(&|profile| bare(&profile.header) == bare(patient))?;
        let headed = |profile: &Profile, words: &[&str]| {
            profile.dates() >= 0.9 && words.contains(&bare(&profile.header).as_str())
        };
        let from = find(&|profile| headed(profile, &STAY_FROM))?;
        let until = find(&|profile| headed(profile, &STAY_UNTIL))?;
        let unit_fit = |profile: &Profile| header_fits(&profile.header, Role::Unit);
        // "Current", not "previous".
        let is_now = |profile: &Profile| !bare(&profile.header).starts_with("prev");
        let unit = self
            .profiles
            .iter()
            .filter(|profile| is_now(profile) && profile.dates() < 0.5 && unit_fit(profile) > 0.0)
            .max_by(|a, b| unit_fit(a).total_cmp(&unit_fit(b)))?;
        let otherwise = self
            .profiles
            .iter()
            .find(|profile| {
                is_now(profile) && profile.header != unit.header && bare(&profile.header).contains("ward")
            })
            .filter(|_| unit.share_filled() < 0.95);
        let mut formats = from.clock.formats(false);
        for format in until.clock.formats(false) {
            if !formats.contains(&format) {
                formats.push(format);
            }
        }
        Some(StaysFound {
            file: self.name.clone(),
            patient: same_patient.header.clone(),
            from: from.header.clone(),
            until: until.header.clone(),
            unit: unit.header.clone(),
            otherwise: otherwise.map(|profile| profile.header.clone()),
            formats,
        })
    }
}
