//! Version 2 of the stored form of teach-backs: another listener of the same pass, and what the program proposed beside
//! what was decided. FROZEN, as version 1 is.
//!
//! A pass that one person heard, without a transcript, is stored in version 1, as it always was.

use breakdown::ItemId;
use practice::EventKind;
use serde::{Deserialize, Serialize};
use teachback::{HeardAs, Mark, OrderError};

use super::StoredError;
use super::v1::{StoredSaidMark, StoredTeachBack, finite, item, text, words};
use crate::entry::Body;

/// Kind of the entries in this form.
pub(super) const KIND: &str = "teach-back-heard";

words!(StoredHeardAs for HeardAs {
    Said = "said", AfterPrompt = "after-prompt", Led = "led", InPart = "in-part",
    OtherQuantity = "other-quantity", Opposite = "opposite", NotHeard = "not-heard",
});

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ProposedItem {
    item: String,
    mark: StoredSaidMark,
    heard_as: StoredHeardAs,
    at_s: Option<f64>,
    heard: Option<String>,
    expected_quantity: Option<String>,
    heard_quantity: Option<String>,
    confidence: f64,
    listen: bool,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TurnedRound {
    first: String,
    then: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Proposed {
    program: String,
    transcript_sha256: Option<String>,
    transcript: Option<String>,
    listen_below: f64,
    items: Vec<ProposedItem>,
    steps_named: Option<u32>,
    order_errors: Vec<TurnedRound>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Said {
    heard: StoredTeachBack,
    same_pass_as: Option<String>,
    proposed: Option<Proposed>,
}

/// The text of a teach-back with more than one listener's marks; `None` for everything else.
pub(super) fn encode(body: &Body) -> Option<Result<String, StoredError>> {
    let Body::Practice(EventKind::TeachBackHeard { person, teachback }) = body else { return None };
    if teachback.same_pass_as.is_none() && teachback.proposed.is_none() {
        return None;
    }
    let said = || {
        text(&Said {
            heard: StoredTeachBack::store(person, teachback)?,
            same_pass_as: teachback.same_pass_as.clone(),
            proposed: teachback.proposed.as_deref().map(Proposed::store).transpose()?,
        })
    };
    Some(said())
}

pub(super) fn decode(text: &str) -> Result<Body, StoredError> {
    let stored: Said = serde_json::from_str(text).map_err(|error| StoredError::Shape {
        kind: KIND.to_owned(),
        version: 2,
        detail: error.to_string(),
    })?;
    let mut event = stored.heard.restore()?;
    if let EventKind::TeachBackHeard { teachback, .. } = &mut event {
        teachback.same_pass_as = stored.same_pass_as;
        teachback.proposed = stored.proposed.map(Proposed::restore).transpose()?.map(Box::new);
    }
    Ok(Body::Practice(event))
}

impl Proposed {
    fn store(proposed: &teachback::Proposed) -> Result<Proposed, StoredError> {
        let one = |each: &teachback::ProposedItem| {
            Ok(ProposedItem {
                item: each.item.to_string(),
                mark: each.mark.into(),
                heard_as: each.heard_as.into(),
                at_s: finite("seconds from the start of the recording", each.at_s)?,
                heard: each.heard.clone(),
                expected_quantity: each.expected_quantity.clone(),
                heard_quantity: each.heard_quantity.clone(),
                confidence: share("confidence of a proposal", each.confidence)?,
                listen: each.listen,
            })
        };
        let orders = proposed.order_errors.iter();
        Ok(Proposed {
            program: proposed.program.clone(),
            transcript_sha256: proposed.transcript_sha256.clone(),
            transcript: proposed.transcript.clone(),
            listen_below: share("confidence below which to listen", proposed.listen_below)?,
            items: proposed.items.iter().map(one).collect::<Result<_, StoredError>>()?,
            steps_named: proposed.steps_named,
            order_errors: orders
                .map(|error| TurnedRound { first: error.first.to_string(), then: error.then.to_string() })
                .collect(),
        })
    }

    fn restore(self) -> Result<teachback::Proposed, StoredError> {
        let one = |each: ProposedItem| {
            Ok(teachback::ProposedItem {
                item: item(&each.item)?,
                mark: Mark::from(each.mark),
                heard_as: each.heard_as.into(),
                at_s: each.at_s,
                heard: each.heard,
                expected_quantity: each.expected_quantity,
                heard_quantity: each.heard_quantity,
                confidence: each.confidence,
                listen: each.listen,
            })
        };
        let pair = |pair: TurnedRound| -> Result<OrderError, StoredError> {
            let place = |text: &str| -> Result<ItemId, StoredError> { item(text) };
            Ok(OrderError { first: place(&pair.first)?, then: place(&pair.then)? })
        };
        Ok(teachback::Proposed {
            program: self.program,
            transcript_sha256: self.transcript_sha256,
            transcript: self.transcript,
            listen_below: self.listen_below,
            items: self.items.into_iter().map(one).collect::<Result<_, StoredError>>()?,
            steps_named: self.steps_named,
            order_errors: self.order_errors.into_iter().map(pair).collect::<Result<_, StoredError>>()?,
        })
    }
}

/// A share of one; JSON has no NaN, and neither has the book.
fn share(what: &'static str, value: f64) -> Result<f64, StoredError> {
    match finite(what, Some(value))? {
        Some(share) if (0.0..=1.0).contains(&share) => Ok(share),
        _ => Err(StoredError::Value { what, found: value.to_string() }),
    }
}
