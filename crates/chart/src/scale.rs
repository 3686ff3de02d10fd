/// Round values along an axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// The values, rising; the first and the last enclose the range asked for.
    pub values: Vec<f64>,
    /// Decimal places that write every value exactly.
    pub decimals: usize,
}

/// Round values that enclose a range: steps of 1, 2 or 5 times a power of ten, the smallest step that needs at
/// most `most_steps` steps for the width of the range.
///
/// The ends may come in either order; a range without width is widened to one unit above it. `None` when an end
/// is not finite, the range is wider than a float can hold, or `most_steps` is 0.
///
/// ```
/// let ticks = chart::nice_ticks(0.0, 7.1, 5).unwrap();
/// assert_eq!(ticks.values, [0.0, 2.0, 4.0, 6.0, 8.0]);
/// ```
pub fn nice_ticks(from: f64, to: f64, most_steps: u32) -> Option<Ticks> {
    if !from.is_finite() || !to.is_finite() || !(to - from).is_finite() || most_steps == 0 {
        return None;
    }
    let (low, high) = if from <= to { (from, to) } else { (to, from) };
    // A width below the spacing of floats at this size cannot be divided into steps that differ.
    let smallest = f64::max(low.abs(), high.abs()) * 1e-9;
    let high = if high - low > smallest { high } else { low + f64::max(1.0, smallest * 10.0) };
    let raw = (high - low) / f64::from(most_steps);
    let mut exponent = 0_i32;
    while power_of_ten(exponent + 1) <= raw && exponent < 300 {
        exponent += 1;
    }
    while power_of_ten(exponent) > raw && exponent > -300 {
        exponent -= 1;
    }
    let slack = 1.0 - 1e-9;
    let mantissa = [1.0, 2.0, 5.0].into_iter().find(|m| m * power_of_ten(exponent) >= raw * slack);
    let (mantissa, exponent) = mantissa.map_or((1.0, exponent + 1), |m| (m, exponent));
    let step = mantissa * power_of_ten(exponent);
    let first = (low / step + 1e-9).floor();
    let last = (high / step - 1e-9).ceil();
    let n_steps = (last - first).max(1.0).min(f64::from(most_steps) + 2.0) as u32;
    // Dividing by a whole power of ten gives the float nearest to the decimal; multiplying by 0.1 does not.
    let value = |k: u32| {
        let multiple = (first + f64::from(k)) * mantissa;
        let value =
            if exponent < 0 { multiple / power_of_ten(-exponent) } else { multiple * power_of_ten(exponent) };
        if value == 0.0 { 0.0 } else { value }
    };
    let values: Vec<f64> = (0..=n_steps).map(value).collect();
    values.iter().all(|v| v.is_finite()).then_some(Ticks { values, decimals: (-exponent).max(0) as usize })
}

fn power_of_ten(exponent: i32) -> f64 {
    10_f64.powi(exponent)
}

/// A straight map from values to places on the drawing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    low: f64,
    high: f64,
    at_low: f64,
    at_high: f64,
}

impl Scale {
    /// `ticks` must have come from [`nice_ticks`], so its ends differ.
    pub(crate) fn new(ticks: &Ticks, at_low: f64, at_high: f64) -> Scale {
        let low = ticks.values.first().copied().unwrap_or(0.0);
        let high = ticks.values.last().copied().unwrap_or(1.0);
        Scale { low, high, at_low, at_high }
    }

    /// Place of a value; one beyond the axis lies on its end.
    pub(crate) fn place(&self, value: f64) -> f64 {
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        self.at_low + share * (self.at_high - self.at_low)
    }

    /// Whether a value lies beyond the upper end.
    pub(crate) fn is_above(&self, value: f64) -> bool {
        value > self.high
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[track_caller]
    fn check(from: f64, to: f64, most: u32, values: &[f64], decimals: usize) {
        let ticks = nice_ticks(from, to, most).unwrap();
        assert_eq!((ticks.values.as_slice(), ticks.decimals), (values, decimals), "{from} to {to} in {most}");
    }

    // Worked by hand: width / most steps, rounded up to the next of 1, 2, 5, 10 times a power of ten.
    #[test]
    fn ticks_worked_by_hand() {
        check(0.0, 7.1, 5, &[0.0, 2.0, 4.0, 6.0, 8.0], 0);
        check(0.0, 1.0, 5, &[0.0, 0.2, 0.4, 0.6, 0.8, 1.0], 1);
        check(0.0, 0.9, 5, &[0.0, 0.2, 0.4, 0.6, 0.8, 1.0], 1);
        check(3.2, 4.1, 5, &[3.2, 3.4, 3.6, 3.8, 4.0, 4.2], 1);
        check(0.0, 412.0, 5, &[0.0, 100.0, 200.0, 300.0, 400.0, 500.0], 0);
        check(-3.0, 2.0, 5, &[-3.0, -2.0, -1.0, 0.0, 1.0, 2.0], 0);
        check(0.0, 0.034, 4, &[0.0, 0.01, 0.02, 0.03, 0.04], 2);
        check(5.0, 5.0, 5, &[5.0, 5.2, 5.4, 5.6, 5.8, 6.0], 1);
        check(10.0, 0.0, 2, &[0.0, 5.0, 10.0], 0);
    }

    #[test]
    fn no_ticks_without_a_range() {
        assert_eq!(nice_ticks(f64::NAN, 1.0, 5), None);
        assert_eq!(nice_ticks(0.0, f64::INFINITY, 5), None);
        assert_eq!(nice_ticks(-f64::MAX, f64::MAX, 5), None);
        assert_eq!(nice_ticks(0.0, 1.0, 0), None);
    }

    proptest! {
        #[test]
        fn ticks_enclose_the_range_and_rise(from in -1e6..1e6_f64, width in 1e-3..1e6_f64, most in 2..9_u32) {
            let ticks = nice_ticks(from, from + width, most).unwrap();
            let slack = width * 1e-6;
            prop_assert!(ticks.values[0] <= from + slack);
            prop_assert!(*ticks.values.last().unwrap() >= from + width - slack);
            prop_assert!(ticks.values.windows(2).all(|pair| pair[0] < pair[1]));
            prop_assert!(ticks.values.len() <= most as usize + 2);
        }

        #[test]
        fn a_greater_value_is_never_placed_lower(a in -10.0..110.0_f64, b in -10.0..110.0_f64) {
            let scale = Scale::new(&nice_ticks(0.0, 100.0, 5).unwrap(), 300.0, 20.0);
            let (low, high) = if a <= b { (a, b) } else { (b, a) };
            prop_assert!(scale.place(low) >= scale.place(high));
            prop_assert!((20.0..=300.0).contains(&scale.place(a)));
        }
    }
}
