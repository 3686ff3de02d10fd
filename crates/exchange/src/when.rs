//! Dates and times in the ways laboratories write them.

use jiff::civil::{Date, DateTime, Time};

/// A way of writing a date, a time or both: "DD.MM.YYYY hh:mm".
///
/// `YYYY` year, `YY` two digits of a year from 2000 on, `MM` or `M` month, `MON` its English name cut to three letters,
/// `DD` or `D` day, `hh` or `h` hour, `mm` minute, `ss` second with any fraction, `pm` AM or PM, `zone` an offset
/// such as `+01:00` or `Z`, which is passed over: the clock of the unit is what counts. `M`, `D` and `h` take one digit
/// or two; the double forms take two. Anything else stands for itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DateFormat {
    written: String,
    parts: Vec<Part>,
}

/// A day, and the time of day where the text gave one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct When {
    /// The day.
    pub date: Date,
    /// The time of day.
    pub time: Option<Time>,
}

impl When {
    /// Day and time, where there is a time.
    pub fn date_time(self) -> Option<DateTime> {
        self.time.map(|time| self.date.to_datetime(time))
    }
}

/// A way of writing dates that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "date format {0:?} needs YYYY (or YY), M or MM (or MON), and D or DD, or only a time with h or hh and mm"
)]
pub struct DateFormatError(String);

/// Formats tried when the mapping names none: only such as cannot be misread.
pub const PLAIN_FORMATS: [&str; 5] =
    ["YYYY-MM-DD hh:mm:ss", "YYYY-MM-DD hh:mm", "YYYY-MM-DDThh:mm:ss", "YYYY-MM-DDThh:mm", "YYYY-MM-DD"];

#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    Year,
    ShortYear,
    Month { digits: u8 },
    MonthName,
    Day { digits: u8 },
    Hour { digits: u8 },
    Minute,
    Second,
    Half,
    Zone,
    Exactly(char),
}

const TOKENS: [(&str, Part); 13] = [
    ("YYYY", Part::Year),
    ("YY", Part::ShortYear),
    ("MON", Part::MonthName),
    ("MM", Part::Month { digits: 2 }),
    ("M", Part::Month { digits: 1 }),
    ("DD", Part::Day { digits: 2 }),
    ("D", Part::Day { digits: 1 }),
    ("hh", Part::Hour { digits: 2 }),
    ("h", Part::Hour { digits: 1 }),
    ("mm", Part::Minute),
    ("ss", Part::Second),
    ("pm", Part::Half),
    ("zone", Part::Zone),
];

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

impl DateFormat {
    /// Reads a format.
    ///
    /// # Errors
    /// When it has neither a whole date nor a time of day.
    pub fn new(written: &str) -> Result<Self, DateFormatError> {
        let mut parts = Vec::new();
        let mut rest = written.trim();
        while let Some(first) = rest.chars().next() {
            let token = TOKENS.iter().find(|(token, _)| rest.starts_with(token));
            let length = match token {
                Some((token, part)) => {
                    parts.push(part.clone());
                    token.len()
                }
                None => {
                    parts.push(Part::Exactly(first));
                    first.len_utf8()
                }
            };
            rest = &rest[length..];
        }
        let has = |test: fn(&Part) -> bool| parts.iter().any(test);
        let n_date = [
            has(|part| matches!(part, Part::Year | Part::ShortYear)),
            has(|part| matches!(part, Part::Month { .. } | Part::MonthName)),
            has(|part| matches!(part, Part::Day { .. })),
        ];
        let n_date = n_date.into_iter().filter(|there| *there).count();
        let has_hour = has(|part| matches!(part, Part::Hour { .. }));
        if n_date == 3 || (n_date == 0 && has_hour) {
            Ok(Self { written: written.trim().to_owned(), parts })
        } else {
            Err(DateFormatError(written.to_owned()))
        }
    }

    /// The format as it was written.
    pub fn written(&self) -> &str {
        &self.written
    }

    /// Reads a day, with its time where the format has one; the whole text must fit.
    pub fn read(&self, text: &str) -> Option<When> {
        let fields = self.fields(text)?;
        let date = Date::new(fields.year?, fields.month?, fields.day?).ok()?;
        let time = if fields.hour.is_some() { Some(fields.time()?) } else { None };
        Some(When { date, time })
    }

    /// Reads a time of day alone.
    pub fn read_time(&self, text: &str) -> Option<Time> {
        self.fields(text)?.time()
    }

    fn fields(&self, text: &str) -> Option<Fields> {
        let mut fields = Fields::default();
        let mut rest = text.trim();
        for part in &self.parts {
            match part {
                Part::Year => fields.year = Some(take(&mut rest, 4, 4)? as i16),
                Part::ShortYear => fields.year = Some(2_000 + take(&mut rest, 2, 2)? as i16),
                Part::Month { digits } => fields.month = Some(take(&mut rest, *digits, 2)? as i8),
                Part::MonthName => {
                    let name = rest.get(..3)?.to_ascii_lowercase();
                    let place = MONTHS.iter().position(|month| *month == name)?;
                    fields.month = i8::try_from(place + 1).ok();
                    rest = rest[3..].trim_start_matches(|c: char| c.is_ascii_alphabetic());
                }
                Part::Day { digits } => fields.day = Some(take(&mut rest, *digits, 2)? as i8),
                Part::Hour { digits } => fields.hour = Some(take(&mut rest, *digits, 2)? as i8),
                Part::Minute => fields.minute = take(&mut rest, 2, 2)? as i8,
                Part::Second => {
                    fields.second = take(&mut rest, 2, 2)? as i8;
                    if let Some(fraction) = rest.strip_prefix('.') {
                        let digits = fraction.trim_start_matches(|c: char| c.is_ascii_digit());
                        if digits.len() == fraction.len() {
                            return None;
                        }
                        rest = digits;
                    }
                }
                Part::Half => {
                    let half = rest.get(..2)?;
                    fields.afternoon = Some(half.eq_ignore_ascii_case("pm"));
                    if !half.eq_ignore_ascii_case("pm") && !half.eq_ignore_ascii_case("am") {
                        return None;
                    }
                    rest = &rest[2..];
                }
                Part::Zone => rest = after_zone(rest)?,
                Part::Exactly(wanted) => rest = rest.strip_prefix(*wanted)?,
            }
        }
        rest.is_empty().then_some(fields)
    }
}

#[derive(Default)]
struct Fields {
    year: Option<i16>,
    month: Option<i8>,
    day: Option<i8>,
    hour: Option<i8>,
    minute: i8,
    second: i8,
    afternoon: Option<bool>,
}

impl Fields {
    fn time(&self) -> Option<Time> {
        let hour = match (self.hour?, self.afternoon) {
            (hour, None) => hour,
            (hour @ 1..=12, Some(afternoon)) => hour % 12 + if afternoon { 12 } else { 0 },
            _ => return None,
        };
        // A leap second is written as 60; it is the last second of its minute here.
        Time::new(hour, self.minute, self.second.min(if self.second == 60 { 59 } else { 60 }), 0).ok()
    }
}

/// Takes a number of `fewest` to `most` digits off the front.
fn take(rest: &mut &str, fewest: u8, most: u8) -> Option<u16> {
    let n_digits = rest.bytes().take(usize::from(most)).take_while(u8::is_ascii_digit).count();
    if n_digits < usize::from(fewest) {
        return None;
    }
    let (digits, left) = rest.split_at(n_digits);
    *rest = left;
    digits.parse().ok()
}

/// Passes over `Z`, `+01:00`, `-0600` or `+01`.
fn after_zone(rest: &str) -> Option<&str> {
    if let Some(left) = rest.strip_prefix(['Z', 'z']) {
        return Some(left);
    }
    let left = rest.strip_prefix(['+', '-'])?;
    let mut left = left;
    take(&mut left, 2, 2)?;
    let minutes = left.strip_prefix(':').unwrap_or(left);
    let mut after_minutes = minutes;
    Some(if take(&mut after_minutes, 2, 2).is_some() { after_minutes } else { left })
}

/// Tries formats in turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DateFormats(Vec<DateFormat>);

impl DateFormats {
    /// Formats in the order in which they are tried.
    pub fn new(formats: Vec<DateFormat>) -> Self {
        Self(formats)
    }

    /// The formats of [`PLAIN_FORMATS`].
    pub fn plain() -> Self {
        Self(PLAIN_FORMATS.iter().filter_map(|format| DateFormat::new(format).ok()).collect())
    }

    /// The formats in the order in which they are tried.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &DateFormat> {
        self.0.iter()
    }

    /// The first reading that fits.
    pub fn read(&self, text: &str) -> Option<When> {
        self.0.iter().find_map(|format| format.read(text))
    }

    /// The first reading as a time of day that fits.
    pub fn read_time(&self, text: &str) -> Option<Time> {
        self.0.iter().find_map(|format| format.read_time(text))
    }

    /// The formats that were tried, for a message: "YYYY-MM-DD hh:mm or DD.MM.YYYY".
    pub fn tried(&self) -> String {
        self.0.iter().map(DateFormat::written).collect::<Vec<_>>().join(" or ")
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, time};

    use super::*;

    #[track_caller]
    fn check(format: &str, text: &str, expected: Option<(Date, Option<Time>)>) {
        let found = DateFormat::new(format).unwrap().read(text).map(|when| (when.date, when.time));
        assert_eq!(found, expected, "{text:?} by {format:?}");
    }

    #[test]
    fn formats_are_read_as_they_are_written() {
        let day = date(2024, 2, 29);
        check("YYYY-MM-DD", "2024-02-29", Some((day, None)));
        check("YYYY-MM-DD", "2023-02-29", None);
        check("YYYY-MM-DD", "2024-2-29", None);
        check("YYYY-M-D", "2024-2-29", Some((day, None)));
        check("DD.MM.YYYY hh:mm", "29.02.2024 07:05", Some((day, Some(time(7, 5, 0, 0)))));
        check("D/M/YY h:mm pm", "29/2/24 12:05 am", Some((day, Some(time(0, 5, 0, 0)))));
        check("D/M/YY h:mm pm", "29/2/24 12:05 PM", Some((day, Some(time(12, 5, 0, 0)))));
        check("D/M/YY h:mm pm", "29/2/24 13:05 PM", None);
        check("DD-MON-YYYY", "29-FEB-2024", Some((day, None)));
        check("DD MON YYYY", "29 February 2024", Some((day, None)));
        check("YYYY-MM-DDThh:mm:sszone", "2024-02-29T07:05:06.25+01:00", Some((day, Some(time(7, 5, 6, 0)))));
        check("YYYY-MM-DDThh:mm:sszone", "2024-02-29T07:05:06Z", Some((day, Some(time(7, 5, 6, 0)))));
        check("YYYYMMDDhhmmss", "20240229070506", Some((day, Some(time(7, 5, 6, 0)))));
        check("YYYY-MM-DD", "2024-02-29 rest", None);
        check("YYYY-MM-DD hh:mm", "2024-02-29 25:00", None);
        assert_eq!(DateFormat::new("hh:mm").unwrap().read_time("07:05"), Some(time(7, 5, 0, 0)));
        assert!(DateFormat::new("YYYY-MM").is_err());
        assert!(DateFormat::new("quux").is_err());
    }
}
