//! Who speaks: the learner whose words are judged, or the trainer who asks.

use quantity::{Unit, find_spoken};

use crate::transcript::{SpokenLine, Transcript};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Voice {
    Learner,
    Trainer,
}

/// A question without a speaker's name is no longer than this; a longer cue may hold the answer as well.
const LONGEST_QUESTION: usize = 5;
/// One that begins as few answers do may be this long.
const LONGEST_PLAIN_QUESTION: usize = 8;
/// How such questions begin.
const PLAIN_STARTS: &[&str] = &[
    "how many",
    "how much",
    "how long",
    "how big",
    "how fast",
    "how far",
    "how often",
    "how do you",
    "what do you",
    "what is the",
    "what's the",
    "which",
    "why do",
    "when do you",
    "where do you",
    "and for how long",
    "for how long",
    "and how long",
    "may the",
    "do you",
];

pub(super) const YES: &[&str] =
    &["yes", "yeah", "yep", "right", "correct", "exactly", "sure", "mhm", "true", "ok", "okay", "of course"];

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
    "why's",
    "and why",
    "and what",
    "and how",
    "and after",
    "so what",
    "then what",
    "do you",
    "did you",
    "would you",
    "can you",
    "may you",
    "tell me",
    "then",
];
/// Ends of a question that holds its own answer.
const TAGS: &[&str] = &[
    "right",
    "correct",
    "don't you",
    "dont you",
    "isn't it",
    "isnt it",
    "wasn't it",
    "won't you",
    "aren't they",
    "aren't you",
    "doesn't it",
    "didn't you",
    "is that right",
    "yes",
    "okay",
];
const ENCOURAGES: &[&str] = &[
    "go on",
    "go ahead",
    "good go on",
    "okay",
    "ok",
    "good",
    "tell me",
    "thank you",
    "thanks",
    "mhm",
    "yes",
    "continue",
    "carry on",
];

/// Each line with who speaks it, empty ones left out. A cue that holds a question and its answer is cut in two where the
/// question's end can be told.
pub(super) fn turns(transcript: &Transcript) -> Vec<(Voice, SpokenLine)> {
    let learner = learner(transcript);
    let mut turns = Vec::new();
    for line in transcript.lines.iter().filter(|line| !line.text.trim().is_empty()) {
        if let (Some(speaker), Some(learner)) = (&line.speaker, learner.as_deref()) {
            let voice = if speaker == learner { Voice::Learner } else { Voice::Trainer };
            turns.push((voice, line.clone()));
        } else if let Some(at) = answer_starts(&line.text) {
            let (question, answer) = line.text.split_at(at);
            turns.push((Voice::Trainer, SpokenLine { text: question.trim().to_owned(), ..line.clone() }));
            turns.push((Voice::Learner, SpokenLine { text: answer.trim().to_owned(), ..line.clone() }));
        } else if is_question(&line.text) {
            // "How much blood then sixteen to twenty": the number is the answer.
            let answer =
                unit_asked(&line.text).and_then(|_| find_spoken(&line.text).first().map(|found| found.start));
            let (question, answer) = line.text.split_at(answer.unwrap_or(line.text.len()));
            turns.push((Voice::Trainer, SpokenLine { text: question.trim().to_owned(), ..line.clone() }));
            if !answer.is_empty() {
                turns.push((Voice::Learner, SpokenLine { text: answer.to_owned(), ..line.clone() }));
            }
        } else {
            turns.push((Voice::Learner, line.clone()));
        }
    }
    turns
}

pub(super) fn asks_why(question: &str) -> bool {
    let lower = question.to_lowercase();
    let mut words = lower.split(|letter: char| !letter.is_alphanumeric());
    words.any(|word| matches!(word, "why" | "because"))
}

/// The unit a question asks a number in.
pub(super) fn unit_asked(question: &str) -> Option<Unit> {
    let plain = format!(" {} ", plain(question));
    let asks = |starts: &[&str]| starts.iter().any(|start| plain.contains(&format!(" how {start} ")));
    if asks(&["long", "fast", "soon", "quickly", "often"]) {
        Some(Unit::Second)
    } else if asks(&["much", "big", "large"]) {
        Some(Unit::Millilitre)
    } else if asks(&["many"]) {
        Some(Unit::Count)
    } else {
        None
    }
}

pub(super) fn leads(question: &str) -> bool {
    let plain = plain(question);
    let is_open = QUESTION_STARTS[..8].iter().any(|start| starts_with(&plain, start));
    !is_open && TAGS.iter().any(|tag| ends_with(&plain, tag)) && plain.split(' ').count() > 3
}

pub(super) fn only_encourages(question: &str) -> bool {
    ENCOURAGES.contains(&plain(question).as_str())
}

/// In lower case, words and apostrophes alone.
fn plain(text: &str) -> String {
    let lower = text.to_lowercase().replace('’', "'");
    let words = lower.split(|letter: char| !(letter.is_alphanumeric() || letter == '\''));
    words.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

fn starts_with(text: &str, start: &str) -> bool {
    text.strip_prefix(start).is_some_and(|rest| rest.is_empty() || rest.starts_with(' '))
}

fn ends_with(text: &str, end: &str) -> bool {
    text.strip_suffix(end).is_some_and(|rest| rest.is_empty() || rest.ends_with(' '))
}

fn is_question(text: &str) -> bool {
    let trimmed = text.trim();
    let plain = plain(trimmed);
    let n_words = plain.split(' ').count();
    if n_words > LONGEST_QUESTION {
        let starts = PLAIN_STARTS.iter().any(|start| starts_with(&plain, start));
        return n_words <= LONGEST_PLAIN_QUESTION && (starts || trimmed.ends_with('?'));
    }
    let starts = QUESTION_STARTS.iter().any(|start| starts_with(&plain, start));
    // "then" and "when" begin answers as well; alone or in a short line they ask.
    let is_short =
        !(starts_with(&plain, "then") || starts_with(&plain, "when") || starts_with(&plain, "and then"))
            || n_words <= 3;
    trimmed.ends_with('?') || (starts && is_short) || only_encourages(&plain)
}

/// Where the answer starts in a cue that holds a question before it.
fn answer_starts(text: &str) -> Option<usize> {
    if let Some(at) = text.find('?') {
        let rest = text[at + 1..].trim();
        return (!rest.is_empty()).then_some(at + 1);
    }
    let lower = text.to_lowercase();
    let mut ends: Vec<(usize, &str)> = Vec::new();
    let mut from = 0;
    for piece in lower.split_inclusive(char::is_whitespace) {
        from += piece.len();
        ends.push((from, piece.trim()));
    }
    // Lower case may change the length of some letters; then the cue stays whole.
    if lower.len() != text.len() {
        return None;
    }
    // "..., right yes": a tag with a yes behind it.
    for pair in ends.windows(2) {
        let question = lower.get(..pair[0].0).unwrap_or("");
        if YES.contains(&pair[1].1) && leads(question) {
            return Some(pair[0].0);
        }
    }
    let plain = plain(text);
    let n_words = plain.split(' ').count();
    // "you ask about allergies yes".
    let puts_it = ["you", "and you", "so you", "and the", "is the", "are the"];
    if let [.., (before, _), (_, last)] = ends.as_slice()
        && n_words > 3
        && YES.contains(last)
        && puts_it.iter().any(|start| starts_with(&plain, start))
    {
        return Some(*before);
    }
    // "why", "what next", "anything else" in front of the answer.
    let found = OPENINGS.iter().filter(|start| starts_with(&plain, start)).max_by_key(|start| start.len());
    if let Some(found) = found {
        let n_opening = found.split(' ').count();
        let asks_on = ["do", "is", "that", "does", "not", "are", "should"];
        let next = ends.get(n_opening).map_or("", |(_, word)| *word);
        let only_asks = n_words <= n_opening + 1 || (n_words <= LONGEST_QUESTION && asks_on.contains(&next));
        return if only_asks { None } else { Some(ends.get(n_opening - 1)?.0) };
    }
    // "what if the pressure is up ask the doctor": where the question ends cannot be told, only that one was asked.
    let asked = ["what", "anything", "may you", "do you", "how does", "how do", "how is", "how long do"];
    let start = asked.iter().find(|start| starts_with(&plain, start))?;
    let at = start.split(' ').count();
    (n_words > LONGEST_QUESTION + 1).then(|| ends.get(at - 1).map(|(end, _)| *end)).flatten()
}

/// Whole questions that may stand in front of the answer in one cue.
const OPENINGS: &[&str] = &[
    "and why",
    "why",
    "why's that",
    "why is that",
    "what next",
    "what's next",
    "and then what",
    "then what",
    "anything else",
    "what else",
    "and otherwise",
    "go on",
    "tell me",
    "go ahead",
];

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
