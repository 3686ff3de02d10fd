//! Cells that occur again and again, as numbers.

use std::collections::HashMap;

use foldhash::fast::FixedState;

/// Most different texts of one column. A column with more of them is read the general way.
pub(super) const MOST_TEXTS: usize = 1 << 18;

/// The different texts of one column, numbered in the order in which they were met.
pub(super) struct Texts {
    codes: HashMap<Box<[u8]>, u32, FixedState>,
    /// Texts met since they were last handed on.
    fresh: Vec<String>,
    /// Where the text of the row above stood, and its number.
    above: (usize, usize),
    above_code: u32,
}

impl Texts {
    pub(super) fn new() -> Self {
        Self {
            codes: HashMap::with_hasher(FixedState::default()),
            fresh: Vec::new(),
            above: (0, 0),
            above_code: u32::MAX,
        }
    }

    /// A new block begins: the row above is not in it.
    pub(super) fn start_block(&mut self) {
        self.above_code = u32::MAX;
    }

    /// The number of the text that stands there. `None` when there are too many different ones.
    pub(super) fn code(&mut self, bytes: &[u8], start: usize, end: usize) -> Option<u32> {
        let text = &bytes[start..end];
        if self.above_code != u32::MAX && &bytes[self.above.0..self.above.1] == text {
            return Some(self.above_code);
        }
        let code = self.code_of(text)?;
        self.above = (start, end);
        self.above_code = code;
        Some(code)
    }

    /// The number of a text.
    pub(super) fn code_of(&mut self, text: &[u8]) -> Option<u32> {
        if let Some(code) = self.codes.get(text) {
            return Some(*code);
        }
        if self.codes.len() >= MOST_TEXTS {
            return None;
        }
        let code = u32::try_from(self.codes.len()).ok()?;
        self.codes.insert(text.into(), code);
        // Blocks are checked to be UTF-8 before they are scanned, so nothing is replaced here.
        self.fresh.push(String::from_utf8_lossy(text).into_owned());
        Some(code)
    }

    /// The texts met since the last call, in order.
    pub(super) fn take_fresh(&mut self) -> Vec<String> {
        std::mem::take(&mut self.fresh)
    }
}
