use std::collections::HashMap;

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use jiff::{SignedDuration, Timestamp};
use sha2::{Digest as _, Sha256};

use crate::fault::Fault;

/// Random bytes that one way is made of: four texts of 32 bytes each.
pub const RANDOM_BYTES: usize = 128;
/// How long somebody may take at the provider.
const LONGEST: SignedDuration = SignedDuration::from_mins(10);
/// Ways remembered at once; the oldest are forgotten first.
const REMEMBERED: usize = 2_000;

/// A sign-in that has begun and not come back.
#[derive(Clone)]
pub struct Way {
    browser: [u8; 32],
    state: String,
    nonce: String,
    verifier: String,
    to: String,
    begun: Timestamp,
}

/// What the browser is given when a way begins.
pub struct Started {
    /// What the browser keeps in a cookie, to show later that it is the one that began.
    pub cookie: String,
    /// Where it goes now.
    pub address: String,
}

impl Way {
    /// A way made of random bytes, with what the browser is to keep.
    pub fn drawn(random: [u8; RANDOM_BYTES], to: &str, now: Timestamp) -> (String, Way) {
        let part = |n: usize| URL_SAFE_NO_PAD.encode(&random[32 * n..32 * (n + 1)]);
        let cookie = part(0);
        let browser = Sha256::digest(cookie.as_bytes()).into();
        (
            cookie,
            Way { browser, state: part(1), nonce: part(2), verifier: part(3), to: to.to_owned(), begun: now },
        )
    }

    /// What comes back with the provider's answer.
    pub fn state(&self) -> &str {
        &self.state
    }

    /// What must stand in the ID token.
    pub fn nonce(&self) -> &str {
        &self.nonce
    }

    /// What shows the provider that the code is fetched by whoever asked for it.
    pub fn verifier(&self) -> &str {
        &self.verifier
    }

    /// Where to go once signed in.
    pub fn to(&self) -> &str {
        &self.to
    }

    /// When it began.
    pub fn begun(&self) -> Timestamp {
        self.begun
    }
}

/// The challenge of a verifier (RFC 7636, section 4.2, method S256).
pub fn challenge(verifier: &str) -> String {
    URL_SAFE_NO_PAD.encode(Sha256::digest(verifier.as_bytes()))
}

/// Ways under way, kept in memory by the digest of their state.
#[derive(Default)]
pub struct Ways {
    by_state: HashMap<[u8; 32], Way>,
}

fn digest(text: &str) -> [u8; 32] {
    Sha256::digest(text.as_bytes()).into()
}

impl Ways {
    /// Remembers one.
    pub fn begin(&mut self, way: Way) {
        let now = way.begun;
        self.by_state.retain(|_, way| now.duration_since(way.begun) < LONGEST);
        if self.by_state.len() >= REMEMBERED
            && let Some(oldest) =
                self.by_state.iter().min_by_key(|(_, way)| way.begun).map(|(state, _)| *state)
        {
            self.by_state.remove(&oldest);
        }
        self.by_state.insert(digest(&way.state), way);
    }

    /// The way that an answer belongs to. It is forgotten whatever comes of it, so that no answer counts twice; but an
    /// answer brought by another browser leaves it to the one that began.
    pub fn take(&mut self, state: &str, cookie: &str, now: Timestamp) -> Result<Way, Fault> {
        let key = digest(state);
        // By digest, so that the time of the comparison tells nothing.
        if self.by_state.get(&key).is_none_or(|way| way.browser != digest(cookie)) {
            return Err(Fault::NotBegun);
        }
        let way = self.by_state.remove(&key).ok_or(Fault::NotBegun)?;
        if now.duration_since(way.begun) >= LONGEST { Err(Fault::TooLate) } else { Ok(way) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(1_790_000_000 + second).unwrap()
    }

    fn random(n: u8) -> [u8; RANDOM_BYTES] {
        std::array::from_fn(|at| n.wrapping_add(u8::try_from(at / 32 * 50).unwrap()))
    }

    /// RFC 7636, appendix B: verifier and challenge.
    #[test]
    fn the_challenge_is_the_standards() {
        assert_eq!(
            challenge("dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk"),
            "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM"
        );
        let (_, way) = Way::drawn(random(1), "/", at(0));
        assert_eq!(way.verifier().len(), 43, "RFC 7636, section 4.1: 32 bytes make 43 signs");
    }

    #[test]
    fn an_answer_counts_once_and_for_the_browser_that_began() {
        let mut ways = Ways::default();
        let (cookie, way) = Way::drawn(random(1), "/people", at(0));
        let (other, second) = Way::drawn(random(2), "/", at(1));
        ways.begin(way.clone());
        ways.begin(second);
        let fault = |taken: Result<Way, Fault>| taken.err();
        assert_eq!(fault(ways.take("made-up", &cookie, at(2))), Some(Fault::NotBegun));
        assert_eq!(fault(ways.take(way.state(), &other, at(2))), Some(Fault::NotBegun));
        assert_eq!(fault(ways.take(way.state(), "", at(2))), Some(Fault::NotBegun));
        assert_eq!(ways.take(way.state(), &cookie, at(2)).unwrap().to(), "/people");
        assert_eq!(fault(ways.take(way.state(), &cookie, at(3))), Some(Fault::NotBegun), "a replay");
    }

    #[test]
    fn a_way_ends_after_ten_minutes_and_memory_is_bounded() {
        let mut ways = Ways::default();
        let (cookie, way) = Way::drawn(random(1), "/", at(0));
        ways.begin(way.clone());
        assert_eq!(ways.take(way.state(), &cookie, at(600)).err(), Some(Fault::TooLate));
        for n in 0..5_000_u64 {
            let mut bytes = [0; RANDOM_BYTES];
            bytes[32..40].copy_from_slice(&n.to_be_bytes());
            ways.begin(Way::drawn(bytes, "/", at(601)).1);
        }
        assert!(ways.by_state.len() <= REMEMBERED);
    }
}
