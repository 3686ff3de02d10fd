//! Ledgers of a breakdown: blood, bottle fill, time and supplies, added up from its quantities.

mod amounts;
mod blood;
mod supplies;
mod time;

pub(crate) use amounts::{Amount, Amounts, Span};
pub use blood::{
    BloodLedger, FillLedger, VolumeRange, YieldLost, blood, bottle_fill, recommended_adult_fill, yield_lost,
};
pub use supplies::{SupplyNeed, supplies};
pub use time::{TimeEntry, TimeLedger, TimeUse, time};
