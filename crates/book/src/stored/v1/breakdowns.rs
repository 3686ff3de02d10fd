//! Breakdowns, whole: an entry must be readable when the file it came from is long gone.

use breakdown::{ChangeKind, JobCode, KeyPointKind, Version};
use quantity::{Per, Stated, Unit};
use serde::{Deserialize, Serialize};

use super::{StoredError, date, finite, words};

words!(StoredKind for KeyPointKind { Safety = "safety", MakesOrBreaks = "makes-or-breaks", Knack = "knack" });
words!(StoredChangeKind for ChangeKind { Major = "major", Minor = "minor" });
words!(StoredUnit for Unit { Millilitre = "mL", Second = "s", Count = "count" });
words!(StoredPer for Per {
    Bottle = "bottle", Set = "set", Patient = "patient", Kilogram = "kg", Day = "day",
});

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Quantity {
    what: Option<String>,
    low: Option<f64>,
    high: Option<f64>,
    unit: StoredUnit,
    per: Option<StoredPer>,
    words: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct KeyPoint {
    label: Option<String>,
    kind: StoredKind,
    text: String,
    reasons: Vec<String>,
    quantities: Vec<Quantity>,
    line: usize,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Step {
    name: String,
    key_points: Vec<KeyPoint>,
    line: usize,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Supply {
    count: Option<u32>,
    name: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct OrderPair {
    first: String,
    then: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Change {
    kind: StoredChangeKind,
    what: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Breakdown {
    job: String,
    code: String,
    version: u32,
    effective: Option<String>,
    author: Option<String>,
    approved_by: Option<String>,
    change: Option<Change>,
    cautions: Vec<String>,
    supplies: Vec<Supply>,
    steps: Vec<Step>,
    orders: Vec<OrderPair>,
    synonyms: Vec<Vec<String>>,
}

impl Breakdown {
    pub(super) fn store(of: &breakdown::Breakdown) -> Result<Self, StoredError> {
        Ok(Breakdown {
            job: of.job.clone(),
            code: of.code.0.clone(),
            version: of.version.0,
            effective: of.effective.map(|date| date.to_string()),
            author: of.author.clone(),
            approved_by: of.approved_by.clone(),
            change: of
                .change
                .as_ref()
                .map(|change| Change { kind: change.kind.into(), what: change.what.clone() }),
            cautions: of.cautions.clone(),
            supplies: of
                .supplies
                .iter()
                .map(|supply| Supply { count: supply.count, name: supply.name.clone() })
                .collect(),
            steps: of.steps.iter().map(store_step).collect::<Result<_, _>>()?,
            orders: of
                .orders
                .iter()
                .map(|pair| OrderPair { first: pair.first.clone(), then: pair.then.clone() })
                .collect(),
            synonyms: of.synonyms.clone(),
        })
    }

    pub(super) fn restore(self) -> Result<breakdown::Breakdown, StoredError> {
        let effective = self.effective.as_deref().map(|text| date("date in force", text)).transpose()?;
        Ok(breakdown::Breakdown {
            job: self.job,
            code: JobCode(self.code),
            version: Version(self.version),
            effective,
            author: self.author,
            approved_by: self.approved_by,
            change: self
                .change
                .map(|change| breakdown::Change { kind: change.kind.into(), what: change.what }),
            cautions: self.cautions,
            supplies: self
                .supplies
                .into_iter()
                .map(|supply| breakdown::Supply { count: supply.count, name: supply.name })
                .collect(),
            steps: self.steps.into_iter().map(restore_step).collect(),
            orders: self
                .orders
                .into_iter()
                .map(|pair| breakdown::OrderPair { first: pair.first, then: pair.then })
                .collect(),
            synonyms: self.synonyms,
        })
    }
}

fn store_step(step: &breakdown::Step) -> Result<Step, StoredError> {
    let key_points = step.key_points.iter().map(store_key_point).collect::<Result<_, _>>()?;
    Ok(Step { name: step.name.clone(), key_points, line: step.line })
}

fn store_key_point(point: &breakdown::KeyPoint) -> Result<KeyPoint, StoredError> {
    Ok(KeyPoint {
        label: point.label.clone(),
        kind: point.kind.into(),
        text: point.text.clone(),
        reasons: point.reasons.clone(),
        quantities: point.quantities.iter().map(store_quantity).collect::<Result<_, _>>()?,
        line: point.line,
    })
}

fn store_quantity(stated: &Stated) -> Result<Quantity, StoredError> {
    Ok(Quantity {
        what: stated.what.clone(),
        low: finite("quantity of a key point", stated.low)?,
        high: finite("quantity of a key point", stated.high)?,
        unit: stated.unit.into(),
        per: stated.per.map(StoredPer::from),
        words: stated.words.clone(),
    })
}

fn restore_step(step: Step) -> breakdown::Step {
    let key_points = step.key_points.into_iter().map(restore_key_point).collect();
    breakdown::Step { name: step.name, key_points, line: step.line }
}

fn restore_key_point(point: KeyPoint) -> breakdown::KeyPoint {
    breakdown::KeyPoint {
        label: point.label,
        kind: point.kind.into(),
        text: point.text,
        reasons: point.reasons,
        quantities: point.quantities.into_iter().map(restore_quantity).collect(),
        line: point.line,
    }
}

fn restore_quantity(stored: Quantity) -> Stated {
    Stated {
        what: stored.what,
        low: stored.low,
        high: stored.high,
        unit: stored.unit.into(),
        per: stored.per.map(Per::from),
        words: stored.words,
    }
}
