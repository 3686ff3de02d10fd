//! "Touch it again" for "do not touch it again", "at the desk" for "at the bedside".

use std::sync::LazyLock;

use breakdown::content_words;

use super::align::Stretch;
use super::fit::{Fit, quantity_fit};
use super::lexicon::Likeness;
use super::profile::{ItemProfile, Profile};
use super::stream::{Stream, StreamToken};

/// Words that turn a key point round: what it asks, and what says the opposite.
static OPPOSITES: LazyLock<Vec<(String, Vec<String>)>> = LazyLock::new(|| {
    let mut pairs: Vec<(String, Vec<String>)> = Vec::new();
    for line in entries(include_str!("../../data/opposites.txt")) {
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

/// Share from which a heard word surely is one of the item's.
const SURE_WORD: f64 = 0.7;
/// Most words between two things that are said in an order.
const MOST_BETWEEN: usize = 6;
/// What the right number counts as said plainly, against a word of the item.
const RIGHT_NUMBER_KEPT: f64 = 1.0;

/// A run of words, each as [`plain_words`] writes it.
type Phrase = Vec<String>;

/// Phrases that turn a key point round, little words included.
static PHRASES: LazyLock<Vec<(Phrase, Vec<Phrase>)>> = LazyLock::new(|| {
    let lines = entries(include_str!("../../data/opposite-phrases.txt"));
    let pairs = lines.filter_map(|line| line.split_once('>'));
    pairs.map(|(left, right)| (plain_words(left), right.split(',').map(plain_words).collect())).collect()
});

fn entries(text: &'static str) -> impl Iterator<Item = &'static str> {
    text.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty())
}

/// Words a learner puts anywhere without changing what is said.
const ANYWHERE: &[&str] = &[
    "the", "a", "an", "it", "them", "that", "this", "is", "are", "of", "my", "your", "their", "just", "then",
    "um", "uh", "er",
];

/// The words of a text cut to their stems, with the little words that a phrase may need.
pub(super) fn plain_words(text: &str) -> Vec<String> {
    let words = text.split(|letter: char| !(letter.is_alphanumeric() || matches!(letter, '\'' | '’')));
    let lower = words.filter(|word| !word.is_empty()).map(str::to_lowercase);
    lower
        .filter(|word| !ANYWHERE.contains(&word.as_str()))
        .map(|word| content_words(&word).pop().unwrap_or(word))
        .collect()
}

/// Words of which one that is heard may speak of an item that asks the other.
pub(super) fn asked_by_turned() -> impl Iterator<Item = (&'static str, &'static str)> {
    OPPOSITES
        .iter()
        .flat_map(|(asked, turned)| turned.iter().map(move |turned| (turned.as_str(), asked.as_str())))
}

/// True when a stretch says the opposite of an item.
pub(super) fn says(
    item: &ItemProfile,
    place: Stretch,
    follows_directly: bool,
    stream: &Stream,
    profile: &Profile,
) -> bool {
    let tokens = &stream.tokens[place.start..place.end];
    // "No fanning | tourniquet on": a "not" that another item's words stand behind is that item's.
    let before = stream.tokens[..place.start].last().filter(|_| follows_directly);
    let own_from = before.map_or(0, |token| token.start);
    negation_differs(item, tokens, own_from)
        || has_opposite(item, tokens, own_from, profile)
        || has_opposite_phrase(item, place, stream)
        || is_turned_round(item, place, tokens, stream)
        || other_first(item, tokens, stream, profile)
        || does_what_never(item, tokens, own_from)
        || comes_first(item, tokens, own_from, profile)
        || needs_not(item, tokens, profile)
}

/// "The antibiotic first" where it is asked to draw before it.
fn comes_first(item: &ItemProfile, tokens: &[StreamToken], own_from: usize, profile: &Profile) -> bool {
    let (Some(late), Some(heard)) = (item.not_first, tokens.iter().position(|token| token.stem == "first"))
    else {
        return false;
    };
    let asks_first = item.words.iter().any(|word| profile.place("first") == Some(word.word) && !word.hearted);
    let is = |token: &StreamToken| {
        token.like.iter().any(|likeness| likeness.word == late && likeness.share >= SURE_WORD)
    };
    let first = &tokens[heard];
    let from = heard.saturating_sub(2);
    !asks_first
        && !first.open
        && !is_negated(first, own_from)
        && tokens[from..heard].iter().any(|token| is(token) && token.breath == first.breath && !token.open)
}

/// "No need to clamp", "masks aren't needed", "they need no alcohol".
fn needs_not(item: &ItemProfile, tokens: &[StreamToken], profile: &Profile) -> bool {
    let asked = |token: &StreamToken| {
        let sure = |likeness: &Likeness| likeness.share >= SURE_WORD;
        let word = |likeness: &Likeness| item.words.iter().find(|word| word.word == likeness.word);
        let words = token.like.iter().filter(|likeness| sure(likeness)).filter_map(word);
        words.into_iter().any(|word| !word.negated && !word.common && word.heart)
    };
    let is_about_need =
        profile.place("need").is_some_and(|need| item.words.iter().any(|word| word.word == need));
    let at = tokens.iter().position(|token| token.stem == "need");
    let Some(at) = at.filter(|_| !is_about_need) else { return false };
    let behind = tokens.get(at + 1).filter(|token| token.breath == tokens[at].breath);
    let before =
        at.checked_sub(1).map(|before| &tokens[before]).filter(|token| token.breath == tokens[at].breath);
    if tokens[at].negated {
        let denied = before.is_some_and(|token| asked(token) && (token.negated || token.open));
        denied || behind.is_some_and(|token| asked(token) && token.negated)
    } else {
        behind.is_some_and(|token| asked(token) && token.negated)
    }
}

/// "Give it back" where the item says "never give it back": two words that stand together behind its "not", said together plainly.
fn does_what_never(item: &ItemProfile, tokens: &[StreamToken], own_from: usize) -> bool {
    let is = |token: &StreamToken, word: usize| {
        token.like.iter().any(|likeness| likeness.word == word && likeness.share >= 1.0)
    };
    let plain = |token: &StreamToken| !token.open && !is_negated(token, own_from);
    item.never.iter().any(|(one, two)| {
        let pairs = || tokens.windows(2).filter(|pair| is(&pair[0], *one) && is(&pair[1], *two));
        let all_plain = pairs().all(|pair| pair.iter().all(plain));
        pairs().next().is_some() && all_plain
    })
}

/// True where a "not" that stands in the stretch or directly before it is about a word.
fn is_negated(token: &StreamToken, own_from: usize) -> bool {
    token.negated && token.not_at >= own_from
}

/// Where the item says "not", only the words it is about count; elsewhere most of the matched weight must be negated.
fn negation_differs(item: &ItemProfile, tokens: &[StreamToken], own_from: usize) -> bool {
    let (mut not_kept, mut not_lost, mut plain_kept, mut plain_lost) = (0.0, 0.0, 0.0, 0.0);
    let (mut n_lost, mut key_lost) = (0, false);
    let hits = tokens.iter().any(|token| matches!(quantity_fit(item, token), Fit::Hits(_)));
    if hits {
        plain_kept += RIGHT_NUMBER_KEPT;
    }
    for word in item.words.iter().filter(|word| !word.own_form) {
        // The most that was heard of a word behind a "not", and without one.
        let heard = |negated: bool| {
            let clear = tokens.iter().filter(|token| {
                // "No small syringe": it is about the size.
                let of_another = token.described && !word.negated && is_negated(token, own_from);
                !token.open && !of_another && is_negated(token, own_from) == negated
            });
            let of_word = clear.flat_map(|token| &token.like);
            let shares = of_word.filter(|likeness| likeness.word == word.word).map(|likeness| likeness.share);
            shares.fold(0.0, f64::max)
        };
        let (behind_not, plain) = (heard(true), heard(false));
        if behind_not.max(plain) < SURE_WORD {
            continue;
        }
        match (word.negated, behind_not >= SURE_WORD, plain >= SURE_WORD) {
            // "Put" in "never put a cap back on" turns nothing round by itself.
            (true, ..) if word.common => n_lost += usize::from(behind_not < SURE_WORD && plain >= 1.0),
            (true, true, _) => not_kept += word.weight * behind_not,
            (true, false, _) => {
                not_lost += word.weight * plain;
                n_lost += usize::from(plain >= 1.0);
                key_lost |= word.key;
            }
            // "In without suction, suck coming out": said both ways, nothing is lost.
            (false, _, true) => plain_kept += word.weight * plain,
            (false, ..) => plain_lost += word.weight * behind_not,
        }
    }
    if not_kept > 0.0 {
        return key_lost && not_lost > 2.0 * not_kept;
    }
    // Where the item says more than its "not" and the learner said most of that, one bare word turns nothing round; nor do words
    // around what must not be done: "hands off the clean spot".
    if not_lost > 0.0 {
        return key_lost && (n_lost >= 2 || not_lost > plain_kept / 3.0);
    }
    plain_lost > plain_kept
}

fn has_opposite(item: &ItemProfile, tokens: &[StreamToken], own_from: usize, profile: &Profile) -> bool {
    let breaths = breaths(item, tokens);
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
            && !tokens.iter().any(|token| token.stem == *asked && !is_negated(token, own_from))
            && tokens.iter().any(|token| {
                !is_negated(token, own_from)
                    && !token.open
                    && breaths.contains(&token.breath)
                    && turned.contains(&token.stem)
                    && !is_in_item(&token.stem)
            })
    })
}

/// The breaths in which a word of the item was heard: what was said in another one turns it round no more.
fn breaths(item: &ItemProfile, tokens: &[StreamToken]) -> Vec<usize> {
    let sure = |likeness: &Likeness| {
        likeness.share >= SURE_WORD && item.words.iter().any(|word| word.word == likeness.word)
    };
    let held = tokens.iter().filter(|token| token.like.iter().any(sure) || token.quantity.is_some());
    held.map(|token| token.breath).collect()
}

/// "Anaerobic before aerobic", "the anaerobic and then the aerobic" where the aerobic one is asked first.
fn other_first(item: &ItemProfile, tokens: &[StreamToken], stream: &Stream, profile: &Profile) -> bool {
    let place = |word: &str| {
        let token = tokens.iter().find(|token| token.stem == word && !token.negated && !token.open)?;
        Some((token.start, token.end))
    };
    let asks_first = item.words.iter().any(|word| profile.place("first") == Some(word.word));
    let is_asked = |word: &str| {
        profile
            .place(word)
            .is_some_and(|place| item.words.iter().any(|known| known.word == place && known.hearted))
    };
    asks_first
        && OPPOSITES.iter().filter(|(asked, _)| is_asked(asked)).any(|(asked, turned)| {
            let (Some(asked), Some(other)) = (place(asked), turned.iter().find_map(|word| place(word)))
            else {
                return false;
            };
            let (earlier, later) = if asked < other { (asked, other) } else { (other, asked) };
            let between = stream.text.get(earlier.1..later.0).unwrap_or("");
            let has = |word: &str| between.split_whitespace().any(|known| known == word);
            if between.split_whitespace().count() > MOST_BETWEEN || between.contains('\n') {
                return false;
            }
            if has("after") { asked < other } else { other < asked && (has("before") || has("then")) }
        })
}

/// "Printed side down", "leave the clamp open": runs of words that begin in the stretch; they may end behind it on its last line.
fn has_opposite_phrase(item: &ItemProfile, place: Stretch, stream: &Stream) -> bool {
    if item.turned_by.is_empty() {
        return false;
    }
    let (from, to) = (stream.tokens[place.start].start, stream.tokens[place.end - 1].end);
    let own = stream.text.get(from..to).unwrap_or("");
    let behind = stream.text.get(to..).and_then(|rest| rest.split('\n').next()).unwrap_or("");
    // Little words before the first that carries meaning belong to it: "not".
    let before = stream.text.get(..from).and_then(|rest| rest.rsplit('\n').next()).unwrap_or("");
    let (own, mut said) = (plain_words(own), plain_words(before));
    let starts = said.len();
    said.extend(own);
    let ends = said.len();
    said.extend(plain_words(behind));
    let tokens = &stream.tokens[place.start..place.end];
    let is_said = |phrase: &Phrase| {
        // "Fanning is out": neither said nor denied.
        if let [word] = phrase.as_slice()
            && tokens.iter().any(|token| token.stem == *word && (token.open || token.negated))
        {
            return false;
        }
        let heard = said.windows(phrase.len()).enumerate().take(ends).skip(starts.saturating_sub(2));
        heard.into_iter().any(|(at, words)| {
            let negated = said[at.saturating_sub(2)..at].iter().any(|word| word == "not");
            words == phrase.as_slice() && !negated && at + phrase.len() > starts
        })
    };
    let in_own = said.get(starts..ends).unwrap_or_default();
    // "Toward the exit, a pull away from it drags it out": what is asked was said as well.
    item.turned_by.iter().any(|(asked, phrase)| {
        let holds_it = asked.iter().all(|word| phrase.contains(word));
        is_said(phrase) && (holds_it || !in_order_within(in_own, asked))
    })
}

/// The phrases that turn an item round which has these words, each with what is asked.
pub(super) fn turned_by(text: &str) -> Vec<(Phrase, Phrase)> {
    let words = plain_words(text);
    let has = |phrase: &Phrase| in_order_within(&words, phrase);
    let mut all: Vec<(Phrase, Phrase)> = Vec::new();
    for (asked, turned) in PHRASES.iter().filter(|(asked, _)| has(asked)) {
        for phrase in turned {
            // What the item itself says turns nothing round.
            let own = words.windows(phrase.len()).any(|said| said == phrase.as_slice());
            if !own && !all.iter().any(|(_, known)| known == phrase) {
                all.push((asked.clone(), phrase.clone()));
            }
        }
    }
    all
}

/// True where the words of a phrase stand in order, at most two others between them.
fn in_order_within(words: &[String], phrase: &[String]) -> bool {
    (0..words.len()).any(|start| {
        let mut at = start;
        phrase.iter().enumerate().all(|(number, word)| {
            let reach = if number == 0 { 1 } else { 3 };
            let found = words[at..].iter().take(reach).position(|known| known == word);
            found.is_some_and(|found| {
                at += found + 1;
                true
            })
        })
    })
}

/// "Needle out, then the tourniquet" for "tourniquet off, then needle out".
fn is_turned_round(item: &ItemProfile, stretch: Stretch, tokens: &[StreamToken], stream: &Stream) -> bool {
    let (Some(from), Some(to)) = (tokens.first(), tokens.last()) else { return false };
    let words = stream.text.get(from.start..to.end).unwrap_or("");
    // "Before the needle comes out, the tourniquet" keeps the order.
    // "And after that" is "then".
    let words = words.replace("after that", "then");
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
