//! Amounts of blood as messages give them: a number and a unit.

use quantity::{Mass, Volume};

/// Most blood that is believed to be in one bottle, in millilitres: as for tables.
const MOST_ML: f64 = 60.0;

/// Millilitres of a number with its unit, by the codes of UCUM and the words people use; `None` for another unit, for
/// no number and for what no bottle holds. A mass becomes a volume by the density of blood in g/mL.
pub(super) fn blood_ml(number: &str, unit: &str, density_g_per_ml: f64) -> Option<f64> {
    let number: f64 = number.trim().replacen(',', ".", 1).parse().ok()?;
    let unit = unit.trim();
    let volume =
        match unit {
            "mL" | "ml" | "ML" | "cc" | "cm3" | "milliliter" | "millilitre" | "milliliters"
            | "millilitres" => Volume::from_ml(number),
            "uL" | "ul" | "µL" | "μL" => Volume::from_ml(number / 1_000.0),
            "cL" | "cl" => Volume::from_ml(number * 10.0),
            "dL" | "dl" => Volume::from_ml(number * 100.0),
            "L" | "l" => Volume::from_litres(number),
            "g" => Mass::from_g(number).and_then(|mass| Volume::from_ml(mass.to_g() / density_g_per_ml)),
            "mg" => Mass::from_g(number / 1_000.0)
                .and_then(|mass| Volume::from_ml(mass.to_g() / density_g_per_ml)),
            _ => return None,
        };
    volume.ok().map(Volume::to_ml).filter(|ml| *ml <= MOST_ML)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_converted_and_nonsense_is_refused() {
        for (number, unit, expected) in [
            ("8.5", "mL", Some(8.5)),
            ("8,5", "ml", Some(8.5)),
            ("8500", "uL", Some(8.5)),
            ("0.0085", "L", Some(8.5)),
            ("8.4", "g", Some(8.0)),
            ("8400", "mg", Some(8.0)),
            ("0", "mL", Some(0.0)),
            ("85", "mL", None),
            ("-1", "mL", None),
            ("NaN", "mL", None),
            ("inf", "mL", None),
            ("8", "{bottle}", None),
            ("8", "", None),
            ("about 8", "mL", None),
        ] {
            let found = blood_ml(number, unit, 1.05);
            let near = match (found, expected) {
                (Some(found), Some(expected)) => (found - expected).abs() < 1e-9,
                (found, expected) => found == expected,
            };
            assert!(near, "{number} {unit}: {found:?}");
        }
    }
}
