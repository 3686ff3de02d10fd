//! Plain lines, with a time in brackets in front or without.

use super::spoken::spoken;
use super::{Numbered, TranscriptFault, stamp};

/// A line with a time starts a new spoken line; one without goes on with it.
pub(super) fn read(lines: &[&str]) -> (Vec<Numbered>, Vec<TranscriptFault>) {
    let mut blocks: Vec<(usize, Option<f64>, Vec<&str>)> = Vec::new();
    let mut faults = Vec::new();
    let any_times = lines.iter().any(|line| stamp::in_brackets(line).is_some());
    let mut open = false;
    for (number, line) in (1..).zip(lines) {
        match stamp::in_brackets(line) {
            Some((start, words)) => {
                blocks.push((number, Some(start), vec![words]));
                open = true;
            }
            None if line.trim().is_empty() => open = false,
            None if any_times && open => {
                if let Some((.., words)) = blocks.last_mut() {
                    words.push(line.trim());
                }
            }
            None => {
                if any_times {
                    faults.push(TranscriptFault {
                        line: number,
                        found: format!("{:?} without a time", line.trim()),
                        expected: "a time in brackets in front, such as [01:02]",
                        to_do: "add the time, or leave it: the words were kept without one",
                    });
                }
                blocks.push((number, None, vec![line.trim()]));
            }
        }
    }
    if !any_times && !blocks.is_empty() {
        faults.push(TranscriptFault {
            line: 0,
            found: "no times".to_owned(),
            expected: "a time for each line: WebVTT, SRT, or lines that start with [minutes:seconds]",
            to_do: "the words were read; pace and the place in the recording stay unknown",
        });
    }
    let ends: Vec<Option<f64>> = blocks.iter().skip(1).map(|(_, start, _)| *start).chain([None]).collect();
    let mut lines = Vec::new();
    for ((number, start, words), next) in blocks.into_iter().zip(ends) {
        // A line lasts at most until the next one starts.
        let end = next.filter(|next| start.is_some_and(|start| *next > start));
        lines.extend(spoken(&words, start, end).into_iter().map(|line| (number, line)));
    }
    (lines, faults)
}
