//! Teach-backs.

use breakdown::{JobCode, Version};
use practice::{EventKind, PersonId};
use serde::{Deserialize, Serialize};
use teachback::{Mark, TeachBackItem};

use super::{StoredError, finite, item, words};

words!(StoredMark for Mark {
    Unprompted = "unprompted", Prompted = "prompted", Led = "led", Partial = "partial", Missed = "missed",
    Wrong = "wrong", Unsafe = "unsafe",
});

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct HeardItem {
    item: String,
    mark: StoredMark,
    at_s: Option<f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::stored) struct TeachBack {
    person: String,
    job: String,
    version: u32,
    items: Vec<HeardItem>,
    note: Option<String>,
}

impl TeachBack {
    pub(in crate::stored) fn store(
        person: &PersonId,
        heard: &teachback::TeachBack,
    ) -> Result<Self, StoredError> {
        let heard_item = |heard: &TeachBackItem| {
            let at_s = finite("seconds from the start of the pass", heard.at_s)?;
            Ok(HeardItem { item: heard.item.to_string(), mark: heard.mark.into(), at_s })
        };
        Ok(TeachBack {
            person: person.0.clone(),
            job: heard.job.0.clone(),
            version: heard.version.0,
            items: heard.items.iter().map(heard_item).collect::<Result<_, StoredError>>()?,
            note: heard.note.clone(),
        })
    }

    pub(in crate::stored) fn restore(self) -> Result<EventKind, StoredError> {
        let heard_item = |heard: HeardItem| {
            Ok(TeachBackItem { item: item(&heard.item)?, mark: heard.mark.into(), at_s: heard.at_s })
        };
        let teachback = teachback::TeachBack {
            job: JobCode(self.job),
            version: Version(self.version),
            items: self.items.into_iter().map(heard_item).collect::<Result<_, StoredError>>()?,
            note: self.note,
            same_pass_as: None,
            proposed: None,
        };
        Ok(EventKind::TeachBackHeard { person: PersonId(self.person), teachback })
    }
}
