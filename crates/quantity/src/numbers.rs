//! Numbers in digits and in words: "8", "2,5", "½", "half a", "twenty-five", "one and a half".

use crate::tokens::{Kind, Token};
use crate::vocabulary;

const SMALL: &[&str] = &[
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: &[&str] = &["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
/// Words before "a day" that make it a time.
const LASTS: &[&str] = &["within", "after", "than", "for", "about", "takes", "almost", "nearly"];
const FRACTION_SIGNS: &[(char, f64)] =
    &[('½', 0.5), ('¼', 0.25), ('¾', 0.75), ('⅓', 1.0 / 3.0), ('⅔', 2.0 / 3.0)];

/// The number that starts at token `at`, and the token after it.
pub(crate) fn number_at(tokens: &[Token], at: usize) -> Option<(f64, usize)> {
    let word = |index: usize| tokens.get(index).and_then(Token::word);
    if let Some(found) = fraction_at(tokens, at) {
        return Some(found);
    }
    let (value, next) = match &tokens.get(at)?.kind {
        Kind::Number(value) => (*value, at + 1),
        Kind::Word(first) if matches!(first.as_str(), "a" | "an") => match word(at + 1) {
            Some("hundred" | "thousand" | "dozen") => whole_in_words(tokens, at + 1)?,
            Some("couple") => return Some((2.0, if word(at + 2) == Some("of") { at + 3 } else { at + 2 })),
            Some("single") => (1.0, at + 2),
            Some("full" | "whole" | "good" | "solid")
                if word(at + 2).is_some_and(|unit| vocabulary::unit(unit).is_some() && unit != "second") =>
            {
                (1.0, at + 2)
            }
            // "a second set" is not a time, and "a day" says per what, but "within a day" is one.
            Some("minute" | "hour" | "week" | "litre" | "liter" | "millilitre" | "milliliter" | "mil") => {
                (1.0, at + 1)
            }
            Some("day") if at > 0 && word(at - 1).is_some_and(|before| LASTS.contains(&before)) => {
                (1.0, at + 1)
            }
            _ => return None,
        },
        // "In the past week".
        Kind::Word(first)
            if matches!(first.as_str(), "past" | "last")
                && at > 0
                && word(at - 1) == Some("the")
                && matches!(word(at + 1), Some("week" | "day" | "hour" | "minute")) =>
        {
            (1.0, at + 1)
        }
        // "A single set", "only a single one"; alone it says nothing.
        Kind::Word(first) if first == "single" && counted_at(tokens, at + 1).is_some() => (1.0, at + 1),
        Kind::Word(_) => whole_in_words(tokens, at)?,
        Kind::Sign(_) => return None,
    };
    if word(next) == Some("point") {
        let digits: String = (next + 1..).map_while(|index| digit_word(word(index)?)).collect();
        if let Ok(fraction) = format!("0.{digits}").parse::<f64>()
            && !digits.is_empty()
        {
            return Some((value + fraction, next + 1 + digits.len()));
        }
    }
    // "1½", "1 1/2"; "fifty half a minute" are two numbers.
    if let Some((fraction, after)) = fraction_at(tokens, next).filter(|_| word(next).is_none()) {
        return Some((value + fraction, after));
    }
    if word(next) == Some("and")
        && let Some((fraction, after)) = fraction_at(tokens, next + 1)
    {
        return Some((value + fraction, after));
    }
    Some((value, next))
}

/// A value below one: a fraction sign, "1/2", "half", "half a", "a half", "a quarter of an".
fn fraction_at(tokens: &[Token], at: usize) -> Option<(f64, usize)> {
    let word = |index: usize| tokens.get(index).and_then(Token::word);
    if let Kind::Sign(sign) = tokens.get(at)?.kind {
        return FRACTION_SIGNS.iter().find(|(known, _)| *known == sign).map(|&(_, value)| (value, at + 1));
    }
    if let [Token { kind: Kind::Number(above), .. }, slash, Token { kind: Kind::Number(below), .. }, ..] =
        &tokens[at..]
        && slash.is_sign('/')
        && above < below
        && [2.0, 3.0, 4.0, 5.0, 8.0].contains(below)
    {
        return Some((above / below, at + 3));
    }
    let (value, next) = match (word(at)?, word(at + 1)) {
        ("half", _) => (0.5, at + 1),
        ("quarter", _) => (0.25, at + 1),
        ("a" | "one", Some("half")) => (0.5, at + 2),
        ("a" | "one", Some("quarter")) => (0.25, at + 2),
        ("three", Some("quarters")) => (0.75, at + 2),
        ("a" | "one", Some("third")) => (1.0 / 3.0, at + 2),
        ("two", Some("thirds")) => (2.0 / 3.0, at + 2),
        _ => return None,
    };
    let next = if word(next) == Some("of") { next + 1 } else { next };
    Some((value, if matches!(word(next), Some("a" | "an")) { next + 1 } else { next }))
}

/// A whole number in words, up to thousands.
fn whole_in_words(tokens: &[Token], at: usize) -> Option<(f64, usize)> {
    let word = |index: usize| tokens.get(index).and_then(Token::word);
    let (mut value, mut next) = match word(at)? {
        "hundred" | "thousand" => (1.0, at),
        "dozen" => return Some((12.0, at + 1)),
        _ => below_hundred(tokens, at)?,
    };
    if word(next) == Some("hundred") {
        value *= 100.0;
        next += 1;
        let after_and = if word(next) == Some("and") { next + 1 } else { next };
        if let Some((more, after)) = below_hundred(tokens, after_and) {
            return Some((value + more, after));
        }
    } else if word(next) == Some("thousand") {
        value *= 1000.0;
        next += 1;
    }
    Some((value, next))
}

fn below_hundred(tokens: &[Token], at: usize) -> Option<(f64, usize)> {
    let word = |index: usize| tokens.get(index).and_then(Token::word);
    let first = word(at)?;
    if let Some(small) = position(SMALL, first) {
        return Some((small, at + 1));
    }
    let tens = position(TENS, first)? * 10.0 + 20.0;
    let dash = tokens.get(at + 1).is_some_and(|token| token.is_sign('-'));
    let ones_at = if dash { at + 2 } else { at + 1 };
    // "Dry twenty", "five passes": what a line begins with is a number of its own.
    let same_line = tokens.get(ones_at).is_some_and(|token| !token.starts_line);
    match word(ones_at).filter(|_| same_line).and_then(|ones| position(&SMALL[1..10], ones)) {
        Some(ones) => Some((tens + ones + 1.0, ones_at + 1)),
        None => Some((tens, at + 1)),
    }
}

fn digit_word(word: &str) -> Option<char> {
    let digit = SMALL[..10].iter().position(|known| *known == word)?;
    char::from_digit(u32::try_from(digit).ok()?, 10)
}

fn position(words: &[&str], word: &str) -> Option<f64> {
    words.iter().zip(0u8..).find(|(known, _)| **known == word).map(|(_, index)| f64::from(index))
}

/// True where a number stands that people also say without meaning a number.
pub(crate) fn is_filler(tokens: &[Token], at: usize) -> bool {
    tokens
        .get(at)
        .and_then(Token::word)
        .is_some_and(|word| matches!(word, "one" | "a" | "an" | "half" | "quarter"))
}

/// The thing counted at token `at`, over up to two words that describe it; and the token after.
pub(crate) fn counted_at(tokens: &[Token], at: usize) -> Option<(&'static str, usize)> {
    for index in at..at + 3 {
        let word = tokens.get(index)?.word()?;
        let is_counted = vocabulary::counted(word).is_some();
        // "Four", "clean hands": only the thing itself may begin a new line.
        if tokens[at..=index].iter().any(|token| token.starts_line) && !(index == at && is_counted) {
            return None;
        }
        // "two second sets" would be odd, but "10 second scrub" is a time.
        if let Some(noun) = vocabulary::counted(word) {
            return Some((noun, index + 1));
        }
        // "At least five one try": a number of its own.
        if !vocabulary::describes(word) || word == "one" {
            return None;
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tokens::tokens;

    #[test]
    fn numbers_as_people_say_them() {
        let rows: &[(&str, f64)] = &[
            ("8", 8.0),
            ("ten", 10.0),
            ("twenty-five", 25.0),
            ("thirty five", 35.0),
            ("thirteen", 13.0),
            ("a hundred", 100.0),
            ("one hundred and twenty", 120.0),
            ("two thousand", 2000.0),
            ("half a minute", 0.5),
            ("a quarter of an hour", 0.25),
            ("two thirds of an hour", 2.0 / 3.0),
            ("fifty half a minute", 50.0),
            ("three quarters of an hour", 0.75),
            ("one and a half", 1.5),
            ("2 and a half", 2.5),
            ("1½", 1.5),
            ("1 1/2", 1.5),
            ("1/2", 0.5),
            ("two point five", 2.5),
            ("zero point zero five", 0.05),
            ("a couple of", 2.0),
            ("a minute", 1.0),
            ("a full minute", 1.0),
        ];
        for (text, expected) in rows {
            let found = number_at(&tokens(text), 0).map(|(value, _)| value);
            assert_eq!(found, Some(*expected), "{text}");
        }
        for text in ["a second set", "the", "and", "-", "point five"] {
            assert_eq!(number_at(&tokens(text), 0), None, "{text}");
        }
    }
}
