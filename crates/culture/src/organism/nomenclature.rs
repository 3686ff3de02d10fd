//! The tables behind the reading of names, kept as data.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::LazyLock;

use serde::Deserialize;

use super::words::{folded, folded_words, key};
use super::{Agreement, Identity, Matching, Species};

/// Which ways of writing stand for which organism.
///
/// Built from three tables: how names are written, which organisms are recognised, and the names of the commensal
/// list itself. It says nothing about contamination.
#[derive(Debug, Clone)]
pub struct Nomenclature {
    /// Folded word to genus.
    pub(super) genus_by_word: HashMap<String, String>,
    /// Folded genus to genus, so that an abbreviation finds its genera as a range.
    pub(super) genus_by_start: BTreeMap<String, String>,
    /// Genus to folded epithet to epithet.
    pub(super) epithets: BTreeMap<String, BTreeMap<String, String>>,
    /// Folded phrase to the identity it stands for.
    pub(super) phrases: HashMap<String, Identity>,
    groups: HashMap<String, Members>,
    /// (genus, species) to the name used for comparing.
    same: HashMap<(String, String), (String, String)>,
    kin: Vec<HashSet<String>>,
    /// Folded word sequences, longest first.
    pub(super) doubtful: Vec<Vec<String>>,
    pub(super) ignored: Vec<Vec<String>>,
    pub(super) appearance: HashSet<String>,
}

/// Which species a named group holds.
#[derive(Debug, Clone)]
struct Members {
    genera: Vec<String>,
    members: Vec<String>,
    not: Vec<String>,
}

/// A table that could not be read.
#[derive(Debug, thiserror::Error)]
#[error("{table}: {because}")]
pub struct NomenclatureError {
    table: &'static str,
    because: String,
}

#[derive(Deserialize)]
struct NamesFile {
    genus_words: BTreeMap<String, Vec<String>>,
    epithets: BTreeMap<String, Vec<String>>,
    same: Vec<Same>,
    kin: Vec<Kin>,
    short: BTreeMap<String, String>,
    group: Vec<GroupEntry>,
    phrases: Phrases,
    appearance: Appearance,
}

#[derive(Deserialize)]
struct Same {
    names: Vec<String>,
}

#[derive(Deserialize)]
struct Kin {
    genera: Vec<String>,
}

#[derive(Deserialize)]
struct Phrases {
    doubtful: Vec<String>,
    ignored: Vec<String>,
}

#[derive(Deserialize)]
struct Appearance {
    words: Vec<String>,
}

#[derive(Deserialize)]
struct GroupEntry {
    name: String,
    genera: Vec<String>,
    #[serde(default)]
    members: Vec<String>,
    #[serde(default)]
    not: Vec<String>,
    #[serde(default)]
    aliases: Vec<String>,
}

#[derive(Deserialize)]
struct RecognisedFile {
    genera: BTreeMap<String, Vec<String>>,
    group: Vec<GroupEntry>,
}

/// The part of a commensal list that adds names.
#[derive(Deserialize)]
struct ListNames {
    genus: Vec<ListGenus>,
    group: Vec<ListGroup>,
    species_only: Vec<ListSpecies>,
    reclassified: Vec<ListReclassified>,
    absent: ListAbsent,
}

#[derive(Deserialize)]
struct ListGenus {
    names: Vec<String>,
}

#[derive(Deserialize)]
struct ListGroup {
    names: Vec<String>,
    #[serde(default)]
    aliases: Vec<String>,
}

#[derive(Deserialize)]
struct ListSpecies {
    genus: String,
    species: Vec<String>,
    #[serde(default)]
    never: Vec<String>,
    #[serde(default)]
    added_later: Vec<String>,
}

#[derive(Deserialize)]
struct ListReclassified {
    #[serde(default)]
    new_genera: Vec<String>,
}

#[derive(Deserialize)]
struct ListAbsent {
    genera: Vec<String>,
}

impl Nomenclature {
    /// The tables that come with this room.
    pub fn built_in() -> &'static Self {
        static BUILT_IN: LazyLock<Nomenclature> = LazyLock::new(|| {
            Nomenclature::from_tables(
                include_str!("../../data/organism-names.toml"),
                include_str!("../../data/recognised-organisms.toml"),
                include_str!("../../data/common-commensals.toml"),
            )
            .expect("the tables in data/ are read by a test of this room")
        });
        &BUILT_IN
    }

    /// Reads the three tables.
    ///
    /// # Errors
    /// Names the table and the place when one is not what it should be.
    pub fn from_tables(names: &str, recognised: &str, list: &str) -> Result<Self, NomenclatureError> {
        let table = |table, error: toml::de::Error| NomenclatureError { table, because: error.to_string() };
        let names: NamesFile = toml::from_str(names).map_err(|e| table("organism names", e))?;
        let recognised: RecognisedFile =
            toml::from_str(recognised).map_err(|e| table("recognised organisms", e))?;
        let list: ListNames = toml::from_str(list).map_err(|e| table("commensal list", e))?;

        let mut built = Self::empty();
        for genus in list.genus.iter().flat_map(|entry| &entry.names) {
            built.add_genus(genus, &[]);
        }
        for genus in list.reclassified.iter().flat_map(|entry| &entry.new_genera) {
            built.add_genus(genus, &[]);
        }
        for genus in &list.absent.genera {
            built.add_genus(genus, &[]);
        }
        for (genus, epithets) in names.epithets.iter().chain(&recognised.genera) {
            built.add_genus(genus, epithets);
        }
        for entry in &list.species_only {
            // "schleiferi subsp. coagulans" and "mitis group" give their first word as the epithet.
            let first_words: Vec<String> = [&entry.species, &entry.never, &entry.added_later]
                .into_iter()
                .flatten()
                .filter_map(|species| species.split([' ', '-']).next().map(str::to_owned))
                .collect();
            built.add_genus(&entry.genus, &first_words);
        }
        for (genus, words) in &names.genus_words {
            for word in words {
                built.genus_by_word.insert(folded(word), genus.clone());
            }
        }
        for entry in names.group.iter().chain(&recognised.group) {
            built.add_group(entry);
        }
        for entry in &list.group {
            for name in &entry.names {
                built.add_phrase(name, Identity::Group(name.clone()));
            }
            // The list gives its aliases in one row without saying whose they are; the names table must know.
            for alias in &entry.aliases {
                if !built.phrases.contains_key(&key(&folded_words(alias))) {
                    return Err(NomenclatureError {
                        table: "organism names",
                        because: format!("no group has the alias {alias:?}, which the commensal list uses"),
                    });
                }
            }
        }
        for (short, name) in &names.short {
            let identity = built.identify(name).identity;
            built.add_phrase(short, identity);
        }
        for entry in &names.same {
            built.add_same(&entry.names);
        }
        built.kin = names.kin.into_iter().map(|kin| kin.genera.into_iter().collect()).collect();
        built.doubtful = word_sequences(&names.phrases.doubtful);
        built.ignored = word_sequences(&names.phrases.ignored);
        built.appearance = names.appearance.words.iter().map(|word| folded(word)).collect();
        Ok(built)
    }

    /// Whether two identities count as one organism at this level, and how they agree.
    ///
    /// Subspecies are not compared, as NHSN does not compare biotypes. Unresolved names agree with nothing.
    pub fn agreement(&self, one: &Identity, other: &Identity, matching: Matching) -> Option<Agreement> {
        let same = match (one, other) {
            (Identity::Species(a), Identity::Species(b)) => self.compared(a) == self.compared(b),
            (Identity::Genus(a), Identity::Genus(b)) => a == b,
            (Identity::Group(a), Identity::Group(b)) => a == b,
            _ => false,
        };
        if same {
            return Some(Agreement::SameName);
        }
        let covered = matching == Matching::Genus
            && match (one, other) {
                (Identity::Genus(genus), Identity::Species(species))
                | (Identity::Species(species), Identity::Genus(genus)) => self.kin(genus, &species.genus),
                (Identity::Genus(a), Identity::Genus(b)) => self.kin(a, b),
                (Identity::Group(group), Identity::Species(species))
                | (Identity::Species(species), Identity::Group(group)) => self.holds(group, species),
                (Identity::Group(group), Identity::Genus(genus))
                | (Identity::Genus(genus), Identity::Group(group)) => {
                    self.groups.get(group).is_some_and(|members| members.genera.contains(genus))
                }
                (Identity::Group(a), Identity::Group(b)) => self.groups_overlap(a, b),
                _ => false,
            };
        covered.then_some(Agreement::Covered)
    }

    /// Whether two identities might be one organism: they agree, or one of them is not known well enough to tell.
    pub fn may_be_same(&self, one: &Identity, other: &Identity) -> bool {
        matches!(one, Identity::Unresolved(_))
            || matches!(other, Identity::Unresolved(_))
            || self.agreement(one, other, Matching::Genus).is_some()
    }

    fn empty() -> Self {
        Self {
            genus_by_word: HashMap::new(),
            genus_by_start: BTreeMap::new(),
            epithets: BTreeMap::new(),
            phrases: HashMap::new(),
            groups: HashMap::new(),
            same: HashMap::new(),
            kin: Vec::new(),
            doubtful: Vec::new(),
            ignored: Vec::new(),
            appearance: HashSet::new(),
        }
    }

    fn add_genus(&mut self, genus: &str, epithets: &[String]) {
        self.genus_by_word.insert(folded(&genus.to_lowercase()), genus.to_owned());
        self.genus_by_start.insert(folded(&genus.to_lowercase()), genus.to_owned());
        let known = self.epithets.entry(genus.to_owned()).or_default();
        for epithet in epithets {
            known.insert(folded(epithet), epithet.clone());
        }
    }

    fn add_group(&mut self, entry: &GroupEntry) {
        let members =
            Members { genera: entry.genera.clone(), members: entry.members.clone(), not: entry.not.clone() };
        self.groups.insert(entry.name.clone(), members);
        for written in entry.aliases.iter().chain([&entry.name]) {
            self.add_phrase(written, Identity::Group(entry.name.clone()));
        }
    }

    fn add_phrase(&mut self, written: &str, identity: Identity) {
        self.phrases.insert(key(&folded_words(written)), identity);
    }

    fn add_same(&mut self, names: &[String]) {
        let pairs: Vec<(String, String)> = names
            .iter()
            .filter_map(|name| name.split_once(' '))
            .map(|(genus, species)| (genus.to_owned(), species.to_owned()))
            .collect();
        if let Some(first) = pairs.first().cloned() {
            self.same.extend(pairs.into_iter().map(|pair| (pair, first.clone())));
        }
    }

    pub(super) fn compared(&self, species: &Species) -> (String, String) {
        let own = (species.genus.clone(), species.species.clone());
        self.same.get(&own).cloned().unwrap_or(own)
    }

    fn kin(&self, one: &str, other: &str) -> bool {
        one == other || self.kin.iter().any(|kin| kin.contains(one) && kin.contains(other))
    }

    fn holds(&self, group: &str, species: &Species) -> bool {
        self.groups.get(group).is_some_and(|group| {
            group.genera.contains(&species.genus)
                && if group.members.is_empty() {
                    !group.not.contains(&species.species)
                } else {
                    group.members.contains(&species.species)
                }
        })
    }

    /// Two different groups may be one organism when they share a genus and one of them is open: two closed lists
    /// of members are compared by their members.
    fn groups_overlap(&self, one: &str, other: &str) -> bool {
        let (Some(a), Some(b)) = (self.groups.get(one), self.groups.get(other)) else { return false };
        if !a.genera.iter().any(|genus| b.genera.contains(genus)) {
            return false;
        }
        match (a.members.is_empty(), b.members.is_empty()) {
            (true, true) => true,
            (true, false) => b.members.iter().any(|member| !a.not.contains(member)),
            (false, true) => a.members.iter().any(|member| !b.not.contains(member)),
            (false, false) => a.members.iter().any(|member| b.members.contains(member)),
        }
    }
}

fn word_sequences(phrases: &[String]) -> Vec<Vec<String>> {
    let mut sequences: Vec<Vec<String>> = phrases.iter().map(|phrase| folded_words(phrase)).collect();
    sequences.sort_by_key(|sequence| std::cmp::Reverse(sequence.len()));
    sequences
}
