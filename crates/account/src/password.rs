use std::fmt;

use argon2::password_hash::phc;
use argon2::password_hash::{CustomizedPasswordHasher as _, PasswordVerifier as _};
use argon2::{Algorithm, Argon2, Params, Version};

/// Bytes of salt that a hash is made with.
pub const SALT_BYTES: usize = 16;
/// Fewest characters: NIST SP 800-63B-4 asks for 15 where a password is all there is.
const LEAST_CHARACTERS: usize = 15;
/// Most bytes. The standard asks that at least 64 characters be taken; a longer text would only cost time.
const MOST_BYTES: usize = 512;

/// Sequences that make a long password as weak as a short one.
const TOO_COMMON: [&str; 8] =
    ["password", "passphrase", "qwertyuiop", "1234567890", "abcdefghij", "letmein", "iloveyou", "changeme"];

/// Why a password is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PasswordFault {
    /// Fewer characters than needed.
    #[error("{found} characters")]
    TooShort {
        /// Characters found.
        found: usize,
    },
    /// Longer than anything that is remembered or kept in a password store.
    #[error("more than {MOST_BYTES} bytes")]
    TooLong,
    /// One sign, or a run of a few, over and over.
    #[error("few different signs over and over")]
    Repeated,
    /// Holds the account's name, the unit's name or a very common password.
    #[error("a password that holds “{0}”")]
    Guessable(String),
    /// The system could not work the hash out.
    #[error("a hash that could not be worked out: {0}")]
    NoHash(String),
}

impl PasswordFault {
    /// What is expected instead.
    pub fn expected(&self) -> String {
        match self {
            PasswordFault::TooShort { .. } => {
                format!("at least {LEAST_CHARACTERS} characters, such as four or five words of your own")
            }
            PasswordFault::TooLong => format!("at most {MOST_BYTES} bytes"),
            PasswordFault::Repeated => "at least five different signs".to_owned(),
            PasswordFault::Guessable(_) => "words that nobody would try first".to_owned(),
            PasswordFault::NoHash(_) => "about 19 MB of free memory".to_owned(),
        }
    }
}

/// Argon2id hash of a password, in the PHC string form.
#[derive(Clone, PartialEq, Eq)]
pub struct PasswordHash(String);

impl fmt::Debug for PasswordHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PasswordHash(not shown)")
    }
}

fn hasher() -> Argon2<'static> {
    Argon2::new(Algorithm::Argon2id, Version::V0x13, Params::DEFAULT)
}

impl PasswordHash {
    /// Hashes a new password once it is found good enough. `near` are texts it may not hold: the account's name, the unit's.
    pub fn of_new(
        password: &str,
        near: &[&str],
        salt: [u8; SALT_BYTES],
    ) -> Result<PasswordHash, PasswordFault> {
        look_over(password, near)?;
        let failed = |error: argon2::password_hash::Error| PasswordFault::NoHash(error.to_string());
        let hash: phc::PasswordHash = hasher()
            .hash_password_customized(password.as_bytes(), &salt, Some("argon2id"), None, Params::DEFAULT)
            .map_err(failed)?;
        Ok(PasswordHash(hash.to_string()))
    }

    /// Reads the PHC string form; `None` for what is no Argon2id hash.
    pub fn read(text: &str) -> Option<PasswordHash> {
        let hash = phc::PasswordHash::new(text).ok()?;
        (hash.algorithm.as_str() == "argon2id" && hash.hash.is_some() && hash.salt.is_some())
            .then(|| PasswordHash(text.to_owned()))
    }

    /// The PHC string form.
    pub fn text(&self) -> &str {
        &self.0
    }

    /// True for the password it was made from.
    pub fn is_of(&self, password: &str) -> bool {
        if password.len() > MOST_BYTES {
            return false;
        }
        phc::PasswordHash::new(&self.0)
            .is_ok_and(|hash| hasher().verify_password(password.as_bytes(), &hash).is_ok())
    }
}

/// Works out a hash and throws it away, so that a name nobody has takes as long to refuse as a wrong password.
pub fn waste_as_much_time(password: &str) {
    let password = if password.len() > MOST_BYTES { "" } else { password };
    let mut out = [0; 32];
    // Only the time matters.
    let _ = hasher().hash_password_into(password.as_bytes(), &[0; SALT_BYTES], &mut out);
}

fn look_over(password: &str, near: &[&str]) -> Result<(), PasswordFault> {
    if password.len() > MOST_BYTES {
        return Err(PasswordFault::TooLong);
    }
    let found = password.chars().count();
    if found < LEAST_CHARACTERS {
        return Err(PasswordFault::TooShort { found });
    }
    let mut different: Vec<char> = password.chars().collect();
    different.sort_unstable();
    different.dedup();
    if different.len() < 5 {
        return Err(PasswordFault::Repeated);
    }
    let lower = password.to_lowercase();
    let near = near.iter().map(|text| text.trim().to_lowercase()).filter(|text| text.chars().count() >= 4);
    match near.chain(TOO_COMMON.map(str::to_owned)).find(|text| lower.contains(text.as_str())) {
        Some(text) => Err(PasswordFault::Guessable(text)),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "seven grey herons by a weir";

    fn hash(password: &str) -> Result<PasswordHash, PasswordFault> {
        PasswordHash::of_new(password, &["n.harrow", "Invented Ward"], [7; SALT_BYTES])
    }

    #[test]
    fn a_hash_is_of_its_password_alone() {
        let made = hash(GOOD).unwrap();
        assert!(made.text().starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{}", made.text());
        assert!(made.is_of(GOOD));
        assert!(
            !made.is_of("seven grey herons by a weiR") && !made.is_of("") && !made.is_of(&"x".repeat(10_000))
        );
        assert_eq!(PasswordHash::read(made.text()), Some(made.clone()));
        assert_ne!(PasswordHash::of_new(GOOD, &[], [8; SALT_BYTES]).unwrap(), made);
        assert!(!format!("{made:?}").contains("argon2id"), "a hash does not get into a log");
    }

    /// RFC 9106, section 5.3: the test vector of Argon2id (from memory).
    #[test]
    fn the_library_gives_the_tag_of_the_standard() {
        let params = argon2::ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .data(argon2::AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let argon2 = Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon2.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
        let expected = [
            0x0d, 0x64, 0x0d, 0xf5, 0x8d, 0x78, 0x76, 0x6c, 0x08, 0xc0, 0x37, 0xa3, 0x4a, 0x8b, 0x53, 0xc9,
            0xd0, 0x1e, 0xf0, 0x45, 0x2d, 0x75, 0xb6, 0x5e, 0xb5, 0x25, 0x20, 0xe9, 0x6b, 0x01, 0xe6, 0x59,
        ];
        assert_eq!(tag, expected);
    }

    #[test]
    fn weak_passwords_are_refused_with_the_reason() {
        assert_eq!(hash("fourteen signs").unwrap_err(), PasswordFault::TooShort { found: 14 });
        assert!(hash("fifteen signs !").is_ok());
        assert_eq!(hash(&"ab".repeat(20)).unwrap_err(), PasswordFault::Repeated);
        assert_eq!(
            hash("I am N.HARROW and tall").unwrap_err(),
            PasswordFault::Guessable("n.harrow".to_owned())
        );
        assert_eq!(
            hash("my invented ward 12345").unwrap_err(),
            PasswordFault::Guessable("invented ward".to_owned())
        );
        assert_eq!(hash("Password-Password-1").unwrap_err(), PasswordFault::Guessable("password".to_owned()));
        assert_eq!(hash(&"héron ".repeat(100)).unwrap_err(), PasswordFault::TooLong);
        assert!(hash("十五文字以上の合い言葉はこれです。").is_ok(), "characters are counted, not bytes");
    }

    #[test]
    fn what_is_no_hash_is_not_read() {
        for text in [
            "",
            "password",
            "$argon2i$v=19$m=16,t=2,p=1$c29tZXNhbHQ$xJrQ3jZK0VTb4k0yZw7bQQ",
            "$argon2id$v=19$m=16,t=2,p=1",
        ] {
            assert_eq!(PasswordHash::read(text), None, "{text}");
        }
    }
}
