//! Version 3 of the stored form of sets: with the time to positivity that the laboratory's instrument gave. FROZEN, as
//! versions 1 and 2 are.
//!
//! A set of which no time is known is stored in version 1 or 2, as it always was.

use culture::{CultureSet, SetId};
use serde::{Deserialize, Serialize};

use super::v1::{self, parsed_as, text};
use super::{SET, StoredError};
use crate::store::{KnownSet, Stands};

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Timed {
    set: v1::StoredSet,
    positive_after_s: Option<u32>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TimedSet {
    timed: Timed,
    halves: Option<[Timed; 2]>,
    part_of: Option<String>,
}

/// Whether a time is known of the set or of one of its halves.
pub(super) fn is_timed(set: &CultureSet, stands: &Stands) -> bool {
    let of_a_half = match stands {
        Stands::Joined(halves) => halves.iter().any(|half| half.positive_after_s.is_some()),
        Stands::Alone | Stands::PartOf(_) => false,
    };
    set.positive_after_s.is_some() || of_a_half
}

pub(super) fn encode(set: &CultureSet, stands: &Stands) -> Result<String, StoredError> {
    let (halves, part_of) = match stands {
        Stands::Alone => (None, None),
        Stands::Joined(halves) => {
            let [first, second] = halves.as_ref();
            (Some([Timed::store(first)?, Timed::store(second)?]), None)
        }
        Stands::PartOf(whole) => (None, Some(whole.0.clone())),
    };
    text(&TimedSet { timed: Timed::store(set)?, halves, part_of })
}

pub(super) fn decode(text: &str) -> Result<KnownSet, StoredError> {
    let stored: TimedSet = parsed_as(SET, 3, text)?;
    let stands = match (stored.halves, stored.part_of) {
        (Some([first, second]), None) => Stands::Joined(Box::new([first.restore()?, second.restore()?])),
        (None, Some(whole)) => Stands::PartOf(SetId(whole)),
        (None, None) => Stands::Alone,
        (Some(_), Some(whole)) => {
            let found = format!("two halves, and part of {whole}");
            return Err(StoredError::Value { what: "how a number stands to the sets", found });
        }
    };
    Ok(KnownSet { set: stored.timed.restore()?, stands })
}

impl Timed {
    fn store(set: &CultureSet) -> Result<Self, StoredError> {
        Ok(Timed { set: v1::StoredSet::store(set)?, positive_after_s: set.positive_after_s })
    }

    fn restore(self) -> Result<CultureSet, StoredError> {
        Ok(CultureSet { positive_after_s: self.positive_after_s, ..self.set.restore()? })
    }
}
