//! HL7 v2 delimiting: messages, segments, fields, repetitions, components, escapes.

use std::borrow::Cow;

/// One message, cut into segments.
#[derive(Debug)]
pub(super) struct Message<'t> {
    pub segments: Vec<Segment<'t>>,
    /// Line of the file on which it starts.
    pub line: u64,
}

/// One segment, with the delimiters of its message.
#[derive(Debug, Clone)]
pub(super) struct Segment<'t> {
    pub line: u64,
    text: &'t str,
    delimiters: Delimiters,
}

/// The delimiters that MSH-1 and MSH-2 name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Delimiters {
    field: char,
    component: char,
    repetition: char,
    escape: char,
    subcomponent: char,
}

/// What stands in a file of messages.
#[derive(Debug)]
pub(super) enum Piece<'t> {
    Message(Message<'t>),
    /// A line outside any message that is no batch header or trailer.
    Stray {
        line: u64,
        start: &'t str,
    },
    /// A header whose delimiters cannot be used.
    BadHeader {
        line: u64,
    },
}

/// Cuts a file into messages. Line ends may be CR, LF or both; batch headers and trailers (FHS, BHS, BTS, FTS) part
/// messages and are passed over, as are the frame characters of the wire.
pub(super) fn pieces(text: &str) -> Vec<Piece<'_>> {
    let mut pieces = Vec::new();
    let mut current: Option<(Delimiters, Message<'_>)> = None;
    for (line, text) in lines(text) {
        let text = text.trim_matches(['\u{0b}', '\u{1c}', ' ', '\t', '\u{feff}']);
        let name = text.get(..3).unwrap_or_default();
        match name {
            "" => {}
            "MSH" => {
                pieces.extend(current.take().map(|(_, message)| Piece::Message(message)));
                match Delimiters::of_header(text) {
                    Some(delimiters) => {
                        let header = Segment { line, text, delimiters };
                        current = Some((delimiters, Message { segments: vec![header], line }));
                    }
                    None => pieces.push(Piece::BadHeader { line }),
                }
            }
            "FHS" | "BHS" | "BTS" | "FTS" => {
                pieces.extend(current.take().map(|(_, message)| Piece::Message(message)));
            }
            _ => match &mut current {
                Some((delimiters, message)) if is_segment(text, delimiters.field) => {
                    message.segments.push(Segment { line, text, delimiters: *delimiters });
                }
                _ => pieces.push(Piece::Stray { line, start: name }),
            },
        }
    }
    pieces.extend(current.map(|(_, message)| Piece::Message(message)));
    pieces
}

fn is_segment(text: &str, field: char) -> bool {
    let mut characters = text.chars();
    let name: Vec<char> = characters.by_ref().take(3).collect();
    name.len() == 3
        && name.iter().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit())
        && characters.next().is_none_or(|next| next == field)
}

/// Lines with their numbers; CR LF is one line end.
fn lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let mut rest = text;
    let mut line = 0;
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        line += 1;
        let (text, left) = match rest.find(['\r', '\n']) {
            Some(end) => {
                let after = &rest[end..];
                (&rest[..end], after.strip_prefix("\r\n").unwrap_or(&after[1..]))
            }
            None => (rest, ""),
        };
        rest = left;
        Some((line, text))
    })
}

impl Delimiters {
    /// MSH-2 has four characters, five from version 2.7 on and, in real feeds, earlier; the last three may be missing.
    fn of_header(text: &str) -> Option<Self> {
        let mut characters = text.chars().skip(3);
        let field = characters.next().filter(|c| !c.is_alphanumeric() && !c.is_control())?;
        let mut encoding = characters.take_while(|&c| c != field);
        let component = encoding.next()?;
        let delimiters = Self {
            field,
            component,
            repetition: encoding.next().unwrap_or('~'),
            escape: encoding.next().unwrap_or('\\'),
            subcomponent: encoding.next().unwrap_or('&'),
        };
        let all = [field, component, delimiters.repetition, delimiters.escape, delimiters.subcomponent];
        let distinct = (0..all.len()).all(|i| !all[..i].contains(&all[i]));
        (distinct && all.iter().all(|c| !c.is_alphanumeric())).then_some(delimiters)
    }
}

impl<'t> Segment<'t> {
    /// Name of the segment: "OBX".
    pub(super) fn name(&self) -> &'t str {
        self.text.get(..3).unwrap_or_default()
    }

    /// A field by its number in the standard; empty where there is none. MSH-1 is the field separator
    /// itself and is not given.
    pub(super) fn field(&self, number: usize) -> Field<'t> {
        let text = match (self.name(), number) {
            ("MSH", 0 | 1) => "",
            ("MSH", _) => self.text.split(self.delimiters.field).nth(number - 1).unwrap_or_default(),
            _ => self.text.split(self.delimiters.field).nth(number).unwrap_or_default(),
        };
        Field { text, delimiters: self.delimiters }
    }
}

/// One field, or one repetition of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field<'t> {
    text: &'t str,
    delimiters: Delimiters,
}

impl<'t> Field<'t> {
    /// The repetitions of a field.
    pub(super) fn repetitions(self) -> impl Iterator<Item = Field<'t>> {
        let delimiters = self.delimiters;
        self.text.split(delimiters.repetition).map(move |text| Field { text, delimiters })
    }

    /// A component by its number, its first subcomponent, escapes resolved, blanks around it taken off. Of a field
    /// that repeats, the first repetition counts.
    pub(super) fn component(self, number: usize) -> Cow<'t, str> {
        let first = self.text.split(self.delimiters.repetition).next().unwrap_or_default();
        let component =
            first.split(self.delimiters.component).nth(number.saturating_sub(1)).unwrap_or_default();
        let part = component.split(self.delimiters.subcomponent).next().unwrap_or_default();
        self.unescaped(part)
    }

    /// The whole field as text, escapes resolved.
    pub(super) fn whole(self) -> Cow<'t, str> {
        self.unescaped(self.text)
    }

    /// Resolves `\F\ \S\ \T\ \R\ \E\`, hexadecimal `\X..\` and line breaks; what is not known is left out.
    fn unescaped(self, text: &'t str) -> Cow<'t, str> {
        let escape = self.delimiters.escape;
        let text = text.trim();
        if !text.contains(escape) {
            return Cow::Borrowed(text);
        }
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some((before, after)) = rest.split_once(escape) {
            out.push_str(before);
            let Some((code, left)) = after.split_once(escape) else {
                // An escape that never ends is a character like any other.
                out.push(escape);
                rest = after;
                continue;
            };
            match code {
                "F" => out.push(self.delimiters.field),
                "S" => out.push(self.delimiters.component),
                "T" => out.push(self.delimiters.subcomponent),
                "R" => out.push(self.delimiters.repetition),
                "E" => out.push(escape),
                ".br" | ".sp" => out.push(' '),
                _ => out.extend(hexadecimal(code)),
            }
            rest = left;
        }
        out.push_str(rest);
        Cow::Owned(out.trim().to_owned())
    }
}

fn hexadecimal(code: &str) -> Option<String> {
    let digits = code.strip_prefix('X')?;
    if digits.is_empty() || !digits.is_ascii() || digits.len() % 2 != 0 {
        return None;
    }
    let bytes: Option<Vec<u8>> =
        (0..digits.len()).step_by(2).map(|at| u8::from_str_radix(&digits[at..at + 2], 16).ok()).collect();
    Some(String::from_utf8_lossy(&bytes?).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn only(text: &str) -> Message<'_> {
        match pieces(text).remove(0) {
            Piece::Message(message) => message,
            other => panic!("{other:?}"),
        }
    }

    /// HL7 v2.5.1, chapter 2: delimiters, escape sequences and the numbering of MSH.
    #[test]
    fn fields_and_escapes_are_those_of_the_standard() {
        let message = only(
            "MSH|^~\\&#|LAB|||ICU|20260302\rOBX|1|ST|600-7^Blood^LN||a\\F\\b\\S\\c\\X4142\\ ~second||x&y^z",
        );
        assert_eq!(message.segments[0].field(1).whole(), "");
        assert_eq!(message.segments[0].field(2).whole().chars().next(), Some('^'));
        assert_eq!(message.segments[0].field(3).component(1), "LAB");
        let result = &message.segments[1];
        assert_eq!(result.field(3).component(2), "Blood");
        assert_eq!(result.field(5).component(1), "a|b^cAB");
        assert_eq!(result.field(5).repetitions().count(), 2);
        assert_eq!(result.field(7).component(1), "x");
        assert_eq!(result.field(40).component(1), "");
    }

    #[test]
    fn any_line_end_and_batch_headers_part_messages() {
        for end in ["\r", "\n", "\r\n"] {
            let text =
                ["FHS|^~\\&", "BHS|^~\\&", "MSH|^~\\&|A", "PID|1", "MSH|^~\\&|B", "PID|1", "BTS|2", "FTS|1"]
                    .join(end);
            let messages: Vec<u64> = pieces(&text)
                .iter()
                .filter_map(
                    |piece| if let Piece::Message(message) = piece { Some(message.line) } else { None },
                )
                .collect();
            assert_eq!(messages, [3, 5], "{end:?}");
        }
    }

    #[test]
    fn a_header_without_usable_delimiters_is_named() {
        assert!(matches!(pieces("MSH||||").as_slice(), [Piece::BadHeader { line: 1 }]));
        assert!(matches!(pieces("MSH").as_slice(), [Piece::BadHeader { line: 1 }]));
        assert!(matches!(pieces("quux|1").as_slice(), [Piece::Stray { line: 1, .. }]));
    }
}
