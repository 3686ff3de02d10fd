//! Amounts that no number stands at the head of: "after the third attempt", "the first mil or two".

use crate::find::Amount;
use crate::stated::Unit;
use crate::tokens::Token;
use crate::vocabulary;

/// The amount at token `at`, where its words make one without a number in front.
pub(crate) fn at(tokens: &[Token], at: usize) -> Option<Amount> {
    after_the(tokens, at).or_else(|| or_two(tokens, at))
}

/// "After the third attempt": three of them.
fn after_the(tokens: &[Token], at: usize) -> Option<Amount> {
    const ORDINALS: &[&str] =
        &["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"];
    let word = |index: usize| tokens.get(index).and_then(Token::word);
    if at < 2 || word(at - 2) != Some("after") || !matches!(word(at - 1), Some("the" | "a" | "my")) {
        return None;
    }
    let number = (1u8..).zip(ORDINALS).find(|(_, ordinal)| Some(**ordinal) == word(at))?.0;
    let counted = word(at + 1)
        .and_then(vocabulary::counted)
        .filter(|noun| matches!(*noun, "attempts" | "tries" | "passes" | "turns"))?;
    Some(Amount {
        first: f64::from(number),
        second: None,
        unit: Some(Unit::Count),
        counted: Some(counted),
        factor: 1.0,
        of: None,
        per: None,
        limit_after: None,
        mixed_units: false,
        next: at + 2,
    })
}

/// "The first mil or two": one to two of them.
fn or_two(tokens: &[Token], at: usize) -> Option<Amount> {
    let word = |index: usize| tokens.get(index).and_then(Token::word);
    let (unit, factor) = vocabulary::unit(word(at)?)
        .filter(|_| matches!(word(at - at.min(1)), Some("first" | "the" | "a")))?;
    (word(at + 1) == Some("or") && word(at + 2) == Some("two")).then_some(Amount {
        first: factor,
        second: Some(2.0 * factor),
        unit: Some(unit),
        counted: None,
        factor,
        of: None,
        per: None,
        limit_after: None,
        mixed_units: false,
        next: at + 3,
    })
}
