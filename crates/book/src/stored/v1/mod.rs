//! Version 1 of every stored form. FROZEN: field names, their order and the words of the choices may not change.

mod breakdowns;
mod cultures;
mod people;
mod reports;
mod rules;
mod teachbacks;

use culture::CultureSet;
use jiff::civil::{Date, DateTime};
use practice::EventKind;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::StoredError;
use crate::entry::Body;
use crate::store::{KnownSet, Stands};

/// A choice stored as a word, with both directions of the conversion: leaving out a case does not compile.
macro_rules! words {
    ($name:ident for $domain:ty { $($case:ident = $word:literal),+ $(,)? }) => {
        #[derive(Debug, Clone, Copy, serde::Serialize, serde::Deserialize)]
        pub(in crate::stored) enum $name { $(#[serde(rename = $word)] $case),+ }

        impl From<$domain> for $name {
            fn from(value: $domain) -> Self {
                match value { $(<$domain>::$case => $name::$case),+ }
            }
        }

        impl From<$name> for $domain {
            fn from(value: $name) -> Self {
                match value { $($name::$case => <$domain>::$case),+ }
            }
        }
    };
}
pub(super) use words;

pub(super) use cultures::Set as StoredSet;
pub(super) use people::Draw;
pub(super) use teachbacks::{StoredMark as StoredSaidMark, TeachBack as StoredTeachBack};

pub(super) const TAKEN_IN: &str = "laboratory-file-taken-in";

/// An entry that says nothing beyond its kind.
#[derive(serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Nothing {}

pub(super) fn kind(body: &Body) -> &'static str {
    match body {
        Body::LaboratoryFileTakenIn(_) => TAKEN_IN,
        Body::ReportPublished(_) => "report-published",
        Body::Practice(kind) => match kind {
            EventKind::PersonAdded(_) => "person-added",
            EventKind::BreakdownPublished(_) => "breakdown-published",
            EventKind::Planned { .. } => "planned",
            EventKind::Demonstrated { .. } => "demonstrated",
            EventKind::TeachBackHeard { .. } => "teach-back-heard",
            EventKind::DrawObserved(_) => "draw-observed",
            EventKind::SpotChecked(_) => "spot-checked",
            EventKind::Released(_) => "released",
            EventKind::Withdrawn { .. } => "withdrawn",
            EventKind::NotYet { .. } => "not-yet",
            EventKind::ConfidenceSaid { .. } => "confidence-said",
            EventKind::RulePublished { .. } => "rule-published",
            EventKind::RefresherDone { .. } => "refresher-done",
            EventKind::PersonLeft { .. } => "person-left",
            EventKind::EnteredInError => "entered-in-error",
        },
    }
}

pub(super) fn encode(body: &Body) -> Result<String, StoredError> {
    match body {
        Body::LaboratoryFileTakenIn(taken_in) => text(&reports::TakenIn::from(taken_in)),
        Body::ReportPublished(report) => text(&reports::Report::store(report)?),
        Body::Practice(kind) => match kind {
            EventKind::PersonAdded(person) => text(&people::PersonAdded::from(person)),
            EventKind::BreakdownPublished(breakdown) => text(&breakdowns::Breakdown::store(breakdown)?),
            EventKind::Planned { person, job, by } => text(&people::Planned::store(person, job, *by)),
            EventKind::Demonstrated { person, job, version }
            | EventKind::RefresherDone { person, job, version, .. } => {
                text(&people::OnVersion::store(person, job, *version))
            }
            EventKind::TeachBackHeard { person, teachback } => {
                text(&teachbacks::TeachBack::store(person, teachback)?)
            }
            EventKind::DrawObserved(draw) => text(&people::Draw::from(draw)),
            EventKind::SpotChecked(check) => text(&people::Draw::from(&check.0)),
            EventKind::Released(release) => text(&people::Release::from(release)),
            EventKind::Withdrawn { person, job, reason } => {
                text(&people::Withdrawn::store(person, job, reason))
            }
            EventKind::NotYet { person, job, reason } => text(&people::Withdrawn::store(person, job, reason)),
            EventKind::ConfidenceSaid { person, job, clean_of_ten } => {
                text(&people::Confidence::store(person, job, *clean_of_ten))
            }
            EventKind::RulePublished { rule, why } => text(&rules::Rule::store(rule, why)?),
            EventKind::PersonLeft { person } => text(&people::PersonLeft::store(person)),
            EventKind::EnteredInError => text(&Nothing {}),
        },
    }
}

pub(super) fn decode(kind: &str, text: &str) -> Result<Body, StoredError> {
    let practice = match kind {
        TAKEN_IN => {
            return Ok(Body::LaboratoryFileTakenIn(parsed::<reports::TakenIn>(kind, text)?.into()));
        }
        "report-published" => {
            return Ok(Body::ReportPublished(parsed::<reports::Report>(kind, text)?.restore()?));
        }
        "person-added" => EventKind::PersonAdded(parsed::<people::PersonAdded>(kind, text)?.restore()?),
        "breakdown-published" => {
            EventKind::BreakdownPublished(Box::new(parsed::<breakdowns::Breakdown>(kind, text)?.restore()?))
        }
        "planned" => parsed::<people::Planned>(kind, text)?.restore()?,
        "demonstrated" => {
            let (person, job, version) = parsed::<people::OnVersion>(kind, text)?.restore();
            EventKind::Demonstrated { person, job, version }
        }
        "teach-back-heard" => parsed::<teachbacks::TeachBack>(kind, text)?.restore()?,
        "draw-observed" => EventKind::DrawObserved(parsed::<people::Draw>(kind, text)?.restore()?),
        "spot-checked" => {
            EventKind::SpotChecked(practice::SpotCheck(parsed::<people::Draw>(kind, text)?.restore()?))
        }
        "released" => EventKind::Released(parsed::<people::Release>(kind, text)?.into()),
        "withdrawn" => parsed::<people::Withdrawn>(kind, text)?.restore(),
        "not-yet" => parsed::<people::Withdrawn>(kind, text)?.restore_not_yet(),
        "confidence-said" => parsed::<people::Confidence>(kind, text)?.restore()?,
        "rule-published" => parsed::<rules::Rule>(kind, text)?.restore()?,
        "refresher-done" => {
            let (person, job, version) = parsed::<people::OnVersion>(kind, text)?.restore();
            EventKind::RefresherDone { person, job, version, reason: None }
        }
        "person-left" => parsed::<people::PersonLeft>(kind, text)?.restore(),
        "entered-in-error" => {
            parsed::<Nothing>(kind, text)?;
            EventKind::EnteredInError
        }
        _ => return Err(StoredError::UnknownKind { kind: kind.to_owned(), version: 1 }),
    };
    Ok(Body::Practice(practice))
}

pub(super) fn encode_set(set: &CultureSet) -> Result<String, StoredError> {
    text(&cultures::Set::store(set)?)
}

pub(super) fn decode_set(text: &str) -> Result<CultureSet, StoredError> {
    parsed::<cultures::Set>(super::SET, text)?.restore()
}

pub(super) fn encode_split_set(set: &CultureSet, stands: &Stands) -> Result<String, StoredError> {
    text(&cultures::SplitSet::store(set, stands)?)
}

pub(super) fn decode_split_set(text: &str) -> Result<KnownSet, StoredError> {
    parsed_as::<cultures::SplitSet>(super::SET, 2, text)?.restore()
}

pub(super) fn text(value: &impl Serialize) -> Result<String, StoredError> {
    serde_json::to_string(value)
        .map_err(|error| StoredError::Value { what: "body", found: error.to_string() })
}

fn parsed<T: DeserializeOwned>(kind: &str, text: &str) -> Result<T, StoredError> {
    parsed_as(kind, 1, text)
}

pub(super) fn parsed_as<T: DeserializeOwned>(kind: &str, version: i64, text: &str) -> Result<T, StoredError> {
    serde_json::from_str(text).map_err(|error| StoredError::Shape {
        kind: kind.to_owned(),
        version,
        detail: error.to_string(),
    })
}

fn date(what: &'static str, text: &str) -> Result<Date, StoredError> {
    text.parse().map_err(|_| StoredError::Value { what, found: text.to_owned() })
}

fn date_time(what: &'static str, text: &str) -> Result<DateTime, StoredError> {
    text.parse().map_err(|_| StoredError::Value { what, found: text.to_owned() })
}

/// JSON has no NaN and no infinity; neither has the book.
pub(super) fn finite(what: &'static str, value: Option<f64>) -> Result<Option<f64>, StoredError> {
    match value {
        Some(number) if !number.is_finite() => Err(StoredError::Value { what, found: number.to_string() }),
        _ => Ok(value),
    }
}

/// Reads an item of a breakdown: `3`, `3.2`, `3.2r`.
pub(super) fn item(text: &str) -> Result<breakdown::ItemId, StoredError> {
    breakdown::ItemId::parse(text)
        .ok_or_else(|| StoredError::Value { what: "item of a breakdown", found: text.to_owned() })
}
