//! "Touch it again" for "do not touch it again", "at the desk" for "at the bedside".

use std::sync::LazyLock;

use breakdown::content_words;

use super::align::Stretch;
use super::profile::{ItemProfile, Profile};
use super::stream::{Stream, StreamToken};

/// Words that turn a key point round: what it asks, and what says the opposite.
static OPPOSITES: LazyLock<Vec<(String, Vec<String>)>> = LazyLock::new(|| {
    let mut pairs: Vec<(String, Vec<String>)> = Vec::new();
    let lines = include_str!("../../data/opposites.txt").lines();
    for line in lines.filter(|line| !line.starts_with('#') && !line.trim().is_empty()) {
        let (left, right, both) = match line.split_once("<>") {
            Some((left, right)) => (left, right, true),
            None => match line.split_once('>') {
                Some((left, right)) => (left, right, false),
                None => continue,
            },
        };
        let stems = |text: &str| -> Vec<String> { text.split(',').flat_map(content_words).collect() };
        let (left, right) = (stems(left), stems(right));
        for word in &left {
            pairs.push((word.clone(), right.clone()));
        }
        if both {
            for word in &right {
                pairs.push((word.clone(), left.clone()));
            }
        }
    }
    pairs
});

/// True when a stretch says the opposite of an item.
pub(super) fn says(item: &ItemProfile, place: Stretch, stream: &Stream, profile: &Profile) -> bool {
    let tokens = &stream.tokens[place.start..place.end];
    negation_differs(item, tokens)
        || has_opposite(item, tokens, profile)
        || is_turned_round(item, place, tokens, stream)
}

/// Where the item says "not", only the words it is about count; elsewhere most of the matched weight must be negated.
fn negation_differs(item: &ItemProfile, tokens: &[StreamToken]) -> bool {
    let (mut not_kept, mut not_lost, mut plain_kept, mut plain_lost) = (0.0, 0.0, 0.0, 0.0);
    let mut lost: Vec<usize> = Vec::new();
    for token in tokens {
        for likeness in token.like.iter().filter(|likeness| likeness.share >= 0.7) {
            let Some(word) = item.words.iter().find(|word| word.word == likeness.word) else { continue };
            let sum = match (word.negated, token.negated) {
                (true, true) => &mut not_kept,
                (true, false) => {
                    if likeness.share >= 1.0 && !lost.contains(&word.word) {
                        lost.push(word.word);
                    }
                    &mut not_lost
                }
                (false, false) => &mut plain_kept,
                (false, true) => &mut plain_lost,
            };
            // "Put" in "never put a cap back on" turns nothing round by itself.
            if !(word.negated && word.common) {
                *sum += word.weight * likeness.share;
            }
        }
    }
    if not_kept > 0.0 {
        return not_lost > 2.0 * not_kept;
    }
    // Where the item says more than its "not" and the learner said most of that, one bare word turns nothing round.
    if not_lost > 0.0 || lost.len() >= 2 {
        return lost.len() >= 2 || not_lost > plain_kept / 3.0;
    }
    plain_lost > plain_kept
}

fn has_opposite(item: &ItemProfile, tokens: &[StreamToken], profile: &Profile) -> bool {
    let is_asked = |word: &str| {
        profile.place(word).is_some_and(|place| {
            item.words.iter().any(|known| known.word == place && !known.negated && known.heart)
        })
    };
    let is_in_item = |word: &str| {
        profile
            .place(word)
            .is_some_and(|place| item.words.iter().any(|known| known.word == place && known.heart))
    };
    OPPOSITES.iter().any(|(asked, turned)| {
        is_asked(asked)
            && !tokens.iter().any(|token| token.stem == *asked && !token.negated)
            && tokens
                .iter()
                .any(|token| !token.negated && turned.contains(&token.stem) && !is_in_item(&token.stem))
    })
}

/// "Needle out, then the tourniquet" for "tourniquet off, then needle out".
fn is_turned_round(item: &ItemProfile, stretch: Stretch, tokens: &[StreamToken], stream: &Stream) -> bool {
    let (Some(from), Some(to)) = (tokens.first(), tokens.last()) else { return false };
    let words = stream.text.get(from.start..to.end).unwrap_or("");
    // "Before the needle comes out, the tourniquet" keeps the order.
    let named_before = words.split_whitespace().any(|word| matches!(word, "before" | "after"));
    if named_before || stretch.end - stretch.start > 8 {
        return false;
    }
    let place = |word: usize| {
        tokens.iter().position(|token| {
            token.like.iter().any(|likeness| likeness.word == word && likeness.share >= 0.7)
        })
    };
    item.sequence.windows(2).any(|pair| match (place(pair[0]), place(pair[1])) {
        (Some(first), Some(then)) => then < first,
        _ => false,
    })
}
