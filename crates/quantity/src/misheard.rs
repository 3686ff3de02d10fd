//! Numbers and units a recogniser wrote as other words.
//!
//! The lists are common English near homophones (common practice, no source). Adding a word here is all it takes.

use crate::numbers::number_at;
use crate::spelling;
use crate::tokens::{Kind, Token};
use crate::vocabulary;

/// Number words by what they are misheard as.
const NUMBERS: &[(&str, &str)] = &[
    ("ate", "eight"),
    ("aid", "eight"),
    ("hate", "eight"),
    ("too", "two"),
    ("to", "two"),
    ("for", "four"),
    ("fore", "four"),
    ("won", "one"),
    ("tin", "ten"),
    ("tenth", "ten"),
    ("then", "ten"),
    ("tan", "ten"),
    ("den", "ten"),
    ("tree", "three"),
    ("free", "three"),
    ("fife", "five"),
    ("hive", "five"),
    ("sicks", "six"),
    ("dirty", "thirty"),
    ("thirsty", "thirty"),
    ("thurty", "thirty"),
    ("plenty", "twenty"),
    ("fourty", "forty"),
    ("fiften", "fifteen"),
    ("sixten", "sixteen"),
];

/// Units by what they are misheard as.
const UNITS: &[(&str, &str)] = &[
    ("sacks", "seconds"),
    ("sack", "seconds"),
    ("sax", "seconds"),
    ("secants", "seconds"),
    ("seconds'", "seconds"),
    ("second's", "seconds"),
    ("seasons", "seconds"),
    ("sekonds", "seconds"),
    ("miles", "mils"),
    ("meals", "mils"),
    ("meal", "mils"),
    ("mails", "mils"),
    ("males", "mils"),
    ("mels", "mils"),
    ("mulls", "mils"),
    ("milk", "mils"),
    ("meels", "mils"),
    ("minuet", "minute"),
    ("minuets", "minutes"),
    ("minutes'", "minutes"),
    ("ours", "hours"),
    ("our", "hour"),
    ("battles", "bottles"),
];

/// Units long enough to be known by their spelling.
const LONG_UNITS: &[&str] = &["seconds", "minutes", "millilitres", "milliliters"];

/// Puts the number or the unit in the place of the word that was written for it.
pub(crate) fn repair(tokens: &mut [Token]) {
    let is_unit = |word: &str| vocabulary::unit(word).is_some() && word.len() > 1;
    for at in 0..tokens.len() {
        let Some(word) = tokens[at].word() else { continue };
        let number = listed(NUMBERS, word);
        let after_number =
            at > 0 && tokens[at - 1].word() != Some("one") && number_at(tokens, at - 1).is_some();
        if number.is_none() && !after_number {
            continue;
        }
        let word = word.to_owned();
        let next = tokens.get(at + 1).and_then(Token::word).unwrap_or("");
        let unit_follows = is_unit(next) || listed(UNITS, next).is_some();
        let range = matches!(word.as_str(), "to" | "for") && at > 0 && number_at(tokens, at - 1).is_some();
        if unit_follows
            && !range
            && let Some(number) = number
        {
            tokens[at].kind = Kind::Word(number.to_owned());
            continue;
        }
        // "ate to ten mils": the first end of a range.
        let ends_range = next == "to"
            && number_at(tokens, at + 2)
                .and_then(|(_, after)| tokens.get(after).and_then(Token::word))
                .is_some_and(|word| is_unit(word) || listed(UNITS, word).is_some());
        if ends_range
            && !matches!(word.as_str(), "to" | "for" | "then")
            && let Some(number) = number
        {
            tokens[at].kind = Kind::Word(number.to_owned());
            continue;
        }
        if after_number
            && vocabulary::unit(&word).is_none()
            && vocabulary::counted(&word).is_none()
            && let Some(unit) = listed(UNITS, &word).or_else(|| by_spelling(&word))
        {
            tokens[at].kind = Kind::Word(unit.to_owned());
        }
    }
}

fn listed(table: &[(&'static str, &'static str)], word: &str) -> Option<&'static str> {
    table.iter().find(|(heard, _)| *heard == word).map(|&(_, meant)| meant)
}

fn by_spelling(word: &str) -> Option<&'static str> {
    let letters = word.chars().count();
    let near = |unit: &&str| letters.abs_diff(unit.len()) <= 2 && spelling::distance(word, unit) <= 2;
    (word.len() >= 5).then(|| LONG_UNITS.iter().copied().find(near)).flatten()
}

#[cfg(test)]
mod tests {
    use crate::{Unit, find_spoken};

    #[test]
    fn misheard_numbers_and_units() {
        for (text, low, unit) in [
            ("ate mils", 8.0, Unit::Millilitre),
            ("rub for dirty seconds", 30.0, Unit::Second),
            ("thirty sacks", 30.0, Unit::Second),
            ("ten meals each", 10.0, Unit::Millilitre),
            ("fifteen secunds", 15.0, Unit::Second),
            ("press for five minuets", 300.0, Unit::Second),
            ("too ours", 7200.0, Unit::Second),
        ] {
            let found = find_spoken(text);
            assert_eq!((found[0].low, found[0].unit), (Some(low), Some(unit)), "{text}");
        }
        let range = find_spoken("ate to ten mils in each bottle");
        assert_eq!((range[0].low, range[0].high), (Some(8.0), Some(10.0)));
    }

    #[test]
    fn other_talk_stays_as_it_is() {
        for text in
            ["then wash for the patient", "two sacks of rice are not a time but one sack", "we ate there"]
        {
            let times = find_spoken(text).into_iter().filter(|found| found.low == Some(8.0)).count();
            assert_eq!(times, 0, "{text}");
        }
        assert_eq!(find_spoken("for the skin then dry"), []);
    }
}
