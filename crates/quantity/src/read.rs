//! A quantity read from a line that states nothing else.

use crate::find::{Amount, amount_at, before};
use crate::stated::{Per, Stated, StatedError, Unit};
use crate::tokens::{Kind, Token, tokens};
use crate::vocabulary;

/// Why a text is not a quantity, with what was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// No number in digits or words.
    #[error("no number in \"{text}\"")]
    NoNumber {
        /// The text.
        text: String,
    },
    /// A number with nothing after it that says what it counts.
    #[error("{number} has no unit")]
    NoUnit {
        /// The number.
        number: f64,
    },
    /// A number followed by a word that is not a unit known here.
    #[error("{number} is followed by \"{word}\", which is not a unit known here")]
    UnknownUnit {
        /// The number.
        number: f64,
        /// The word that follows it.
        word: String,
        /// A known word spelt almost the same.
        nearest: Option<&'static str>,
    },
    /// "about", "roughly": nobody can be held to it.
    #[error("\"{word}\" gives no limit")]
    Vague {
        /// The word.
        word: String,
    },
    /// The two ends of a range have units of different kinds.
    #[error("the two ends of the range have different kinds of unit")]
    MixedUnits,
    /// "at least 8 to 10": a range already has both ends.
    #[error("\"{words}\" is a limit and a range at once")]
    LimitAndRange {
        /// The words.
        words: String,
    },
    /// Words after the quantity that were not understood.
    #[error("\"{words}\" after the quantity was not understood")]
    Leftover {
        /// The words.
        words: String,
    },
    /// The numbers do not make a quantity.
    #[error(transparent)]
    Numbers(#[from] StatedError),
}

impl Stated {
    /// Reads a text that states one quantity: what it is of, a limit, a number or range, a unit, and per what.
    ///
    /// ```
    /// use quantity::{Per, Stated, Unit};
    /// let fill = Stated::read("fill 8–10 mL in each bottle")?;
    /// assert_eq!((fill.low, fill.high, fill.unit), (Some(8.0), Some(10.0), Unit::Millilitre));
    /// assert_eq!((fill.what.as_deref(), fill.per), (Some("fill"), Some(Per::Bottle)));
    /// assert_eq!(fill.to_string(), "fill 8 to 10 mL per bottle");
    /// assert_eq!(Stated::read("half a minute")?.to_string(), "30 s");
    /// assert_eq!(Stated::read("fill 8 to 10").unwrap_err().to_string(), "8 has no unit");
    /// # Ok::<(), quantity::ReadError>(())
    /// ```
    pub fn read(text: &str) -> Result<Stated, ReadError> {
        let mut tokens = tokens(text);
        while tokens.last().is_some_and(Token::is_stop) {
            tokens.pop();
        }
        let (number_at, amount) = first_amount(&tokens, text)?;
        let before = before(&tokens, 0, number_at);
        let words = |from: usize, to: usize| match (tokens.get(from), tokens[..to].last()) {
            (Some(first), Some(last)) if from < to => text[first.start..last.end].to_owned(),
            _ => String::new(),
        };
        if let Some(word) = before.vague {
            return Err(ReadError::Vague { word });
        }
        if amount.mixed_units {
            return Err(ReadError::MixedUnits);
        }
        if amount.second.is_some() && (before.limit.is_some() || amount.limit_after.is_some()) {
            return Err(ReadError::LimitAndRange { words: words(before.start, amount.next) });
        }
        if amount.next < tokens.len() {
            return Err(ReadError::Leftover { words: words(amount.next, tokens.len()) });
        }
        let negative = number_at > 0
            && tokens[number_at - 1].is_sign('-')
            && tokens[number_at - 1].end == tokens[number_at].start;
        let (mut low, high) = amount.ends(before.limit);
        if negative {
            low = low.map(|value| -value);
        }
        let (what, per_in_front) = what_before(&tokens[..before.start], &amount);
        let unit = amount.unit.unwrap_or(Unit::Count);
        let mut stated = Stated::new(low, high, unit, amount.per.or(per_in_front))?;
        stated.what = what;
        stated.words = text.trim().to_owned();
        Ok(stated)
    }
}

/// The number with a unit after which nothing is left, or the first that has a unit, or why there is none. What
/// stands in front may hold a number in words ("between the two sets at most 15 min"), never one in digits.
fn first_amount(tokens: &[Token], text: &str) -> Result<(usize, Amount), ReadError> {
    let (mut bare, mut first) = (None, None);
    for at in 0..tokens.len() {
        let Some(amount) = amount_at(tokens, at) else { continue };
        if amount.unit.is_none() {
            bare.get_or_insert((at, amount));
            continue;
        }
        let digits_in_front = tokens[..at].iter().any(|token| matches!(token.kind, Kind::Number(_)));
        if amount.next == tokens.len() && !digits_in_front {
            return Ok((at, amount));
        }
        first.get_or_insert((at, amount));
    }
    if let Some(first) = first {
        return Ok(first);
    }
    let Some((at, amount)) = bare else { return Err(ReadError::NoNumber { text: text.trim().to_owned() }) };
    // "attempts at most 2" names what it counts in front.
    let front = &tokens[..before(tokens, 0, at).start];
    let last_word = front.iter().rev().find_map(Token::word);
    if amount.next == tokens.len() && last_word.is_some_and(|word| vocabulary::counted(word).is_some()) {
        return Ok((at, amount));
    }
    let number = amount.first;
    match tokens.get(amount.next) {
        Some(Token { kind: Kind::Word(word), .. }) if vocabulary::per(word).is_none() && word != "per" => {
            let nearest = nearest(word);
            Err(ReadError::UnknownUnit { number, word: word.clone(), nearest })
        }
        Some(token) if token.is_sign('%') => {
            Err(ReadError::UnknownUnit { number, word: "%".to_owned(), nearest: None })
        }
        _ => Err(ReadError::NoUnit { number }),
    }
}

/// What the quantity is of, from the words in front of it, and a "per bottle" found there.
fn what_before(front: &[Token], amount: &Amount) -> (Option<String>, Option<Per>) {
    let mut words: Vec<&str> = front.iter().filter_map(Token::word).collect();
    let mut per = None;
    if let Some(at) = words.iter().position(|word| matches!(*word, "per" | "each" | "every"))
        && let Some(found) = words.get(at + 1).and_then(|noun| vocabulary::per(noun))
    {
        per = Some(found);
        words.drain(at..at + 2);
    }
    while words.last().is_some_and(|word| matches!(*word, "for" | "of" | "is" | "be" | "with" | "in")) {
        words.pop();
    }
    if amount.unit == Some(Unit::Count) {
        words.extend(amount.counted);
    } else if amount.unit.is_none() {
        // The thing counted stands in front; its plural is the canonical form.
        if let Some(last) = words.last_mut()
            && let Some(plural) = vocabulary::counted(last)
        {
            *last = plural;
        }
    } else if words.is_empty() {
        words.extend(amount.of.as_deref());
    }
    ((!words.is_empty()).then(|| words.join(" ")), per)
}

/// A known word at most two letters away.
fn nearest(word: &str) -> Option<&'static str> {
    vocabulary::after_a_number()
        .map(|known| (crate::spelling::distance(word, known), known))
        .filter(|(distance, known)| *distance <= 2 && *distance < known.chars().count() / 2)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_ways_to_say_one_thing() {
        let rows: &[(&str, &str)] = &[
            ("8 to 10 mL per bottle", "8 to 10 mL per bottle"),
            ("8-10 mL", "8 to 10 mL"),
            ("8–10ml/bottle", "8 to 10 mL per bottle"),
            ("between eight and ten millilitres in each bottle", "8 to 10 mL per bottle"),
            ("eight mils to ten mils", "8 to 10 mL"),
            ("at least 30 s", "at least 30 s"),
            ("30 seconds or more", "at least 30 s"),
            ("≥ 30 s", "at least 30 s"),
            ("a minimum of thirty seconds", "at least 30 s"),
            ("half a minute", "30 s"),
            ("ten seconds", "10 s"),
            ("no more than 1 minute", "at most 1 min"),
            ("up to 10 cc", "at most 10 mL"),
            ("one and a half minutes", "90 s"),
            ("1 min 30 s", "90 s"),
            ("within 2 hours", "at most 2 h"),
            ("2,5 mL", "2.5 mL"),
            ("0.5 litres", "500 mL"),
            ("80 mL/kg", "80 mL per kg"),
            ("29 mL a day", "29 mL per day"),
            ("2 identifiers", "2 identifiers"),
            ("1 bottle per set", "1 bottle per set"),
            ("attempts: at most 2", "at most 2 attempts"),
            ("at most two attempts per patient", "at most 2 attempts per patient"),
            ("discard 5 mL", "discard 5 mL"),
            ("Fill, per bottle: 8 to 10 mL", "fill 8 to 10 mL per bottle"),
            ("skin dry: at least 30 s.", "skin dry at least 30 s"),
            ("30 s of friction", "friction 30 s"),
            ("30 s to 2 min", "30 to 120 s"),
            ("between the two sets at most 15 min", "between the two sets at most 15 min"),
        ];
        for (text, expected) in rows {
            match Stated::read(text) {
                Ok(stated) => assert_eq!(stated.to_string(), *expected, "{text}"),
                Err(error) => panic!("{text}: {error}"),
            }
        }
    }

    #[test]
    fn what_is_not_a_quantity_says_why() {
        let rows: &[(&str, &str)] = &[
            ("", "no number in \"\""),
            ("until dry", "no number in \"until dry\""),
            ("8 to 10", "8 has no unit"),
            ("8 to 10 per bottle", "8 has no unit"),
            ("8 millilitrs", "8 is followed by \"millilitrs\", which is not a unit known here"),
            ("70 % alcohol", "70 is followed by \"%\", which is not a unit known here"),
            ("about 10 mL", "\"about\" gives no limit"),
            ("8 mL to 10 s", "the two ends of the range have different kinds of unit"),
            ("at least 8 to 10 mL", "\"at least 8 to 10 mL\" is a limit and a range at once"),
            (
                "10 mL unless told otherwise",
                "\"unless told otherwise\" after the quantity was not understood",
            ),
            ("8 mL 10 s", "\"10 s\" after the quantity was not understood"),
            ("10 to 8 mL", "10 to 8 runs from high to low"),
            ("-5 mL", "volume -5 mL is not within 0 to 100000 mL"),
            ("900000 mL", "volume 900000 mL is not within 0 to 100000 mL"),
        ];
        for (text, expected) in rows {
            assert_eq!(Stated::read(text).unwrap_err().to_string(), *expected, "{text}");
        }
        let error = Stated::read("8 millilitrs").unwrap_err();
        assert!(
            matches!(error, ReadError::UnknownUnit { nearest: Some("millilitre" | "millilitres"), .. }),
            "{error:?}"
        );
    }
}
