//! The lines of a breakdown file put together to entries: a keyword, a label where there is one, and its text.

use crate::fault::{Fault, FaultKind, Place};
use crate::keyword::Keyword;

/// One entry, from one line and the indented lines that continue it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Entry {
    pub(crate) keyword: Keyword,
    pub(crate) label: Option<(String, Place)>,
    pub(crate) text: String,
    /// Where the keyword stands.
    pub(crate) place: Place,
    /// Where the text starts.
    pub(crate) text_place: Place,
}

/// Cuts a text into entries. What is not an entry becomes a fault; everything else is kept.
pub(crate) fn entries(text: &str) -> (Vec<Entry>, Vec<Fault>) {
    let mut entries: Vec<Entry> = Vec::new();
    let mut faults = Vec::new();
    // Only an entry directly above can be continued: not over a blank line, not over a faulty one.
    let mut open = false;
    for (number, line) in (1..).zip(text.lines()) {
        let words = line.trim();
        if words.is_empty() {
            open = false;
            continue;
        }
        if words.starts_with('#') {
            continue;
        }
        let indent = line.chars().take_while(|letter| letter.is_whitespace()).count();
        let place = Place { line: number, column: indent + 1 };
        match entry(line, words, place) {
            Ok(entry) => {
                entries.push(entry);
                open = true;
            }
            Err(head) => {
                // An indented line continues the one above unless it looks like a misspelt keyword.
                let near = head.as_deref().and_then(near_miss);
                match entries.last_mut().filter(|_| open && indent > 0 && near.is_none()) {
                    Some(above) => {
                        if !above.text.is_empty() {
                            above.text.push(' ');
                        }
                        above.text.push_str(&collapsed(words));
                    }
                    None => {
                        open = false;
                        faults.push(Fault::new(place, not_an_entry(head, words)));
                    }
                }
            }
        }
    }
    (entries, faults)
}

/// The entry on a line, or what stands before its colon if that is not a keyword.
fn entry(line: &str, words: &str, place: Place) -> Result<Entry, Option<String>> {
    let Some((head, text)) = words.split_once(':') else { return Err(None) };
    let (name, label) = match head.split_once('[') {
        Some((name, rest)) => (name, rest.split_once(']').map(|(label, _)| label.trim())),
        None => (head, None),
    };
    let Some(keyword) = Keyword::parse(name) else {
        return Err(looks_like_a_keyword(name).then(|| name.trim().to_owned()));
    };
    let indent = line.len() - line.trim_start().len();
    let column_at =
        |offset: usize| line.get(..offset).map_or(place.column, |before| before.chars().count() + 1);
    let spaces = |part: &str| part.len() - part.trim_start().len();
    let label = label.map(|label| {
        let offset = indent + name.len() + 1 + spaces(&head[name.len() + 1..]);
        (label.to_owned(), Place { line: place.line, column: column_at(offset) })
    });
    let text_place = Place { line: place.line, column: column_at(indent + head.len() + 1 + spaces(text)) };
    Ok(Entry { keyword, label, text: collapsed(text), place, text_place })
}

fn not_an_entry(head: Option<String>, words: &str) -> FaultKind {
    match head {
        Some(keyword) => {
            let nearest = Keyword::nearest(&keyword, 3);
            FaultKind::UnknownKeyword { keyword, nearest }
        }
        None => FaultKind::NoKeyword { text: shortened(words) },
    }
}

/// One to three words of letters, as a keyword would be.
fn looks_like_a_keyword(head: &str) -> bool {
    let plain = |letter: char| letter.is_alphanumeric() || letter.is_whitespace() || "()-_.".contains(letter);
    let n_words = head.split_whitespace().count();
    (1..=3).contains(&n_words) && head.chars().all(plain)
}

/// A keyword with a letter or two wrong; short ones may differ by one letter only.
fn near_miss(head: &str) -> Option<Keyword> {
    Keyword::nearest(head, if head.chars().count() <= 5 { 1 } else { 2 })
}

fn collapsed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The first words of a text, for messages.
pub(crate) fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    match text.char_indices().nth(MOST) {
        None => text.to_owned(),
        Some((end, _)) => format!("{}…", text[..end].trim_end()),
    }
}
