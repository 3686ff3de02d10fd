//! A file cut into blocks that end where a record ends.

use std::io::{ErrorKind, Read};

use memchr::{memchr, memrchr};

/// A record longer than this is passed over without being kept: a row that may be read is a quarter of it at most.
const LONGEST_RECORD_BYTES: usize = 4 << 20;

/// What comes next out of a file.
pub(super) enum Next {
    /// Whole records.
    Records,
    /// A record that is too long to be kept, by the line ends in it, its own included.
    TooLong { lines: u64 },
    /// Nothing is left.
    End,
    /// The lines of the file end in a way that is not cut here.
    OtherLineEnds,
}

/// Bytes in room that is used again: what was filled once is not cleared for the next block.
#[derive(Default)]
pub(super) struct Room {
    bytes: Vec<u8>,
    filled: usize,
}

impl Room {
    pub(super) fn holding(bytes: Vec<u8>) -> Self {
        Self { filled: bytes.len(), bytes }
    }

    pub(super) fn bytes(&self) -> &[u8] {
        &self.bytes[..self.filled]
    }

    fn hold(&mut self, bytes: &[u8]) {
        if self.bytes.len() < bytes.len() {
            self.bytes.resize(bytes.len(), 0);
        }
        self.bytes[..bytes.len()].copy_from_slice(bytes);
        self.filled = bytes.len();
    }
}

/// Cuts what it reads into blocks of whole records.
pub(super) struct Blocks<R> {
    source: R,
    separator: u8,
    /// Read already, and not given out.
    carried: Room,
    ended: bool,
    /// Bytes read at once.
    block_bytes: usize,
}

impl<R: Read> Blocks<R> {
    /// `start` are bytes of the source that were read before.
    pub(super) fn new(start: Vec<u8>, source: R, separator: u8, block_bytes: usize) -> Self {
        Self { source, separator, carried: Room::holding(start), ended: false, block_bytes }
    }

    /// Fills the room with the next whole records.
    pub(super) fn next(&mut self, room: &mut Room) -> std::io::Result<Next> {
        room.hold(self.carried.bytes());
        self.carried.filled = 0;
        let mut wanted = self.block_bytes;
        loop {
            self.fill(room, wanted)?;
            if self.ended {
                return Ok(if room.filled == 0 { Next::End } else { Next::Records });
            }
            if let Some(end) = last_record_end(room.bytes(), self.separator) {
                self.carried.hold(&room.bytes()[end..]);
                room.filled = end;
                return Ok(Next::Records);
            }
            if room.filled >= LONGEST_RECORD_BYTES {
                return self.pass_over(room);
            }
            wanted += self.block_bytes;
        }
    }

    /// Reads until there are so many bytes, or none is left.
    fn fill(&mut self, room: &mut Room, wanted: usize) -> std::io::Result<()> {
        if room.filled >= wanted || self.ended {
            return Ok(());
        }
        if room.bytes.len() < wanted {
            room.bytes.resize(wanted, 0);
        }
        while room.filled < wanted {
            match self.source.read(&mut room.bytes[room.filled..wanted]) {
                Ok(0) => {
                    self.ended = true;
                    break;
                }
                Ok(n) => room.filled += n,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    /// Reads on to the end of a record without keeping it.
    fn pass_over(&mut self, room: &mut Room) -> std::io::Result<Next> {
        let mut walk = Walk::default();
        loop {
            for (place, &byte) in room.bytes().iter().enumerate() {
                if walk.ends_record(byte, self.separator) {
                    if byte == b'\r' {
                        return Ok(Next::OtherLineEnds);
                    }
                    self.carried.hold(&room.bytes()[place + 1..]);
                    return Ok(Next::TooLong { lines: walk.lines });
                }
            }
            room.filled = 0;
            self.fill(room, self.block_bytes)?;
            if room.filled == 0 {
                return Ok(Next::TooLong { lines: walk.lines });
            }
        }
    }
}

/// Where the last whole record of a block ends, when the block begins where a record begins. Only a line feed counts:
/// a carriage return at the end of a block may be half of a line end.
fn last_record_end(bytes: &[u8], separator: u8) -> Option<usize> {
    let mut last = None;
    let mut outside = 0;
    let mut at = 0;
    loop {
        let Some(quote) = memchr(b'"', &bytes[at..]).map(|found| at + found) else {
            return memrchr(b'\n', &bytes[outside..]).map(|found| outside + found + 1).or(last);
        };
        // A quotation mark opens a cell only where the cell begins.
        let opens = quote.checked_sub(1).is_none_or(|before| {
            let before = bytes[before];
            before == separator || before == b'\n' || before == b'\r'
        });
        at = quote + 1;
        if !opens {
            continue;
        }
        last = memrchr(b'\n', &bytes[outside..quote]).map(|found| outside + found + 1).or(last);
        loop {
            let Some(found) = memchr(b'"', &bytes[at..]) else { return last };
            at += found + 1;
            if bytes.get(at) != Some(&b'"') {
                break;
            }
            at += 1;
        }
        outside = at;
    }
}

/// Walks through a record byte by byte, by the rules the reader of separated text follows.
#[derive(Default)]
pub(super) struct Walk {
    at: At,
    lines: u64,
}

#[derive(Default, Clone, Copy, PartialEq, Eq)]
enum At {
    #[default]
    CellStart,
    Cell,
    Quoted,
    QuoteInQuoted,
}

impl Walk {
    pub(super) fn ends_record(&mut self, byte: u8, separator: u8) -> bool {
        let line_end = byte == b'\n' || byte == b'\r';
        self.lines += u64::from(byte == b'\n');
        self.at = match self.at {
            At::Quoted if byte == b'"' => At::QuoteInQuoted,
            At::Quoted => At::Quoted,
            At::QuoteInQuoted if byte == b'"' => At::Quoted,
            At::CellStart if byte == b'"' => At::Quoted,
            _ if byte == separator => At::CellStart,
            _ if line_end => return true,
            _ => At::Cell,
        };
        false
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The plain walk, byte by byte.
    fn plain_last_end(bytes: &[u8]) -> Option<usize> {
        let mut walk = Walk::default();
        let mut last = None;
        for (place, &byte) in bytes.iter().enumerate() {
            if walk.ends_record(byte, b',') {
                walk = Walk::default();
                if byte == b'\n' {
                    last = Some(place + 1);
                }
            }
        }
        last
    }

    proptest! {
        #[test]
        fn the_last_record_ends_where_a_plain_walk_says(text in "[a\",\n\r]{0,40}") {
            prop_assert_eq!(last_record_end(text.as_bytes(), b','), plain_last_end(text.as_bytes()));
        }
    }

    #[test]
    fn a_record_of_many_megabytes_is_passed_over_in_bounded_memory() {
        let long = format!("a,\"{}\nb,c\n", "x\n".repeat(8 << 20));
        let mut blocks = Blocks::new(Vec::new(), long.as_bytes(), b',', 1 << 20);
        let mut room = Room::default();
        let mut most = 0;
        let next = blocks.next(&mut room).unwrap();
        most = most.max(room.bytes.capacity());
        assert!(
            matches!(next, Next::TooLong { lines } if lines == (8 << 20) + 2),
            "the mark is never closed"
        );
        assert!(most <= 2 * LONGEST_RECORD_BYTES, "{most} bytes were kept");
        let closed = format!("a,\"{}\"\nb,c\n", "x\n".repeat(8 << 20));
        let mut blocks = Blocks::new(Vec::new(), closed.as_bytes(), b',', 1 << 20);
        assert!(matches!(blocks.next(&mut room).unwrap(), Next::TooLong { .. }));
        assert!(matches!(blocks.next(&mut room).unwrap(), Next::Records));
        assert_eq!(room.bytes(), b"b,c\n");
        assert!(matches!(blocks.next(&mut room).unwrap(), Next::End));
    }
}
