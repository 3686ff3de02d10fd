//! What was said, with times: the form every transcript takes before it is held against a breakdown.

/// Words as a recogniser wrote them, in order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Transcript {
    /// Lines, cues or turns.
    pub lines: Vec<SpokenLine>,
}

/// One line, cue or turn.
#[derive(Debug, Clone, PartialEq)]
pub struct SpokenLine {
    /// Seconds from the start of the recording, where known.
    pub start_s: Option<f64>,
    /// Seconds at its end, where known.
    pub end_s: Option<f64>,
    /// Who spoke, where the transcript says.
    pub speaker: Option<String>,
    /// What was said.
    pub text: String,
}
