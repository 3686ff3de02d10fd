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

use std::collections::HashSet;

use breakdown::{Breakdown, ItemId, ItemKind};
use quantity::Agreement;

use crate::mark::Mark;
use crate::outcome::OrderError;
use crate::transcript::Transcript;
use matching::Match;
use profile::Profile;
use stream::{Stream, StreamToken};

/// Thresholds, each 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// From here on an item counts as said.
    pub said_from: f64,
    /// From here up to `said_from` the words may have been said: the trainer is asked to listen.
    pub listen_from: f64,
    /// Least share of the breakdown's items that must be heard for the transcript to be of this job.
    pub same_job_from: f64,
    /// Least share of the learner's different words that carry meaning which those items must hold.
    pub explained_from: f64,
}

/// Chosen on the worked cases of the trade; not tuned on recordings.
impl Default for Settings {
    fn default() -> Self {
        Settings { said_from: 0.42, listen_from: 0.25, same_job_from: 0.15, explained_from: 0.5 }
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
    let (same_job, same_job_because) = same_job(&profile, &stream, &matches, &proposals, settings);
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

/// Two signs of the job: enough of its items were heard, and its items explain enough of what the learner said. Jobs of one trade share
/// items such as hand hygiene and labelling, so the first alone would take any of them for this one; a learner who knows little of the
/// right job still talks of nothing else.
fn same_job(
    profile: &Profile,
    stream: &Stream,
    matches: &[Option<Match>],
    proposals: &[Proposal],
    settings: &Settings,
) -> (bool, String) {
    let judged = proposals.iter().filter(|proposal| proposal.item.kind() != ItemKind::Reason);
    let of = judged.clone().count();
    let n = judged.filter(|proposal| proposal.mark.is_said() && !proposal.listen).count();
    // Each different word counts once, so that telling the job twice changes nothing.
    let word_of = |token: &StreamToken| stream.text.get(token.start..token.end).unwrap_or("").to_lowercase();
    let n_words = stream.tokens.iter().map(word_of).collect::<HashSet<_>>().len();
    if n_words == 0 {
        return (false, "no words of a learner were found in the transcript".to_owned());
    }
    let mut explained = HashSet::new();
    let accepted = profile.items.iter().zip(matches).filter_map(|(item, found)| Some((item, (*found)?)));
    for (item, found) in accepted.filter(|(_, found)| found.score >= settings.said_from) {
        let tells = |token: &&StreamToken| item.words.iter().any(|word| Some(word.word) == token.word);
        explained.extend(stream.tokens[found.start..found.end].iter().filter(tells).map(word_of));
    }
    let n_explained = explained.len();
    // One chance hit is no job, unless the job has hardly more items than that.
    let least = ((settings.same_job_from * of as f64).ceil() as usize).max(3).min(of);
    let explains = n_explained as f64 >= settings.explained_from * n_words as f64;
    (
        n > 0 && n >= least && explains,
        format!(
            "{n} of {of} steps and key points were heard (this job needs {least}), and they hold {n_explained} of the {n_words} different \
             words that carry meaning (this job needs {:.0} %)",
            settings.explained_from * 100.0
        ),
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
