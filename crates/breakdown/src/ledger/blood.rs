//! Blood drawn, wasted and returned, and what a bottle filled below the guides costs.

use std::fmt;

use quantity::Volume;

use super::amounts::{Amounts, Span, Use};
use crate::model::Breakdown;

/// Least and greatest volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VolumeRange {
    /// Least.
    pub low: Volume,
    /// Greatest.
    pub high: Volume,
}

/// Blood of one set and of one patient, as far as the breakdown's quantities say.
#[derive(Debug, Clone, PartialEq)]
pub struct BloodLedger {
    /// Into the bottles of one set.
    pub cultured_per_set: Option<VolumeRange>,
    /// Discarded or diverted per set.
    pub wasted_per_set: VolumeRange,
    /// Given back per set.
    pub returned_per_set: VolumeRange,
    /// Leaves the patient per set: cultured and wasted, less what is returned.
    pub taken_per_set: Option<VolumeRange>,
    /// Leaves the patient in all sets of the job.
    pub taken_per_patient: Option<VolumeRange>,
    /// What the breakdown does not say and the missing figures would need.
    pub unknown: Vec<&'static str>,
}

/// Fill of one bottle against the recommended range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FillLedger {
    /// Fill the breakdown states.
    pub stated: VolumeRange,
    /// Fill it is held against.
    pub recommended: VolumeRange,
    /// Blood missing from each bottle: from the least shortfall to the greatest.
    pub short: VolumeRange,
    /// Blood above the recommended range in the fullest bottle.
    pub over: Volume,
    /// What the shortfall costs.
    pub yield_lost: YieldLost,
}

/// Share of detectable bloodstream infections missed for want of blood, in percentage points.
///
/// Source: Mermel and Maki 1993, Annals of Internal Medicine 119:270: 829 pairs of cultures of 8.7 and 2.7 mL found
/// 92 % against 69 %, a difference of 23 points (95 % interval 9 to 37) over 6.0 mL; their summary is about 3 % per
/// mL. The wide range is that interval spread evenly over the 6.0 mL. Later work found less per mL (Cockerill 2004)
/// and one weighing study the opposite, confounded by severity (Bouza 2007), so this is an order of size, not a
/// forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YieldLost {
    /// About 3 points per mL, at the least shortfall.
    pub about_low: f64,
    /// About 3 points per mL, at the greatest shortfall.
    pub about_high: f64,
    /// Lower end of the published interval at the least shortfall.
    pub at_least: f64,
    /// Upper end of the published interval at the greatest shortfall, never above 100.
    pub at_most: f64,
}

/// Fill of an adult bottle the guides ask for: 8 to 10 mL (Swedish weighing study, Journal of Clinical Microbiology
/// 2019; 20 to 30 mL per set into two or three bottles, IDSA/ASM guide, Miller 2018). The bottle's own maximum comes
/// first.
pub fn recommended_adult_fill() -> VolumeRange {
    range(Span { low: 8.0, high: 10.0 }).unwrap_or(NOTHING)
}

const NOTHING: VolumeRange = VolumeRange { low: Volume::ZERO, high: Volume::ZERO };
const POINTS_PER_ML: f64 = 3.0;
const LEAST_POINTS_PER_ML: f64 = 9.0 / 6.0;
const MOST_POINTS_PER_ML: f64 = 37.0 / 6.0;

/// Blood drawn, wasted and returned per set and per patient.
pub fn blood(breakdown: &Breakdown) -> BloodLedger {
    let amounts = Amounts::of(breakdown);
    let mut unknown = Vec::new();
    let fill = amounts.fill_per_bottle().and_then(|amount| amount.span());
    let bottles = amounts.bottles_per_set().and_then(|amount| amount.span());
    let stated_set = amounts.volume_per_set().next().and_then(|amount| amount.span());
    let cultured = fill.zip(bottles).map(|(fill, bottles)| fill.times(bottles)).or(stated_set);
    if cultured.is_none() {
        unknown.push(if fill.is_none() {
            "fill per bottle (write, for example, quantity: fill 8 to 10 mL per bottle)"
        } else {
            "bottles per set (write, for example, quantity: 2 bottles per set)"
        });
    }
    let sum = |used_for| {
        let spans = amounts.all(used_for).filter_map(|amount| amount.span());
        spans.fold(Span::ZERO, Span::plus)
    };
    let (wasted, returned) = (sum(Use::Wasted), sum(Use::Returned));
    // What goes back cannot be more than what came out.
    let taken = cultured.map(|cultured| {
        let out = cultured.plus(wasted);
        Span { low: (out.low - returned.high).max(0.0), high: (out.high - returned.low).max(0.0) }
    });
    let sets = amounts.sets_per_patient().and_then(|amount| amount.span());
    if sets.is_none() {
        unknown.push("sets per patient (write, for example, quantity: 2 sets per patient)");
    }
    BloodLedger {
        cultured_per_set: cultured.and_then(range),
        wasted_per_set: range(wasted).unwrap_or(NOTHING),
        returned_per_set: range(returned).unwrap_or(NOTHING),
        taken_per_set: taken.and_then(range),
        taken_per_patient: taken.zip(sets).and_then(|(taken, sets)| range(taken.times(sets))),
        unknown,
    }
}

/// Bottle fill against a recommended range; `None` where the breakdown states no fill per bottle with both ends.
pub fn bottle_fill(breakdown: &Breakdown, recommended: VolumeRange) -> Option<FillLedger> {
    let amounts = Amounts::of(breakdown);
    let stated = range(amounts.fill_per_bottle()?.span()?)?;
    let less = |from: Volume, take: Volume| from.checked_sub(take).unwrap_or(Volume::ZERO);
    // Within the range nothing is missing; below it, the aim may be either end of the recommended range.
    let is_short = stated.low < recommended.low;
    let short = VolumeRange {
        low: less(recommended.low, stated.high),
        high: if is_short { less(recommended.high, stated.low) } else { Volume::ZERO },
    };
    let over = less(stated.high, recommended.high);
    Some(FillLedger { stated, recommended, short, over, yield_lost: yield_lost(short) })
}

/// What a shortfall per culture costs in yield; see [`YieldLost`] for the source.
///
/// ```
/// # use breakdown::ledger::{VolumeRange, yield_lost};
/// # use quantity::Volume;
/// // The difference of the published study itself: 6.0 mL cost 9 to 37 points.
/// let six = Volume::from_ml(6.0)?;
/// let lost = yield_lost(VolumeRange { low: six, high: six });
/// assert_eq!((lost.at_least, lost.about_low, lost.at_most), (9.0, 18.0, 37.0));
/// # Ok::<(), quantity::QuantityError>(())
/// ```
pub fn yield_lost(short: VolumeRange) -> YieldLost {
    let points = |volume: Volume, per_ml: f64| (volume.to_ml() * per_ml).min(100.0);
    YieldLost {
        about_low: points(short.low, POINTS_PER_ML),
        about_high: points(short.high, POINTS_PER_ML),
        at_least: points(short.low, LEAST_POINTS_PER_ML),
        at_most: points(short.high, MOST_POINTS_PER_ML),
    }
}

impl VolumeRange {
    /// True when there is nothing at all.
    pub fn is_nothing(&self) -> bool {
        *self == NOTHING
    }
}

impl fmt::Display for VolumeRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.low == self.high {
            write!(f, "{}", self.low)
        } else {
            write!(f, "{} to {}", self.low.to_string().trim_end_matches(" mL"), self.high)
        }
    }
}

fn range(span: Span) -> Option<VolumeRange> {
    Some(VolumeRange { low: Volume::from_ml(span.low).ok()?, high: Volume::from_ml(span.high).ok()? })
}
