//! Patient, sets and bottles in words.

use draw::{BodyWeight, BottleKind, DivertedInto, Patient, Sex, Site};
use quantity::Volume;

use super::{BottleSheet, Case, SetSheet};

/// Kilograms as a reader writes them: whole grams, no trailing noughts.
pub(super) fn kg(weight: BodyWeight) -> String {
    format!("{}", (weight.to_kg() * 1000.0).round() / 1000.0)
}

pub(super) fn patient(case: &Case<'_>) -> String {
    let kg = kg(case.weight);
    match case.request.patient {
        Patient::Adult { height, sex, .. } => {
            let height = height.map(|height| format!(", {:.0} cm", height.to_m() * 100.0));
            let sex = sex.map(|sex| if sex == Sex::Female { ", female" } else { ", male" });
            format!("adult, {kg} kg{}{}", height.unwrap_or_default(), sex.unwrap_or_default())
        }
        Patient::Child { age, .. } => {
            let age = age.map(|age| format!(", {} months old", age.0));
            format!("child, {kg} kg{}", age.unwrap_or_default())
        }
    }
}

pub(super) fn bottle(kind: BottleKind) -> &'static str {
    match kind {
        BottleKind::Aerobic => "aerobic",
        BottleKind::Anaerobic => "anaerobic",
        BottleKind::Paediatric => "paediatric",
    }
}

pub(super) fn sheets(case: &Case<'_>) -> Vec<SetSheet> {
    let rules = case.policy.rules();
    let has_several_lumens = case.request.access.central_line_lumens.is_some_and(|lumens| lumens > 1);
    case.plan
        .sets
        .iter()
        .map(|set| {
            let (site, lumen, site_words) = match set.site {
                Site::Vein => ("vein", None, "from a fresh vein, at its own site".to_owned()),
                Site::NewCannula => ("new-cannula", None, "from the cannula just placed".to_owned()),
                Site::ArterialLine => ("arterial-line", None, "from the arterial line".to_owned()),
                Site::CentralLine { lumen } if has_several_lumens => (
                    "central-line",
                    Some(lumen),
                    format!("from the central line, lumen {lumen}; write on the label which lumen that is"),
                ),
                Site::CentralLine { lumen } => {
                    ("central-line", Some(lumen), "from the central line".to_owned())
                }
            };
            let first = (set.waste > Volume::ZERO).then(|| match (set.site, rules.order.diverted_into) {
                (Site::Vein, DivertedInto::Tubes) => format!("{} into tubes for other tests", set.waste),
                _ => format!("{} that goes into no bottle", set.waste),
            });
            let then = (set.site.is_line() && rules.line.flush > Volume::ZERO).then(|| {
                format!("flush with {} of saline, clamp, restart what was paused", rules.line.flush)
            });
            let bottles = set
                .bottles
                .iter()
                .map(|each| BottleSheet {
                    kind: bottle(each.kind),
                    target_ml: floor_tenth(each.target),
                    least_ml: floor_tenth(each.least),
                    most_ml: each.most.to_ml(),
                })
                .collect();
            SetSheet { site, lumen, site_words, first, bottles, then }
        })
        .collect()
}

/// Millilitres with one decimal, never rounded up: a fill rounded up could pass the limit.
fn floor_tenth(volume: Volume) -> f64 {
    // A hair of slack, so that 6.9999999 from a subtraction stays 7.
    (volume.to_ml() * 10.0 + 1e-6).floor() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fill_is_never_rounded_up() {
        for (ml, shown) in [(10.0, 10.0), (6.97, 6.9), (10.0 / 3.0, 3.3), (146.9 - 139.9, 7.0), (0.1, 0.1)] {
            assert_eq!(floor_tenth(Volume::from_ml(ml).unwrap()), shown, "{ml}");
        }
    }
}
