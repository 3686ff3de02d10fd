//! A file of messages cut into its messages, one at a time.

/// Most bytes one message may have. A longer one is not read: it is nearly always something else.
pub(super) const LARGEST_MESSAGE_BYTES: usize = 32 << 20;

/// What stands in a file of messages.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Piece<'b> {
    /// From one header (MSH) to the next, or to the end of its batch.
    Message { bytes: &'b [u8], line: u64 },
    /// A message longer than [`LARGEST_MESSAGE_BYTES`].
    TooLong { n_bytes: usize, line: u64 },
    /// A line outside any message that is no batch header or trailer.
    Stray { line: u64 },
    /// A batch or file that says it holds another number than it does: it may have been cut off.
    Miscounted { what: &'static str, stated: u64, found: u64, line: u64 },
    /// A batch or file that begins with a header and has no trailer.
    WithoutEnd { trailer: &'static str },
}

/// Cuts the bytes of a file. Line ends may be CR, LF or both; the frame characters of the wire, blanks and byte-order
/// marks before a segment are passed over.
pub(super) struct Pieces<'b> {
    bytes: &'b [u8],
    at: usize,
    line: u64,
    /// Start and line of the message that is open.
    open: Option<(usize, u64)>,
    n_in_batch: u64,
    n_batches: u64,
    batch_open: bool,
    file_open: bool,
    waiting: std::collections::VecDeque<Piece<'b>>,
}

impl<'b> Pieces<'b> {
    pub(super) fn of(bytes: &'b [u8]) -> Self {
        Self {
            bytes,
            at: 0,
            line: 0,
            open: None,
            n_in_batch: 0,
            n_batches: 0,
            batch_open: false,
            file_open: false,
            waiting: std::collections::VecDeque::new(),
        }
    }

    /// The message that is open ends here.
    fn close(&mut self, end: usize) {
        let Some((start, line)) = self.open.take() else { return };
        self.n_in_batch += 1;
        let bytes = &self.bytes[start..end];
        self.waiting.push_back(if bytes.len() > LARGEST_MESSAGE_BYTES {
            Piece::TooLong { n_bytes: bytes.len(), line }
        } else {
            Piece::Message { bytes, line }
        });
    }

    /// A trailer states how many there were; one that states nothing says nothing.
    fn compare(&mut self, what: &'static str, text: &[u8], found: u64) {
        let separator = text.get(3).copied().unwrap_or(b'|');
        let stated = text.split(|&byte| byte == separator).nth(1).unwrap_or_default();
        let stated: Option<u64> = std::str::from_utf8(stated).ok().and_then(|text| text.trim().parse().ok());
        if let Some(stated) = stated.filter(|stated| *stated != found) {
            self.waiting.push_back(Piece::Miscounted { what, stated, found, line: self.line });
        }
    }

    fn take_line(&mut self, start: usize, text: &'b [u8]) {
        let text = trimmed(text);
        let name = text.get(..3).unwrap_or_default();
        let ends = text.get(3).is_none_or(|byte| !byte.is_ascii_alphanumeric());
        match name {
            b"MSH" if ends => {
                self.close(start);
                self.open = Some((start, self.line));
            }
            b"FHS" if ends => {
                self.close(start);
                self.file_open = true;
                self.n_batches = 0;
            }
            b"BHS" if ends => {
                self.close(start);
                self.batch_open = true;
                self.n_in_batch = 0;
            }
            b"BTS" if ends => {
                self.close(start);
                let found = self.n_in_batch;
                self.compare("messages in a batch (BTS-1)", text, found);
                self.batch_open = false;
                self.n_batches += 1;
            }
            b"FTS" if ends => {
                self.close(start);
                let found = self.n_batches;
                self.compare("batches in a file (FTS-1)", text, found);
                self.file_open = false;
            }
            _ if text.is_empty() || self.open.is_some() => {}
            _ => self.waiting.push_back(Piece::Stray { line: self.line }),
        }
    }

    fn finish(&mut self) {
        self.close(self.bytes.len());
        if std::mem::take(&mut self.batch_open) {
            self.waiting.push_back(Piece::WithoutEnd { trailer: "batch trailer (BTS)" });
        }
        if std::mem::take(&mut self.file_open) {
            self.waiting.push_back(Piece::WithoutEnd { trailer: "file trailer (FTS)" });
        }
    }
}

impl<'b> Iterator for Pieces<'b> {
    type Item = Piece<'b>;

    fn next(&mut self) -> Option<Piece<'b>> {
        loop {
            if let Some(piece) = self.waiting.pop_front() {
                return Some(piece);
            }
            if self.at >= self.bytes.len() {
                self.finish();
                return self.waiting.pop_front();
            }
            let start = self.at;
            let (text, next) = line_at(self.bytes, start);
            self.at = next;
            self.line += 1;
            self.take_line(start, text);
        }
    }
}

/// The line that starts at a place, and where the next one starts. CR LF is one line end.
pub(super) fn line_at(bytes: &[u8], start: usize) -> (&[u8], usize) {
    let rest = &bytes[start..];
    match rest.iter().position(|byte| matches!(byte, b'\r' | b'\n')) {
        Some(end) => {
            let both = rest[end] == b'\r' && rest.get(end + 1) == Some(&b'\n');
            (&rest[..end], start + end + if both { 2 } else { 1 })
        }
        None => (rest, bytes.len()),
    }
}

/// Without blanks, frame characters of the wire and byte-order marks around it.
fn trimmed(text: &[u8]) -> &[u8] {
    let is_outside = |byte: &u8| matches!(byte, 0x0B | 0x1C | b' ' | b'\t' | 0xEF | 0xBB | 0xBF);
    let start = text.iter().position(|byte| !is_outside(byte)).unwrap_or(text.len());
    let end =
        text.iter().rposition(|byte| !matches!(byte, 0x0B | 0x1C | b' ' | b'\t')).map_or(start, |at| at + 1);
    &text[start..end.max(start)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_line_end_and_batch_headers_part_messages() {
        for end in ["\r", "\n", "\r\n"] {
            let text =
                ["FHS|^~\\&", "BHS|^~\\&", "MSH|^~\\&|A", "PID|1", "MSH|^~\\&|B", "PID|1", "BTS|2", "FTS|1"]
                    .join(end);
            let found: Vec<_> = Pieces::of(text.as_bytes()).collect();
            let [Piece::Message { line: 3, .. }, Piece::Message { line: 5, bytes }] = found.as_slice() else {
                panic!("{end:?}: {found:?}")
            };
            assert_eq!(*bytes, format!("MSH|^~\\&|B{end}PID|1{end}").as_bytes());
        }
    }

    /// HL7 v2.5.1, sections 2.15.3 (BTS-1) and 2.15.7 (FTS-1): how many messages, how many batches.
    #[test]
    fn a_batch_that_was_cut_off_is_noticed() {
        let said = |text: &'static str| -> Vec<Piece<'static>> {
            Pieces::of(text.as_bytes()).filter(|piece| !matches!(piece, Piece::Message { .. })).collect()
        };
        assert_eq!(said("BHS|^~\\&\rMSH|a\rBTS|1\r"), []);
        assert_eq!(said("BHS|^~\\&\rMSH|a\rBTS\r"), []);
        assert_eq!(
            said("BHS|^~\\&\rMSH|a\rBTS|2\r"),
            [Piece::Miscounted { what: "messages in a batch (BTS-1)", stated: 2, found: 1, line: 3 }]
        );
        assert_eq!(
            said("FHS|^~\\&\rBHS|^~\\&\rMSH|a\r"),
            [
                Piece::WithoutEnd { trailer: "batch trailer (BTS)" },
                Piece::WithoutEnd { trailer: "file trailer (FTS)" }
            ]
        );
    }

    #[test]
    fn frame_characters_and_stray_lines() {
        let text = "quux\r\u{b}MSH|a\rPID|1\r\u{1c}\r\u{b}MSH|b\r\u{1c}\r";
        let found: Vec<_> = Pieces::of(text.as_bytes()).collect();
        assert!(matches!(
            found.as_slice(),
            [Piece::Stray { line: 1 }, Piece::Message { line: 2, .. }, Piece::Message { line: 5, .. }]
        ));
    }

    #[test]
    fn an_enormous_message_is_passed_over_and_the_next_is_read() {
        let mut bytes = b"MSH|a\rOBX|1|TX|x||".to_vec();
        bytes.resize(LARGEST_MESSAGE_BYTES + 100, b'x');
        bytes.extend_from_slice(b"\rMSH|b\r");
        let found: Vec<_> = Pieces::of(&bytes).collect();
        assert!(matches!(found.as_slice(), [Piece::TooLong { line: 1, .. }, Piece::Message { line: 3, .. }]));
    }
}
