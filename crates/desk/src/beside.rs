//! What stands beside the marks of a pass: another listener's marks, and what the program proposed.

use breakdown::{Breakdown, ItemId, JobCode};
use practice::{HeardPass, heard_passes};
use teachback::{Compared, CountOf, Mark, TeachBack};

use crate::facts::Desk;
use crate::rate::rate;
use crate::teach_back::{PractisePoint, practise_point};
use crate::view::Rate;

/// A pass that others heard too.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardTogether {
    /// Everybody who heard it, the first listener first: the entry and the name.
    pub listeners: Vec<(String, String)>,
    /// Items that the first two marked alike, of those that both marked. Every item counts, so there is no interval.
    pub alike: CountOf,
    /// Items on which they differ: the first listener's mark, the second's, and the worse one, which counts.
    pub differed: Vec<(PractisePoint, Mark, Mark, Mark)>,
}

/// One proposal beside the decision.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposalRow {
    /// The item.
    pub point: PractisePoint,
    /// What the program proposed.
    pub proposed: Mark,
    /// What it rested on, in words.
    pub heard_as: &'static str,
    /// Probability that the mark is the trainer's, as the program gave it; 0 to 1.
    pub confidence: f64,
    /// The trainer was asked to listen.
    pub listen: bool,
    /// Seconds from the start of the recording.
    pub at_s: Option<f64>,
    /// Words it rests on.
    pub heard: Option<String>,
    /// Quantity heard and quantity expected, where both are known.
    pub quantities: Option<(String, String)>,
    /// What the trainer decided; `None` where the item was left unjudged.
    pub decided: Option<Mark>,
}

/// What the program proposed for a pass, and where the trainer decided otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposalsBeside {
    /// Program and version.
    pub program: String,
    /// SHA-256 of the transcript, where known.
    pub transcript_sha256: Option<String>,
    /// The whole transcript, where the trainer kept it.
    pub transcript: Option<String>,
    /// Sure proposals that were decided otherwise, of the sure ones that were decided. Every item counts: no interval.
    pub sure_changed: CountOf,
    /// The same of those where the trainer was asked to listen.
    pub unsure_changed: CountOf,
    /// Items the trainer left unjudged.
    pub left: usize,
    /// Where proposal and decision differ, in the breakdown's order.
    pub differing: Vec<ProposalRow>,
    /// All others.
    pub others: Vec<ProposalRow>,
    /// How many important steps the learner said there are, and how many the breakdown has.
    pub steps_named: Option<(u32, usize)>,
    /// Binding orders that the program heard turned round: what was said before what must come first.
    pub turned_round: Vec<(PractisePoint, PractisePoint)>,
}

/// How often trainers decided otherwise than the program proposed, over all passes of a job with a transcript.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposalsChanged {
    /// Passes that were marked on a transcript.
    pub passes: u64,
    /// Proposals that were sure, and decided otherwise.
    pub sure: Rate,
    /// Proposals where the trainer was asked to listen, and decided otherwise.
    pub unsure: Rate,
    /// Versions of the program that proposed.
    pub programs: Vec<String>,
}

impl Desk {
    /// The pass an entry is of.
    pub(crate) fn pass_of(&self, entry: &str) -> Option<HeardPass<'_>> {
        let entry = practice::EventId(entry.to_owned());
        heard_passes(&self.material.history).into_iter().find(|pass| pass.holds(&entry))
    }

    pub(crate) fn together(&self, breakdown: &Breakdown, pass: &HeardPass<'_>) -> Option<HeardTogether> {
        let [first, second, ..] = pass.listened.as_slice() else { return None };
        let mark = |heard: &TeachBack, item: ItemId| {
            heard.items.iter().rev().find(|said| said.item == item).map(|said| said.mark)
        };
        let both: Vec<(ItemId, Mark, Mark)> = breakdown
            .items()
            .iter()
            .filter_map(|item| {
                Some((item.id, mark(first.teachback, item.id)?, mark(second.teachback, item.id)?))
            })
            .collect();
        let listeners = pass.listened.iter();
        Some(HeardTogether {
            listeners: listeners
                .map(|listened| (listened.event.id.0.clone(), self.name_of(&listened.event.by)))
                .collect(),
            alike: CountOf { n: both.iter().filter(|(_, one, other)| one == other).count(), of: both.len() },
            differed: both
                .into_iter()
                .filter(|(_, one, other)| one != other)
                .map(|(item, one, other)| {
                    (practise_point(breakdown, item, String::new()), one, other, one.max(other))
                })
                .collect(),
        })
    }

    /// How often proposals for a job were changed; `None` where no pass was marked on a transcript.
    pub(crate) fn proposals_changed(&self, job: &JobCode) -> Option<ProposalsChanged> {
        let passes = heard_passes(&self.material.history);
        let marked: Vec<&TeachBack> = passes
            .iter()
            .filter(|pass| pass.counted.job == *job)
            .flat_map(|pass| &pass.listened)
            .map(|listened| listened.teachback)
            .filter(|heard| heard.proposed.is_some())
            .collect();
        if marked.is_empty() {
            return None;
        }
        let decided: Vec<Compared<'_>> =
            marked.iter().flat_map(|heard| heard.compared()).filter(|each| each.decided.is_some()).collect();
        let changed = |listen: bool, of_what: &str| {
            let of = decided.iter().filter(|each| each.proposed.listen == listen);
            let n = of.clone().filter(|each| each.differs()).count() as u64;
            rate(n, of.count() as u64, "decided otherwise", of_what)
        };
        let mut programs: Vec<String> = marked
            .iter()
            .filter_map(|heard| heard.proposed.as_deref().map(|proposed| proposed.program.clone()))
            .collect();
        programs.sort_unstable();
        programs.dedup();
        Some(ProposalsChanged {
            passes: marked.len() as u64,
            sure: changed(false, "sure proposals that were decided"),
            unsure: changed(true, "proposals with “listen here” that were decided"),
            programs,
        })
    }
}

/// The proposals of a pass beside its decisions; `None` where it was marked without a transcript.
pub(crate) fn proposals_beside(breakdown: &Breakdown, heard: &TeachBack) -> Option<ProposalsBeside> {
    let proposed = heard.proposed.as_deref()?;
    let compared = heard.compared();
    let changed = |listen: bool| {
        let decided = compared.iter().filter(|each| each.proposed.listen == listen && each.decided.is_some());
        CountOf { n: decided.clone().filter(|each| each.differs()).count(), of: decided.count() }
    };
    let point = |item: ItemId| practise_point(breakdown, item, String::new());
    let row = |each: &Compared<'_>| ProposalRow {
        point: point(each.proposed.item),
        proposed: each.proposed.mark,
        heard_as: each.proposed.heard_as.words(),
        confidence: each.proposed.confidence,
        listen: each.proposed.listen,
        at_s: each.proposed.at_s,
        heard: each.proposed.heard.clone(),
        quantities: each.proposed.heard_quantity.clone().zip(each.proposed.expected_quantity.clone()),
        decided: each.decided,
    };
    let (differing, others) = compared.iter().partition::<Vec<_>, _>(|each| each.differs());
    Some(ProposalsBeside {
        program: proposed.program.clone(),
        transcript_sha256: proposed.transcript_sha256.clone(),
        transcript: proposed.transcript.clone(),
        sure_changed: changed(false),
        unsure_changed: changed(true),
        left: compared.iter().filter(|each| each.decided.is_none()).count(),
        differing: differing.into_iter().map(row).collect(),
        others: others.into_iter().map(row).collect(),
        steps_named: proposed.steps_named.map(|named| (named, breakdown.steps.len())),
        turned_round: proposed
            .order_errors
            .iter()
            .map(|error| (point(error.then), point(error.first)))
            .collect(),
    })
}
