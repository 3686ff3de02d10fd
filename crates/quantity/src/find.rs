//! Quantities in running text, such as what a learner says.

use crate::misheard;
use crate::numbers::{counted_at, is_filler, number_at};
use crate::reckoned;
use crate::stated::{Per, Stated, StatedError, Unit};
use crate::taken_back;
use crate::tokens::{Kind, Token, tokens};
use crate::vocabulary::{self, AT_LEAST_AFTER, AT_LEAST_BEFORE, AT_MOST_AFTER, AT_MOST_BEFORE};

/// A quantity found in running text.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// First byte of its words in the text.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
    /// Least value.
    pub low: Option<f64>,
    /// Greatest value.
    pub high: Option<f64>,
    /// Unit, where one was named: "at least thirty" has none.
    pub unit: Option<Unit>,
    /// What it is counted per, where named.
    pub per: Option<Per>,
    /// What a plain count counts: "bottles".
    pub counted: Option<&'static str>,
    /// How many base units (mL, s) the named unit is: 60 for minutes; 1 where none was named.
    pub factor: f64,
}

impl Found {
    /// The quantity, with a unit to assume where none was named.
    pub fn stated(&self, unit_if_unnamed: Unit) -> Result<Stated, StatedError> {
        let unit = self.unit.unwrap_or(unit_if_unnamed);
        let mut stated = Stated::heard(self.low, self.high, unit, self.per)?;
        stated.what = self.counted.map(str::to_owned);
        Ok(stated)
    }
}

/// Every quantity in a running text, in order. Numbers without a unit are found too; a lone "one", "a" or "half" is
/// not.
///
/// ```
/// let text = "scrub thirty seconds then ten mil in the set";
/// let found = quantity::find(text);
/// assert_eq!(&text[found[0].start..found[0].end], "thirty seconds");
/// assert_eq!(&text[found[1].start..found[1].end], "ten mil in the set");
/// assert_eq!(found[1].per, Some(quantity::Per::Set));
/// ```
pub fn find(text: &str) -> Vec<Found> {
    in_tokens(&tokens(text))
}

/// As [`find`], for words a recogniser wrote: "ate mils" is 8 mL and "thirty sacks" 30 s. A word is taken for a misheard
/// number only directly before a unit, and for a misheard unit only directly after a number.
///
/// ```
/// let found = quantity::find_spoken("ate mils then thirty sacks");
/// assert_eq!((found[0].low, found[0].unit), (Some(8.0), Some(quantity::Unit::Millilitre)));
/// assert_eq!((found[1].low, found[1].unit), (Some(30.0), Some(quantity::Unit::Second)));
/// ```
///
/// A number taken back in the same breath is left out: "twenty no thirty seconds" is 30 s.
///
/// ```
/// let found = quantity::find_spoken("five mils no sorry ten");
/// assert_eq!((found.len(), found[0].low), (1, Some(10.0)));
/// assert_eq!(found[0].unit, Some(quantity::Unit::Millilitre));
/// ```
pub fn find_spoken(text: &str) -> Vec<Found> {
    let mut tokens = tokens(text);
    misheard::repair(&mut tokens);
    taken_back::corrected(in_tokens(&tokens), &tokens)
}

fn in_tokens(tokens: &[Token]) -> Vec<Found> {
    let mut found = Vec::new();
    let (mut at, mut free_from) = (0, 0);
    while at < tokens.len() {
        let Some(amount) = amount_at(tokens, at).or_else(|| reckoned::at(tokens, at)) else {
            at += 1;
            continue;
        };
        if amount.unit.is_none() && (is_filler(tokens, at) || amount.next == at) {
            at += 1;
            continue;
        }
        let before = before(tokens, free_from, at);
        let (low, high) = amount.ends(before.limit);
        let per = amount.per.or_else(|| per_before(tokens, free_from, before.start));
        let end = tokens[amount.next - 1].end;
        let Amount { unit, counted, factor, .. } = amount;
        found.push(Found { start: tokens[before.start].start, end, low, high, unit, per, counted, factor });
        at = amount.next;
        free_from = at;
    }
    found
}

/// Which end a limit leaves open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Limit {
    AtLeast,
    AtMost,
}

/// A number or range with what stands behind it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Amount {
    pub(crate) first: f64,
    /// Second number of a range.
    pub(crate) second: Option<f64>,
    pub(crate) unit: Option<Unit>,
    pub(crate) counted: Option<&'static str>,
    /// How many base units its unit is.
    pub(crate) factor: f64,
    /// Word after "of": "blood".
    pub(crate) of: Option<String>,
    pub(crate) per: Option<Per>,
    pub(crate) limit_after: Option<Limit>,
    /// Units of the two ends of a range differ in kind.
    pub(crate) mixed_units: bool,
    /// Token after the amount.
    pub(crate) next: usize,
}

impl Amount {
    /// Least and greatest value; a range has both ends whatever else was said.
    pub(crate) fn ends(&self, before: Option<Limit>) -> (Option<f64>, Option<f64>) {
        match (self.second, before.or(self.limit_after)) {
            (Some(second), _) => (Some(self.first), Some(second)),
            (None, Some(Limit::AtLeast)) => (Some(self.first), None),
            (None, Some(Limit::AtMost)) => (None, Some(self.first)),
            (None, None) => (Some(self.first), Some(self.first)),
        }
    }
}

/// The amount whose number starts at token `at`.
pub(crate) fn amount_at(tokens: &[Token], at: usize) -> Option<Amount> {
    let (mut first, next) = number_at(tokens, at)?;
    let (first_unit, mut next) = unit_at(tokens, next);
    let mut unit = first_unit;
    let (mut second, mut mixed_units, mut counted) = (None, false, None);
    if let Some((other, after)) = range_end(tokens, at, next) {
        let (second_unit, after) = unit_at(tokens, after);
        let factor_of = |unit: Option<(Unit, f64)>| unit.map_or(1.0, |(_, factor)| factor);
        unit = second_unit.or(first_unit);
        mixed_units = matches!((first_unit, second_unit), (Some((one, _)), Some((two, _))) if one != two);
        first *= factor_of(first_unit.or(second_unit));
        second = Some(other * factor_of(second_unit.or(first_unit)));
        next = after;
    } else if let Some((kind, factor)) = first_unit {
        first *= factor;
        // "1 min 30 s" is one time.
        let and = tokens.get(next).and_then(Token::word) == Some("and");
        if tokens.get(next).is_some_and(|token| !token.starts_line)
            && let Some((more, after)) = number_at(tokens, if and { next + 1 } else { next })
            && let (Some((more_kind, more_factor)), after) = unit_at(tokens, after)
            && (more_kind, kind) == (Unit::Second, Unit::Second)
            && more_factor < factor
        {
            first += more * more_factor;
            next = after;
        }
    }
    if unit.is_none()
        && let Some((noun, after)) = counted_at(tokens, next)
    {
        unit = Some((Unit::Count, 1.0));
        counted = Some(noun);
        next = after;
    }
    let mut amount = Amount {
        first,
        second,
        unit: unit.map(|(unit, _)| unit),
        counted,
        factor: unit.map_or(1.0, |(_, factor)| factor),
        of: None,
        per: None,
        limit_after: None,
        mixed_units,
        next,
    };
    amount.read_what_follows(tokens);
    Some(amount)
}

impl Amount {
    fn read_what_follows(&mut self, tokens: &[Token]) {
        let word = |index: usize| tokens.get(index).and_then(Token::word);
        if self.unit.is_some()
            && word(self.next) == Some("of")
            && let Some(of) = word(self.next + 1)
            && !matches!(of, "each" | "every" | "the" | "a" | "it")
        {
            self.of = Some(of.to_owned());
            self.next += 2;
        }
        // "Sixteen to twenty goes in each bottle".
        if matches!(word(self.next), Some("goes" | "go"))
            && let Some((per, next)) = per_at(tokens, self.next + 1)
        {
            (self.per, self.next) = (Some(per), next);
        }
        // Limits and "per" come in either order: "30 s or more per bottle", "10 mL per bottle at most".
        for _ in 0..2 {
            if let Some((per, next)) = self.per.is_none().then(|| per_at(tokens, self.next)).flatten()
                && !leads_on(tokens, self.next, next)
            {
                self.per = Some(per);
                self.next = next;
            }
            if self.limit_after.is_none()
                && let Some((limit, next)) = limit_at(tokens, self.next)
            {
                self.limit_after = Some(limit);
                self.next = next;
            }
        }
    }
}

/// The unit at token `at`; without one, nothing and the same token.
fn unit_at(tokens: &[Token], at: usize) -> (Option<(Unit, f64)>, usize) {
    let Some(word) = tokens.get(at).and_then(Token::word) else { return (None, at) };
    let after = tokens.get(at + 1).and_then(Token::word);
    // "two second sets": counted things win over a time directly before them.
    if word == "second" && after.is_some_and(|after| vocabulary::counted(after).is_some()) {
        return (None, at);
    }
    match vocabulary::unit(word) {
        Some(unit) => (Some(unit), at + 1),
        None => (None, at),
    }
}

/// The second number of a range whose dash or "to" stands at token `at`.
fn range_end(tokens: &[Token], number_starts: usize, at: usize) -> Option<(f64, usize)> {
    let between = number_starts > 0 && tokens[number_starts - 1].word() == Some("between");
    let joins = match &tokens.get(at)?.kind {
        Kind::Sign('-') => true,
        Kind::Word(word) => matches!(word.as_str(), "to" | "till" | "through") || (between && word == "and"),
        _ => false,
    };
    let (end, next) = joins.then(|| number_at(tokens, at + 1)).flatten()?;
    // "Two hundred to two fifty".
    let is_hundreds = number_at(tokens, number_starts).is_some_and(|(first, _)| first >= 100.0) && end < 10.0;
    match number_at(tokens, next).filter(|(more, _)| is_hundreds && (10.0..100.0).contains(more)) {
        Some((more, next)) => Some((end * 100.0 + more, next)),
        None => Some((end, next)),
    }
}

/// "per bottle", "in each adult bottle", "/kg", "a day", "daily" at token `at`.
fn per_at(tokens: &[Token], at: usize) -> Option<(Per, usize)> {
    let word = |index: usize| tokens.get(index).and_then(Token::word);
    if tokens.get(at).is_some_and(|token| token.is_sign('/')) {
        return Some((vocabulary::per(word(at + 1)?)?, at + 2));
    }
    let noun_at = match (word(at)?, word(at + 1)) {
        ("daily", _) => return Some((Per::Day, at + 1)),
        ("in" | "into" | "for" | "to" | "of" | "from", Some("each" | "every" | "the" | "a" | "one")) => {
            at + 2
        }
        ("per" | "each" | "every" | "in", _) => at + 1,
        ("a" | "an", Some(noun)) => return Some((vocabulary::per(noun)?, at + 2)),
        _ => return None,
    };
    // "per 24 hours" and "in 24 h" are a day.
    if tokens.get(noun_at).is_some_and(|token| token.kind == Kind::Number(24.0))
        && word(noun_at + 1).and_then(vocabulary::unit) == Some((Unit::Second, 3600.0))
    {
        return Some((Per::Day, noun_at + 2));
    }
    if noun_at == at + 1 && word(at) == Some("in") {
        return None;
    }
    for index in noun_at..noun_at + 3 {
        let noun = word(index)?;
        // "culture" in "each culture bottle" describes; "bottle" ends the phrase.
        if let Some(per) = vocabulary::per(noun)
            && !(noun == "patient" && word(index + 1).and_then(vocabulary::per).is_some())
        {
            return Some((per, index + 1));
        }
        if !vocabulary::describes(noun) && noun != "second" {
            return None;
        }
    }
    None
}

/// True for "each bottle" that begins a new line and stands before another number: "twenty mils", "each bottle eight to ten".
fn leads_on(tokens: &[Token], at: usize, next: usize) -> bool {
    let begins = tokens[at].starts_line && matches!(tokens[at].word(), Some("each" | "every"));
    let gets =
        tokens.get(next).and_then(Token::word).is_some_and(|word| matches!(word, "gets" | "has" | "with"));
    begins && (gets || number_at(tokens, next).is_some())
}

/// "each bottle gets", "per bottle" in the few words before an amount.
fn per_before(tokens: &[Token], from: usize, amount_starts: usize) -> Option<Per> {
    let from = from.max(amount_starts.saturating_sub(6));
    (from..amount_starts).rev().find_map(|at| {
        let determiner = tokens[at].word()?;
        let (per, next) =
            matches!(determiner, "per" | "each" | "every").then(|| per_at(tokens, at)).flatten()?;
        let stopped = tokens[next.min(amount_starts)..amount_starts]
            .iter()
            .any(|token| token.is_stop() && !token.is_sign(':') && !token.is_sign(','));
        (next <= amount_starts && !stopped).then_some(per)
    })
}

fn limit_at(tokens: &[Token], at: usize) -> Option<(Limit, usize)> {
    let tables = [(AT_LEAST_AFTER, Limit::AtLeast), (AT_MOST_AFTER, Limit::AtMost)];
    tables.into_iter().find_map(|(table, limit)| {
        let phrase = table.iter().find(|phrase| phrase_at(tokens, at, phrase))?;
        // "ten mil at least thirty seconds": the words belong to the number after them.
        let next = at + phrase.len();
        let is_next_line = tokens.get(next).is_some_and(|token| token.starts_line);
        let own_line = tokens[at].starts_line;
        ((is_next_line && !own_line) || number_at(tokens, next).is_none()).then_some((limit, next))
    })
}

fn phrase_at(tokens: &[Token], at: usize, phrase: &[&str]) -> bool {
    tokens.len() >= at + phrase.len()
        && phrase.iter().zip(&tokens[at..]).all(|(word, token)| token.spelling() == *word)
}

/// What stands directly before a number.
pub(crate) struct Before {
    pub(crate) limit: Option<Limit>,
    /// A word such as "about" that gives no limit.
    pub(crate) vague: Option<String>,
    /// First token of the limit's words, or the number itself.
    pub(crate) start: usize,
}

/// Reads back from the number at token `at`, not beyond token `from`: limits, "between", "about".
pub(crate) fn before(tokens: &[Token], from: usize, at: usize) -> Before {
    let mut start = at;
    // "... at most", "six passes": a limit stays on its line.
    let from = (from..=at).rev().find(|index| tokens[*index].starts_line).unwrap_or(from);
    let word = |index: usize| tokens[index].spelling();
    if start > from && matches!(word(start - 1).as_str(), "between" | "from") {
        start -= 1;
    }
    let mut vague = None;
    if start > from && vocabulary::VAGUE.contains(&word(start - 1).as_str()) {
        start -= 1;
        vague = Some(word(start));
    }
    let tables = [(AT_LEAST_BEFORE, Limit::AtLeast), (AT_MOST_BEFORE, Limit::AtMost)];
    let longest = tables
        .into_iter()
        .flat_map(|(table, limit)| table.iter().map(move |phrase| (phrase, limit)))
        .filter(|(phrase, _)| {
            start
                .checked_sub(phrase.len())
                .is_some_and(|begin| begin >= from && phrase_at(tokens, begin, phrase))
        })
        .max_by_key(|(phrase, _)| phrase.len());
    let Some((phrase, limit)) = longest else { return Before { limit: None, vague, start } };
    start -= phrase.len();
    // "never hold it back longer than 45 min": the negation a few words earlier turns the limit round.
    let is_comparison = matches!(phrase, [.., "than"] | ["over" | "above" | "under" | "below"]);
    let own_negation = phrase.first().is_some_and(|word| is_negation(word));
    let negated_before = tokens[from.max(start.saturating_sub(7))..start]
        .iter()
        .rev()
        .take_while(|token| !token.is_stop())
        .any(|token| token.word().is_some_and(is_negation));
    let turned = is_comparison && !own_negation && negated_before;
    let limit = match limit {
        Limit::AtLeast if turned => Limit::AtMost,
        Limit::AtMost if turned => Limit::AtLeast,
        limit => limit,
    };
    Before { limit: Some(limit), vague, start }
}

fn is_negation(word: &str) -> bool {
    let plain = ["not", "never", "no", "nothing", "cannot", "dont", "wont", "wouldnt", "cant", "shouldnt"];
    plain.contains(&word) || word.ends_with("n't") || word.ends_with("n’t")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found quantities written out: words, then the canonical amount or the bare numbers.
    #[track_caller]
    fn check(text: &str, expected: &[(&str, &str)]) {
        let found: Vec<(&str, String)> = find(text)
            .into_iter()
            .map(|one| {
                let amount = match one.unit {
                    Some(unit) => one.stated(unit).unwrap().amount(),
                    None => format!("{:?} {:?}", one.low, one.high),
                };
                (&text[one.start..one.end], amount)
            })
            .collect();
        let found: Vec<(&str, &str)> =
            found.iter().map(|(words, amount)| (*words, amount.as_str())).collect();
        assert_eq!(found, expected, "{text}");
    }

    #[test]
    fn a_new_line_is_a_new_number() {
        let spoken = |text: &str| -> Vec<(Option<f64>, Option<f64>, Option<Per>)> {
            find_spoken(text).iter().map(|one| (one.low, one.high, one.per)).collect()
        };
        assert_eq!(
            spoken("dry for twenty\nfive passes"),
            [(Some(20.0), Some(20.0), None), (Some(5.0), Some(5.0), None)]
        );
        assert_eq!(
            spoken("twenty at the most\nthree centimetres back"),
            [(None, Some(20.0), None), (Some(3.0), Some(3.0), None)]
        );
        assert_eq!(
            spoken("sixteen to twenty mils\neach bottle eight to ten"),
            [(Some(16.0), Some(20.0), None), (Some(8.0), Some(10.0), Some(Per::Bottle))]
        );
        assert_eq!(spoken("on the way out at most\nsix passes"), [(Some(6.0), Some(6.0), None)]);
        // A sentence may be cut before its unit.
        assert_eq!(find_spoken("let it dry for thirty\nseconds")[0].unit, Some(Unit::Second));
    }

    #[test]
    fn quantities_in_speech() {
        check("ten mil in the set", &[("ten mil in the set", "10 mL per set")]);
        check("scrub thirty seconds with chlorhexidine", &[("thirty seconds", "30 s")]);
        check("let it dry at least thirty", &[("at least thirty", "Some(30.0) None")]);
        check("each bottle gets eight to ten mils", &[("eight to ten mils", "8 to 10 mL per bottle")]);
        check("8-10 mL in each adult bottle", &[("8-10 mL in each adult bottle", "8 to 10 mL per bottle")]);
        check(
            "half a minute of friction and two sets",
            &[("half a minute of friction", "30 s"), ("two sets", "2 sets")],
        );
        check("one minute and thirty seconds", &[("one minute and thirty seconds", "90 s")]);
        check("never more than one minute", &[("never more than one minute", "at most 1 min")]);
        check("never hold it back longer than 45 minutes", &[("longer than 45 minutes", "at most 45 min")]);
        check("do not let it dry less than 30 s", &[("less than 30 s", "at least 30 s")]);
        check("wait five minutes or more", &[("five minutes or more", "at least 5 min")]);
        check("the second bottle then this one", &[]);
        check("from two separate sites", &[("from two separate sites", "2 sites")]);
        check(
            "30 s or more, then 10 mL at most",
            &[("30 s or more", "at least 30 s"), ("10 mL at most", "at most 10 mL")],
        );
        check(
            "ten mil at least thirty seconds",
            &[("ten mil", "10 mL"), ("at least thirty seconds", "at least 30 s")],
        );
        check("3 mL/kg per day", &[("3 mL/kg", "3 mL per kg")]);
        check("after the third attempt", &[("third attempt", "3 attempts")]);
        check("after the third bottle", &[]);
        check("the first mil or two", &[("mil or two", "1 to 2 mL")]);
        check("run in the past week", &[("past week", "168 h")]);
        check("two hundred to two fifty", &[("two hundred to two fifty", "Some(200.0) Some(250.0)")]);
        check(
            "sixteen to twenty mils goes in each bottle",
            &[("sixteen to twenty mils goes in each bottle", "16 to 20 mL per bottle")],
        );
        check("40 mL in 24 hours", &[("40 mL in 24 hours", "40 mL per day")]);
    }
}
