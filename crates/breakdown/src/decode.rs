//! Bytes to text, whatever a nurse's editor wrote, with a note of what was assumed.

use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};

/// How the bytes of a file were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with or without a byte-order mark.
    Utf8,
    /// UTF-16, least significant byte first.
    Utf16LittleEndian,
    /// UTF-16, most significant byte first.
    Utf16BigEndian,
    /// One byte per letter; Windows-1252, which holds the printable part of Latin-1.
    OneByte,
}

/// Text with the encoding it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decoded {
    /// The text, without a byte-order mark.
    pub text: String,
    /// Encoding that was found or assumed.
    pub encoding: Encoding,
    /// True where nothing in the file says which encoding it is and one had to be assumed.
    pub assumed: bool,
}

/// Reads bytes as UTF-8, as UTF-16 (by its mark, or by its zero bytes), else as one byte per letter. Any bytes give
/// text.
///
/// ```
/// let latin = breakdown::decode(b"step: Vene w\xe4hlen");
/// assert_eq!(latin.text, "step: Vene w\u{e4}hlen");
/// assert_eq!(latin.encoding, breakdown::Encoding::OneByte);
/// assert!(latin.assumed);
/// ```
pub fn decode(bytes: &[u8]) -> Decoded {
    let decoded = |text: &str, encoding, assumed| Decoded { text: text.to_owned(), encoding, assumed };
    if let Some(rest) = bytes.strip_prefix(b"\xef\xbb\xbf")
        && let Ok(text) = std::str::from_utf8(rest)
    {
        return decoded(text, Encoding::Utf8, false);
    }
    if bytes.starts_with(b"\xff\xfe") {
        return decoded(&UTF_16LE.decode(bytes).0, Encoding::Utf16LittleEndian, false);
    }
    if bytes.starts_with(b"\xfe\xff") {
        return decoded(&UTF_16BE.decode(bytes).0, Encoding::Utf16BigEndian, false);
    }
    // Plain text has no zero bytes; UTF-16 of western letters has one in every pair, always on the same side.
    let zeros_at = |side: usize| bytes.iter().skip(side).step_by(2).filter(|byte| **byte == 0).count();
    let pairs = bytes.len() / 2;
    if pairs > 1 && zeros_at(1) * 10 >= pairs * 8 && zeros_at(0) == 0 {
        return decoded(&UTF_16LE.decode(bytes).0, Encoding::Utf16LittleEndian, true);
    }
    if pairs > 1 && zeros_at(0) * 10 >= pairs * 8 && zeros_at(1) == 0 {
        return decoded(&UTF_16BE.decode(bytes).0, Encoding::Utf16BigEndian, true);
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => decoded(text, Encoding::Utf8, false),
        Err(_) => decoded(&WINDOWS_1252.decode(bytes).0, Encoding::OneByte, true),
    }
}

impl Encoding {
    /// Name for people.
    pub fn name(self) -> &'static str {
        match self {
            Encoding::Utf8 => "UTF-8",
            Encoding::Utf16LittleEndian => "UTF-16 (little-endian)",
            Encoding::Utf16BigEndian => "UTF-16 (big-endian)",
            Encoding::OneByte => "one byte per letter (Windows-1252, which holds the letters of Latin-1)",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_editors_bytes_give_the_same_text() {
        let text = "step: Wähle die Stelle – 30 s\n";
        let utf16 = |little: bool| -> Vec<u8> {
            let units = text.encode_utf16();
            units.flat_map(|unit| if little { unit.to_le_bytes() } else { unit.to_be_bytes() }).collect()
        };
        let with_mark = |mark: &[u8], rest: &[u8]| [mark, rest].concat();
        let rows: Vec<(Vec<u8>, Encoding, bool)> = vec![
            (text.into(), Encoding::Utf8, false),
            (with_mark(b"\xef\xbb\xbf", text.as_bytes()), Encoding::Utf8, false),
            (with_mark(b"\xff\xfe", &utf16(true)), Encoding::Utf16LittleEndian, false),
            (with_mark(b"\xfe\xff", &utf16(false)), Encoding::Utf16BigEndian, false),
            (utf16(true), Encoding::Utf16LittleEndian, true),
            (utf16(false), Encoding::Utf16BigEndian, true),
            (b"step: W\xe4hle die Stelle \x96 30 s\n".to_vec(), Encoding::OneByte, true),
        ];
        for (bytes, encoding, assumed) in rows {
            assert_eq!(decode(&bytes), Decoded { text: text.to_owned(), encoding, assumed });
        }
        assert_eq!(decode(b"").text, "");
    }
}
