//! What can be wrong with a request, with the value that was wrong.
//!
//! The wording lives here once, so "probability 1.2 is not within 0 to 1" reads the same wherever it is met.
//! The enum carries values, not sentences: an edge that knows the file and line adds them.

/// Why a figure was not computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StatsError {
    /// A number is outside the closed range it must lie in.
    #[error("{what} {value} is not within {low} to {high}")]
    NotWithin { what: &'static str, value: f64, low: f64, high: f64 },
    /// A number lies at or beyond an end it must stay away from.
    #[error("{what} {value} is not strictly between {low} and {high}")]
    NotStrictlyBetween { what: &'static str, value: f64, low: f64, high: f64 },
    /// A number must be above zero.
    #[error("{what} {value} is not above 0")]
    NotPositive { what: &'static str, value: f64 },
    /// A number is NaN or infinite.
    #[error("{what} {value} is not a finite number")]
    NotFinite { what: &'static str, value: f64 },
    /// A count is larger than the total it is part of.
    #[error("{events} events is more than {trials} trials; events must be 0 to {trials}")]
    EventsExceedTrials { events: u64, trials: u64 },
    /// A rate was asked for with nothing in the denominator.
    #[error("0 trials: a rate needs at least 1 trial")]
    NoTrials,
    /// A count is beyond what double precision holds exactly.
    #[error("{what} {value} is more than {most}")]
    CountTooLarge { what: &'static str, value: u64, most: u64 },
    /// A series is shorter than the method needs.
    #[error("{found} {what}; at least {needed} needed")]
    TooFew { what: &'static str, found: usize, needed: usize },
    /// Two series that belong together have different lengths.
    #[error("{left} {left_name} but {right} {right_name}; there must be as many of each")]
    LengthsDiffer { left_name: &'static str, left: usize, right_name: &'static str, right: usize },
    /// An index points outside the series.
    #[error("{what} {index} is outside the series of {length} points (first is 0)")]
    IndexOutside { what: &'static str, index: usize, length: usize },
    /// Every value is the same where spread is what the method measures.
    #[error("every {what} is {value}: there is no spread to work with")]
    NoSpread { what: &'static str, value: f64 },
    /// No answer exists for these arguments.
    #[error("{what}: no answer within {most}")]
    NoAnswer { what: &'static str, most: u64 },
    /// The method does not apply to what was given.
    #[error("{what} cannot be used here: {because}")]
    DoesNotApply { what: &'static str, because: &'static str },
    /// A term of a regression is made up by the others, so its effect cannot be told apart.
    #[error("the term {term} cannot be told apart from the other terms: use fewer terms or more points")]
    Collinear { term: String },
    /// A regression predicts some points perfectly and has no finite answer.
    #[error(
        "point {point} is predicted perfectly, so the regression has no finite answer: use fewer terms, or wait for \
         more points"
    )]
    Separated { point: usize },
    /// An iteration stopped before it reached its tolerance.
    #[error("{what} did not settle within {steps} steps; last value {last}")]
    DidNotSettle { what: &'static str, steps: usize, last: f64 },
}

/// Refuses NaN and infinity.
pub(crate) fn finite(what: &'static str, value: f64) -> Result<f64, StatsError> {
    if value.is_finite() { Ok(value) } else { Err(StatsError::NotFinite { what, value }) }
}

/// Refuses NaN, infinity, zero and negative numbers.
pub(crate) fn positive(what: &'static str, value: f64) -> Result<f64, StatsError> {
    let value = finite(what, value)?;
    if value > 0.0 { Ok(value) } else { Err(StatsError::NotPositive { what, value }) }
}

/// Refuses NaN, infinity and values outside the closed range.
pub(crate) fn within(what: &'static str, value: f64, low: f64, high: f64) -> Result<f64, StatsError> {
    let value = finite(what, value)?;
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(StatsError::NotWithin { what, value, low, high })
    }
}

/// Refuses NaN, infinity and values outside the open range.
pub(crate) fn strictly_between(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<f64, StatsError> {
    let value = finite(what, value)?;
    if low < value && value < high {
        Ok(value)
    } else {
        Err(StatsError::NotStrictlyBetween { what, value, low, high })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wording_names_the_value_and_the_range() {
        let text = |result: Result<f64, StatsError>| result.unwrap_err().to_string();
        assert_eq!(text(within("probability", 1.2, 0.0, 1.0)), "probability 1.2 is not within 0 to 1");
        assert_eq!(text(within("probability", f64::NAN, 0.0, 1.0)), "probability NaN is not a finite number");
        assert_eq!(text(positive("exposure", 0.0)), "exposure 0 is not above 0");
        assert_eq!(
            text(strictly_between("confidence level", 1.0, 0.0, 1.0)),
            "confidence level 1 is not strictly between 0 and 1"
        );
        assert_eq!(text(finite("reading", f64::INFINITY)), "reading inf is not a finite number");
    }
}
