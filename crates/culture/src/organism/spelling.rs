//! Misspelt names: "Staphlococcus epidermidus".
//!
//! A word is put right only where one known word lies near it and no second one does, so that a slip never turns one
//! organism into another. What stays unclear stays unresolved.

use super::nomenclature::Nomenclature;

/// Words besides names that are put right: they decide which group is meant.
const GROUP_WORDS: [&str; 4] = ["coagulase", "negative", "viridans", "diphtheroids"];

/// Shortest word that is put right: in shorter ones one letter makes another word.
const SHORTEST: usize = 6;

impl Nomenclature {
    /// The words with every slip put right; `None` where nothing could be.
    pub(super) fn put_right(&self, words: &[String]) -> Option<Vec<String>> {
        let mut right: Vec<String> = words.to_vec();
        for word in &mut right {
            if !self.is_known_word(word)
                && let Some(genus) = self.near_genus(word)
            {
                *word = genus;
            }
        }
        for place in 0..right.len() {
            let Some(genus) = self.genus_by_word.get(&right[place]).cloned() else { continue };
            if let Some(next) = right.get(place + 1)
                && let Some(epithet) = self.near_epithet(&[&genus], next)
            {
                right[place + 1] = epithet;
            }
        }
        for place in 1..right.len() {
            let start = &right[place - 1];
            let abbreviates = start.len() <= 5
                && start.chars().all(char::is_alphabetic)
                && !self.genus_by_word.contains_key(start);
            if abbreviates && !self.is_known_word(&right[place]) {
                let genera: Vec<&str> = self.genera_starting(start).collect();
                if let Some(epithet) = self.near_epithet(&genera, &right[place]) {
                    right[place] = epithet;
                }
            }
        }
        (right != words).then_some(right)
    }

    fn is_known_word(&self, word: &str) -> bool {
        self.genus_by_word.contains_key(word)
            || self.appearance.contains(word)
            || GROUP_WORDS.contains(&word)
            || self.epithets.values().any(|known| known.contains_key(word))
    }

    /// The genus or group word near this one, where every word that near means the same genus.
    fn near_genus(&self, word: &str) -> Option<String> {
        let known = self.genus_by_word.iter().map(|(written, genus)| (written.as_str(), genus.as_str()));
        let groups = GROUP_WORDS.into_iter().map(|word| (word, word));
        only_near(word, known.chain(groups)).map(str::to_owned)
    }

    /// The one epithet of these genera near this word.
    fn near_epithet(&self, genera: &[&str], word: &str) -> Option<String> {
        let known: Vec<_> = genera.iter().filter_map(|genus| self.epithets.get(*genus)).collect();
        if known.iter().any(|epithets| epithets.contains_key(word)) {
            return None;
        }
        let written =
            known.iter().flat_map(|epithets| epithets.keys()).map(|key| (key.as_str(), key.as_str()));
        only_near(word, written).map(str::to_owned)
    }
}

/// Whether two words may be one word with slips: as many slips as [`slips`] allows, and one more to be safe.
pub(crate) fn may_be_slip(one: &str, other: &str) -> bool {
    one.len() >= SHORTEST && strsim::osa_distance(one, other) <= slips(one.len().min(other.len())) + 1
}

/// Letters that may be wrong, missing, doubled or exchanged in a word of this length.
fn slips(length: usize) -> usize {
    match length {
        0..SHORTEST => 0,
        SHORTEST..8 => 1,
        _ => 2,
    }
}

/// The nearest known word that starts with the same letter, unless a word of another meaning is as near or one slip
/// further.
fn only_near<'k>(word: &str, known: impl Iterator<Item = (&'k str, &'k str)>) -> Option<&'k str> {
    if word.len() < SHORTEST || !word.chars().all(char::is_alphabetic) {
        return None;
    }
    let mut near: Vec<(usize, &str, &str)> = known
        .filter(|(written, _)| {
            written.len() >= SHORTEST
                && written.len().abs_diff(word.len()) <= slips(word.len().min(written.len())) + 1
        })
        .map(|(written, meaning)| (strsim::osa_distance(word, written), written, meaning))
        .filter(|(distance, written, _)| *distance <= slips(word.len().min(written.len())) + 1)
        .collect();
    near.sort_unstable();
    let &(distance, written, meaning) = near.first()?;
    let sure = distance <= slips(word.len().min(written.len()))
        && written.chars().next() == word.chars().next()
        && near.iter().all(|&(other_distance, _, other)| other == meaning || other_distance > distance + 1);
    sure.then_some(written)
}
