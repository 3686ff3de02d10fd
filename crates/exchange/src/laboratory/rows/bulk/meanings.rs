//! What the cells that occur again and again mean: each different text is read once, by the rules for any row.

use std::collections::HashMap;

use culture::{NOT_KNOWN, ReportStatus, Route, Specimen};
use foldhash::fast::FixedState;

use super::facts::{BETWEEN_ORGANISMS, Role, Unfit};
use super::notes::{NoteId, Notes};
use crate::laboratory::mapping::EmptyOrganism;
use crate::laboratory::rows::Reader;
use crate::laboratory::words::{plain, specimen};

/// Something read, and what is noted where it occurs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Meant<T> {
    pub value: T,
    pub note: Option<NoteId>,
}

/// What the organism cells of a row say.
#[derive(Debug, Clone)]
pub(super) struct OrganismsMeant {
    /// Places of the names.
    pub names: Vec<u32>,
    pub cancelled: bool,
    /// Every cell is empty, and the mapping does not take that for no growth.
    pub unread: bool,
}

/// Names or numbers, each kept once.
#[derive(Default)]
pub(super) struct Kept {
    pub names: Vec<String>,
    places: HashMap<String, u32>,
}

impl Kept {
    pub(super) fn place(&mut self, name: &str) -> u32 {
        if let Some(place) = self.places.get(name) {
            return *place;
        }
        let place = u32::try_from(self.names.len()).unwrap_or(NOT_KNOWN);
        self.names.push(name.to_owned());
        self.places.insert(name.to_owned(), place);
        place
    }

    /// The place of a name; not known where it is empty.
    pub(super) fn known(&mut self, name: &str) -> u32 {
        if name.is_empty() { NOT_KNOWN } else { self.place(name) }
    }
}

/// Numbers, each kept once.
#[derive(Default)]
pub(super) struct KeptNumbers {
    pub values: Vec<f64>,
    places: HashMap<u64, u32>,
}

impl KeptNumbers {
    pub(super) fn place(&mut self, value: f64) -> u32 {
        *self.places.entry(value.to_bits()).or_insert_with(|| {
            self.values.push(value);
            u32::try_from(self.values.len() - 1).unwrap_or(NOT_KNOWN)
        })
    }
}

/// Bottles by the places of their label and fill, each kept once.
#[derive(Default)]
pub(super) struct LabelledBottles {
    /// Place of the label, and of the fill or [`NOT_KNOWN`].
    pub list: Vec<(u32, u32)>,
    places: HashMap<(u32, u32), u32, FixedState>,
}

impl LabelledBottles {
    pub(super) fn place(&mut self, label: u32, fill: Option<u32>) -> Result<u32, Unfit> {
        let bottle = (label, fill.unwrap_or(NOT_KNOWN));
        if let Some(place) = self.places.get(&bottle) {
            return Ok(*place);
        }
        let place = u32::try_from(self.list.len()).ok().filter(|place| *place < NOT_KNOWN).ok_or(Unfit)?;
        self.list.push(bottle);
        self.places.insert(bottle, place);
        Ok(place)
    }

    /// Whether the two may be one bottle: the same label, and no two different fills.
    pub(super) fn may_be_one(&self, one: u32, other: u32) -> bool {
        let (label, fill) = self.list[one as usize];
        let (other_label, other_fill) = self.list[other as usize];
        label == other_label && (fill == other_fill || fill == NOT_KNOWN || other_fill == NOT_KNOWN)
    }

    /// Of two that are one bottle, the one whose fill is known.
    pub(super) fn with_fill(&self, one: u32, other: u32) -> u32 {
        if self.list[one as usize].1 == NOT_KNOWN { other } else { one }
    }
}

/// The meanings of one role's texts, by the scanner and its number for the text.
pub(super) struct Column<T> {
    meanings: HashMap<String, T>,
    by_scanner: Vec<Vec<T>>,
}

impl<T> Default for Column<T> {
    fn default() -> Self {
        Self { meanings: HashMap::new(), by_scanner: Vec::new() }
    }
}

impl<T: Clone> Column<T> {
    /// What the number of a text means. A scanner tells every text before it uses its number.
    pub(super) fn get(&self, scanner: usize, code: u32) -> Option<&T> {
        self.by_scanner.get(scanner)?.get(code as usize)
    }

    fn learn(&mut self, scanner: usize, texts: &[String], mut read: impl FnMut(&str) -> T) {
        if self.by_scanner.len() <= scanner {
            self.by_scanner.resize_with(scanner + 1, Vec::new);
        }
        for text in texts {
            let meaning = match self.meanings.get(text) {
                Some(meaning) => meaning.clone(),
                None => {
                    let meaning = read(text);
                    self.meanings.insert(text.clone(), meaning.clone());
                    meaning
                }
            };
            self.by_scanner[scanner].push(meaning);
        }
    }
}

/// The meanings of one file's texts.
#[derive(Default)]
pub(super) struct Meanings {
    pub units: Column<u32>,
    pub collectors: Column<u32>,
    pub routes: Column<Meant<Option<Route>>>,
    pub specimens: Column<Specimen>,
    pub statuses: Column<Meant<ReportStatus>>,
    pub ages: Column<Meant<u32>>,
    /// Labels as numbers; 0 where there is none.
    pub bottles: Column<Meant<u32>>,
    pub fills: Column<Meant<Option<u32>>>,
    pub organisms: Column<OrganismsMeant>,
}

/// Names and numbers of all files.
#[derive(Default)]
pub(super) struct Lists {
    pub units: Kept,
    pub collectors: Kept,
    pub organisms: Kept,
    pub labels: Kept,
    pub ages: KeptNumbers,
    pub fills: KeptNumbers,
    pub bottles: LabelledBottles,
}

impl Lists {
    pub(super) fn new() -> Self {
        let mut lists = Self::default();
        // Label 0 stands for none.
        lists.labels.place("");
        lists
    }
}

impl Meanings {
    /// Learns the texts a scanner has met.
    pub(super) fn learn(
        &mut self,
        scanner: usize,
        fresh: &[Vec<String>],
        reader: &Reader<'_>,
        lists: &mut Lists,
        notes: &mut Notes,
    ) {
        let texts = |role: Role| fresh.get(role as usize).map_or(&[][..], Vec::as_slice);
        let mapping = reader.mapping;
        self.units.learn(scanner, texts(Role::Unit), |text| lists.units.known(text));
        self.collectors.learn(scanner, texts(Role::Collector), |text| lists.collectors.known(text));
        self.routes.learn(scanner, texts(Role::Route), |text| {
            let (value, note) = reader.word_of(text, "route_words", |word| mapping.routes.get(word));
            Meant { value, note: note.map(|note| notes.id(note)) }
        });
        self.specimens.learn(scanner, texts(Role::Specimen), specimen);
        self.statuses.learn(scanner, texts(Role::Status), |text| {
            let (value, note) = reader.word_of(text, "status_words", |word| mapping.statuses.get(word));
            Meant { value: value.unwrap_or(ReportStatus::NotStated), note: note.map(|note| notes.id(note)) }
        });
        self.ages.learn(scanner, texts(Role::Age), |text| {
            let (value, note) = reader.age_in_years(text);
            let value = value.map_or(NOT_KNOWN, |age| lists.ages.place(age));
            Meant { value, note: note.map(|note| notes.id(note.to_owned())) }
        });
        self.bottles.learn(scanner, texts(Role::Bottle), |text| {
            let (_, note) = reader.word_of(text, "bottle_words", |word| mapping.bottles.get(word));
            Meant { value: lists.labels.place(&plain(text)), note: note.map(|note| notes.id(note)) }
        });
        self.fills.learn(scanner, texts(Role::Fill), |text| {
            let (value, note) = reader.volume_of(text);
            let value = value.map(|fill| lists.fills.place(fill));
            Meant { value, note: note.map(|note| notes.id(note.to_owned())) }
        });
        let several = reader.places.organisms.len() > 1;
        self.organisms.learn(scanner, texts(Role::Organism), |text| {
            let parts = if several {
                reader.organisms_in(text.split(BETWEEN_ORGANISMS))
            } else {
                reader.organisms_in(std::iter::once(text))
            };
            let place = |name: &&str| match mapping.organism_names.get(&plain(name)) {
                Some(named) => lists.organisms.place(named),
                None => lists.organisms.place(name),
            };
            OrganismsMeant {
                names: parts.written.iter().map(place).collect(),
                cancelled: parts.cancelled,
                unread: !parts.any_text && mapping.empty_organism == EmptyOrganism::Unread,
            }
        });
    }
}
