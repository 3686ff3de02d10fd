//! What to listen for: the words of each item, with the weight of each word.

use std::collections::HashMap;

use breakdown::{Breakdown, ItemId, ItemKind, KeyPoint, KeyPointKind, content_words};
use quantity::{Stated, find, spelling};

/// Every item of a breakdown as words to listen for.
pub(super) struct Profile {
    pub(super) items: Vec<ItemProfile>,
    /// Every word of the items, with how much it tells.
    vocabulary: Vec<(String, f64)>,
    synonyms: Vec<(Vec<String>, String)>,
}

pub(super) struct ItemProfile {
    pub(super) id: ItemId,
    pub(super) kind: ItemKind,
    pub(super) safety: bool,
    /// The key point's label; none for steps and reasons.
    pub(super) label: Option<String>,
    /// Words with their weight, and whether the item says "not" about them.
    pub(super) words: Vec<ItemWord>,
    /// Weight a full telling would have: that of the few words that tell most, so that a long text need not be
    /// recited.
    pub(super) full_weight: f64,
    pub(super) quantities: Vec<ItemQuantity>,
}

/// A number of a key point.
pub(super) struct ItemQuantity {
    pub(super) stated: Stated,
    /// Its number stands in the words of the key point too, or it is the only one: a telling without it is partial.
    pub(super) required: bool,
}

pub(super) struct ItemWord {
    /// Place in the vocabulary.
    pub(super) word: usize,
    pub(super) weight: f64,
    pub(super) negated: bool,
}

/// Words of an item that a full telling has; the rest is how one learner puts it.
const TELLING_WORDS: usize = 4;
/// Content words after "not" that it is about.
const NOT_REACHES: usize = 2;

impl Profile {
    pub(super) fn of(breakdown: &Breakdown) -> Profile {
        let synonyms = synonyms(&breakdown.synonyms);
        let items = breakdown.items();
        let texts: Vec<Vec<(String, bool)>> = items
            .iter()
            .map(|item| {
                let reasons = item.key_point.map(|point| point.reasons.join(" "));
                // The label is the author's own name for the heart of the key point.
                let label = item.key_point.and_then(|point| point.label.as_deref()).unwrap_or("");
                let text = match item.id.kind() {
                    ItemKind::Step => item.text.to_owned(),
                    ItemKind::KeyPoint => format!("{label} {}", item.text),
                    ItemKind::Reason => reasons.unwrap_or_default(),
                };
                let words = content_words(&without_quantities(&text));
                with_negation(merge(&words, &synonyms))
            })
            .collect();
        let mut n_items: HashMap<&str, u32> = HashMap::new();
        for words in &texts {
            let mut unique: Vec<&str> = words.iter().map(|(word, _)| word.as_str()).collect();
            unique.sort_unstable();
            unique.dedup();
            for word in unique {
                *n_items.entry(word).or_default() += 1;
            }
        }
        let mut vocabulary: Vec<(String, f64)> =
            n_items.iter().map(|(word, n)| ((*word).to_owned(), (1.0 / f64::from(*n)).sqrt())).collect();
        vocabulary.sort_by(|left, right| left.0.cmp(&right.0));
        let number: HashMap<String, usize> =
            vocabulary.iter().enumerate().map(|(at, (word, _))| (word.clone(), at)).collect();
        let profiles = items.iter().zip(&texts).map(|(item, words)| {
            let point = item.key_point;
            let is_point = item.id.kind() == ItemKind::KeyPoint;
            let label = point.filter(|_| is_point).and_then(|point| point.label.clone());
            let hearts = merge(&content_words(label.as_deref().unwrap_or("")), &synonyms);
            let mut item_words: Vec<ItemWord> = Vec::new();
            for (word, negated) in words {
                let Some(&place) = number.get(word) else { continue };
                if item_words.iter().any(|known| known.word == place) {
                    continue;
                }
                let weight = vocabulary[place].1 * if hearts.contains(word) { 2.0 } else { 1.0 };
                item_words.push(ItemWord { word: place, weight, negated: *negated });
            }
            let quantities = point.filter(|_| is_point).map_or(Vec::new(), quantities);
            let mut weights: Vec<f64> = item_words.iter().map(|word| word.weight).collect();
            weights.extend(quantities.first().map(|_| QUANTITY_WEIGHT));
            weights.sort_by(|left, right| right.total_cmp(left));
            ItemProfile {
                id: item.id,
                kind: item.id.kind(),
                safety: point.is_some_and(|point| point.kind == KeyPointKind::Safety),
                label,
                full_weight: weights.iter().take(TELLING_WORDS).sum(),
                words: item_words,
                quantities,
            }
        });
        Profile { items: profiles.collect(), vocabulary, synonyms }
    }

    /// Place of the key point with this label.
    pub(super) fn labelled(&self, label: &str) -> Option<usize> {
        self.items.iter().position(|item| item.label.as_deref() == Some(label))
    }

    /// Longest run of words at the start of `words` that the unit uses for one thing, with the name it goes under.
    pub(super) fn synonym<'a>(&'a self, words: &[&str]) -> Option<(usize, &'a str)> {
        let starts = |form: &[String]| {
            form.len() <= words.len() && form.iter().zip(words).all(|(one, two)| one == two)
        };
        self.synonyms.iter().find(|(form, _)| starts(form)).map(|(form, name)| (form.len(), name.as_str()))
    }

    /// The word of the vocabulary that a heard word is, or most likely is.
    pub(super) fn word(&self, heard: &str) -> Option<usize> {
        if let Ok(at) = self.vocabulary.binary_search_by(|(word, _)| word.as_str().cmp(heard)) {
            return Some(at);
        }
        let length = heard.chars().count();
        let most = match length {
            0..5 => return None,
            5..8 => 1,
            _ => 2,
        };
        let near = self.vocabulary.iter().enumerate().filter(|(_, (word, _))| {
            let other = word.chars().count();
            other >= 5 && other.abs_diff(length) <= most && word.chars().next() == heard.chars().next()
        });
        let near = near.map(|(at, (word, _))| (spelling::distance(heard, word), at));
        near.filter(|(letters, _)| *letters <= most).min().map(|(_, at)| at)
    }
}

/// Weight of a quantity that fits: it tells more than any word.
pub(super) const QUANTITY_WEIGHT: f64 = 1.5;

/// The quantities of a key point, those in its words marked as required.
fn quantities(point: &KeyPoint) -> Vec<ItemQuantity> {
    let in_words = find(&point.text);
    let named = |stated: &Stated| {
        let mut same = in_words.iter().filter(|found| found.unit == Some(stated.unit));
        same.any(|found| found.stated(stated.unit).is_ok_and(|said| stated.agrees(&said)))
    };
    let only = point.quantities.len() == 1;
    let quantities = point.quantities.iter();
    quantities
        .map(|stated| ItemQuantity { stated: stated.clone(), required: only || named(stated) })
        .collect()
}

/// A text with its quantities cut out; they are held against each other as numbers.
fn without_quantities(text: &str) -> String {
    let mut rest = String::new();
    let mut from = 0;
    for found in find(text).into_iter().filter(|found| found.unit.is_some()) {
        rest.push_str(&text[from..found.start]);
        rest.push(' ');
        // What a plain count counts is a word to listen for: "identifiers".
        rest.push_str(found.counted.unwrap_or(""));
        from = found.end;
    }
    rest + &text[from..]
}

/// Marks the words that a "not" is about, and drops the "not".
fn with_negation(words: Vec<String>) -> Vec<(String, bool)> {
    let mut reach = 0;
    let mut marked = Vec::new();
    for word in words {
        if word == "not" {
            reach = NOT_REACHES;
        } else {
            marked.push((word, reach > 0));
            reach = reach.saturating_sub(1);
        }
    }
    marked
}

/// Word lists that mean one thing, longest first, with the one name they go under.
fn synonyms(groups: &[Vec<String>]) -> Vec<(Vec<String>, String)> {
    let mut table = Vec::new();
    for group in groups {
        let forms: Vec<Vec<String>> =
            group.iter().map(|form| content_words(form)).filter(|form| !form.is_empty()).collect();
        let Some(name) = forms.first().map(|form| form.join(" ")) else { continue };
        table.extend(forms.into_iter().map(|form| (form, name.clone())));
    }
    table.sort_by_key(|(form, _)| std::cmp::Reverse(form.len()));
    table
}

fn merge(words: &[String], synonyms: &[(Vec<String>, String)]) -> Vec<String> {
    let mut merged = Vec::new();
    let mut at = 0;
    while at < words.len() {
        match synonyms.iter().find(|(form, _)| words[at..].starts_with(form)) {
            Some((form, name)) => {
                merged.push(name.clone());
                at += form.len();
            }
            None => {
                merged.push(words[at].clone());
                at += 1;
            }
        }
    }
    merged
}
