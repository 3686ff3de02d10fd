//! What the program proposed for a pass, kept beside what the trainer decided.

use breakdown::ItemId;

use crate::hear::{HeardAs, Hearing, Proposal};
use crate::mark::{Mark, TeachBack};
use crate::outcome::OrderError;

/// What the program proposed for one pass.
///
/// It holds the words that each proposal rests on and no others: a recording may hold a patient's name, and the book
/// is kept for years.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposed {
    /// Program and version that proposed, such as "wardwright 0.1.0".
    pub program: String,
    /// SHA-256 of the transcript's text in lower-case hexadecimal, so that it can be known again; `None` where it was
    /// not at hand.
    pub transcript_sha256: Option<String>,
    /// The whole transcript, only where the trainer chose to keep it.
    pub transcript: Option<String>,
    /// Confidence below which the trainer was asked to listen; 0 to 1.
    pub listen_below: f64,
    /// One for every item of the breakdown, in its order.
    pub items: Vec<ProposedItem>,
    /// How many important steps the learner said there are.
    pub steps_named: Option<u32>,
    /// Binding orders that seemed turned round.
    pub order_errors: Vec<OrderError>,
}

/// What was proposed for one item.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposedItem {
    /// Which item.
    pub item: ItemId,
    /// Proposed mark.
    pub mark: Mark,
    /// What it rests on.
    pub heard_as: HeardAs,
    /// Seconds from the start of the recording, where known.
    pub at_s: Option<f64>,
    /// Words it rests on; `None` for what was surely not heard.
    pub heard: Option<String>,
    /// Quantity the breakdown expects.
    pub expected_quantity: Option<String>,
    /// Quantity that was heard.
    pub heard_quantity: Option<String>,
    /// Probability that the mark is the one a trainer gives; 0 to 1.
    pub confidence: f64,
    /// The trainer was asked to listen here.
    pub listen: bool,
}

/// One proposal beside what was decided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared<'a> {
    /// What was proposed.
    pub proposed: &'a ProposedItem,
    /// What the trainer decided; `None` where the item was left unjudged.
    pub decided: Option<Mark>,
}

impl Proposed {
    /// What a hearing proposes, without the transcript.
    pub fn of(hearing: &Hearing, listen_below: f64, program: impl Into<String>) -> Proposed {
        Proposed {
            program: program.into(),
            transcript_sha256: None,
            transcript: None,
            listen_below,
            items: hearing.proposals.iter().map(ProposedItem::of).collect(),
            steps_named: hearing.steps_named,
            order_errors: hearing.order_errors.clone(),
        }
    }

    /// The proposal for an item.
    pub fn item(&self, item: ItemId) -> Option<&ProposedItem> {
        self.items.iter().find(|proposed| proposed.item == item)
    }
}

impl ProposedItem {
    fn of(proposal: &Proposal) -> ProposedItem {
        // What came nearest to an item that was surely not heard helps nobody, and its words are not kept.
        let is_heard = proposal.heard_as != HeardAs::NotHeard || proposal.listen;
        ProposedItem {
            item: proposal.item,
            mark: proposal.mark,
            heard_as: proposal.heard_as,
            at_s: proposal.at_s.filter(|_| is_heard),
            heard: proposal.heard.clone().filter(|_| is_heard),
            expected_quantity: proposal.expected_quantity.clone(),
            heard_quantity: proposal.heard_quantity.clone(),
            confidence: proposal.confidence,
            listen: proposal.listen,
        }
    }

    /// Whether the trainer must decide this one by itself: the confidence is low, or the proposed mark says that
    /// something false was said. All others may be confirmed together.
    pub fn needs_a_look(&self) -> bool {
        self.listen || matches!(self.mark, Mark::Wrong | Mark::Unsafe)
    }

    /// The time of the words, where the proposal says that the item was said.
    pub fn said_at_s(&self) -> Option<f64> {
        self.at_s.filter(|_| self.heard_as != HeardAs::NotHeard)
    }
}

impl Compared<'_> {
    /// Whether the trainer decided otherwise; an item left unjudged was not decided.
    pub fn differs(&self) -> bool {
        self.decided.is_some_and(|decided| decided != self.proposed.mark)
    }
}

impl TeachBack {
    /// Every proposal beside what was decided, in the breakdown's order; empty for a pass without a transcript.
    ///
    /// Where an item bears more than one mark, the worst counts, as everywhere.
    pub fn compared(&self) -> Vec<Compared<'_>> {
        let proposals = self.proposed.iter().flat_map(|proposed| &proposed.items);
        proposals
            .map(|proposed| {
                let marks = self.items.iter().filter(|item| item.item == proposed.item);
                Compared { proposed, decided: marks.map(|item| item.mark).max() }
            })
            .collect()
    }
}

impl HeardAs {
    /// Everything a proposal can rest on.
    pub const ALL: [HeardAs; 7] = [
        HeardAs::Said,
        HeardAs::AfterPrompt,
        HeardAs::Led,
        HeardAs::InPart,
        HeardAs::OtherQuantity,
        HeardAs::Opposite,
        HeardAs::NotHeard,
    ];

    /// The one word by which files and `--json` call it; it never changes.
    pub fn name(self) -> &'static str {
        match self {
            HeardAs::Said => "said",
            HeardAs::AfterPrompt => "after_prompt",
            HeardAs::Led => "led",
            HeardAs::InPart => "in_part",
            HeardAs::OtherQuantity => "other_quantity",
            HeardAs::Opposite => "opposite",
            HeardAs::NotHeard => "not_heard",
        }
    }

    /// What a name stands for.
    pub fn from_name(name: &str) -> Option<HeardAs> {
        HeardAs::ALL.into_iter().find(|heard_as| heard_as.name() == name)
    }
}
