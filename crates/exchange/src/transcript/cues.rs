//! Files made of cues: WebVTT, SRT, SBV.

use super::spoken::spoken;
use super::{Numbered, TranscriptFault, TranscriptFormat, stamp};

/// Cues that follow each other this closely may repeat a line, as rolling captions do.
const ROLLING_GAP_S: f64 = 0.1;

pub(super) fn read(lines: &[&str], format: TranscriptFormat) -> (Vec<Numbered>, Vec<TranscriptFault>) {
    let mut reader = Reader { format, spoken: Vec::new(), faults: Vec::new(), seen_cue: false, last: None };
    let mut at = if format == TranscriptFormat::WebVtt { after_header(lines) } else { 0 };
    while at < lines.len() {
        if lines[at].is_empty() || lines[at].trim().is_empty() {
            at += 1;
        } else {
            at = reader.block(lines, at);
        }
    }
    (reader.spoken, reader.faults)
}

/// The header runs to the first blank line, or to an arrow where the blank line is missing.
fn after_header(lines: &[&str]) -> usize {
    let end = lines.iter().skip(1).position(|line| line.is_empty() || line.contains("-->"));
    end.map_or(lines.len(), |end| end + 1)
}

struct Reader {
    format: TranscriptFormat,
    spoken: Vec<Numbered>,
    faults: Vec<TranscriptFault>,
    seen_cue: bool,
    /// End and last line of the cue before.
    last: Option<(f64, String)>,
}

impl Reader {
    /// Reads one block from line `start`, and says where the next begins.
    fn block(&mut self, lines: &[&str], start: usize) -> usize {
        let is_time = |line: &str| {
            line.contains("-->") || (self.format == TranscriptFormat::Sbv && stamp::sbv(line).is_some())
        };
        // The time may stand on the first line, or on the second after the cue's name.
        let time_at =
            [start, start + 1].into_iter().find(|at| lines.get(*at).is_some_and(|line| is_time(line)));
        let text_from = time_at.map_or(start, |at| at + 1);
        let mut end = text_from;
        while end < lines.len() && !lines[end].trim().is_empty() && !is_time(lines[end]) {
            end += 1;
        }
        // A time without a blank line before it: its cue's number was taken for the last words of this one.
        let mut text_to = end;
        if end < lines.len() && is_time(lines[end]) && text_to > text_from && is_number(lines[text_to - 1]) {
            text_to -= 1;
        }
        let next = text_to.max(start + 1);
        let text = &lines[text_from..text_to];
        match time_at {
            Some(at) => self.cue(lines[at], at, text),
            None => self.untimed(text, start),
        }
        next
    }

    fn cue(&mut self, time: &str, at: usize, text: &[&str]) {
        self.seen_cue = true;
        let times = stamp::arrow(time).or_else(|| stamp::sbv(time));
        if times.is_none() {
            self.fault(
                at,
                format!("{time:?} is no pair of times"),
                "hours:minutes:seconds.milliseconds --> the same, such as 00:01:02.500 --> 00:01:04.000",
                "correct the times; the words were kept without a time",
            );
        }
        let (start_s, mut end_s) = times.map_or((None, None), |(start, end)| (Some(start), Some(end)));
        if let Some((start, end)) = times
            && end < start
        {
            self.fault(
                at,
                format!("a cue that ends at {end:.3} s before it starts at {start:.3} s"),
                "an end after the start",
                "correct the times; the words were kept with their start",
            );
            end_s = None;
        }
        let mut words: Vec<&str> =
            text.iter().map(|line| line.trim()).filter(|line| !line.is_empty()).collect();
        // Rolling captions show the last line again above the new one.
        let repeats = match (&self.last, start_s, words.first()) {
            (Some((end, line)), Some(start), Some(first)) => {
                start <= end + ROLLING_GAP_S && super::spoken::without_tags(first) == *line
            }
            _ => false,
        };
        let last_line =
            words.iter().rev().map(|line| super::spoken::without_tags(line)).find(|line| !line.is_empty());
        if repeats {
            words.remove(0);
        }
        if words.is_empty() && !repeats {
            self.fault(
                at,
                "a time without words".to_owned(),
                "what was said",
                "nothing was lost; the cue was skipped",
            );
        }
        if let Some(end) = end_s.or(start_s) {
            self.last = last_line.map(|line| (end, line));
        }
        let number = at + 2;
        self.spoken.extend(spoken(&words, start_s, end_s).into_iter().map(|line| (number, line)));
    }

    /// A block without a time: a comment or a style sheet of WebVTT, or words whose time is missing.
    fn untimed(&mut self, text: &[&str], start: usize) {
        let first = text[0].trim();
        let is_block = |name: &str| {
            first.strip_prefix(name).is_some_and(|rest| rest.is_empty() || rest.starts_with([' ', '\t']))
        };
        let settings = is_block("STYLE") || is_block("REGION");
        if self.format == TranscriptFormat::WebVtt && (is_block("NOTE") || (settings && !self.seen_cue)) {
            return;
        }
        // A cue's number alone lost its words as well.
        let words = if is_number(first) { &text[1..] } else { text };
        self.fault(
            start,
            format!("{first:?} without a time"),
            "a line of times above the words, such as 00:01:02.500 --> 00:01:04.000",
            "add the times, or leave it: the words were kept without a time",
        );
        let lines = spoken(words, None, None);
        self.spoken.extend(lines.into_iter().map(|line| (start + 1, line)));
    }

    /// A fault at a line counted from 0.
    fn fault(&mut self, at: usize, found: String, expected: &'static str, to_do: &'static str) {
        self.faults.push(TranscriptFault { line: at + 1, found, expected, to_do });
    }
}

fn is_number(line: &str) -> bool {
    let line = line.trim();
    !line.is_empty() && line.chars().all(|letter| letter.is_ascii_digit())
}
