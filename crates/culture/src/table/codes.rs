//! Columns of small numbers in as few bytes as they need.

use super::NOT_KNOWN;

/// A code for each set: one byte, two or four, as the largest code asks for, and none while no code is known.
#[derive(Debug, Clone)]
pub struct Codes(Width);

#[derive(Debug, Clone)]
enum Width {
    /// So many sets, whose code is not known.
    None(usize),
    One(Vec<u8>),
    Two(Vec<u16>),
    Four(Vec<u32>),
}

impl Default for Codes {
    fn default() -> Self {
        Self(Width::None(0))
    }
}

impl Codes {
    /// One more set; [`NOT_KNOWN`] where its code is not known.
    pub fn push(&mut self, code: u32) {
        match &mut self.0 {
            Width::None(n) if code == NOT_KNOWN => *n += 1,
            Width::One(codes) if code < u32::from(u8::MAX) => codes.push(code as u8),
            Width::One(codes) if code == NOT_KNOWN => codes.push(u8::MAX),
            Width::Two(codes) if code < u32::from(u16::MAX) => codes.push(code as u16),
            Width::Two(codes) if code == NOT_KNOWN => codes.push(u16::MAX),
            Width::Four(codes) => codes.push(code),
            _ => {
                self.widen(code);
                self.push(code);
            }
        }
    }

    /// The code of a set; [`NOT_KNOWN`] where it is not known, and beyond the last.
    pub fn get(&self, place: usize) -> u32 {
        let code = match &self.0 {
            Width::None(_) => None,
            Width::One(codes) => {
                codes.get(place).filter(|code| **code < u8::MAX).map(|code| u32::from(*code))
            }
            Width::Two(codes) => {
                codes.get(place).filter(|code| **code < u16::MAX).map(|code| u32::from(*code))
            }
            Width::Four(codes) => codes.get(place).copied(),
        };
        code.unwrap_or(NOT_KNOWN)
    }

    /// Gives a set another code. Nothing happens beyond the last set.
    pub fn set(&mut self, place: usize, code: u32) {
        if place >= self.len() {
            return;
        }
        match &mut self.0 {
            Width::None(_) if code == NOT_KNOWN => {}
            Width::One(codes) if code < u32::from(u8::MAX) => codes[place] = code as u8,
            Width::One(codes) if code == NOT_KNOWN => codes[place] = u8::MAX,
            Width::Two(codes) if code < u32::from(u16::MAX) => codes[place] = code as u16,
            Width::Two(codes) if code == NOT_KNOWN => codes[place] = u16::MAX,
            Width::Four(codes) => codes[place] = code,
            _ => {
                self.widen(code);
                self.set(place, code);
            }
        }
    }

    /// Room for the code in every set, whatever is there already.
    fn widen(&mut self, code: u32) {
        let codes = (0..self.len()).map(|place| self.get(place));
        self.0 = if code < u32::from(u8::MAX) {
            Width::One(codes.map(|code| u8::try_from(code).unwrap_or(u8::MAX)).collect())
        } else if code < u32::from(u16::MAX) {
            Width::Two(codes.map(|code| u16::try_from(code).unwrap_or(u16::MAX)).collect())
        } else {
            Width::Four(codes.collect())
        };
    }

    /// How many sets there are.
    pub fn len(&self) -> usize {
        match &self.0 {
            Width::None(n) => *n,
            Width::One(codes) => codes.len(),
            Width::Two(codes) => codes.len(),
            Width::Four(codes) => codes.len(),
        }
    }

    /// Whether there is no set.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Whether every code that is known is below a number.
    pub(crate) fn all_below(&self, limit: usize) -> bool {
        match &self.0 {
            Width::None(_) => true,
            Width::One(codes) => codes.iter().all(|code| *code == u8::MAX || usize::from(*code) < limit),
            Width::Two(codes) => codes.iter().all(|code| *code == u16::MAX || usize::from(*code) < limit),
            Width::Four(codes) => codes.iter().all(|code| *code == NOT_KNOWN || (*code as usize) < limit),
        }
    }
}

impl FromIterator<u32> for Codes {
    fn from_iter<I: IntoIterator<Item = u32>>(codes: I) -> Self {
        let mut all = Self::default();
        for code in codes {
            all.push(code);
        }
        all
    }
}

/// A few codes each, for sets most of which have none.
#[derive(Debug, Clone, Default)]
pub struct SparseCodes {
    /// The set of each code; sets are in order.
    sets: Vec<u32>,
    codes: Vec<u32>,
    /// How many codes stand before those of each group of sets.
    starts: Vec<u32>,
}

/// Sets in a group.
const GROUP: u32 = 16;

impl SparseCodes {
    /// One more code of a set. Sets come in order: nothing happens where a later set has a code already, and where
    /// there are more codes than a column holds.
    pub fn push(&mut self, set: u32, code: u32) {
        let Ok(n) = u32::try_from(self.codes.len()) else { return };
        if self.sets.last().is_some_and(|last| *last > set) {
            return;
        }
        let group = (set / GROUP) as usize;
        if self.starts.len() <= group {
            self.starts.resize(group + 1, n);
        }
        self.sets.push(set);
        self.codes.push(code);
    }

    /// The codes of a set.
    pub fn get(&self, set: usize) -> &[u32] {
        let group = set / GROUP as usize;
        let Some(start) = self.starts.get(group) else { return &[] };
        let start = *start as usize;
        let end = self.starts.get(group + 1).map_or(self.codes.len(), |end| *end as usize);
        if start == end {
            return &[];
        }
        let sets = &self.sets[start..end];
        let before = sets.iter().take_while(|of| (**of as usize) < set).count();
        let own = sets[before..].iter().take_while(|of| **of as usize == set).count();
        &self.codes[start + before..start + before + own]
    }

    /// Every code, set after set.
    pub fn codes(&self) -> &[u32] {
        &self.codes
    }

    /// The last set that has a code.
    pub(crate) fn last_set(&self) -> Option<u32> {
        self.sets.last().copied()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn code() -> impl Strategy<Value = u32> {
        prop_oneof![
            20 => 0_u32..300,
            4 => Just(NOT_KNOWN),
            2 => 65_530_u32..65_540,
            1 => any::<u32>(),
        ]
    }

    proptest! {
        /// Against a plain list.
        #[test]
        fn codes_come_back(codes in prop::collection::vec(code(), 0..40), changes in prop::collection::vec((0_usize..50, code()), 0..20)) {
            let mut plain = codes.clone();
            let mut column: Codes = codes.into_iter().collect();
            for (place, code) in changes {
                if let Some(known) = plain.get_mut(place) {
                    *known = code;
                }
                column.set(place, code);
            }
            prop_assert_eq!(column.len(), plain.len());
            let there: Vec<u32> = (0..plain.len()).map(|place| column.get(place)).collect();
            prop_assert_eq!(&there, &plain);
            prop_assert_eq!(column.get(plain.len()), NOT_KNOWN);
            let most = plain.iter().filter(|code| **code != NOT_KNOWN).max().copied();
            prop_assert!(most.is_none_or(|most| !column.all_below(most as usize)));
            prop_assert!(column.all_below(most.map_or(0, |most| most as usize + 1)));
        }

        #[test]
        fn few_codes_come_back(lists in prop::collection::vec(prop_oneof![6 => Just(vec![]), 1 => prop::collection::vec(0_u32..9, 1..4)], 0..300)) {
            let mut column = SparseCodes::default();
            for (set, list) in (0_u32..).zip(&lists) {
                for code in list {
                    column.push(set, *code);
                }
            }
            for (set, list) in lists.iter().enumerate() {
                prop_assert_eq!(column.get(set), list.as_slice());
            }
            prop_assert!(column.get(lists.len()).is_empty());
        }
    }
}
