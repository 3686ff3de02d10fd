//! Times of day as a nurse writes them.

use jiff::civil::{Date, DateTime, Time};

/// "14:05" of a day, or "2026-03-02 14:05" of its own. `None` for anything else.
pub(crate) fn read(written: &str, day: Date) -> Option<DateTime> {
    let written = written.trim().replace('T', " ");
    let (date, time) = match written.split_once(' ') {
        Some((date, time)) => (date.parse::<Date>().ok()?, time.trim().to_owned()),
        None => (day, written),
    };
    let (hours, minutes) = time.split_once(':')?;
    let number = |text: &str| {
        (!text.is_empty() && text.len() <= 2 && text.bytes().all(|byte| byte.is_ascii_digit()))
            .then(|| text.parse::<i8>().ok())
            .flatten()
    };
    let time = Time::new(number(hours)?, number(minutes)?, 0, 0).ok()?;
    Some(date.to_datetime(time))
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn times_as_they_are_written() {
        let day = date(2026, 3, 2);
        assert_eq!(read("14:05", day), Some(day.at(14, 5, 0, 0)));
        assert_eq!(read(" 7:30 ", day), Some(day.at(7, 30, 0, 0)));
        assert_eq!(read("2026-03-01 23:50", day), Some(date(2026, 3, 1).at(23, 50, 0, 0)));
        assert_eq!(read("2026-03-01T23:50", day), Some(date(2026, 3, 1).at(23, 50, 0, 0)));
        for wrong in ["", "14", "24:00", "14:60", "2pm", "14:5x", "+1:05", "01.03. 14:05", "2026-02-30 10:00"]
        {
            assert_eq!(read(wrong, day), None, "{wrong}");
        }
    }
}
