//! Every range of the room in one place, with one wording for what lies outside.

/// Why a measured value was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// NaN or infinite.
    #[error("{what} {value} is not a finite number")]
    NotFinite {
        /// Which quantity.
        what: &'static str,
        /// The value that was given.
        value: f64,
    },
    /// Outside the range the quantity may have.
    #[error("{what} {value} {unit} is not within {low} to {high} {unit}")]
    NotWithin {
        /// Which quantity.
        what: &'static str,
        /// The value that was given.
        value: f64,
        /// Unit of the three numbers.
        unit: &'static str,
        /// Least value allowed.
        low: f64,
        /// Greatest value allowed.
        high: f64,
    },
}

/// Range of one kind of quantity, in its base unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bounds {
    pub(crate) what: &'static str,
    pub(crate) unit: &'static str,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// 100 litres: more than ten times the blood of any person.
pub(crate) const VOLUME: Bounds = Bounds { what: "volume", unit: "mL", low: 0.0, high: 100_000.0 };
/// 366 days: longer than any time a job of this kind states.
pub(crate) const TIME: Bounds = Bounds { what: "time", unit: "s", low: 0.0, high: 31_622_400.0 };
/// 1,000 kg: more than any person weighs; a bottle's grams lie far below.
pub(crate) const MASS: Bounds = Bounds { what: "mass", unit: "g", low: 0.0, high: 1_000_000.0 };
/// A plain count as a job states it.
pub(crate) const COUNT: Bounds = Bounds { what: "count", unit: "pieces", low: 0.0, high: 1_000_000.0 };

impl Bounds {
    /// Refuses NaN, infinite and out-of-range values. A negative zero becomes a plain one.
    pub(crate) fn check(&self, value: f64) -> Result<f64, QuantityError> {
        let Bounds { what, unit, low, high } = *self;
        if !value.is_finite() {
            Err(QuantityError::NotFinite { what, value })
        } else if (low..=high).contains(&value) {
            Ok(value + 0.0)
        } else {
            Err(QuantityError::NotWithin { what, value, unit, low, high })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_wording_for_what_lies_outside() {
        assert_eq!(VOLUME.check(-1.0).unwrap_err().to_string(), "volume -1 mL is not within 0 to 100000 mL");
        assert_eq!(TIME.check(f64::NAN).unwrap_err().to_string(), "time NaN is not a finite number");
        assert_eq!(MASS.check(2e6).unwrap_err().to_string(), "mass 2000000 g is not within 0 to 1000000 g");
        assert!(COUNT.check(-0.0).unwrap().is_sign_positive());
    }
}
