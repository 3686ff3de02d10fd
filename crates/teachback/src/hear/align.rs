//! The learner's talk cut into stretches, each given to the item it tells.
//!
//! One pass of dynamic programming over the words (Viterbi, 1967) with one state for each key point and reason and one for talk
//! that belongs to nothing. People tell a job mostly in its order, a reason beside its key point: leaving that order costs,
//! and words can pay for it.

use breakdown::ItemKind;

use super::fit::{Fit, quantity_fit};
use super::profile::{ItemQuantity, Profile};
use super::stream::{Stream, StreamToken};

/// A stretch of the stream that tells one item.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    /// Place of the item in the profile.
    pub(super) item: usize,
    /// First token.
    pub(super) start: usize,
    /// One past the last token.
    pub(super) end: usize,
}

/// What a word costs that the item does not have.
const FOREIGN: f64 = 0.28;
/// The same for a reason: there a learner's own words are freest.
const FOREIGN_IN_REASON: f64 = 0.29;
/// What a question that holds an item's words is worth for the answer.
const ASKED: f64 = 1.6;
/// What is left of it for an item without the kind of number that was asked for.
const ASKED_FOR_NUMBER: f64 = 0.3;
/// What a number of the item's unit is worth that is not the one asked for; more where the trainer asked for such a number.
/// What the right number is worth while the talk is cut; a little less than as evidence, since wrong numbers are often right ones of
/// the neighbour.
const RIGHT_NUMBER: f64 = 1.3;
const OTHER_NUMBER: f64 = 0.44;
const OTHER_COUNT: f64 = 1.0;
const OTHER_NUMBER_ASKED: f64 = 1.0;
/// What it costs to go on to something else within a line, on top of where one goes.
const WITHIN_LINE: f64 = 0.55;
/// What it costs to go on with the same item on a new line.
const STAYS_ON_NEW_LINE: f64 = 0.25;
/// What a word behind a "not" is worth more to an item that says "not" about it.
const BOTH_NOT: f64 = 1.4;
/// What it costs on top to part a number from the word it belongs to, and any number from the words before it.
const PARTS_NUMBER: f64 = 0.5;
const NUMBER_LEADS: f64 = 0.04;
const TO_OWN_REASON: f64 = 0.6;
const TO_NEXT: f64 = 0.24;
const SKIP_ONE: f64 = 0.12;
const MOST_SKIPPED: usize = 6;
const TO_ANYTHING: f64 = 1.0;
/// To the key point just before, which was forgotten or is told the wrong way round.
const TO_PREVIOUS: f64 = 0.9;
/// A reason without its key point before it.
const TO_OTHER_REASON: f64 = 1.0;
const TO_NOTHING: f64 = 0.5;
const FROM_NOTHING: f64 = 1.0;
/// "Because" in front of a reason, or of a key point.
const BECAUSE_REASON: f64 = 0.9;
const BECAUSE_POINT: f64 = 0.5;

/// Cuts the stream into stretches, in order; talk that belongs to nothing is in none.
pub(super) fn stretches(profile: &Profile, stream: &Stream) -> Vec<Stretch> {
    let states: Vec<usize> =
        (0..profile.items.len()).filter(|at| profile.items[*at].kind != ItemKind::Step).collect();
    if states.is_empty() || stream.tokens.is_empty() {
        return Vec::new();
    }
    let path = path(profile, &states, stream);
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut before = usize::MAX;
    for (at, state) in path.into_iter().enumerate() {
        if state < states.len() {
            match stretches.last_mut().filter(|last| before == state && last.end == at) {
                Some(last) => last.end = at + 1,
                None => stretches.push(Stretch { item: states[state], start: at, end: at + 1 }),
            }
        }
        before = state;
    }
    with_their_numbers(profile, stretches, &stream.tokens)
}

/// A number alone tells no item in the middle of a line: it goes with the words beside it.
fn with_their_numbers(profile: &Profile, stretches: Vec<Stretch>, tokens: &[StreamToken]) -> Vec<Stretch> {
    let is_number =
        |stretch: &Stretch| tokens[stretch.start..stretch.end].iter().all(|token| token.quantity.is_some());
    let mut merged: Vec<Stretch> = Vec::new();
    let mut waiting: Option<Stretch> = None;
    for mut stretch in stretches {
        if let Some(number) = waiting.take() {
            let same_line = tokens[number.start].line == tokens[stretch.start].line;
            if number.end == stretch.start && same_line {
                stretch.start = number.start;
            } else {
                merged.push(number);
            }
        }
        if !is_number(&stretch) {
            merged.push(stretch);
            continue;
        }
        let line = tokens[stretch.start].line;
        match merged.last_mut().filter(|last| last.end == stretch.start && tokens[last.end - 1].line == line)
        {
            Some(last) => last.end = stretch.end,
            None => waiting = Some(stretch),
        }
    }
    merged.extend(waiting);
    let mut merged = without_lone_words(profile, merged, tokens);
    at_line_breaks(profile, &mut merged, tokens);
    merged
}

/// A word in the middle of a line that only means or sounds like one of an item's tells nothing alone: it goes with what stands
/// before it.
fn without_lone_words(profile: &Profile, stretches: Vec<Stretch>, tokens: &[StreamToken]) -> Vec<Stretch> {
    let mut kept: Vec<Stretch> = Vec::with_capacity(stretches.len());
    for stretch in stretches {
        let token = &tokens[stretch.start];
        let own = |word: usize| profile.items[stretch.item].words.iter().any(|known| known.word == word);
        let is_lone = stretch.end - stretch.start == 1
            && !token.starts_line
            && token.quantity.is_none()
            && !token.like.iter().any(|likeness| likeness.share >= 1.0 && own(likeness.word));
        match kept.last_mut().filter(|last| is_lone && last.end == stretch.start) {
            Some(last) => last.end = stretch.end,
            None => kept.push(stretch),
        }
    }
    kept
}

/// A number cut off from its stretch by the end of a line goes to the neighbour on its own line, where that asks for a number
/// and has none yet.
fn at_line_breaks(profile: &Profile, stretches: &mut [Stretch], tokens: &[StreamToken]) {
    let wants = |stretch: &Stretch, number: &StreamToken| {
        let item = &profile.items[stretch.item];
        quantity_fit(item, number) != Fit::None
            && !tokens[stretch.start..stretch.end].iter().any(|token| quantity_fit(item, token) != Fit::None)
    };
    let takes = |stretch: &Stretch, number: &StreamToken| {
        number.quantity.is_some() && quantity_fit(&profile.items[stretch.item], number) != Fit::None
    };
    for at in 1..stretches.len() {
        let [left, right] = [stretches[at - 1], stretches[at]];
        if left.end != right.start {
            continue;
        }
        let line = |token: usize| tokens[token].line;
        // A number that its own item cannot use goes to the neighbour that asks for such a number and has none.
        let useless = |stretch: &Stretch, token: usize| {
            tokens[token].quantity.is_some()
                && quantity_fit(&profile.items[stretch.item], &tokens[token]) == Fit::None
        };
        let (last, next) = (left.end - 1, right.start);
        if last > left.start && useless(&left, last) && wants(&right, &tokens[last]) {
            stretches[at - 1].end -= 1;
            stretches[at].start -= 1;
            continue;
        }
        if next + 1 < right.end && useless(&right, next) && wants(&left, &tokens[next]) {
            stretches[at - 1].end += 1;
            stretches[at].start += 1;
            continue;
        }
        // "Take eight mils | each bottle gets ...".
        let leading = (right.start..right.end).take_while(|token| tokens[*token].quantity.is_some()).count();
        let breaks = right.start + leading < right.end && line(right.start + leading) != line(right.start);
        let wanted = leading == 1 && wants(&left, &tokens[right.start]);
        // "Tourniquet for | two minutes, an artery five": the right one has another number, or one behind it.
        let has_other = || {
            tokens[right.start + leading..right.end].iter().any(|token| takes(&right, token))
                || stretches
                    .get(at + 1)
                    .is_some_and(|next| next.start == right.end && takes(&right, &tokens[next.start]))
        };
        let own_line = line(left.end - 1) == line(right.start);
        let is_left = || if own_line { breaks } else { right.start + 1 < right.end && has_other() };
        if wanted && is_left() {
            stretches[at - 1].end += 1;
            stretches[at].start += 1;
            continue;
        }
        // "... any further | four tries and then a colleague".
        let last = left.end - 1;
        let breaks = last > left.start && line(last) != line(last - 1);
        let is_number = tokens[last].quantity.is_some();
        if is_number && breaks && line(right.start) == line(last) && wants(&right, &tokens[last]) {
            stretches[at - 1].end -= 1;
            stretches[at].start -= 1;
        }
    }
}

/// The best state for each token; `states.len()` stands for talk that belongs to nothing.
fn path(profile: &Profile, states: &[usize], stream: &Stream) -> Vec<usize> {
    let n = states.len();
    // Place of each item among the states, and of the key point each state belongs to.
    let points: Vec<usize> = states
        .iter()
        .scan(0, |count, item| {
            *count += usize::from(profile.items[*item].kind == ItemKind::KeyPoint);
            Some(*count - 1)
        })
        .collect();
    let is_reason: Vec<bool> =
        states.iter().map(|item| profile.items[*item].kind == ItemKind::Reason).collect();
    let with_word = words_of_states(profile, states);
    let n_points = points.last().map_or(0, |last| last + 1);
    let onward: Vec<f64> = (0..=MOST_SKIPPED).map(|skipped| TO_NEXT + SKIP_ONE * skipped as f64).collect();
    let (mut best, mut now) = (vec![0.0f64; n + 1], vec![0.0f64; n + 1]);
    // One row for each token: the state each state came from.
    let mut came: Vec<u16> = Vec::with_capacity(stream.tokens.len() * (n + 1));
    // The better state of each key point and its reason, to go on from.
    let mut of_point = vec![(0usize, f64::NEG_INFINITY); n_points];
    // The key points among them from which going on may cost less than coming from the best state of all.
    let mut live: Vec<usize> = Vec::with_capacity(n_points);
    // The state of each key point itself; its reason stands behind it.
    let state_of_point: Vec<usize> = (0..n).filter(|state| !is_reason[*state]).collect();
    let (mut top, mut top_value) = highest(&best);
    let mut worth: Vec<f64> = Vec::with_capacity(n);
    for (at, token) in stream.tokens.iter().enumerate() {
        let parts = match (token.binds, token.quantity.is_some()) {
            (true, _) => PARTS_NUMBER,
            (false, true) => NUMBER_LEADS,
            (false, false) => 0.0,
        };
        let within = if token.starts_line || at == 0 { 0.0 } else { WITHIN_LINE } + parts;
        of_point.fill((0, f64::NEG_INFINITY));
        for (state, point) in points.iter().enumerate() {
            if best[state] >= of_point[*point].1 {
                of_point[*point] = (state, best[state]);
            }
        }
        let least = top_value - (TO_ANYTHING - TO_NEXT) - 1e-9;
        live.clear();
        live.extend((0..n_points).rev().filter(|point| of_point[*point].1 >= least));
        // From the best state of all or from talk that belongs to nothing: the same for every key point, and for every reason.
        let because_of = |reason: bool| match (token.because, reason) {
            (true, true) => -BECAUSE_REASON,
            (true, false) => BECAUSE_POINT,
            (false, true) if token.gives_reason => -BECAUSE_REASON / 2.0,
            _ => 0.0,
        };
        let from_afar = [false, true].map(|reason| {
            let extra = because_of(reason) + if reason { TO_OTHER_REASON } else { 0.0 };
            let from_top = top_value - (TO_ANYTHING + extra) - within;
            let from_nothing = best[n] - (FROM_NOTHING + extra) - within;
            if from_nothing > from_top { (n, from_nothing) } else { (top, from_top) }
        });
        // A new line tells something new more often than not.
        let stays = if token.starts_line { STAYS_ON_NEW_LINE } else { 0.0 };
        let row = came.len();
        came.resize(row + n + 1, 0);
        let (sources, reason_costs) = (&mut came[row..], TO_OWN_REASON + because_of(true));
        for to in 0..n {
            let (mut value, mut source) = (best[to] - stays, to);
            let afar = from_afar[usize::from(is_reason[to])];
            if afar.1 > value {
                (source, value) = afar;
            }
            if is_reason[to] {
                // The key point stands directly before its reason.
                let candidate = best[to - 1] - reason_costs - within;
                if candidate > value {
                    (source, value) = (to - 1, candidate);
                }
            }
            now[to] = value;
            sources[to] = u16::try_from(source).unwrap_or(0);
        }
        let because = because_of(false);
        for point in &live {
            let (state, from) = of_point[*point];
            let source = u16::try_from(state).unwrap_or(0);
            let behind = onward.iter().enumerate().map(|(skipped, cost)| (point + 1 + skipped, *cost));
            let before = point.checked_sub(1).map(|before| (before, TO_PREVIOUS));
            for (to, cost) in behind.chain(before) {
                let Some(to) = state_of_point.get(to).copied() else { continue };
                let candidate = from - (cost + because) - within;
                if candidate > now[to] {
                    (now[to], sources[to]) = (candidate, source);
                }
            }
        }
        let to_nothing = top_value - TO_NOTHING - within;
        let goes = to_nothing > best[n];
        now[n] = if goes { to_nothing } else { best[n] };
        sources[n] = u16::try_from(if goes { top } else { n }).unwrap_or(0);
        emit(profile, states, &with_word, &is_reason, token, &mut worth, &mut now);
        if at == 0 || stream.tokens[at - 1].turn != token.turn {
            asked(profile, states, stream, token.turn, &mut now);
        }
        // Only differences matter; keeping the best at zero keeps the numbers small in an hour of talk.
        let (place, most) = highest(&now);
        now.iter_mut().for_each(|value| *value -= most);
        (top, top_value) = (place, 0.0);
        std::mem::swap(&mut best, &mut now);
    }
    let mut state = top;
    let mut path = vec![0; stream.tokens.len()];
    for (at, from) in came.chunks_exact(n + 1).enumerate().rev() {
        path[at] = state;
        state = usize::from(from[state]);
    }
    path
}

/// The last of the highest values.
fn highest(values: &[f64]) -> (usize, f64) {
    let mut most = (0, f64::NEG_INFINITY);
    for (at, value) in values.iter().enumerate() {
        if *value >= most.1 {
            most = (at, *value);
        }
    }
    most
}

/// For each word of the vocabulary the states whose item has it, with its weight there.
fn words_of_states(profile: &Profile, states: &[usize]) -> Vec<Vec<(usize, f64, bool)>> {
    let n_words =
        profile.items.iter().flat_map(|item| &item.words).map(|word| word.word + 1).max().unwrap_or(0);
    let mut with_word = vec![Vec::new(); n_words];
    for (state, item) in states.iter().enumerate() {
        for word in &profile.items[*item].words {
            with_word[word.word].push((state, word.weight, word.negated));
        }
    }
    with_word
}

/// Adds what a token is worth in each state.
fn emit(
    profile: &Profile,
    states: &[usize],
    with_word: &[Vec<(usize, f64, bool)>],
    is_reason: &[bool],
    token: &StreamToken,
    worth: &mut Vec<f64>,
    values: &mut [f64],
) {
    if token.quantity.is_some() {
        for (state, item) in states.iter().enumerate() {
            let item = &profile.items[*item];
            values[state] += match quantity_fit(item, token) {
                Fit::Hits(closeness) => RIGHT_NUMBER * closeness,
                // "How long" is no question about millilitres.
                Fit::SameUnit if token.asked.is_some() => {
                    let asked =
                        |expected: &ItemQuantity| !expected.bare && Some(expected.stated.unit) == token.asked;
                    if item.quantities.iter().any(asked) { OTHER_NUMBER_ASKED } else { 0.0 }
                }
                // "Ten passes": what is counted tells the item.
                Fit::SameUnit if token.counts_something() => OTHER_COUNT,
                Fit::SameUnit => OTHER_NUMBER,
                Fit::None => -FOREIGN / 2.0,
            };
        }
        return;
    }
    let foreign = |reason: &bool| if *reason { -FOREIGN_IN_REASON } else { -FOREIGN };
    worth.clear();
    worth.extend(is_reason.iter().map(foreign));
    for likeness in &token.like {
        for (state, weight, negated) in with_word.get(likeness.word).into_iter().flatten() {
            let also = if *negated && token.negated { BOTH_NOT } else { 1.0 };
            worth[*state] = f64::max(worth[*state], likeness.share * weight * also);
        }
    }
    for (value, worth) in values.iter_mut().zip(worth.iter()) {
        *value += *worth;
    }
}

/// The words of a question help to tell what its answer is about: "how long does it dry".
fn asked(profile: &Profile, states: &[usize], stream: &Stream, turn: usize, values: &mut [f64]) {
    for question in stream.questions.iter().filter(|question| question.turn == turn) {
        for (state, item) in states.iter().enumerate() {
            let item = &profile.items[*item];
            // "How long" asks for an item that has a time.
            let unit = question.asked_unit;
            let answers =
                unit.is_none() || item.quantities.iter().any(|expected| Some(expected.stated.unit) == unit);
            if item.kind == ItemKind::KeyPoint {
                values[state] += ASKED * question.holds(item) * if answers { 1.0 } else { ASKED_FOR_NUMBER };
            }
        }
    }
}
