//! The learner's words as one stream, with the trainer's questions between them.

use quantity::{Found, Unit, find_spoken, names_unit};

use super::lexicon::Likeness;
use super::profile::Profile;
use super::speakers::{self, Voice};
use super::stems::{Memory, Role, stems};
use crate::transcript::{SpokenLine, Transcript};

/// The learner's words, and what the trainer asked.
pub(super) struct Stream {
    /// The learner's lines, joined.
    pub(super) text: String,
    pub(super) lines: Vec<LearnerLine>,
    /// Words that carry meaning and quantities, in order.
    pub(super) tokens: Vec<StreamToken>,
    pub(super) questions: Vec<Question>,
    /// What the last line left open, where it was cut within a sentence.
    reach: Reach,
}

/// How far a "not" and a "because" still reach.
#[derive(Default)]
struct Reach {
    /// Words that the last "not" is still about.
    of_not: usize,
    /// Where it stands in the stream's text, and whether it is "no".
    not_at: usize,
    is_no: bool,
    /// Words that may still be the reason, and whether "because" stands directly before.
    of_reason: usize,
    because: bool,
}

pub(super) struct LearnerLine {
    pub(super) text: String,
    pub(super) start_s: Option<f64>,
    pub(super) end_s: Option<f64>,
    /// Where the line starts in the stream's text.
    pub(super) offset: usize,
    /// The turn it belongs to.
    pub(super) turn: usize,
    /// True for a line with at least one word that carries meaning.
    pub(super) has_content: bool,
}

pub(super) struct StreamToken {
    /// The word cut to its stem; empty for a quantity.
    pub(super) stem: String,
    /// Words of the profile's vocabulary it may stand for; none for a quantity.
    pub(super) like: Vec<Likeness>,
    /// The quantity, where the token is one.
    pub(super) quantity: Option<Found>,
    pub(super) start: usize,
    pub(super) end: usize,
    /// Place in `lines`.
    pub(super) line: usize,
    /// Counts up whenever the trainer speaks in between.
    pub(super) turn: usize,
    /// A "not" stands shortly before it.
    pub(super) negated: bool,
    /// Where that "not" stands in the stream's text.
    pub(super) not_at: usize,
    /// "No" stands before a word that describes it: "no hard pulling".
    pub(super) described: bool,
    /// It is neither said nor denied: "nothing opened until hands are clean", "fanning is out", and all that a reason says.
    pub(super) open: bool,
    /// "because", "so that", "otherwise" stands directly before it.
    pub(super) because: bool,
    /// "because" stands shortly before it, or the trainer asked "why".
    pub(super) gives_reason: bool,
    /// First token of its line.
    pub(super) starts_line: bool,
    /// Counts up with every line, and stays where a line was cut within a sentence.
    pub(super) breath: usize,
    /// A number that belongs to the word before it, or a word that belongs to the number before it: "dry for ten seconds",
    /// "ten seconds of drying".
    pub(super) binds: bool,
    /// The unit the trainer asked for just before: "how long" for a number without a unit.
    pub(super) asked: Option<Unit>,
}

impl StreamToken {
    /// A number with the name of what it counts: "three passes".
    pub(super) fn counts_something(&self) -> bool {
        self.quantity.as_ref().is_some_and(|found| found.counted.is_some_and(|counted| counted != "times"))
    }
}

/// What the trainer said before a turn of the learner.
pub(super) struct Question {
    /// Its words.
    text: String,
    /// The learner's turn that follows.
    pub(super) turn: usize,
    /// Words of the question that some item has.
    pub(super) words: Vec<Likeness>,
    /// Quantities of the question.
    pub(super) quantities: Vec<Found>,
    /// It asks for a reason.
    pub(super) why: bool,
    /// It holds the answer and asks for a yes: "right?", "don't you".
    pub(super) leading: bool,
    /// It asks for something; "go on" does not.
    pub(super) asks: bool,
    /// The learner answers with "yes" and little else.
    pub(super) only_agreed: bool,
    /// The unit it asks for: "how long", "how much", "how many".
    pub(super) asked_unit: Option<Unit>,
    /// Place of the answer's first line.
    pub(super) first_line: Option<usize>,
}

/// Bytes before "steps" in which their number stands.
const BEFORE_STEPS: usize = 80;
/// Words after "not" that it is about.
const NOT_REACHES: usize = 3;
/// Words that a "not" is about and nothing behind them.
const NOT_ALONE: &[&str] = &["sure", "certain", "bad", "necessarily"];
/// Words after "because" that may be the reason.
const REASON_REACHES: usize = 12;
/// Words of a question that are shown beside the answer.
const SHOWN_OF_QUESTION: usize = 24;
/// Words after "yes" up to which a learner only agrees.
const AGREES_WITHIN: usize = 5;

impl Stream {
    pub(super) fn of(transcript: &Transcript, profile: &Profile) -> Stream {
        let mut stream = Stream {
            text: String::new(),
            lines: Vec::new(),
            tokens: Vec::new(),
            questions: Vec::new(),
            reach: Reach::default(),
        };
        let mut breath = 0;
        let mut memory = Memory::default();
        let mut turn = 0;
        let turns = speakers::turns(transcript);
        let flows = flows(&turns);
        for (at, (voice, line)) in turns.iter().enumerate() {
            match voice {
                Voice::Trainer => {
                    turn += 1;
                    // A stop keeps numbers of two turns apart.
                    stream.text.push_str(".\n");
                    stream.questions.push(question(&line.text, turn, profile, &mut memory));
                }
                Voice::Learner => {
                    stream.push(line, (turn, breath), profile, &mut memory);
                    let next = turns.get(at + 1).filter(|(voice, _)| *voice == Voice::Learner);
                    // What a new line begins with is seldom the end of what stood before, unless the line was cut in a sentence.
                    let goes_on = next.is_some_and(|(_, next)| flows || is_cut(&line.text, &next.text));
                    stream.text.push(if goes_on { ' ' } else { '\n' });
                    if !goes_on {
                        breath += 1;
                        stream.reach = Reach::default();
                    } else if !stream.reach.because {
                        stream.reach.of_reason = 0;
                    }
                }
            }
        }
        stream.put_in_quantities();
        stream.mark_answers();
        stream
    }

    fn push(&mut self, line: &SpokenLine, place: (usize, usize), profile: &Profile, memory: &mut Memory) {
        let (turn, breath) = place;
        let offset = self.text.len();
        let number = self.lines.len();
        let mut has_content = false;
        // First token behind the last "not" of the line.
        let (mut behind_not, mut is_out) = (None, false);
        let stems = stems(&line.text, profile, memory);
        // "If i blotted it the germs wouldn't die": neither done nor denied.
        let supposed = supposed_from(&line.text).map(|from| offset + from);
        let reach = &mut self.reach;
        for stem in stems {
            let word = line.text.get(stem.start..stem.end).unwrap_or("");
            match stem.role {
                // "Not one after the other without a rest": there is a rest.
                Role::Not => {
                    let cancels = reach.of_not > 0 && word.eq_ignore_ascii_case("without");
                    let behind = line.text.get(stem.end..).and_then(|rest| rest.split_whitespace().next());
                    let of_one = behind.is_some_and(|word| NOT_ALONE.contains(&word));
                    reach.of_not = match (cancels, is_out) {
                        (true, _) => 0,
                        // "If i'm not sure i feel for it".
                        _ if of_one || word.eq_ignore_ascii_case("without") => 1,
                        // "Cannulas are not for cultures": it is about what stands before it.
                        (false, true) => 1,
                        (false, false) => NOT_REACHES,
                    };
                    (reach.not_at, reach.is_no) = (offset + stem.start, word.eq_ignore_ascii_case("no"));
                    is_out = false;
                    behind_not = Some(self.tokens.len());
                }
                Role::Until => {
                    for token in self.tokens.iter_mut().skip(behind_not.take().unwrap_or(usize::MAX)) {
                        (token.open, token.negated) = (true, false);
                    }
                    reach.of_not = 0;
                }
                Role::IsOut => {
                    is_out = true;
                    // "Scissors or blades stay away": both.
                    let mut behind = None;
                    for token in self.tokens.iter_mut().rev().take_while(|token| token.line == number) {
                        let between = behind.map(|behind: usize| {
                            line.text.get(token.end - offset..behind - offset).unwrap_or("").trim().to_owned()
                        });
                        if between.is_some_and(|between| !matches!(between.as_str(), "or" | "and" | ",")) {
                            break;
                        }
                        (token.open, token.negated) = (true, false);
                        behind = Some(token.start);
                    }
                }
                Role::Because => {
                    (reach.of_reason, reach.because) = (REASON_REACHES, true);
                    // What is not to be done ends where the reason begins.
                    reach.of_not = 0;
                }
                Role::Yes => has_content = true,
                Role::And => reach.of_not = 0,
                Role::Content => {
                    has_content = true;
                    let start = offset + stem.start;
                    // "Without blowing or fanning": both.
                    let joined = self.tokens.last().filter(|last| {
                        last.line == number
                            && last.negated
                            && line
                                .text
                                .get(last.end - offset..stem.start)
                                .is_some_and(|between| between.trim() == "or")
                    });
                    if joined.is_some() {
                        reach.of_not = reach.of_not.max(1);
                    }
                    self.tokens.push(StreamToken {
                        stem: stem.stem,
                        like: stem.like,
                        quantity: None,
                        start,
                        end: offset + stem.end,
                        line: number,
                        turn,
                        negated: reach.of_not > 0,
                        not_at: reach.not_at,
                        described: reach.is_no && (1..NOT_REACHES).contains(&reach.of_not),
                        open: reach.of_reason > 0 || supposed.is_some_and(|from| start >= from),
                        because: reach.because,
                        gives_reason: reach.of_reason > 0,
                        starts_line: false,
                        breath,
                        binds: false,
                        asked: None,
                    });
                    reach.because = false;
                    reach.of_not = reach.of_not.saturating_sub(1);
                    reach.of_reason = reach.of_reason.saturating_sub(1);
                }
            }
        }
        self.text.push_str(&line.text);
        let SpokenLine { start_s, end_s, text, .. } = line;
        let (start_s, end_s, text) = (*start_s, *end_s, text.clone());
        self.lines.push(LearnerLine { text, start_s, end_s, offset, turn, has_content });
    }

    /// Quantities take the place of the words they are made of; a word that an item has stays beside its quantity
    /// ("bottle" in "10 mL in each bottle").
    fn put_in_quantities(&mut self) {
        let found = find_spoken(&self.text);
        let mut tokens = std::mem::take(&mut self.tokens);
        tokens.retain(|token| {
            let at = found.partition_point(|found| found.end <= token.start);
            let inside =
                found.get(at).is_some_and(|found| found.start <= token.start && token.end <= found.end);
            let word = self.text.get(token.start..token.end).unwrap_or("");
            let is_unit = names_unit(word) || matches!(word, "most" | "least" | "minimum" | "maximum");
            !inside || (!is_unit && token.like.iter().any(|likeness| likeness.share >= 1.0))
        });
        for quantity in found {
            let line = self.line_at(quantity.start);
            tokens.push(StreamToken {
                stem: String::new(),
                like: Vec::new(),
                start: quantity.start,
                end: quantity.end,
                line,
                turn: self.lines.get(line).map_or(0, |line| line.turn),
                negated: false,
                not_at: 0,
                described: false,
                open: false,
                because: false,
                gives_reason: false,
                starts_line: false,
                breath: 0,
                binds: false,
                asked: None,
                quantity: Some(quantity),
            });
        }
        tokens.sort_by_key(|token| (token.start, token.quantity.is_none()));
        let mut last = None;
        for at in 0..tokens.len() {
            let (before, rest) = tokens.split_at_mut(at);
            let token = &mut rest[0];
            token.starts_line = last != Some(token.line);
            last = Some(token.line);
            let Some(before) = before.last() else { continue };
            let between = self.text.get(before.end..token.start).unwrap_or("");
            if token.quantity.is_some() {
                let goes_on = !between.contains('\n');
                token.breath =
                    if goes_on || token.line == before.line { before.breath } else { before.breath + 1 };
                token.binds = goes_on && between.split_whitespace().next_back() == Some("for");
            } else if before.quantity.is_some() {
                let words = self.text.get(before.start..before.end).unwrap_or("");
                token.binds = token.start < before.end
                    || (between == " " && is_attributive(words))
                    || matches!(between.trim(), "of" | "of the")
                    || self.text.get(before.start..before.end).is_some_and(|words| words.contains(" of "));
            }
        }
        self.tokens = tokens;
    }

    fn mark_answers(&mut self) {
        for question in &mut self.questions {
            let first = self.lines.partition_point(|line| line.turn < question.turn);
            let first_line = self.lines.get(first).filter(|line| line.turn == question.turn).map(|_| first);
            let answer = first_line.map(|line| self.lines[line].text.to_lowercase()).unwrap_or_default();
            let mut words =
                answer.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty());
            let yes = words.next().is_some_and(|word| speakers::YES.contains(&word));
            question.first_line = first_line;
            // Lines and tokens stand in the order of the talk.
            let from = self.tokens.partition_point(|token| Some(token.line) < first_line);
            let to = self.tokens.partition_point(|token| Some(token.line) <= first_line);
            for token in &mut self.tokens[from..to] {
                token.asked = question.asked_unit;
                token.gives_reason |= question.why;
            }
            question.only_agreed = yes && words.count() <= AGREES_WITHIN;
        }
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
        let text = self.text.to_lowercase().replace("important steps", "steps").replace("big steps", "steps");
        // Only the words before "steps" can count them.
        let counts = text.match_indices("step").flat_map(|(at, _)| {
            let from = text.floor_char_boundary(at.saturating_sub(BEFORE_STEPS));
            let cuts_a_word = from > 0;
            let space = text[from..at].find(char::is_whitespace).filter(|_| cuts_a_word);
            let from = from + space.unwrap_or(0);
            let to =
                text[at..].find(|letter: char| !letter.is_alphanumeric()).map_or(text.len(), |end| at + end);
            find_spoken(&text[from..to])
        });
        let steps = counts.filter(|found| found.unit == Some(Unit::Count) && found.counted == Some("steps"));
        let numbers = steps.filter_map(|found| found.low.filter(|low| found.high == Some(*low)));
        let largest =
            numbers.fold(None, |most: Option<f64>, value| Some(most.map_or(value, |most| most.max(value))));
        largest.filter(|value| (1.0..=99.0).contains(value) && value.fract() == 0.0).map(|value| value as u32)
    }
}

/// True for "ten mil" in "ten mil syringe": its unit is in the singular, so that it describes what follows.
fn is_attributive(words: &str) -> bool {
    let last = words.split_whitespace().next_back().unwrap_or("");
    let one = words.starts_with("a ") || words.starts_with("one ");
    !one && matches!(
        last,
        "second" | "minute" | "hour" | "day" | "mil" | "ml" | "mL" | "millilitre" | "milliliter"
    )
}

/// Where a line begins to suppose what is not so: "if i blotted it the germs wouldn't die".
fn supposed_from(line: &str) -> Option<usize> {
    const WOULD: &[&str] =
        &["would", "wouldn't", "would've", "i'd", "you'd", "it'd", "they'd", "we'd", "could", "couldn't"];
    let lower = line.to_lowercase();
    let from = if lower.starts_with("if ") { 0 } else { lower.find(" if ")? };
    let behind = lower.get(from..)?;
    behind.split_whitespace().any(|word| WOULD.contains(&word)).then_some(from)
}

/// Words that no sentence ends with, and those that none begins with.
const NO_END: &[&str] = &[
    "a", "an", "and", "at", "be", "because", "but", "can", "don't", "every", "for", "from", "he", "i", "i'm",
    "if", "into", "is", "its", "it's", "my", "of", "or", "per", "she", "than", "that's", "the", "their",
    "they", "to", "we", "when", "will", "with", "you", "your",
];
const NO_START: &[&str] = &["of", "than", "seconds", "minutes", "hours", "mils", "least", "more"];
/// Share of a learner's lines cut within a sentence from which all lines are taken to be cut without regard to sentences; and the
/// share that is enough where most lines are of one length.
const CUT_FROM: f64 = 0.25;
const CUT_FROM_IF_EVEN: f64 = 0.08;
const EVEN_FROM: f64 = 0.7;

/// True for a line that ends within a sentence.
fn is_cut(line: &str, next: &str) -> bool {
    let last = line.split_whitespace().next_back().unwrap_or("");
    let first = next.split_whitespace().next().unwrap_or("");
    NO_END.iter().any(|word| last.eq_ignore_ascii_case(word))
        || NO_START.iter().any(|word| first.eq_ignore_ascii_case(word))
}

/// True for talk whose lines are cut without regard to sentences.
fn flows(turns: &[(Voice, SpokenLine)]) -> bool {
    let inner = turns.windows(2).filter(|pair| pair.iter().all(|(voice, _)| *voice == Voice::Learner));
    let cut: Vec<bool> = inner.map(|pair| is_cut(&pair[0].1.text, &pair[1].1.text)).collect();
    let of_learner = turns.iter().filter(|(voice, _)| *voice == Voice::Learner);
    let mut lengths: Vec<usize> = of_learner.map(|(_, line)| line.text.split_whitespace().count()).collect();
    lengths.sort_unstable();
    let middle = lengths.get(lengths.len() / 2).copied().unwrap_or(0);
    let even = lengths.iter().filter(|length| length.abs_diff(middle) <= 1).count();
    let share = |n: usize, of: usize| if of == 0 { 0.0 } else { n as f64 / of as f64 };
    let n_cut = cut.iter().filter(|cut| **cut).count();
    let is_even = share(even, lengths.len()) >= EVEN_FROM;
    n_cut >= 2 && share(n_cut, cut.len()) >= if is_even { CUT_FROM_IF_EVEN } else { CUT_FROM }
}

impl Question {
    /// The words just before the answer; of a long one the last, with a mark where it was cut.
    pub(super) fn last_words(&self) -> String {
        let words: Vec<&str> = self.text.split_whitespace().collect();
        let from = words.len().saturating_sub(SHOWN_OF_QUESTION);
        let cut = if from > 0 { "… " } else { "" };
        format!("{cut}{}", words[from..].join(" "))
    }
}

fn question(text: &str, turn: usize, profile: &Profile, memory: &mut Memory) -> Question {
    let words = stems(text, profile, memory).into_iter().flat_map(|stem| stem.like).collect();
    let why = speakers::asks_why(text);
    Question {
        text: text.to_owned(),
        turn,
        words,
        quantities: find_spoken(text),
        why,
        leading: speakers::leads(text),
        asks: !speakers::only_encourages(text),
        only_agreed: false,
        asked_unit: speakers::unit_asked(text),
        first_line: None,
    }
}
