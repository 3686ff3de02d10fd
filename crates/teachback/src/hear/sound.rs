//! How alike two words sound, for words a recogniser misheard.
//!
//! A plain code for English of our own: letters become classes of sounds, voiced and unvoiced consonants meet, every vowel
//! is one sound. It knows no dictionary.

/// The sounds of a word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Sound {
    code: Vec<u8>,
    /// One bit for each kind of sound in it: a quick way to see that two words differ too much.
    kinds: u32,
}

/// What a missing, added or different vowel costs, against 1 for a consonant.
const VOWEL: f64 = 0.35;
/// What two consonants of one family cost ("m" for "n").
const FAMILY: f64 = 0.5;
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
        let kinds = code.iter().fold(0, |kinds, sound| kinds | 1 << (sound - b'a'));
        Sound { code, kinds }
    }

    pub(super) fn len(&self) -> usize {
        self.code.len()
    }

    /// 1 for words that sound the same, towards 0 for words that do not. Returns 0 early where they cannot be alike.
    pub(super) fn alike(&self, other: &Sound) -> f64 {
        let longest = self.len().max(other.len());
        if longest == 0
            || self.len().abs_diff(other.len()) * 2 > longest
            || (self.kinds ^ other.kinds).count_ones() > MOST_KINDS
        {
            return 0.0;
        }
        let cost = |sound: u8| if sound == b'a' { VOWEL } else { 1.0 };
        let mut above: Vec<f64> = vec![0.0];
        for sound in &other.code {
            above.push(above[above.len() - 1] + cost(*sound));
        }
        let mut row = vec![0.0; above.len()];
        for one in &self.code {
            row[0] = above[0] + cost(*one);
            for (at, two) in other.code.iter().enumerate() {
                let change = if one == two {
                    0.0
                } else if *one != b'a' && *two != b'a' && family(*one) == family(*two) {
                    FAMILY
                } else {
                    1.0
                };
                row[at + 1] = (above[at] + change).min(above[at + 1] + cost(*one)).min(row[at] + cost(*two));
            }
            std::mem::swap(&mut above, &mut row);
        }
        // Where words begin is heard best.
        let begins = match (self.code.first(), other.code.first()) {
            (Some(one), Some(two)) if one != two && family(*one) != family(*two) => FAMILY,
            _ => 0.0,
        };
        let longer = if self.len() >= other.len() { self } else { other };
        let weight: f64 = longer.code.iter().map(|sound| cost(*sound)).sum();
        (1.0 - (above[other.code.len()] + begins) / weight.max(1.0)).max(0.0)
    }
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
        let alike = |one: &str, two: &str| Sound::of(one).alike(&Sound::of(two));
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
