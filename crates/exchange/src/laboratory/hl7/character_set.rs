//! Character sets as MSH-18 names them (HL7 table 0211; its codes are from memory).

use std::borrow::Cow;

use encoding_rs::{
    BIG5, EUC_KR, Encoding, GB18030, ISO_2022_JP, ISO_8859_2, ISO_8859_3, ISO_8859_4, ISO_8859_5, ISO_8859_6,
    ISO_8859_7, ISO_8859_8, UTF_8, WINDOWS_1252, WINDOWS_1254,
};

use crate::text::TextEncoding;

/// What a message says about its bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CharacterSet {
    /// It says nothing, or ASCII: bytes beyond ASCII are read as UTF-8 if they are that, else as Windows-1252.
    Ascii,
    /// A set that can be read.
    Known(&'static Encoding),
    /// A set that cannot.
    Unknown,
}

/// Text of a message, and what should be known about how it was read.
pub(super) struct Decoded<'b> {
    pub text: Cow<'b, str>,
    /// For hexadecimal escapes, which are bytes of the same set.
    pub encoding: &'static Encoding,
    pub note: Option<&'static str>,
}

impl CharacterSet {
    /// By the repetitions of MSH-18: the first is the set of the message, Japanese sets may follow ASCII.
    pub(super) fn named<'n>(names: impl Iterator<Item = &'n [u8]>) -> Self {
        let mut first = None;
        for name in names {
            let set = Self::of(&String::from_utf8_lossy(name).trim().to_ascii_uppercase());
            if set == Self::Known(ISO_2022_JP) {
                return set;
            }
            first = first.or(Some(set));
        }
        first.unwrap_or(Self::Ascii)
    }

    /// The set a mapping states.
    pub(super) fn stated(encoding: TextEncoding) -> Self {
        Self::Known(match encoding {
            TextEncoding::Utf8 | TextEncoding::Utf16 => UTF_8,
            TextEncoding::Windows1252 => WINDOWS_1252,
        })
    }

    fn of(name: &str) -> Self {
        let plain = name.strip_prefix("ISO-").or(name.strip_prefix("ISO ")).or(name.strip_prefix("ISO"));
        let part = plain.unwrap_or(name).replace('-', "/");
        Self::Known(match part.as_str() {
            "" | "ASCII" | "US/ASCII" | "IR6" | "IR/6" | "IR 6" | "646" => return Self::Ascii,
            "8859/1" | "8859/15" | "WINDOWS/1252" | "CP1252" => {
                if part == "8859/15" {
                    encoding_rs::ISO_8859_15
                } else {
                    WINDOWS_1252
                }
            }
            "8859/2" => ISO_8859_2,
            "8859/3" => ISO_8859_3,
            "8859/4" => ISO_8859_4,
            "8859/5" => ISO_8859_5,
            "8859/6" => ISO_8859_6,
            "8859/7" => ISO_8859_7,
            "8859/8" => ISO_8859_8,
            // Windows-1254 holds all of ISO 8859-9 that occurs in text.
            "8859/9" => WINDOWS_1254,
            "IR13" | "IR14" | "IR87" | "IR 13" | "IR 14" | "IR 87" => ISO_2022_JP,
            "GB 18030/2000" | "GB 18030" | "GB18030" => GB18030,
            "KS X 1001" => EUC_KR,
            "BIG/5" | "BIG5" => BIG5,
            "UNICODE UTF/8" | "UNICODE" | "UTF/8" | "UTF8" => UTF_8,
            _ => return Self::Unknown,
        })
    }

    /// Reads the bytes of a message; `None` where nobody can tell what they stand for.
    pub(super) fn read(self, bytes: &[u8]) -> Option<Decoded<'_>> {
        if bytes.is_ascii() && self != Self::Known(ISO_2022_JP) {
            // Every set that is named here holds ASCII as it is.
            let text = String::from_utf8_lossy(bytes);
            return Some(Decoded { text, encoding: self.encoding(), note: None });
        }
        match self {
            Self::Unknown => None,
            Self::Known(encoding) => {
                let (text, faulty) = encoding.decode_without_bom_handling(bytes);
                let note = faulty.then_some(
                    "a message holds bytes that are not of the character set it states (MSH-18); they stand as \u{fffd}",
                );
                Some(Decoded { text, encoding, note })
            }
            Self::Ascii => Some(match std::str::from_utf8(bytes) {
                Ok(text) => Decoded { text: Cow::Borrowed(text), encoding: UTF_8, note: None },
                Err(_) => Decoded {
                    text: WINDOWS_1252.decode_without_bom_handling(bytes).0,
                    encoding: WINDOWS_1252,
                    note: Some(
                        "a message states no character set (MSH-18) that holds all of its bytes; it was read as Windows-1252",
                    ),
                },
            }),
        }
    }

    fn encoding(self) -> &'static Encoding {
        if let Self::Known(encoding) = self { encoding } else { UTF_8 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One letter in the bytes of each set: ISO 8859 parts 1, 2, 5, 7 and 15, GB 18030, KS X 1001, Big5, JIS X 0208
    /// with its escape sequences (ISO/IEC 2022) and UTF-8, from the published code tables (from memory).
    #[test]
    fn a_letter_of_every_set() {
        for (name, bytes, letter) in [
            ("8859/1", b"\xFC".as_slice(), "ü"),
            ("ISO-8859-1", b"\xFC", "ü"),
            ("8859/2", b"\xB3", "ł"),
            ("8859/5", b"\xD0", "а"),
            ("8859/7", b"\xE1", "α"),
            ("8859/9", b"\xFD", "ı"),
            ("8859/15", b"\xA4", "€"),
            ("GB 18030-2000", b"\xD6\xD0", "中"),
            ("KS X 1001", b"\xB0\xA1", "가"),
            ("BIG-5", b"\xA4\xA4", "中"),
            ("ISO IR87", b"\x1B$B\x24\x22\x1B(B", "あ"),
            ("UNICODE UTF-8", "é".as_bytes(), "é"),
            ("", "é".as_bytes(), "é"),
            ("ASCII", b"\xE9", "é"),
        ] {
            let set = CharacterSet::named([name.as_bytes()].into_iter());
            assert_eq!(set.read(bytes).unwrap().text, letter, "{name}");
        }
        let japanese = CharacterSet::named([b"ASCII".as_slice(), b"ISO IR87"].into_iter());
        assert_eq!(japanese.read(b"\x1B$B\x24\x22\x1B(B").unwrap().text, "あ");
    }

    #[test]
    fn a_set_that_is_not_known_is_read_as_far_as_it_is_ascii() {
        let set = CharacterSet::named([b"CNS 11643-1992".as_slice()].into_iter());
        assert_eq!(set, CharacterSet::Unknown);
        assert_eq!(set.read(b"MSH|").unwrap().text, "MSH|");
        assert!(set.read(b"\xA4\xA4").is_none());
        let wrong = CharacterSet::named([b"UNICODE UTF-8".as_slice()].into_iter()).read(b"f\xFCr").unwrap();
        assert_eq!(wrong.text, "f\u{fffd}r");
        assert!(wrong.note.is_some());
    }
}
