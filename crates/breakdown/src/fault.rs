//! What can be wrong with a breakdown file: a place and the values behind it. The sentences are in `wording`.

use crate::keyword::Keyword;

/// Whether the file can be used as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Must be put right before the breakdown is published.
    Fault,
    /// Worth a look; the breakdown can be published.
    Advice,
}

/// Place in a breakdown file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Hash)]
pub struct Place {
    /// Line, counted from 1; 0 where no line is to blame.
    pub line: usize,
    /// Character within the line, counted from 1; 0 for the whole line.
    pub column: usize,
}

/// One finding about a breakdown file.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Where.
    pub place: Place,
    /// What.
    pub kind: FaultKind,
}

/// Every finding, with the values its sentences need.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum FaultKind {
    /// Nothing but blank lines and comments.
    Empty,
    /// Control characters that no text file has.
    NotText,
    /// More bytes than any breakdown needs.
    TooLarge { bytes: usize },
    /// The file does not say its encoding, and one was assumed.
    EncodingAssumed { name: &'static str },
    /// `resaon:` for `reason:`.
    UnknownKeyword { keyword: String, nearest: Option<Keyword> },
    /// Text at the left margin without a keyword.
    NoKeyword { text: String },
    /// A keyword with nothing after it.
    NoText { keyword: Keyword },
    /// A keyword that may stand once stands again.
    Twice { keyword: Keyword, first_line: usize },
    /// A key point before any step, a reason or quantity before any key point.
    OutOfPlace { keyword: Keyword, needs: Keyword },
    /// A label on a line that takes none.
    LabelNotHere { keyword: Keyword },
    /// A label with other signs than small letters, digits and hyphens.
    BadLabel { label: String },
    /// A label used twice.
    LabelTwice { label: String, first_line: usize },
    /// A code with other signs than small letters, digits and hyphens.
    BadCode { code: String },
    /// A version that is not a whole number from 1.
    BadVersion { text: String },
    /// A date that is not one, or not written year-month-day.
    BadDate { text: String },
    /// `change:` without major or minor.
    BadChange,
    /// A supply count of 0 or beyond 1,000.
    BadCount { text: String },
    /// `words:` with fewer than two words.
    BadWords { text: String },
    /// `order:` that is not "label before label".
    BadOrder { text: String },
    /// A `quantity:` without a unit.
    QuantityWithoutUnit { text: String },
    /// A `quantity:` that was not understood.
    BadQuantity { text: String, why: String, try_this: Option<&'static str> },
    /// `job`, `code` or `version` is missing.
    Missing { keyword: Keyword },
    /// `author`, `approved by`, `effective` or `change` is missing.
    NotYetGiven { keyword: Keyword },
    /// No important step at all.
    NoSteps,
    /// A step that says nothing of how.
    StepWithoutKeyPoints { step: String },
    /// Two steps of the same name.
    StepTwice { step: String, first_line: usize },
    /// Two key points with the same words.
    KeyPointTwice { text: String, first_line: usize },
    /// More than nine steps.
    TooManySteps { n_steps: usize },
    /// Eight or nine steps.
    ManySteps { n_steps: usize },
    /// More than five key points in one step.
    TooManyKeyPoints { step: String, n_points: usize },
    /// No safety point in the whole job.
    NoSafetyPoint,
    /// No caution in the whole job.
    NoCaution,
    /// A key point without a reason.
    NoReason { text: String },
    /// A reason that adds no word to its key point.
    ReasonRepeats { reason: String },
    /// The same thing with two numbers.
    QuantitiesDisagree { what: String, here: String, there: String, first_line: usize },
    /// The words of a key point and its `quantity:` line disagree.
    TextDisagrees { said: String, quantity: String },
    /// A key point names a quantity in its words and has no `quantity:` line for it.
    QuantityNotMarked { said: String },
    /// Volume per bottle times bottles is not the volume per set, and the like.
    DoesNotAddUp { parts: String, sum: String, stated: String, first_line: usize },
    /// `order:` names a label no key point has.
    UnknownLabel { label: String, nearest: Option<String> },
    /// `order:` sets a key point before itself.
    OrderToItself { label: String },
    /// `order:` lines that cannot all hold.
    OrderImpossible { first: String, then: String },
    /// `order:` against the order of the steps in this file.
    OrderAgainstSteps { first: String, then: String },
    /// One word in two `words:` groups.
    WordTwice { word: String, first_line: usize },
}

impl Fault {
    /// A finding at a place.
    pub fn new(place: Place, kind: FaultKind) -> Fault {
        Fault { place, kind }
    }

    /// Whether it must be put right first.
    pub fn severity(&self) -> Severity {
        match self.kind {
            FaultKind::EncodingAssumed { .. }
            | FaultKind::NotYetGiven { .. }
            | FaultKind::StepWithoutKeyPoints { .. }
            | FaultKind::KeyPointTwice { .. }
            | FaultKind::ManySteps { .. }
            | FaultKind::NoCaution
            | FaultKind::QuantityNotMarked { .. }
            | FaultKind::WordTwice { .. } => Severity::Advice,
            _ => Severity::Fault,
        }
    }
}

impl Place {
    /// A whole line.
    pub fn line(line: usize) -> Place {
        Place { line, column: 0 }
    }
}
