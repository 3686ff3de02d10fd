//! The words of one line that carry meaning, and what the little ones between them do to them: "not", "until", "is out".

use std::collections::HashMap;

use breakdown::content_words;

use super::lexicon::Likeness;
use super::profile::Profile;
use super::speakers;

/// What was worked out for words heard before.
#[derive(Default)]
pub(super) struct Memory {
    like: HashMap<String, Vec<Likeness>>,
    /// The stem of each word; none for one that carries no meaning.
    stems: HashMap<String, Option<String>>,
}

impl Memory {
    fn stem(&mut self, word: &str) -> Option<String> {
        if let Some(known) = self.stems.get(word) {
            return known.clone();
        }
        let stem = content_words(word).pop();
        self.stems.insert(word.to_owned(), stem.clone());
        stem
    }
}

pub(super) enum Role {
    Content,
    Not,
    Because,
    Yes,
    /// "and", "but", "then": what was negated ends.
    And,
    /// "until" behind a "not": what is not to be done yet is no opposite.
    Until,
    /// "is out", "are wrong": what stands before it is not to be done.
    IsOut,
}

pub(super) struct Stem {
    pub(super) role: Role,
    pub(super) stem: String,
    pub(super) like: Vec<Likeness>,
    pub(super) start: usize,
    pub(super) end: usize,
}

/// True before "touched" in "nothing touched": the "not" is about the words behind it.
fn done_to_nothing(rest: &str) -> bool {
    rest.split_whitespace().take(2).any(|word| word.ends_with("ed"))
}

/// What stands for "until" and for "is out" among the stems of a line; no word has such a stem.
const UNTIL: &str = "<until>";
const IS_OUT: &str = "<is out>";

/// True where what follows "is" says that the word before is not to be done, or tells a reason: "fanning is out", "pushing is how
/// people stick themselves".
fn puts_out(rest: &str) -> bool {
    const LONGEST_BEHIND: usize = 12;
    const BEHIND: &[&str] =
        &["out", "wrong", "not", "no good", "forbidden", "how", "when", "off limits", "never", "away"];
    let rest: String = rest.trim_start().chars().take(LONGEST_BEHIND).collect::<String>().to_lowercase();
    let ends = |rest: &str| !rest.starts_with(char::is_alphanumeric);
    BEHIND.iter().any(|behind| rest.strip_prefix(behind).is_some_and(ends))
}

/// True behind "keep my fingers": a verb of keeping a few words before.
fn is_kept(before: &str) -> bool {
    before.split_whitespace().rev().skip(1).take(2).any(|word| matches!(word, "keep" | "keeps" | "stay"))
}

/// True behind "somebody", "what" and their kind: their "else" gives no reason.
fn is_somebody(before: &str) -> bool {
    let last = before.split_whitespace().next_back().unwrap_or("");
    ["one", "body", "thing", "what", "who", "where"].iter().any(|end| last.ends_with(end))
}

/// True behind a verb that only leads to the next: "go back and", "try and".
fn is_light(before: &str) -> bool {
    const LEADS: &[&str] = &["go", "back", "come", "try", "around", "again"];
    let mut words = before.split_whitespace().rev();
    let last = words.next().unwrap_or("");
    let verb = words.next().unwrap_or("");
    LEADS.contains(&last) && (matches!(last, "go" | "come" | "try") || matches!(verb, "go" | "come" | "turn"))
}

/// True for a "no" that answers or takes back and denies nothing: "ah no", "no wait", "no i have to".
fn is_exclaimed(before: &str, rest: &str) -> bool {
    const CRIES: &[&str] = &["ah", "oh", "um", "uh", "er", "wait", "well"];
    const BEHIND: &[&str] = &["i", "we", "you", "wait", "sorry", "that's", "it's", "actually", "hang"];
    let before = before.split_whitespace().next_back().unwrap_or("").trim_matches(',');
    let behind = rest.split_whitespace().next().unwrap_or("");
    CRIES.iter().any(|cry| before.eq_ignore_ascii_case(cry))
        || BEHIND.iter().any(|word| behind.eq_ignore_ascii_case(word))
}

fn is_without(text: &str, from: usize) -> bool {
    let word = text.get(from..).and_then(|rest| rest.split(|letter: char| !letter.is_alphanumeric()).next());
    word.is_some_and(|word| word.eq_ignore_ascii_case("without"))
}

/// The words of a line with their places, the unit's own synonyms put together.
pub(super) fn stems(text: &str, profile: &Profile, memory: &mut Memory) -> Vec<Stem> {
    let mut raw: Vec<(String, usize, usize)> = Vec::new();
    let (mut from, mut has_not) = (0, false);
    for piece in
        text.split_inclusive(|letter: char| !(letter.is_alphanumeric() || matches!(letter, '\'' | '’')))
    {
        let word = piece.trim_matches(|letter: char| !letter.is_alphanumeric());
        let lower = word.to_lowercase();
        let start = from + piece.find(word).unwrap_or(0);
        from += piece.len();
        if word.is_empty() || word.starts_with(|letter: char| letter.is_ascii_digit()) {
            continue;
        }
        let stem = match lower.as_str() {
            // "Fifteen seconds or so".
            "so" if text.get(..start).is_some_and(|before| before.trim_end().ends_with(" or")) => continue,
            "else" if text.get(..start).is_some_and(is_somebody) => continue,
            "nothing" if text.get(..start).is_some_and(|before| before.trim_end().ends_with(" for")) => {
                continue;
            }
            "because" | "cause" | "cos" | "coz" | "becuz" | "otherwise" | "so" | "else" | "since" => {
                "because".to_owned()
            }
            // "Don't go back and touch it": one doing.
            "and" if text.get(..start).is_some_and(is_light) => continue,
            "and" | "but" | "then" => "and".to_owned(),
            // "Ah no i forgot", "no wait": it denies nothing.
            "no" if is_exclaimed(text.get(..start).unwrap_or(""), &text[from..]) => continue,
            "until" | "till" | "before" if has_not => UNTIL.to_owned(),
            // "Without it": what was named before, and nothing behind it.
            "it" | "them" | "that"
                if raw.last().is_some_and(|(last, from, _)| last == "not" && is_without(text, *from)) =>
            {
                raw.pop();
                continue;
            }
            // "Stays untouched".
            "untouched" => {
                raw.push(("not".to_owned(), start, start));
                memory.stem("touched").unwrap_or_default()
            }
            "isn't" | "aren't" => {
                raw.push((IS_OUT.to_owned(), start, start));
                "not".to_owned()
            }
            "is" | "are" | "stays" | "stay" | "keep" | "keeps" | "doesn't" if puts_out(&text[from..]) => {
                IS_OUT.to_owned()
            }
            // "Get the air out of the syringe".
            "out" if text[from..].trim_start().starts_with("of ") => IS_OUT.to_owned(),
            // "I keep my fingers off".
            "off" if text.get(..start).is_some_and(is_kept) => {
                raw.push((IS_OUT.to_owned(), start, start));
                "not".to_owned()
            }
            // "Hands off the clean spot".
            "off" if raw.last().is_some_and(|(last, ..)| last == "hand") => {
                raw.pop();
                "not".to_owned()
            }
            // "no longer than": a limit and no negation.
            "than" => {
                if let [.., (not, ..), _] = raw.as_slice()
                    && not == "not"
                {
                    raw.remove(raw.len() - 2);
                } else if raw.is_empty() {
                    // The "not" of "not more" stood on the line before.
                    raw.push(("and".to_owned(), start, start));
                }
                continue;
            }
            // "Touch nothing": the word before it is what is not done.
            "nothing"
                if !done_to_nothing(&text[from..])
                    // "Squeeze if nothing comes" speaks of something else.
                    && raw.last().is_some_and(|(.., end)| text[*end..start].trim().is_empty())
                    && raw.last().is_some_and(|(last, ..)| {
                        !matches!(last.as_str(), "and" | "not" | "because" | "yes")
                    }) =>
            {
                raw.insert(raw.len() - 1, ("not".to_owned(), start, start));
                "and".to_owned()
            }
            _ => match memory.stem(&lower) {
                Some(stem) => stem,
                None if speakers::YES.contains(&lower.as_str()) => "yes".to_owned(),
                None => continue,
            },
        };
        has_not |= stem == "not";
        raw.push((stem, start, start + word.len()));
    }
    let mut stems = Vec::new();
    let mut at = 0;
    while at < raw.len() {
        let next = raw[at..].iter().map(|(stem, ..)| stem.as_str());
        // "Birth and name" is no phrase, but "push and pause" is.
        let following: Vec<&str> = match raw[at].0.as_str() {
            "and" => vec!["and"],
            _ => next.filter(|stem| *stem != "and").take(5).collect(),
        };
        let role = match following[0] {
            "not" => Role::Not,
            "because" => Role::Because,
            "yes" => Role::Yes,
            "and" => Role::And,
            UNTIL => Role::Until,
            IS_OUT => Role::IsOut,
            _ => Role::Content,
        };
        let own = profile.synonym(&following);
        let n_words = own.map_or(1, |(n_words, _)| n_words);
        let like = match (&role, own) {
            (Role::Content, Some((n_words, name))) => {
                let mut like = profile.lexicon.like(&following[..n_words], &mut memory.like);
                like.extend(profile.lexicon.like(&[name], &mut memory.like));
                like
            }
            (Role::Content, None) => profile.lexicon.like(&following, &mut memory.like),
            _ => Vec::new(),
        };
        let mut last = at;
        let mut left = n_words - 1;
        while left > 0 && last + 1 < raw.len() {
            last += 1;
            left -= usize::from(raw[last].0 != "and");
        }
        // What the unit says in its own words goes under the one name.
        let stem = own.map_or_else(|| raw[at].0.clone(), |(_, name)| name.to_owned());
        stems.push(Stem { role, stem, like, start: raw[at].1, end: raw[last].2 });
        at = last + 1;
    }
    stems
}
