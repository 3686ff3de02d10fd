//! Whether a transcript is of this job at all.

use std::collections::HashMap;

use breakdown::ItemKind;

use super::Proposal;
use super::judge::Case;
use super::lexicon;
use super::stream::StreamToken;
use crate::mark::Mark;

/// Least share of the breakdown's key points that must be heard.
const LEAST_HEARD: f64 = 0.12;
/// Least share of the learner's different words that carry meaning which those points must hold.
const LEAST_EXPLAINED: f64 = 0.52;

/// Least share of the learner's words that carry meaning which the trade's list or the breakdown has.
const LEAST_KNOWN: f64 = 0.25;

/// Two signs of the job: enough of its points were heard, and its items explain enough of what the learner said. Jobs of
/// one trade share points such as hand hygiene and labelling, so the first alone would take any of them for this one; a
/// learner who knows little of the right job still talks of nothing else.
pub(super) fn judge(case: &Case<'_>, proposals: &[Proposal]) -> (bool, String) {
    let points = proposals.iter().filter(|proposal| proposal.item.kind() == ItemKind::KeyPoint);
    let of = points.clone().count();
    let n = points.filter(|proposal| proposal.mark != Mark::Missed).count();
    // Each different word counts once, so that telling the job twice changes nothing.
    let mut words: HashMap<&str, f64> = HashMap::new();
    // Everyday and misheard words that no job of the trade has say nothing about which job it is.
    let tells = |token: &&StreamToken| {
        token.quantity.is_none() && (!token.like.is_empty() || lexicon::is_of_the_trade(&token.stem))
    };
    for token in case.stream.tokens.iter().filter(tells) {
        words.entry(&token.stem).or_default();
    }
    let n_tokens = case.stream.tokens.iter().filter(|token| token.quantity.is_none()).count();
    let n_known = case.stream.tokens.iter().filter(tells).count();
    if n_tokens == 0 {
        return (false, "no words of a learner were found in the transcript".to_owned());
    }
    if (n_known as f64) < LEAST_KNOWN * n_tokens as f64 {
        return (
            false,
            format!(
                "{n_known} of {n_tokens} words that carry meaning are English words of the trade or of this breakdown: another \
                 language, other talk, or a recording that was not understood (all words counted, no sample: no interval)"
            ),
        );
    }
    for (at, evidence) in case.evidence.iter().enumerate() {
        let Some(place) = evidence.place.filter(|_| proposals[at].mark != Mark::Missed) else { continue };
        let item = &case.profile.items[at];
        for token in &case.stream.tokens[place.start..place.end] {
            let Some(best) = words.get_mut(token.stem.as_str()) else { continue };
            for likeness in &token.like {
                if item.words.iter().any(|word| word.word == likeness.word) {
                    *best = best.max(likeness.share);
                }
            }
        }
    }
    let (n_words, explained) = (words.len(), words.values().sum::<f64>());
    // One chance hit is no job, unless the job has hardly more points than that.
    let least = ((LEAST_HEARD * of as f64).ceil() as usize).max(3).min(of);
    let explains = explained >= LEAST_EXPLAINED * n_words as f64;
    let guess = if n == 0 {
        "; another job, another language, other talk, or a recording that was not understood"
    } else {
        ""
    };
    (
        n > 0 && n >= least && explains,
        format!(
            "{n} of {of} key points were heard (this job needs {least}), and they explain {:.0} % of the {n_words} different words that \
             carry meaning (this job needs {:.0} %); all points and words counted, no sample: no interval{guess}",
            100.0 * explained / n_words as f64,
            LEAST_EXPLAINED * 100.0
        ),
    )
}
