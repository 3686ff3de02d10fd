//! Patient identifiers become keyed hashes at the door.

use std::fmt;

use culture::PatientKey;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use siphasher::sip128::SipHasher13;

/// The key behind the hashes. It belongs with the record book and is never printed.
#[derive(Clone)]
pub struct PatientHashKey(Hmac<Sha256>);

/// A key too short to protect anybody.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the patient key has {found} bytes; at least 16 are needed")]
pub struct PatientHashKeyError {
    found: usize,
}

impl PatientHashKey {
    /// A key from its bytes, at least 16.
    ///
    /// # Errors
    /// Refuses fewer than 16 bytes: identifiers are short and could be found by trying.
    pub fn new(bytes: &[u8]) -> Result<Self, PatientHashKeyError> {
        if bytes.len() < 16 {
            return Err(PatientHashKeyError { found: bytes.len() });
        }
        Hmac::new_from_slice(bytes).map(Self).map_err(|_| PatientHashKeyError { found: bytes.len() })
    }

    /// HMAC-SHA-256 of an identifier (RFC 2104, FIPS 198-1) as 64 hexadecimal digits.
    ///
    /// Blanks around the identifier do not count; the same identifier gives the same key in every file.
    pub fn hash(&self, identifier: &str) -> PatientKey {
        let mut mac = self.0.clone();
        mac.update(identifier.trim().as_bytes());
        PatientKey(hexadecimal(mac))
    }

    /// The keyed hash of a text, line by line, whatever its line ends. It cannot equal the hash of an identifier, which
    /// has no line end in it.
    pub(super) fn digest_of_lines<'l>(&self, lines: impl Iterator<Item = &'l [u8]>) -> String {
        let mut mac = self.0.clone();
        for line in lines {
            mac.update(line);
            mac.update(b"\r");
        }
        hexadecimal(mac)
    }
}

fn hexadecimal(mac: Hmac<Sha256>) -> String {
    let digest = mac.finalize().into_bytes();
    let mut text = String::with_capacity(64);
    for byte in digest.iter() {
        for digit in [byte >> 4, byte & 15] {
            text.push(char::from(b"0123456789abcdef"[usize::from(digit)]));
        }
    }
    text
}

impl PatientHashKey {
    /// The hash by which patients are told apart while one table is counted; it is never stored.
    pub(super) fn for_one_run(&self) -> SipHasher13 {
        SipHasher13::new_with_keys(self.word("patients, first half"), self.word("patients, second half"))
    }

    /// A seed for digests of rows, so that nobody can make two rows look alike without the key.
    pub(super) fn seed(&self) -> u64 {
        self.word("rows")
    }

    fn word(&self, purpose: &str) -> u64 {
        let mut mac = self.0.clone();
        mac.update(b"\0one run\0");
        mac.update(purpose.as_bytes());
        mac.finalize().into_bytes().iter().take(8).fold(0, |word, byte| word << 8 | u64::from(*byte))
    }
}

impl fmt::Debug for PatientHashKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PatientHashKey(not shown)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4231, test case 6 has a key longer than 16 bytes: 131 bytes of 0xaa.
    #[test]
    fn the_hash_is_the_published_one() {
        let key = PatientHashKey::new(&[0xAA; 131]).unwrap();
        let hash = key.hash("Test Using Larger Than Block-Size Key - Hash Key First");
        assert_eq!(hash.0, "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54");
        assert_eq!(key.hash(" 12 "), key.hash("12"));
        assert!(PatientHashKey::new(b"short").is_err());
        assert!(!format!("{key:?}").contains("170"));
    }
}
