//! Rows, specimen numbers and patients as hashes.

use std::hash::{BuildHasher, Hasher};

use foldhash::quality::FixedState;
use memchr::memchr;
use siphasher::sip128::{Hasher128, SipHasher13};

/// Gives a row of cells a number that no other row has, but for an accident of one in 2^48.
pub(super) struct Digests {
    state: FixedState,
    separator: u8,
    scratch: Vec<u8>,
}

impl Digests {
    pub(super) fn new(seed: u64, separator: u8) -> Self {
        Self { state: FixedState::with_seed(seed), separator, scratch: Vec::new() }
    }

    /// Of a row that holds nothing but its cells and what parts them.
    pub(super) fn of_text(&self, row: &[u8]) -> u64 {
        self.state.hash_one(row)
    }

    /// Of trimmed cells. It is that of the row as it stands where the row holds nothing but them and what parts them.
    pub(super) fn of_cells<'c>(&mut self, cells: impl Iterator<Item = &'c [u8]> + Clone) -> u64 {
        // A cell that holds a separator must not look like two cells; 0xFF stands in no UTF-8 text.
        let holds_separator = cells.clone().any(|cell| memchr(self.separator, cell).is_some());
        let between = if holds_separator { 0xFF } else { self.separator };
        self.scratch.clear();
        for (n, cell) in cells.enumerate() {
            if n > 0 {
                self.scratch.push(between);
            }
            self.scratch.extend_from_slice(cell);
        }
        self.state.hash_one(self.scratch.as_slice())
    }
}

pub(super) fn specimen_hash(text: &[u8]) -> u32 {
    let mut hasher = foldhash::fast::FixedState::default().build_hasher();
    hasher.write(text);
    (hasher.finish() >> 32) as u32
}

/// The keyed hash under which a patient is known until the program ends.
pub(super) fn patient_hash(key: SipHasher13, identifier: &[u8]) -> u128 {
    let mut hasher = key;
    hasher.write(identifier);
    hasher.finish128().as_u128()
}
