//! The learner's words as one stream, with the trainer's questions between them.

use breakdown::content_words;
use quantity::{Found, Unit, find, names_unit};

use super::profile::Profile;
use crate::transcript::{SpokenLine, Transcript};

/// The learner's words, and what the trainer asked.
pub(super) struct Stream {
    /// The learner's lines, joined.
    pub(super) text: String,
    pub(super) lines: Vec<LearnerLine>,
    /// Words that carry meaning, in order.
    pub(super) tokens: Vec<StreamToken>,
    /// Quantities, with the token before which each stands.
    pub(super) quantities: Vec<(Found, usize)>,
    pub(super) questions: Vec<Question>,
}

pub(super) struct LearnerLine {
    pub(super) text: String,
    pub(super) start_s: Option<f64>,
    pub(super) end_s: Option<f64>,
    /// Where the line starts in the stream's text.
    pub(super) offset: usize,
    /// True for a line with at least one word that carries meaning.
    pub(super) has_content: bool,
}

pub(super) struct StreamToken {
    /// Place in the profile's vocabulary; none for a word that no item has.
    pub(super) word: Option<usize>,
    pub(super) start: usize,
    pub(super) end: usize,
    /// Place in `lines`.
    pub(super) line: usize,
    /// Counts up whenever the trainer speaks in between.
    pub(super) turn: usize,
    /// A "not" stands shortly before it.
    pub(super) negated: bool,
    /// "because", "so that", "otherwise" stands shortly before it.
    pub(super) gives_reason: bool,
}

/// What the trainer said before a turn of the learner.
pub(super) struct Question {
    /// The learner's turn that follows.
    pub(super) turn: usize,
    /// Words of the question that some item has.
    pub(super) words: Vec<usize>,
    /// The learner answers with "yes" and little else.
    pub(super) only_agreed: bool,
}

/// Words after "not" that it is about.
const NOT_REACHES: usize = 3;
/// Words after "because" that may be the reason.
const REASON_REACHES: usize = 12;
/// A question without a speaker's name is no longer than this.
const LONGEST_QUESTION: usize = 9;

const QUESTION_STARTS: &[&str] = &[
    "what",
    "why",
    "how",
    "when",
    "where",
    "which",
    "who",
    "anything",
    "and then",
    "what's",
    "and why",
    "and what",
    "so what",
    "do you",
    "did you",
    "would you",
    "can you",
    "tell me",
];
const YES: &[&str] =
    &["yes", "yeah", "yep", "right", "correct", "exactly", "sure", "mhm", "true", "ok", "okay"];

impl Stream {
    pub(super) fn of(transcript: &Transcript, profile: &Profile) -> Stream {
        let learner = learner(transcript);
        let mut stream = Stream {
            text: String::new(),
            lines: Vec::new(),
            tokens: Vec::new(),
            quantities: Vec::new(),
            questions: Vec::new(),
        };
        let mut turn = 0;
        for line in transcript.lines.iter().filter(|line| !line.text.trim().is_empty()) {
            if is_trainer(line, learner.as_deref()) {
                turn += 1;
                let words = stems(&line.text, profile).into_iter().filter_map(|stem| stem.word).collect();
                // A stop keeps numbers of two turns apart.
                stream.text.push_str(". ");
                stream.questions.push(Question { turn, words, only_agreed: false });
            } else {
                stream.push(line, turn, profile);
            }
        }
        let found = find(&stream.text);
        // The words of a number are no words of an item, unless an item has them: "bottle" in "10 mL in each bottle".
        let in_number = |token: &StreamToken| {
            let at = found.partition_point(|found| found.end <= token.start);
            found.get(at).is_some_and(|found| found.start <= token.start && token.end <= found.end)
        };
        let is_unit = |token: &StreamToken| stream.text.get(token.start..token.end).is_some_and(names_unit);
        stream.tokens.retain(|token| !in_number(token) || (token.word.is_some() && !is_unit(token)));
        let before = |found: &Found| stream.tokens.partition_point(|token| token.start < found.start);
        stream.quantities = found.iter().map(|found| (found.clone(), before(found))).collect();
        for question in &mut stream.questions {
            let mut answer = stream.tokens.iter().filter(|token| token.turn == question.turn);
            let first_line = answer.next().map(|token| token.line);
            let words = first_line.map(|line| stream.lines[line].text.to_lowercase()).unwrap_or_default();
            let first = words.split(|letter: char| !letter.is_alphanumeric()).find(|word| !word.is_empty());
            question.only_agreed = first.is_some_and(|word| YES.contains(&word)) && answer.count() < 3;
        }
        stream
    }

    fn push(&mut self, line: &SpokenLine, turn: usize, profile: &Profile) {
        let offset = self.text.len();
        let number = self.lines.len();
        let (mut not_reaches, mut reason_reaches) = (0, 0);
        let mut has_content = false;
        for stem in stems(&line.text, profile) {
            match stem.role {
                Role::Not => not_reaches = NOT_REACHES,
                Role::Because => {
                    reason_reaches = REASON_REACHES;
                    // What is not to be done ends where the reason begins.
                    not_reaches = 0;
                }
                Role::Yes => has_content = true,
                Role::Content => {
                    has_content = true;
                    self.tokens.push(StreamToken {
                        word: stem.word,
                        start: offset + stem.start,
                        end: offset + stem.end,
                        line: number,
                        turn,
                        negated: not_reaches > 0,
                        gives_reason: reason_reaches > 0,
                    });
                    not_reaches = usize::saturating_sub(not_reaches, 1);
                    reason_reaches = usize::saturating_sub(reason_reaches, 1);
                }
            }
        }
        // A bare "yes" is an answer too; it needs a token to be found by its turn.
        if has_content && self.tokens.last().is_none_or(|token| token.line != number) {
            let end = offset + line.text.len();
            self.tokens.push(StreamToken {
                word: None,
                start: offset,
                end,
                line: number,
                turn,
                negated: false,
                gives_reason: false,
            });
        }
        self.text.push_str(&line.text);
        self.text.push(' ');
        let SpokenLine { start_s, end_s, text, .. } = line;
        let (start_s, end_s, text) = (*start_s, *end_s, text.clone());
        self.lines.push(LearnerLine { text, start_s, end_s, offset, has_content });
    }

    /// The line a place in the stream's text belongs to.
    pub(super) fn line_at(&self, offset: usize) -> usize {
        self.lines.partition_point(|line| line.offset <= offset).saturating_sub(1)
    }

    /// Seconds at which a token was said: its line's start, and its share of the line where the end is known.
    pub(super) fn time_of(&self, token: usize) -> Option<f64> {
        let token = self.tokens.get(token)?;
        let line = &self.lines[token.line];
        let start = line.start_s?;
        let Some(end) = line.end_s.filter(|end| *end > start && !line.text.is_empty()) else {
            return Some(start);
        };
        let share = (token.start - line.offset) as f64 / line.text.len() as f64;
        Some(start + share.clamp(0.0, 1.0) * (end - start))
    }

    /// "there are seven steps", "in seven important steps": the largest such count, since "step two" and "two steps"
    /// differ.
    pub(super) fn steps_named(&self) -> Option<u32> {
        let counts = find(&self.text.to_lowercase().replace("important steps", "steps"));
        let steps = counts
            .into_iter()
            .filter(|found| found.unit == Some(Unit::Count) && found.counted == Some("steps"));
        let numbers = steps.filter_map(|found| found.low.filter(|low| found.high == Some(*low)));
        let largest =
            numbers.fold(None, |most: Option<f64>, value| Some(most.map_or(value, |most| most.max(value))));
        largest.filter(|value| (1.0..=99.0).contains(value) && value.fract() == 0.0).map(|value| value as u32)
    }
}

/// The speaker who says most words, where speakers are named.
fn learner(transcript: &Transcript) -> Option<String> {
    let mut words: Vec<(&str, usize)> = Vec::new();
    for line in &transcript.lines {
        let Some(speaker) = line.speaker.as_deref() else { continue };
        let n_words = line.text.split_whitespace().count();
        match words.iter_mut().find(|(known, _)| *known == speaker) {
            Some((_, count)) => *count += n_words,
            None => words.push((speaker, n_words)),
        }
    }
    // A name that says the role decides; otherwise the learner is the one who talks most.
    let by_role = words
        .iter()
        .find(|(name, _)| ["learner", "nurse", "trainee"].contains(&name.to_lowercase().as_str()));
    let most = words.iter().max_by_key(|(_, count)| *count);
    by_role.or(most).map(|(name, _)| (*name).to_owned())
}

fn is_trainer(line: &SpokenLine, learner: Option<&str>) -> bool {
    match (&line.speaker, learner) {
        (Some(speaker), Some(learner)) => speaker != learner,
        _ => {
            let text = line.text.trim().to_lowercase();
            let short = text.split_whitespace().count() <= LONGEST_QUESTION;
            let starts = QUESTION_STARTS.iter().any(|start| {
                text.strip_prefix(start)
                    .is_some_and(|rest| !rest.starts_with(|letter: char| letter.is_alphanumeric()))
            });
            short && (text.ends_with('?') || starts)
        }
    }
}

enum Role {
    Content,
    Not,
    Because,
    Yes,
}

struct Stem {
    role: Role,
    word: Option<usize>,
    start: usize,
    end: usize,
}

/// The words of a line with their places, synonyms put together.
fn stems(text: &str, profile: &Profile) -> Vec<Stem> {
    let mut raw: Vec<(String, usize, usize)> = Vec::new();
    let mut from = 0;
    for piece in
        text.split_inclusive(|letter: char| !(letter.is_alphanumeric() || matches!(letter, '\'' | '’')))
    {
        let word = piece.trim_matches(|letter: char| !letter.is_alphanumeric());
        let lower = word.to_lowercase();
        let start = from + piece.find(word).unwrap_or(0);
        from += piece.len();
        if word.is_empty() || word.starts_with(|letter: char| letter.is_ascii_digit()) {
            continue;
        }
        let stem = match lower.as_str() {
            "because" | "cause" | "cos" | "otherwise" | "so" | "else" => "because".to_owned(),
            _ => match content_words(word).pop() {
                Some(stem) => stem,
                None if YES.contains(&lower.as_str()) => "yes".to_owned(),
                None => continue,
            },
        };
        raw.push((stem, start, start + word.len()));
    }
    let mut stems = Vec::new();
    let mut at = 0;
    while at < raw.len() {
        let following: Vec<&str> = raw[at..].iter().take(5).map(|(stem, ..)| stem.as_str()).collect();
        let (n_words, name) = profile.synonym(&following).unwrap_or((1, following[0]));
        let role = match name {
            "not" => Role::Not,
            "because" => Role::Because,
            "yes" => Role::Yes,
            _ => Role::Content,
        };
        let word = profile.word(name);
        stems.push(Stem { role, word, start: raw[at].1, end: raw[at + n_words - 1].2 });
        at += n_words;
    }
    stems
}
