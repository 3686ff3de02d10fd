//! Whether an organism is on a list of common commensals.
//!
//! A list is data with a name and a version. Being listed does not by itself make a set contaminated; the rule set
//! decides that.

use std::collections::HashSet;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::organism::{Identity, Species, Unresolved, may_be_slip};

/// A list of common commensals with the organisms recognised as being on no such list.
#[derive(Debug, Clone)]
pub struct CommensalList {
    name: String,
    version: String,
    exceptions: Vec<Exception>,
    genera: HashSet<String>,
    groups: HashSet<String>,
    species: HashSet<(String, String)>,
    never: HashSet<(String, String)>,
    added_later: HashSet<(String, String)>,
    reclassified: HashSet<String>,
    off_list_genera: HashSet<String>,
    off_list_groups: HashSet<String>,
    warnings: Vec<(HashSet<String>, String)>,
}

/// What a list says of an organism.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Listing {
    /// On the list.
    Commensal {
        /// The entry or rule of the list that matched.
        entry: String,
        /// Said beside the verdict where the organism is listed though it may well be a pathogen.
        warning: Option<String>,
    },
    /// Recognised, and on no commensal list.
    NotCommensal,
    /// Neither: a person decides.
    AskAPerson {
        /// Why it cannot be settled, as half a sentence.
        why: String,
    },
}

/// A commensal list that could not be read.
#[derive(Debug, thiserror::Error)]
#[error("commensal list: {0}")]
pub struct CommensalListError(String);

#[derive(Debug, Clone)]
struct Exception {
    names: Vec<(String, String)>,
    disputed: Option<String>,
}

#[derive(Deserialize)]
struct ListFile {
    name: String,
    version: String,
    #[serde(default)]
    genus: Vec<Names>,
    #[serde(default)]
    exception: Vec<ExceptionEntry>,
    #[serde(default)]
    warn: Vec<Warning>,
    #[serde(default)]
    group: Vec<Names>,
    #[serde(default)]
    species_only: Vec<SpeciesOnly>,
    #[serde(default)]
    reclassified: Vec<Reclassified>,
    absent: Option<Absent>,
}

#[derive(Deserialize)]
struct Names {
    names: Vec<String>,
}

#[derive(Deserialize)]
struct ExceptionEntry {
    name: String,
    #[serde(default)]
    also: Vec<String>,
    disputed: Option<String>,
}

#[derive(Deserialize)]
struct Warning {
    names: Vec<String>,
    why: String,
}

#[derive(Deserialize)]
struct SpeciesOnly {
    genus: String,
    species: Vec<String>,
    #[serde(default)]
    never: Vec<String>,
    #[serde(default)]
    added_later: Vec<String>,
}

#[derive(Deserialize)]
struct Reclassified {
    #[serde(default)]
    new_genera: Vec<String>,
}

#[derive(Deserialize)]
struct Absent {
    genera: Vec<String>,
}

#[derive(Deserialize)]
struct RecognisedFile {
    genera: std::collections::BTreeMap<String, Vec<String>>,
    group: Vec<RecognisedGroup>,
}

#[derive(Deserialize)]
struct RecognisedGroup {
    name: String,
}

impl CommensalList {
    /// The list that comes with this room: the NHSN common commensals by the 445-row copy.
    pub fn built_in() -> &'static Self {
        static BUILT_IN: LazyLock<CommensalList> = LazyLock::new(|| {
            CommensalList::from_tables(
                include_str!("../data/common-commensals.toml"),
                include_str!("../data/recognised-organisms.toml"),
            )
            .expect("the tables in data/ are read by a test of this room")
        });
        &BUILT_IN
    }

    /// The six kinds of organism of the College of American Pathologists' contamination monitor.
    pub fn short() -> &'static Self {
        static SHORT: LazyLock<CommensalList> = LazyLock::new(|| {
            CommensalList::from_tables(
                include_str!("../data/short-list.toml"),
                include_str!("../data/recognised-organisms.toml"),
            )
            .expect("the tables in data/ are read by a test of this room")
        });
        &SHORT
    }

    /// Reads a list and the table of recognised organisms that are on none.
    ///
    /// # Errors
    /// Says where a table is not what it should be.
    pub fn from_tables(list: &str, recognised: &str) -> Result<Self, CommensalListError> {
        let file: ListFile = toml::from_str(list).map_err(|e| CommensalListError(e.to_string()))?;
        let recognised: RecognisedFile =
            toml::from_str(recognised).map_err(|e| CommensalListError(e.to_string()))?;
        let species_of = |select: fn(&SpeciesOnly) -> &Vec<String>| {
            file.species_only
                .iter()
                .flat_map(|entry| select(entry).iter().map(|s| (entry.genus.clone(), s.clone())))
                .collect::<HashSet<_>>()
        };
        let absent = file.absent.map(|absent| absent.genera).unwrap_or_default();
        Ok(Self {
            species: species_of(|entry| &entry.species),
            never: species_of(|entry| &entry.never),
            added_later: species_of(|entry| &entry.added_later),
            name: file.name,
            version: file.version,
            exceptions: file
                .exception
                .into_iter()
                .map(|entry| Exception {
                    names: std::iter::once(&entry.name)
                        .chain(&entry.also)
                        .filter_map(|name| name.split_once(' '))
                        .map(|(genus, species)| (genus.to_owned(), species.to_owned()))
                        .collect(),
                    disputed: entry.disputed,
                })
                .collect(),
            genera: file.genus.into_iter().flat_map(|entry| entry.names).collect(),
            groups: file.group.into_iter().flat_map(|entry| entry.names).collect(),
            reclassified: file.reclassified.into_iter().flat_map(|entry| entry.new_genera).collect(),
            off_list_genera: recognised.genera.into_keys().chain(absent).collect(),
            off_list_groups: recognised.group.into_iter().map(|group| group.name).collect(),
            warnings: file.warn.into_iter().map(|w| (w.names.into_iter().collect(), w.why)).collect(),
        })
    }

    /// Name of the list: "NHSN common commensals".
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Version of the list: "445-row copy".
    pub fn version(&self) -> &str {
        &self.version
    }

    /// What the list says of an organism; its rules are applied in the order the list's file gives.
    ///
    /// ```
    /// use culture::{CommensalList, Listing, Nomenclature};
    /// let (list, names) = (CommensalList::built_in(), Nomenclature::built_in());
    /// let listing = |name| list.listing(&names.identify(name).identity);
    /// assert!(matches!(listing("Micrococcus luteus"), Listing::Commensal { .. }));
    /// assert_eq!(listing("Escherichia coli"), Listing::NotCommensal);
    /// // The list has no entry for the bare genus: it may be Staphylococcus aureus.
    /// assert!(matches!(listing("Staphylococcus sp."), Listing::AskAPerson { .. }));
    /// ```
    pub fn listing(&self, identity: &Identity) -> Listing {
        match identity {
            Identity::Species(species) => self.species_listing(species),
            Identity::Genus(genus) => self.genus_listing(genus),
            Identity::Group(group) if self.groups.contains(group) => self.commensal(group.clone(), group),
            Identity::Group(group) if self.off_list_groups.contains(group) => Listing::NotCommensal,
            Identity::Group(group) => ask(format!("{group} is on no table")),
            Identity::Unresolved(Unresolved::Empty) => ask("growth is reported without a name".to_owned()),
            Identity::Unresolved(why) => ask(why.to_string()),
        }
    }

    fn species_listing(&self, species: &Species) -> Listing {
        let Species { genus, species: epithet, subspecies, as_group } = species;
        let pair = (genus.clone(), epithet.clone());
        let written = format!("{genus} {epithet}");
        if let Some(exception) = self.exceptions.iter().find(|exception| exception.names.contains(&pair)) {
            return match &exception.disputed {
                Some(_) => {
                    ask(format!("{written} is flagged in one source of the list and absent from another"))
                }
                None => Listing::NotCommensal,
            };
        }
        let with = |suffix: &str| (genus.clone(), format!("{epithet} {suffix}"));
        let mut narrower = Vec::new();
        if let Some(subspecies) = subspecies {
            narrower.push(with(&format!("subsp. {subspecies}")));
        }
        if *as_group {
            narrower.push(with("group"));
        }
        if narrower.iter().any(|name| self.never.contains(name)) {
            return Listing::NotCommensal;
        }
        // Every subspecies of a listed species is listed, and a listed group holds its name-giving species.
        if narrower.iter().chain([&pair]).any(|name| self.species.contains(name)) {
            return self.commensal(species.to_string(), &written);
        }
        if self.groups.contains(&format!("{written} group")) && *as_group {
            return self.commensal(format!("{written} group"), &written);
        }
        if self.genera.contains(genus) {
            // A slip must not hide the one species of the genus that is not listed.
            let excepted =
                self.exceptions.iter().flat_map(|exception| &exception.names).find(|(other, name)| {
                    other == genus && !self.species.contains(&pair) && may_be_slip(epithet, name)
                });
            if let Some((_, name)) = excepted {
                return ask(format!("{written} may be a misspelt {genus} {name}"));
            }
            return self.commensal(format!("every species of {genus}"), &written);
        }
        if self.reclassified.contains(genus) {
            return reclassified(genus);
        }
        if self.never.contains(&pair) {
            return Listing::NotCommensal;
        }
        if self.added_later.contains(&pair) {
            return ask(format!("{written} was added after the copy of the list used here"));
        }
        if self.species.iter().any(|(g, s)| g == genus && s.starts_with(&format!("{epithet} subsp."))) {
            return ask(format!("only some subspecies of {written} are listed"));
        }
        if self.off_list_genera.contains(genus) {
            return Listing::NotCommensal;
        }
        ask(format!("{written} is on no table"))
    }

    fn genus_listing(&self, genus: &str) -> Listing {
        if self.genera.contains(genus) {
            return self.commensal(format!("{genus} species"), genus);
        }
        if self.reclassified.contains(genus) {
            return reclassified(genus);
        }
        if self.off_list_genera.contains(genus) {
            return Listing::NotCommensal;
        }
        ask(format!("{genus} without a species: some species are listed and some are not"))
    }

    fn commensal(&self, entry: String, written: &str) -> Listing {
        let named = |names: &HashSet<String>| names.contains(written) || names.contains(&entry);
        let warning = self.warnings.iter().find(|(names, _)| named(names)).map(|(_, why)| why.clone());
        Listing::Commensal { entry, warning }
    }
}

fn ask(why: String) -> Listing {
    Listing::AskAPerson { why }
}

fn reclassified(genus: &str) -> Listing {
    ask(format!("{genus} took over species of a listed genus, of which only some were listed"))
}
