//! Cells that occur again and again, as numbers.

use std::collections::HashMap;

use foldhash::fast::FixedState;

/// Most different texts of one column. A column with more of them is read the general way.
pub(super) const MOST_TEXTS: usize = 1 << 18;

/// Texts met lately, found without hashing them whole; a power of two.
const N_RECENT: usize = 1 << RECENT_BITS;
const RECENT_BITS: u32 = 10;
/// A text of up to so many bytes is told by its first and last 16.
const LONGEST_SHORT: usize = 32;

/// The different texts of one column, numbered in the order in which they were met.
pub(super) struct Texts {
    codes: HashMap<Box<[u8]>, u32, FixedState>,
    recent: Vec<Recent>,
    /// Texts met since they were last handed on.
    fresh: Vec<String>,
}

#[derive(Clone, Copy)]
struct Recent {
    text: Short,
    code: u32,
}

/// A short text: equal when the texts are.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Short {
    words: [u64; 4],
    length: u32,
}

impl Short {
    /// The length of no short text.
    const NONE: Self = Self { words: [0; 4], length: u32::MAX };

    /// `None` for a text that is too long, or too near the end of its block to be read in words.
    fn of(bytes: &[u8], start: usize, end: usize) -> Option<Self> {
        let length = end - start;
        let word = |at: usize| {
            let word = bytes.get(at..at + 8)?;
            Some(u64::from_le_bytes(word.try_into().ok()?))
        };
        let words = match length {
            0 => [0; 4],
            1..8 => [word(start)? & (u64::MAX >> (64 - 8 * length)), 0, 0, 0],
            8..=16 => [word(start)?, word(end - 8)?, 0, 0],
            17..=LONGEST_SHORT => [word(start)?, word(end - 8)?, word(start + 8)?, word(end - 16)?],
            _ => return None,
        };
        Some(Self { words, length: length as u32 })
    }

    fn place(&self) -> usize {
        // The golden ratio's bits; what collides is only found more slowly.
        const ODD: u64 = 0x9E37_79B9_7F4A_7C15;
        let [one, two, three, four] = self.words;
        let mixed = one ^ two.rotate_left(21) ^ three.rotate_left(11) ^ four.rotate_left(43);
        ((mixed ^ u64::from(self.length)).wrapping_mul(ODD) >> (64 - RECENT_BITS)) as usize
    }
}

impl Texts {
    pub(super) fn new() -> Self {
        Self {
            codes: HashMap::with_hasher(FixedState::default()),
            recent: vec![Recent { text: Short::NONE, code: 0 }; N_RECENT],
            fresh: Vec::new(),
        }
    }

    /// The number of the text that stands there. `None` when there are too many different ones.
    pub(super) fn code(&mut self, bytes: &[u8], start: usize, end: usize) -> Option<u32> {
        let Some(text) = Short::of(bytes, start, end) else { return self.code_of(&bytes[start..end]) };
        let place = text.place();
        if self.recent[place].text == text {
            return Some(self.recent[place].code);
        }
        let code = self.code_of(&bytes[start..end])?;
        self.recent[place] = Recent { text, code };
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// Equal texts have one number, different ones have two, wherever in the block they stand.
        #[test]
        fn a_number_stands_for_one_text(cells in prop::collection::vec("[ab]{0,3}|a{5,40}|[ab]{15,18}", 1..60)) {
            let block = cells.join(",");
            let mut texts = Texts::new();
            let mut known: Vec<&str> = Vec::new();
            let mut start = 0;
            for cell in &cells {
                let code = texts.code(block.as_bytes(), start, start + cell.len()).unwrap();
                let place = known.iter().position(|known| known == cell).unwrap_or_else(|| {
                    known.push(cell);
                    known.len() - 1
                });
                prop_assert_eq!(code as usize, place);
                start += cell.len() + 1;
            }
            prop_assert_eq!(texts.take_fresh(), known);
        }
    }
}
