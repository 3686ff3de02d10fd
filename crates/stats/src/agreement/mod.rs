//! Agreement: how often watchers of the same thing say the same, beyond what chance alone would give.
//!
//! * Two watchers, every case seen by both: `cohen_kappa`, `weighted_kappa`, `scott_pi`, `gwet_ac1`,
//!   `percent_agreement` on a `RatingTable`.
//! * Several watchers: `fleiss_kappa`, `gwet_ac1` on `RatingCounts`.
//! * Watchers who missed some cases, or scales with an order or distances: `krippendorff_alpha`.
//!
//! When nearly every case falls into one category, the kappas can be near zero or negative although the watchers
//! agree on almost every case; AC1 does not share that weakness. Show percent agreement beside either.

pub mod cohen;
pub mod krippendorff;
pub mod raters;
pub mod result;
pub mod table;
pub mod weights;

pub use cohen::{cohen_kappa, percent_agreement, weighted_kappa};
pub use krippendorff::{Alpha, Metric, ReliabilityData, krippendorff_alpha};
pub use raters::{CategoryKappa, RatingCounts, fleiss_kappa, fleiss_kappa_by_category, gwet_ac1, scott_pi};
pub use result::{Agreement, NoInterval, StrengthBand, strength_band};
pub use table::RatingTable;
pub use weights::AgreementWeights;
