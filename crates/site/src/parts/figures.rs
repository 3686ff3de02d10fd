//! Figures: a share never stands without its numerator, its denominator and its interval, or the reason why
//! there is none.

use desk::{Rate, Share};
use maud::{Markup, html};

use crate::address;

/// `1 234`: digits in threes from five digits on, parted by a narrow space that does not break.
pub(crate) fn count(n: u64) -> String {
    let digits = n.to_string();
    if digits.len() < 5 {
        return digits;
    }
    let mut grouped = String::with_capacity(digits.len() + digits.len() / 3 * 3);
    for (index, digit) in digits.char_indices() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            grouped.push('\u{202f}');
        }
        grouped.push(digit);
    }
    grouped
}

/// `2.9 %` from 0.029. A share that is not nought never reads as nought, nor one short of all as all.
pub(crate) fn percent(fraction: f64) -> String {
    if !fraction.is_finite() {
        return "not known".to_owned();
    }
    let percent = fraction * 100.0;
    if percent > 0.0 && percent < 0.05 {
        "under\u{a0}0.1\u{a0}%".to_owned()
    } else if (99.95..100.0).contains(&percent) {
        "over\u{a0}99.9\u{a0}%".to_owned()
    } else {
        format!("{percent:.1}\u{a0}%")
    }
}

/// `0.61`, and `−0.12` with a minus that is no hyphen.
pub(crate) fn hundredths(value: f64) -> String {
    format!("{value:.2}").replace('-', "−")
}

/// `4 of 118`.
pub(crate) fn of(events: u64, of: u64) -> String {
    format!("{}\u{a0}of\u{a0}{}", count(events), count(of))
}

/// A rate as a block: the share large, then the counts in words, then the interval with the way to its method.
pub(crate) fn rate(rate: &Rate) -> Markup {
    html! {
        p.rate {
            @if let Share::Shown { estimate, .. } = rate.share {
                strong.share { (percent(estimate)) }
            } @else {
                strong.share { (of(rate.events, rate.of)) }
            }
            span.counts {
                (sentence_start(&rate.what)) ": " (of(rate.events, rate.of)) " " (rate.of_what)
            }
            span.interval { (interval(&rate.share)) }
        }
    }
}

/// A rate in running text or a cell: counts, share, interval.
pub(crate) fn rate_short(rate: &Rate) -> Markup {
    html! { (of(rate.events, rate.of)) (share(rate)) }
}

/// The same where nothing beside it says of what: `417 of 455 items that two listeners marked: 91.6 %, …`.
pub(crate) fn rate_of(rate: &Rate) -> Markup {
    html! { (of(rate.events, rate.of)) " " (rate.of_what) (share(rate)) }
}

fn share(rate: &Rate) -> Markup {
    html! {
        @match &rate.share {
            Share::Shown { estimate, .. } => { ": " (percent(*estimate)) ", " (interval(&rate.share)) }
            Share::Withheld(why) => { "; no share shown: " (why) }
        }
    }
}

/// `between 1.7 % and 5.0 % (Wilson, 95 %)`, the method being the way to its description; or why there is none.
fn interval(share: &Share) -> Markup {
    html! {
        @match share {
            Share::Shown { lower, upper, method, anchor, .. } => {
                "between " (percent(*lower)) " and " (percent(*upper)) " (" (method_link(method, anchor)) ")"
            }
            Share::Withheld(why) => { "No share shown: " (why) }
        }
    }
}

/// Words fit to open a line: with a capital.
pub(crate) fn sentence_start(what: &str) -> String {
    let mut characters = what.chars();
    characters.next().map_or_else(String::new, |first| first.to_uppercase().chain(characters).collect())
}

fn method_link(words: &str, anchor: &str) -> Markup {
    html! { a.method href=(address::method(anchor)) title="How this interval is worked out" { (words) } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_grouped_from_five_digits_on() {
        let shown: Vec<String> = [0, 9999, 10_000, 1_234_567].into_iter().map(count).collect();
        assert_eq!(shown, ["0", "9999", "10\u{202f}000", "1\u{202f}234\u{202f}567"]);
    }

    #[test]
    fn a_share_never_reads_as_nought_or_all_when_it_is_not() {
        let shown: Vec<String> =
            [0.0, 0.0004, 0.0005, 0.034, 0.9994, 0.9996, 1.0, f64::NAN].into_iter().map(percent).collect();
        let expected =
            ["0.0 %", "under 0.1 %", "0.1 %", "3.4 %", "99.9 %", "over 99.9 %", "100.0 %", "not known"];
        assert_eq!(
            shown,
            expected.map(|text| text
                .replace("under 0.1 %", "under\u{a0}0.1\u{a0}%")
                .replace("over 99.9 %", "over\u{a0}99.9\u{a0}%")
                .replace(" %", "\u{a0}%"))
        );
    }
}
