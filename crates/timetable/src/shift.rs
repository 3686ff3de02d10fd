use std::fmt;

use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime, Time};

/// Day or night.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ShiftKind {
    /// Begins and ends on one day.
    Day,
    /// Begins in the evening and ends on the next day.
    Night,
}

impl ShiftKind {
    /// Both, in the order of the day.
    pub const ALL: [ShiftKind; 2] = [ShiftKind::Day, ShiftKind::Night];

    /// "day" or "night".
    pub fn words(self) -> &'static str {
        match self {
            ShiftKind::Day => "day",
            ShiftKind::Night => "night",
        }
    }
}

/// When the two shifts of a day begin. Each lasts until the other begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShiftTimes {
    day: Time,
    night: Time,
}

/// The day shift must begin before the night shift, or a night would not belong to the day on which it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the day shift begins at {day} and the night shift at {night}; the day shift must begin first")]
pub struct ShiftTimesError {
    /// Start of the day shift.
    pub day: Time,
    /// Start of the night shift.
    pub night: Time,
}

impl ShiftTimes {
    /// Day shift from `day` to `night`, night shift from `night` to `day` of the next day.
    pub fn new(day: Time, night: Time) -> Result<ShiftTimes, ShiftTimesError> {
        if day < night { Ok(ShiftTimes { day, night }) } else { Err(ShiftTimesError { day, night }) }
    }

    /// Start of the day shift.
    pub fn day(self) -> Time {
        self.day
    }

    /// Start of the night shift.
    pub fn night(self) -> Time {
        self.night
    }
}

impl Default for ShiftTimes {
    /// 07:00 and 19:00, twelve hours each: common practice, no source.
    fn default() -> Self {
        ShiftTimes { day: Time::constant(7, 0, 0, 0), night: Time::constant(19, 0, 0, 0) }
    }
}

/// One shift, by the day on which it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shift {
    /// Day on which it begins; a night's second half is on the next day.
    pub on: Date,
    /// Day or night.
    pub kind: ShiftKind,
}

impl Shift {
    /// The shift that is on at a moment.
    ///
    /// ```
    /// use jiff::civil::date;
    /// use timetable::{Shift, ShiftKind, ShiftTimes};
    ///
    /// // Three in the morning of 8 January belongs to the night of the 7th.
    /// let shift = Shift::at(date(2026, 1, 8).at(3, 0, 0, 0), ShiftTimes::default());
    /// assert_eq!(shift, Shift { on: date(2026, 1, 7), kind: ShiftKind::Night });
    /// ```
    pub fn at(moment: DateTime, times: ShiftTimes) -> Shift {
        let (on, time) = (moment.date(), moment.time());
        if time < times.day {
            Shift { on: on.saturating_sub(1.day()), kind: ShiftKind::Night }
        } else if time < times.night {
            Shift { on, kind: ShiftKind::Day }
        } else {
            Shift { on, kind: ShiftKind::Night }
        }
    }

    /// When it begins.
    pub fn start(self, times: ShiftTimes) -> DateTime {
        match self.kind {
            ShiftKind::Day => self.on.to_datetime(times.day),
            ShiftKind::Night => self.on.to_datetime(times.night),
        }
    }

    /// When it ends and the next begins.
    pub fn end(self, times: ShiftTimes) -> DateTime {
        self.next().start(times)
    }

    /// The shift after it.
    pub fn next(self) -> Shift {
        match self.kind {
            ShiftKind::Day => Shift { on: self.on, kind: ShiftKind::Night },
            ShiftKind::Night => Shift { on: self.on.saturating_add(1.day()), kind: ShiftKind::Day },
        }
    }

    /// Every shift that begins on a day from `from` to `to`, both included.
    pub fn between(from: Date, to: Date) -> impl Iterator<Item = Shift> {
        from.series(1.day())
            .take_while(move |on| *on <= to)
            .flat_map(|on| ShiftKind::ALL.into_iter().map(move |kind| Shift { on, kind }))
    }
}

impl fmt::Display for Shift {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.on, self.kind.words())
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_night_belongs_to_the_day_on_which_it_begins() {
        let times = ShiftTimes::default();
        let at = |day, hour, minute| Shift::at(date(2026, 1, day).at(hour, minute, 0, 0), times).to_string();
        assert_eq!(at(8, 6, 59), "2026-01-07 night");
        assert_eq!(at(8, 7, 0), "2026-01-08 day");
        assert_eq!(at(8, 18, 59), "2026-01-08 day");
        assert_eq!(at(8, 19, 0), "2026-01-08 night");
        assert_eq!(at(1, 0, 0), "2025-12-31 night");
        assert!(ShiftTimes::new(times.night(), times.day()).is_err());
        assert_eq!(Shift::between(date(2026, 1, 8), date(2026, 1, 9)).count(), 4);
        assert_eq!(Shift::between(date(2026, 1, 9), date(2026, 1, 8)).count(), 0);
    }

    proptest! {
        #[test]
        fn every_moment_lies_in_its_shift(days in 0i64..4000, minute in 0i64..1440, day in 0i8..12, night in 12i8..24) {
            let times = ShiftTimes::new(Time::constant(day, 0, 0, 0), Time::constant(night, 0, 0, 0)).unwrap();
            let moment = date(2020, 1, 1).at(0, 0, 0, 0).saturating_add(days.days().minutes(minute));
            let shift = Shift::at(moment, times);
            prop_assert!(shift.start(times) <= moment && moment < shift.end(times));
            prop_assert_eq!(shift.next().start(times), shift.end(times));
        }
    }
}
