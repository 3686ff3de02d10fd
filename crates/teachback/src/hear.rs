//! A transcript held against a breakdown: a draft of marks, with the words behind each.
//!
//! This is word matching with the unit's own synonyms, near spellings, numbers and negations, and plain thresholds.
//! It hears that something was said, not what it means: a false statement in new words ("label them at the desk")
//! goes unnoticed. Its confidence is an order, not a probability; it has not been calibrated. The trainer confirms or
//! changes every mark.

mod judge;
mod matching;
mod profile;
mod stream;

use breakdown::{Breakdown, ItemId, ItemKind};
use quantity::Agreement;

use crate::mark::Mark;
use crate::outcome::OrderError;
use crate::transcript::Transcript;
use matching::Match;
use profile::Profile;
use stream::Stream;

/// Thresholds, each 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// From here on an item counts as said.
    pub said_from: f64,
    /// From here up to `said_from` the words may have been said: the trainer is asked to listen.
    pub listen_from: f64,
    /// Least share of the breakdown's items that must be heard for the transcript to be of this job.
    pub same_job_from: f64,
}

/// Chosen on the worked cases of the trade; not tuned on recordings.
impl Default for Settings {
    fn default() -> Self {
        Settings { said_from: 0.42, listen_from: 0.25, same_job_from: 0.15 }
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
    /// Seconds from the start of the recording, where known.
    pub at_s: Option<f64>,
    /// Words the proposal rests on.
    pub heard: Option<String>,
    /// Quantity the breakdown expects, in canonical words.
    pub expected_quantity: Option<String>,
    /// Quantity that was heard, in canonical words.
    pub heard_quantity: Option<String>,
    /// How the two compare.
    pub agreement: Option<Agreement>,
    /// 0 to 1: how sure the proposal is against its neighbours. Not a probability.
    pub confidence: f64,
    /// The trainer should listen here before trusting the proposal.
    pub listen: bool,
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
    let matches = matching::best(&profile, &stream, settings);
    let proposals = judge::proposals(&profile, &stream, &matches, settings);
    let order_errors = order_errors(breakdown, &profile, &matches, &proposals);
    let (same_job, same_job_because) = same_job(&stream, &proposals, settings);
    Hearing {
        steps_named: stream.steps_named(),
        unmatched: unmatched(&stream, &matches, settings),
        proposals,
        order_errors,
        same_job,
        same_job_because,
    }
}

fn order_errors(
    breakdown: &Breakdown,
    profile: &Profile,
    matches: &[Option<Match>],
    proposals: &[Proposal],
) -> Vec<OrderError> {
    let place = |label: &str| {
        let at = profile.labelled(label)?;
        let said = proposals[at].mark.is_said() && !proposals[at].listen;
        Some((profile.items[at].id, matches[at].filter(|_| said)?.first_evidence))
    };
    let pairs = breakdown.orders.iter().filter_map(|pair| {
        let ((first, first_at), (then, then_at)) = (place(&pair.first)?, place(&pair.then)?);
        (then_at < first_at).then_some(OrderError { first, then })
    });
    pairs.collect()
}

fn same_job(stream: &Stream, proposals: &[Proposal], settings: &Settings) -> (bool, String) {
    let judged = proposals.iter().filter(|proposal| proposal.item.kind() != ItemKind::Reason);
    let of = judged.clone().count();
    let n = judged.filter(|proposal| proposal.mark.is_said() && !proposal.listen).count();
    if stream.tokens.is_empty() {
        return (false, "no words of a learner were found in the transcript".to_owned());
    }
    // One chance hit is no job, unless the job has hardly more items than that.
    let least = ((settings.same_job_from * of as f64).ceil() as usize).max(3).min(of);
    let same = n > 0 && n >= least;
    let verdict = if same { "at least" } else { "fewer than" };
    (
        same,
        format!("{n} of {of} steps and key points were heard, {verdict} the {least} that make it this job"),
    )
}

/// Lines of the learner in which no accepted match lies.
fn unmatched(stream: &Stream, matches: &[Option<Match>], settings: &Settings) -> Vec<Unmatched> {
    let mut used = vec![false; stream.lines.len()];
    for found in matches.iter().flatten().filter(|found| found.score >= settings.said_from) {
        for token in &stream.tokens[found.start..found.end] {
            used[token.line] = true;
        }
    }
    let lines = stream.lines.iter().zip(used);
    lines
        .filter(|(line, used)| !used && line.has_content)
        .map(|(line, _)| Unmatched { at_s: line.start_s, text: line.text.clone() })
        .collect()
}
