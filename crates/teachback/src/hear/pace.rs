//! How fast each step was told, and where the learner fell silent.

use super::Proposal;
use super::judge::Case;

/// Pace of one step: from its first line to its last.
#[derive(Debug, Clone, PartialEq)]
pub struct StepPace {
    /// Number of the step, counted from 1.
    pub step: u16,
    /// Seconds from the start of the recording at which it begins.
    pub from_s: f64,
    /// Seconds the learner spoke on it.
    pub spoken_s: f64,
    /// Words the learner spoke in that time.
    pub words: usize,
    /// Silences of the learner within it, those in which the trainer spoke left out.
    pub pauses: Vec<Pause>,
}

/// A long silence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pause {
    /// Seconds from the start of the recording.
    pub at_s: f64,
    /// How long, in seconds.
    pub seconds: f64,
}

impl StepPace {
    /// Words a minute; none where no time was spent.
    pub fn words_per_minute(&self) -> Option<f64> {
        (self.spoken_s > 0.0).then(|| self.words as f64 * 60.0 / self.spoken_s)
    }
}

pub(super) fn of_steps(case: &Case<'_>, proposals: &[Proposal], long_pause_s: f64) -> Vec<StepPace> {
    let stream = case.stream;
    let mut step_of_line: Vec<Option<u16>> = vec![None; stream.lines.len()];
    for (evidence, proposal) in case.evidence.iter().zip(proposals) {
        let Some(place) = evidence.place.filter(|_| proposal.mark.is_said()) else { continue };
        for token in &stream.tokens[place.start..place.end] {
            step_of_line[token.line].get_or_insert(proposal.item.step);
        }
    }
    let mut paces: Vec<StepPace> = Vec::new();
    let mut last: Option<(usize, u16, f64)> = None;
    for (number, line) in stream.lines.iter().enumerate() {
        let (Some(step), Some(start), Some(end)) =
            (step_of_line[number], line.start_s, line.end_s.or(line.start_s))
        else {
            continue;
        };
        let at = match paces.iter().position(|pace| pace.step == step) {
            Some(at) => at,
            None => {
                paces.push(StepPace { step, from_s: start, spoken_s: 0.0, words: 0, pauses: Vec::new() });
                paces.len() - 1
            }
        };
        let pace = &mut paces[at];
        pace.spoken_s += (end - start).max(0.0);
        pace.words += line.text.split_whitespace().count();
        if let Some((before, before_step, silent_from)) = last
            && before_step == step
            && stream.lines[before].turn == line.turn
            && start - silent_from >= long_pause_s
        {
            pace.pauses.push(Pause { at_s: silent_from, seconds: start - silent_from });
        }
        last = Some((number, step, end));
    }
    paces.sort_by_key(|pace| pace.step);
    paces
}
