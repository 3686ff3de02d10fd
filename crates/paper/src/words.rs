//! Numbers and dates as a reader sees them.

use desk::{Rate, Share};
use jiff::civil::{Date, DateTime};
use typst::foundations::Value;

use crate::value::{named, text};

/// "7 March 2026": unambiguous wherever it is read.
pub(crate) fn day(date: Date) -> String {
    practice::day_in_words(date)
}

/// "7 Mar 2026", for tables.
pub(crate) fn short_day(date: Date) -> String {
    let name = practice::month_name(date);
    format!("{}\u{a0}{}\u{a0}{}", date.day(), name.get(..3).unwrap_or(name), date.year())
}

/// "March 2026".
pub(crate) fn month(date: Date) -> String {
    practice::month_in_words(date)
}

/// "07:05".
pub(crate) fn clock(time: DateTime) -> String {
    format!("{:02}:{:02}", time.hour(), time.minute())
}

/// Text for the foot of a page: at most so many characters, cut after a whole word where there is one, with an
/// ellipsis where something was cut.
pub(crate) fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    let ends_a_word = text.chars().nth(most.saturating_sub(1)).is_some_and(|next| !next.is_alphanumeric());
    let whole_words = if ends_a_word { None } else { kept.rsplit_once(char::is_whitespace) };
    let kept = whole_words.map_or(kept.as_str(), |(words, _)| words);
    format!("{}…", kept.trim_end_matches(|last: char| last.is_whitespace() || ",;:".contains(last)))
}

/// A fraction of one as a percentage with one decimal; a positive share that rounds to nothing says so.
pub(crate) fn percent(share: f64) -> String {
    match share {
        share if !share.is_finite() => "no value".to_owned(),
        share if share > 0.0 && share < 0.0005 => "under 0.1\u{a0}%".to_owned(),
        share => format!("{:.1}\u{a0}%", share * 100.0),
    }
}

/// "1.3 to 8.4 %": one sign for both ends, and never broken between them.
pub(crate) fn percent_range(lower: f64, upper: f64) -> String {
    format!("{:.1}\u{a0}to\u{a0}{:.1}\u{a0}%", lower * 100.0, upper * 100.0)
}

/// A rate for the templates: the counts, what is counted, and the share with its interval or why there is none.
pub(crate) fn rate(rate: &Rate) -> Value {
    let (share, interval, method, anchor, withheld) = match &rate.share {
        Share::Shown { estimate, lower, upper, method, anchor } => {
            (percent(*estimate), percent_range(*lower, *upper), method.as_str(), anchor.as_str(), "")
        }
        Share::Withheld(reason) => (String::new(), String::new(), "", "", reason.as_str()),
    };
    named([
        ("events", text(&rate.events.to_string())),
        ("of", text(&rate.of.to_string())),
        ("what", text(&rate.what)),
        ("of-what", text(&rate.of_what)),
        ("share", text(&share)),
        ("interval", text(&interval)),
        ("method", text(method)),
        ("anchor", text(anchor)),
        ("withheld", text(withheld)),
    ])
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn dates_are_written_out() {
        assert_eq!(day(date(2026, 3, 7)), "7 March 2026");
        assert_eq!(short_day(date(2026, 12, 31)), "31\u{a0}Dec\u{a0}2026");
        assert_eq!(clock(date(2026, 3, 7).at(7, 5, 0, 0)), "07:05");
    }

    #[test]
    fn what_is_too_long_is_cut_after_a_whole_word() {
        assert_eq!(shorten("Blood culture, adult", 20), "Blood culture, adult");
        assert_eq!(shorten("Blood culture, adult", 19), "Blood culture…");
        assert_eq!(shorten("Blood culture, adult", 14), "Blood culture…");
        assert_eq!(shorten("Blood culture, adult", 8), "Blood…");
        assert_eq!(shorten("Donaudampfschiff", 8), "Donauda…");
    }

    #[test]
    fn shares_are_written_as_percentages() {
        assert_eq!(percent(0.0), "0.0\u{a0}%");
        assert_eq!(percent(0.0004), "under 0.1\u{a0}%");
        assert_eq!(percent(0.0339), "3.4\u{a0}%");
        assert_eq!(percent(1.0), "100.0\u{a0}%");
        assert_eq!(percent_range(0.0133, 0.0839), "1.3\u{a0}to\u{a0}8.4\u{a0}%");
        assert_eq!(percent(f64::NAN), "no value");
    }
}
