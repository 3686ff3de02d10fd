use std::fmt;

use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime, Time};

/// Most shifts a day is parted into.
pub const MOST_SHIFTS: usize = 6;
/// Most bytes of a shift's name.
const LONGEST_NAME: usize = 16;

/// One of the shifts a day is parted into, such as day or night. It carries its name.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShiftKind {
    /// Place in the order of the day.
    place: u8,
    length: u8,
    name: [u8; LONGEST_NAME],
}

impl ShiftKind {
    /// The day shift of [`ShiftTimes::new`].
    pub const DAY: ShiftKind = ShiftKind::of(0, "day");
    /// The night shift of [`ShiftTimes::new`].
    pub const NIGHT: ShiftKind = ShiftKind::of(1, "night");

    /// A name that is too long is cut; [`ShiftTimes::named`] refuses one.
    const fn of(place: u8, words: &str) -> ShiftKind {
        let bytes = words.as_bytes();
        let mut name = [0; LONGEST_NAME];
        let mut length = 0;
        while length < bytes.len() && length < LONGEST_NAME {
            name[length] = bytes[length];
            length += 1;
        }
        ShiftKind { place, length: length as u8, name }
    }

    /// The shift's name: "day".
    pub fn words(&self) -> &str {
        std::str::from_utf8(&self.name[..usize::from(self.length)]).unwrap_or_default()
    }
}

impl fmt::Debug for ShiftKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

/// When the shifts of a day begin. Each lasts until the next begins, the last until the first of the next day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShiftTimes {
    length: u8,
    begins: [(ShiftKind, Time); MOST_SHIFTS],
}

/// Why a day cannot be parted so.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ShiftTimesError {
    /// None, or too many.
    #[error("{0} shifts a day; expected 1 to {MOST_SHIFTS}")]
    Count(usize),
    /// A shift that does not begin after the one before it.
    #[error(
        "the shift {name:?} begins at {begins}, not after the shift before it at {before}; each must begin after the one before"
    )]
    Order {
        /// The shift.
        name: String,
        /// When it begins.
        begins: Time,
        /// When the one before it begins.
        before: Time,
    },
    /// A name that is empty, too long, or given twice.
    #[error("the shift name {0:?}; expected 1 to {LONGEST_NAME} bytes, each name once")]
    Name(String),
}

impl ShiftTimes {
    /// Day shift from `day` to `night`, night shift from `night` to `day` of the next day.
    pub fn new(day: Time, night: Time) -> Result<ShiftTimes, ShiftTimesError> {
        ShiftTimes::named(&[("day", day), ("night", night)])
    }

    /// Shifts by name and start, in the order of the day. Names are compared without regard to capitals.
    pub fn named(shifts: &[(&str, Time)]) -> Result<ShiftTimes, ShiftTimesError> {
        if !(1..=MOST_SHIFTS).contains(&shifts.len()) {
            return Err(ShiftTimesError::Count(shifts.len()));
        }
        let mut begins = [(ShiftKind::DAY, Time::MIN); MOST_SHIFTS];
        for (place, (name, at)) in shifts.iter().enumerate() {
            let again = shifts[..place].iter().any(|(other, _)| other.to_lowercase() == name.to_lowercase());
            if name.trim().is_empty() || name.trim() != *name || name.len() > LONGEST_NAME || again {
                return Err(ShiftTimesError::Name((*name).to_owned()));
            }
            if let Some((_, before)) = shifts[..place].last().filter(|(_, before)| at <= before) {
                return Err(ShiftTimesError::Order {
                    name: (*name).to_owned(),
                    begins: *at,
                    before: *before,
                });
            }
            begins[place] = (ShiftKind::of(place as u8, name), *at);
        }
        Ok(ShiftTimes { length: shifts.len() as u8, begins })
    }

    fn all(&self) -> &[(ShiftKind, Time)] {
        &self.begins[..usize::from(self.length)]
    }

    /// The shifts of a day in their order.
    pub fn kinds(self) -> impl Iterator<Item = ShiftKind> {
        self.begins.into_iter().take(usize::from(self.length)).map(|(kind, _)| kind)
    }

    /// The shift of a name, without regard to capitals.
    pub fn kind(self, name: &str) -> Option<ShiftKind> {
        let name = name.trim().to_lowercase();
        self.kinds().find(|kind| kind.words().to_lowercase() == name)
    }

    /// When a shift begins: one of another parting of the day as the one in its place.
    fn begin(&self, kind: ShiftKind) -> Time {
        let last = self.all().len() - 1;
        self.all()[usize::from(kind.place).min(last)].1
    }
}

impl Default for ShiftTimes {
    /// Day from 07:00 and night from 19:00, twelve hours each: common practice, no source.
    fn default() -> Self {
        let mut begins = [(ShiftKind::DAY, Time::constant(7, 0, 0, 0)); MOST_SHIFTS];
        begins[1] = (ShiftKind::NIGHT, Time::constant(19, 0, 0, 0));
        ShiftTimes { length: 2, begins }
    }
}

/// One shift, by the day on which it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shift {
    /// Day on which it begins; a night's second half is on the next day.
    pub on: Date,
    /// Which of the day's shifts.
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
    /// assert_eq!(shift, Shift { on: date(2026, 1, 7), kind: ShiftKind::NIGHT });
    /// ```
    pub fn at(moment: DateTime, times: ShiftTimes) -> Shift {
        let (on, time) = (moment.date(), moment.time());
        match times.all().iter().rev().find(|(_, begins)| *begins <= time) {
            Some((kind, _)) => Shift { on, kind: *kind },
            // Before the day's first shift the last of the day before is still on.
            None => Shift { on: on.saturating_sub(1.day()), kind: times.all()[times.all().len() - 1].0 },
        }
    }

    /// When it begins.
    pub fn start(self, times: ShiftTimes) -> DateTime {
        self.on.to_datetime(times.begin(self.kind))
    }

    /// When it ends and the next begins.
    pub fn end(self, times: ShiftTimes) -> DateTime {
        self.next(times).start(times)
    }

    /// The shift after it.
    pub fn next(self, times: ShiftTimes) -> Shift {
        match times.all().get(usize::from(self.kind.place) + 1) {
            Some((kind, _)) => Shift { on: self.on, kind: *kind },
            None => Shift { on: self.on.saturating_add(1.day()), kind: times.all()[0].0 },
        }
    }

    /// Every shift that begins on a day from `from` to `to`, both included.
    pub fn between(from: Date, to: Date, times: ShiftTimes) -> impl Iterator<Item = Shift> {
        from.series(1.day())
            .take_while(move |on| *on <= to)
            .flat_map(move |on| times.kinds().map(move |kind| Shift { on, kind }))
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
        assert!(ShiftTimes::new(Time::constant(19, 0, 0, 0), Time::constant(7, 0, 0, 0)).is_err());
        assert_eq!(Shift::between(date(2026, 1, 8), date(2026, 1, 9), times).count(), 4);
        assert_eq!(Shift::between(date(2026, 1, 9), date(2026, 1, 8), times).count(), 0);
    }

    #[test]
    fn a_day_is_parted_into_named_shifts() {
        let at = |hour| Time::constant(hour, 0, 0, 0);
        let three = ShiftTimes::named(&[("early", at(6)), ("late", at(14)), ("night", at(22))]).unwrap();
        let on = |hour, minute| Shift::at(date(2026, 1, 8).at(hour, minute, 0, 0), three).to_string();
        assert_eq!(on(5, 59), "2026-01-07 night");
        assert_eq!(on(6, 0), "2026-01-08 early");
        assert_eq!(on(21, 59), "2026-01-08 late");
        assert_eq!(on(22, 0), "2026-01-08 night");
        let late = Shift { on: date(2026, 1, 8), kind: three.kind("LATE").unwrap() };
        assert_eq!(late.end(three), date(2026, 1, 8).at(22, 0, 0, 0));
        assert_eq!(late.next(three).end(three), date(2026, 1, 9).at(6, 0, 0, 0));
        assert_eq!(Shift::between(date(2026, 1, 8), date(2026, 1, 9), three).count(), 6);
        assert!(three.kind("day").is_none());
        let bad = |shifts: &[(&str, Time)]| ShiftTimes::named(shifts).unwrap_err();
        assert_eq!(bad(&[]), ShiftTimesError::Count(0));
        assert!(matches!(bad(&[("a", at(6)), ("A", at(14))]), ShiftTimesError::Name(_)));
        assert!(matches!(bad(&[("a", at(6)), ("b", at(6))]), ShiftTimesError::Order { .. }));
        assert!(matches!(bad(&[("the longest of all", at(6))]), ShiftTimesError::Name(_)));
    }

    proptest! {
        #[test]
        fn every_moment_lies_in_its_shift(days in 0i64..4000, minute in 0i64..1440, day in 0i8..12, night in 12i8..24) {
            let times = ShiftTimes::new(Time::constant(day, 0, 0, 0), Time::constant(night, 0, 0, 0)).unwrap();
            let moment = date(2020, 1, 1).at(0, 0, 0, 0).saturating_add(days.days().minutes(minute));
            let shift = Shift::at(moment, times);
            prop_assert!(shift.start(times) <= moment && moment < shift.end(times));
            prop_assert_eq!(shift.next(times).start(times), shift.end(times));
        }
    }
}
