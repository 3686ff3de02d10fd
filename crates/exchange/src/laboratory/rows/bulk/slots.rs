//! Finds the place of a thing in a list by its hash.

/// Places in a list by the hashes of what stands there: open addressing, linear probing, eight bytes a slot.
///
/// The slot of a hash follows from its upper bits, so the table grows by one pass in order and without the things
/// themselves.
pub(super) struct Slots {
    /// 0 where nothing is; else the hash above and the place plus one below.
    slots: Vec<u64>,
    bits: u32,
    len: usize,
}

impl Default for Slots {
    fn default() -> Self {
        Self::new()
    }
}

impl Slots {
    pub(super) fn new() -> Self {
        const BITS: u32 = 12;
        Self { slots: vec![0; 1 << BITS], bits: BITS, len: 0 }
    }

    fn slot(&self, hash: u32) -> usize {
        (hash >> (32 - self.bits)) as usize
    }

    /// Reads the slot where a search for this hash begins. Done for many hashes before they are looked up, the reads
    /// wait for memory side by side instead of one after the other.
    pub(super) fn touch(&self, hash: u32) -> u64 {
        self.slots[self.slot(hash)]
    }

    /// The place whose hash is this one and that is the one sought.
    pub(super) fn find(&self, hash: u32, mut is_it: impl FnMut(usize) -> bool) -> Option<usize> {
        let mut at = self.slot(hash);
        loop {
            let entry = self.slots[at];
            if entry == 0 {
                return None;
            }
            if (entry >> 32) as u32 == hash {
                let place = (entry as u32) as usize - 1;
                if is_it(place) {
                    return Some(place);
                }
            }
            at = (at + 1) & (self.slots.len() - 1);
        }
    }

    /// Puts a place in that is not there yet. Places go up to 2^32 - 2.
    pub(super) fn insert(&mut self, hash: u32, place: u32) {
        // At two thirds the runs of full slots are still short.
        if self.len * 3 >= self.slots.len() * 2 && self.bits < 32 {
            self.grow();
        }
        self.put(u64::from(hash) << 32 | u64::from(place + 1));
        self.len += 1;
    }

    fn put(&mut self, entry: u64) {
        let mask = self.slots.len() - 1;
        let mut at = self.slot((entry >> 32) as u32);
        while self.slots[at] != 0 {
            at = (at + 1) & mask;
        }
        self.slots[at] = entry;
    }

    fn grow(&mut self) {
        self.bits += 1;
        let old = std::mem::replace(&mut self.slots, vec![0; 1 << self.bits]);
        for entry in old.into_iter().filter(|entry| *entry != 0) {
            self.put(entry);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use super::*;

    /// Against the standard library's map, with hashes that collide on purpose.
    #[test]
    fn every_thing_is_found_and_nothing_else() {
        let hash = |thing: u32| thing.wrapping_mul(0x9E37_79B9) & 0xFFFF_F000;
        let mut slots = Slots::new();
        let mut things = Vec::new();
        let mut plain = HashMap::new();
        for step in 0_u32..50_000 {
            let thing = step.wrapping_mul(7) % 30_011;
            let found = slots.find(hash(thing), |place| things[place] == thing);
            assert_eq!(found, plain.get(&thing).copied());
            if found.is_none() {
                slots.insert(hash(thing), things.len() as u32);
                plain.insert(thing, things.len());
                things.push(thing);
            }
        }
        assert_eq!(things.len(), 30_011);
    }
}
