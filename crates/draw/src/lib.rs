//! One collection: how much blood, in which bottles, within which limit.
//!
//! This room is pure: the patient's weight, the blood taken today and the unit's confirmed rules in, a plan or a
//! reason out. Every default names its source or says that it has none. Training support, not a medical device: a
//! licensed clinician decides.

mod error;

mod blood_volume;
mod policy;

mod access;
mod bands;
mod clock;
mod detect;
mod haemoglobin;
mod order;
mod supplies;
mod weighing;

mod plan;
mod question;

pub use access::{Access, Pairing, Site};
pub use bands::{WeightBand, WeightBands};
pub use blood_volume::{AgeMonths, BodyWeight, Height, Sex, adult_ml_per_kg, child_ml_per_kg, nadler};
pub use clock::{Antibiotic, AntibioticClock, JobTimes, Latest, Times};
pub use detect::{
    AFTER_DOSE, AfterDose, FULL_VOLUME_ML, HALF_VOLUMES_ML, MODEL_ERROR_POINTS, POINTS_PER_ML, PUBLISHED,
    PublishedYield, found_by_volume, points_lost, published_range, volume_range,
};
pub use error::DrawError;
pub use haemoglobin::{Haemoglobin, HaemoglobinCost, haemoglobin_cost};
pub use order::{BottleKind, Method, filling_order};
pub use plan::{Patient, Plan, PlanNote, PlannedBottle, PlannedSet, Request, plan};
pub use policy::{
    Agent, AntisepsisRules, Cleaning, ConductRules, ConfirmedPolicy, DivertedInto, Gloves, LineRules, Mask,
    OrderRules, Policy, PolicyCost, PublishedCleaning, Surface, TimeRules, published_cleaning,
};
pub use question::{BottlesAtHand, WeightDoubt, weight_doubt};
pub use supplies::{Supply, supplies};
pub use weighing::{Density, filled_volume};
