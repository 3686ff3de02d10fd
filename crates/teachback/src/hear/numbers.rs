//! The numbers heard near an item's words, held against those the breakdown asks for.

use quantity::{Agreement, Found, Stated, Unit};

use super::HeardAs;
use super::Proposal;
use super::align::Stretch;
use super::fit::{Fit, comparable, quantity_fit};
use super::judge::Case;
use super::lexicon::Likeness;
use super::profile::{ItemProfile, ItemQuantity};
use super::stream::StreamToken;
use crate::mark::Mark;

/// Tokens on either side of a stretch in which its quantity may stand.
const NEAR: usize = 3;
/// Tokens between two stretches of one item that belong together.
const STILL_OF_IT: usize = 12;
/// Tokens on either side in which a number stands that no item can use.
const UNCLAIMED: usize = 8;
/// How far a word directly before a number is from it, as [`by_their_words`] counts.
const DIRECTLY_BEFORE: usize = 2;
/// Probability that an item was said from which its missing number makes the telling one in part.
const SURELY_SAID: f64 = 0.98;
/// Share from which a heard word was surely understood.
const UNDERSTOOD: f64 = 0.7;
/// What a word on another line counts for a number.
const OTHER_LINE: f64 = 0.4;
/// Share of the strongest pull by its words from which a number may be the item's.
const NEAR_ENOUGH: f64 = 0.6;
const NEAR_ENOUGH_IF_RIGHT: f64 = 0.4;

/// Compares the numbers near the words with those of the breakdown. A number goes to an expected one it agrees with;
/// one that agrees with none is another number for the first expected one of its unit that is still open.
pub(super) fn compare(
    proposal: &mut Proposal,
    item: &ItemProfile,
    at: usize,
    place: Stretch,
    case: &Case<'_>,
) {
    let mut open: Vec<&ItemQuantity> = item.quantities.iter().collect();
    if open.is_empty() {
        return;
    }
    let mut near = near(at, place, case);
    near.retain(|heard| open.iter().any(|expected| comparable(expected, heard).is_some()));
    let mut compared: Vec<(Agreement, Stated, &ItemQuantity)> = Vec::new();
    let agrees = |expected: &ItemQuantity, heard: &Found| {
        comparable(expected, heard).is_some_and(|stated| {
            let near_enough = heard.unit.is_some() || expected.bare || hits_an_end(expected, &stated);
            expected.stated.agrees(&stated) && near_enough && (!expected.exact || is_that(expected, &stated))
        })
    };
    // Two or more times of one item ("contact", "dry"): words beside a number say which it is of; without them, as many
    // numbers as the item has go to it in the order they were said.
    if open.len() > 1 && open.iter().all(|expected| expected.stated.unit == Unit::Second && !expected.bare) {
        let pairs = by_their_words(&open, &near, case);
        let in_order = near.len() == open.len();
        if !pairs.is_empty() || in_order {
            let taken = |of: fn(&(usize, usize)) -> usize, at: usize| pairs.iter().any(|pair| of(pair) == at);
            let left_open = (0..open.len()).filter(|at| !taken(|pair| pair.0, *at));
            let left_near = (0..near.len()).filter(|at| !taken(|pair| pair.1, *at));
            let rest: Vec<(usize, usize)> = left_open.zip(left_near).collect();
            let rest = if in_order { rest } else { Vec::new() };
            let mut used: Vec<(usize, usize)> = pairs.iter().copied().chain(rest).collect();
            used.sort_unstable();
            for (expected, heard) in &used {
                let expected = open[*expected];
                let heard = comparable(expected, near[*heard]);
                compared.extend(heard.map(|heard| (agreement(expected, &heard), heard, expected)));
            }
            let mut at = 0;
            open.retain(|_| (!used.iter().any(|pair| pair.0 == at), at += 1).0);
            let mut at = 0;
            near.retain(|_| (!used.iter().any(|pair| pair.1 == at), at += 1).0);
        }
    }
    // The numbers with fewest places to go choose first.
    near.sort_by_key(|heard| open.iter().filter(|expected| agrees(expected, heard)).count());
    near.retain(|heard| match open.iter().position(|expected| agrees(expected, heard)) {
        Some(at) => {
            let expected = open.remove(at);
            compared.extend(comparable(expected, heard).map(|heard| (Agreement::Agrees, heard, expected)));
            false
        }
        None => !item.quantities.iter().any(|expected| agrees(expected, heard)),
    });
    // Numbers with a unit speak first; a bare one counts only where nothing else was said.
    near.sort_by_key(|heard| heard.unit.is_none());
    for heard in near {
        let is_bare = heard.unit.is_none();
        let fits = |expected: &&ItemQuantity| {
            let may_be =
                !is_bare || expected.bare || heard.per.is_some() || heard.low.or(heard.high) > Some(2.0);
            comparable(expected, heard).is_some() && !expected.condition && may_be
        };
        if is_bare && !compared.is_empty() && !open.iter().any(|expected| expected.bare) {
            continue;
        }
        if let Some(at) = open.iter().position(fits) {
            let expected = open.remove(at);
            compared.extend(
                comparable(expected, heard).map(|heard| (agreement(expected, &heard), heard, expected)),
            );
        }
    }
    let unsaid = open.iter().any(|expected| expected.required) && proposal.mark.is_known();
    if unsaid && proposal.said_probability >= SURELY_SAID && no_number_around(item, place, case) {
        (proposal.mark, proposal.heard_as) = (Mark::Partial, HeardAs::InPart);
    }
    let wrong = compared.iter().find(|(agreement, ..)| *agreement != Agreement::Agrees);
    if wrong.is_some() {
        (proposal.mark, proposal.heard_as) = (Mark::Wrong, HeardAs::OtherQuantity);
    }
    // The first number the breakdown states is the one to show, unless another is wrong.
    let first = item
        .quantities
        .iter()
        .find_map(|expected| compared.iter().find(|(_, _, compared)| std::ptr::eq(*compared, expected)));
    if let Some((agreement, heard, expected)) = wrong.or(first) {
        proposal.expected_quantity = Some(expected.stated.to_string());
        proposal.heard_quantity = Some(heard.to_string());
        proposal.agreement = Some(*agreement);
    }
}

/// True where in the breaths in which an item was told every word was understood and nothing stands that could be its number.
fn no_number_around(item: &ItemProfile, place: Stretch, case: &Case<'_>) -> bool {
    let tokens = &case.stream.tokens;
    let breaths = tokens[place.start].breath..=tokens[place.end - 1].breath;
    tokens.iter().filter(|token| breaths.contains(&token.breath)).all(|token| match &token.quantity {
        Some(found) => item.quantities.iter().all(|expected| comparable(expected, found).is_none()),
        // "Oh".
        None => token.stem.len() <= 2 || token.like.iter().any(|likeness| likeness.share >= UNDERSTOOD),
    })
}

/// How a heard number compares, as a listener takes it: "up to ten" for 8 to 10 names one end and turns nothing round.
fn agreement(expected: &ItemQuantity, heard: &Stated) -> Agreement {
    let closed = expected.stated.low.is_some() && expected.stated.high.is_some();
    match expected.stated.compare(heard) {
        Agreement::OtherDirection if closed => Agreement::Agrees,
        Agreement::Agrees if expected.exact && !is_that(expected, heard) => Agreement::OtherNumber,
        agreement => agreement,
    }
}

/// The very number, whatever was said about its direction.
fn is_that(expected: &ItemQuantity, heard: &Stated) -> bool {
    let ends = [expected.stated.low, expected.stated.high];
    [heard.low, heard.high].into_iter().flatten().all(|value| ends.contains(&Some(value)))
}

/// Places of expected and heard numbers that belong together because the word that names the expected one ("dry") stands
/// near the heard one; nearest first, each once.
fn by_their_words(open: &[&ItemQuantity], near: &[&Found], case: &Case<'_>) -> Vec<(usize, usize)> {
    let names = |expected: &ItemQuantity| -> Vec<usize> {
        let words = breakdown::content_words(expected.stated.what.as_deref().unwrap_or(""));
        words.iter().filter_map(|word| case.profile.place(word)).collect()
    };
    let all: Vec<Vec<usize>> = open.iter().map(|expected| names(expected)).collect();
    let mut distances: Vec<(usize, usize, usize)> = Vec::new();
    for (at, own) in all.iter().enumerate() {
        let telling = |word: usize| {
            own.contains(&word)
                && !all.iter().enumerate().any(|(other, names)| other != at && names.contains(&word))
        };
        for (number, heard) in near.iter().enumerate() {
            let tokens = &case.stream.tokens;
            let Some(place) = tokens
                .iter()
                .position(|token| token.quantity.as_ref().is_some_and(|found| found.start == heard.start))
            else {
                continue;
            };
            let from = place.saturating_sub(NEAR);
            let to = (place + NEAR + 1).min(tokens.len());
            let named = (from..to).filter(|token| {
                tokens[*token].like.iter().any(|likeness| likeness.share >= 0.7 && telling(likeness.word))
            });
            // "Dry thirty": of two numbers beside a word, the one behind it is its own; "two days for the clear one" as well.
            let little = |token: usize| matches!(tokens[token].stem.as_str(), "every" | "each");
            let far = |token: usize| {
                let (low, high) = (token.min(place), token.max(place));
                let apart = high - low - (low + 1..high).filter(|between| little(*between)).count();
                let words = case.stream.text.get(heard.end..tokens[token].start).unwrap_or("").trim();
                let is_for = apart == 1 && matches!(words, "for" | "for the" | "for a");
                2 * apart + usize::from(token > place && !is_for)
            };
            if let Some(distance) = named.map(far).min() {
                distances.push((distance, at, number));
            }
        }
    }
    distances.sort_unstable();
    // Two words and two numbers: the pairing that is nearest as a whole.
    if let ([_, _], [_, _]) = (open, near) {
        let far = |at: usize, number: usize| {
            distances
                .iter()
                .find(|(_, one, other)| (*one, *other) == (at, number))
                .map(|(distance, ..)| *distance)
        };
        let whole = |one: Option<usize>, two: Option<usize>| Some(one? + two?);
        let (straight, crossed) = (whole(far(0, 0), far(1, 1)), whole(far(0, 1), far(1, 0)));
        match (straight, crossed) {
            (Some(straight), Some(crossed)) if crossed < straight => return vec![(0, 1), (1, 0)],
            (Some(_), _) => return vec![(0, 0), (1, 1)],
            _ => {}
        }
    }
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    // One number for two times: where it is the very number of the other one, only a word directly before it says otherwise.
    let is_very = |at: usize, number: usize| {
        comparable(open[at], near[number]).is_some_and(|heard| is_that(open[at], &heard))
    };
    for (distance, at, number) in distances {
        let is_others = (0..open.len()).any(|other| other != at && is_very(other, number));
        if near.len() < open.len() && distance > DIRECTLY_BEFORE && is_others && !is_very(at, number) {
            continue;
        }
        if !pairs.iter().any(|pair| pair.0 == at || pair.1 == number) {
            pairs.push((at, number));
        }
    }
    pairs
}

/// A number without a unit is taken for an expected one only where it is one of its ends or lies between them.
fn hits_an_end(expected: &ItemQuantity, heard: &Stated) -> bool {
    let Stated { low, high, .. } = expected.stated;
    let closed = low.is_some() && high.is_some();
    closed || [heard.low, heard.high].into_iter().flatten().any(|value| [low, high].contains(&Some(value)))
}

/// Numbers in the item's own stretches; without any, those a few words around on the same lines that hit no item of
/// their own.
fn near<'a>(at: usize, place: Stretch, case: &Case<'a>) -> Vec<&'a Found> {
    let tokens = &case.stream.tokens;
    let own = case.stretches.iter().filter(|stretch| {
        let gap = stretch.start.saturating_sub(place.end).max(place.start.saturating_sub(stretch.end));
        stretch.start == place.start || (stretch.item == at && gap <= STILL_OF_IT)
    });
    let item = &case.profile.items[at];
    let inside: Vec<(usize, &Found)> = own
        .flat_map(|stretch| {
            let owner = &case.profile.items[stretch.item];
            let hits = move |item: &ItemProfile, token: &StreamToken| {
                matches!(quantity_fit(item, token), Fit::Hits(_))
            };
            let n_hits = tokens[stretch.start..stretch.end].iter().filter(|token| hits(owner, token)).count();
            let taken = move |token: &StreamToken| {
                stretch.item != at && n_hits == 1 && hits(owner, token) && !hits(item, token)
            };
            (stretch.start..stretch.end).filter(move |token| !taken(&tokens[*token]))
        })
        .filter_map(|token| tokens[token].quantity.as_ref().map(|found| (token, found)))
        .collect();
    if !inside.is_empty() {
        let inside = in_its_breaths(item, place, inside, tokens);
        return nearest_its_words(item, place, inside, tokens);
    }
    let beside = beside(at, place, case);
    if beside.is_empty() { unclaimed(at, place, case).into_iter().collect() } else { beside }
}

/// The number nearest an item that asks for one, where no other item can use it and it names its unit.
fn unclaimed<'a>(at: usize, place: Stretch, case: &Case<'a>) -> Option<&'a Found> {
    let (item, tokens) = (&case.profile.items[at], &case.stream.tokens);
    if !item.quantities.iter().any(|expected| expected.required) {
        return None;
    }
    let turn = tokens[place.start].turn;
    let from = place.start.saturating_sub(UNCLAIMED);
    let to = (place.end + UNCLAIMED).min(tokens.len());
    let gap = |token: usize| place.start.saturating_sub(token).max((token + 1).saturating_sub(place.end));
    let free = |token: usize| {
        let owner = case.stretches.iter().find(|stretch| (stretch.start..stretch.end).contains(&token));
        owner.is_none_or(|owner| quantity_fit(&case.profile.items[owner.item], &tokens[token]) == Fit::None)
    };
    let numbers = (from..to).filter(|token| tokens[*token].turn == turn && free(*token));
    let named = numbers.filter_map(|token| {
        let found = tokens[token].quantity.as_ref().filter(|found| found.unit.is_some())?;
        let fits = |expected: &ItemQuantity| {
            expected.required
                && comparable(expected, found).is_some()
                && (found.per.is_none() || found.per == expected.stated.per)
        };
        item.quantities.iter().any(fits).then_some((gap(token), found))
    });
    named.min_by_key(|(gap, _)| *gap).map(|(_, found)| found)
}

/// Numbers a few words around an item's stretch that are no other item's.
fn beside<'a>(at: usize, place: Stretch, case: &Case<'a>) -> Vec<&'a Found> {
    let tokens = &case.stream.tokens;
    let lines = tokens[place.start].line..=tokens[place.end - 1].line;
    let from = place.start.saturating_sub(NEAR);
    let to = (place.end + NEAR).min(tokens.len());
    (from..to)
        // Cues cut sentences, so a number right beside the words counts in the next cue as well.
        .filter(|token| {
            let beside = token + 1 == place.start || *token == place.end;
            lines.contains(&tokens[*token].line)
                || (beside && tokens[*token].turn == tokens[place.start].turn)
        })
        .filter(|token| {
            let owner = case.stretches.iter().find(|stretch| (stretch.start..stretch.end).contains(token));
            let Some(owner) = owner else { return true };
            // A number stays with the item it is right for, unless that has told its number already.
            let hits = |token: &StreamToken| {
                matches!(quantity_fit(&case.profile.items[owner.item], token), Fit::Hits(_))
            };
            let n_hits = tokens[owner.start..owner.end].iter().filter(|token| hits(token)).count();
            // The only number of another item is that item's, right or wrong.
            let wanted =
                |token: &StreamToken| quantity_fit(&case.profile.items[owner.item], token) != Fit::None;
            let n_wanted = tokens[owner.start..owner.end].iter().filter(|token| wanted(token)).count();
            if owner.item != at && n_wanted == 1 && wanted(&tokens[*token]) {
                return false;
            }
            !hits(&tokens[*token])
                || (n_hits > 1
                    && matches!(quantity_fit(&case.profile.items[at], &tokens[*token]), Fit::Hits(_)))
        })
        .filter_map(|token| tokens[token].quantity.as_ref())
        .collect()
}

/// Of the numbers in an item's stretches those said in one breath with the words that tell it most, where they are as many as it
/// asks for: "any syringe, five mils" and on the next line "take ten".
fn in_its_breaths<'a>(
    item: &ItemProfile,
    place: Stretch,
    numbers: Vec<(usize, &'a Found)>,
    tokens: &[StreamToken],
) -> Vec<(usize, &'a Found)> {
    let worth = |token: &StreamToken| {
        let of = |likeness: &Likeness| {
            let word = item.words.iter().find(|word| word.word == likeness.word);
            word.map_or(0.0, |word| word.weight * likeness.share)
        };
        token.like.iter().map(of).fold(0.0, f64::max)
    };
    let told = |breath: usize| -> f64 {
        tokens[place.start..place.end].iter().filter(|token| token.breath == breath).map(worth).sum()
    };
    let Some(most) = tokens[place.start..place.end]
        .iter()
        .map(|token| token.breath)
        .max_by(|one, two| told(*one).total_cmp(&told(*two)).then(two.cmp(one)))
    else {
        return numbers;
    };
    let fits = |found: &Found| item.quantities.iter().any(|expected| comparable(expected, found).is_some());
    let asked = item.quantities.iter().filter(|expected| expected.required || expected.bare).count().max(1);
    let here = numbers.iter().filter(|(token, found)| tokens[*token].breath == most && fits(found)).count();
    if here < asked {
        return numbers;
    }
    numbers.into_iter().filter(|(token, _)| tokens[*token].breath == most).collect()
}

/// Of the numbers in an item's stretches those that stand nearest its words, where it asks for one number only.
fn nearest_its_words<'a>(
    item: &ItemProfile,
    place: Stretch,
    numbers: Vec<(usize, &'a Found)>,
    tokens: &[StreamToken],
) -> Vec<&'a Found> {
    let asks_for_one = item
        .quantities
        .iter()
        .filter(|expected| expected.bare || expected.stated.unit != Unit::Count)
        .count()
        <= 1;
    let fits = |found: &Found| item.quantities.iter().any(|expected| comparable(expected, found).is_some());
    let all = |numbers: Vec<(usize, &'a Found)>| numbers.into_iter().map(|(_, found)| found).collect();
    let n_fitting = numbers.iter().filter(|(_, found)| fits(found)).count();
    if !asks_for_one || n_fitting < 2 {
        return all(numbers);
    }
    let from = numbers.iter().map(|(token, _)| *token).min().unwrap_or(place.start).min(place.start);
    let to = numbers.iter().map(|(token, _)| token + 1).max().unwrap_or(place.end).max(place.end);
    let weight = |token: usize| {
        let worth = |likeness: &Likeness| {
            let word = item.words.iter().find(|word| word.word == likeness.word);
            word.map_or(0.0, |word| word.weight * likeness.share)
        };
        tokens[token].like.iter().map(worth).fold(0.0, f64::max)
    };
    let pull = |number: usize| -> f64 {
        let beside = (from..to).map(|token| {
            let apart = token.abs_diff(number) as f64;
            let line = if tokens[token].line == tokens[number].line { 1.0 } else { OTHER_LINE };
            weight(token) * line / (1.0 + apart)
        });
        beside.sum()
    };
    let pulls: Vec<f64> = numbers.iter().map(|(token, _)| pull(*token)).collect();
    let fitting = numbers.iter().zip(&pulls).filter(|((_, found), _)| fits(found));
    let most = fitting.map(|(_, pull)| *pull).fold(0.0, f64::max);
    // The very number that is asked for need not stand as near.
    let enough = |token: usize| match quantity_fit(item, &tokens[token]) {
        Fit::Hits(closeness) if closeness >= 1.0 => NEAR_ENOUGH_IF_RIGHT,
        _ => NEAR_ENOUGH,
    };
    let near = numbers.into_iter().zip(pulls).filter(|((token, _), pull)| *pull >= most * enough(*token));
    near.map(|((_, found), _)| found).collect()
}
