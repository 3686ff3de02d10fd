//! Transcripts from any recogniser: WebVTT, SRT, SBV, and plain lines that start with a time in brackets.
//!
//! WebVTT is read by the block rules of the W3C (WebVTT: The Web Video Text Tracks Format, section "Parsing"): a
//! byte-order mark and all line ends are accepted, the header ends at a blank line, NOTE, STYLE and REGION blocks are
//! no speech, a line with an arrow starts a cue even without a blank line before it. Two divergences, because a
//! learner's words may not be lost: where the rules drop a cue whose time cannot be read, or a block without a time,
//! the words are kept without a time and named as a fault; and a comma is accepted for the point before the
//! milliseconds, as SRT writes it.

mod cues;
mod plain;
mod spoken;
mod stamp;

use teachback::{SpokenLine, Transcript};

use crate::text::decode;

/// Bytes beyond which a transcript is not read: some thirty hours of speech.
pub const LARGEST_TRANSCRIPT_BYTES: usize = 2_000_000;

/// What kind of transcript a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TranscriptFormat {
    /// Starts with the word WEBVTT.
    WebVtt,
    /// Cues with arrows and no WEBVTT line, as SRT has them.
    Srt,
    /// Cues with two times and a comma between them.
    Sbv,
    /// Lines that start with a time in brackets.
    TimesInBrackets,
    /// Lines without any time.
    NoTimes,
}

/// One thing that was not as it should be; the rest of the file was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TranscriptFault {
    /// Line of the file, counted from 1; 0 for the whole file.
    pub line: usize,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: &'static str,
    /// What to do.
    pub to_do: &'static str,
}

/// A transcript and what was wrong with its file.
#[derive(Debug, Clone, PartialEq)]
pub struct TranscriptReading {
    /// Lines as spoken; empty where the file holds no words.
    pub transcript: Transcript,
    /// What kind of file it is.
    pub format: TranscriptFormat,
    /// Faults in order of line.
    pub faults: Vec<TranscriptFault>,
    /// What was assumed about the encoding, where the file does not say.
    pub note: Option<String>,
}

/// Reads a transcript file. Never fails: a file that is no transcript gives no lines and a fault that says why.
///
/// ```
/// let reading = exchange::transcript::read(b"WEBVTT\n\n00:01.000 --> 00:03.000\n<v Learner>scrub thirty seconds\n");
/// let line = &reading.transcript.lines[0];
/// assert_eq!((line.start_s, line.speaker.as_deref()), (Some(1.0), Some("Learner")));
/// assert_eq!(line.text, "scrub thirty seconds");
/// ```
pub fn read(bytes: &[u8]) -> TranscriptReading {
    if bytes.len() > LARGEST_TRANSCRIPT_BYTES {
        return nothing(
            format!("{} bytes", bytes.len()),
            "at most 2,000,000 bytes, some thirty hours of speech",
            "cut the recording into passes of one teach-back each",
        );
    }
    let Ok(decoded) = decode(bytes, None) else {
        return nothing("bytes that are no text".to_owned(), "a text file", "export the transcript as text");
    };
    if let Some(line) = decoded.text.lines().position(|line| line.contains(|letter: char| is_binary(letter)))
    {
        let mut reading = nothing(
            "control characters, as in a sound or word-processor file".to_owned(),
            "a transcript as text: WebVTT, SRT, or lines that start with a time in brackets",
            "export the words from the recogniser; the sound file itself cannot be read",
        );
        reading.faults[0].line = line + 1;
        return reading;
    }
    let text = decoded.text.replace("\r\n", "\n").replace('\r', "\n");
    let lines: Vec<&str> = text.lines().collect();
    let format = format_of(&lines);
    let (mut spoken, mut faults) = match format {
        TranscriptFormat::TimesInBrackets | TranscriptFormat::NoTimes => plain::read(&lines),
        _ => cues::read(&lines, format),
    };
    spoken::name_speakers(&mut spoken);
    if spoken.is_empty() {
        faults.insert(
            0,
            TranscriptFault {
                line: 0,
                found: "no words".to_owned(),
                expected: "what was said, with times",
                to_do: "check that this is the right file and that the recogniser heard anything",
            },
        );
    }
    faults.extend(backwards(&spoken));
    faults.sort_by_key(|fault| fault.line);
    let lines = spoken.into_iter().map(|(_, line)| line).collect();
    TranscriptReading { transcript: Transcript { lines }, format, faults, note: decoded.note }
}

/// A spoken line with the line of the file it starts on.
type Numbered = (usize, SpokenLine);

fn nothing(found: String, expected: &'static str, to_do: &'static str) -> TranscriptReading {
    TranscriptReading {
        transcript: Transcript::default(),
        format: TranscriptFormat::NoTimes,
        faults: vec![TranscriptFault { line: 0, found, expected, to_do }],
        note: None,
    }
}

fn is_binary(letter: char) -> bool {
    letter.is_control() && !matches!(letter, '\t' | '\r' | '\u{c}' | '\u{85}')
}

fn format_of(lines: &[&str]) -> TranscriptFormat {
    let first = lines.first().copied().unwrap_or("");
    let signature =
        first.strip_prefix("WEBVTT").is_some_and(|rest| rest.is_empty() || rest.starts_with([' ', '\t']));
    if signature {
        TranscriptFormat::WebVtt
    } else if lines.iter().any(|line| line.contains("-->")) {
        TranscriptFormat::Srt
    } else if lines.iter().any(|line| stamp::sbv(line).is_some()) {
        TranscriptFormat::Sbv
    } else if lines.iter().any(|line| stamp::in_brackets(line).is_some()) {
        TranscriptFormat::TimesInBrackets
    } else {
        TranscriptFormat::NoTimes
    }
}

/// Lines that start before the line above them, and ends before their starts.
fn backwards(spoken: &[Numbered]) -> Vec<TranscriptFault> {
    let mut faults = Vec::new();
    let mut latest = 0.0f64;
    for (number, line) in spoken {
        let Some(start) = line.start_s else { continue };
        if start < latest {
            faults.push(TranscriptFault {
                line: *number,
                found: format!("a start at {start:.3} s, after a line that starts at {latest:.3} s"),
                expected: "times that run forward",
                to_do: "kept where it stands; look whether two recordings were put together",
            });
        }
        latest = latest.max(start);
    }
    faults
}
