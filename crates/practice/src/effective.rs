//! Corrections: what stands now, and what it replaced.

use std::collections::BTreeMap;

use crate::event::{Event, EventId, EventKind, History};

/// An event as it stands now, with what it replaced.
#[derive(Debug, Clone, PartialEq)]
pub struct StandingEvent<'a> {
    /// The event that holds: the first writing, or its latest correction.
    pub event: &'a Event,
    /// The event as it was first written; the same as `event` when nothing was corrected.
    pub first: &'a Event,
    /// Every earlier writing, oldest first; empty when nothing was corrected.
    pub replaced: Vec<&'a Event>,
}

/// Events that stand, in the order in which they happened; what happened at the same minute stays in the order it
/// was recorded. An event entered in error is not among them.
pub fn standing_events(history: &History) -> Vec<StandingEvent<'_>> {
    let mut events: Vec<_> =
        chains(history).into_iter().filter(|chain| chain.event.kind != EventKind::EnteredInError).collect();
    // A stable sort: `chains` gives the order recorded.
    events.sort_by_key(|chain| chain.event.happened);
    events
}

/// Events that were corrected, each with what stands in its place, in the order first recorded.
pub fn corrected_events(history: &History) -> Vec<StandingEvent<'_>> {
    chains(history).into_iter().filter(|chain| !chain.replaced.is_empty()).collect()
}

/// Every event with its corrections, in the order first recorded. A correction of a correction belongs to the first
/// writing; the one recorded last holds.
fn chains(history: &History) -> Vec<StandingEvent<'_>> {
    let mut chain_of: BTreeMap<&EventId, usize> = BTreeMap::new();
    let mut chains: Vec<StandingEvent<'_>> = Vec::new();
    for event in &history.events {
        // A correction of something that is not before it in the history stands for itself.
        let earlier = event.corrects.as_ref().and_then(|id| chain_of.get(id).copied());
        match earlier {
            Some(place) => {
                let chain = &mut chains[place];
                chain.replaced.push(chain.event);
                chain.event = event;
                chain_of.insert(&event.id, place);
            }
            None => {
                chain_of.insert(&event.id, chains.len());
                chains.push(StandingEvent { event, first: event, replaced: Vec::new() });
            }
        }
    }
    chains
}
