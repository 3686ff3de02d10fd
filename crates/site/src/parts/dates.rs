//! Dates that cannot be misread: the month always in letters.

use jiff::civil::{Date, DateTime};
use maud::{Markup, html};
use practice::{month_in_words, month_name};

/// `3 March 2026`.
pub(crate) fn day(date: Date) -> Markup {
    html! { time datetime=(date) { (date.day()) "\u{a0}" (month_name(date)) "\u{a0}" (date.year()) } }
}

/// `3 March 2026, 14:05`.
pub(crate) fn moment(at: DateTime) -> Markup {
    let date = at.date();
    html! {
        time datetime=(format!("{date}T{:02}:{:02}", at.hour(), at.minute())) {
            (date.day()) "\u{a0}" (month_name(date)) "\u{a0}" (date.year())
            ", " (format!("{:02}:{:02}", at.hour(), at.minute()))
        }
    }
}

/// `March 2026`.
pub(crate) fn month_words(date: Date) -> String {
    month_in_words(date)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_name_their_month() {
        assert_eq!(
            day(Date::constant(2026, 3, 1)).into_string(),
            "<time datetime=\"2026-03-01\">1\u{a0}March\u{a0}2026</time>"
        );
        assert_eq!(
            moment(Date::constant(2026, 12, 31).at(7, 5, 0, 0)).into_string(),
            "<time datetime=\"2026-12-31T07:05\">31\u{a0}December\u{a0}2026, 07:05</time>"
        );
        assert_eq!(month_words(Date::constant(2026, 1, 1)), "January 2026");
    }
}
