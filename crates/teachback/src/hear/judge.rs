//! From the best stretch of words to a proposed mark.

use breakdown::{ItemId, ItemKind};

use super::align::Stretch;
use super::evidence::Evidence;
use super::fit::comparable;
use super::profile::{ItemProfile, ItemQuantity, Profile, QUANTITY_WEIGHT};
use super::stream::{Question, Stream};
use super::{HeardAs, Proposal, Settings, calibration, numbers, opposite};
use crate::mark::Mark;

/// Share of an item's weight that a question must hold to lead to it.
const LEADS_FROM: f64 = 0.2;
/// Least probability at which a reason given with "because" is one of little words, and how many those are.
const VAGUE_FROM: f64 = 0.05;
const VAGUE_WORDS: usize = 2;
/// Least probability that an item was said at all from which its opposite is proposed.
const OPPOSITE_FROM: f64 = 0.6;
/// Share of a step's key points that tells the step without its name.
const STEP_BY_POINTS: f64 = 0.5;

/// What the judge looks at.
pub(super) struct Case<'a> {
    pub(super) profile: &'a Profile,
    pub(super) stream: &'a Stream,
    pub(super) stretches: &'a [Stretch],
    pub(super) evidence: &'a [Evidence],
}

pub(super) fn proposals(case: &Case<'_>, settings: &Settings) -> Vec<Proposal> {
    let led = led(case);
    let mut proposals: Vec<Proposal> =
        (0..case.profile.items.len()).map(|at| propose(case, at, led[at])).collect();
    steps_by_points(&mut proposals);
    for proposal in &mut proposals {
        proposal.listen = proposal.confidence < settings.listen_below;
    }
    proposals
}

impl Proposal {
    /// Nothing was heard of an item.
    fn nothing(item: &ItemProfile, probability: f64) -> Proposal {
        Proposal {
            item: item.id,
            mark: Mark::Missed,
            heard_as: HeardAs::NotHeard,
            at_s: None,
            heard: None,
            asked: None,
            expected_quantity: item.quantities.first().map(|expected| expected.stated.to_string()),
            heard_quantity: None,
            agreement: None,
            said_probability: probability,
            confidence: 1.0 - probability,
            listen: false,
        }
    }
}

/// The trainer's question that led to each item, where the learner only agreed or said it after.
fn led<'a>(case: &Case<'a>) -> Vec<Option<&'a Question>> {
    let mut led = vec![None; case.profile.items.len()];
    for question in case.stream.questions.iter().filter(|question| question.leading || question.only_agreed) {
        let told = |item: &ItemProfile| {
            if item.kind == ItemKind::Step { 0.0 } else { question.holds(item) }
        };
        let most = case.profile.items.iter().map(told).fold(0.0, f64::max);
        for (at, item) in case.profile.items.iter().enumerate() {
            let holds = told(item);
            if holds >= LEADS_FROM && holds >= most * 0.85 {
                led[at] = Some(question);
            }
        }
    }
    led
}

impl Question {
    /// Share of an item's weight that the question holds.
    pub(super) fn holds(&self, item: &ItemProfile) -> f64 {
        let worth = |word: usize| {
            let likenesses = self.words.iter().filter(|likeness| likeness.word == word);
            likenesses.map(|likeness| likeness.share).fold(0.0, f64::max)
        };
        let words: f64 = item.words.iter().map(|word| word.weight * worth(word.word)).sum();
        let agrees = |expected: &ItemQuantity| {
            let heard = self.quantities.iter().filter_map(|found| comparable(expected, found));
            heard.into_iter().any(|heard| expected.stated.agrees(&heard))
        };
        let number = if item.quantities.iter().any(agrees) { QUANTITY_WEIGHT } else { 0.0 };
        if item.full_weight > 0.0 { ((words + number) / item.full_weight).min(1.0) } else { 0.0 }
    }
}

fn propose(case: &Case<'_>, at: usize, led: Option<&Question>) -> Proposal {
    let (item, evidence) = (&case.profile.items[at], &case.evidence[at]);
    if item.kind == ItemKind::Step {
        return Proposal::nothing(item, 0.0);
    }
    let probability = calibration::said(item.kind, &evidence.signs);
    let mut proposal = Proposal::nothing(item, probability);
    let place = evidence.place.filter(|_| probability >= 0.5);
    let Some(place) = place else {
        if let Some(place) = vague_reason(case, at, probability) {
            // "Because of germs": some reason was given, and little of this one.
            (proposal.mark, proposal.heard_as) = (Mark::Partial, HeardAs::InPart);
            proposal.at_s = case.stream.time_of(place.start);
            proposal.heard = Some(words_of(case.stream, place.start, place.end));
            proposal.confidence = calibration::mark_is_right(HeardAs::InPart, 1.0);
        } else if let Some(question) = led {
            mark_led(&mut proposal, question, case.stream);
        } else if let Some(place) = evidence.place {
            // The trainer hears the place that came nearest.
            proposal.at_s = case.stream.time_of(evidence.first);
            proposal.heard = Some(words_of(case.stream, place.start, place.end));
        }
        return proposal;
    };
    proposal.at_s = case.stream.time_of(evidence.first);
    proposal.heard = Some(words_of(case.stream, place.start, place.end));
    let token = &case.stream.tokens[evidence.first];
    // Only what follows directly on the question was prompted by it.
    let question = case.stream.questions.iter().find(|question| {
        question.turn == token.turn && question.asks && question.first_line == Some(token.line)
    });
    (proposal.mark, proposal.heard_as) = match question {
        Some(question) if led.is_some_and(|led| led.turn == question.turn) => (Mark::Led, HeardAs::Led),
        Some(_) => (Mark::Prompted, HeardAs::AfterPrompt),
        None => (Mark::Unprompted, HeardAs::Said),
    };
    proposal.asked = question.map(Question::last_words);
    if item.kind == ItemKind::KeyPoint {
        numbers::compare(&mut proposal, item, at, place, case);
        if proposal.mark != Mark::Wrong
            && probability >= OPPOSITE_FROM
            && opposite::says(item, place, follows_directly(case, place), case.stream, case.profile)
        {
            (proposal.mark, proposal.heard_as) = (Mark::Wrong, HeardAs::Opposite);
        }
    }
    if proposal.mark == Mark::Wrong && item.safety {
        proposal.mark = Mark::Unsafe;
    }
    proposal.confidence = match proposal.heard_as {
        HeardAs::Said => {
            let no_number = proposal.expected_quantity.is_some() && proposal.heard_quantity.is_none();
            calibration::said_is_right(item.kind, &evidence.signs, probability, no_number)
        }
        heard_as => calibration::mark_is_right(heard_as, probability),
    };
    proposal
}

/// True where another item's stretch ends right where this one begins, with a word of its own.
fn follows_directly(case: &Case<'_>, place: Stretch) -> bool {
    let at = case.stretches.partition_point(|stretch| stretch.start < place.start);
    let before = at
        .checked_sub(1)
        .map(|before| case.stretches[before])
        .filter(|before| before.end == place.start && before.end - before.start > 1);
    before.is_some_and(|before| {
        let words = &case.profile.items[before.item].words;
        let own = |word: usize| words.iter().any(|known| known.word == word && !known.common);
        let last = &case.stream.tokens[before.end - 1];
        last.like.iter().any(|likeness| likeness.share >= 0.7 && own(likeness.word))
    })
}

/// The place of a reason that was given right behind its key point with a "because", in one word or two.
fn vague_reason(case: &Case<'_>, at: usize, probability: f64) -> Option<Stretch> {
    let (item, tokens) = (&case.profile.items[at], &case.stream.tokens);
    let place =
        case.evidence[at].place.filter(|_| item.kind == ItemKind::Reason && probability >= VAGUE_FROM)?;
    let own = case.stretches.iter().any(|stretch| stretch.item == at && stretch.start == place.start);
    let breath = tokens[place.start].breath;
    let all_said = place.end - place.start <= VAGUE_WORDS
        && tokens.get(place.end).is_none_or(|token| token.breath != breath);
    // The key point itself was told in the same breath.
    let behind_its_point = place.start.checked_sub(1).is_some_and(|before| {
        let told = case.stretches.iter().any(|stretch| stretch.item + 1 == at && stretch.end == place.start);
        told && tokens[before].breath == breath
    });
    (own && all_said && behind_its_point && tokens[place.start].because).then_some(place)
}

fn mark_led(proposal: &mut Proposal, question: &Question, stream: &Stream) {
    let line = question.first_line.and_then(|line| stream.lines.get(line));
    (proposal.mark, proposal.heard_as) = (Mark::Led, HeardAs::Led);
    proposal.confidence = calibration::mark_is_right(HeardAs::Led, 1.0);
    proposal.at_s = line.and_then(|line| line.start_s);
    proposal.heard = line.map(|line| line.text.clone());
    proposal.asked = Some(question.last_words());
}

/// A step whose key points were told was told, whether or not its name was.
fn steps_by_points(proposals: &mut [Proposal]) {
    let steps: Vec<usize> =
        (0..proposals.len()).filter(|at| proposals[*at].item.kind() == ItemKind::Step).collect();
    for at in steps {
        let ItemId { step, .. } = proposals[at].item;
        let points: Vec<&Proposal> = proposals
            .iter()
            .filter(|proposal| proposal.item.step == step && proposal.item.kind() == ItemKind::KeyPoint)
            .collect();
        let said: Vec<&&Proposal> = points.iter().filter(|proposal| proposal.mark.is_said()).collect();
        let probability = chance_of_enough(&points);
        let (at_s, heard) = said.first().map_or((None, None), |first| (first.at_s, first.heard.clone()));
        let asked = said.first().and_then(|first| first.asked.clone());
        let unprompted =
            said.iter().any(|proposal| !matches!(proposal.heard_as, HeardAs::AfterPrompt | HeardAs::Led));
        let is_said = probability >= 0.5;
        let step = &mut proposals[at];
        step.said_probability = probability;
        step.confidence = if is_said { probability } else { 1.0 - probability };
        if is_said {
            (step.mark, step.heard_as) = if unprompted {
                (Mark::Unprompted, HeardAs::Said)
            } else {
                (Mark::Prompted, HeardAs::AfterPrompt)
            };
            (step.at_s, step.heard) = (at_s, heard);
            step.asked = asked.filter(|_| !unprompted);
        }
    }
}

/// Chance that at least half of some key points were said, each with its own probability and taken as independent.
fn chance_of_enough(points: &[&Proposal]) -> f64 {
    let needed = (STEP_BY_POINTS * points.len() as f64).ceil().max(1.0) as usize;
    let mut chances = vec![1.0];
    for point in points {
        let said = if point.heard_as == HeardAs::Led { 1.0 } else { point.said_probability };
        let mut next = vec![0.0; chances.len() + 1];
        for (n, chance) in chances.iter().enumerate() {
            next[n] += chance * (1.0 - said);
            next[n + 1] += chance * said;
        }
        chances = next;
    }
    chances.iter().skip(needed).sum::<f64>().clamp(0.0, 1.0)
}

fn words_of(stream: &Stream, start: usize, end: usize) -> String {
    let last = &stream.tokens[end - 1];
    let words = stream.text.get(stream.tokens[start].start..last.end).unwrap_or("");
    // Between two lines stands a space, and where the trainer spoke between them, dots.
    words.replace("\n.\n", " … ").replace('\n', " ").trim().to_owned()
}
