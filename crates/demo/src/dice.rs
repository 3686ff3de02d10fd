use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of chance for one purpose, the same on every machine.
///
/// Only the raw ChaCha8 words come from the library; every sampler is here and uses whole numbers, so neither a
/// new version of a random library nor a platform's floating point can change the story.
#[derive(Debug, Clone)]
pub(crate) struct Dice {
    words: ChaCha8Rng,
}

impl Dice {
    /// The stream of one purpose. Each purpose has its own, so a change in one part of the story leaves the
    /// others as they were.
    pub(crate) fn new(seed: u64, purpose: &str) -> Dice {
        let mut key = [0u8; 32];
        let bytes = seed.to_le_bytes().into_iter().chain(purpose.bytes());
        for (slot, byte) in key.iter_mut().zip(bytes) {
            *slot = byte;
        }
        Dice { words: ChaCha8Rng::from_seed(key) }
    }

    /// A whole number from 0 up to, not including, `bound`; 0 when `bound` is 0.
    ///
    /// Multiply and shift (Lemire 2019): the bias is below one part in 2^32 for the small bounds used here.
    pub(crate) fn below(&mut self, bound: u32) -> u32 {
        let product = u64::from(self.words.next_u32()) * u64::from(bound);
        (product >> 32) as u32
    }

    /// A whole number from `low` to `high`, both possible.
    pub(crate) fn between(&mut self, low: u32, high: u32) -> u32 {
        low + self.below(high.saturating_sub(low) + 1)
    }

    /// True with a chance of `millionths` in a million.
    pub(crate) fn chance(&mut self, millionths: u32) -> bool {
        self.below(1_000_000) < millionths
    }

    /// An index chosen by weight; `None` when there is nothing to choose.
    pub(crate) fn weighted(&mut self, weights: &[u32]) -> Option<usize> {
        let total: u32 = weights.iter().sum();
        if total == 0 {
            return None;
        }
        let mut left = self.below(total);
        for (index, weight) in weights.iter().enumerate() {
            if left < *weight {
                return Some(index);
            }
            left -= weight;
        }
        None
    }

    /// A bell-shaped whole number: the sum of twelve even throws has a standard deviation of one throw's width.
    pub(crate) fn bell(&mut self, mean: i64, deviation: u32) -> i64 {
        let sum: i64 = (0..12).map(|_| i64::from(self.below(deviation + 1))).sum();
        mean + sum - 6 * i64::from(deviation)
    }

    /// Bits for an identifier.
    pub(crate) fn bits(&mut self) -> u64 {
        self.words.next_u64()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ChaCha with 8 rounds, 256-bit key, all-zero key and nonce, first 32 bytes of the key stream:
    /// J. Strombergson, "Test Vectors for the Stream Cipher ChaCha", internet draft 2013, TC1 (from memory).
    /// A library whose stream changed would fail here before it changed the demo.
    #[test]
    fn the_stream_is_the_published_one() {
        let mut dice = Dice::new(0, "");
        let mut stream = Vec::new();
        for _ in 0..4 {
            stream.extend(dice.bits().to_le_bytes());
        }
        let hex: String = stream.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(hex, "3e00ef2f895f40d67f5bb8e81f09a5a12c840ec3ce9a7f3b181be188ef711a1e");
    }

    #[test]
    fn purposes_do_not_share_a_stream() {
        assert_ne!(Dice::new(7, "people").bits(), Dice::new(7, "roster").bits());
        assert_ne!(Dice::new(7, "people").bits(), Dice::new(8, "people").bits());
    }

    /// The binomial standard deviation of 100,000 throws at 3 % is 54; five of them is the allowance.
    #[test]
    fn a_chance_comes_as_often_as_it_says() {
        let mut dice = Dice::new(1, "test");
        let hits = (0..100_000).filter(|_| dice.chance(30_000)).count();
        assert!((2_730..=3_270).contains(&hits), "{hits} of 100000 at a chance of 3 %");
    }

    /// The sum of twelve even throws over 0..=d has variance 12 (n^2 - 1) / 12 with n = d + 1 (discrete uniform).
    #[test]
    fn the_bell_has_its_mean_and_spread() {
        let mut dice = Dice::new(1, "test");
        let draws: Vec<i64> = (0..20_000).map(|_| dice.bell(800, 100)).collect();
        let mean = draws.iter().sum::<i64>() as f64 / 20_000.0;
        let variance = draws.iter().map(|x| (*x as f64 - mean).powi(2)).sum::<f64>() / 20_000.0;
        assert!((mean - 800.0).abs() < 4.0, "mean {mean}");
        assert!((variance.sqrt() - 101.0).abs() < 3.0, "standard deviation {}", variance.sqrt());
    }
}
