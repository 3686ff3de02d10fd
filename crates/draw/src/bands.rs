//! Blood culture volume of children by weight.

use quantity::Volume;

use crate::blood_volume::BodyWeight;
use crate::error::DrawError;

/// One band: from a weight up to the next band, with the volume of each set.
#[derive(Debug, Clone, PartialEq)]
pub struct WeightBand {
    /// Least weight of the band in whole grams.
    pub from_g: u32,
    /// Volume of each set, in the order of drawing.
    pub sets: Vec<Volume>,
}

/// A table of weight bands; a unit may have its own.
#[derive(Debug, Clone, PartialEq)]
pub struct WeightBands {
    /// Where the table comes from.
    pub source: String,
    bands: Vec<WeightBand>,
}

impl WeightBands {
    /// A table; its bands must rise from 0 g and each must draw something.
    pub fn new(source: String, bands: Vec<WeightBand>) -> Result<WeightBands, DrawError> {
        let refuse =
            |found: String, expected| Err(DrawError::Policy { what: "weight bands", found, expected });
        if bands.first().is_none_or(|band| band.from_g != 0) {
            return refuse("without a band from 0 g".to_owned(), "the first band must start at 0 g");
        }
        if let Some(pair) = bands.windows(2).find(|pair| pair[0].from_g >= pair[1].from_g) {
            return refuse(format!("{} g after {} g", pair[1].from_g, pair[0].from_g), "bands must rise");
        }
        if let Some(band) = bands.iter().find(|band| band.sets.iter().all(|set| *set == Volume::ZERO)) {
            return refuse(
                format!("no blood from {} g", band.from_g),
                "each band must have a set with blood",
            );
        }
        Ok(WeightBands { source, bands })
    }

    /// Volumes of the sets for a weight.
    pub fn sets(&self, weight: BodyWeight) -> &[Volume] {
        let after = self.bands.partition_point(|band| f64::from(band.from_g) <= weight.to_whole_g());
        &self.bands[after.saturating_sub(1)].sets
    }

    /// The bands, lightest first.
    pub fn bands(&self) -> &[WeightBand] {
        &self.bands
    }
}

/// The weight table of Kellogg 2000 as the IDSA/ASM guides of 2013 and 2018 print it (Table 3).
///
/// | kg | set 1 | set 2 |
/// |---|---|---|
/// | 1 or less | 2 mL | none |
/// | 1.1 to 2 | 2 mL | 2 mL |
/// | 2.1 to 12.7 | 4 mL | 2 mL |
/// | 12.8 to 36.3 | 10 mL | 10 mL |
/// | above 36.3 | 20 mL | 20 mL |
///
/// The printed bands leave gaps, such as between 1 and 1.1 kg: a weight in a gap belongs to the lower band, so that
/// less is drawn. For "above 36.3", 20 to 30 mL a set are printed and the smaller is taken. The volumes per set are
/// from memory, the totals were seen. Sources disagree: another hospital's table, also citing Kellogg, has 4.5 mL at
/// 1.1 to 2 kg; a guideline of 2007 asks for at most 1 % of the blood volume.
impl Default for WeightBands {
    fn default() -> Self {
        let band = |from_g, ml: &[f64]| WeightBand {
            from_g,
            sets: ml.iter().filter_map(|ml| Volume::from_ml(*ml).ok()).collect(),
        };
        WeightBands {
            source: "Kellogg 2000, as printed by IDSA/ASM 2018, Table 3".to_owned(),
            bands: vec![
                band(0, &[2.0]),
                band(1_100, &[2.0, 2.0]),
                band(2_100, &[4.0, 2.0]),
                band(12_800, &[10.0, 10.0]),
                band(36_301, &[20.0, 20.0]),
            ],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn total(kg: f64) -> f64 {
        let bands = WeightBands::default();
        bands.sets(BodyWeight::from_kg(kg).unwrap()).iter().map(|set| set.to_ml()).sum()
    }

    /// IDSA/ASM 2018, Table 3 (Kellogg 2000): both ends of each band, and the decision for the gaps.
    #[test]
    fn bands_at_their_ends() {
        for (kg, ml) in [
            (0.5, 2.0),
            (1.0, 2.0),
            (1.1, 4.0),
            (2.0, 4.0),
            (2.1, 6.0),
            (12.7, 6.0),
            (12.8, 20.0),
            (36.3, 20.0),
            (36.4, 40.0),
            (70.0, 40.0),
        ] {
            assert_eq!(total(kg), ml, "{kg} kg");
        }
        for (kg, ml) in [(1.05, 2.0), (1.099, 2.0), (2.05, 4.0), (12.75, 6.0), (36.35, 40.0)] {
            assert_eq!(total(kg), ml, "{kg} kg lies between two printed bands");
        }
    }

    #[test]
    fn a_units_own_table_must_make_sense() {
        let band = |from_g, ml| WeightBand { from_g, sets: vec![Volume::from_ml(ml).unwrap()] };
        let new = |bands| WeightBands::new("own".to_owned(), bands);
        assert!(new(vec![band(0, 1.0), band(5_000, 3.0)]).is_ok());
        assert!(new(vec![]).is_err());
        assert!(new(vec![band(100, 1.0)]).is_err());
        assert!(new(vec![band(0, 1.0), band(0, 3.0)]).is_err());
        assert!(new(vec![band(0, 0.0)]).is_err());
    }
}
