use jsonwebtoken::crypto::{CryptoProvider, JwtSigner, JwtVerifier, KeyUtils};
use jsonwebtoken::errors::ErrorKind;
use jsonwebtoken::jwk::{AlgorithmParameters, EllipticCurve, Jwk, KeyAlgorithm, PublicKeyUse};
use jsonwebtoken::{Algorithm, DecodingKey, DecodingKeyKind, EncodingKey};
use ring::signature::{
    ECDSA_P256_SHA256_FIXED, RSA_PKCS1_2048_8192_SHA256, RsaPublicKeyComponents, UnparsedPublicKey,
};
use serde::Deserialize;

use crate::fault::Fault;

const PLACE: &str = "the provider's list of keys";

/// Keys a provider publishes (RFC 7517), as far as they can check an ID token here.
#[derive(Debug, Clone, Default)]
pub struct Keys {
    keys: Vec<Jwk>,
}

#[derive(Deserialize)]
struct Published {
    keys: Vec<serde_json::Value>,
}

impl Keys {
    /// Reads a list of keys. A key of another kind is passed over, as the standard asks (RFC 7517, section 5).
    pub fn read(bytes: &[u8]) -> Result<Keys, Fault> {
        let fault = |found: String| Fault::Answer {
            place: PLACE,
            found,
            expected: "a JSON object with keys, at least one of them for RS256 or ES256",
        };
        let published: Published = serde_json::from_slice(bytes)
            .map_err(|error| fault(format!("something that is no list ({error})")))?;
        let n_published = published.keys.len();
        let keys: Vec<Jwk> = published
            .keys
            .into_iter()
            .filter_map(|key| serde_json::from_value::<Jwk>(key).ok())
            .filter(|key| algorithm(key).is_some())
            .collect();
        if keys.is_empty() {
            return Err(fault(format!("{n_published} keys, none of which can be used")));
        }
        Ok(Keys { keys })
    }

    /// The key a token names, for the way it is signed; without a name, the only one that fits.
    pub(crate) fn find(&self, name: Option<&str>, signed: Algorithm) -> Option<DecodingKey> {
        let mut fitting = self.keys.iter().filter(|key| algorithm(key) == Some(signed));
        let key = match name {
            Some(name) => fitting.find(|key| key.common.key_id.as_deref() == Some(name)),
            None => fitting.next().filter(|_| fitting.next().is_none()),
        };
        key.and_then(|key| DecodingKey::from_jwk(key).ok())
    }
}

/// How a key signs, where it is one for signatures that are taken here.
fn algorithm(key: &Jwk) -> Option<Algorithm> {
    if key.common.public_key_use.as_ref().is_some_and(|purpose| *purpose != PublicKeyUse::Signature) {
        return None;
    }
    let (kind, word) = match &key.algorithm {
        AlgorithmParameters::RSA(_) => (Algorithm::RS256, KeyAlgorithm::RS256),
        AlgorithmParameters::EllipticCurve(curve) if curve.curve == EllipticCurve::P256 => {
            (Algorithm::ES256, KeyAlgorithm::ES256)
        }
        _ => return None,
    };
    key.common.key_algorithm.as_ref().is_none_or(|named| *named == word).then_some(kind)
}

/// Checks signatures with `ring`; it signs nothing.
static CHECKS: CryptoProvider = CryptoProvider {
    signer_factory: no_signer,
    verifier_factory: verifier,
    key_utils: KeyUtils::new_unimplemented(),
};

/// Makes the token library check signatures with `ring`. Once for the process is enough; more does no harm.
pub(crate) fn use_ring() {
    // An error means that it was done before.
    let _ = CHECKS.install_default();
}

type Made<T> = jsonwebtoken::errors::Result<T>;

fn no_signer(_: &Algorithm, _: &EncodingKey) -> Made<Box<dyn JwtSigner>> {
    Err(ErrorKind::UnsupportedAlgorithm.into())
}

fn verifier(signed: &Algorithm, key: &DecodingKey) -> Made<Box<dyn JwtVerifier>> {
    match (signed, key.kind()) {
        (Algorithm::RS256, DecodingKeyKind::RsaModulusExponent { n, e }) => {
            let bare = |number: &[u8]| number.iter().copied().skip_while(|byte| *byte == 0).collect();
            Ok(Box::new(Rsa { n: bare(n), e: bare(e) }))
        }
        (Algorithm::ES256, DecodingKeyKind::SecretOrDer(point)) => Ok(Box::new(P256(point.clone()))),
        _ => Err(ErrorKind::InvalidAlgorithm.into()),
    }
}

struct Rsa {
    n: Vec<u8>,
    e: Vec<u8>,
}

impl signature::Verifier<Vec<u8>> for Rsa {
    fn verify(&self, message: &[u8], sent: &Vec<u8>) -> Result<(), signature::Error> {
        RsaPublicKeyComponents { n: &self.n, e: &self.e }
            .verify(&RSA_PKCS1_2048_8192_SHA256, message, sent)
            .map_err(|_| signature::Error::new())
    }
}

impl JwtVerifier for Rsa {
    fn algorithm(&self) -> Algorithm {
        Algorithm::RS256
    }
}

struct P256(Vec<u8>);

impl signature::Verifier<Vec<u8>> for P256 {
    fn verify(&self, message: &[u8], sent: &Vec<u8>) -> Result<(), signature::Error> {
        UnparsedPublicKey::new(&ECDSA_P256_SHA256_FIXED, &self.0)
            .verify(message, sent)
            .map_err(|_| signature::Error::new())
    }
}

impl JwtVerifier for P256 {
    fn algorithm(&self) -> Algorithm {
        Algorithm::ES256
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAYLOAD: &str =
        "eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ";
    const RSA: &str = r#"{"kty": "RSA", "e": "AQAB", "n": "ofgWCuLjybRlzo0tZWJjNiuSfb4p4fAkd_wWJcyQoTbji9k0l8W26mPddxHmfHQp-Vaw-4qPCJrcS2mJPMEzP1Pt0Bm4d4QlL-yRT-SFd2lZS-pCgNMsD1W_YpRPEwOWvG6b32690r2jZ47soMZo9wGzjb_7OMg0LOL-bSf63kpaSHSXndS5z5rexMdbBYUsLA9e-KXBdQOS-UTo7WTBEMa2R2CapHg665xsmtdVMTBQY4uDZlxvb3qCo5ZwKh9kG4LT6_I5IhlJH7aGhyxXFvUK-DWNmoudF8NAco9_h9iaGNj8q2ethFkMLs91kzk2PAcDTW9gb54h4FRWyuXpoQ"}"#;
    const RSA_SIGNATURE: &str = "cC4hiUPoj9Eetdgtv3hF80EGrhuB__dzERat0XF9g2VtQgr9PJbu3XOiZj5RZmh7AAuHIm4Bh-0Qc_lF5YKt_O8W2Fp5jujGbds9uJdbF9CUAr7t1dnZcAcQjbKBYNX4BAynRFdiuB--f_nZLgrnbyTyWzO75vRK5h6xBArLIARNPvkSjtQBMHlb1L07Qe7K0GarZRmB_eSN9383LcOLn6_dO--xi12jzDwusC-eOkHWEsqtFZESc6BfI7noOPqvhJ1phCnvWh6IeYI2w9QOYEUipUTI8np6LbgGY9Fs98rqVt5AXLIhWkWywlVmtVrBp0igcN_IoypGlUPQGe77Rw";
    const EC: &str = r#"{"kty": "EC", "crv": "P-256", "x": "f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU", "y": "x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0"}"#;
    const EC_SIGNATURE: &str =
        "DtEhU3ljbEg8L38VWAfUAqOyKAM6-Xx-F4GawxaepmXFCgfTjDxw5djxLa8ISlSApmWQxfKTUJqPP3-Kg6NU1Q";

    /// RFC 7515, appendices A.2 (RS256) and A.3 (ES256): tokens, keys and signatures of the standard.
    #[test]
    fn the_standards_own_tokens_hold_and_changed_ones_do_not() {
        use_ring();
        for (key, header, sent, signed) in [
            (RSA, "eyJhbGciOiJSUzI1NiJ9", RSA_SIGNATURE, Algorithm::RS256),
            (EC, "eyJhbGciOiJFUzI1NiJ9", EC_SIGNATURE, Algorithm::ES256),
        ] {
            let keys = Keys::read(format!("{{\"keys\": [{key}]}}").as_bytes()).unwrap();
            let key = keys.find(None, signed).unwrap();
            let message = format!("{header}.{PAYLOAD}");
            assert!(jsonwebtoken::crypto::verify(sent, message.as_bytes(), &key, signed).unwrap());
            let changed = message.replace("QogImh0", "QogImh1");
            assert_ne!(changed, message);
            assert!(!jsonwebtoken::crypto::verify(sent, changed.as_bytes(), &key, signed).unwrap());
            let other = if signed == Algorithm::RS256 { Algorithm::ES256 } else { Algorithm::RS256 };
            assert!(jsonwebtoken::crypto::verify(sent, message.as_bytes(), &key, other).is_err());
        }
    }

    #[test]
    fn keys_for_other_purposes_are_passed_over() {
        let with = |key: &str, more: &str| key.replacen('{', &format!("{{{more}, "), 1);
        let list = [
            with(RSA, r#""use": "enc", "kid": "a""#),
            with(RSA, r#""alg": "RS512", "kid": "b""#),
            with(EC, r#""kid": "c""#).replace("P-256", "P-384"),
            r#"{"kty": "oct", "k": "c2VjcmV0", "kid": "d"}"#.to_owned(),
            r#"{"kty": "something new", "kid": "e"}"#.to_owned(),
            with(RSA, r#""use": "sig", "alg": "RS256", "kid": "f""#),
            with(EC, r#""kid": "f""#),
        ];
        let keys = Keys::read(format!("{{\"keys\": [{}]}}", list.join(", ")).as_bytes()).unwrap();
        for name in ["a", "b", "c", "d", "e", "g"] {
            assert!(keys.find(Some(name), Algorithm::RS256).is_none(), "{name}");
            assert!(keys.find(Some(name), Algorithm::ES256).is_none(), "{name}");
        }
        assert!(keys.find(Some("f"), Algorithm::RS256).is_some());
        assert!(keys.find(Some("f"), Algorithm::ES256).is_some());
        assert!(keys.find(None, Algorithm::RS256).is_some(), "the only one of its kind");
        let two = format!(r#"{{"keys": [{}, {}]}}"#, with(EC, r#""kid": "x""#), with(EC, r#""kid": "y""#));
        assert!(Keys::read(two.as_bytes()).unwrap().find(None, Algorithm::ES256).is_none(), "which of two?");
        for bad in ["", "[]", r#"{"keys": []}"#, r#"{"keys": [{"kty": "oct", "k": "c2VjcmV0"}]}"#] {
            assert!(Keys::read(bad.as_bytes()).is_err(), "{bad}");
        }
    }
}
