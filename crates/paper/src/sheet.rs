use breakdown::Breakdown;

use crate::card::facts;
use crate::error::{PaperError, PaperName};
use crate::press::print;
use crate::printing::Printing;
use crate::value::dict;

/// A breakdown to mark by hand while a draw is watched, for when the screen is down.
///
/// Every step and key point has boxes for done, done after a prompt, not done, not applicable and not seen. The
/// sheet has no field for the patient's name: the specimen number links the draw to its result.
///
/// # Errors
/// [`PaperError::NoSteps`] when the breakdown has no step, [`PaperError::Date`] when its effective date cannot be
/// printed.
pub fn observation_sheet(breakdown: &Breakdown, printing: &Printing) -> Result<Vec<u8>, PaperError> {
    let paper = PaperName::ObservationSheet;
    print(paper, dict(facts(paper, breakdown, printing)?))
}
