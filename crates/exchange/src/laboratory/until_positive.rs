//! How long a bottle stood until it was positive, as laboratories write it.

/// Longer than any bottle is incubated: a slip, or another unit.
const MOST_HOURS: f64 = 1000.0;

/// Whole seconds of "13.5", "13,5" or "13:30" hours from loading to positive; `None` for anything else and for more than
/// 1,000 hours.
///
/// ```
/// use exchange::laboratory::seconds_to_positivity;
/// assert_eq!(seconds_to_positivity("13:30"), Some(48_600));
/// assert_eq!(seconds_to_positivity("13.5 h"), None);
/// ```
pub fn seconds_to_positivity(written: &str) -> Option<u32> {
    let hours = match written.trim().split_once(':') {
        Some((hours, minutes)) => {
            let (hours, minutes): (u16, u16) = (hours.trim().parse().ok()?, minutes.trim().parse().ok()?);
            if minutes > 59 {
                return None;
            }
            f64::from(hours) + f64::from(minutes) / 60.0
        }
        None => written.trim().replace(',', ".").parse().ok()?,
    };
    (0.0..=MOST_HOURS).contains(&hours).then(|| (hours * 3600.0).round() as u32)
}

/// Whole seconds of a number with its unit, by the codes of UCUM and the words people use; hours where no unit is
/// written. `None` for another unit, for no number and for more than 1,000 hours.
pub(super) fn seconds_in(number: &str, unit: &str) -> Option<u32> {
    let hours_each = match unit.trim() {
        "" | "h" | "H" | "hr" | "hrs" | "hour" | "hours" => return seconds_to_positivity(number),
        "min" | "mins" | "minute" | "minutes" => 1.0 / 60.0,
        "d" | "day" | "days" => 24.0,
        _ => return None,
    };
    let number: f64 = number.trim().replacen(',', ".", 1).parse().ok()?;
    let hours = number * hours_each;
    (0.0..=MOST_HOURS).contains(&hours).then(|| (hours * 3600.0).round() as u32)
}

/// Said where a time to positivity in a message is left out.
pub(super) const LEFT_OUT: &str =
    "a time to positivity is not hours, minutes or days up to 1,000 hours and was left out";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_to_positivity_as_they_are_written() {
        for (written, s) in [
            ("13.5", 48_600),
            ("13,5", 48_600),
            ("13:30", 48_600),
            ("0", 0),
            ("11.1", 39_960),
            ("2:01", 7_260),
            ("1000", 3_600_000),
        ] {
            assert_eq!(seconds_to_positivity(written), Some(s), "{written}");
        }
        for wrong in ["", "x", "13:60", "-1", "NaN", "inf", "1001", "13:", "1:2:3"] {
            assert_eq!(seconds_to_positivity(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_unit_says_what_the_number_counts() {
        for (number, unit, s) in [
            ("13.5", "h", Some(48_600)),
            ("13:30", "", Some(48_600)),
            ("810", "min", Some(48_600)),
            ("1.5", "d", Some(129_600)),
            ("810", "h", Some(2_916_000)),
            ("13:30", "min", None),
            ("13.5", "mL", None),
            ("50", "d", None),
            ("positive", "h", None),
        ] {
            assert_eq!(seconds_in(number, unit), s, "{number} {unit}");
        }
    }
}
