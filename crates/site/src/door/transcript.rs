//! What the page that confirms a transcript asks the program.

use breakdown::Breakdown;
use teachback::{Proposed, SpokenLine, StepPace, Unmatched};

use super::{DeskError, Refusal};

/// Holds what was handed in against a breakdown.
pub trait TranscriptDesk {
    /// Reads a transcript, or what `wardwright teachback --json` printed, and proposes a mark for every item.
    fn hear(&self, breakdown: &Breakdown, handed_in: &[u8]) -> Result<HandedIn, DeskError>;
}

/// What became of what was handed in.
#[derive(Debug, Clone, PartialEq)]
pub enum HandedIn {
    /// It could not be read, and why; nothing was proposed.
    Unreadable(Vec<Refusal>),
    /// Proposals, with everything that helps to decide on them.
    Heard(Box<HeardFrom>),
}

/// Proposals, with everything that helps to decide on them.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardFrom {
    /// What was handed in as text, line ends as one sign: the page carries it until it is saved.
    pub text: String,
    /// The proposals, as the book would keep them, with the digest of the text and without the text.
    pub proposed: Proposed,
    /// Every line of the transcript; empty where only proposals were handed in.
    pub lines: Vec<SpokenLine>,
    /// What was said just before an item that seems to have been asked for, where the transcript has it.
    pub before: Vec<(breakdown::ItemId, String)>,
    /// Talk that belongs to no item.
    pub unmatched: Vec<Unmatched>,
    /// Pace and long pauses.
    pub pace: Vec<StepPace>,
    /// False when too little of this job was heard.
    pub same_job: bool,
    /// Why it counts as this job or not.
    pub same_job_because: String,
    /// What could not be read; the rest was.
    pub faults: Vec<Refusal>,
}
