//! What a draw costs in haemoglobin.

use quantity::Volume;

use crate::error::DrawError;

/// Haemoglobin of the blood in grams per litre, 20 to 250.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Haemoglobin(f64);

const RANGE_G_PER_L: (f64, f64) = (20.0, 250.0);

impl Haemoglobin {
    /// From grams per litre; 8.5 g/dL are 85 g/L.
    pub fn from_g_per_l(value: f64) -> Result<Haemoglobin, DrawError> {
        let (low, high) = RANGE_G_PER_L;
        if !(low..=high).contains(&value) {
            return Err(DrawError::Haemoglobin { g_per_l: value, low, high });
        }
        Ok(Haemoglobin(value))
    }

    /// In grams per litre.
    pub fn to_g_per_l(self) -> f64 {
        self.0
    }
}

/// Haemoglobin that a draw takes, and the concentration once the lost volume has been made up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HaemoglobinCost {
    /// Haemoglobin in the drawn blood, grams.
    pub taken_g: f64,
    /// Before, grams per litre.
    pub before_g_per_l: f64,
    /// Afterwards, grams per litre.
    pub after_g_per_l: f64,
}

/// What drawing a volume costs.
///
/// # Formula
/// Taken: concentration x volume. Afterwards, with b blood volume and v the volume drawn: before x (2b - v) / (2b + v),
/// which is Gross 1983 (Anesthesiology 58:277: loss = b x (before - after) / mean of both, from memory) solved for
/// "after". It supposes that the lost volume is made up by fluid, and no bleeding and no transfusion; the source gives
/// no interval.
pub fn haemoglobin_cost(haemoglobin: Haemoglobin, drawn: Volume, blood: Volume) -> HaemoglobinCost {
    let before = haemoglobin.0;
    let (b, v) = (blood.to_ml(), drawn.to_ml());
    HaemoglobinCost {
        taken_g: before * drawn.to_litres(),
        before_g_per_l: before,
        after_g_per_l: before * ((2.0 * b - v) / (2.0 * b + v)).max(0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 40 mL at 85 g/L hold 3.4 g; of 4000 mL of blood, 85 x 7960 / 8040 = 84.154. The formula the other way
    /// round: 4000 x (85 - 84.1542) / 84.5771 = 40.
    #[test]
    fn forty_millilitres_of_four_litres() {
        let ml = |value| Volume::from_ml(value).unwrap();
        let cost = haemoglobin_cost(Haemoglobin::from_g_per_l(85.0).unwrap(), ml(40.0), ml(4000.0));
        assert!((cost.taken_g - 3.4).abs() < 1e-12);
        assert!((cost.after_g_per_l - 84.154_228_855_721).abs() < 1e-9);
        let mean = f64::midpoint(cost.before_g_per_l, cost.after_g_per_l);
        assert!((4000.0 * (cost.before_g_per_l - cost.after_g_per_l) / mean - 40.0).abs() < 1e-9);
        assert!(Haemoglobin::from_g_per_l(8.5).is_err());
        assert!(Haemoglobin::from_g_per_l(f64::NAN).is_err());
    }
}
