//! The sentences of every finding: what was found, what was expected, what to do.

use crate::check::{MOST_KEY_POINTS, MOST_STEPS, USUAL_STEPS};
use crate::fault::{Fault, FaultKind};
use crate::keyword::Keyword;
use crate::read::{LARGEST_FILE_BYTES, quoted};

/// Name and sentences of one finding.
struct Sentences {
    name: &'static str,
    found: String,
    expected: String,
    to_do: String,
}

impl Fault {
    /// Short stable name, as the format's description lists it: `no-reason`.
    pub fn name(&self) -> &'static str {
        self.kind.sentences().name
    }

    /// What was found.
    pub fn found(&self) -> String {
        self.kind.sentences().found
    }

    /// What was expected instead.
    pub fn expected(&self) -> String {
        self.kind.sentences().expected
    }

    /// What to do.
    pub fn to_do(&self) -> String {
        self.kind.sentences().to_do
    }
}

fn say(
    name: &'static str,
    found: impl Into<String>,
    expected: impl Into<String>,
    to_do: impl Into<String>,
) -> Sentences {
    Sentences { name, found: found.into(), expected: expected.into(), to_do: to_do.into() }
}

impl FaultKind {
    fn sentences(&self) -> Sentences {
        self.about_the_file()
            .or_else(|| self.about_the_lines())
            .or_else(|| self.about_quantities())
            .unwrap_or_else(|| self.about_the_job())
    }

    fn about_the_file(&self) -> Option<Sentences> {
        Some(match self {
            FaultKind::Empty => say(
                "empty",
                "the file holds nothing but blank lines and comments",
                "a line such as \"job: Blood culture from a vein\" and at least one step",
                "write the breakdown, or check that this is the right file",
            ),
            FaultKind::NotText => say(
                "not-text",
                "control characters, as in a word-processor, picture or spreadsheet file",
                "plain text",
                "save the breakdown as plain text (\".txt\", encoding UTF-8) and try that file",
            ),
            FaultKind::TooLarge { bytes } => say(
                "too-large",
                format!("{bytes} bytes"),
                format!("at most {LARGEST_FILE_BYTES} bytes"),
                "check that this is the right file; a breakdown is a few pages of text",
            ),
            FaultKind::EncodingAssumed { name } => say(
                "encoding-assumed",
                format!("the file does not say its encoding; it was read as {name}"),
                "UTF-8",
                "look whether letters such as é or ä came out right; saving the file as UTF-8 ends this advice",
            ),
            FaultKind::UnknownKeyword { keyword, nearest } => say(
                "unknown-keyword",
                format!("\"{keyword}:\" is not a keyword"),
                match nearest {
                    Some(nearest) => format!("perhaps \"{nearest}:\""),
                    None => "one of job, code, version, effective, author, approved by, change (major), change (minor), \
                             caution, supply, words, step, key point, safety point, knack, reason, quantity, order"
                        .to_owned(),
                },
                "write the keyword; if the line continues the one above, indent it and start it with another word",
            ),
            FaultKind::NoKeyword { text } => say(
                "no-keyword",
                format!("{} starts with no keyword", quoted(text)),
                "a keyword and a colon, or an indented line that continues the one above",
                "put \"key point:\", \"reason:\" or another keyword in front, or indent the line",
            ),
            FaultKind::NoText { keyword } => say(
                "no-text",
                format!("nothing after \"{keyword}:\""),
                format!("the {keyword} in words"),
                "write it, or take the line out",
            ),
            FaultKind::Twice { keyword, first_line } => say(
                "twice",
                format!("\"{keyword}:\" stands here again; the first is on line {first_line} and was kept"),
                "each of job, code, version, effective, author, approved by and change once",
                "take one of the two lines out; a second job goes into a second file",
            ),
            FaultKind::OutOfPlace { keyword, needs } => say(
                "out-of-place",
                format!("\"{keyword}:\" with no \"{needs}:\" above it"),
                format!("a {keyword} under its {needs}"),
                format!("put the line under its {needs}, or write \"{needs}:\" above it"),
            ),
            FaultKind::LabelNotHere { keyword } => say(
                "label-not-here",
                format!("a label in brackets after \"{keyword}\""),
                "labels on key points, safety points and knacks only",
                "take the brackets out, or give the label to the key point it belongs to",
            ),
            FaultKind::BadLabel { label } => say(
                "bad-label",
                format!("label {}", quoted(label)),
                "at most 40 small letters, digits and hyphens, such as [dry]",
                "shorten the label to one word",
            ),
            FaultKind::LabelTwice { label, first_line } => say(
                "label-twice",
                format!("label [{label}] again; it already stands on line {first_line}"),
                "each label once in a job",
                "give one of the two another label, and check the order lines that use it",
            ),
            _ => return None,
        })
    }

    fn about_the_lines(&self) -> Option<Sentences> {
        Some(match self {
            FaultKind::BadCode { code } => say(
                "bad-code",
                format!("code {}", quoted(code)),
                "at most 40 small letters, digits and hyphens, such as central-line",
                "write a short name without spaces; records refer to the job by it",
            ),
            FaultKind::BadVersion { text } => say(
                "bad-version",
                format!("version {}", quoted(text)),
                "a whole number from 1",
                "write 1 for the first version and count up by one for each that is published",
            ),
            FaultKind::BadDate { text } => say(
                "bad-date",
                format!("date {}", quoted(text)),
                "year-month-day, such as 2026-03-02",
                "write the day from which this version is in force",
            ),
            FaultKind::BadChange => say(
                "bad-change",
                "\"change:\" without saying which kind",
                "\"change (major):\" for safety or sequence, \"change (minor):\" for wording",
                "a major change asks everyone released on the older version to be updated; choose one",
            ),
            FaultKind::BadCount { text } => say(
                "bad-count",
                format!("supply {}", quoted(text)),
                "a count of 1 to 1000",
                "write for example \"supply: 2 x winged set\"",
            ),
            FaultKind::BadWords { text } => say(
                "bad-words",
                format!("{} is not a list of words for one thing", quoted(text)),
                "two or more words joined by \"=\"",
                "write for example \"words: scrub = clean = prep\"",
            ),
            FaultKind::BadOrder { text } => say(
                "bad-order",
                format!("{} is not an order of labels", quoted(text)),
                "labels joined by \"before\"",
                "write for example \"order: dry before puncture\"; the labels stand in brackets at their key points",
            ),
            FaultKind::UnknownLabel { label, nearest } => say(
                "unknown-label",
                format!("the order names \"{label}\", which no key point has as its label"),
                match nearest {
                    Some(nearest) => format!("perhaps \"{nearest}\""),
                    None => "a label that stands in brackets at a key point".to_owned(),
                },
                format!("correct the label, or write \"key point [{label}]:\" at its key point"),
            ),
            FaultKind::OrderToItself { label } => say(
                "order-to-itself",
                format!("\"{label}\" before itself"),
                "two different labels",
                "name the key point that comes first and the one that must follow",
            ),
            FaultKind::OrderImpossible { first, then } => say(
                "order-impossible",
                format!(
                    "\"{first}\" before \"{then}\", but the order lines above put \"{then}\" before \"{first}\""
                ),
                "orders that can all hold at once",
                "take the order out that is wrong",
            ),
            FaultKind::OrderAgainstSteps { first, then } => say(
                "order-against-steps",
                format!("\"{first}\" must come before \"{then}\", but stands after it in this file"),
                "key points in the order that binds",
                "move the key point or its step, or turn the order round",
            ),
            FaultKind::WordTwice { word, first_line } => say(
                "word-twice",
                format!("\"{word}\" also stands in the words of line {first_line}"),
                "each word in one line of words",
                "put the two lines together, or take the word out of one",
            ),
            _ => return None,
        })
    }

    fn about_quantities(&self) -> Option<Sentences> {
        Some(match self {
            FaultKind::QuantityWithoutUnit { text } => say(
                "quantity-without-unit",
                format!("{} has a number and no unit", quoted(text)),
                "a unit: mL, s, min, h, or a thing that is counted such as bottles or sets",
                "write the unit, and per what: \"fill 8 to 10 mL per bottle\"",
            ),
            FaultKind::BadQuantity { text, why, try_this } => say(
                "bad-quantity",
                format!("{}: {why}", quoted(text)),
                match try_this {
                    Some(word) => format!("perhaps \"{word}\""),
                    None => "what it is, a number or range, a unit, and per what: \"skin dry at least 30 s\""
                        .to_owned(),
                },
                "write one quantity per line; what cannot be put so belongs in the words of the key point",
            ),
            FaultKind::QuantitiesDisagree { what, here, there, first_line } => say(
                "quantities-disagree",
                format!("{what} {here} here, {what} {there} on line {first_line}"),
                "one number for one thing",
                "correct one of the two; if they are different things, name them apart, such as \"skin dry\" and \"tops dry\"",
            ),
            FaultKind::TextDisagrees { said, quantity } => say(
                "text-disagrees",
                format!("the words say {}, the quantity below says {}", quoted(said), quoted(quantity)),
                "the same number in both",
                "correct one of the two; a learner is judged on the quantity line",
            ),
            FaultKind::QuantityNotMarked { said } => say(
                "quantity-not-marked",
                format!("the words name {} and no quantity line says so", quoted(said)),
                "a quantity line for a number the learner must know",
                format!(
                    "add \"quantity: {said}\" under the key point, with what it is in front; or leave it if it is only told"
                ),
            ),
            FaultKind::DoesNotAddUp { parts, sum, stated, first_line } => say(
                "does-not-add-up",
                format!("{stated} here, but {parts} (line {first_line}) make {sum}"),
                format!("a volume within {sum}"),
                "correct the volume, the fill per bottle, or the number of bottles or sets",
            ),
            _ => return None,
        })
    }

    fn about_the_job(&self) -> Sentences {
        match self {
            FaultKind::Missing { keyword } => say(
                "missing",
                format!("no \"{keyword}:\" line"),
                match keyword {
                    Keyword::Code => "a short name such as \"code: vein\"",
                    Keyword::Version => "a whole number such as \"version: 1\"",
                    _ => "the name of the job such as \"job: Blood culture from a vein\"",
                },
                "write the line at the top of the file; records refer to it",
            ),
            FaultKind::NotYetGiven { keyword } => say(
                "not-yet-given",
                format!("no \"{keyword}:\" line"),
                "who wrote it, who approved it, from which day it holds, and what changed",
                "add the line before the breakdown is published",
            ),
            FaultKind::NoSteps => say(
                "no-steps",
                "no important step",
                "5 to 7 important steps (usual in Job Instruction)",
                "write \"step:\" and what happens in a verb and a noun, such as \"step: Clean the skin\"",
            ),
            FaultKind::StepWithoutKeyPoints { step } => say(
                "step-without-key-points",
                format!("step {} has no key point", quoted(step)),
                "what makes or breaks it, could injure someone, or makes it easier",
                "add a key point, or make it part of the step before",
            ),
            FaultKind::StepTwice { step, first_line } => say(
                "step-twice",
                format!("step {} again; it already stands on line {first_line}", quoted(step)),
                "each step once, each with a name of its own",
                "put the two together, or name them apart",
            ),
            FaultKind::KeyPointTwice { text, first_line } => say(
                "key-point-twice",
                format!("key point {} again; it already stands on line {first_line}", quoted(text)),
                "each key point once",
                "take one out, or say what is different the second time",
            ),
            FaultKind::TooManySteps { n_steps } => say(
                "too-many-steps",
                format!("{n_steps} important steps; this is number {}", MOST_STEPS + 1),
                format!("at most {MOST_STEPS}; 5 to {USUAL_STEPS} are usual"),
                "put small steps together, or split the job into two breakdowns that are taught apart",
            ),
            FaultKind::ManySteps { n_steps } => say(
                "many-steps",
                format!("{n_steps} important steps; this is number {}", USUAL_STEPS + 1),
                format!("5 to {USUAL_STEPS} are usual"),
                "see whether two steps belong together; more than can be mastered at once is not learned",
            ),
            FaultKind::TooManyKeyPoints { step, n_points } => say(
                "too-many-key-points",
                format!(
                    "step {} has {n_points} key points; this is number {}",
                    quoted(step),
                    MOST_KEY_POINTS + 1
                ),
                format!("at most {MOST_KEY_POINTS} in one step"),
                "split the step, or keep only what makes or breaks it, could injure, or is a knack",
            ),
            FaultKind::NoSafetyPoint => say(
                "no-safety-point",
                "no safety point in the whole job",
                "at least one: drawing blood can hurt the patient and the person drawing",
                "write what could injure someone as \"safety point:\", with its reason",
            ),
            FaultKind::NoCaution => say(
                "no-caution",
                "no caution",
                "a caution above everything else, such as that local policy comes first",
                "add \"caution:\" near the top of the file",
            ),
            FaultKind::NoReason { text } => say(
                "no-reason",
                format!("key point {} has no reason", quoted(text)),
                "why it is a key point: people keep to what they know the reason of",
                "add \"reason:\" under it; a key point nobody can give a reason for may not be one",
            ),
            FaultKind::ReasonRepeats { reason } => say(
                "reason-repeats",
                format!("reason {} only repeats its key point", quoted(reason)),
                "what happens if it is not done so",
                "say what would go wrong for the patient, the result or the person drawing",
            ),
            // The other kinds have their sentences above.
            _ => say("fault", format!("{self:?}"), "a sound breakdown", "look at the line"),
        }
    }
}
