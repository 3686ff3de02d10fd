//! How full the bottles were.

use crate::set::{BottleKind, CultureSet};
use crate::tally::{Rate, share};

/// The fill a bottle should have, in millilitres; both ends belong to the range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FillTarget {
    low_ml: f64,
    high_ml: f64,
}

/// A fill target that means nothing.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("fill target {low_ml} to {high_ml} mL: both ends must be within 0 to 50 mL and in order")]
pub struct FillTargetError {
    low_ml: f64,
    high_ml: f64,
}

impl FillTarget {
    /// Ends in millilitres, 0 to 50, lower end first.
    ///
    /// # Errors
    /// Refuses NaN, ends outside 0 to 50 mL and ends in the wrong order.
    pub fn from_ml(low_ml: f64, high_ml: f64) -> Result<Self, FillTargetError> {
        let fine = |value: f64| (0.0..=50.0).contains(&value);
        if fine(low_ml) && fine(high_ml) && low_ml <= high_ml {
            Ok(Self { low_ml, high_ml })
        } else {
            Err(FillTargetError { low_ml, high_ml })
        }
    }

    /// Lower end in millilitres.
    pub fn low_ml(self) -> f64 {
        self.low_ml
    }

    /// Upper end in millilitres.
    pub fn high_ml(self) -> f64 {
        self.high_ml
    }
}

impl Default for FillTarget {
    /// 8 to 10 mL in an adult bottle (Swedish weighing study 2019, J Clin Microbiol).
    fn default() -> Self {
        Self { low_ml: 8.0, high_ml: 10.0 }
    }
}

/// How full the adult bottles of some sets were. Paediatric bottles have another target and are only counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FillFacts {
    /// The target the shares refer to.
    pub target: FillTarget,
    /// Adult bottles listed.
    pub bottles: u64,
    /// Of these, bottles whose fill is known: the denominator of the shares and the mean.
    pub with_fill: u64,
    /// Below the target.
    pub under: u64,
    /// Within the target.
    pub within: u64,
    /// Above the target.
    pub over: u64,
    /// Paediatric bottles, not in any of the figures above.
    pub paediatric: u64,
    /// In whole nanolitres, so that the sum does not hang on the order of the bottles.
    sum_nl: i64,
}

/// Nanolitres in a millilitre.
const NL_IN_ML: f64 = 1e6;

impl FillFacts {
    /// Counts the bottles of these sets.
    pub fn count<'a>(sets: impl IntoIterator<Item = &'a CultureSet>, target: FillTarget) -> Self {
        let mut facts = Self::none(target);
        for bottle in sets.into_iter().flat_map(|set| &set.bottles) {
            facts.add(bottle.kind, bottle.fill_ml);
        }
        facts
    }

    /// No bottle yet.
    pub(crate) fn none(target: FillTarget) -> Self {
        Self { target, bottles: 0, with_fill: 0, under: 0, within: 0, over: 0, paediatric: 0, sum_nl: 0 }
    }

    /// Counts one more bottle.
    pub(crate) fn add(&mut self, kind: BottleKind, fill_ml: Option<f64>) {
        self.add_bottle(BottleFacts::of(kind, fill_ml, self.target));
    }

    /// Counts one more bottle of which everything is known.
    pub(crate) fn add_bottle(&mut self, bottle: BottleFacts) {
        self.bottles += u64::from(bottle.adult);
        self.paediatric += u64::from(!bottle.adult);
        self.with_fill += u64::from(bottle.with_fill);
        self.under += u64::from(bottle.under);
        self.within += u64::from(bottle.within);
        self.over += u64::from(bottle.over);
        self.sum_nl = self.sum_nl.saturating_add(bottle.fill_nl);
    }

    pub(crate) fn add_all(&mut self, other: &Self) {
        self.bottles += other.bottles;
        self.paediatric += other.paediatric;
        self.with_fill += other.with_fill;
        self.under += other.under;
        self.within += other.within;
        self.over += other.over;
        self.sum_nl = self.sum_nl.saturating_add(other.sum_nl);
    }

    /// Mean fill in millilitres over the bottles whose fill is known. It carries no interval: bottles of one draw
    /// are filled by one hand and are not independent.
    pub fn mean_ml(&self) -> Option<f64> {
        (self.with_fill > 0).then(|| self.sum_nl as f64 / NL_IN_ML / self.with_fill as f64)
    }

    /// Share of bottles within the target, out of those whose fill is known.
    pub fn within_share(&self) -> Option<Rate> {
        share(self.within, self.with_fill)
    }

    /// Share of bottles below the target, out of those whose fill is known.
    pub fn under_share(&self) -> Option<Rate> {
        share(self.under, self.with_fill)
    }

    /// Share of bottles above the target, out of those whose fill is known.
    pub fn over_share(&self) -> Option<Rate> {
        share(self.over, self.with_fill)
    }
}

/// What one bottle adds to [`FillFacts`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct BottleFacts {
    adult: bool,
    with_fill: bool,
    under: bool,
    within: bool,
    over: bool,
    fill_nl: i64,
}

impl BottleFacts {
    pub(crate) fn of(kind: BottleKind, fill_ml: Option<f64>, target: FillTarget) -> Self {
        let adult = kind != BottleKind::Paediatric;
        // A fill that is no number counts as not known.
        let fill = fill_ml.filter(|fill| adult && fill.is_finite());
        Self {
            adult,
            with_fill: fill.is_some(),
            under: fill.is_some_and(|fill| fill < target.low_ml),
            within: fill.is_some_and(|fill| (target.low_ml..=target.high_ml).contains(&fill)),
            over: fill.is_some_and(|fill| fill > target.high_ml),
            fill_nl: fill.map_or(0, |fill| (fill * NL_IN_ML).round() as i64),
        }
    }
}

/// Blood in a bottle from its gain in mass.
///
/// `density_g_per_ml` is a stated parameter: 1.0506 g/mL is whole blood at 37 °C (Trudnowski and Rico 1974, Clin Chem
/// 20:615); 1.05 to 1.06 is used in practice. Gives `None` unless the gain is 0 to 60 g and the density 1.0 to 1.1.
///
/// ```
/// // Arithmetic checkable by hand: 10.5 g at 1.05 g/mL is 10 mL.
/// assert_eq!(culture::fill_from_mass(10.5, 1.05), Some(10.0));
/// assert_eq!(culture::fill_from_mass(f64::NAN, 1.05), None);
/// ```
pub fn fill_from_mass(gain_g: f64, density_g_per_ml: f64) -> Option<f64> {
    let plausible = (0.0..=60.0).contains(&gain_g) && (1.0..=1.1).contains(&density_g_per_ml);
    plausible.then(|| gain_g / density_g_per_ml)
}
