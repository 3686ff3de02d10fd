//! Where in the stream each item is told best, no stretch of words counting fully for two items.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use breakdown::ItemKind;
use quantity::{Agreement, Stated};

use super::Settings;
use super::profile::{ItemProfile, ItemQuantity, Profile, QUANTITY_WEIGHT};
use super::stream::Stream;

/// The stretch of words that tells an item best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Match {
    /// First token.
    pub(super) start: usize,
    /// One past the last token.
    pub(super) end: usize,
    /// First token that is one of the item's words.
    pub(super) first_evidence: usize,
    /// 0 to 1.
    pub(super) score: f64,
}

/// Longest stretch, in words that carry meaning.
const LONGEST: usize = 14;
/// What a word still counts for an item once it was used for another.
const USED_TWICE: f64 = 0.3;
/// Weight of a number that only lies within an open end ("15 s" for "at most 45 min"), against one that hits an end.
const LOOSE_NUMBER: f64 = 0.4;
/// Weight of a number that hits one end, or lies within a closed range.
const NEAR_NUMBER: f64 = 0.9;
/// What is left of the weight where the number is counted per something else.
const OTHER_PER: f64 = 0.8;
/// From this weight on a number hits.
const HITS: f64 = 0.7;
/// Words and numbers that must agree before an item counts as said; one alone is chance.
const LEAST_EVIDENCE: usize = 2;
/// Weight of a word that no item has, against the words of the item, when asking how much of a stretch the item
/// explains.
const FOREIGN_WORD: f64 = 0.5;
/// Weight of words that makes a stretch more than a chance hit.
const ENOUGH: f64 = 1.6;

/// The best stretch for each item of the profile, where it reaches the lower threshold. Items are settled from the
/// best down; a word used by one counts less for the next.
pub(super) fn best(profile: &Profile, stream: &Stream, settings: &Settings) -> Vec<Option<Match>> {
    let mut used =
        Used { words: vec![false; stream.tokens.len()], quantities: vec![false; stream.quantities.len()] };
    let mut settled: Vec<Option<Match>> = vec![None; profile.items.len()];
    let mut queue: BinaryHeap<Candidate> = BinaryHeap::new();
    let fitting = fitting(profile, stream);
    let best_of = |item: usize, used: &Used| {
        best_stretch(&profile.items[item], &fitting[item], stream, used, settings.said_from)
    };
    queue.extend(
        (0..profile.items.len()).filter_map(|item| Some(Candidate { found: best_of(item, &used)?, item })),
    );
    // Scores only fall as words are used up, so the head of the queue is final when its own score still holds.
    while let Some(Candidate { found, item }) = queue.pop() {
        if found.score < settings.listen_from {
            break;
        }
        let Some(now) = best_of(item, &used) else { continue };
        if now.score < found.score - 1e-12 {
            queue.push(Candidate { found: now, item });
            continue;
        }
        settled[item] = Some(now);
        // A step's name is told through its key points, and a reason beside its key point: neither uses words up.
        if profile.items[item].kind == ItemKind::KeyPoint && now.score >= settings.said_from {
            let words = &profile.items[item].words;
            let stretch = now.start..now.end;
            for (used, token) in
                used.words.iter_mut().zip(&stream.tokens).take(stretch.end).skip(stretch.start)
            {
                *used |= token.word.is_some_and(|word| words.iter().any(|known| known.word == word));
            }
            // A number stays free for the item it hits best.
            for (at, (_, before)) in stream.quantities.iter().enumerate() {
                let own = closeness_in(&fitting[item], at);
                let best = fitting.iter().map(|numbers| closeness_in(numbers, at)).fold(0.0, f64::max);
                used.quantities[at] |= (stretch.start..=stretch.end).contains(before) && own >= best - 1e-9;
            }
        }
    }
    settled
}

/// How well some words alone tell an item, 0 to 1: for questions of the trainer.
pub(super) fn recall(item: &ItemProfile, words: &[usize]) -> f64 {
    let matched: f64 =
        item.words.iter().filter(|word| words.contains(&word.word)).map(|word| word.weight).sum();
    if item.full_weight > 0.0 { (matched / item.full_weight).min(1.0) } else { 0.0 }
}

/// Words and quantities of the stream that already tell some key point.
struct Used {
    words: Vec<bool>,
    quantities: Vec<bool>,
}

fn best_stretch(
    item: &ItemProfile,
    fitting: &[Fitting],
    stream: &Stream,
    used: &Used,
    said_from: f64,
) -> Option<Match> {
    if item.full_weight <= 0.0 {
        return None;
    }
    // Weight of each token for this item.
    let place = |word: usize| item.words.iter().position(|known| known.word == word);
    let places: Vec<Option<usize>> = stream.tokens.iter().map(|token| token.word.and_then(place)).collect();
    let mut best: Option<(Match, f64)> = None;
    let mut starts: Vec<usize> = (0..stream.tokens.len()).filter(|at| places[*at].is_some()).collect();
    starts.extend(fitting.iter().filter(|number| number.alone).map(|number| number.before.saturating_sub(1)));
    starts.sort_unstable();
    starts.dedup();
    for start in starts.into_iter().filter(|start| *start < stream.tokens.len()) {
        let mut counted = vec![0.0f64; item.words.len()];
        let mut foreign = 0.0;
        let turn = stream.tokens[start].turn;
        for end in start + 1..=(start + LONGEST).min(stream.tokens.len()) {
            let at = end - 1;
            if stream.tokens[at].turn != turn {
                break;
            }
            match places[at] {
                Some(word) => {
                    let factor = if used.words[at] { USED_TWICE } else { 1.0 };
                    counted[word] = counted[word].max(item.words[word].weight * factor);
                }
                None => foreign += FOREIGN_WORD,
            }
            // A number belongs to the stretch in which it stands, its edges included.
            let inside = fitting.iter().filter(|number| (start..=end).contains(&number.before));
            let number = inside
                .map(|number| {
                    let weight = if used.quantities[number.at] { USED_TWICE } else { 1.0 };
                    (number, weight * number.closeness)
                })
                .max_by(|one, two| one.1.total_cmp(&two.1));
            let words = counted.iter().filter(|weight| **weight > 0.0).count();
            let number = number.filter(|(number, _)| words > 0 || number.alone);
            let matched =
                counted.iter().sum::<f64>() + QUANTITY_WEIGHT * number.map_or(0.0, |(_, weight)| weight);
            let recall = (matched / item.full_weight).min(1.0);
            let precision = if matched > 0.0 { matched / (matched + foreign) } else { 0.0 };
            let mut score = 0.6 * recall + 0.4 * precision * (matched / ENOUGH).min(1.0);
            let evidence = words + usize::from(number.is_some());
            let alone = number.is_some_and(|(number, _)| number.alone);
            if evidence < LEAST_EVIDENCE.min(item.words.len()) && !alone {
                score = score.min(said_from - 1e-6);
            }
            let better = best.is_none_or(|(best, weight)| {
                score > best.score + 1e-12 || (score > best.score - 1e-12 && matched > weight + 1e-12)
            });
            if better {
                let first_evidence = (start..end).find(|at| places[*at].is_some()).unwrap_or(start);
                best = Some((Match { start, end, first_evidence, score }, matched));
            }
        }
    }
    best.map(|(found, _)| found)
}

/// A number of the stream that fits an item.
struct Fitting {
    /// Place in the stream's quantities.
    at: usize,
    /// Token before which it stands.
    before: usize,
    /// 1 for a number that hits what is expected, less for one that merely lies within an open end.
    closeness: f64,
    /// It hits this item and no other, so it tells the item even without a word of it.
    alone: bool,
}

/// How well a number of the stream hits an item; 0 for one that does not fit.
fn closeness_in(numbers: &[Fitting], at: usize) -> f64 {
    numbers.iter().find(|number| number.at == at).map_or(0.0, |number| number.closeness)
}

/// For each item the numbers that fit it.
fn fitting(profile: &Profile, stream: &Stream) -> Vec<Vec<Fitting>> {
    let mut fitting: Vec<Vec<Fitting>> =
        profile.items.iter().map(|item| fitting_quantities(item, stream)).collect();
    let n_hits = |at: usize, lists: &[Vec<Fitting>]| {
        lists.iter().flatten().filter(|number| number.at == at && number.closeness >= HITS).count()
    };
    let hits: Vec<usize> = (0..stream.quantities.len()).map(|at| n_hits(at, &fitting)).collect();
    for number in fitting.iter_mut().flatten() {
        let has_unit = stream.quantities[number.at].0.unit.is_some();
        number.alone = has_unit && number.closeness >= HITS && hits[number.at] == 1;
    }
    fitting
}

/// Quantities of the stream that are the item's own, or the item's in another "per" or direction.
fn fitting_quantities(item: &ItemProfile, stream: &Stream) -> Vec<Fitting> {
    let mut fitting = Vec::new();
    for (at, (found, before)) in stream.quantities.iter().enumerate() {
        let closeness = item.quantities.iter().filter_map(|ItemQuantity { stated: expected, .. }| {
            // A bare number is taken in the unit that is expected; only a right one tells anything.
            let heard = found.stated(expected.unit).ok()?;
            let same_thing = found.counted.is_none() || found.counted == expected.what.as_deref();
            let fits = match expected.compare(&heard) {
                Agreement::Agrees => same_thing,
                Agreement::OtherPer | Agreement::OtherDirection => same_thing && found.unit.is_some(),
                Agreement::OtherNumber | Agreement::OtherUnit => false,
            };
            fits.then(|| closeness(expected, &heard))
        });
        if let Some(closeness) = closeness.reduce(f64::max) {
            fitting.push(Fitting { at, before: *before, closeness, alone: false });
        }
    }
    fitting
}

/// How well a fitting number hits what is expected: both ends, one end or within a closed range, or only within an open end; less
/// where it is counted per something the item does not count by.
fn closeness(expected: &Stated, heard: &Stated) -> f64 {
    let both = (expected.low, expected.high) == (heard.low, heard.high);
    let closed = expected.low.is_some() && expected.high.is_some();
    let ends = [expected.low, expected.high];
    let one = [heard.low, heard.high].into_iter().flatten().any(|value| ends.contains(&Some(value)));
    let numbers = match (both, closed || one) {
        (true, _) => 1.0,
        (false, true) => NEAR_NUMBER,
        (false, false) => LOOSE_NUMBER,
    };
    if heard.per.is_some() && heard.per != expected.per { numbers * OTHER_PER } else { numbers }
}

struct Candidate {
    found: Match,
    item: usize,
}

impl Ord for Candidate {
    fn cmp(&self, other: &Self) -> Ordering {
        self.found.score.total_cmp(&other.found.score).then(other.item.cmp(&self.item))
    }
}

impl PartialOrd for Candidate {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Candidate {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Candidate {}
