//! Why there is no plan, or no figure.

use quantity::{QuantityError, Volume};

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
    /// Without the weight the share of the blood volume is not known.
    #[error(
        "no weight: the share of the patient's blood cannot be checked against the unit's limit; enter the weight"
    )]
    WeightNeeded,
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
