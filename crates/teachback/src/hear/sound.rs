//! How alike two words sound, for words a recogniser misheard.
//!
//! A plain code for English of our own: letters become classes of sounds, voiced and unvoiced consonants meet, every vowel
//! is one sound. It knows no dictionary.

/// The sounds of a word.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sound {
    code: Vec<u8>,
    /// One bit for each kind of sound in it: a quick way to see that two words differ too much.
    kinds: u32,
    n_consonants: usize,
    /// Consonants of each family.
    families: [u8; FAMILIES],
    /// What it would cost to leave every sound out.
    weight: f64,
}

/// Families of consonants; every consonant belongs to one.
const FAMILIES: usize = 8;
/// What a missing, added or different vowel costs, against 1 for a consonant.
const VOWEL: f64 = 0.35;
/// What two consonants of one family cost ("m" for "n").
const FAMILY: f64 = 0.5;
/// Sounds of a word that are looked at.
const LONGEST: usize = 40;
/// Sounds by which the longest words looked at may differ in kind.
const MOST_KINDS: u32 = 4;

impl Sound {
    pub(super) fn of(word: &str) -> Sound {
        let letters: Vec<char> = word.chars().filter(|letter| letter.is_alphabetic()).collect();
        let mut code: Vec<u8> = Vec::with_capacity(letters.len());
        let mut at = 0;
        while at < letters.len() {
            let next = letters.get(at + 1).copied();
            let (sounds, used): (&[u8], usize) = match (letters[at], next) {
                ('p', Some('h')) => (b"f", 2),
                ('g', Some('h')) => (b"", 2),
                ('c' | 's', Some('h')) => (b"j", 2),
                ('t', Some('h')) => (b"t", 2),
                ('c', Some('k')) => (b"k", 2),
                ('k', Some('n')) => (b"n", 2),
                ('w', Some('r')) => (b"r", 2),
                ('w', Some('h')) => (b"w", 2),
                ('c', Some('e' | 'i' | 'y')) => (b"s", 1),
                ('c' | 'k' | 'q' | 'g', _) => (b"k", 1),
                ('x', _) => (b"ks", 1),
                ('s' | 'z', _) => (b"s", 1),
                ('b' | 'p', _) => (b"p", 1),
                ('d' | 't', _) => (b"t", 1),
                ('f' | 'v', _) => (b"f", 1),
                ('j', _) => (b"j", 1),
                ('l', _) => (b"l", 1),
                ('m', _) => (b"m", 1),
                ('n', _) => (b"n", 1),
                ('r', _) => (b"r", 1),
                ('w', _) => (b"w", 1),
                ('h', _) => (b"", 1),
                // A last "e" is not heard.
                ('e', None) if at > 1 => (b"", 1),
                ('a' | 'e' | 'i' | 'o' | 'u' | 'y', _) => (b"a", 1),
                _ => (b"", 1),
            };
            for sound in sounds {
                if code.last() != Some(sound) {
                    code.push(*sound);
                }
            }
            at += used;
        }
        code.truncate(LONGEST);
        let kinds = code.iter().fold(0, |kinds, sound| kinds | 1 << (sound - b'a'));
        let n_consonants = code.iter().filter(|sound| **sound != b'a').count();
        let weight = code.iter().map(|sound| cost(*sound)).sum();
        let mut families = [0; FAMILIES];
        for sound in code.iter().filter(|sound| **sound != b'a') {
            families[usize::from(family(*sound)) % FAMILIES] += 1;
        }
        Sound { code, kinds, n_consonants, families, weight }
    }

    pub(super) fn n_consonants(&self) -> usize {
        self.n_consonants
    }

    /// Fewest and most consonants of words whose sounds differ by no more than this share of the longer word's weight.
    pub(super) fn consonants_within(&self, share: f64) -> (usize, usize) {
        let fewer = (share * self.weight.max(1.0) + 1e-9) as usize;
        // Two vowels never stand side by side, so a word of n consonants weighs at most n + (n + 1) vowels.
        let weight = |n: usize| (n as f64 + (n as f64 + 1.0) * VOWEL).max(1.0);
        let n = self.n_consonants;
        let more = (n..=LONGEST)
            .take_while(|most| (most - n) as f64 <= share * weight(*most).max(self.weight) + 1e-9);
        (n.saturating_sub(fewer), more.last().unwrap_or(n))
    }

    pub(super) fn len(&self) -> usize {
        self.code.len()
    }

    /// The least that making one word's consonants from the other's costs: a consonant of another family costs as much as one left out.
    fn least_cost(&self, other: &Sound) -> f64 {
        let apart = self.families.iter().zip(&other.families).map(|(one, two)| u16::from(one.abs_diff(*two)));
        let apart: u16 = apart.sum();
        // What one has too many and what the other has: the greater of both sums.
        f64::from(u16::midpoint(
            apart,
            u16::try_from(self.n_consonants.abs_diff(other.n_consonants)).unwrap_or(0),
        ))
    }

    /// 1 for words that sound the same, towards 0 for words that do not; 0 for all that are less alike than `least`.
    pub(super) fn alike(&self, other: &Sound, least: f64) -> f64 {
        let longest = self.len().max(other.len());
        if longest == 0
            || self.len().abs_diff(other.len()) * 2 > longest
            || (self.kinds ^ other.kinds).count_ones() > MOST_KINDS
        {
            return 0.0;
        }
        let longer = if self.len() >= other.len() { self } else { other };
        let weight = longer.weight.max(1.0);
        // Most pairs end here. A hair's breadth is left, so that rounding never decides.
        if 1.0 - self.least_cost(other) / weight < least - 1e-9 {
            return 0.0;
        }
        // Where words begin is heard best.
        let begins = match (self.code.first(), other.code.first()) {
            (Some(one), Some(two)) if one != two && family(*one) != family(*two) => FAMILY,
            _ => 0.0,
        };
        // Consonants that one word lacks cost at least this much, whatever the rest: most words differ too much already.
        let only_in = |one: u32, two: u32| f64::from((one & !two & !1).count_ones());
        let changed = only_in(self.kinds, other.kinds).max(only_in(other.kinds, self.kinds)) * FAMILY;
        let counted = self.n_consonants.abs_diff(other.n_consonants) as f64;
        if 1.0 - (changed.max(counted) + begins) / weight < least {
            return 0.0;
        }
        let most = (1.0 - least) * weight - begins + 1e-9;
        let alike = (1.0 - (self.distance(other, most) + begins) / weight).max(0.0);
        if alike < least { 0.0 } else { alike }
    }

    /// Least cost of making one word's sounds from the other's; infinite once it is sure to be more than `most`.
    fn distance(&self, other: &Sound, most: f64) -> f64 {
        let n = other.len();
        let (mut above, mut row) = ([0.0; LONGEST + 1], [0.0; LONGEST + 1]);
        for (at, sound) in other.code.iter().enumerate() {
            above[at + 1] = above[at] + cost(*sound);
        }
        for one in &self.code {
            row[0] = above[0] + cost(*one);
            let mut least = row[0];
            for (at, two) in other.code.iter().enumerate() {
                let change = if one == two {
                    0.0
                } else if *one != b'a' && *two != b'a' && family(*one) == family(*two) {
                    FAMILY
                } else {
                    1.0
                };
                row[at + 1] = (above[at] + change).min(above[at + 1] + cost(*one)).min(row[at] + cost(*two));
                least = least.min(row[at + 1]);
            }
            if least > most {
                return f64::INFINITY;
            }
            std::mem::swap(&mut above, &mut row);
        }
        above[n]
    }
}

fn cost(sound: u8) -> f64 {
    if sound == b'a' { VOWEL } else { 1.0 }
}

fn family(sound: u8) -> u8 {
    match sound {
        b'm' | b'n' => 1,
        b's' | b'j' => 2,
        b'p' | b'f' => 3,
        b'l' | b'r' | b'w' => 4,
        b't' | b'k' => 5,
        _ => sound,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_that_sound_alike_are_near() {
        let alike = |one: &str, two: &str| Sound::of(one).alike(&Sound::of(two), 0.0);
        for (one, two) in
            [("vein", "vain"), ("site", "side"), ("chlorhexidine", "clorhexadeen"), ("bottle", "bottel")]
        {
            assert!(alike(one, two) > 0.8, "{one} {two} {}", alike(one, two));
        }
        for (one, two) in [("needle", "bottle"), ("clamp", "gauze"), ("glove", "finger")] {
            assert!(alike(one, two) < 0.6, "{one} {two} {}", alike(one, two));
        }
        assert_eq!(alike("", "word"), 0.0);
    }
}
