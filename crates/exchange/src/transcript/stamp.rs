//! Times: `01:02:03.456`, `02:03.456`, `02:03,456`, `[02:03]`.

/// Seconds of a time of a cue. Hours may be left out; minutes and seconds are two digits below 60; milliseconds are
/// three digits after a point (WebVTT) or a comma (SRT).
pub(super) fn cue_time(text: &str) -> Option<f64> {
    let text = text.trim();
    let (clock, milliseconds) = text.split_once(['.', ','])?;
    if milliseconds.len() != 3 || !all_digits(milliseconds) {
        return None;
    }
    let parts: Vec<&str> = clock.split(':').collect();
    let (hours, minutes, seconds) = match parts.as_slice() {
        [minutes, seconds] => ("0", *minutes, *seconds),
        [hours, minutes, seconds] => (*hours, *minutes, *seconds),
        _ => return None,
    };
    let two_digits = |text: &str| text.len() == 2 && all_digits(text);
    if !all_digits(hours) || hours.len() > 6 || !two_digits(minutes) || !two_digits(seconds) {
        return None;
    }
    let number = |text: &str| text.parse::<f64>().ok();
    let (minutes, seconds) = (number(minutes)?, number(seconds)?);
    if minutes > 59.0 || seconds > 59.0 {
        return None;
    }
    Some(number(hours)? * 3600.0 + minutes * 60.0 + seconds + number(milliseconds)? / 1000.0)
}

/// Start and end of a line with an arrow; settings after the second time are skipped.
pub(super) fn arrow(line: &str) -> Option<(f64, f64)> {
    let (start, rest) = line.split_once("-->")?;
    let end = rest.split_whitespace().next()?;
    Some((cue_time(start)?, cue_time(end)?))
}

/// Start and end of a line such as `0:00:00.378,0:00:11.378`; hours are one digit or more.
pub(super) fn sbv(line: &str) -> Option<(f64, f64)> {
    let (start, end) = line.trim().split_once(',')?;
    let full = |text: &str| text.matches(':').count() == 2 && text.contains('.');
    if full(start) && full(end) { Some((cue_time(start)?, cue_time(end)?)) } else { None }
}

/// A time in brackets at the start of a line, and what follows: `[02:03] scrub`, `(1:02:03.5) scrub`, `[12.5] scrub`,
/// `[75s] scrub`.
pub(super) fn in_brackets(line: &str) -> Option<(f64, &str)> {
    let line = line.trim_start();
    let close = match line.chars().next()? {
        '[' => ']',
        '(' => ')',
        '<' => '>',
        _ => return None,
    };
    let (time, rest) = line[1..].split_once(close)?;
    // A range in the brackets starts with its start.
    let start = time.split(['-', '–']).next()?.trim();
    Some((loose_time(start)?, rest.trim()))
}

/// Seconds of `1:02:03.5`, `02:03` or `12.5`, with or without an "s".
fn loose_time(text: &str) -> Option<f64> {
    let text = text.strip_suffix('s').unwrap_or(text).trim().replace(',', ".");
    let parts: Vec<&str> = text.split(':').collect();
    if parts.len() > 3 || parts.iter().any(|part| part.is_empty() || part.len() > 9) {
        return None;
    }
    let (last, whole) = parts.split_last()?;
    let plain = |part: &str| part.chars().all(|letter| letter.is_ascii_digit() || letter == '.');
    if !plain(last) || !whole.iter().all(|part| all_digits(part)) {
        return None;
    }
    let seconds: f64 = last.parse().ok()?;
    let before = whole.iter().try_fold(0.0, |sum, part| Some(sum * 60.0 + part.parse::<f64>().ok()?))?;
    (whole.is_empty() || seconds < 60.0).then_some(before * 60.0 + seconds)
}

fn all_digits(text: &str) -> bool {
    !text.is_empty() && text.chars().all(|letter| letter.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// W3C WebVTT, "collect a WebVTT timestamp": two digits of minutes and seconds below 60, exactly three digits of
    /// milliseconds.
    #[test]
    fn times_of_cues() {
        assert_eq!(cue_time("00:01.000"), Some(1.0));
        assert_eq!(cue_time("01:02:03.456"), Some(3723.456));
        assert_eq!(cue_time("100:00:00.000"), Some(360_000.0));
        assert_eq!(cue_time("00:00:07,000"), Some(7.0));
        for wrong in [
            "0:01.000",
            "00:60.000",
            "60:00.000",
            "00:01",
            "00:01.00",
            "00:01.0000",
            "00:1d.890",
            "",
            "-00:01.000",
        ] {
            assert_eq!(cue_time(wrong), None, "{wrong}");
        }
        assert_eq!(arrow("00:01.000 --> 00:02.500 align:start position:0%"), Some((1.0, 2.5)));
        assert_eq!(arrow("00:01.000-->00:02.500"), Some((1.0, 2.5)));
        assert_eq!(arrow("00:01.000 -->"), None);
        assert_eq!(sbv("0:00:00.378,0:00:11.378"), Some((0.378, 11.378)));
    }

    #[test]
    fn times_in_brackets() {
        assert_eq!(in_brackets("[02:03] scrub"), Some((123.0, "scrub")));
        assert_eq!(in_brackets("(1:02:03.5) scrub"), Some((3723.5, "scrub")));
        assert_eq!(in_brackets("[12.5] scrub"), Some((12.5, "scrub")));
        assert_eq!(in_brackets("[00:01 - 00:04] scrub"), Some((1.0, "scrub")));
        for wrong in ["[noise] scrub", "scrub [02:03]", "[1:99] scrub", "[] scrub", "[1:2:3:4] x"] {
            assert_eq!(in_brackets(wrong), None, "{wrong}");
        }
    }
}
