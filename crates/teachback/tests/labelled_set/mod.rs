//! The labelled set of `crates/teachback/labelled`, read for tests and for the example that writes it out. Its README
//! says what the files mean.

pub mod noise;
pub mod truth;

use std::path::{Path, PathBuf};

use breakdown::{Breakdown, ItemId, parse};
use teachback::{SpokenLine, Transcript};

/// Words a second, as in ordinary talk.
const WORDS_PER_S: f64 = 2.5;
/// Seconds between two lines.
const GAP_S: f64 = 0.6;

/// Which part of the set a transcript belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Tuning,
    Test,
    /// A second test part, written later, with many wrong numbers and opposites.
    SecondTest,
    /// A third, written last: a third of it ordinary talk, a third wrong, a third with a trainer's questions.
    ThirdTest,
    /// A fourth, written and kept before the errors on the first three were looked at.
    FourthTest,
}

/// One transcript with its labels.
#[derive(Debug, Clone)]
pub struct Case {
    pub name: String,
    pub job: String,
    pub same: bool,
    pub steps: Option<u32>,
    pub order: Vec<(String, String)>,
    pub names: bool,
    pub merge: bool,
    pub cut: Option<usize>,
    pub lines: Vec<Line>,
}

#[derive(Debug, Clone)]
pub struct Line {
    pub trainer: bool,
    pub text: String,
    pub tags: Vec<String>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("labelled")
}

/// The breakdown a transcript is of.
pub fn job(code: &str) -> Breakdown {
    let of_set = folder().join("jobs").join(format!("{code}.txt"));
    let of_project =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../breakdowns").join(format!("{code}.txt"));
    let path = if of_set.exists() { of_set } else { of_project };
    let text = std::fs::read_to_string(&path).expect("a breakdown of the labelled set");
    parse(&text).breakdown.expect("a sound breakdown")
}

/// Every job of the set.
pub const JOBS: [&str; 5] = ["vein", "central-line", "glucose", "suction", "dressing"];

/// Every transcript of one part.
pub fn cases(part: Part) -> Vec<Case> {
    let name = match part {
        Part::Tuning => "tuning",
        Part::Test => "test",
        Part::SecondTest => "test-2",
        Part::ThirdTest => "test-3",
        Part::FourthTest => "test-4",
    };
    let mut cases = Vec::new();
    for code in JOBS {
        let path = folder().join(name).join(format!("{code}.txt"));
        let text = std::fs::read_to_string(&path).expect("a file of the labelled set");
        cases.extend(text.split("\n## ").skip(1).map(case));
    }
    cases
}

fn case(block: &str) -> Case {
    let mut lines = block.lines();
    let mut case = Case {
        name: lines.next().expect("a name").trim().to_owned(),
        job: String::new(),
        same: true,
        steps: None,
        order: Vec::new(),
        names: true,
        merge: false,
        cut: None,
        lines: Vec::new(),
    };
    for line in lines.map(str::trim).filter(|line| !line.is_empty()) {
        if case.lines.is_empty()
            && let Some((key, value)) = line.split_once(": ")
        {
            match key {
                "job" => case.job = value.to_owned(),
                "same" => case.same = value != "no",
                "steps" => case.steps = Some(value.parse().expect("a number of steps")),
                "names" => case.names = value != "no",
                "merge" => case.merge = value == "yes",
                "cut" => case.cut = Some(value.parse().expect("a number of words")),
                "order" => {
                    let pairs = value.split(", ").map(|pair| pair.split_once('>').expect("first>then"));
                    case.order = pairs.map(|(one, two)| (one.to_owned(), two.to_owned())).collect();
                }
                _ => panic!("{}: unknown key {key}", case.name),
            }
            continue;
        }
        let (text, tags) = line.split_once('|').unwrap_or((line, ""));
        let (trainer, text) = match (text.strip_prefix("L "), text.strip_prefix("T ")) {
            (Some(text), _) => (false, text),
            (_, Some(text)) => (true, text),
            _ => (true, text),
        };
        let tags = tags.split(',').map(str::trim).filter(|tag| !tag.is_empty()).map(str::to_owned).collect();
        case.lines.push(Line { trainer, text: text.trim().to_owned(), tags });
    }
    case
}

/// A label: how one item was said, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    pub item: ItemId,
    /// "unprompted", "prompted", "led", "partial", "wrong", "opposite" or "missed".
    pub mark: String,
    /// Seconds at which its line starts.
    pub at_s: Option<f64>,
    /// Every word of its line that makes a quantity came through; true where it has no line.
    pub recognised: bool,
}

/// A transcript as a recogniser might write it, and when each line of the case starts.
pub struct Written {
    pub transcript: Transcript,
    pub starts: Vec<f64>,
    /// For each line of the case, whether its quantity words came through: [`recognised`].
    pub recognised: Vec<bool>,
}

impl Case {
    /// The transcript with this share of its words made wrong.
    pub fn written(&self, share: f64, seed: u64) -> Written {
        let mut noise = noise::Noise::new(share, seed, &self.name);
        let (mut now, mut starts, mut came_through) = (1.0, Vec::new(), Vec::new());
        let mut timed: Vec<(bool, f64, f64, Vec<String>)> = Vec::new();
        for line in &self.lines {
            let words = noise.apply(&line.text);
            let end = now + words.len().max(1) as f64 / WORDS_PER_S;
            starts.push(now);
            came_through.push(recognised(&line.text, &words));
            timed.push((line.trainer, now, end, words));
            now = end + GAP_S;
        }
        if let Some(length) = self.cut {
            timed = cut(&timed, length);
        }
        let mut lines: Vec<SpokenLine> = Vec::new();
        let mut open: Option<(f64, Vec<String>)> = None;
        for (trainer, start, end, mut words) in timed {
            let mut start = start;
            if self.merge {
                if trainer {
                    open = Some((start, words));
                    continue;
                }
                if let Some((asked_at, question)) = open.take() {
                    (start, words) = (asked_at, [question, words].concat());
                }
            }
            let speaker = (self.names && !self.merge)
                .then(|| if trainer { "Trainer".to_owned() } else { "Learner".to_owned() });
            if !words.is_empty() {
                lines.push(SpokenLine {
                    start_s: Some(start),
                    end_s: Some(end),
                    speaker,
                    text: words.join(" "),
                });
            }
        }
        Written { transcript: Transcript { lines }, starts, recognised: came_through }
    }
}

/// Lines of one speaker joined and cut again every `length` words, across sentences.
fn cut(timed: &[(bool, f64, f64, Vec<String>)], length: usize) -> Vec<(bool, f64, f64, Vec<String>)> {
    let mut lines: Vec<(bool, f64, f64, Vec<String>)> = Vec::new();
    for (trainer, start, end, words) in timed {
        for (at, word) in words.iter().enumerate() {
            let from = start + (end - start) * at as f64 / words.len() as f64;
            let to = start + (end - start) * (at + 1) as f64 / words.len() as f64;
            match lines.last_mut().filter(|last| last.0 == *trainer && last.3.len() < length) {
                Some(last) => {
                    last.2 = to;
                    last.3.push(word.clone());
                }
                None => lines.push((*trainer, from, to, vec![word.clone()])),
            }
        }
    }
    lines
}

/// Words that make a quantity: numbers, units, and what is counted per. Written for this set, not taken from the reader.
const QUANTITY_WORDS: &str = "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen \
seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred half quarter quarters single once twice \
second seconds sec secs minute minutes hour hours day days week weeks mil mils ml millilitre millilitres centimetre centimetres mmol \
per each every bottle bottles set sets site sites attempt attempts try tries pass passes identifier identifiers";

/// True where all words of a line that make a quantity stand in what the recogniser wrote, whole and in their order. This is
/// what "when the words were recognised" means in the figures on quantities.
pub fn recognised(line: &str, written: &[String]) -> bool {
    let lower = line.to_lowercase();
    let plain = |word: &str| word.trim_matches([',', '.', '?', ':']).to_owned();
    let makes_quantity = |word: &String| {
        word.starts_with(|letter: char| letter.is_ascii_digit())
            || QUANTITY_WORDS.split_whitespace().any(|known| known == word)
    };
    let mut written = written.iter();
    lower.split_whitespace().map(plain).filter(makes_quantity).all(|word| written.any(|other| *other == word))
}
