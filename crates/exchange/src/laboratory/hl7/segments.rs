//! HL7 v2 delimiting: segments, fields, repetitions, components, escapes.

use std::borrow::Cow;

use encoding_rs::Encoding;

/// One message, cut into segments.
#[derive(Debug)]
pub(super) struct Message<'t> {
    /// The header first.
    pub segments: Vec<Segment<'t>>,
    /// Lines that are no segment and could not be joined to the one before.
    pub strays: Vec<u64>,
    /// Lines that were joined to the result or comment before them.
    pub joined: Vec<u64>,
}

/// Most lines of one message: more than any laboratory sends, and few enough to hold.
pub(super) const MOST_LINES: u64 = 100_000;

/// Why a message cannot be cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CutFault {
    /// MSH-1 and MSH-2 name no delimiters that can be used.
    Delimiters,
    /// More than [`MOST_LINES`] lines.
    TooManyLines,
}

/// One segment, with the delimiters of its message.
#[derive(Debug, Clone)]
pub(super) struct Segment<'t> {
    pub line: u64,
    text: Cow<'t, str>,
    delimiters: Delimiters,
}

/// The delimiters that MSH-1 and MSH-2 name, and the character set for hexadecimal escapes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Delimiters {
    field: char,
    component: char,
    repetition: char,
    escape: char,
    subcomponent: char,
    truncation: Option<char>,
    encoding: &'static Encoding,
}

impl<'t> Message<'t> {
    /// Cuts a message that starts with its header at `line`.
    ///
    /// A line that is no segment belongs to the result or comment before it: some systems write line ends into text.
    pub(super) fn cut(text: &'t str, line: u64, encoding: &'static Encoding) -> Result<Self, CutFault> {
        let first_line = line;
        let mut lines = lines(text).map(|(number, text)| (line + number, trimmed(text)));
        let header = lines.by_ref().find(|(_, text)| !text.is_empty());
        let (line, header) = header.ok_or(CutFault::Delimiters)?;
        let delimiters = Delimiters::of_header(header, encoding).ok_or(CutFault::Delimiters)?;
        let mut message = Self {
            segments: vec![Segment { line, text: Cow::Borrowed(header), delimiters }],
            strays: Vec::new(),
            joined: Vec::new(),
        };
        for (line, text) in lines {
            if line - first_line > MOST_LINES {
                return Err(CutFault::TooManyLines);
            }
            if text.is_empty() {
                continue;
            }
            if is_segment(text, delimiters.field) {
                message.segments.push(Segment { line, text: Cow::Borrowed(text), delimiters });
                continue;
            }
            match message.segments.last_mut() {
                Some(last) if matches!(last.name(), "OBX" | "NTE") => {
                    let whole = last.text.to_mut();
                    whole.push(' ');
                    whole.push_str(text);
                    message.joined.push(line);
                }
                _ => message.strays.push(line),
            }
        }
        Ok(message)
    }
}

fn trimmed(text: &str) -> &str {
    text.trim_matches(['\u{0b}', '\u{1c}', ' ', '\t', '\u{feff}'])
}

fn is_segment(text: &str, field: char) -> bool {
    let mut characters = text.chars();
    let name = [characters.next(), characters.next(), characters.next()];
    let fits = |c: Option<char>| c.is_some_and(|c| c.is_ascii_uppercase() || c.is_ascii_digit());
    name.into_iter().all(fits) && characters.next().is_none_or(|next| next == field)
}

/// Lines, counted from 0; CR LF is one line end.
fn lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let mut rest = text;
    let mut line = 0;
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        let number = line;
        line += 1;
        let (text, left) = match rest.find(['\r', '\n']) {
            Some(end) => {
                let after = &rest[end..];
                (&rest[..end], after.strip_prefix("\r\n").unwrap_or(&after[1..]))
            }
            None => (rest, ""),
        };
        rest = left;
        Some((number, text))
    })
}

impl Delimiters {
    /// MSH-2 has four characters, five from version 2.7 on and, in real feeds, earlier; the last three may be missing.
    fn of_header(text: &str, encoding: &'static Encoding) -> Option<Self> {
        let mut characters = text.chars().skip(3);
        let field = characters.next().filter(|c| !c.is_alphanumeric() && !c.is_control())?;
        let mut characters = characters.take_while(|&c| c != field);
        let component = characters.next()?;
        let delimiters = Self {
            field,
            component,
            repetition: characters.next().unwrap_or('~'),
            escape: characters.next().unwrap_or('\\'),
            subcomponent: characters.next().unwrap_or('&'),
            truncation: characters.next(),
            encoding,
        };
        let all = [field, component, delimiters.repetition, delimiters.escape, delimiters.subcomponent];
        let distinct = (0..all.len()).all(|i| !all[..i].contains(&all[i]));
        (distinct && all.iter().all(|c| !c.is_alphanumeric())).then_some(delimiters)
    }
}

impl Segment<'_> {
    /// Name of the segment: "OBX".
    pub(super) fn name(&self) -> &str {
        self.text.get(..3).unwrap_or_default()
    }

    /// A field by its number in the standard; empty where there is none. MSH-1 is the field separator
    /// itself and is not given.
    pub(super) fn field(&self, number: usize) -> Field<'_> {
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

    /// The whole field as text, escapes resolved, repetitions parted by a blank.
    pub(super) fn whole(self) -> Cow<'t, str> {
        if self.text.contains(self.delimiters.repetition) {
            let parts: Vec<Cow<'_, str>> = self.repetitions().map(|part| part.unescaped(part.text)).collect();
            return Cow::Owned(parts.join(" "));
        }
        self.unescaped(self.text)
    }

    /// Resolves escape sequences (HL7 v2.5.1, section 2.7): delimiters `\F\ \S\ \T\ \R\ \E\ \P\`, hexadecimal
    /// `\Xdd..\` in the character set of the message, line breaks and indents as blanks; highlighting is left out.
    /// One that is not known stays as it is written. Control characters become blanks; `""` means that there is no
    /// value.
    fn unescaped(self, text: &'t str) -> Cow<'t, str> {
        let escape = self.delimiters.escape;
        let text = text.trim();
        if text == "\"\"" {
            return Cow::Borrowed("");
        }
        if !text.contains(escape) && !text.contains(char::is_control) {
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
            if self.resolve(code, &mut out) {
                rest = left;
            } else {
                // What looks like an escape may be a character of the text before a true one.
                out.push(escape);
                rest = after;
            }
        }
        out.push_str(rest);
        let readable: String = out.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        Cow::Owned(readable.trim().to_owned())
    }

    /// Writes what an escape stands for; `false` where it is not known.
    fn resolve(self, code: &str, out: &mut String) -> bool {
        let delimiters = self.delimiters;
        match code {
            "F" => out.push(delimiters.field),
            "S" => out.push(delimiters.component),
            "T" => out.push(delimiters.subcomponent),
            "R" => out.push(delimiters.repetition),
            "E" => out.push(delimiters.escape),
            "P" if delimiters.truncation.is_some() => out.extend(delimiters.truncation),
            "H" | "N" | ".fi" | ".nf" => {}
            _ if [".br", ".sp", ".sk", ".ce", ".in", ".ti"].iter().any(|known| is_command(code, known)) => {
                out.push(' ');
            }
            _ => match hexadecimal(code) {
                Some(bytes) => out.push_str(&delimiters.encoding.decode_without_bom_handling(&bytes).0),
                None => return false,
            },
        }
        true
    }
}

/// `.sp`, `.sp3`, `.sp+3`, `.in-2`.
fn is_command(code: &str, name: &str) -> bool {
    let Some(number) = code.strip_prefix(name) else { return false };
    let number = number.trim_start_matches(['+', '-', ' ']);
    number.len() <= 4 && number.bytes().all(|byte| byte.is_ascii_digit())
}

fn hexadecimal(code: &str) -> Option<Vec<u8>> {
    let digits = code.strip_prefix('X')?;
    if digits.is_empty() || !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) || digits.len() % 2 != 0 {
        return None;
    }
    (0..digits.len()).step_by(2).map(|at| u8::from_str_radix(&digits[at..at + 2], 16).ok()).collect()
}

#[cfg(test)]
mod tests {
    use encoding_rs::{UTF_8, WINDOWS_1252};

    use super::*;

    /// HL7 v2.5.1, chapter 2: delimiters, escape sequences and the numbering of MSH.
    #[test]
    fn fields_are_numbered_as_in_the_standard() {
        let message = Message::cut(
            "MSH|^~\\&#|LAB|||ICU|20260302\rOBX|1|ST|600-7^Blood^LN||a\\F\\b\\S\\c\\X4142\\ ~second||x&y^z||\"\"",
            5,
            UTF_8,
        )
        .unwrap();
        assert_eq!(message.segments[0].field(1).whole(), "");
        assert_eq!(message.segments[0].field(2).whole().chars().next(), Some('^'));
        assert_eq!(message.segments[0].field(3).component(1), "LAB");
        let result = &message.segments[1];
        assert_eq!(result.line, 6);
        assert_eq!(result.field(3).component(2), "Blood");
        assert_eq!(result.field(5).component(1), "a|b^cAB");
        assert_eq!(result.field(5).repetitions().count(), 2);
        assert_eq!(result.field(5).whole(), "a|b^cAB second");
        assert_eq!(result.field(7).component(1), "x");
        assert_eq!(result.field(9).component(1), "", "two quotation marks stand for no value");
        assert_eq!(result.field(40).component(1), "");
    }

    #[track_caller]
    fn check_escape(written: &str, expected: &str) {
        let text = format!("MSH|^~\\&#|LAB\rOBX|1|FT|c||{written}");
        let message = Message::cut(&text, 1, WINDOWS_1252).unwrap();
        assert_eq!(message.segments[1].field(5).whole(), expected, "{written}");
    }

    /// HL7 v2.5.1, section 2.7; `\P\` from v2.7.
    #[test]
    fn escape_sequences_are_those_of_the_standard() {
        check_escape(r"a\F\b\S\c\T\d\R\e\E\f\P\g", r"a|b^c&d~e\f#g");
        check_escape(r"\H\Staphylococcus\N\ aureus", "Staphylococcus aureus");
        check_escape(r"no growth\.br\after\.sp2\5 days\.in+4\", "no growth after 5 days");
        check_escape(r"M\XFC\ller", "Müller");
        check_escape(r"\XZZ\ \X4\ \Zlocal\ \C2842\", r"\XZZ\ \X4\ \Zlocal\ \C2842\");
        check_escape(r"path C:\temp", r"path C:\temp");
        check_escape(r"a\b\F\c", r"a\b|c");
        check_escape(r"\X0D0A\x", "x");
    }

    #[test]
    fn a_line_end_inside_a_text_does_not_lose_the_rest_of_the_result() {
        let text = "MSH|^~\\&|LAB\rPID|1\nlost\rOBX|1|TX|c||No growth\nafter 5 days||||||F\r";
        let message = Message::cut(text, 1, UTF_8).unwrap();
        assert_eq!((message.strays.as_slice(), message.joined.as_slice()), (&[3][..], &[5][..]));
        let result = message.segments.last().unwrap();
        assert_eq!(result.field(5).whole(), "No growth after 5 days");
        assert_eq!(result.field(11).component(1), "F");
    }

    #[test]
    fn a_header_without_usable_delimiters_is_refused() {
        for text in ["MSH||||", "MSH", "MSHx^~", "MSH|||", "MSH|^^~\\&|", ""] {
            assert_eq!(Message::cut(text, 1, UTF_8).err(), Some(CutFault::Delimiters), "{text:?}");
        }
        assert!(Message::cut("MSH|^", 1, UTF_8).is_ok(), "the last three may be missing");
        let endless = "MSH|^~\\&|LAB\r".to_owned() + &"OBR\r".repeat(200_000);
        assert_eq!(Message::cut(&endless, 1, UTF_8).err(), Some(CutFault::TooManyLines));
    }
}
