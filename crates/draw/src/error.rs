//! Why there is no plan, or no figure.

use jiff::civil::DateTime;
use quantity::{QuantityError, Volume};

use crate::order::BottleKind;
use crate::question::WeightDoubt;

/// Why nothing was computed. No plan is better than a wrong one.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DrawError {
    /// A weight no patient has.
    #[error("weight {kg} kg is not within {low} to {high} kg; check the number and where its point stands")]
    Weight {
        /// What was given.
        kg: f64,
        /// Least weight taken.
        low: f64,
        /// Greatest weight taken.
        high: f64,
    },
    /// A height no adult has.
    #[error("height {m} m is not within {low} to {high} m; heights are given in metres")]
    Height {
        /// What was given.
        m: f64,
        /// Least height taken.
        low: f64,
        /// Greatest height taken.
        high: f64,
    },
    /// A haemoglobin no patient has.
    #[error("haemoglobin {g_per_l} g/L is not within {low} to {high} g/L; 8.5 g/dL are 85 g/L")]
    Haemoglobin {
        /// What was given.
        g_per_l: f64,
        /// Least taken.
        low: f64,
        /// Greatest taken.
        high: f64,
    },
    /// Without the weight the share of the blood volume is not known.
    #[error(
        "no weight: the share of the patient's blood cannot be checked against the unit's limit; enter the weight"
    )]
    WeightNeeded,
    /// The weight may be a slip of the point and was read only once.
    #[error("the weight may be a slip of its point: read it again")]
    WeightAgain(WeightDoubt),
    /// The limit leaves too little for any bottle.
    #[error(
        "{taken} of blood was taken today and the unit's limit is {limit}: {left} is left, and {needed} is needed; \
         ask the clinician who decides"
    )]
    LimitReached {
        /// Already taken today.
        taken: Volume,
        /// The unit's limit for the day.
        limit: Volume,
        /// What is left of it.
        left: Volume,
        /// Least a draw would take, waste included.
        needed: Volume,
    },
    /// The plan needs bottles that are not at hand.
    #[error("the plan needs {kind:?} bottles, and none is at hand")]
    Bottles {
        /// Which.
        kind: BottleKind,
        /// How much one would be filled.
        target: Volume,
        /// A child, or an adult.
        patient_is_child: bool,
    },
    /// A number of lumens no line has.
    #[error("{lumens} lumens; a central line has 1 to {most}")]
    Lumens {
        /// What was given.
        lumens: u8,
        /// Most taken.
        most: u8,
    },
    /// Nothing to draw from was named.
    #[error("no vein and no line: name what blood can be had from")]
    NoAccess,
    /// A line infection is suspected, and no line was named.
    #[error("a line infection is suspected, and no line was named")]
    NoLineToSuspect,
    /// The policy allows no draw from what can be had.
    #[error("the policy allows no draw from what can be had")]
    NotDrawnFrom {
        /// A peripheral cannula just placed was named.
        new_cannula: bool,
        /// An arterial line was named.
        arterial_line: bool,
        /// A central line was named.
        central_line: bool,
    },
    /// A draw planned too far from now.
    #[error("the draw is planned for {draw_at}, and it is {now}")]
    DrawTime {
        /// The time of the draw.
        draw_at: DateTime,
        /// The moment of the question.
        now: DateTime,
    },
    /// An antibiotic that was given in the future.
    #[error("an antibiotic given at {given}, with a draw at {draw_at} and {now} on the clock")]
    AntibioticInFuture {
        /// When it was given, as entered.
        given: DateTime,
        /// The time of the draw.
        draw_at: DateTime,
        /// The moment of the question.
        now: DateTime,
    },
    /// A dose that is due more than a day from the draw.
    #[error("an antibiotic due at {due}, with a draw at {draw_at}")]
    AntibioticDue {
        /// When it is due, as entered.
        due: DateTime,
        /// The time of the draw.
        draw_at: DateTime,
    },
    /// A rule of the policy is not possible.
    #[error("policy: {what} is {found}; {expected}")]
    Policy {
        /// Which rule.
        what: &'static str,
        /// What it says.
        found: String,
        /// What it may say.
        expected: &'static str,
    },
    /// The bottle weighs less after filling than before.
    #[error(
        "the bottle weighed {before_g} g before and {after_g} g after; check which is which, and the scale"
    )]
    Lighter {
        /// Grams before.
        before_g: f64,
        /// Grams after.
        after_g: f64,
    },
    /// Out of range or not a number.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}
