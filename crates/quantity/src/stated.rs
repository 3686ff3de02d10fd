//! A quantity as a job states it, and what it means for another one to agree with it.

use std::fmt;

use crate::bounds::{self, Bounds, QuantityError};
use crate::vocabulary;

/// Unit of a stated quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Millilitres.
    Millilitre,
    /// Seconds.
    Second,
    /// Plain count.
    Count,
}

/// What a stated quantity is counted per.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Per {
    /// Per bottle.
    Bottle,
    /// Per set.
    Set,
    /// Per patient.
    Patient,
    /// Per kilogram of body weight.
    Kilogram,
    /// Per day.
    Day,
}

/// A quantity as a job states it: "8 to 10 mL per bottle", "at least 30 s".
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// What it is a quantity of, in lower case, where the words say so: "fill", "skin dry", "bottles".
    pub what: Option<String>,
    /// Least value that is right; `None` for "at most".
    pub low: Option<f64>,
    /// Greatest value that is right; `None` for "at least".
    pub high: Option<f64>,
    /// Unit in which both are given.
    pub unit: Unit,
    /// What it is counted per, where the job says.
    pub per: Option<Per>,
    /// The words it was read from; empty for one made from numbers heard in talk.
    pub words: String,
}

/// How a quantity that was said compares with the one a job states.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Agreement {
    /// Every value that was said is right.
    Agrees,
    /// Millilitres for seconds, and the like.
    OtherUnit,
    /// Per set for per bottle, and the like.
    OtherPer,
    /// "At most" for "at least", or an open end where the job has a limit.
    OtherDirection,
    /// Another number.
    OtherNumber,
}

/// Two numbers closer than this share of the larger one count as the same; only rounding in a change of unit
/// makes such a difference.
const SAME: f64 = 1e-9;

impl Stated {
    /// A quantity from its numbers; refuses both ends missing, NaN, out-of-range and upside-down ends.
    pub fn new(
        low: Option<f64>,
        high: Option<f64>,
        unit: Unit,
        per: Option<Per>,
    ) -> Result<Stated, StatedError> {
        let mut stated = Stated::heard(low, high, unit, per)?;
        stated.words = stated.to_string();
        Ok(stated)
    }

    /// As [`Stated::new`], without words.
    pub(crate) fn heard(
        low: Option<f64>,
        high: Option<f64>,
        unit: Unit,
        per: Option<Per>,
    ) -> Result<Stated, StatedError> {
        let bounds = unit.bounds();
        let low = low.map(|value| bounds.check(value)).transpose()?;
        let high = high.map(|value| bounds.check(value)).transpose()?;
        match (low, high) {
            (None, None) => return Err(StatedError::NoNumber),
            (Some(low), Some(high)) if low > high => return Err(StatedError::UpsideDown { low, high }),
            _ => {}
        }
        Ok(Stated { what: None, low, high, unit, per, words: String::new() })
    }

    /// This many times as much, without words; refuses what is out of range.
    pub fn times(&self, factor: f64) -> Result<Stated, StatedError> {
        let scaled = |value: Option<f64>| value.map(|value| value * factor);
        let mut stated = Stated::heard(scaled(self.low), scaled(self.high), self.unit, self.per)?;
        stated.what.clone_from(&self.what);
        Ok(stated)
    }

    /// True when a value in this quantity's unit is right.
    ///
    /// ```
    /// use quantity::Stated;
    /// let fill = Stated::read("8 to 10 mL per bottle")?;
    /// assert!(fill.accepts(8.0) && fill.accepts(10.0));
    /// assert!(!fill.accepts(7.9) && !fill.accepts(f64::NAN));
    /// # Ok::<(), quantity::ReadError>(())
    /// ```
    pub fn accepts(&self, value: f64) -> bool {
        value.is_finite()
            && self.low.is_none_or(|low| at_least(value, low))
            && self.high.is_none_or(|high| at_least(high, value))
    }

    /// How `said` compares with this quantity. What was said may be narrower ("10 mL" for "8 to 10 mL"), and may
    /// leave out what it is counted per; it may not name another "per", another direction or another number.
    ///
    /// ```
    /// use quantity::{Agreement, Stated};
    /// let fill = Stated::read("8 to 10 mL per bottle")?;
    /// assert_eq!(fill.compare(&Stated::read("ten mils")?), Agreement::Agrees);
    /// assert_eq!(fill.compare(&Stated::read("10 mL per set")?), Agreement::OtherPer);
    /// assert_eq!(fill.compare(&Stated::read("at least 8 mL")?), Agreement::OtherDirection);
    /// # Ok::<(), quantity::ReadError>(())
    /// ```
    pub fn compare(&self, said: &Stated) -> Agreement {
        if self.unit != said.unit {
            return Agreement::OtherUnit;
        }
        if let (Some(expected), Some(heard)) = (self.per, said.per)
            && expected != heard
        {
            return Agreement::OtherPer;
        }
        let ends = [said.low, said.high];
        if ends.into_iter().flatten().any(|value| !self.accepts(value)) {
            return Agreement::OtherNumber;
        }
        let open_below = self.low.is_some_and(|low| low > 0.0) && said.low.is_none();
        let open_above = self.high.is_some() && said.high.is_none();
        if open_below || open_above { Agreement::OtherDirection } else { Agreement::Agrees }
    }

    /// True when every value that was said is right: [`Stated::compare`] without the reason.
    pub fn agrees(&self, said: &Stated) -> bool {
        self.compare(said) == Agreement::Agrees
    }

    /// True when both state exactly the same numbers, unit and "per", whatever their words.
    pub fn same_numbers(&self, other: &Stated) -> bool {
        self.unit == other.unit
            && self.per == other.per
            && same_end(self.low, other.low)
            && same_end(self.high, other.high)
    }

    /// The canonical words without what it is a quantity of: "8 to 10 mL per bottle".
    pub fn amount(&self) -> String {
        let divisor = self.divisor();
        let number = |value: f64| (value / divisor).to_string();
        let mut text = match (self.low, self.high) {
            (Some(low), Some(high)) if low == high => number(low),
            (Some(low), Some(high)) => format!("{} to {}", number(low), number(high)),
            (Some(low), None) => format!("at least {}", number(low)),
            (None, Some(high)) => format!("at most {}", number(high)),
            (None, None) => "no number".to_owned(),
        };
        text.push(' ');
        text.push_str(&match (self.unit, divisor) {
            (Unit::Millilitre, _) => "mL".to_owned(),
            (Unit::Second, 3600.0) => "h".to_owned(),
            (Unit::Second, 60.0) => "min".to_owned(),
            (Unit::Second, _) => "s".to_owned(),
            (Unit::Count, _) => self.noun(),
        });
        if let Some(per) = self.per {
            text.push_str(" per ");
            text.push_str(per.name());
        }
        text
    }

    /// How many of its base unit (mL, s) one of the unit is that people would count it in: minutes for "5 min", days for
    /// "7 days". A number said without a unit is meant so.
    pub fn counted_in(&self) -> f64 {
        const DAY: f64 = 86_400.0;
        let mut ends = [self.low, self.high].into_iter().flatten();
        let in_days = self.unit == Unit::Second && ends.all(|end| end >= 2.0 * DAY && end % DAY == 0.0);
        if in_days { DAY } else { self.divisor() }
    }

    /// The unit the canonical words use: whole hours and whole minutes where every end is one.
    fn divisor(&self) -> f64 {
        let whole = |unit: f64| {
            let mut ends = [self.low, self.high].into_iter().flatten();
            ends.all(|end| end >= unit && end % unit == 0.0)
        };
        match self.unit {
            Unit::Second if whole(3600.0) => 3600.0,
            Unit::Second if whole(60.0) => 60.0,
            _ => 1.0,
        }
    }

    /// What a plain count counts, in the singular for exactly one.
    fn noun(&self) -> String {
        let last =
            self.what.as_deref().and_then(|what| what.split_whitespace().next_back()).unwrap_or("times");
        let one = self.low == Some(1.0) && self.high == Some(1.0);
        if one { vocabulary::singular(last).unwrap_or(last).to_owned() } else { last.to_owned() }
    }
}

/// The canonical words: "fill 8 to 10 mL per bottle", "at most 2 attempts per patient".
impl fmt::Display for Stated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = self.what.as_deref().unwrap_or("");
        let before = match self.unit {
            // The noun of a count stands after its number.
            Unit::Count => what.rsplit_once(' ').map_or("", |(before, _)| before),
            _ => what,
        };
        if !before.is_empty() {
            write!(f, "{before} ")?;
        }
        f.write_str(&self.amount())
    }
}

/// Why numbers do not make a stated quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StatedError {
    /// Neither a least nor a greatest value.
    #[error("no number")]
    NoNumber,
    /// The least value is above the greatest.
    #[error("{low} to {high} runs from high to low")]
    UpsideDown {
        /// First number.
        low: f64,
        /// Second number.
        high: f64,
    },
    /// Not finite, or out of range.
    #[error(transparent)]
    Value(#[from] QuantityError),
}

impl Unit {
    pub(crate) fn bounds(self) -> &'static Bounds {
        match self {
            Unit::Millilitre => &bounds::VOLUME,
            Unit::Second => &bounds::TIME,
            Unit::Count => &bounds::COUNT,
        }
    }
}

impl Per {
    /// The word after "per".
    pub fn name(self) -> &'static str {
        match self {
            Per::Bottle => "bottle",
            Per::Set => "set",
            Per::Patient => "patient",
            Per::Kilogram => "kg",
            Per::Day => "day",
        }
    }
}

fn at_least(value: f64, limit: f64) -> bool {
    value >= limit - SAME * limit.abs()
}

fn same_end(left: Option<f64>, right: Option<f64>) -> bool {
    match (left, right) {
        (Some(left), Some(right)) => at_least(left, right) && at_least(right, left),
        (None, None) => true,
        _ => false,
    }
}
