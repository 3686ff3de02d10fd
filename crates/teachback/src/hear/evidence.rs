//! What speaks for an item having been said, as a few numbers.

use std::collections::HashMap;

use breakdown::ItemKind;

use super::align::Stretch;
use super::calibration;
use super::fit::{Fit, quantity_fit};
use super::profile::{ItemProfile, Profile, QUANTITY_WEIGHT};
use super::stream::{Stream, StreamToken};

/// How many numbers the evidence for one item has.
pub const N_SIGNS: usize = 14;

/// The best place for an item, with what speaks for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Evidence {
    /// Where in the stream; none where no word of the item was heard.
    pub(super) place: Option<Stretch>,
    /// First token that is one of the item's words or numbers.
    pub(super) first: usize,
    /// The signs a weight is given to in [`super::calibration`].
    pub(super) signs: [f64; N_SIGNS],
}

/// Weight of words beyond which more tells nothing more.
const ENOUGH: f64 = 4.0;
/// What words and numbers of an item's own stretch must weigh for it to be told there.
const WEAK: f64 = 0.9;
/// What a word or number still counts for an item when it tells the stretch's own.
const USED_TWICE: f64 = 0.3;
/// Key points between two stretches that still follow each other.
const FOLLOWS: usize = 5;

/// Evidence for every item, steps left empty.
pub(super) fn evidence(profile: &Profile, stream: &Stream, stretches: &[Stretch]) -> Vec<Evidence> {
    let points = point_numbers(profile);
    let nothing = Evidence { place: None, first: 0, signs: [0.0; N_SIGNS] };
    let mut all = vec![nothing; profile.items.len()];
    let index = Index::of(stream, stretches);
    let mut seeker = Seeker { profile, stream, stretches, weights: Vec::new(), heard: Vec::new() };
    for (at, item) in profile.items.iter().enumerate() {
        if item.kind == ItemKind::Step {
            continue;
        }
        seeker.weigh(item);
        let own = (0..stretches.len()).filter(|stretch| stretches[*stretch].item == at);
        let best_own = seeker.most_told(at, own);
        // A leftover of a word or two is no telling by itself.
        let is_told = best_own.as_ref().is_some_and(|(stretch, told)| {
            stretches[*stretch].end - stretches[*stretch].start > 1 && told.gain.min(ENOUGH) >= WEAK
        });
        let elsewhere = (!is_told).then(|| {
            // Told in one breath with another item: look into the stretches of others.
            seeker.most_told(at, index.with_any_of(item).into_iter()).filter(|(_, told)| told.gain > 0.0)
        });
        let signs =
            |(stretch, told): (usize, Told)| signs(profile, stream, stretches, &points, at, stretch, &told);
        let (best_own, elsewhere) = (best_own.map(signs), elsewhere.flatten().map(signs));
        let better = |one: &Evidence, two: &Evidence| {
            let said = |evidence: &Evidence| calibration::said(item.kind, &evidence.signs);
            said(one) >= said(two)
        };
        let best = match (best_own, elsewhere) {
            (Some(own), Some(other)) => Some(if better(&own, &other) { own } else { other }),
            (own, other) => own.or(other),
        };
        if let Some(evidence) = best {
            all[at] = evidence;
        }
    }
    all
}

/// Where each word of the vocabulary and any quantity was heard, so that an hour of talk is not searched for each item.
struct Index {
    by_word: HashMap<usize, Vec<usize>>,
    with_quantity: Vec<usize>,
}

impl Index {
    fn of(stream: &Stream, stretches: &[Stretch]) -> Index {
        let mut index = Index { by_word: HashMap::new(), with_quantity: Vec::new() };
        for (at, stretch) in stretches.iter().enumerate() {
            for token in &stream.tokens[stretch.start..stretch.end] {
                if token.quantity.is_some() && index.with_quantity.last() != Some(&at) {
                    index.with_quantity.push(at);
                }
                for likeness in &token.like {
                    let places = index.by_word.entry(likeness.word).or_default();
                    if places.last() != Some(&at) {
                        places.push(at);
                    }
                }
            }
        }
        index
    }

    /// Stretches that hold a word of the item, or a quantity where it has one; in order.
    fn with_any_of(&self, item: &ItemProfile) -> Vec<usize> {
        let words = item.words.iter().filter_map(|word| self.by_word.get(&word.word)).flatten();
        let mut all: Vec<usize> = words.copied().collect();
        if !item.quantities.is_empty() {
            all.extend(&self.with_quantity);
        }
        all.sort_unstable();
        all.dedup();
        all
    }
}

/// The number of the key point each item belongs to, counted through the whole breakdown.
fn point_numbers(profile: &Profile) -> Vec<usize> {
    let mut count = 0;
    let numbers = profile.items.iter().map(|item| {
        count += usize::from(item.kind == ItemKind::KeyPoint);
        count
    });
    numbers.collect()
}

/// What a stretch tells of an item.
#[derive(Debug, Clone, Copy, Default)]
struct Told {
    /// What its words and its number weigh.
    gain: f64,
    /// How many of its words were heard, and what the one is worth that tells most.
    n_words: usize,
    most_word: f64,
    /// Words that carry meaning, those the item has, and those no item has.
    content: usize,
    matched: usize,
    unknown: usize,
    /// How closely a number hits, and whether another number of its unit was said.
    number: f64,
    other_number: bool,
    /// First token that is one of the item's words or numbers.
    first: Option<usize>,
}

/// Looks for one item in stretches of talk.
struct Seeker<'a> {
    profile: &'a Profile,
    stream: &'a Stream,
    stretches: &'a [Stretch],
    /// For each word of the vocabulary its weight in the item looked for; 0 for a word it has not.
    weights: Vec<f64>,
    /// What was heard of each word in one stretch.
    heard: Vec<(usize, f64)>,
}

impl Seeker<'_> {
    fn weigh(&mut self, item: &ItemProfile) {
        self.weights.clear();
        for word in &item.words {
            if self.weights.len() <= word.word {
                self.weights.resize(word.word + 1, 0.0);
            }
            self.weights[word.word] = word.weight;
        }
    }

    /// The stretch that tells most of the item; of several alike the last.
    fn most_told(&mut self, at: usize, stretches: impl Iterator<Item = usize>) -> Option<(usize, Told)> {
        let mut most: Option<(usize, Told)> = None;
        for stretch in stretches {
            let told = self.told(at, stretch);
            if most.as_ref().is_none_or(|(_, known)| told.gain.min(ENOUGH) >= known.gain.min(ENOUGH)) {
                most = Some((stretch, told));
            }
        }
        most
    }

    fn told(&mut self, at: usize, stretch: usize) -> Told {
        let item = &self.profile.items[at];
        let Stretch { item: owner, start, end } = self.stretches[stretch];
        let (own, owner) = (owner == at, &self.profile.items[owner]);
        let mut told = Told::default();
        self.heard.clear();
        // What tells the stretch's own item tells another one little.
        let owner_has = |word: usize| !own && owner.words.iter().any(|known| known.word == word);
        let hits_owner = |token: &StreamToken| matches!(quantity_fit(owner, token), Fit::Hits(_));
        let tokens = &self.stream.tokens;
        let owner_hits = tokens[start..end].iter().filter(|token| hits_owner(token)).count();
        let mut other_at = None;
        for (place, token) in tokens.iter().enumerate().take(end).skip(start) {
            if token.quantity.is_some() {
                match quantity_fit(item, token) {
                    Fit::Hits(closeness) => {
                        let taken = !own && hits_owner(token);
                        told.number = told.number.max(if taken { closeness * USED_TWICE } else { closeness });
                        told.first = told.first.or(Some(place));
                    }
                    // A number that is right for the stretch's own item is no other number of this one.
                    Fit::SameUnit if !own && owner_hits == 1 && hits_owner(token) => {}
                    Fit::SameUnit => {
                        told.other_number = true;
                        other_at = other_at.or(Some(place));
                    }
                    Fit::None => {}
                }
                continue;
            }
            told.content += 1;
            told.unknown += usize::from(token.like.is_empty());
            let mut any = false;
            for likeness in &token.like {
                let weight = self.weights.get(likeness.word).copied().unwrap_or(0.0);
                if weight <= 0.0 {
                    continue;
                }
                let factor = if owner_has(likeness.word) { USED_TWICE } else { 1.0 };
                let worth = likeness.share * weight * factor;
                match self.heard.iter_mut().find(|(word, _)| *word == likeness.word) {
                    Some((_, known)) => *known = known.max(worth),
                    None => self.heard.push((likeness.word, worth)),
                }
                any = true;
            }
            if any {
                told.matched += 1;
                told.first = told.first.or(Some(place));
            }
        }
        // "How long does it dry?", "ten seconds": another number alone tells the item as well.
        told.first = told.first.or(other_at.filter(|_| own));
        // One heard word tells one word of the item, however many it may stand for.
        self.heard.sort_by(|left, right| right.1.total_cmp(&left.1));
        self.heard.truncate(told.matched);
        told.n_words = self.heard.len();
        told.most_word = self.heard.first().map_or(0.0, |(_, worth)| *worth);
        let words: f64 = self.heard.iter().map(|(_, worth)| worth).sum();
        told.gain = words + QUANTITY_WEIGHT * told.number;
        told
    }
}

fn signs(
    profile: &Profile,
    stream: &Stream,
    stretches: &[Stretch],
    points: &[usize],
    at: usize,
    stretch: usize,
    told: &Told,
) -> Evidence {
    let item = &profile.items[at];
    let Stretch { item: owner, start, end } = stretches[stretch];
    let own = owner == at;
    let before = stretch.checked_sub(1).map(|before| stretches[before].item);
    let after = stretches.get(stretch + 1).map(|after| after.item);
    let follows = |earlier: usize, later: usize| {
        points[later] >= points[earlier] && points[later] - points[earlier] <= FOLLOWS
    };
    let is_reason = item.kind == ItemKind::Reason;
    let in_order = match before {
        Some(before) if is_reason => points[before] == points[at],
        Some(before) => follows(before, at),
        None => points[at] <= 2,
    };
    let leads_on = after.is_some_and(|after| follows(at, after));
    let because = stream.tokens[start..end].iter().take(3).any(|token| token.gives_reason);
    let share = |n: usize, of: usize| if of == 0 { 0.0 } else { n as f64 / of as f64 };
    let flag = |holds: bool| f64::from(u8::from(holds));
    let full = if item.full_weight > 0.0 { (told.gain / item.full_weight).min(1.0) } else { 0.0 };
    let signs = [
        told.gain.min(ENOUGH),
        full,
        share(told.matched, told.content),
        flag(own),
        told.number,
        flag(told.other_number && told.number == 0.0),
        told.most_word.min(2.0),
        (told.n_words as f64).min(4.0),
        flag(in_order),
        flag(leads_on),
        flag(because),
        (told.content as f64).min(10.0) / 10.0,
        share(told.unknown, told.content),
        flag(in_order && stream.tokens[start].starts_line && own),
    ];
    let place = told.first.map(|_| Stretch { item: at, start, end });
    Evidence { place, first: told.first.unwrap_or(start), signs }
}
