//! A local time in eight bytes.

use jiff::civil::{Date, DateTime};

use crate::set::Collected;
use crate::window::{days, days_of};

const DAY_SECONDS: i64 = 86_400;

/// Local civil time to the second, or a day without a time of day, or nothing, in eight bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(pub(super) i64);

impl Moment {
    /// No time is known.
    pub const NONE: Moment = Moment(i64::MIN);

    /// Day and time of day; a fraction of a second is left out.
    pub fn at(at: DateTime) -> Self {
        let second = i64::from(at.hour()) * 3_600 + i64::from(at.minute()) * 60 + i64::from(at.second());
        Self((i64::from(days(at.date())) * DAY_SECONDS + second) * 2)
    }

    /// A day without a time of day.
    pub fn on(date: Date) -> Self {
        Self(i64::from(days(date)) * DAY_SECONDS * 2 + 1)
    }

    /// A day of the years 0 to 9999 with the second of the day, 0 to 86,399; `None` where there is no such day.
    pub fn of_parts(year: u32, month: u32, day: u32, second_of_day: Option<u32>) -> Option<Self> {
        let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let days_of_month = match month {
            4 | 6 | 9 | 11 => 30,
            2 if leap => 29,
            2 => 28,
            1..=12 => 31,
            _ => return None,
        };
        if year > 9_999
            || !(1..=days_of_month).contains(&day)
            || second_of_day.is_some_and(|second| second >= 86_400)
        {
            return None;
        }
        let small = |number: u32| i32::try_from(number).unwrap_or(0);
        let start = i64::from(days_of(small(year), small(month), small(day))) * DAY_SECONDS;
        Some(match second_of_day {
            Some(second) => Self((start + i64::from(second)) * 2),
            None => Self(start * 2 + 1),
        })
    }

    /// Whether no time is known.
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// Whether only the day is known.
    pub fn is_day_only(self) -> bool {
        self.0 & 1 == 1
    }

    /// Days since 1970-01-01 in the proleptic Gregorian calendar.
    pub fn day(self) -> i32 {
        // Dates of the calendar library lie within the years -9999 to 9999.
        i32::try_from(self.seconds().div_euclid(DAY_SECONDS)).unwrap_or(i32::MIN)
    }

    /// Seconds since 1970-01-01 00:00; the start of the day where only the day is known.
    pub(crate) fn seconds(self) -> i64 {
        self.0 >> 1
    }

    /// Hour of the day, 0 to 23, where a time of day is known.
    pub fn hour(self) -> Option<i8> {
        let hour = self.seconds().rem_euclid(DAY_SECONDS) / 3_600;
        (!self.is_none() && !self.is_day_only()).then(|| i8::try_from(hour).unwrap_or(0))
    }

    /// Minutes since 1970-01-01 00:00, where a time of day is known.
    pub(crate) fn minute(self) -> Option<i64> {
        (!self.is_none() && !self.is_day_only()).then(|| self.seconds().div_euclid(60))
    }

    /// The calendar day.
    pub fn date(self) -> Option<Date> {
        if self.is_none() {
            return None;
        }
        let (year, month, day) = civil(self.day());
        Date::new(year, month, day).ok()
    }

    /// Day and time of day, where both are known.
    pub fn date_time(self) -> Option<DateTime> {
        if self.is_day_only() {
            return None;
        }
        let second = i32::try_from(self.seconds().rem_euclid(DAY_SECONDS)).unwrap_or(0);
        let small = |number: i32| i8::try_from(number).unwrap_or(0);
        Some(self.date()?.at(small(second / 3_600), small(second / 60 % 60), small(second % 60), 0))
    }

    /// As a time of collection.
    pub fn collected(self) -> Option<Collected> {
        match self.date_time() {
            Some(at) => Some(Collected::At(at)),
            None => self.date().map(Collected::On),
        }
    }
}

impl From<Collected> for Moment {
    fn from(collected: Collected) -> Self {
        match collected {
            Collected::At(at) => Self::at(at),
            Collected::On(date) => Self::on(date),
        }
    }
}

/// Year, month and day of a day counted from 1970-01-01: the inverse of [`days`] (the usual era arithmetic).
pub(crate) fn civil(days: i32) -> (i16, i8, i8) {
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let day_of_era = shifted.rem_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = year_of_era + era * 400 + i32::from(month <= 2);
    (i16::try_from(year).unwrap_or(0), i8::try_from(month).unwrap_or(0), i8::try_from(day).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, datetime};

    use super::*;

    /// Against the calendar library, every seventh day of 800 years with the leap days of 1600, 2000 and 2024.
    #[test]
    fn days_come_back_as_the_dates_they_were() {
        let mut day = date(1600, 2, 28);
        while day < date(2400, 3, 2) {
            assert_eq!(civil(days(day)), (day.year(), day.month(), day.day()), "{day}");
            day = day.checked_add(jiff::Span::new().days(7)).unwrap();
        }
        for leap in [date(1600, 2, 29), date(2000, 2, 29), date(2024, 2, 29), date(-4, 2, 29)] {
            assert_eq!(Moment::on(leap).date(), Some(leap));
        }
        for (year, month, day) in
            [(2024, 2, 29), (2023, 2, 29), (1900, 2, 29), (2026, 4, 31), (0, 1, 1), (2026, 13, 1)]
        {
            let known = Date::new(year, month, day).ok().map(Moment::on);
            assert_eq!(Moment::of_parts(year as u32, month as u32, day as u32, None), known);
        }
    }

    #[test]
    fn times_come_back_to_the_second() {
        for at in [datetime(1969, 12, 31, 23, 59, 59, 0), datetime(2026, 3, 29, 2, 30, 7, 0)] {
            assert_eq!(Moment::at(at).date_time(), Some(at));
            assert_eq!(Moment::at(at).hour(), Some(at.hour()));
            assert_eq!(Moment::at(at).collected(), Some(Collected::At(at)));
        }
        let day = date(1901, 1, 1);
        assert_eq!(Moment::on(day).collected(), Some(Collected::On(day)));
        assert_eq!(Moment::on(day).hour(), None);
        assert_eq!(Moment::NONE.collected(), None);
        assert_eq!(Moment::NONE.hour(), None);
    }
}
