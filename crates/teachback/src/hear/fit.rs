//! How well a number that was heard fits what an item asks for.

use quantity::{Agreement, Stated};

use super::profile::{ItemProfile, ItemQuantity};
use super::stream::StreamToken;

/// How a quantity of the stream fits an item.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Fit {
    /// It is the item's own, 0 to 1 for how closely.
    Hits(f64),
    /// The item has a quantity of this unit, but another number.
    SameUnit,
    /// The item has none of this kind.
    None,
}

/// Weight of a number that only lies within an open end ("15 s" for "at most 45 min"), against one that hits an end.
const LOOSE_NUMBER: f64 = 0.35;
/// The same where it is no more than this many times off.
const LOOSE_BUT_NEAR: f64 = 0.55;
const NEAR_TIMES: f64 = 2.0;
/// Weight of a number that hits one end, or lies within a closed range.
const NEAR_NUMBER: f64 = 0.9;
/// What is left of the weight where the number is counted per something else.
const OTHER_PER: f64 = 0.8;
/// The same where the item is counted per nothing.
const NO_PER: f64 = 0.6;
/// What is left where "at least" was said for "at most", or for the number itself.
const OTHER_DIRECTION: f64 = 0.6;
/// What is left where no unit was named.
const NO_UNIT: f64 = 0.7;

pub(super) fn quantity_fit(item: &ItemProfile, token: &StreamToken) -> Fit {
    let Some(found) = &token.quantity else { return Fit::None };
    let mut fit = Fit::None;
    for expected in &item.quantities {
        let Some(heard) = comparable(expected, found) else { continue };
        let closeness = match expected.stated.compare(&heard) {
            Agreement::Agrees => closeness(&expected.stated, &heard),
            Agreement::OtherPer if found.unit.is_some() || found.per.is_some() => {
                closeness(&expected.stated, &heard)
            }
            Agreement::OtherDirection if found.unit.is_some() || found.per.is_some() => {
                closeness(&expected.stated, &heard) * OTHER_DIRECTION
            }
            _ if found.unit.is_some() || expected.bare || token.asked == Some(expected.stated.unit) => {
                if fit == Fit::None {
                    fit = Fit::SameUnit;
                }
                continue;
            }
            _ => continue,
        };
        let closeness = if found.unit.is_none() && !expected.bare { closeness * NO_UNIT } else { closeness };
        fit = match fit {
            Fit::Hits(known) if known >= closeness => fit,
            _ => Fit::Hits(closeness),
        };
    }
    fit
}

/// A heard number in the unit that is expected, where it can be one.
pub(super) fn comparable(expected: &ItemQuantity, heard: &quantity::Found) -> Option<Stated> {
    let stated = &expected.stated;
    let same_unit =
        if expected.bare { heard.unit.is_none() } else { heard.unit.is_none_or(|unit| unit == stated.unit) };
    let same_thing = heard.counted.is_none_or(|counted| counts_the_same(counted, stated.what.as_deref()));
    let bare = heard.unit.is_none();
    let mut heard = (same_unit && same_thing).then(|| heard.stated(stated.unit).ok()).flatten()?;
    if bare && !expected.bare {
        heard = in_the_unit_meant(stated, heard);
    }
    if expected.bare {
        heard.what.clone_from(&stated.what);
        // A share is held against a share.
        let is_share = |stated: &Stated| stated.low.or(stated.high).is_some_and(|end| end <= 1.0);
        if is_share(stated) != is_share(&heard) && stated.high.is_some_and(|end| end < 1.0) {
            return None;
        }
    }
    Some(heard)
}

/// Plain counts of one thing: "tries" are attempts, and "three times" may be three of anything.
fn counts_the_same(heard: &str, expected: Option<&str>) -> bool {
    let expected = expected.and_then(|what| what.split_whitespace().next_back()).unwrap_or("");
    let same = |one: &str, two: &str| (heard, expected) == (one, two) || (heard, expected) == (two, one);
    heard == expected || heard == "times" || expected == "times" || same("tries", "attempts")
}

/// A number without a unit, in the unit people count the expected one in: "at least five" is five minutes where five minutes are
/// asked. Where it is nearer in the base unit, that was meant: "sixty" for one minute.
fn in_the_unit_meant(expected: &Stated, heard: Stated) -> Stated {
    let factor = expected.counted_in();
    if factor == 1.0 {
        return heard;
    }
    let Ok(larger) = heard.times(factor) else { return heard };
    let middle = |stated: &Stated| stated.low.or(stated.high).unwrap_or(0.0).max(f64::MIN_POSITIVE);
    let end = expected.high.or(expected.low).unwrap_or(0.0).max(f64::MIN_POSITIVE);
    let off = |stated: &Stated| libm::log(middle(stated) / end).abs();
    if off(&larger) <= off(&heard) { larger } else { heard }
}

/// "Thirty seconds" for at least fifteen.
fn is_near(expected: &Stated, heard: &Stated) -> bool {
    let end = expected.low.or(expected.high).unwrap_or(0.0);
    let off = [heard.low, heard.high].into_iter().flatten().map(|value| (value / end).max(end / value));
    end > 0.0 && off.fold(0.0, f64::max) <= NEAR_TIMES
}

/// How well a fitting number hits what is expected: both ends, one end or within a closed range, or only within an open
/// end; less where it is counted per something the item does not count by.
fn closeness(expected: &Stated, heard: &Stated) -> f64 {
    let both = (expected.low, expected.high) == (heard.low, heard.high);
    let closed = expected.low.is_some() && expected.high.is_some();
    let ends = [expected.low, expected.high];
    let one = [heard.low, heard.high].into_iter().flatten().any(|value| ends.contains(&Some(value)));
    let numbers = match (both, closed || one) {
        (true, _) => 1.0,
        (false, true) => NEAR_NUMBER,
        (false, false) if is_near(expected, heard) => LOOSE_BUT_NEAR,
        (false, false) => LOOSE_NUMBER,
    };
    match (heard.per, expected.per) {
        (Some(_), None) => numbers * NO_PER,
        (Some(heard), Some(expected)) if heard != expected => numbers * OTHER_PER,
        _ => numbers,
    }
}
