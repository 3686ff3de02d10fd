//! Which words of a breakdown a heard word may stand for, and how well.

use std::collections::HashMap;
use std::sync::LazyLock;

use breakdown::content_words;

use super::opposite;
use super::sound::Sound;

/// A heard word in a word of the vocabulary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Likeness {
    /// Place in the vocabulary.
    pub(super) word: usize,
    /// 1 for the word itself, less for one that only means or sounds much the same.
    pub(super) share: f64,
}

/// A word that means much the same in the talk of the trade.
const MEANS: f64 = 0.75;
/// A word that says the opposite speaks of the same thing.
const TURNED: f64 = 0.5;
/// From here on two words sound alike.
const SOUNDS_FROM: f64 = 0.68;
/// Words put together from two or three pieces must sound more alike than one word.
const JOINED_FROM: f64 = 0.74;
/// Fewest sounds of a word that may have been cut into pieces.
const JOINED_SOUNDS: usize = 5;
/// Longest phrase of the trade's list, in words that carry meaning.
const LONGEST_PHRASE: usize = 3;

/// The trade's list: for each phrase the groups it stands in.
static TRADE: LazyLock<HashMap<String, Vec<u32>>> = LazyLock::new(|| {
    let mut phrases: HashMap<String, Vec<u32>> = HashMap::new();
    let lines = include_str!("../../data/trade-words.txt").lines();
    for (group, line) in (0u32..).zip(lines.filter(|line| !line.starts_with('#') && !line.trim().is_empty()))
    {
        for member in line.split(',') {
            let groups = phrases.entry(content_words(member).join(" ")).or_default();
            if !groups.contains(&group) {
                groups.push(group);
            }
        }
    }
    phrases.remove("");
    phrases
});

/// True for a word the trade's list has.
pub(super) fn is_of_the_trade(stem: &str) -> bool {
    TRADE.contains_key(stem)
}

/// A vocabulary with what sounds like it and what means the same.
pub(super) struct Lexicon {
    places: HashMap<String, usize>,
    sounds: Vec<Sound>,
    /// Places of the words with enough sounds to have been cut into pieces, longest first.
    by_length: Vec<usize>,
    /// Places by the number of consonants.
    by_consonants: Vec<Vec<usize>>,
    letters: Vec<usize>,
    /// Words of the vocabulary in each group of the trade's list.
    by_group: HashMap<u32, Vec<usize>>,
    /// Words of the vocabulary that a word turns round.
    asked: HashMap<String, Vec<usize>>,
}

impl Lexicon {
    pub(super) fn of(vocabulary: &[String]) -> Lexicon {
        let mut by_group: HashMap<u32, Vec<usize>> = HashMap::new();
        for (place, word) in vocabulary.iter().enumerate() {
            for group in TRADE.get(word).into_iter().flatten() {
                by_group.entry(*group).or_default().push(place);
            }
        }
        let sounds: Vec<Sound> = vocabulary.iter().map(|word| Sound::of(word)).collect();
        let mut by_length: Vec<usize> =
            (0..sounds.len()).filter(|place| sounds[*place].len() >= JOINED_SOUNDS).collect();
        by_length.sort_by_key(|place| std::cmp::Reverse(sounds[*place].len()));
        let mut by_consonants: Vec<Vec<usize>> = Vec::new();
        for (place, sound) in sounds.iter().enumerate() {
            if by_consonants.len() <= sound.n_consonants() {
                by_consonants.resize(sound.n_consonants() + 1, Vec::new());
            }
            by_consonants[sound.n_consonants()].push(place);
        }
        let places: HashMap<String, usize> = vocabulary.iter().cloned().zip(0..).collect();
        let mut asked: HashMap<String, Vec<usize>> = HashMap::new();
        for (turned, word) in opposite::asked_by_turned() {
            if let Some(place) = places.get(word) {
                asked.entry(turned.to_owned()).or_default().push(*place);
            }
        }
        Lexicon {
            asked,
            places,
            sounds,
            by_length,
            by_consonants,
            letters: vocabulary.iter().map(|word| word.chars().count()).collect(),
            by_group,
        }
    }

    pub(super) fn place(&self, stem: &str) -> Option<usize> {
        self.places.get(stem).copied()
    }

    /// Words of the vocabulary that the first of `stems` may stand for, phrases that begin with it included.
    pub(super) fn like(&self, stems: &[&str], memory: &mut HashMap<String, Vec<Likeness>>) -> Vec<Likeness> {
        let Some(first) = stems.first() else { return Vec::new() };
        let mut found = match memory.get(*first) {
            Some(known) => known.clone(),
            None => {
                let fresh = self.one(first);
                memory.insert((*first).to_owned(), fresh.clone());
                fresh
            }
        };
        for n_words in 2..=LONGEST_PHRASE.min(stems.len()) {
            let phrase = stems[..n_words].join(" ");
            let known = match memory.get(&phrase) {
                Some(known) => known.clone(),
                None => {
                    let fresh = self.phrase(&phrase, &stems[..n_words]);
                    memory.insert(phrase, fresh.clone());
                    fresh
                }
            };
            for likeness in known {
                keep_best(&mut found, likeness);
            }
        }
        found
    }

    fn one(&self, stem: &str) -> Vec<Likeness> {
        let mut found = Vec::new();
        self.same_meaning(stem, &mut found);
        for asked in self.asked.get(stem).into_iter().flatten() {
            keep_best(&mut found, Likeness { word: *asked, share: TURNED });
        }
        if let Some(place) = self.places.get(stem) {
            keep_best(&mut found, Likeness { word: *place, share: 1.0 });
            return found;
        }
        let letters = stem.chars().count();
        if letters < 3 {
            return found;
        }
        let sound = Sound::of(stem);
        let near = sound.consonants_within(1.0 - SOUNDS_FROM);
        for place in self.by_consonants.iter().skip(near.0).take(near.1 + 1 - near.0).flatten() {
            let (place, other) = (*place, &self.sounds[*place]);
            // Short words sound like too many others.
            let least = if letters.min(self.letters[place]) < 4 { 0.95 } else { SOUNDS_FROM };
            let alike = sound.alike(other, least);
            if alike > 0.0 {
                let share = 0.35 + 0.5 * (alike - SOUNDS_FROM) / (1.0 - SOUNDS_FROM);
                let known = if is_of_the_trade(stem) { 0.6 } else { 1.0 };
                keep_best(&mut found, Likeness { word: place, share: share * known });
            }
        }
        // Two words run together: one of them stands at an end.
        if letters >= 7 && found.is_empty() {
            for (word, place) in self.places.iter().filter(|(word, _)| word.chars().count() >= 4) {
                if stem.starts_with(word.as_str()) || stem.ends_with(word.as_str()) {
                    keep_best(&mut found, Likeness { word: *place, share: MEANS });
                }
            }
        }
        found.sort_by_key(|likeness| likeness.word);
        found
    }

    /// A phrase of the trade, or one word of the vocabulary cut into pieces.
    fn phrase(&self, phrase: &str, stems: &[&str]) -> Vec<Likeness> {
        let mut found = Vec::new();
        self.same_meaning(phrase, &mut found);
        let all_known = stems.iter().all(|stem| self.places.contains_key(*stem));
        if found.is_empty() && !all_known {
            let joined: String = stems.concat();
            let sound = Sound::of(&joined);
            let long_enough = |place: &&usize| self.sounds[**place].len() * 5 >= sound.len() * 4;
            for place in self.by_length.iter().take_while(long_enough) {
                let (place, other) = (*place, &self.sounds[*place]);
                if let alike = sound.alike(other, JOINED_FROM)
                    && alike >= JOINED_FROM
                {
                    keep_best(&mut found, Likeness { word: place, share: alike * 0.85 });
                }
            }
            found.sort_by_key(|likeness| likeness.word);
        }
        found
    }

    fn same_meaning(&self, phrase: &str, found: &mut Vec<Likeness>) {
        for group in TRADE.get(phrase).into_iter().flatten() {
            for place in self.by_group.get(group).into_iter().flatten() {
                keep_best(found, Likeness { word: *place, share: MEANS });
            }
        }
    }
}

fn keep_best(found: &mut Vec<Likeness>, likeness: Likeness) {
    match found.iter_mut().find(|known| known.word == likeness.word) {
        Some(known) => known.share = known.share.max(likeness.share),
        None => found.push(likeness),
    }
}
