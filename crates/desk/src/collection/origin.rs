//! Where numbers of a plan are from.

use draw::{Patient, adult_ml_per_kg, child_ml_per_kg};

use super::Case;
use super::sets::kg;

/// A value of the unit's policy, and whether it is still the default that comes along.
pub(super) fn by(key: &str, is_default: bool, source: &str) -> String {
    match is_default {
        true => format!("policy {key}; equal to the default that comes along: {source}"),
        false => format!("policy {key}; the unit's own, not the default that comes along"),
    }
}

/// How the patient's blood volume was estimated.
pub(super) fn blood_volume(case: &Case<'_>) -> String {
    let by_weight = |ml_per_kg: f64| {
        format!(
            "{ml_per_kg} mL/kg x {} kg, Geigy Scientific Tables, 7th edition, as given by a university review board",
            kg(case.weight)
        )
    };
    match case.request.patient {
        Patient::Adult { height: Some(_), sex: Some(_), .. } => {
            "formula of Nadler, Hidalgo and Bloch 1962 from height, weight and sex".to_owned()
        }
        Patient::Adult { sex, .. } => by_weight(adult_ml_per_kg(sex)),
        Patient::Child { age, .. } => by_weight(child_ml_per_kg(age)),
    }
}
