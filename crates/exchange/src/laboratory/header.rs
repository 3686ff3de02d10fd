//! The header of an HL7 v2 message as bytes: enough to answer it and to know it again, whatever the rest is like.

/// Longest header that is looked at, in bytes.
const LONGEST: usize = 16_384;

/// A message header (MSH), its fields as they stood, escapes and all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Header<'m> {
    /// The field separator, MSH-1.
    pub separator: u8,
    fields: Vec<&'m [u8]>,
}

impl<'m> Header<'m> {
    /// The first header among the segments; `None` where there is none or its delimiters cannot be used.
    pub(super) fn find(message: &'m [u8]) -> Option<Self> {
        let line = starts(message).next().map(|at| &message[at..])?;
        let end = line.iter().take(LONGEST).position(|byte| matches!(byte, b'\r' | b'\n'));
        let line = &line[..end.unwrap_or(line.len().min(LONGEST))];
        let separator = *line.get(3)?;
        let fields: Vec<&[u8]> = line.split(|&byte| byte == separator).collect();
        let mut encoding = fields.get(1)?.iter();
        let component = encoding.next()?;
        let usable = |byte: u8| byte.is_ascii_punctuation();
        (usable(separator) && usable(*component)).then_some(Self { separator, fields })
    }

    /// A field by its number in the standard, from MSH-2 on; empty where there is none.
    pub(super) fn field(&self, number: usize) -> &'m [u8] {
        self.fields.get(number.wrapping_sub(1)).copied().unwrap_or_default()
    }

    /// The first component of the first repetition of a field, for comparing with codes.
    pub(super) fn first(&self, number: usize) -> &'m [u8] {
        self.component(number, 1)
    }

    /// A component of the first repetition of a field.
    pub(super) fn component(&self, number: usize, component: usize) -> &'m [u8] {
        let encoding = self.field(2);
        let at = |place: usize, usual: u8| encoding.get(place).copied().unwrap_or(usual);
        let first = self.field(number).split(|&byte| byte == at(1, b'~')).next().unwrap_or_default();
        let mut components = first.split(|&byte| byte == at(0, b'^'));
        components.nth(component.wrapping_sub(1)).unwrap_or_default().trim_ascii()
    }
}

/// Cuts what came in one frame into its messages: a sender may put a batch, or several messages, into one. What stands
/// before the first header belongs to the first message, so that no byte is lost.
pub fn split_messages(frame: &[u8]) -> Vec<&[u8]> {
    let mut cuts: Vec<usize> = starts(frame).collect();
    if cuts.is_empty() {
        return vec![frame];
    }
    cuts[0] = 0;
    let ends = cuts[1..].iter().copied().chain([frame.len()]);
    cuts.iter().zip(ends).map(|(&start, end)| &frame[start..end]).collect()
}

/// Where headers start: at the start of a line, blanks, a byte-order mark and framing bytes before it passed over.
fn starts(bytes: &[u8]) -> impl Iterator<Item = usize> {
    let mut at = 0;
    std::iter::from_fn(move || {
        while at < bytes.len() {
            let skip = bytes[at..]
                .iter()
                .take_while(|byte| {
                    matches!(byte, b'\r' | b'\n' | b' ' | b'\t' | 0x0B | 0x1C | 0xEF | 0xBB | 0xBF)
                })
                .count();
            let start = at + skip;
            let line = &bytes[start..];
            at = start + line.iter().position(|byte| matches!(byte, b'\r' | b'\n')).unwrap_or(line.len());
            let is_header = line.starts_with(b"MSH") && line.get(3).is_some_and(u8::is_ascii_punctuation);
            if is_header {
                return Some(start);
            }
        }
        None
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_header_is_found_and_numbered_as_the_standard_numbers_it() {
        let header =
            Header::find(b"\xEF\xBB\xBF\x0BMSH|^~\\&#|LAB^1.2|SITE|||20260302||ORU^R01|7|P|2.5.1\rPID|")
                .unwrap();
        assert_eq!(header.separator, b'|');
        assert_eq!(header.field(2), b"^~\\&#");
        assert_eq!(header.field(3), b"LAB^1.2");
        assert_eq!(header.first(9), b"ORU");
        assert_eq!(header.component(9, 2), b"R01");
        assert_eq!(header.field(12), b"2.5.1");
        assert_eq!(header.field(18), b"");
        assert_eq!(Header::find(b"PID|1\rOBR|"), None);
        assert_eq!(Header::find(b"MSHx^~"), None);
        assert_eq!(Header::find(b"MSH"), None);
    }

    #[test]
    fn a_frame_of_several_messages_is_cut_and_no_byte_is_lost() {
        let frame: &[u8] = b"FHS|^~\\&\rBHS|^~\\&\rMSH|^~\\&|A\rPID|1\rMSH|^~\\&|B\rBTS|2\r";
        let cut = split_messages(frame);
        assert_eq!(cut.len(), 2);
        assert_eq!(cut.concat(), frame);
        assert_eq!(Header::find(cut[1]).unwrap().field(3), b"B");
        assert_eq!(split_messages(b"quux"), [b"quux".as_slice()]);
    }
}
