//! Text cut into numbers, words and signs, each with its place.

/// One piece of a text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Token {
    pub(crate) kind: Kind,
    /// First byte in the text.
    pub(crate) start: usize,
    /// One past the last byte.
    pub(crate) end: usize,
    /// A line break stands before it.
    pub(crate) starts_line: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Kind {
    /// Written in digits.
    Number(f64),
    /// Letters, in lower case.
    Word(String),
    /// Any other sign; every kind of dash is `-`.
    Sign(char),
}

impl Token {
    pub(crate) fn word(&self) -> Option<&str> {
        match &self.kind {
            Kind::Word(word) => Some(word),
            _ => None,
        }
    }

    pub(crate) fn is_sign(&self, sign: char) -> bool {
        self.kind == Kind::Sign(sign)
    }

    /// True for a sign that ends a phrase.
    pub(crate) fn is_stop(&self) -> bool {
        matches!(self.kind, Kind::Sign('.' | ',' | ';' | ':' | '!' | '?' | '(' | ')'))
    }

    /// Word or sign as the tables of words spell it.
    pub(crate) fn spelling(&self) -> String {
        match &self.kind {
            Kind::Word(word) => word.clone(),
            Kind::Sign(sign) => sign.to_string(),
            Kind::Number(value) => value.to_string(),
        }
    }
}

pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut rest = text;
    let mut starts_line = false;
    while let Some(first) = rest.chars().next() {
        let start = text.len() - rest.len();
        let length = if first.is_ascii_digit() {
            digits_length(rest)
        } else if first.is_alphabetic() {
            rest.find(|c: char| !(c.is_alphanumeric() || matches!(c, '\'' | '’'))).unwrap_or(rest.len())
        } else {
            first.len_utf8()
        };
        let (piece, after) = rest.split_at(length);
        let kind = if first.is_ascii_digit() {
            Some(number(piece).map_or_else(|| Kind::Word(piece.to_owned()), Kind::Number))
        } else if first.is_alphabetic() {
            Some(Kind::Word(piece.to_lowercase()))
        } else if first.is_whitespace() {
            None
        } else {
            Some(Kind::Sign(if matches!(first, '-' | '‐' | '‑' | '–' | '—' | '−') {
                '-'
            } else {
                first
            }))
        };
        starts_line |= first == '\n';
        if let Some(kind) = kind {
            tokens.push(Token { kind, start, end: start + length, starts_line });
            starts_line = false;
        }
        rest = after;
    }
    tokens
}

/// Length of a run of digits with points or commas between digits.
fn digits_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let is_digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let mut length = 0;
    while is_digit(length) || (matches!(bytes.get(length), Some(b'.' | b',')) && is_digit(length + 1)) {
        length += 1;
    }
    length
}

/// Digits read with a decimal point, a decimal comma, or commas between thousands.
fn number(digits: &str) -> Option<f64> {
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let groups: Vec<&str> = whole.split(',').collect();
    let thousands = groups.len() > 1 && groups[0] != "0" && groups[1..].iter().all(|group| group.len() == 3);
    if thousands {
        format!("{}.{fraction}0", groups.concat()).parse().ok()
    } else if groups.len() == 2 && fraction.is_empty() {
        format!("{}.{}", groups[0], groups[1]).parse().ok()
    } else {
        digits.parse().ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_with_points_and_commas() {
        let value = |text| match &tokens(text)[0].kind {
            Kind::Number(value) => Some(*value),
            _ => None,
        };
        assert_eq!(value("2.5"), Some(2.5));
        assert_eq!(value("2,5"), Some(2.5));
        assert_eq!(value("0,500"), Some(0.5));
        assert_eq!(value("1,000"), Some(1000.0));
        assert_eq!(value("1,234.5"), Some(1234.5));
        assert_eq!(value("1.2.3"), None);
        assert_eq!(value("10."), Some(10.0));
    }

    #[test]
    fn every_byte_is_a_token_or_a_space() {
        let text = "8–10mL, İ 'n’ ½";
        let found = tokens(text);
        let covered: String = found.iter().map(|token| &text[token.start..token.end]).collect();
        assert_eq!(covered, text.replace(' ', ""));
    }
}
