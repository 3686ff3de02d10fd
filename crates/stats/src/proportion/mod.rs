//! One proportion, two proportions, and how many trials a claim needs.
//!
//! An interval for one proportion comes from [`interval`] with the method named, or from the function of that
//! name. All bounds are proportions from 0 to 1. Which to use: [`wilson`] for a figure on a page,
//! [`clopper_pearson`] where the level must never fall short, [`mid_p`] between them, [`jeffreys`] where a
//! Bayesian reading is wanted.

// Apart, so that they stay in reading order.
mod score;

mod exact;

mod each;

mod bound_lanes;

mod compare;

mod fisher;

mod size;

pub use compare::{RatioEstimate, difference_newcombe, risk_ratio_katz, risk_ratio_score};
pub use each::{clopper_pearson_each, wilson_each};
pub use exact::{clopper_pearson, jeffreys, mid_p, poisson_exact};
pub use fisher::{FisherExact, TwoByTwo, conditional_odds_ratio, fisher_exact};
pub use score::{wilson, wilson_continuity_corrected};
pub use size::{OneSidedTest, clean_trials_needed, one_sided_sample_size, rule_of_three, zero_failure_upper};

use crate::value::{ConfidenceLevel, Interval, Proportion};

/// The intervals for one proportion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum IntervalMethod {
    /// [`wilson`].
    #[default]
    Wilson,
    /// [`wilson_continuity_corrected`].
    WilsonContinuityCorrected,
    /// [`clopper_pearson`].
    ClopperPearson,
    /// [`mid_p`].
    MidP,
    /// [`jeffreys`].
    Jeffreys,
}

impl IntervalMethod {
    /// All of them, in the order of Newcombe's table.
    pub const ALL: [Self; 5] =
        [Self::Wilson, Self::WilsonContinuityCorrected, Self::ClopperPearson, Self::MidP, Self::Jeffreys];

    /// The name to print beside the interval.
    pub fn name(self) -> &'static str {
        match self {
            Self::Wilson => "Wilson score",
            Self::WilsonContinuityCorrected => "Wilson score with continuity correction",
            Self::ClopperPearson => "Clopper-Pearson exact",
            Self::MidP => "mid-P exact",
            Self::Jeffreys => "Jeffreys",
        }
    }

    /// The entry of `docs/methods.md` that explains it.
    pub fn anchor(self) -> &'static str {
        match self {
            Self::Wilson => "wilson",
            Self::WilsonContinuityCorrected => "wilson_continuity_corrected",
            Self::ClopperPearson => "clopper_pearson",
            Self::MidP => "mid_p",
            Self::Jeffreys => "jeffreys",
        }
    }
}

/// The interval for a proportion by the method named; see the function of that name.
pub fn interval(proportion: Proportion, level: ConfidenceLevel, method: IntervalMethod) -> Interval {
    match method {
        IntervalMethod::Wilson => wilson(proportion, level),
        IntervalMethod::WilsonContinuityCorrected => wilson_continuity_corrected(proportion, level),
        IntervalMethod::ClopperPearson => clopper_pearson(proportion, level),
        IntervalMethod::MidP => mid_p(proportion, level),
        IntervalMethod::Jeffreys => jeffreys(proportion, level),
    }
}
