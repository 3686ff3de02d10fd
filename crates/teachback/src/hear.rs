//! A transcript held against a breakdown: a draft of marks, with the words behind each.
//!
//! The learner's words are held against the words of the items: forms of one word, the unit's own synonyms, a list of
//! words that mean much the same in the trade, and words that sound alike. One pass of dynamic programming cuts the talk
//! into stretches, each given to the item it tells, since people tell a job mostly in its order. Numbers are compared with
//! their units; negations and a list of opposites tell what was turned round. What speaks for an item becomes a
//! probability by a logistic model fitted on the tuning part of the labelled set (`labelled/README.md`).
//!
//! It hears that something was said, not what it means. The trainer confirms or changes every mark.

mod align;
mod calibration;
mod evidence;
mod fit;
mod judge;
mod lexicon;
mod numbers;
mod opposite;
mod pace;
mod profile;
mod same_job;
mod sound;
mod speakers;
mod stems;
mod stream;

use breakdown::{Breakdown, ItemId, ItemKind};
use quantity::Agreement;

use crate::mark::Mark;
use crate::outcome::OrderError;
use crate::transcript::Transcript;
use evidence::Evidence;
pub use evidence::N_SIGNS;
pub use pace::{Pause, StepPace};
use profile::Profile;
use stream::Stream;

/// Thresholds of the reader.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Below this confidence the trainer is asked to listen; 0 to 1.
    pub listen_below: f64,
    /// Shortest silence of the learner that counts as a long pause, in seconds.
    pub long_pause_s: f64,
}

/// Seventeen of twenty, and three seconds (common practice, no source).
impl Default for Settings {
    fn default() -> Self {
        Settings { listen_below: 0.85, long_pause_s: 3.0 }
    }
}

/// What was heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Hearing {
    /// One proposal for every item of the breakdown, in reading order.
    pub proposals: Vec<Proposal>,
    /// How many important steps the learner said there are.
    pub steps_named: Option<u32>,
    /// Binding orders that seem turned round.
    pub order_errors: Vec<OrderError>,
    /// Lines of the learner that belong to no item.
    pub unmatched: Vec<Unmatched>,
    /// Pace and long pauses of each step that was heard, where the transcript has times.
    pub pace: Vec<StepPace>,
    /// False when too little of this job was heard.
    pub same_job: bool,
    /// Why it counts as this job or not.
    pub same_job_because: String,
}

/// A proposed mark. The trainer confirms or changes it with the words in view.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// Which item.
    pub item: ItemId,
    /// Proposed mark.
    pub mark: Mark,
    /// What the mark rests on.
    pub heard_as: HeardAs,
    /// Seconds from the start of the recording, where known.
    pub at_s: Option<f64>,
    /// Words the proposal rests on; for an item that was not heard, those that came nearest.
    pub heard: Option<String>,
    /// What the trainer asked just before, for an item that was prompted or led: its last words where it was long.
    pub asked: Option<String>,
    /// Quantity the breakdown expects, in canonical words.
    pub expected_quantity: Option<String>,
    /// Quantity that was heard, in canonical words.
    pub heard_quantity: Option<String>,
    /// How the two compare.
    pub agreement: Option<Agreement>,
    /// Probability that the item was said at all, right or wrong; 0 to 1.
    pub said_probability: f64,
    /// Probability that the proposed mark is the one a trainer gives; 0 to 1. Fitted on the tuning part of the labelled set.
    pub confidence: f64,
    /// The confidence is low: the trainer should listen here before trusting the proposal.
    pub listen: bool,
}

/// What a proposal rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum HeardAs {
    /// Said without help.
    Said,
    /// Said right after a neutral question.
    AfterPrompt,
    /// The question just before held the answer.
    Led,
    /// Its number was not said, or of its reason a word or two.
    InPart,
    /// Another quantity was said.
    OtherQuantity,
    /// The opposite was said.
    Opposite,
    /// Not heard.
    NotHeard,
}

impl HeardAs {
    /// In words a trainer reads.
    pub fn words(self) -> &'static str {
        match self {
            HeardAs::Said => "said",
            HeardAs::AfterPrompt => "said after a neutral prompt",
            HeardAs::Led => "led",
            HeardAs::InPart => "said in part",
            HeardAs::OtherQuantity => "said with another quantity",
            HeardAs::Opposite => "said the opposite",
            HeardAs::NotHeard => "not heard",
        }
    }
}

/// Talk that belongs to no item.
#[derive(Debug, Clone, PartialEq)]
pub struct Unmatched {
    /// Seconds from the start of the recording, where known.
    pub at_s: Option<f64>,
    /// What was said.
    pub text: String,
}

/// Holds a transcript against a breakdown. Never fails: silence gives proposals that nothing was heard.
pub fn hear(breakdown: &Breakdown, transcript: &Transcript, settings: &Settings) -> Hearing {
    let profile = Profile::of(breakdown);
    let stream = Stream::of(transcript, &profile);
    let stretches = align::stretches(&profile, &stream);
    let evidence = evidence::evidence(&profile, &stream, &stretches);
    let case = judge::Case { profile: &profile, stream: &stream, stretches: &stretches, evidence: &evidence };
    let proposals = judge::proposals(&case, settings);
    let order_errors = order_errors(breakdown, &profile, &evidence, &proposals);
    let (same_job, same_job_because) = same_job::judge(&case, &proposals);
    Hearing {
        steps_named: stream.steps_named(),
        unmatched: unmatched(&case, &proposals),
        pace: pace::of_steps(&case, &proposals, settings.long_pause_s),
        proposals,
        order_errors,
        same_job,
        same_job_because,
    }
}

/// The signs that the probability of each key point and reason is made of, in the order of the fitted weights: for
/// fitting them anew on a labelled set. Steps have none of their own.
pub fn signs(breakdown: &Breakdown, transcript: &Transcript) -> Vec<(ItemId, [f64; N_SIGNS])> {
    let profile = Profile::of(breakdown);
    let stream = Stream::of(transcript, &profile);
    let stretches = align::stretches(&profile, &stream);
    let evidence = evidence::evidence(&profile, &stream, &stretches);
    let items = profile.items.iter().zip(&evidence);
    items
        .filter(|(item, _)| item.kind != ItemKind::Step)
        .map(|(item, evidence)| (item.id, evidence.signs))
        .collect()
}

fn order_errors(
    breakdown: &Breakdown,
    profile: &Profile,
    evidence: &[Evidence],
    proposals: &[Proposal],
) -> Vec<OrderError> {
    let place = |label: &str| {
        let at = profile.labelled(label)?;
        let proposal = &proposals[at];
        let said = proposal.mark.is_said() && proposal.heard_as != HeardAs::Led;
        said.then_some((proposal.item, evidence[at].first))
    };
    let pairs = breakdown.orders.iter().filter_map(|pair| {
        let ((first, first_at), (then, then_at)) = (place(&pair.first)?, place(&pair.then)?);
        (then_at < first_at).then_some(OrderError { first, then })
    });
    pairs.collect()
}

/// Lines of the learner in which nothing that was said lies.
fn unmatched(case: &judge::Case<'_>, proposals: &[Proposal]) -> Vec<Unmatched> {
    let mut used = vec![false; case.stream.lines.len()];
    for (evidence, proposal) in case.evidence.iter().zip(proposals) {
        let Some(place) = evidence.place.filter(|_| proposal.mark.is_said()) else { continue };
        for token in &case.stream.tokens[place.start..place.end] {
            used[token.line] = true;
        }
    }
    let lines = case.stream.lines.iter().zip(used);
    lines
        .filter(|(line, used)| !used && line.has_content)
        .map(|(line, _)| Unmatched { at_s: line.start_s, text: line.text.clone() })
        .collect()
}
