//! The blood a job takes against the blood a patient has.

use std::fmt;

use breakdown::ledger::VolumeRange;
use draw::{BodyWeight, DrawError, Height, Sex, WeightBands, adult_ml_per_kg, child_ml_per_kg, nadler};

/// Least and greatest share of the blood volume that guidelines allow in 24 hours (Howie 2011, Bulletin of the World
/// Health Organization 89:46).
pub const DAY_LIMITS: (f64, f64) = (0.01, 0.05);

/// Most blood that can have been taken in a day: more than anybody has to lose.
const MOST_TAKEN_ML: f64 = 5_000.0;

/// The body a ledger is worked out for. No name, no number: a weight names nobody.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Sex; `None` for a child, or where it is not known.
    pub sex: Option<Sex>,
    /// Height in metres; `None` where it is not known.
    pub height_m: Option<f64>,
    /// Weight in kilograms.
    pub weight_kg: f64,
    /// True for a child: volume by weight, whatever the height.
    pub child: bool,
}

/// One patient's blood, and what a job takes of it in a day.
#[derive(Debug, Clone, PartialEq)]
pub struct PatientBlood {
    /// Estimated blood volume in millilitres.
    pub blood_ml: f64,
    /// How it was estimated, with its source.
    pub how: String,
    /// What the job takes, all sets, in millilitres.
    pub taken_ml: (f64, f64),
    /// The same as a share of the blood volume.
    pub share: (f64, f64),
    /// With what was taken before in the same 24 hours, in millilitres.
    pub day_ml: (f64, f64),
    /// The same as a share of the blood volume.
    pub day_share: (f64, f64),
    /// In one sentence, against the limits of guidelines.
    pub sentence: String,
    /// For a child: what the weight table asks for in all, in millilitres, and its source.
    pub table: Option<(f64, String)>,
}

/// Why there is no figure.
#[derive(Debug, Clone, PartialEq)]
pub enum BloodError {
    /// A weight or height nobody has.
    Body(DrawError),
    /// An amount nobody can have lost and be drawn from.
    TakenBefore {
        /// What was given, in millilitres.
        ml: f64,
    },
}

impl fmt::Display for BloodError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BloodError::Body(error) => error.fmt(f),
            BloodError::TakenBefore { ml } => {
                write!(f, "{ml} mL taken before is not within 0 to {MOST_TAKEN_ML} mL; check the number")
            }
        }
    }
}

impl std::error::Error for BloodError {}

/// One band of the weight table against what a job takes.
#[derive(Debug, Clone, PartialEq)]
pub struct BandRow {
    /// The band begins here, in kilograms.
    pub from_kg: f64,
    /// The next band begins here.
    pub below_kg: Option<f64>,
    /// What the table asks for in each set, in millilitres.
    pub sets_ml: Vec<f64>,
    /// What it asks for in all.
    pub total_ml: f64,
    /// True when the most this job takes is no more than that.
    pub job_fits: bool,
}

/// What a job takes of one patient's blood in a day. `taken_before_ml` is what was taken in the same 24 hours for
/// anything else.
///
/// # Errors
/// A weight or height nobody has, or a negative or endless amount taken before.
pub fn patient_blood(
    taken: VolumeRange,
    body: Body,
    taken_before_ml: f64,
) -> Result<PatientBlood, BloodError> {
    let weight = BodyWeight::from_kg(body.weight_kg).map_err(BloodError::Body)?;
    if !(0.0..=MOST_TAKEN_ML).contains(&taken_before_ml) {
        return Err(BloodError::TakenBefore { ml: taken_before_ml });
    }
    let per_kg = |ml_per_kg: f64, of: &str| {
        (
            weight.to_kg() * ml_per_kg,
            format!("{ml_per_kg} mL per kg, {of}; Geigy Scientific Tables, 7th edition"),
        )
    };
    let (blood_ml, how) = match (body.child, body.sex, body.height_m) {
        (true, ..) => per_kg(child_ml_per_kg(None), "the least of any age, so that no limit is set too high"),
        (false, Some(sex), Some(height)) => {
            let height = Height::from_m(height).map_err(BloodError::Body)?;
            let litres = nadler(sex, height, weight).map_err(BloodError::Body)?;
            (litres.to_ml(), "Nadler 1962, from height and weight".to_owned())
        }
        (false, sex, _) => per_kg(adult_ml_per_kg(sex), "an adult without height, or without sex"),
    };
    let taken_ml = (taken.low.to_ml(), taken.high.to_ml());
    let day_ml = (taken_ml.0 + taken_before_ml, taken_ml.1 + taken_before_ml);
    let of_blood = |(low, high): (f64, f64)| (low / blood_ml, high / blood_ml);
    let bands = WeightBands::default();
    let table = body.child.then(|| {
        let total = bands.sets(weight).iter().map(|set| set.to_ml()).sum();
        (total, bands.source.clone())
    });
    let day_share = of_blood(day_ml);
    Ok(PatientBlood {
        blood_ml,
        how,
        taken_ml,
        share: of_blood(taken_ml),
        day_ml,
        day_share,
        sentence: against_limits(day_share.1),
        table,
    })
}

fn against_limits(most: f64) -> String {
    let (least, greatest) = DAY_LIMITS;
    let limits = "guidelines span 1 to 5 % in 24 hours (Howie 2011); the unit's own limit comes first";
    if most > greatest {
        format!("More than any of the guidelines allows in a day: {limits}.")
    } else if most > least {
        format!("Within what some guidelines allow in a day and above what others do: {limits}.")
    } else {
        format!("Below what the strictest guideline allows in a day: {limits}.")
    }
}

/// The weight table for children, band by band, against what a job takes in all.
pub fn weight_bands(taken: VolumeRange) -> Vec<BandRow> {
    let table = WeightBands::default();
    let bands = table.bands();
    let kg = |grams: u32| f64::from(grams) / 1_000.0;
    bands
        .iter()
        .enumerate()
        .map(|(at, band)| {
            let sets_ml: Vec<f64> = band.sets.iter().map(|set| set.to_ml()).collect();
            let total_ml = sets_ml.iter().sum();
            BandRow {
                from_kg: kg(band.from_g),
                below_kg: bands.get(at + 1).map(|next| kg(next.from_g)),
                job_fits: taken.high.to_ml() <= total_ml,
                total_ml,
                sets_ml,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use breakdown::ledger;

    use super::*;

    fn taken(quantities: &str) -> VolumeRange {
        let text = format!("job: x\nstep: Fill\n  key point: Fill\n{quantities}");
        let breakdown = breakdown::parse(&text).breakdown.unwrap();
        ledger::blood(&breakdown).taken_per_patient.unwrap()
    }

    fn two_full_sets() -> VolumeRange {
        taken(
            "    quantity: fill 8 to 10 mL per bottle\n    quantity: 2 bottles per set\n    quantity: 2 sets per patient\n",
        )
    }

    fn six_ml() -> VolumeRange {
        taken(
            "    quantity: fill 3 mL per bottle\n    quantity: 1 bottles per set\n    quantity: 2 sets per patient\n",
        )
    }

    /// Nadler 1962 as printed: 1.75 m, 70 kg, a man 4.823755 L, a woman 4.407373 L; 40 mL of it by hand.
    #[test]
    fn an_adult_by_nadler() {
        for (sex, litres) in [(Sex::Male, 4.823755), (Sex::Female, 4.407373)] {
            let body = Body { sex: Some(sex), height_m: Some(1.75), weight_kg: 70.0, child: false };
            let blood = patient_blood(two_full_sets(), body, 0.0).unwrap();
            assert!((blood.blood_ml - 1_000.0 * litres).abs() < 1e-3);
            assert_eq!(blood.taken_ml, (32.0, 40.0));
            assert!((blood.share.1 - 0.040 / litres).abs() < 1e-9);
            assert!(blood.sentence.starts_with("Below what the strictest"), "{}", blood.sentence);
        }
    }

    /// 10 kg: the table asks for 6 mL (Kellogg 2000, IDSA/ASM 2018); at 71 mL per kg 6 mL are 0.85 % of 710 mL, and with
    /// 20 mL taken before 3.66 %, within the 1 to 5 % of Howie 2011.
    #[test]
    fn a_child_by_weight() {
        let body = Body { sex: None, height_m: None, weight_kg: 10.0, child: true };
        let blood = patient_blood(six_ml(), body, 20.0).unwrap();
        assert_eq!((blood.blood_ml, blood.taken_ml), (710.0, (6.0, 6.0)));
        assert_eq!(blood.table.as_ref().map(|(total, _)| *total), Some(6.0));
        assert!((blood.share.0 - 0.008_450_7).abs() < 1e-6 && (blood.day_share.1 - 0.036_619_7).abs() < 1e-6);
        assert!(blood.sentence.starts_with("Within what some"), "{}", blood.sentence);
        let adult = patient_blood(two_full_sets(), body, 0.0).unwrap();
        assert!(adult.sentence.starts_with("More than any"), "40 of 710 mL are 5.6 %: {}", adult.sentence);
    }

    /// Totals of the printed table: 2, 4, 6, 20, 40 mL. An adult's 40 mL fit only the heaviest band.
    #[test]
    fn bands_against_a_job() {
        let rows = weight_bands(two_full_sets());
        assert_eq!(rows.iter().map(|row| row.total_ml).collect::<Vec<_>>(), [2.0, 4.0, 6.0, 20.0, 40.0]);
        assert_eq!(
            rows.iter().map(|row| row.job_fits).collect::<Vec<_>>(),
            [false, false, false, false, true]
        );
        assert_eq!((rows[0].from_kg, rows[0].below_kg, rows[4].below_kg), (0.0, Some(1.1), None));
    }

    #[test]
    fn nobody_weighs_nothing() {
        let body = Body { sex: None, height_m: None, weight_kg: 0.0, child: false };
        assert!(patient_blood(six_ml(), body, 0.0).is_err());
        let body = Body { weight_kg: 70.0, ..body };
        for before in [-1.0, f64::NAN, f64::INFINITY] {
            assert!(patient_blood(six_ml(), body, before).is_err());
        }
        let blood = patient_blood(six_ml(), body, 0.0).unwrap();
        assert_eq!(blood.blood_ml, 4_900.0, "70 mL per kg without a sex (Geigy)");
    }
}
