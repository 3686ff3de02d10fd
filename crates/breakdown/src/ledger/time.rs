//! Contact, drying and waiting times, and the shortest the job can take.

use quantity::{Seconds, Stated, Unit};

use super::amounts::{Amounts, Use};
use crate::model::{Breakdown, ItemId};

/// What a time is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeUse {
    /// An antiseptic must touch what it cleans.
    Contact,
    /// It must dry.
    Dry,
    /// Pressing, holding, waiting.
    Wait,
}

/// One time that must pass.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeEntry {
    /// Its key point.
    pub item: ItemId,
    /// What it is for.
    pub used_for: TimeUse,
    /// As the breakdown states it.
    pub stated: Stated,
    /// Least time.
    pub at_least: Seconds,
}

/// Times that must pass, and their sums. Times that are limits ("at most 1 min") are not among them.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeLedger {
    /// In reading order.
    pub entries: Vec<TimeEntry>,
    /// Shortest time if one thing is done after another. Handling comes on top.
    pub one_after_another: Seconds,
    /// Shortest time if different things wait side by side: bottle tops dry while the skin is cleaned. The longest
    /// chain of contact and drying of one thing. Handling comes on top.
    pub side_by_side: Seconds,
}

/// Contact, drying and waiting times of a job.
pub fn time(breakdown: &Breakdown) -> TimeLedger {
    let mut entries = Vec::new();
    let mut chains: Vec<(String, Seconds)> = Vec::new();
    for amount in &Amounts::of(breakdown).0 {
        let used_for = match amount.used_for {
            Use::Contact => TimeUse::Contact,
            Use::Dry => TimeUse::Dry,
            Use::Wait => TimeUse::Wait,
            _ => continue,
        };
        let least = amount.quantity.low.filter(|_| amount.quantity.unit == Unit::Second);
        let Some(at_least) = least.and_then(|low| Seconds::from_s(low).ok()) else { continue };
        let thing = thing(amount.quantity);
        match chains.iter_mut().find(|(known, _)| *known == thing) {
            Some((_, sum)) => *sum += at_least,
            None => chains.push((thing, at_least)),
        }
        let number = |index: usize| u16::try_from(index + 1).unwrap_or(u16::MAX);
        let item = ItemId::key_point(number(amount.index.0), number(amount.index.1));
        entries.push(TimeEntry { item, used_for, stated: amount.quantity.clone(), at_least });
    }
    TimeLedger {
        one_after_another: entries.iter().map(|entry| entry.at_least).sum(),
        side_by_side: chains.into_iter().map(|(_, sum)| sum).fold(Seconds::ZERO, Seconds::max),
        entries,
    }
}

/// "skin" of "skin contact" and "skin dry".
fn thing(quantity: &Stated) -> String {
    let what = quantity.what.as_deref().unwrap_or("");
    what.rsplit_once(' ').map_or(String::new(), |(thing, _)| thing.to_owned())
}
