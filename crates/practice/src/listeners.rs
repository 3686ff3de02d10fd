//! Passes of a teach-back that two people heard.

use breakdown::{ItemId, JobCode};
use jiff::civil::Date;
use teachback::{Mark, TeachBack};

use crate::effective::{StandingEvent, standing_events};
use crate::event::History;
use crate::passes::passes;
use crate::versions::Versions;

/// One pass with the marks of two who listened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SaidPair {
    /// Items that both marked: the mark of the first listener, then the other's.
    pub marks: Vec<(ItemId, Mark, Mark)>,
}

/// Passes of a job that two people heard, on versions that are current on a day; [`crate::heard_passes`] says which
/// entries are of one pass. A third listener is not paired.
pub fn paired_teach_backs(history: &History, job: &JobCode, today: Date) -> Vec<SaidPair> {
    let events = standing_events(history);
    let versions = Versions::read(&events);
    let happened: Vec<StandingEvent<'_>> =
        events.into_iter().filter(|known| known.event.happened.date() <= today).collect();
    let passes = passes(&happened);
    let of_job = passes
        .iter()
        .filter(|pass| pass.counted.job == *job && versions.is_current(job, pass.counted.version, today));
    of_job
        .filter_map(|pass| match pass.listened.as_slice() {
            [first, second, ..] => Some(SaidPair { marks: in_both(first.teachback, second.teachback) }),
            _ => None,
        })
        .collect()
}

/// The last mark of each item that both have.
fn in_both(one: &TeachBack, other: &TeachBack) -> Vec<(ItemId, Mark, Mark)> {
    let last = |pass: &TeachBack, item: ItemId| {
        pass.items.iter().rev().find(|said| said.item == item).map(|said| said.mark)
    };
    let mut items: Vec<ItemId> = one.items.iter().map(|said| said.item).collect();
    items.sort_unstable();
    items.dedup();
    items.into_iter().filter_map(|item| Some((item, last(one, item)?, last(other, item)?))).collect()
}
