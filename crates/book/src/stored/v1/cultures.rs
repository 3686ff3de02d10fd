//! Laboratory sets.

use culture::{
    Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId, Specimen,
};
use serde::{Deserialize, Serialize};

use super::{StoredError, date, date_time, finite, words};
use crate::store::{KnownSet, Stands};

words!(StoredRoute for Route {
    Vein = "vein", CentralLine = "central-line", ArterialLine = "arterial-line", Cannula = "cannula",
});
words!(StoredStatus for ReportStatus {
    Preliminary = "preliminary", Final = "final", Corrected = "corrected", Cancelled = "cancelled",
    NotStated = "not-stated",
});
words!(StoredSpecimen for Specimen {
    Blood = "blood", PostMortem = "post-mortem", OtherFluid = "other-fluid", QualityControl = "quality-control",
});
words!(StoredBottleKind for BottleKind {
    Aerobic = "aerobic", Anaerobic = "anaerobic", Paediatric = "paediatric", Other = "other",
});

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StoredBottle {
    kind: StoredBottleKind,
    fill_ml: Option<f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::stored) struct Set {
    id: String,
    patient: String,
    collected_at: Option<String>,
    collected_on: Option<String>,
    received: Option<String>,
    unit: Option<String>,
    collector: Option<String>,
    route: Option<StoredRoute>,
    /// Written only where it is not blood: sets stored before it was known keep their text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    specimen: Option<StoredSpecimen>,
    age_years: Option<f64>,
    status: StoredStatus,
    bottles: Vec<StoredBottle>,
    isolates: Vec<String>,
}

impl Set {
    pub(in crate::stored) fn store(set: &CultureSet) -> Result<Self, StoredError> {
        let (collected_at, collected_on) = match set.collected {
            Collected::At(at) => (Some(at.to_string()), None),
            Collected::On(on) => (None, Some(on.to_string())),
        };
        let bottle = |bottle: &Bottle| {
            let fill_ml = finite("fill of a bottle in mL", bottle.fill_ml)?;
            Ok(StoredBottle { kind: bottle.kind.into(), fill_ml })
        };
        Ok(Set {
            id: set.id.0.clone(),
            patient: set.patient.0.clone(),
            collected_at,
            collected_on,
            received: set.received.map(|received| received.to_string()),
            unit: set.unit.clone(),
            collector: set.collector.clone(),
            route: set.route.map(StoredRoute::from),
            specimen: (set.specimen != Specimen::Blood).then(|| set.specimen.into()),
            age_years: finite("age in years", set.age_years)?,
            status: set.status.into(),
            bottles: set.bottles.iter().map(bottle).collect::<Result<_, StoredError>>()?,
            isolates: set.isolates.iter().map(|isolate| isolate.reported_name.clone()).collect(),
        })
    }

    pub(in crate::stored) fn restore(self) -> Result<CultureSet, StoredError> {
        let collected = match (&self.collected_at, &self.collected_on) {
            (Some(at), None) => Collected::At(date_time("time of the draw", at)?),
            (None, Some(on)) => Collected::On(date("day of the draw", on)?),
            (at, on) => {
                return Err(StoredError::Value {
                    what: "time or day of the draw",
                    found: format!("{at:?} and {on:?}"),
                });
            }
        };
        let received = self.received.as_deref().map(|text| date_time("time of receipt", text)).transpose()?;
        Ok(CultureSet {
            id: SetId(self.id),
            patient: PatientKey(self.patient),
            collected,
            received,
            unit: self.unit,
            collector: self.collector,
            route: self.route.map(Route::from),
            specimen: self.specimen.map_or(Specimen::Blood, Specimen::from),
            age_years: self.age_years,
            status: self.status.into(),
            bottles: self
                .bottles
                .into_iter()
                .map(|bottle| Bottle { kind: bottle.kind.into(), fill_ml: bottle.fill_ml })
                .collect(),
            positive_after_s: None,
            isolates: self.isolates.into_iter().map(|reported_name| Isolate { reported_name }).collect(),
        })
    }
}

/// A set whose number stands for two halves, or is part of another set.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SplitSet {
    set: Set,
    halves: Option<[Set; 2]>,
    part_of: Option<String>,
}

impl SplitSet {
    pub(super) fn store(set: &CultureSet, stands: &Stands) -> Result<Self, StoredError> {
        let (halves, part_of) = match stands {
            Stands::Alone => (None, None),
            Stands::Joined(halves) => {
                let [first, second] = halves.as_ref();
                (Some([Set::store(first)?, Set::store(second)?]), None)
            }
            Stands::PartOf(whole) => (None, Some(whole.0.clone())),
        };
        Ok(SplitSet { set: Set::store(set)?, halves, part_of })
    }

    pub(super) fn restore(self) -> Result<KnownSet, StoredError> {
        let stands = match (self.halves, self.part_of) {
            (Some([first, second]), None) => Stands::Joined(Box::new([first.restore()?, second.restore()?])),
            (None, Some(whole)) => Stands::PartOf(SetId(whole)),
            (None, None) => Stands::Alone,
            (Some(_), Some(whole)) => {
                let found = format!("two halves, and part of {whole}");
                return Err(StoredError::Value { what: "how a number stands to the sets", found });
            }
        };
        Ok(KnownSet { set: self.set.restore()?, stands })
    }
}
