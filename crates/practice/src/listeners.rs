//! Passes of a teach-back that two people heard.

use breakdown::{ItemId, JobCode};
use jiff::civil::Date;
use teachback::{Mark, TeachBack};

use crate::effective::standing_events;
use crate::event::{EventKind, History};
use crate::versions::Versions;

/// One pass with the marks of two who listened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SaidPair {
    /// Items that both marked: the mark of the listener recorded first, then the other's.
    pub marks: Vec<(ItemId, Mark, Mark)>,
}

/// Passes of a job that two people heard, on versions that are current on a day.
///
/// Two entries are of one pass when the same person said back the same version from the same minute on and two others
/// each wrote down what they heard. A third listener is not paired.
pub fn paired_teach_backs(history: &History, job: &JobCode, today: Date) -> Vec<SaidPair> {
    let events = standing_events(history);
    let versions = Versions::read(&events);
    let mut heard: Vec<_> = events
        .iter()
        .filter(|known| known.event.happened.date() <= today)
        .filter_map(|known| match &known.event.kind {
            EventKind::TeachBackHeard { person, teachback }
                if teachback.job == *job && known.event.by != *person =>
            {
                Some((known.event, person, teachback))
            }
            _ => None,
        })
        .filter(|(_, _, teachback)| versions.is_current(job, teachback.version, today))
        .collect();
    let mut pairs = Vec::new();
    while !heard.is_empty() {
        let (first, person, one) = heard.remove(0);
        let second = heard.iter().position(|(other, who, teachback)| {
            *who == person
                && other.by != first.by
                && teachback.version == one.version
                && minute(other.happened) == minute(first.happened)
        });
        if let Some(second) = second {
            let (_, _, other) = heard.remove(second);
            pairs.push(SaidPair { marks: in_both(one, other) });
        }
    }
    pairs
}

fn minute(at: jiff::civil::DateTime) -> (Date, i8, i8) {
    (at.date(), at.hour(), at.minute())
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
