//! Fill of a bottle from its weight before and after.

use quantity::{Mass, Volume};

use crate::error::DrawError;

/// Density of whole blood in grams per millilitre, 1.00 to 1.10.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Density(f64);

impl Density {
    /// From grams per millilitre.
    pub fn from_g_per_ml(value: f64) -> Result<Density, DrawError> {
        if !(1.0..=1.1).contains(&value) {
            return Err(DrawError::Policy {
                what: "density of blood",
                found: format!("{value} g per mL"),
                expected: "1.00 to 1.10; whole blood is about 1.05",
            });
        }
        Ok(Density(value))
    }

    /// In grams per millilitre.
    pub fn to_g_per_ml(self) -> f64 {
        self.0
    }

    /// Whole blood at 37 °C: 1.0506 (95 % interval 1.0475 to 1.0537), Trudnowski and Rico 1974, Clinical Chemistry
    /// 20:615.
    pub const AT_37_DEGREES: Density = Density(1.0506);
    /// Whole blood at 4 °C: 1.0621 (95 % interval 1.0590 to 1.0652), the same source.
    pub const AT_4_DEGREES: Density = Density(1.0621);
}

/// A working value between the two published ones: 1.055.
impl Default for Density {
    fn default() -> Self {
        Density(1.055)
    }
}

/// Blood in a bottle: the mass gained over the density.
///
/// Weigh each bottle empty, or use the mean of its lot: empty bottles of one make were found to differ by up to 12 g
/// (a laboratory's study of 113,564 bottles), which a nominal empty weight turns into an error of more than 11 mL.
pub fn filled_volume(before: Mass, after: Mass, density: Density) -> Result<Volume, DrawError> {
    let gained = after
        .checked_sub(before)
        .ok_or(DrawError::Lighter { before_g: before.to_g(), after_g: after.to_g() })?;
    Ok(Volume::from_ml(gained.to_g() / density.0)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 10.5 g gained, by hand.
    #[test]
    fn grams_to_millilitres() {
        let (before, after) = (Mass::from_g(60.0).unwrap(), Mass::from_g(70.5).unwrap());
        for (density, ml) in [(1.05, 10.0), (1.0506, 9.9943), (1.055, 9.9526), (1.06, 9.9057)] {
            let density = Density::from_g_per_ml(density).unwrap();
            assert!((filled_volume(before, after, density).unwrap().to_ml() - ml).abs() < 5e-5);
        }
        assert!(matches!(filled_volume(after, before, Density::default()), Err(DrawError::Lighter { .. })));
        assert!(Density::from_g_per_ml(1.5).is_err());
        assert!(Density::from_g_per_ml(f64::NAN).is_err());
    }
}
