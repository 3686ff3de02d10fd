//! What a row is: a set, a bottle, an isolate or a susceptibility; and whether a column really numbers sets.

use std::collections::{HashMap, HashSet};

use super::choose::Chosen;
use super::vocabulary::Role;
use crate::laboratory::mapping::RowsAre;

/// Cells of the columns that matter, of the rows that will be kept.
pub(super) struct Kept {
    pub roles: Vec<Role>,
    pub rows: Vec<Vec<String>>,
}

/// What the rows of one set have in common and what changes between them.
#[derive(Debug, Clone)]
pub(super) struct Grain {
    pub rows: RowsAre,
    pub sets: usize,
    pub because: String,
}

impl Kept {
    fn place(&self, role: Role) -> Option<usize> {
        self.roles.iter().position(|other| *other == role)
    }

    /// Share of the specimen numbers that belong to one patient; a number that does not is no number of a set.
    pub(super) fn one_patient_each(&self) -> f64 {
        let (Some(specimen), Some(patient)) = (self.place(Role::Specimen), self.place(Role::Patient)) else {
            return 1.0;
        };
        let mut patients: HashMap<&str, HashSet<&str>> = HashMap::new();
        for row in self.rows.iter().filter(|row| !row[specimen].is_empty()) {
            patients.entry(&row[specimen]).or_default().insert(&row[patient]);
        }
        super::profile::share(
            patients.values().filter(|patients| patients.len() == 1).count(),
            patients.len(),
        )
    }

    /// Share of the specimen numbers with one time of collection.
    pub(super) fn one_time_each(&self) -> f64 {
        let when = self.place(Role::Collected).or(self.place(Role::CollectedDate));
        let (Some(specimen), Some(when)) = (self.place(Role::Specimen), when) else { return 1.0 };
        let mut times: HashMap<&str, HashSet<&str>> = HashMap::new();
        for row in self.rows.iter().filter(|row| !row[specimen].is_empty()) {
            times.entry(&row[specimen]).or_default().insert(&row[when]);
        }
        super::profile::share(times.values().filter(|times| times.len() == 1).count(), times.len())
    }

    pub(super) fn grain(&self) -> Grain {
        let keys: Vec<usize> = match self.place(Role::Specimen) {
            Some(specimen) => vec![specimen],
            None => {
                [Role::Patient, Role::Collected, Role::CollectedDate, Role::CollectedTime, Role::SpecimenType]
                    .into_iter()
                    .filter_map(|role| self.place(role))
                    .collect()
            }
        };
        let mut sets: HashMap<Vec<&str>, Vec<&Vec<String>>> = HashMap::new();
        for row in &self.rows {
            sets.entry(keys.iter().map(|&key| row[key].as_str()).collect()).or_default().push(row);
        }
        let several: Vec<&Vec<&Vec<String>>> = sets.values().filter(|rows| rows.len() > 1).collect();
        let n_sets = sets.len();
        let said = |rows, because: String| Grain { rows, sets: n_sets, because };
        if several.len() * 50 <= n_sets {
            return said(RowsAre::Set, format!("{} rows make {n_sets} sets", self.rows.len()));
        }
        // Share of the sets with several rows in which a column changes from row to row.
        let changes = |role: Role| {
            self.roles
                .iter()
                .enumerate()
                .filter(|(_, other)| **other == role)
                .map(|(place, _)| {
                    let changing = several
                        .iter()
                        .filter(|rows| {
                            super::profile::distinct(rows.iter().map(|row| row[place].as_str())) > 1
                        })
                        .count();
                    super::profile::share(changing, several.len())
                })
                .fold(0.0, f64::max)
        };
        let (drug, organism) = (changes(Role::Drug), changes(Role::Organism));
        let bottle = changes(Role::Bottle).max(changes(Role::BottleId));
        let percent = |share: f64| format!("{:.0} %", share * 100.0);
        let of = format!("of the {} sets with several rows", several.len());
        if drug >= 0.1 && drug >= bottle {
            said(
                RowsAre::Susceptibility,
                format!("the drug changes from row to row in {} {of}", percent(drug)),
            )
        } else if bottle >= 0.5 {
            said(RowsAre::Bottle, format!("the bottle changes from row to row in {} {of}", percent(bottle)))
        } else {
            said(
                RowsAre::Isolate,
                format!("the organism changes from row to row in {} {of}", percent(organism)),
            )
        }
    }
}

/// The roles that are looked at row by row.
pub(super) fn looked_at(chosen: &[Chosen]) -> Vec<(Role, usize)> {
    chosen
        .iter()
        .filter(|chosen| {
            matches!(
                chosen.role,
                Role::Specimen
                    | Role::Patient
                    | Role::Collected
                    | Role::CollectedDate
                    | Role::CollectedTime
                    | Role::SpecimenType
                    | Role::Organism
                    | Role::Bottle
                    | Role::BottleId
                    | Role::Drug
            )
        })
        .map(|chosen| (chosen.role, chosen.column))
        .collect()
}
