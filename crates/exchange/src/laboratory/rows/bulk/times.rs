//! Times of fixed width, read without a detour.

use culture::Moment;

use crate::when::{DateFormat, DateFormats, When};

/// Formats of a mapping, those of fixed width made ready for reading in place.
pub(super) struct Times<'m> {
    formats: Vec<(Option<FixedTime>, &'m DateFormat)>,
}

/// Where the parts of a time stand in a text of fixed width.
struct FixedTime {
    width: usize,
    year: usize,
    month: usize,
    day: usize,
    hour: Option<usize>,
    minute: Option<usize>,
    second: Option<usize>,
    marks: Vec<(usize, u8)>,
}

impl<'m> Times<'m> {
    pub(super) fn new(formats: &'m DateFormats) -> Self {
        Self { formats: formats.iter().map(|format| (FixedTime::of(format), format)).collect() }
    }

    /// The first reading that fits, as [`DateFormats::read`] gives it.
    pub(super) fn read(&self, text: &[u8]) -> Option<Moment> {
        for (fixed, format) in &self.formats {
            if let Some(fixed) = fixed {
                // Only a second may be longer than it is written, by its fraction.
                if fixed.width == text.len() || (fixed.second.is_none() || text.len() < fixed.width) {
                    match fixed.read(text) {
                        Some(moment) => return Some(moment),
                        None => continue,
                    }
                }
            }
            let read = std::str::from_utf8(text).ok().and_then(|text| format.read(text));
            if let Some(When { date, time }) = read {
                return Some(time.map_or(Moment::on(date), |time| Moment::at(date.to_datetime(time))));
            }
        }
        None
    }
}

impl FixedTime {
    /// `None` for a format whose parts may be longer or shorter, or that does more than say where the digits are.
    fn of(format: &DateFormat) -> Option<Self> {
        let written = format.written().as_bytes();
        let mut fixed = Self {
            width: written.len(),
            year: usize::MAX,
            month: usize::MAX,
            day: usize::MAX,
            hour: None,
            minute: None,
            second: None,
            marks: Vec::new(),
        };
        let mut at = 0;
        while at < written.len() {
            let rest = &written[at..];
            let length = match rest {
                [b'Y', b'Y', b'Y', b'Y', ..] if fixed.year == usize::MAX => {
                    fixed.year = at;
                    4
                }
                [b'M', b'M', ..] if fixed.month == usize::MAX => {
                    fixed.month = at;
                    2
                }
                [b'D', b'D', ..] if fixed.day == usize::MAX => {
                    fixed.day = at;
                    2
                }
                [b'h', b'h', ..] if fixed.hour.is_none() => {
                    fixed.hour = Some(at);
                    2
                }
                [b'm', b'm', ..] if fixed.minute.is_none() => {
                    fixed.minute = Some(at);
                    2
                }
                // A fraction may follow, so a second that is not the last part has no fixed place for what follows.
                [b's', b's'] if fixed.second.is_none() => {
                    fixed.second = Some(at);
                    2
                }
                [mark, ..] if b" -./:,_T".contains(mark) => {
                    fixed.marks.push((at, *mark));
                    1
                }
                _ => return None,
            };
            at += length;
        }
        let whole = [fixed.year, fixed.month, fixed.day].iter().all(|place| *place != usize::MAX);
        let timed = fixed.hour.is_some() || (fixed.minute.is_none() && fixed.second.is_none());
        (whole && timed).then_some(fixed)
    }

    fn read(&self, text: &[u8]) -> Option<Moment> {
        if text.len() != self.width || self.marks.iter().any(|&(place, mark)| text[place] != mark) {
            return None;
        }
        let year = two(text, self.year)? * 100 + two(text, self.year + 2)?;
        let (month, day) = (two(text, self.month)?, two(text, self.day)?);
        let part = |place: Option<usize>| place.map_or(Some(0), |place| two(text, place));
        let (hour, minute) = (part(self.hour)?, part(self.minute)?);
        // A leap second is written as 60; it is the last second of its minute here.
        let second = part(self.second).map(|second| if second == 60 { 59 } else { second })?;
        let second_of_day = match self.hour {
            Some(_) if hour < 24 && minute < 60 && second < 60 => Some(hour * 3_600 + minute * 60 + second),
            Some(_) => return None,
            None => None,
        };
        Moment::of_parts(year, month, day, second_of_day)
    }
}

/// Two digits.
fn two(text: &[u8], place: usize) -> Option<u32> {
    let digit = |place: usize| {
        let digit = text.get(place)?.wrapping_sub(b'0');
        (digit < 10).then_some(u32::from(digit))
    };
    Some(digit(place)? * 10 + digit(place + 1)?)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn plain(formats: &DateFormats, text: &str) -> Option<Moment> {
        let When { date, time } = formats.read(text)?;
        Some(time.map_or(Moment::on(date), |time| Moment::at(date.to_datetime(time))))
    }

    proptest! {
        /// Against the general reading of the same formats.
        #[test]
        fn a_time_in_place_is_the_time_read_the_general_way(
            text in "(19|20|00)[0-9]{2}-[01][0-9]-[0-3][0-9]([ T][0-2][0-9]:[0-6][0-9](:[0-6][0-9](\\.[0-9]{0,3})?)?)?|[0-3][0-9]\\.[01][0-9]\\.[0-9]{4}( [0-9]{2}:[0-9]{2})?|[0-9: .-]{0,19}"
        ) {
            let own = ["DD.MM.YYYY hh:mm", "DD.MM.YYYY", "YYYYMMDDhhmm", "D.M.YYYY", "hh:mm"];
            let own = own.iter().filter_map(|format| DateFormat::new(format).ok()).collect();
            for formats in [DateFormats::plain(), DateFormats::new(own)] {
                prop_assert_eq!(Times::new(&formats).read(text.as_bytes()), plain(&formats, &text), "{}", text);
            }
        }
    }
}
