//! Version 2 of the stored form of refreshers: why or how one was done. FROZEN, as version 1 is.
//!
//! A refresher without such words is stored in version 1, as it always was.

use ::breakdown::{JobCode, Version};
use practice::{EventKind, PersonId};
use serde::{Deserialize, Serialize};

use super::StoredError;
use super::v1::text;
use crate::entry::Body;

/// Kind of the entries in this form.
pub(super) const KIND: &str = "refresher-done";

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Refreshed {
    person: String,
    job: String,
    version: u32,
    reason: String,
}

/// The text of a refresher with its reason; `None` for everything else.
pub(super) fn encode(body: &Body) -> Option<Result<String, StoredError>> {
    let Body::Practice(EventKind::RefresherDone { person, job, version, reason: Some(reason) }) = body else {
        return None;
    };
    Some(text(&Refreshed {
        person: person.0.clone(),
        job: job.0.clone(),
        version: version.0,
        reason: reason.clone(),
    }))
}

pub(super) fn decode(text: &str) -> Result<Body, StoredError> {
    let stored: Refreshed = serde_json::from_str(text).map_err(|error| StoredError::Shape {
        kind: KIND.to_owned(),
        version: 2,
        detail: error.to_string(),
    })?;
    Ok(Body::Practice(EventKind::RefresherDone {
        person: PersonId(stored.person),
        job: JobCode(stored.job),
        version: Version(stored.version),
        reason: Some(stored.reason),
    }))
}
