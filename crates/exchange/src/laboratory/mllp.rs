//! Frames of the Minimal Lower Layer Protocol: messages cut out of the bytes of a connection, and put into frames.
//!
//! A frame is a vertical tab, the message, a file separator and a carriage return (HL7 Transport Specification: MLLP,
//! Release 1, section 2). Nothing here reads a socket or waits: bytes are pushed in as they come and frames are taken
//! out, so that one connection costs no more memory than the limit and what the caller has not taken yet.

use std::collections::VecDeque;

const START: u8 = 0x0B;
const END: u8 = 0x1C;
/// Bytes of an overlong message that are kept, so that its header can still be answered.
const KEPT_OF_OVERLONG: usize = 4_096;

/// What stood on the connection.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Frame {
    /// One whole message, without its framing bytes.
    Message(Vec<u8>),
    /// A message that began and never ended: the next one began, or the connection closed.
    Unfinished(Vec<u8>),
    /// Bytes between frames that belong to no message.
    Stray {
        /// How many there were; they are not kept.
        n_bytes: u64,
    },
    /// A message longer than the limit. The rest of it is passed over until it ends.
    TooLong {
        /// How it began, at most 4,096 bytes and no more than the limit, so that its header can be answered.
        start: Vec<u8>,
        /// The limit it went over, in bytes.
        limit: usize,
    },
}

/// Cuts the bytes of one connection into frames.
///
/// A missing carriage return after the end of a frame is tolerated, and line ends between frames are passed over.
///
/// ```
/// use exchange::laboratory::mllp::{Frame, Frames, frame};
///
/// let mut frames = Frames::new(1_000);
/// let bytes = frame(b"MSH|^~\\&|LAB\r");
/// frames.push(&bytes[..5]);
/// assert_eq!(frames.next_frame(), None);
/// frames.push(&bytes[5..]);
/// assert_eq!(frames.next_frame(), Some(Frame::Message(b"MSH|^~\\&|LAB\r".to_vec())));
/// ```
#[derive(Debug)]
pub struct Frames {
    limit: usize,
    state: State,
    ready: VecDeque<Frame>,
}

#[derive(Debug)]
enum State {
    Between {
        n_stray: u64,
    },
    Inside(Vec<u8>),
    /// Inside a message that went over the limit.
    PassingOver,
}

impl Frames {
    /// A decoder that holds messages of up to `limit` bytes.
    pub fn new(limit: usize) -> Self {
        Self { limit, state: State::Between { n_stray: 0 }, ready: VecDeque::new() }
    }

    /// Takes in the next bytes of the connection.
    pub fn push(&mut self, bytes: &[u8]) {
        let mut rest = bytes;
        while !rest.is_empty() {
            let mark = rest.iter().position(|&byte| byte == START || byte == END);
            let (text, mark, left) = match mark {
                Some(at) => (&rest[..at], Some(rest[at]), &rest[at + 1..]),
                None => (rest, None, &[][..]),
            };
            self.text(text);
            match mark {
                Some(START) => self.start(),
                Some(_) => self.end(),
                None => {}
            }
            rest = left;
        }
    }

    /// The next frame, when there is a whole one.
    pub fn next_frame(&mut self) -> Option<Frame> {
        self.ready.pop_front()
    }

    /// Whether a message has begun and not ended yet, so that a receiver may wait only so long for the rest.
    pub fn is_inside(&self) -> bool {
        !matches!(self.state, State::Between { .. })
    }

    /// The connection has closed: what is left over becomes a frame.
    pub fn close(&mut self) {
        self.leave();
    }

    fn text(&mut self, text: &[u8]) {
        match &mut self.state {
            State::Between { n_stray } => {
                let stray = text.iter().filter(|byte| !byte.is_ascii_whitespace()).count();
                *n_stray = n_stray.saturating_add(stray as u64);
            }
            State::Inside(message) => {
                if message.len() + text.len() <= self.limit {
                    message.extend_from_slice(text);
                } else {
                    let mut start = std::mem::take(message);
                    start.extend_from_slice(text.get(..self.limit - start.len()).unwrap_or_default());
                    start.truncate(KEPT_OF_OVERLONG);
                    start.shrink_to_fit();
                    self.ready.push_back(Frame::TooLong { start, limit: self.limit });
                    self.state = State::PassingOver;
                }
            }
            State::PassingOver => {}
        }
    }

    fn start(&mut self) {
        self.leave();
        self.state = State::Inside(Vec::new());
    }

    /// The end of a frame. It may close a message, or stand by itself where none was open.
    fn end(&mut self) {
        match std::mem::replace(&mut self.state, State::Between { n_stray: 0 }) {
            State::Inside(message) => self.ready.push_back(Frame::Message(message)),
            State::PassingOver => {}
            State::Between { n_stray } => self.state = State::Between { n_stray: n_stray.saturating_add(1) },
        }
    }

    fn leave(&mut self) {
        match std::mem::replace(&mut self.state, State::Between { n_stray: 0 }) {
            State::Inside(message) => self.ready.push_back(Frame::Unfinished(message)),
            State::Between { n_stray } if n_stray > 0 => {
                self.ready.push_back(Frame::Stray { n_bytes: n_stray });
            }
            State::Between { .. } | State::PassingOver => {}
        }
    }
}

/// Puts a message into a frame for the wire.
pub fn frame(message: &[u8]) -> Vec<u8> {
    let mut framed = Vec::with_capacity(message.len() + 3);
    framed.push(START);
    framed.extend_from_slice(message);
    framed.extend_from_slice(&[END, b'\r']);
    framed
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn all(frames: &mut Frames) -> Vec<Frame> {
        std::iter::from_fn(|| frames.next_frame()).collect()
    }

    /// Pushed whole and pushed byte by byte, the same frames come out.
    #[track_caller]
    fn check(bytes: &[u8], limit: usize, expected: &[Frame]) {
        let mut whole = Frames::new(limit);
        whole.push(bytes);
        whole.close();
        assert_eq!(all(&mut whole), expected);
        let mut slow = Frames::new(limit);
        bytes.iter().for_each(|byte| slow.push(&[*byte]));
        slow.close();
        assert_eq!(all(&mut slow), expected, "byte by byte");
    }

    fn message(text: &str) -> Frame {
        Frame::Message(text.as_bytes().to_vec())
    }

    /// The framing bytes are those of the MLLP specification, Release 1: 0x0B before, 0x1C 0x0D after.
    #[test]
    fn frames_are_those_of_the_specification() {
        assert_eq!(frame(b"MSH"), [0x0B, b'M', b'S', b'H', 0x1C, 0x0D]);
        check(b"\x0BMSH|1\r\x1C\r\x0BMSH|2\r\x1C\r", 100, &[message("MSH|1\r"), message("MSH|2\r")]);
    }

    #[test]
    fn what_is_not_a_frame_is_named() {
        check(b"\x0BA\x1C\x0BB\x1C\r\n", 100, &[message("A"), message("B")]);
        check(b"GET / HTTP/1.1\r\n\x0BA\x1C\r", 100, &[Frame::Stray { n_bytes: 12 }, message("A")]);
        check(b"\x0BA\x0BB\x1C\r", 100, &[Frame::Unfinished(b"A".to_vec()), message("B")]);
        check(b"\x0BA\x1C\r\x0BB", 100, &[message("A"), Frame::Unfinished(b"B".to_vec())]);
        check(b"\x1C\r\x0B\x1C\r", 100, &[Frame::Stray { n_bytes: 1 }, message("")]);
    }

    #[test]
    fn a_message_over_the_limit_is_passed_over_and_the_next_is_read() {
        check(
            b"\x0BABCDEFGH\x1C\r\x0BAB\x1C\r",
            4,
            &[Frame::TooLong { start: b"ABCD".to_vec(), limit: 4 }, message("AB")],
        );
    }

    #[test]
    fn a_message_that_has_begun_is_told_from_one_that_has_ended() {
        let mut frames = Frames::new(100);
        frames.push(b"\r\n");
        assert!(!frames.is_inside());
        frames.push(b"\x0BMSH|");
        assert!(frames.is_inside());
        frames.push(b"\x1C");
        assert!(!frames.is_inside());
    }

    #[test]
    fn an_overlong_message_takes_no_memory() {
        let mut frames = Frames::new(100_000);
        frames.push(b"\x0BMSH|");
        for _ in 0..2_000 {
            frames.push(&[b'x'; 1_000]);
        }
        assert!(matches!(frames.state, State::PassingOver));
        let found = all(&mut frames);
        assert!(
            matches!(found.as_slice(), [Frame::TooLong { start, limit: 100_000 }] if start.len() == 4_096)
        );
    }

    proptest! {
        /// However the bytes are cut, the frames are the same; messages put in come out.
        #[test]
        fn messages_come_out_as_they_went_in(
            messages in prop::collection::vec(prop::collection::vec(0x20_u8..=0xFF, 0..40), 0..6),
            size in 1_usize..17,
        ) {
            let bytes: Vec<u8> = messages.iter().flat_map(|message| frame(message)).collect();
            let mut frames = Frames::new(40);
            bytes.chunks(size).for_each(|chunk| frames.push(chunk));
            frames.close();
            let found = all(&mut frames);
            prop_assert_eq!(found, messages.into_iter().map(Frame::Message).collect::<Vec<_>>());
        }
    }
}
