//! Age at the draw from a date of birth.

use jiff::civil::Date;

/// Whole years from the first birthday on, before it the share of a year; `None` when the birth is later or more than
/// 130 years before.
pub(super) fn age_at(born: Date, on: Date) -> Option<f64> {
    let had_birthday = (on.month(), on.day()) >= (born.month(), born.day());
    let years = i32::from(on.year()) - i32::from(born.year()) - i32::from(!had_birthday);
    match years {
        1..=130 => Some(f64::from(years)),
        0 if born <= on => Some(f64::from(born.until(on).ok()?.get_days()) / 365.25),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn the_birthday_counts() {
        let born = date(2000, 2, 29);
        assert_eq!(age_at(born, date(2018, 2, 28)), Some(17.0));
        assert_eq!(age_at(born, date(2018, 3, 1)), Some(18.0));
        assert!(age_at(born, date(2000, 8, 29)).is_some_and(|age| (0.45..0.55).contains(&age)));
        assert_eq!(age_at(born, date(1999, 1, 1)), None);
    }
}
