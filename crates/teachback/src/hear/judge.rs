//! From the best stretch of words to a proposed mark.

use breakdown::{ItemId, ItemKind};
use quantity::{Agreement, Found, Stated};

use super::matching::{Match, recall};
use super::profile::{ItemProfile, ItemQuantity, Profile};
use super::stream::{Question, Stream};
use super::{Proposal, Settings};
use crate::mark::Mark;

/// Words on either side of a stretch in which its quantity may stand.
const NEAR: usize = 4;
/// Words between a key point and its reason.
const REASON_WITHIN: usize = 40;
/// Share of a step's key points that tells the step without its name.
const STEP_BY_POINTS: f64 = 0.5;

pub(super) fn proposals(
    profile: &Profile,
    stream: &Stream,
    matches: &[Option<Match>],
    settings: &Settings,
) -> Vec<Proposal> {
    let numbers = Numbers::of(profile, stream, matches, settings);
    let mut proposals: Vec<Proposal> = profile
        .items
        .iter()
        .zip(matches)
        .map(|(item, found)| match item.kind {
            ItemKind::Reason => Proposal::nothing(item),
            _ => propose(item, *found, stream, &numbers, settings),
        })
        .collect();
    // The reason follows its key point in reading order, so there is always an item before it.
    for (at, item) in profile.items.iter().enumerate().skip(1) {
        if item.kind == ItemKind::Reason {
            proposals[at] = reason(item, at, matches, stream, settings);
        }
    }
    steps_by_points(&mut proposals);
    proposals
}

impl Proposal {
    /// Nothing was heard of an item.
    fn nothing(item: &ItemProfile) -> Proposal {
        Proposal {
            item: item.id,
            mark: Mark::Missed,
            at_s: None,
            heard: None,
            expected_quantity: item.quantities.first().map(|expected| expected.stated.to_string()),
            heard_quantity: None,
            agreement: None,
            confidence: 1.0,
            listen: false,
        }
    }
}

fn propose(
    item: &ItemProfile,
    found: Option<Match>,
    stream: &Stream,
    numbers: &Numbers,
    settings: &Settings,
) -> Proposal {
    let mut proposal = Proposal::nothing(item);
    let leading = stream.questions.iter().find(|question| leads_to(question, item, settings));
    let Some(found) = found else {
        if let Some(question) = leading.filter(|question| question.only_agreed) {
            led(&mut proposal, question, stream);
        }
        return proposal;
    };
    proposal.at_s = stream.time_of(found.first_evidence);
    proposal.heard = Some(words_of(stream, found.start, found.end));
    if found.score < settings.said_from {
        // Something like it was said: the trainer listens, and until then it counts as not heard.
        if let Some(question) = leading.filter(|question| question.only_agreed) {
            led(&mut proposal, question, stream);
        } else {
            proposal.listen = true;
            proposal.confidence = 1.0 - found.score / settings.said_from;
        }
        return proposal;
    }
    proposal.confidence = found.score.min(1.0);
    let turn = stream.tokens[found.start].turn;
    let in_answer = stream.questions.iter().find(|question| question.turn == turn).filter(|_| {
        // Only what follows directly on the question was prompted by it.
        let first_line = stream.tokens.iter().find(|token| token.turn == turn).map(|token| token.line);
        first_line == Some(stream.tokens[found.first_evidence].line)
    });
    proposal.mark = match in_answer {
        Some(question) if leads_to(question, item, settings) => Mark::Led,
        Some(_) => Mark::Prompted,
        None => Mark::Unprompted,
    };
    quantities(&mut proposal, item, found, stream, numbers);
    if says_the_opposite(item, found, stream) {
        proposal.mark = Mark::Wrong;
        proposal.listen = true;
        proposal.confidence *= 0.5;
    }
    if proposal.mark == Mark::Wrong && item.safety {
        proposal.mark = Mark::Unsafe;
    }
    proposal
}

fn led(proposal: &mut Proposal, question: &Question, stream: &Stream) {
    let answer = stream.tokens.iter().position(|token| token.turn == question.turn);
    proposal.mark = Mark::Led;
    proposal.confidence = 0.6;
    proposal.at_s = answer.and_then(|token| stream.time_of(token));
    proposal.heard = answer.map(|token| stream.lines[stream.tokens[token].line].text.clone());
}

/// A question that itself tells the item leads to it.
fn leads_to(question: &Question, item: &ItemProfile, settings: &Settings) -> bool {
    recall(item, &question.words) >= settings.said_from
}

/// Compares the numbers near the words with those of the breakdown. A number goes to an expected one it agrees with;
/// one that agrees with none is another number for the first expected one of its unit that is still open.
fn quantities(proposal: &mut Proposal, item: &ItemProfile, found: Match, stream: &Stream, numbers: &Numbers) {
    let mut open: Vec<&ItemQuantity> = item.quantities.iter().collect();
    let mut near: Vec<&Found> = near(found, stream);
    let mut compared: Vec<(Agreement, Stated, &Stated)> = Vec::new();
    let agrees = |expected: &ItemQuantity, heard: &Found| {
        comparable(&expected.stated, heard).is_some_and(|heard| expected.stated.agrees(&heard))
    };
    // The numbers with fewest places to go choose first.
    near.sort_by_key(|heard| open.iter().filter(|expected| agrees(expected, heard)).count());
    near.retain(|heard| match open.iter().position(|expected| agrees(expected, heard)) {
        Some(at) => {
            let expected = &open.remove(at).stated;
            compared.extend(comparable(expected, heard).map(|heard| (Agreement::Agrees, heard, expected)));
            false
        }
        // A number that is right for another item told here is not a wrong one of this item.
        None => {
            !item.quantities.iter().any(|expected| agrees(expected, heard))
                && !numbers.right_for_another(heard, item)
        }
    });
    for heard in near {
        let at = open.iter().position(|expected| comparable(&expected.stated, heard).is_some());
        if let Some(at) = at {
            let expected = &open.remove(at).stated;
            compared
                .extend(comparable(expected, heard).map(|heard| (expected.compare(&heard), heard, expected)));
        }
    }
    if open.iter().any(|expected| expected.required) && proposal.mark.is_known() {
        proposal.mark = Mark::Partial;
    }
    let wrong = compared.iter().find(|(agreement, ..)| *agreement != Agreement::Agrees);
    if wrong.is_some() {
        proposal.mark = Mark::Wrong;
    }
    // The first number the breakdown states is the one to show, unless another is wrong.
    let first = item.quantities.iter().find_map(|expected| {
        compared.iter().find(|(_, _, compared)| std::ptr::eq(*compared, &expected.stated))
    });
    if let Some((agreement, heard, expected)) = wrong.or(first) {
        proposal.expected_quantity = Some(expected.to_string());
        proposal.heard_quantity = Some(heard.to_string());
        proposal.agreement = Some(*agreement);
    }
}

/// Numbers that are right for some item in whose stretch they stand.
#[derive(Default)]
struct Numbers {
    /// First byte of the number in the stream, and the item it is right for.
    right: Vec<(usize, ItemId)>,
}

impl Numbers {
    fn of(profile: &Profile, stream: &Stream, matches: &[Option<Match>], settings: &Settings) -> Numbers {
        let mut right = Vec::new();
        for (item, found) in profile.items.iter().zip(matches) {
            let Some(found) = found.filter(|found| found.score >= settings.said_from) else { continue };
            for heard in near(found, stream) {
                let agrees = |expected: &ItemQuantity| {
                    comparable(&expected.stated, heard).is_some_and(|heard| expected.stated.agrees(&heard))
                };
                if item.quantities.iter().any(agrees) {
                    right.push((heard.start, item.id));
                }
            }
        }
        Numbers { right }
    }

    fn right_for_another(&self, heard: &Found, item: &ItemProfile) -> bool {
        self.right.iter().any(|(start, owner)| *start == heard.start && *owner != item.id)
    }
}

/// Numbers within the stretch; without any, one that follows at once on the next line; without that, those a few
/// words around it on its own lines.
fn near(found: Match, stream: &Stream) -> Vec<&Found> {
    let lines = stream.tokens[found.start].line..=stream.tokens[found.end - 1].line;
    let turn = stream.tokens[found.start].turn;
    let on_its_lines = |heard: &Found| lines.contains(&stream.line_at(heard.start));
    let of_turn = |before: usize| {
        let follows = stream.tokens.get(before).is_some_and(|token| token.turn == turn);
        // A number at the very end of a turn stands before the next turn's first word.
        follows || (before > 0 && stream.tokens[before - 1].turn == turn)
    };
    let choose = |suits: &dyn Fn(&Found, usize) -> bool| -> Vec<&Found> {
        let suiting =
            stream.quantities.iter().filter(|(heard, before)| of_turn(*before) && suits(heard, *before));
        suiting.map(|(heard, _)| heard).collect()
    };
    let inside = |heard: &Found, before: usize| {
        let at_an_edge = before == found.start || before == found.end;
        (found.start..=found.end).contains(&before) && (!at_an_edge || on_its_lines(heard))
    };
    let follows =
        |heard: &Found, before: usize| before == found.end && stream.line_at(heard.start) == lines.end() + 1;
    let around = |heard: &Found, before: usize| {
        // A bare number far from the words may count anything.
        heard.unit.is_some()
            && on_its_lines(heard)
            && before + NEAR >= found.start
            && before <= found.end + NEAR
    };
    let chosen = choose(&inside);
    let chosen = if chosen.is_empty() { choose(&follows) } else { chosen };
    if chosen.is_empty() { choose(&around) } else { chosen }
}

/// A heard number in the unit that is expected, where it can be one.
fn comparable(expected: &Stated, heard: &Found) -> Option<Stated> {
    let same_unit = heard.unit.is_none_or(|unit| unit == expected.unit);
    let same_thing = heard.counted.is_none() || heard.counted == expected.what.as_deref();
    (same_unit && same_thing).then(|| heard.stated(expected.unit).ok()).flatten()
}

/// "Touch it again" for "do not touch it again", and the other way round. Where the item says "not", only the words
/// it is about count; elsewhere most of the matched weight must be negated.
fn says_the_opposite(item: &ItemProfile, found: Match, stream: &Stream) -> bool {
    let (mut not_kept, mut not_lost, mut plain_kept, mut plain_lost) = (0.0, 0.0, 0.0, 0.0);
    for token in &stream.tokens[found.start..found.end] {
        let Some(word) = item.words.iter().find(|word| Some(word.word) == token.word) else { continue };
        let sum = match (word.negated, token.negated) {
            (true, true) => &mut not_kept,
            (true, false) => &mut not_lost,
            (false, false) => &mut plain_kept,
            (false, true) => &mut plain_lost,
        };
        *sum += word.weight;
    }
    if not_kept + not_lost > 0.0 { not_lost > not_kept } else { plain_lost > plain_kept }
}

/// A reason counts when it is told near its key point, or after "because".
fn reason(
    item: &ItemProfile,
    at: usize,
    matches: &[Option<Match>],
    stream: &Stream,
    settings: &Settings,
) -> Proposal {
    let (found, point) = (matches[at], matches[at - 1]);
    let mut proposal = Proposal::nothing(item);
    let near_point = |start: usize| {
        point.is_some_and(|point| start + REASON_WITHIN >= point.start && start <= point.end + REASON_WITHIN)
    };
    if let Some(found) = found {
        let because = stream.tokens[found.start..found.end].iter().any(|token| token.gives_reason);
        let placed = near_point(found.start) || (because && point.is_none());
        if placed && found.score >= settings.said_from {
            let mut proposal = propose(item, Some(found), stream, &Numbers::default(), settings);
            proposal.listen |= !because;
            return proposal;
        }
    }
    // "because of germs": some reason was given, but not enough of this one.
    let Some(point) = point.filter(|point| point.score >= settings.said_from) else { return proposal };
    let last = &stream.tokens[point.end - 1];
    // What tells another item is no reason of this one.
    let of_another = |token: usize| {
        let others = matches.iter().enumerate().filter(|(other, _)| *other != at && *other != at - 1);
        others
            .filter_map(|(_, other)| *other)
            .any(|other| other.score >= settings.said_from && (other.start..other.end).contains(&token))
    };
    let given = (point.end..(point.end + NEAR).min(stream.tokens.len())).find(|token| {
        let word = &stream.tokens[*token];
        word.gives_reason && word.turn == last.turn && word.line <= last.line + 1 && !of_another(*token)
    });
    if let Some(at) = given {
        let line = stream.tokens[at].line;
        proposal.mark = Mark::Partial;
        proposal.at_s = stream.time_of(at);
        proposal.heard = Some(stream.lines[line].text.clone());
        proposal.confidence = 0.3;
        proposal.listen = true;
    }
    proposal
}

/// A step whose key points were told was told, whether or not its name was.
fn steps_by_points(proposals: &mut [Proposal]) {
    let steps: Vec<usize> =
        (0..proposals.len()).filter(|at| proposals[*at].item.kind() == ItemKind::Step).collect();
    for at in steps {
        if proposals[at].mark != Mark::Missed {
            continue;
        }
        let step = proposals[at].item.step;
        let points: Vec<&Proposal> = proposals
            .iter()
            .filter(|proposal| proposal.item.step == step && proposal.item.kind() == ItemKind::KeyPoint)
            .collect();
        let said: Vec<&&Proposal> =
            points.iter().filter(|proposal| proposal.mark.is_said() && !proposal.listen).collect();
        if said.is_empty() || (said.len() as f64) < STEP_BY_POINTS * points.len() as f64 {
            continue;
        }
        let mark = if said.iter().any(|proposal| proposal.mark == Mark::Unprompted) {
            Mark::Unprompted
        } else {
            Mark::Prompted
        };
        let (at_s, heard) = (said[0].at_s, said[0].heard.clone());
        let step = &mut proposals[at];
        (step.mark, step.at_s, step.heard, step.confidence, step.listen) = (mark, at_s, heard, 0.5, false);
    }
}

fn words_of(stream: &Stream, start: usize, end: usize) -> String {
    let last = &stream.tokens[end - 1];
    stream.text.get(stream.tokens[start].start..last.end).unwrap_or("").trim().to_owned()
}
