//! One collection: how much blood, in which bottles, within which limit.
//!
//! This room is pure: the patient's weight, the blood taken today and the unit's confirmed rules in, a plan or a
//! reason out. Every default names its source or says that it has none. Training support, not a medical device: a
//! licensed clinician decides.

mod error;

mod blood_volume;
mod policy;

mod bands;
mod detect;
mod order;
mod weighing;

mod plan;

pub use bands::{WeightBand, WeightBands};
pub use blood_volume::{AgeMonths, BodyWeight, Height, Sex, adult_ml_per_kg, child_ml_per_kg, nadler};
pub use detect::{PUBLISHED, PublishedYield, published_range};
pub use error::DrawError;
pub use order::{BottleKind, Method, filling_order, short_draw};
pub use plan::{Access, Patient, Plan, PlanNote, PlannedBottle, PlannedSet, Request, Site, plan};
pub use policy::{ConfirmedPolicy, Policy, PolicyCost};
pub use weighing::{Density, filled_volume};
