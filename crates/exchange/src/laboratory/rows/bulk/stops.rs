//! Where cells may end: separators and line ends, found many bytes at a time.

use fearless_simd::prelude::*;
use fearless_simd::{Level, dispatch, u8x64};

/// The bytes of a block at which a cell without quotation marks ends, one bit for each byte.
pub(super) struct Stops {
    words: Vec<u64>,
    level: Level,
}

impl Stops {
    pub(super) fn new() -> Self {
        Self { words: Vec::new(), level: Level::new() }
    }

    /// Finds the stops of a block. Says whether all of it is ASCII.
    pub(super) fn mark(&mut self, bytes: &[u8], separator: u8) -> bool {
        self.words.clear();
        let words = &mut self.words;
        dispatch!(self.level, simd => mark(simd, bytes, separator, words))
    }

    /// The first stop at or after a place.
    pub(super) fn next(&self, at: usize) -> Option<usize> {
        let mut number = at / 64;
        let mut word = self.words.get(number)? & (u64::MAX << (at % 64));
        while word == 0 {
            number += 1;
            word = *self.words.get(number)?;
        }
        Some(number * 64 + word.trailing_zeros() as usize)
    }
}

#[inline(always)]
fn mark<S: Simd>(simd: S, bytes: &[u8], separator: u8, words: &mut Vec<u64>) -> bool {
    let separators = u8x64::splat(simd, separator);
    let mut seen = u8x64::splat(simd, 0);
    let (chunks, rest) = bytes.as_chunks::<64>();
    words.reserve(chunks.len() + 1);
    for chunk in chunks {
        let chunk = u8x64::from_slice(simd, chunk);
        seen |= chunk;
        words.push(stops(simd, chunk, separators));
    }
    let mut last = [0_u8; 64];
    last[..rest.len()].copy_from_slice(rest);
    let chunk = u8x64::from_slice(simd, &last);
    seen |= chunk;
    // What stands beyond the end is no stop, even where nought is the separator.
    words.push(stops(simd, chunk, separators) & ((1 << rest.len()) - 1));
    seen.simd_ge(u8x64::splat(simd, 0x80)).to_bitmask() == 0
}

/// A function and no closure, so that it is compiled for the processor its caller was chosen for.
#[inline(always)]
fn stops<S: Simd>(simd: S, chunk: u8x64<S>, separators: u8x64<S>) -> u64 {
    let line_ends = chunk.simd_eq(u8x64::splat(simd, b'\n')) | chunk.simd_eq(u8x64::splat(simd, b'\r'));
    (chunk.simd_eq(separators) | line_ends).to_bitmask()
}

/// How many bytes two texts begin with alike.
pub(super) fn alike(one: &[u8], other: &[u8]) -> usize {
    let n = one.len().min(other.len());
    let (ones, _) = one[..n].as_chunks::<8>();
    let (others, _) = other[..n].as_chunks::<8>();
    for (place, (one, other)) in ones.iter().zip(others).enumerate() {
        let differ = u64::from_le_bytes(*one) ^ u64::from_le_bytes(*other);
        if differ != 0 {
            return place * 8 + differ.trailing_zeros() as usize / 8;
        }
    }
    let start = ones.len() * 8;
    start + one[start..n].iter().zip(&other[start..n]).take_while(|(one, other)| one == other).count()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// Against a search byte by byte.
        #[test]
        fn every_stop_is_found(text in "[a,\\n\\r\u{0}]{0,300}|[é,]{0,100}|[a,]{60,70}", separator in prop::sample::select(&b",\0"[..])) {
            let bytes = text.as_bytes();
            let mut stops = Stops::new();
            prop_assert_eq!(stops.mark(bytes, separator), text.is_ascii());
            for at in 0..=bytes.len() + 1 {
                let plain = (at..bytes.len())
                    .find(|place| [separator, b'\n', b'\r'].contains(&bytes[*place]));
                prop_assert_eq!(stops.next(at), plain, "from {}", at);
            }
        }

        #[test]
        fn texts_are_alike_up_to_the_first_byte_that_differs(one in "[ab]{0,40}", other in "[ab]{0,40}", same in "[ab]{0,40}") {
            let (one, other) = (same.clone() + &one, same + &other);
            let plain = one.bytes().zip(other.bytes()).take_while(|(one, other)| one == other).count();
            prop_assert_eq!(alike(one.as_bytes(), other.as_bytes()), plain);
        }
    }
}
