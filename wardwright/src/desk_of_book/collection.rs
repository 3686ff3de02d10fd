//! One collection planned by the policy in the data folder.

use desk::{CollectionAsk, UnitPolicy};
use jiff::civil::{Date, DateTime};
use site::{CollectionAnswer, CollectionDesk, DeskError, Refusal};

use super::DeskOfBook;
use crate::draw::{policy_file, times};
use crate::message::Message;

/// Name of the policy in a data folder.
const POLICY: &str = "policy.toml";

impl DeskOfBook {
    /// Read anew with each question: a corrected policy holds at once.
    fn unit_policy(&self) -> Result<UnitPolicy, Refusal> {
        let path = self.folder().path().join(POLICY);
        if !path.exists() {
            return Err(Refusal::new(
                POLICY,
                "no policy in the data folder",
                "the unit's own policy for blood cultures: no number that comes along is a policy",
                "copy policies/example.toml into the data folder as policy.toml, hold every value against your unit's \
                 policy and the laboratory's instructions, and have the role that answers for it fill in confirmed_by \
                 (docs/draw-plan.md)",
            ));
        }
        policy_file::read(&path).map_err(|message| said(&message))
    }
}

/// A message without the path of the folder, which is nobody's business on a page.
fn said(message: &Message) -> Refusal {
    let place = message.place.rsplit(['/', '\\']).next().unwrap_or(POLICY);
    Refusal::new(place, message.found.clone(), message.expected.clone(), message.to_do.clone())
}

impl CollectionDesk for DeskOfBook {
    fn collection_policy(&self) -> Result<Result<String, Refusal>, DeskError> {
        Ok(self.unit_policy().map(|unit| {
            format!(
                "Policy {:?}, version {}, confirmed by: {}",
                unit.name,
                unit.version,
                unit.policy.confirmed_by()
            )
        }))
    }

    fn collection(&self, ask: &CollectionAsk) -> Result<CollectionAnswer, DeskError> {
        let unit = match self.unit_policy() {
            Ok(unit) => unit,
            Err(refusal) => return Ok(CollectionAnswer::NoPolicy(refusal)),
        };
        Ok(match desk::collection(ask, &unit, self.folder().now()) {
            Ok(sheet) => CollectionAnswer::Plan(Box::new(sheet)),
            Err(refused) => CollectionAnswer::Refused(refused),
        })
    }

    fn time_of_day(&self, written: &str, day: Date) -> Option<DateTime> {
        times::read(written, day)
    }
}
