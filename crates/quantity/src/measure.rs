//! Volume, time and mass as types: the unit is in the name of the door, and only arithmetic that means
//! something compiles.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div};

use crate::bounds::{self, QuantityError};

/// What the three measures share. The range is checked where a value enters; a sum of values that each
/// passed may exceed it, and stays finite.
macro_rules! measure {
    ($name:ident, $bounds:expr, $unit:literal) => {
        impl $name {
            /// None of it.
            pub const ZERO: $name = $name(0.0);

            /// What is left after taking `other` away; `None` when `other` is more.
            pub fn checked_sub(self, other: $name) -> Option<$name> {
                (self.0 >= other.0).then(|| $name(self.0 - other.0))
            }

            /// This many of it.
            pub fn times(self, count: u32) -> $name {
                $name(self.0 * f64::from(count))
            }

            /// A share or a multiple of it; a factor that is negative or not finite is refused.
            pub fn scaled(self, factor: f64) -> Result<$name, QuantityError> {
                $bounds.check(self.0 * factor).map($name)
            }

            /// The smaller of two.
            pub fn min(self, other: $name) -> $name {
                if self.0 <= other.0 { self } else { other }
            }

            /// The greater of two.
            pub fn max(self, other: $name) -> $name {
                if self.0 >= other.0 { self } else { other }
            }
        }

        impl Add for $name {
            type Output = $name;
            fn add(self, other: $name) -> $name {
                $name(self.0 + other.0)
            }
        }

        impl AddAssign for $name {
            fn add_assign(&mut self, other: $name) {
                self.0 += other.0;
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = $name>>(values: I) -> $name {
                values.fold($name::ZERO, Add::add)
            }
        }

        /// How many times one goes into the other: a plain number, infinite or NaN for a zero divisor.
        impl Div for $name {
            type Output = f64;
            fn div(self, other: $name) -> f64 {
                self.0 / other.0
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{:?} {}", self.0, $unit)
            }
        }
    };
}

/// A volume of fluid, 0 to 100,000 mL.
///
/// ```
/// use quantity::Volume;
/// let bottle = Volume::from_ml(8.0)?;
/// assert_eq!(format!("{bottle:?}"), "8.0 mL");
/// assert_eq!((bottle + bottle).to_ml(), 16.0);
/// assert_eq!(bottle / Volume::from_ml(4.0)?, 2.0);
/// assert_eq!(Volume::from_ml(f64::NAN).unwrap_err().to_string(), "volume NaN is not a finite number");
/// # Ok::<(), quantity::QuantityError>(())
/// ```
#[derive(Clone, Copy, PartialEq, PartialOrd)]
pub struct Volume(f64);

impl Volume {
    /// From millilitres; refuses NaN, infinity and anything outside 0 to 100,000 mL.
    pub fn from_ml(value_ml: f64) -> Result<Volume, QuantityError> {
        bounds::VOLUME.check(value_ml).map(Volume)
    }

    /// From litres.
    pub fn from_litres(value_l: f64) -> Result<Volume, QuantityError> {
        Volume::from_ml(value_l * 1000.0)
    }

    /// In millilitres.
    pub fn to_ml(self) -> f64 {
        self.0
    }

    /// In litres.
    pub fn to_litres(self) -> f64 {
        self.0 / 1000.0
    }
}

measure!(Volume, bounds::VOLUME, "mL");

/// At most one decimal place for people: `8 mL`, `12.5 mL`. [`Volume::to_ml`] has the whole number.
impl fmt::Display for Volume {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} mL", rounded(self.0, 1))
    }
}

/// A length of time, 0 to 366 days.
///
/// ```
/// use quantity::Seconds;
/// assert_eq!(Seconds::from_minutes(0.5)?, Seconds::from_s(30.0)?);
/// assert_eq!(Seconds::from_s(90.0)?.to_string(), "1 min 30 s");
/// # Ok::<(), quantity::QuantityError>(())
/// ```
#[derive(Clone, Copy, PartialEq, PartialOrd)]
pub struct Seconds(f64);

impl Seconds {
    /// From seconds; refuses NaN, infinity and anything outside 0 to 31,622,400 s.
    pub fn from_s(value_s: f64) -> Result<Seconds, QuantityError> {
        bounds::TIME.check(value_s).map(Seconds)
    }

    /// From minutes.
    pub fn from_minutes(value_min: f64) -> Result<Seconds, QuantityError> {
        Seconds::from_s(value_min * 60.0)
    }

    /// From hours.
    pub fn from_hours(value_h: f64) -> Result<Seconds, QuantityError> {
        Seconds::from_s(value_h * 3600.0)
    }

    /// In seconds.
    pub fn to_s(self) -> f64 {
        self.0
    }

    /// In minutes.
    pub fn to_minutes(self) -> f64 {
        self.0 / 60.0
    }
}

measure!(Seconds, bounds::TIME, "s");

/// Whole seconds for people: `45 s`, `1 min 30 s`, `2 h 5 min`. [`Seconds::to_s`] has the whole number.
impl fmt::Display for Seconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole = self.0.round() as u64;
        let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
        let parts = [(hours, "h"), (minutes, "min"), (seconds, "s")];
        let mut written = false;
        for (number, unit) in parts {
            if number > 0 || (unit == "s" && !written) {
                let gap = if written { " " } else { "" };
                write!(f, "{gap}{number} {unit}")?;
                written = true;
            }
        }
        Ok(())
    }
}

/// A mass, 0 to 1,000 kg: the weight of a person or of a bottle.
///
/// ```
/// use quantity::Mass;
/// assert_eq!(Mass::from_kg(3.5)?.to_g(), 3500.0);
/// assert_eq!(Mass::from_g(10.5)?.to_string(), "10.5 g");
/// # Ok::<(), quantity::QuantityError>(())
/// ```
#[derive(Clone, Copy, PartialEq, PartialOrd)]
pub struct Mass(f64);

impl Mass {
    /// From grams; refuses NaN, infinity and anything outside 0 to 1,000,000 g.
    pub fn from_g(value_g: f64) -> Result<Mass, QuantityError> {
        bounds::MASS.check(value_g).map(Mass)
    }

    /// From kilograms.
    pub fn from_kg(value_kg: f64) -> Result<Mass, QuantityError> {
        Mass::from_g(value_kg * 1000.0)
    }

    /// In grams.
    pub fn to_g(self) -> f64 {
        self.0
    }

    /// In kilograms.
    pub fn to_kg(self) -> f64 {
        self.0 / 1000.0
    }
}

measure!(Mass, bounds::MASS, "g");

/// Grams below a kilogram, kilograms from there on, at most two decimal places.
impl fmt::Display for Mass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 < 1000.0 {
            write!(f, "{} g", rounded(self.0, 2))
        } else {
            write!(f, "{} kg", rounded(self.0 / 1000.0, 2))
        }
    }
}

/// A number with at most `places` decimals and no trailing zeros.
fn rounded(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_read_short_numbers() {
        let ml = |value| Volume::from_ml(value).unwrap().to_string();
        assert_eq!(ml(8.0), "8 mL");
        assert_eq!(ml(12.54), "12.5 mL");
        assert_eq!(ml(100.0), "100 mL");
        let s = |value| Seconds::from_s(value).unwrap().to_string();
        assert_eq!(s(0.0), "0 s");
        assert_eq!(s(60.0), "1 min");
        assert_eq!(s(7500.0), "2 h 5 min");
        assert_eq!(Mass::from_kg(12.75).unwrap().to_string(), "12.75 kg");
    }

    #[test]
    fn only_what_is_there_can_be_taken_away() {
        let (five, eight) = (Volume::from_ml(5.0).unwrap(), Volume::from_ml(8.0).unwrap());
        assert_eq!(eight.checked_sub(five), Some(Volume::from_ml(3.0).unwrap()));
        assert_eq!(five.checked_sub(eight), None);
        assert!(five.scaled(-1.0).is_err());
        assert!(five.scaled(f64::NAN).is_err());
    }
}
