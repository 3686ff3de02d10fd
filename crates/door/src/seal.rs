//! Messages made unreadable while they are kept.

use chacha20poly1305::aead::{Aead as _, KeyInit as _, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use hmac::{Hmac, Mac as _};
use sha2::Sha256;

/// What a message is sealed for; under another purpose the same secret gives another key.
const PURPOSE: &[u8] = b"wardwright sealed messages 1";
/// First byte of what is sealed in this way.
const FORM: u8 = 1;
const NONCE_BYTES: usize = 24;

/// Seals messages with XChaCha20-Poly1305 (RFC 8439 with the extended nonce of draft-irtf-cfrg-xchacha-03).
///
/// A message is encrypted and not stripped of identifiers, for two reasons: a set that comes in several messages is put
/// together from the messages as they were, with the laboratory's later corrections of single results; and in a message
/// that cannot be read nobody can say which bytes name a patient. The key is derived from the patient key (HMAC-SHA-256
/// under a purpose of its own), so that one secret beside the book is to be guarded and copied, not two.
pub struct Seal(XChaCha20Poly1305);

/// Why a message cannot be sealed or opened.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SealError {
    /// The key is too short to protect anybody.
    #[error("a patient key of {0} bytes, where at least 16 are needed")]
    ShortKey(usize),
    /// The system gives no random bytes.
    #[error("the system gives no random bytes: {0}")]
    NoRandom(String),
    /// What is kept cannot be opened with this key.
    #[error("a message that was sealed with another key, or was changed since")]
    NotOpened,
}

impl std::fmt::Debug for Seal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Seal(not shown)")
    }
}

impl Seal {
    /// The seal that belongs to a patient key.
    pub fn new(patient_key: &[u8]) -> Result<Seal, SealError> {
        let short = |_| SealError::ShortKey(patient_key.len());
        if patient_key.len() < 16 {
            return Err(SealError::ShortKey(patient_key.len()));
        }
        let mut derived = Hmac::<Sha256>::new_from_slice(patient_key).map_err(short)?;
        derived.update(PURPOSE);
        let key = derived.finalize().into_bytes();
        XChaCha20Poly1305::new_from_slice(&key).map(Seal).map_err(|_| SealError::ShortKey(patient_key.len()))
    }

    /// Seals a message. The identity goes under the seal too: what is kept under another identity does not open.
    pub fn seal(&self, identity: &str, message: &[u8]) -> Result<Vec<u8>, SealError> {
        let mut nonce = [0; NONCE_BYTES];
        getrandom::fill(&mut nonce).map_err(|error| SealError::NoRandom(error.to_string()))?;
        let payload = Payload { msg: message, aad: identity.as_bytes() };
        let sealed = self.0.encrypt(&XNonce::from(nonce), payload).map_err(|_| SealError::NotOpened)?;
        let mut kept = Vec::with_capacity(1 + NONCE_BYTES + sealed.len());
        kept.push(FORM);
        kept.extend(nonce);
        kept.extend(sealed);
        Ok(kept)
    }

    /// Opens what was sealed under this identity.
    pub fn open(&self, identity: &str, kept: &[u8]) -> Result<Vec<u8>, SealError> {
        let (form, rest) = kept.split_first().ok_or(SealError::NotOpened)?;
        let (nonce, sealed) = rest.split_first_chunk::<NONCE_BYTES>().ok_or(SealError::NotOpened)?;
        if *form != FORM {
            return Err(SealError::NotOpened);
        }
        let payload = Payload { msg: sealed, aad: identity.as_bytes() };
        self.0.decrypt(&XNonce::from(*nonce), payload).map_err(|_| SealError::NotOpened)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KEY: &[u8] = &[7; 32];

    /// draft-irtf-cfrg-xchacha-03, appendix A.3.1: the first block of text and the tag.
    #[test]
    fn the_cipher_is_the_published_one() {
        let bytes = |text: &str| -> Vec<u8> {
            (0..text.len()).step_by(2).map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap()).collect()
        };
        let text = "Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the future, \
                    sunscreen would be it.";
        let key = bytes("808182838485868788898a8b8c8d8e8f909192939495969798999a9b9c9d9e9f");
        let nonce = bytes("404142434445464748494a4b4c4d4e4f5051525354555657");
        let aad = bytes("50515253c0c1c2c3c4c5c6c7");
        let cipher = XChaCha20Poly1305::new_from_slice(&key).unwrap();
        let nonce: [u8; NONCE_BYTES] = nonce.try_into().unwrap();
        let sealed =
            cipher.encrypt(&XNonce::from(nonce), Payload { msg: text.as_bytes(), aad: &aad }).unwrap();
        assert_eq!(sealed[..16], bytes("bd6d179d3e83d43b9576579493c0e939"));
        assert_eq!(sealed[sealed.len() - 16..], bytes("c0875924c1c7987947deafd8780acf49"));
    }

    #[test]
    fn what_was_sealed_opens_under_its_key_and_identity_only() {
        let seal = Seal::new(KEY).unwrap();
        let message = b"PID|1||4711^^^A^MR||INVENTED^PERSON";
        let kept = seal.seal("one", message).unwrap();
        assert_eq!(seal.open("one", &kept).unwrap(), message);
        assert!(!kept.windows(4).any(|window| window == b"4711"));
        assert_ne!(kept, seal.seal("one", message).unwrap(), "the same message twice does not look the same");
        assert_eq!(seal.open("two", &kept), Err(SealError::NotOpened));
        assert_eq!(Seal::new(&[8; 32]).unwrap().open("one", &kept), Err(SealError::NotOpened));
        for at in 0..kept.len() {
            let mut altered = kept.clone();
            altered[at] ^= 1;
            assert_eq!(seal.open("one", &altered), Err(SealError::NotOpened), "byte {at}");
            assert_eq!(seal.open("one", &kept[..at]), Err(SealError::NotOpened), "cut at {at}");
        }
        assert!(matches!(Seal::new(b"short"), Err(SealError::ShortKey(5))));
    }
}
