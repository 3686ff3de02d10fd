//! What the cells of each column look like.

use std::collections::{BTreeMap, HashSet};

use culture::{Identity, Nomenclature};
use jiff::civil::Date;

use super::dates::Clock;
use super::vocabulary::{self, bare};
use crate::laboratory::until_positive::seconds_to_positivity;
use crate::laboratory::words::{self, NO_GROWTH_WORDS, NoGrowth, plain};
use crate::table::Row;

/// Most different values of a column that are kept; a column with more is no column of words.
const MOST_VALUES: usize = 4_000;

/// What is known of one column.
#[derive(Debug, Clone)]
pub(super) struct Profile {
    pub header: String,
    pub rows: usize,
    pub filled: usize,
    /// Different values with how often each stands there, while they are few.
    pub values: BTreeMap<String, usize>,
    pub many_values: bool,
    /// Cells that a workbook marks as dates.
    pub date_cells: usize,
    pub clock: Clock,
    pub numbers: usize,
    pub lowest: f64,
    pub highest: f64,
}

impl Profile {
    pub(super) fn new(header: &str) -> Self {
        Self {
            header: header.to_owned(),
            rows: 0,
            filled: 0,
            values: BTreeMap::new(),
            many_values: false,
            date_cells: 0,
            clock: Clock::default(),
            numbers: 0,
            lowest: f64::INFINITY,
            highest: f64::NEG_INFINITY,
        }
    }

    pub(super) fn add(&mut self, row: &Row<'_>, column: usize, today: Date) {
        self.rows += 1;
        let text = row.text(column);
        if text.is_empty() {
            return;
        }
        self.filled += 1;
        if let Some(at) = row.date_cell(column) {
            self.date_cells += 1;
            self.clock.add_cell(at, today);
        } else {
            self.clock.add(&text, today);
        }
        if let Some(number) = number(&text) {
            self.numbers += 1;
            self.lowest = self.lowest.min(number);
            self.highest = self.highest.max(number);
        }
        if self.values.len() < MOST_VALUES {
            *self.values.entry(text.into_owned()).or_insert(0) += 1;
        } else if let Some(count) = self.values.get_mut(text.as_ref()) {
            *count += 1;
        } else {
            self.many_values = true;
        }
    }

    pub(super) fn share_filled(&self) -> f64 {
        share(self.filled, self.rows)
    }

    /// Share of filled cells that are dates, with or without a time.
    pub(super) fn dates(&self) -> f64 {
        share(self.date_cells.max(self.clock.dates()), self.filled)
    }

    /// Share of dates that carry a time of day.
    pub(super) fn timed(&self) -> f64 {
        share(self.clock.timed(), self.clock.dates())
    }

    /// Share of filled cells that are a time of day alone.
    pub(super) fn times(&self) -> f64 {
        share(self.clock.times(), self.filled)
    }

    /// Share of filled cells that are numbers within a range.
    pub(super) fn numbers_within(&self, low: f64, high: f64) -> f64 {
        if self.lowest < low || self.highest > high { 0.0 } else { share(self.numbers, self.filled) }
    }

    /// Share of the different words that name an organism or no growth, and whether any names an organism.
    pub(super) fn organisms(&self) -> (f64, bool) {
        let names = Nomenclature::built_in();
        let no_growth = NoGrowth::new(NO_GROWTH_WORDS);
        let mut fitting = 0;
        let mut any = false;
        // A number or a date is no name; a few hundred different words settle it.
        for value in self.values.keys().take(300) {
            let first = value.split([';', '/', '+', '|']).next().unwrap_or_default().trim();
            let organism = first.chars().any(char::is_alphabetic)
                && first.len() > 2
                && matches!(
                    names.identify(first).identity,
                    Identity::Species(_) | Identity::Genus(_) | Identity::Group(_)
                );
            any |= organism;
            fitting += usize::from(organism || no_growth.is(value) || is_no_growth(value));
        }
        (share(fitting, self.values.len().min(300)), any)
    }

    /// Share of filled cells whose word has a meaning.
    pub(super) fn words(&self, known: impl Fn(&str) -> bool) -> f64 {
        if self.many_values {
            return 0.0;
        }
        let fitting: usize = self.values.iter().filter(|(word, _)| known(word)).map(|(_, n)| n).sum();
        share(fitting, self.filled)
    }

    pub(super) fn statuses(&self) -> f64 {
        let known = words::statuses();
        self.words(|word| known.get(word).is_some() || meaning(&vocabulary::STATUS_WORDS, word).is_some())
    }

    pub(super) fn routes(&self) -> f64 {
        let known = words::routes();
        self.words(|word| known.get(word).is_some() || meaning(&vocabulary::ROUTE_WORDS, word).is_some())
    }

    pub(super) fn bottles(&self) -> f64 {
        let known = words::bottles();
        self.words(|word| known.get(word).is_some() || meaning(&vocabulary::BOTTLE_WORDS, word).is_some())
    }

    pub(super) fn blood_cultures(&self) -> f64 {
        self.words(is_blood_culture)
    }

    /// Share of filled cells that are hours to positivity: "13.5", "13,5" or "13:30".
    pub(super) fn hours_to_positivity(&self) -> f64 {
        let fitting = |(value, n): (&String, &usize)| seconds_to_positivity(value).map_or(0, |_| *n);
        share(self.values.iter().map(fitting).sum(), self.values.values().sum())
    }

    pub(super) fn different(&self) -> usize {
        self.values.len()
    }
}

/// What a word means by one of the tables of other languages.
pub(super) fn meaning<T: Copy>(table: &[(&str, T)], word: &str) -> Option<T> {
    let word = bare(word);
    table.iter().find(|(known, _)| *known == word).map(|(_, meaning)| *meaning)
}

/// A word for no growth that the reader does not know by itself.
pub(super) fn is_no_growth(text: &str) -> bool {
    let text = bare(text);
    vocabulary::NO_GROWTH.iter().any(|start| text.starts_with(start))
}

pub(super) fn is_blood_culture(text: &str) -> bool {
    let (plain, bare) = (plain(text), bare(text));
    vocabulary::BLOOD_CULTURE.iter().any(|known| *known == plain || *known == bare)
}

/// Keys seen so far, for counting which cells belong together.
pub(super) fn distinct<'v>(values: impl Iterator<Item = &'v str>) -> usize {
    values.collect::<HashSet<_>>().len()
}

pub(super) fn share(part: usize, whole: usize) -> f64 {
    if whole == 0 { 0.0 } else { part as f64 / whole as f64 }
}

fn number(text: &str) -> Option<f64> {
    let text = text.trim().trim_start_matches('>').trim_end_matches('+');
    let text = text.trim_end_matches("mL").trim_end_matches("ml").trim_end_matches(" g").trim();
    text.replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite())
}
