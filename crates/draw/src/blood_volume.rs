//! How much blood a patient has, estimated.

use quantity::{Mass, Volume};

use crate::error::DrawError;

/// Sex as the formulas for blood volume know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sex {
    /// Female.
    Female,
    /// Male.
    Male,
}

/// Body weight, 0.3 to 400 kg.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct BodyWeight(Mass);

/// Body height of an adult, 1.0 to 2.5 m.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Height(f64);

/// Age of a child in completed months.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct AgeMonths(pub u16);

const WEIGHT_KG: (f64, f64) = (0.3, 400.0);
const HEIGHT_M: (f64, f64) = (1.0, 2.5);

impl BodyWeight {
    /// From kilograms; refuses what no patient weighs.
    ///
    /// ```
    /// use draw::BodyWeight;
    /// assert!(BodyWeight::from_kg(0.0).is_err());
    /// assert!(BodyWeight::from_kg(700.0).is_err());
    /// assert_eq!(BodyWeight::from_kg(12.8)?.to_kg(), 12.8);
    /// # Ok::<(), draw::DrawError>(())
    /// ```
    pub fn from_kg(kg: f64) -> Result<BodyWeight, DrawError> {
        let (low, high) = WEIGHT_KG;
        if !(low..=high).contains(&kg) {
            return Err(DrawError::Weight { kg, low, high });
        }
        Ok(BodyWeight(Mass::from_kg(kg)?))
    }

    /// In kilograms.
    pub fn to_kg(self) -> f64 {
        self.0.to_kg()
    }

    /// In whole grams: a scale for patients shows no less, and bands compare without rounding errors.
    pub(crate) fn to_whole_g(self) -> f64 {
        self.0.to_g().round()
    }
}

impl Height {
    /// From metres; refuses what no adult measures.
    pub fn from_m(m: f64) -> Result<Height, DrawError> {
        let (low, high) = HEIGHT_M;
        if !(low..=high).contains(&m) {
            return Err(DrawError::Height { m, low, high });
        }
        Ok(Height(m))
    }

    /// In metres.
    pub fn to_m(self) -> f64 {
        self.0
    }
}

/// Blood volume of an adult from height and weight.
///
/// # Formula
/// Nadler, Hidalgo and Bloch 1962 (Surgery 51:224), litres from metres and kilograms:
/// men 0.3669 h³ + 0.03219 w + 0.6041, women 0.3561 h³ + 0.03308 w + 0.1833.
///
/// ```
/// use draw::{BodyWeight, Height, Sex, nadler};
/// let volume = nadler(Sex::Male, Height::from_m(1.80)?, BodyWeight::from_kg(80.0)?)?;
/// assert!((volume.to_litres() - 5.319061).abs() < 1e-6);
/// # Ok::<(), draw::DrawError>(())
/// ```
pub fn nadler(sex: Sex, height: Height, weight: BodyWeight) -> Result<Volume, DrawError> {
    let (h, w) = (height.to_m(), weight.to_kg());
    let litres = match sex {
        Sex::Male => 0.3669 * h * h * h + 0.03219 * w + 0.6041,
        Sex::Female => 0.3561 * h * h * h + 0.03308 * w + 0.1833,
    };
    Ok(Volume::from_litres(litres)?)
}

/// Millilitres of blood per kilogram by age in months (Geigy Scientific Tables, 7th edition, as given by a university
/// review board): first half hour 76.5, 24 hours 83.3, 3 months 87, 6 months 86, 1 year 80, 6 years 80, 10 years 75,
/// 15 years 71.
const BY_AGE: &[(u16, f64)] =
    &[(0, 76.5), (3, 87.0), (6, 86.0), (12, 80.0), (72, 80.0), (120, 75.0), (180, 71.0)];
/// The same source: women 70, men 71.
const WOMEN_ML_PER_KG: f64 = 70.0;
const MEN_ML_PER_KG: f64 = 71.0;

/// Millilitres of blood per kilogram of a child. Between two ages of the table the smaller figure is taken, so that a
/// limit is never set too high; newborns count with the smallest of their first day. Without an age the smallest of
/// all children's figures.
pub fn child_ml_per_kg(age: Option<AgeMonths>) -> f64 {
    let Some(AgeMonths(months)) = age else {
        return BY_AGE.iter().map(|(_, ml_per_kg)| *ml_per_kg).fold(f64::INFINITY, f64::min);
    };
    let after = BY_AGE.partition_point(|(from, _)| *from <= months);
    let before = BY_AGE[after.saturating_sub(1)].1;
    match BY_AGE.get(after) {
        // On an age of the table its own figure holds.
        _ if BY_AGE[after.saturating_sub(1)].0 == months => before,
        Some((_, next)) => before.min(*next),
        None => before,
    }
}

/// Millilitres of blood per kilogram of an adult; without a sex the smaller figure.
pub fn adult_ml_per_kg(sex: Option<Sex>) -> f64 {
    match sex {
        Some(Sex::Male) => MEN_ML_PER_KG,
        Some(Sex::Female) | None => WOMEN_ML_PER_KG,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed in double precision from the printed coefficients.
    #[test]
    fn nadler_rows() {
        let rows = [
            (1.80, 80.0, 5.319061, 4.906475),
            (1.75, 70.0, 4.823755, 4.407373),
            (1.65, 60.0, 4.183661, 3.767746),
        ];
        for (m, kg, men, women) in rows {
            let (height, weight) = (Height::from_m(m).unwrap(), BodyWeight::from_kg(kg).unwrap());
            assert!((nadler(Sex::Male, height, weight).unwrap().to_litres() - men).abs() < 1e-6);
            assert!((nadler(Sex::Female, height, weight).unwrap().to_litres() - women).abs() < 1e-6);
        }
    }

    #[test]
    fn millilitres_per_kilogram_by_age() {
        let of = |months| child_ml_per_kg(Some(AgeMonths(months)));
        assert_eq!(
            [of(0), of(3), of(6), of(12), of(72), of(120), of(180)],
            [76.5, 87.0, 86.0, 80.0, 80.0, 75.0, 71.0]
        );
        assert_eq!(
            [of(1), of(9), of(100), of(130), of(200)],
            [76.5, 80.0, 75.0, 71.0, 71.0],
            "the smaller neighbour"
        );
        assert_eq!(child_ml_per_kg(None), 71.0);
        assert_eq!(
            [adult_ml_per_kg(Some(Sex::Male)), adult_ml_per_kg(Some(Sex::Female)), adult_ml_per_kg(None)],
            [71.0, 70.0, 70.0]
        );
    }
}
