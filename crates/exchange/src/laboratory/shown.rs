//! What of a cell may stand in a message.
//!
//! A slip in a mapping may point at the column of names or of hospital numbers. A message then must not print them: a
//! cell is quoted only where it looks like what the column should hold, and else described.

use super::account::quoted;

/// Letters that stand in dates besides the names of months.
const WORDS_OF_TIME: [&str; 22] = [
    "am", "pm", "a", "p", "m", "z", "t", "utc", "gmt", "h", "st", "nd", "rd", "th", "mon", "tue", "wed",
    "thu", "fri", "sat", "sun", "uhr",
];
const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/// A cell of a column of times: quoted where it is made of numbers and words of time, else described.
pub(super) fn time(text: &str) -> String {
    let groups = text.split(|c: char| !c.is_ascii_digit()).filter(|group| !group.is_empty());
    let of_time = |word: &str| {
        let word = word.to_lowercase();
        WORDS_OF_TIME.contains(&word.as_str()) || MONTHS.iter().any(|month| word.starts_with(month))
    };
    let only_time = text.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty()).all(of_time);
    // One long number may be a number of a patient; a date has parts.
    let in_parts = groups.clone().count() >= 2 || groups.clone().all(|group| group.len() <= 4);
    let any_number = groups.clone().next().is_some();
    if any_number && only_time && in_parts && text.chars().count() <= 40 {
        quoted(text)
    } else {
        described(text)
    }
}

/// A cell of a column of words: quoted where it is short and holds no long number, else described.
pub(super) fn word(text: &str) -> String {
    let n_digits = text.chars().filter(char::is_ascii_digit).count();
    if n_digits <= 4 && text.chars().count() <= 40 { quoted(text) } else { described(text) }
}

fn described(text: &str) -> String {
    let length = text.chars().count();
    let what = if text.chars().all(|c| c.is_ascii_digit()) { "digits" } else { "characters" };
    format!("{length} {what}, not shown: they may name somebody")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_words_are_shown_and_what_may_name_somebody_is_not() {
        for text in [
            "02/03/2026",
            "5 March",
            "2026-02-30 08:00",
            "30.02.26",
            "Tue 3 Feb 2026 8:00 PM",
            "25:61",
            "2026-03-02T08:00Z",
        ] {
            assert_eq!(time(text), format!("{text:?}"));
        }
        for text in ["Jane Invented", "LF2101417", "210141733", "20260313", "Ward 3, Mr Invented", "unknown"]
        {
            let shown = time(text);
            assert!(shown.contains("not shown") && !shown.contains(text), "{shown}");
        }
        assert_eq!(word("L AC"), "\"L AC\"");
        assert!(word("LF2101417").contains("not shown"));
        assert!(word(&"a remark about the patient ".repeat(3)).contains("not shown"));
    }
}
