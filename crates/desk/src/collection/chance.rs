//! The chance of finding an infection, as published.

use draw::{
    FULL_VOLUME_ML, HALF_VOLUMES_ML, MODEL_ERROR_POINTS, PUBLISHED, Patient, published_range, volume_range,
};
use quantity::Volume;

use super::{Case, PlanBlock, PlanRow};

/// What a number of sets finds in the studies, and what its blood finds in the model.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundRow {
    /// Sets.
    pub sets: usize,
    /// The plan's own number.
    pub is_plan: bool,
    /// Lowest and highest published percent.
    pub published: (f64, f64),
    /// Each study with its percent.
    pub studies: Vec<(&'static str, f64)>,
    /// Blood in the bottles, millilitres.
    pub volume_ml: f64,
    /// Lowest and highest percent of the model, out of what 80 mL find; `None` above 80 mL.
    pub by_volume: Option<(f64, f64)>,
}

/// One set less, the plan's number and one more. The studies are of adults.
pub(super) fn found(case: &Case<'_>) -> Vec<FoundRow> {
    if matches!(case.request.patient, Patient::Child { .. }) {
        return Vec::new();
    }
    let sets = &case.plan.sets;
    let n = sets.len();
    let last: Volume =
        sets.last().map_or(Volume::ZERO, |set| set.bottles.iter().map(|bottle| bottle.target).sum());
    let mut rows = Vec::new();
    for sets in n.saturating_sub(1)..=n + 1 {
        let Some(published) = published_range(sets) else { continue };
        let volume = match sets.cmp(&n) {
            std::cmp::Ordering::Less => case.plan.cultured.checked_sub(last).unwrap_or(Volume::ZERO),
            std::cmp::Ordering::Equal => case.plan.cultured,
            std::cmp::Ordering::Greater => case.plan.cultured + last,
        };
        let studies = PUBLISHED
            .iter()
            .filter_map(|study| Some((study.short, study.percent.get(sets - 1).copied()??)))
            .collect();
        rows.push(FoundRow {
            sets,
            is_plan: sets == n,
            published,
            studies,
            volume_ml: volume.to_ml(),
            by_volume: volume_range(volume),
        });
    }
    rows
}

pub(super) fn block(case: &Case<'_>) -> PlanBlock {
    let rows: Vec<PlanRow> = found(case)
        .into_iter()
        .map(|row| {
            let sets = if row.sets == 1 { "1 set".to_owned() } else { format!("{} sets", row.sets) };
            let (low, high) = row.published;
            let by_volume = match row.by_volume {
                Some((low, high)) if (high - low) < 0.05 => {
                    format!("{:.0} mL of blood: the model's 100 %", row.volume_ml)
                }
                Some((low, high)) => {
                    format!("{:.0} mL of blood: {low:.0} to {high:.0} %", row.volume_ml)
                }
                None => format!("{:.0} mL of blood: no figure above {FULL_VOLUME_ML:.0} mL", row.volume_ml),
            };
            let studies: Vec<String> =
                row.studies.iter().map(|(study, percent)| format!("{study} {percent:.1}")).collect();
            PlanRow {
                what: if row.is_plan { format!("{sets} (this plan)") } else { sets },
                value: format!("{low:.1} to {high:.1} % by sets; {by_volume}"),
                from: format!("{} %", studies.join(", ")),
            }
        })
        .collect();
    let remark = if rows.is_empty() {
        "No figure: the studies are of adults, and no study of children is at hand.".to_owned()
    } else {
        format!(
            "By sets: infections of adults found by so many sets, out of those found at all, lowest and highest study; \
             they disagree, they filled bottles as they did, and none gives an interval. Lee 2007 was read and so was \
             that Weinstein 1983 found more than 99 % with two; the other numbers are from memory. By blood: out of what {FULL_VOLUME_ML:.0} mL find, v / (v + c) with c \
             from {} to {} mL, which gives the yields of Lee 2007 and Cockerill 2004 back within {MODEL_ERROR_POINTS} \
             percentage points. No chance for this patient: who has an infection at all is not known.",
            HALF_VOLUMES_ML.0, HALF_VOLUMES_ML.1
        )
    };
    PlanBlock { key: "chance", title: "Bloodstream infections found", rows, remark: Some(remark) }
}
