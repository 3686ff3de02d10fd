//! Times in messages, and what they are by the clock of the unit.

use culture::Collected;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{Offset, TimeZone};

/// A day, with the time and the offset from UTC where they are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Moment {
    pub date: Date,
    pub time: Option<Time>,
    offset: Option<Offset>,
}

impl Moment {
    /// Reads `YYYYMMDD[hh[mm[ss[.s...]]]][+/-zzzz]`, the form of HL7 v2 (data type TS, later DTM).
    pub(super) fn hl7(text: &str) -> Option<Self> {
        let at = text.find(['+', '-']).unwrap_or(text.len());
        let (stamp, offset) = text.split_at(at);
        let (digits, fraction) = stamp.split_once('.').unwrap_or((stamp, "0"));
        let all_digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        if !all_digits(digits) || !all_digits(fraction) {
            return None;
        }
        let date = Date::new(number(digits, 0, 4)?, small(digits, 4)?, small(digits, 6)?).ok()?;
        let time = match digits.len() {
            8 => None,
            10 => Some(time_of(small(digits, 8)?, 0, 0)?),
            12 => Some(time_of(small(digits, 8)?, small(digits, 10)?, 0)?),
            14 => Some(time_of(small(digits, 8)?, small(digits, 10)?, small(digits, 12)?)?),
            _ => return None,
        };
        let offset = match offset {
            "" => None,
            offset => Some(offset_of(offset)?),
        };
        Some(Self { date, time, offset })
    }

    /// Reads `YYYY-MM-DD[Thh:mm[:ss[.s...]][Z or +/-zz:zz]]`, the form of FHIR (date, dateTime, instant).
    pub(super) fn fhir(text: &str) -> Option<Self> {
        let (day, rest) = text.split_once('T').unwrap_or((text, ""));
        let mut parts = day.split('-');
        let mut part = |length: usize| parts.next().filter(|part| part.len() == length);
        let (year, month, day) = (part(4)?, part(2)?, part(2)?);
        let date = Date::new(number(year, 0, 4)?, small(month, 0)?, small(day, 0)?).ok()?;
        if parts.next().is_some() {
            return None;
        }
        if rest.is_empty() {
            return (!text.contains('T')).then_some(Self { date, time: None, offset: None });
        }
        let at = rest.find(['+', '-', 'Z']).unwrap_or(rest.len());
        let (clock, offset) = rest.split_at(at);
        let clock = clock.split_once('.').map_or(Some(clock), |(whole, fraction)| {
            (!fraction.is_empty() && fraction.bytes().all(|byte| byte.is_ascii_digit())).then_some(whole)
        })?;
        let parts: Vec<&str> = clock.split(':').collect();
        let two = |text: &&str| (text.len() == 2).then(|| small(text, 0)).flatten();
        let time = match parts.as_slice() {
            [hour, minute] => time_of(two(hour)?, two(minute)?, 0)?,
            [hour, minute, second] => time_of(two(hour)?, two(minute)?, two(second)?)?,
            _ => return None,
        };
        let offset = match offset {
            "" => None,
            "Z" => Some(Offset::UTC),
            offset => Some(offset_of(&offset.replacen(':', "", 1))?),
        };
        Some(Self { date, time: Some(time), offset })
    }

    /// The same moment by the clock of the unit. Without a clock, an offset or a time of day it stays as it is
    /// written: then the clock of the sender counts as that of the unit.
    pub(super) fn by(self, clock: Option<&TimeZone>) -> Self {
        let converted = || {
            let timestamp = self.offset?.to_timestamp(self.date_time()?).ok()?;
            let local = clock?.to_datetime(timestamp);
            let offset = clock?.to_offset(timestamp);
            Some(Self { date: local.date(), time: Some(local.time()), offset: Some(offset) })
        };
        converted().unwrap_or(self)
    }

    /// The same moment in the offset of another, so that the two can be compared; as it is where either has none.
    pub(super) fn in_offset_of(self, other: Self) -> Self {
        let converted = || {
            let timestamp = self.offset?.to_timestamp(self.date_time()?).ok()?;
            let local = other.offset?.to_datetime(timestamp);
            Some(Self { date: local.date(), time: Some(local.time()), offset: other.offset })
        };
        converted().unwrap_or(self)
    }

    /// The day alone.
    pub(super) fn day_only(self) -> Self {
        Self { time: None, ..self }
    }

    pub(super) fn date_time(self) -> Option<DateTime> {
        self.time.map(|time| self.date.to_datetime(time))
    }

    pub(super) fn collected(self) -> Collected {
        self.date_time().map_or(Collected::On(self.date), Collected::At)
    }

    /// Seconds for telling earlier from later; a time without an offset counts as one in UTC.
    pub(super) fn seconds(self) -> i64 {
        let local = self.date.to_datetime(self.time.unwrap_or(Time::midnight()));
        let offset = self.offset.unwrap_or(Offset::UTC);
        offset.to_timestamp(local).map_or(i64::MIN, |timestamp| timestamp.as_second())
    }

    /// Whether it is written in UTC.
    pub(super) fn is_utc(self) -> bool {
        self.offset == Some(Offset::UTC)
    }
}

/// A value for a message, without what it says: digits stand as 9 and letters as a, since it may be anything at all,
/// a patient's number included.
pub(super) fn shape(text: &str) -> String {
    const LONGEST: usize = 30;
    let shape: String = text
        .chars()
        .take(LONGEST)
        .map(|c| match c {
            _ if c.is_ascii_digit() => '9',
            _ if c.is_alphabetic() => 'a',
            _ if c.is_ascii_punctuation() || c == ' ' => c,
            _ => '?',
        })
        .collect();
    let more = if text.chars().count() > LONGEST { " and more" } else { "" };
    format!("a value of the form {shape:?}{more}")
}

fn number(digits: &str, from: usize, to: usize) -> Option<i16> {
    digits.get(from..to).filter(|part| part.bytes().all(|byte| byte.is_ascii_digit()))?.parse().ok()
}

fn small(digits: &str, from: usize) -> Option<i8> {
    i8::try_from(number(digits, from, from + 2)?).ok()
}

/// A leap second is written as 60; it is the last second of its minute here.
fn time_of(hour: i8, minute: i8, second: i8) -> Option<Time> {
    Time::new(hour, minute, if second == 60 { 59 } else { second }, 0).ok()
}

/// `+0100`, at most 14 hours either way.
fn offset_of(text: &str) -> Option<Offset> {
    let digits = text.get(1..).filter(|digits| digits.len() == 4)?;
    let (hours, minutes) = (i32::from(small(digits, 0)?), i32::from(small(digits, 2)?));
    let seconds = (hours * 60 + minutes) * 60;
    let fine = minutes < 60 && seconds <= 14 * 3_600;
    let seconds = if text.starts_with('-') { -seconds } else { seconds };
    fine.then(|| Offset::from_seconds(seconds).ok()).flatten()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[track_caller]
    fn check(found: Option<Moment>, day: Date, hour_minute: Option<(i8, i8)>) {
        let found = found.expect("a moment");
        assert_eq!(found.date, day);
        assert_eq!(found.time.map(|time| (time.hour(), time.minute())), hour_minute);
    }

    /// HL7 v2.5.1, chapter 2.A.22 (DTM); FHIR R4, data type dateTime. Leap years by the Gregorian rule.
    #[test]
    fn the_forms_of_both_standards() {
        let leap = date(2024, 2, 29);
        check(Moment::hl7("20240229"), leap, None);
        check(Moment::hl7("2024022907"), leap, Some((7, 0)));
        check(Moment::hl7("202402290705"), leap, Some((7, 5)));
        check(Moment::hl7("20240229070559.1234-0600"), leap, Some((7, 5)));
        check(Moment::fhir("2024-02-29"), leap, None);
        check(Moment::fhir("2024-02-29T07:05Z"), leap, Some((7, 5)));
        check(Moment::fhir("2024-02-29T07:05:60.25+05:45"), leap, Some((7, 5)));
        for wrong in [
            "",
            "2024",
            "202402",
            "20230229",
            "19000229",
            "2024022924",
            "202402290760",
            "20240229070",
            "2024022x",
            "20240229+01",
            "20240229070559.-0600",
            "20240229070559+9900",
            "+0100",
            "２０２４０２２９",
        ] {
            assert_eq!(Moment::hl7(wrong), None, "{wrong:?}");
        }
        for wrong in [
            "",
            "2024",
            "2024-02",
            "2023-02-29",
            "2024-02-29T",
            "2024-02-29T7:05",
            "2024-02-29T25:00:00Z",
            "2024-02-29T07:05:06.Z",
            "2024-02-29T07:05:06+0x:00",
            "2024-02-29-01",
            "T",
            "2024-02-29T07:05:06+15:00",
        ] {
            assert_eq!(Moment::fhir(wrong), None, "{wrong:?}");
        }
    }

    /// European Union Directive 2000/84/EC: summer time ends on the last Sunday of October at 01:00 UTC; in 2026 that
    /// is 25 October. It begins on the last Sunday of March, 29 March 2026.
    #[test]
    fn the_clock_of_the_unit_counts_on_the_nights_it_changes() {
        let clock = TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap();
        let local =
            |text: &str| Moment::fhir(text).unwrap().by(Some(&clock)).date_time().unwrap().to_string();
        assert_eq!(local("2026-10-25T00:30:00Z"), "2026-10-25T02:30:00", "before the change");
        assert_eq!(local("2026-10-25T01:30:00Z"), "2026-10-25T02:30:00", "an hour later, by the same name");
        assert_eq!(local("2026-10-25T02:30:00Z"), "2026-10-25T03:30:00");
        assert_eq!(local("2026-03-29T00:59:00Z"), "2026-03-29T01:59:00");
        assert_eq!(local("2026-03-29T01:00:00Z"), "2026-03-29T03:00:00", "02:00 to 02:59 do not exist");
        assert_eq!(local("2026-03-01T23:30:00-05:00"), "2026-03-02T05:30:00", "another day");
        let first = Moment::hl7("202610250230+0200").unwrap();
        let second = Moment::hl7("202610250230+0100").unwrap();
        assert_eq!(second.seconds() - first.seconds(), 3_600);
        assert_eq!(
            Moment::hl7("202610250230").unwrap().by(Some(&clock)).time,
            first.time,
            "no offset, as written"
        );
    }

    #[test]
    fn two_offsets_can_be_compared() {
        let collected = Moment::fhir("2026-03-02T08:15:00+01:00").unwrap();
        let received = Moment::fhir("2026-03-02T07:40:00Z").unwrap();
        assert_eq!(received.in_offset_of(collected).date_time().unwrap().to_string(), "2026-03-02T08:40:00");
        assert!(received.is_utc() && !collected.is_utc());
    }

    #[test]
    fn a_shape_tells_nothing_of_the_value() {
        assert_eq!(shape("2 March"), "a value of the form \"9 aaaaa\"");
        assert!(shape(&"7".repeat(50)).ends_with(" and more"));
    }
}
