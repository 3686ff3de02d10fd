//! What one pass of a teach-back showed, and what is to be practised.

use std::collections::HashMap;
use std::fmt;

use breakdown::{Breakdown, ItemId, ItemKind, JobCode, KeyPointKind, Version};

use crate::mark::{Mark, TeachBack};
use crate::rule::PassRule;
use crate::said_order::binding_pairs;

/// So many of so many. Every item of the breakdown was counted, so there is no sample and no interval to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CountOf {
    /// How many.
    pub n: usize,
    /// Out of how many in the breakdown.
    pub of: usize,
}

/// What one pass showed.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// True when the pass is clean by the rule.
    pub clean: bool,
    /// Why it is not, in the order a trainer would say it; empty when it is clean.
    pub shortfalls: Vec<Shortfall>,
    /// Steps said unprompted or after a neutral question.
    pub steps_known: CountOf,
    /// Key points said without help.
    pub key_points_unprompted: CountOf,
    /// Key points said unprompted or after a neutral question.
    pub key_points_known: CountOf,
    /// Safety points said without help.
    pub safety_unprompted: CountOf,
    /// Reasons said unprompted or after a neutral question, of the key points that have one.
    pub reasons_known: CountOf,
    /// Safety points that were not said without help.
    pub safety_not_unprompted: Vec<ItemId>,
    /// Items by how they were said: prompted, led, partial, missed, wrong, unsafe.
    pub by_mark: HashMap<Mark, Vec<ItemId>>,
    /// Items that were marked better later in the pass than their mark that counts, with the last mark.
    pub put_right: Vec<(ItemId, Mark)>,
    /// Items of the breakdown that nobody judged.
    pub not_judged: Vec<ItemId>,
    /// Binding orders that were turned round.
    pub order_errors: Vec<OrderError>,
    /// Items that the breakdown does not have; a mark for them says nothing.
    pub unknown_items: Vec<ItemId>,
    /// What to practise, safety first.
    pub practise: Vec<Practise>,
}

/// A binding order that was turned round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct OrderError {
    /// What must come first.
    pub first: ItemId,
    /// What was said before it.
    pub then: ItemId,
}

/// One item to practise, and why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Practise {
    /// Which item.
    pub item: ItemId,
    /// True for a safety point, its reason included.
    pub safety: bool,
    /// Why.
    pub why: Why,
}

/// Why an item is to be practised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// It was said so, or not said.
    Said(Mark),
    /// It was said before what must come first.
    OutOfOrder,
    /// Nobody judged it.
    NotJudged,
}

/// One thing that keeps a pass from being clean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shortfall {
    /// Something unsafe was said: the pass stopped.
    Stopped { n: usize },
    /// Safety points that were not said without help.
    SafetyWithHelp { n: usize, of: usize },
    /// Steps that were not known.
    StepsNotKnown { n: usize, of: usize },
    /// Too few key points known.
    TooFewKnown { n: usize, of: usize, least: f64 },
    /// Something wrong was said and not put right.
    WrongOpen { n: usize },
    /// Binding orders turned round.
    OutOfOrder { n: usize },
    /// Safety points, steps or key points nobody judged.
    NotJudged { n: usize },
}

/// Why a pass cannot be held against a breakdown.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OutcomeError {
    /// Another job.
    #[error("the teach-back was of job \"{heard}\", the breakdown is of job \"{breakdown}\"")]
    OtherJob {
        /// Job of the teach-back.
        heard: JobCode,
        /// Job of the breakdown.
        breakdown: JobCode,
    },
    /// Another version: its items have other numbers.
    #[error("the teach-back was heard against version {heard}, the breakdown is version {breakdown}")]
    OtherVersion {
        /// Version of the teach-back.
        heard: Version,
        /// Version of the breakdown.
        breakdown: Version,
    },
}

/// What one pass showed against the version it was heard against.
///
/// Where an item was marked more than once, the worst mark counts, as it does for release: what was once said wrong may be
/// done wrong. [`Outcome::put_right`] shows what the learner ended with. Wrong on a safety point is unsafe, whichever of the two was marked.
pub fn outcome(breakdown: &Breakdown, pass: &TeachBack, rule: &PassRule) -> Result<Outcome, OutcomeError> {
    if pass.job != breakdown.code {
        return Err(OutcomeError::OtherJob { heard: pass.job.clone(), breakdown: breakdown.code.clone() });
    }
    if pass.version != breakdown.version {
        return Err(OutcomeError::OtherVersion { heard: pass.version, breakdown: breakdown.version });
    }
    let items: Vec<(ItemId, bool)> = breakdown
        .items()
        .into_iter()
        .map(|item| (item.id, item.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety)))
        .collect();
    let mut marks: HashMap<ItemId, Mark> = HashMap::new();
    let mut unknown_items = Vec::new();
    let mut last: HashMap<ItemId, Mark> = HashMap::new();
    for said in &pass.items {
        let Some((id, safety)) = items.iter().find(|(id, _)| *id == said.item) else {
            unknown_items.push(said.item);
            continue;
        };
        let mark = if *safety && said.mark == Mark::Wrong { Mark::Unsafe } else { said.mark };
        let worst = marks.entry(*id).or_insert(mark);
        *worst = mark.max(*worst);
        last.insert(*id, mark);
    }
    let mut put_right: Vec<(ItemId, Mark)> =
        last.into_iter().filter(|(item, mark)| marks.get(item).is_some_and(|worst| mark < worst)).collect();
    put_right.sort_unstable();
    let order_errors = order_errors(breakdown, pass, &marks);
    let mut outcome = tally(&items, &marks, order_errors);
    outcome.unknown_items = unknown_items;
    outcome.put_right = put_right;
    outcome.shortfalls = shortfalls(&outcome, rule);
    outcome.clean = outcome.shortfalls.is_empty();
    Ok(outcome)
}

impl Mark {
    /// Said right, without help or after one neutral question.
    pub fn is_known(self) -> bool {
        matches!(self, Mark::Unprompted | Mark::Prompted)
    }

    /// Said at all, right or wrong, in the learner's own time or led to it.
    pub fn is_said(self) -> bool {
        self != Mark::Missed
    }
}

impl Outcome {
    /// Items with a mark.
    pub fn marked(&self, mark: Mark) -> &[ItemId] {
        self.by_mark.get(&mark).map_or(&[], Vec::as_slice)
    }
}

/// Labels of binding orders against the order in which the items were last said.
fn order_errors(breakdown: &Breakdown, pass: &TeachBack, marks: &HashMap<ItemId, Mark>) -> Vec<OrderError> {
    let place = |id: ItemId| {
        let said = marks.get(&id).is_some_and(|mark| mark.is_said());
        said.then(|| pass.items.iter().rposition(|item| item.item == id)).flatten()
    };
    let turned_round = |(first, then)| (place(then)? < place(first)?).then_some(OrderError { first, then });
    binding_pairs(breakdown).into_iter().filter_map(turned_round).collect()
}

fn tally(items: &[(ItemId, bool)], marks: &HashMap<ItemId, Mark>, order_errors: Vec<OrderError>) -> Outcome {
    let of_kind = |kind: ItemKind| items.iter().filter(move |(id, _)| id.kind() == kind);
    let count = |kind: ItemKind, counts: &dyn Fn(Mark) -> bool| CountOf {
        n: of_kind(kind).filter(|(id, _)| marks.get(id).is_some_and(|mark| counts(*mark))).count(),
        of: of_kind(kind).count(),
    };
    let is_unprompted = |id: &ItemId| marks.get(id) == Some(&Mark::Unprompted);
    let safety: Vec<ItemId> =
        of_kind(ItemKind::KeyPoint).filter(|(_, safety)| *safety).map(|(id, _)| *id).collect();
    let safety_not_unprompted: Vec<ItemId> = safety.iter().filter(|id| !is_unprompted(id)).copied().collect();
    let mut by_mark: HashMap<Mark, Vec<ItemId>> = HashMap::new();
    let mut not_judged = Vec::new();
    let mut practise = Vec::new();
    for &(item, safety) in items {
        let why = match marks.get(&item) {
            Some(&mark) => {
                by_mark.entry(mark).or_default().push(item);
                Why::Said(mark)
            }
            None => {
                not_judged.push(item);
                Why::NotJudged
            }
        };
        let in_order = !order_errors.iter().any(|error| error.then == item);
        let needs_help = safety && item.kind() == ItemKind::KeyPoint;
        match why {
            Why::Said(Mark::Unprompted) if in_order => {}
            Why::Said(Mark::Prompted) if in_order && !needs_help => {}
            Why::Said(Mark::Unprompted | Mark::Prompted) if !in_order => {
                practise.push(Practise { item, safety, why: Why::OutOfOrder });
            }
            _ => practise.push(Practise { item, safety, why }),
        }
    }
    practise.sort_by_key(|entry| (rank(*entry), entry.item));
    Outcome {
        clean: false,
        shortfalls: Vec::new(),
        steps_known: count(ItemKind::Step, &Mark::is_known),
        key_points_unprompted: count(ItemKind::KeyPoint, &|mark| mark == Mark::Unprompted),
        key_points_known: count(ItemKind::KeyPoint, &Mark::is_known),
        safety_unprompted: CountOf { n: safety.len() - safety_not_unprompted.len(), of: safety.len() },
        reasons_known: count(ItemKind::Reason, &Mark::is_known),
        safety_not_unprompted,
        by_mark,
        put_right: Vec::new(),
        not_judged,
        order_errors,
        unknown_items: Vec::new(),
        practise,
    }
}

/// Lower is practised first: unsafe, other safety points, wrong, missed, out of order, led, partial, prompted, not
/// judged.
fn rank(entry: Practise) -> (u8, u8) {
    let urgency = match entry.why {
        Why::Said(Mark::Unsafe) => 0,
        Why::Said(Mark::Wrong) => 1,
        Why::Said(Mark::Missed) => 2,
        Why::OutOfOrder => 3,
        Why::Said(Mark::Led) => 4,
        Why::Said(Mark::Partial) => 5,
        Why::Said(Mark::Prompted) => 6,
        Why::NotJudged => 7,
        Why::Said(Mark::Unprompted) => 8,
    };
    (u8::from(urgency > 0 && !entry.safety), urgency)
}

fn shortfalls(outcome: &Outcome, rule: &PassRule) -> Vec<Shortfall> {
    let mut shortfalls = Vec::new();
    let n_of = |mark: Mark| outcome.marked(mark).len();
    if n_of(Mark::Unsafe) > 0 {
        shortfalls.push(Shortfall::Stopped { n: n_of(Mark::Unsafe) });
    }
    let CountOf { n, of } = outcome.safety_unprompted;
    if rule.safety_unprompted && n < of {
        shortfalls.push(Shortfall::SafetyWithHelp { n: of - n, of });
    }
    let CountOf { n, of } = outcome.steps_known;
    if n < of {
        shortfalls.push(Shortfall::StepsNotKnown { n: of - n, of });
    }
    let CountOf { n, of } = outcome.key_points_known;
    // Compared as counts with a hair of slack, so that 9 of 10 is 90 %.
    if (n as f64) < rule.least_known() * of as f64 - 1e-9 {
        shortfalls.push(Shortfall::TooFewKnown { n, of, least: rule.least_known() });
    }
    if n_of(Mark::Wrong) > 0 {
        shortfalls.push(Shortfall::WrongOpen { n: n_of(Mark::Wrong) });
    }
    if !outcome.order_errors.is_empty() {
        shortfalls.push(Shortfall::OutOfOrder { n: outcome.order_errors.len() });
    }
    let not_judged = outcome.not_judged.iter().filter(|id| id.kind() != ItemKind::Reason).count();
    if not_judged > 0 {
        shortfalls.push(Shortfall::NotJudged { n: not_judged });
    }
    shortfalls
}

impl fmt::Display for CountOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {}", self.n, self.of)
    }
}

impl fmt::Display for Shortfall {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Shortfall::Stopped { n } => {
                write!(f, "the pass stopped: something unsafe was said on {}", counted(*n, "point", "points"))
            }
            Shortfall::SafetyWithHelp { n, of } => {
                write!(f, "{n} of {of} safety points not said without help")
            }
            Shortfall::StepsNotKnown { n, of } => write!(f, "{n} of {of} important steps not known"),
            Shortfall::TooFewKnown { n, of, least } => {
                write!(f, "{n} of {of} key points known; the rule asks for {:.0} %", least * 100.0)
            }
            Shortfall::WrongOpen { n } => {
                write!(f, "{} said wrong and not put right", counted(*n, "point", "points"))
            }
            Shortfall::OutOfOrder { n } => {
                write!(f, "{} turned round", counted(*n, "binding order", "binding orders"))
            }
            Shortfall::NotJudged { n } => {
                write!(f, "{} not judged", counted(*n, "step or key point", "steps and key points"))
            }
        }
    }
}

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
