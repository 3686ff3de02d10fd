//! Bytes to text: which encoding a file is in, and what was assumed about it.

use std::borrow::Cow;

use encoding_rs::{Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// How a file's bytes stand for characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TextEncoding {
    /// UTF-8, with or without a byte-order mark.
    Utf8,
    /// UTF-16, either byte order.
    Utf16,
    /// Windows-1252, which holds all of ISO-8859-1 (Latin-1) that occurs in text.
    Windows1252,
}

impl TextEncoding {
    /// The encoding a person names: "utf-8", "utf-16", "windows-1252", "iso-8859-1", "latin-1", in any case.
    pub fn named(name: &str) -> Option<Self> {
        match name.trim().to_ascii_lowercase().replace(['_', ' '], "-").as_str() {
            "utf-8" | "utf8" | "us-ascii" | "ascii" => Some(Self::Utf8),
            "utf-16" | "utf16" | "utf-16le" | "utf-16be" => Some(Self::Utf16),
            "windows-1252" | "cp1252" | "iso-8859-1" | "latin-1" | "latin1" => Some(Self::Windows1252),
            _ => None,
        }
    }

    /// The name to print.
    pub fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "UTF-8",
            Self::Utf16 => "UTF-16",
            Self::Windows1252 => "Windows-1252",
        }
    }
}

/// Text, and what a reader should know about how it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decoded<'a> {
    /// The text without a byte-order mark.
    pub text: Cow<'a, str>,
    /// Said when the encoding was not stated and had to be assumed.
    pub note: Option<String>,
}

/// Text that is not in the encoding that was stated.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("text that is not {} on line {line}", .stated.name())]
pub struct DecodeError {
    /// First line that cannot be read, counted from 1.
    pub line: u64,
    /// What the mapping states.
    pub stated: TextEncoding,
}

/// Reads bytes as text. A byte-order mark decides; else what is stated; else UTF-8 if it is that, else Windows-1252
/// with a note that says so and where.
///
/// # Errors
/// When an encoding is stated and the bytes are not in it.
pub fn decode(bytes: &[u8], stated: Option<TextEncoding>) -> Result<Decoded<'_>, DecodeError> {
    if let Some((encoding, mark_length)) = Encoding::for_bom(bytes) {
        let (text, faulty) = encoding.decode_without_bom_handling(&bytes[mark_length..]);
        let note = faulty.then(|| {
            format!(
                "the file starts with the mark of {} but not all of it is; unreadable characters stand as \u{fffd}",
                encoding.name()
            )
        });
        return Ok(Decoded { text, note });
    }
    match stated {
        Some(TextEncoding::Utf8) => match std::str::from_utf8(bytes) {
            Ok(text) => Ok(Decoded { text: Cow::Borrowed(text), note: None }),
            Err(error) => {
                Err(DecodeError { line: line_at(bytes, error.valid_up_to()), stated: TextEncoding::Utf8 })
            }
        },
        Some(TextEncoding::Utf16) => {
            let (text, faulty) = utf16_order(bytes).decode_without_bom_handling(bytes);
            if faulty {
                Err(DecodeError { line: 1, stated: TextEncoding::Utf16 })
            } else {
                Ok(Decoded { text, note: None })
            }
        }
        Some(TextEncoding::Windows1252) => {
            let (text, _) = WINDOWS_1252.decode_without_bom_handling(bytes);
            Ok(Decoded { text, note: None })
        }
        None => Ok(guess(bytes)),
    }
}

fn guess(bytes: &[u8]) -> Decoded<'_> {
    if looks_like_utf16(bytes) {
        let (text, _) = utf16_order(bytes).decode_without_bom_handling(bytes);
        let note = "the encoding is not stated; every other byte is zero, so the file was read as UTF-16 (write encoding = \"utf-16\" in the mapping to settle it)";
        return Decoded { text, note: Some(note.to_owned()) };
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Decoded { text: Cow::Borrowed(text), note: None },
        Err(error) => {
            let place = error.valid_up_to();
            let byte = bytes.get(place).copied().unwrap_or_default();
            let (text, _) = WINDOWS_1252.decode_without_bom_handling(bytes);
            let note = format!(
                "line {} holds the byte 0x{byte:02X}, which is not UTF-8; the file was read as Windows-1252 (write encoding = \"windows-1252\" in the mapping to settle it)",
                line_at(bytes, place)
            );
            Decoded { text, note: Some(note) }
        }
    }
}

/// Text in the first alphabets has a zero in every other byte when it is UTF-16.
fn looks_like_utf16(bytes: &[u8]) -> bool {
    let sample = &bytes[..bytes.len().min(1_024) & !1];
    let zeros = |start: usize| sample.iter().skip(start).step_by(2).filter(|&&byte| byte == 0).count();
    sample.len() >= 4 && zeros(0).max(zeros(1)) * 4 >= sample.len()
}

fn utf16_order(bytes: &[u8]) -> &'static Encoding {
    let sample = &bytes[..bytes.len().min(1_024)];
    let zeros = |start: usize| sample.iter().skip(start).step_by(2).filter(|&&byte| byte == 0).count();
    if zeros(0) > zeros(1) { UTF_16BE } else { UTF_16LE }
}

fn line_at(bytes: &[u8], place: usize) -> u64 {
    bytes[..place].iter().filter(|&&byte| byte == b'\n').count() as u64 + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utf16(text: &str, big: bool) -> Vec<u8> {
        text.encode_utf16()
            .flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() })
            .collect()
    }

    #[test]
    fn every_encoding_gives_the_same_text() {
        let text = "id;unit\n1;Intensivstation für Kinder\n";
        let latin: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
        let with_mark = |mark: &[u8], bytes: Vec<u8>| [mark, &bytes].concat();
        for bytes in [
            text.as_bytes().to_vec(),
            with_mark(&[0xEF, 0xBB, 0xBF], text.as_bytes().to_vec()),
            with_mark(&[0xFF, 0xFE], utf16(text, false)),
            with_mark(&[0xFE, 0xFF], utf16(text, true)),
            utf16(text, false),
            utf16(text, true),
            latin.clone(),
        ] {
            assert_eq!(decode(&bytes, None).unwrap().text, text);
        }
        let note = decode(&latin, None).unwrap().note.unwrap();
        assert!(note.contains("line 2") && note.contains("0xFC"), "{note}");
        assert_eq!(decode(&latin, Some(TextEncoding::Windows1252)).unwrap().note, None);
        let refused = decode(&latin, Some(TextEncoding::Utf8)).unwrap_err();
        assert_eq!(refused.to_string(), "text that is not UTF-8 on line 2");
    }
}
