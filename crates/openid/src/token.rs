use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use jiff::{SignedDuration, Timestamp};
use jsonwebtoken::errors::ErrorKind;
use jsonwebtoken::{Algorithm, Validation};
use serde::Deserialize;

use crate::fault::TokenFault;
use crate::keys::{Keys, use_ring};

/// How far clocks may disagree.
const DISAGREEMENT: SignedDuration = SignedDuration::from_secs(60);
/// Longest subject (Core 1.0, section 2).
const LONGEST_SUBJECT: usize = 255;
/// Longest name that is shown.
const LONGEST_NAME: usize = 100;
/// Largest token that is looked at, in bytes.
const LARGEST: usize = 64_000;

/// What a token must be.
#[derive(Debug, Clone, Copy)]
pub struct Expected<'a> {
    /// From this provider.
    pub issuer: &'a str,
    /// For this program.
    pub client: &'a str,
    /// Of this sign-in.
    pub nonce: &'a str,
    /// The clock here.
    pub now: Timestamp,
    /// Where the provider was to ask again: when the sign-in began.
    pub asked_since: Option<Timestamp>,
}

/// Somebody the provider knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Who they are to the provider, for good (claim `sub`).
    pub subject: String,
    /// What the provider calls them, where it says so; it proves nothing.
    pub name: Option<String>,
}

#[derive(Deserialize)]
struct Head {
    alg: String,
    #[serde(default)]
    kid: Option<String>,
    #[serde(default)]
    crit: Option<serde_json::Value>,
}

#[derive(Deserialize)]
struct Claims {
    iss: String,
    sub: String,
    aud: OneOrMore,
    exp: f64,
    iat: f64,
    #[serde(default)]
    azp: Option<String>,
    #[serde(default)]
    nonce: Option<String>,
    #[serde(default)]
    auth_time: Option<f64>,
    #[serde(default)]
    name: Option<String>,
    #[serde(default)]
    preferred_username: Option<String>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum OneOrMore {
    One(String),
    More(Vec<String>),
}

/// Checks an ID token as OpenID Connect Core 1.0, section 3.1.3.7, lays down. [`TokenFault::UnknownKey`] may mean that the
/// provider has a new key: the list is then asked for again.
pub fn check(token: &str, keys: &Keys, expected: &Expected<'_>) -> Result<Person, TokenFault> {
    use_ring();
    let unreadable = |why: &str| TokenFault::Unreadable(why.to_owned());
    if token.len() > LARGEST {
        return Err(unreadable("it is too large"));
    }
    let head = token.split('.').next().unwrap_or_default();
    let head: Head = URL_SAFE_NO_PAD
        .decode(head)
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok())
        .ok_or_else(|| unreadable("its head is no JSON object with “alg”"))?;
    let signed = match head.alg.as_str() {
        "RS256" => Algorithm::RS256,
        "ES256" => Algorithm::ES256,
        _ => return Err(TokenFault::Algorithm(start(&head.alg))),
    };
    if head.crit.is_some() {
        return Err(unreadable("its head asks for something that is not known here (crit)"));
    }
    let key = keys.find(head.kid.as_deref(), signed).ok_or(TokenFault::UnknownKey)?;
    // The library checks the signature; what the claims say is checked below, against the clock that was given.
    let mut validation = Validation::new(signed);
    validation.required_spec_claims.clear();
    validation.validate_exp = false;
    validation.validate_aud = false;
    let claims: Claims = match jsonwebtoken::decode(token, &key, &validation) {
        Ok(token) => token.claims,
        Err(error) => {
            return Err(match error.kind() {
                ErrorKind::InvalidSignature => TokenFault::Signature,
                _ => TokenFault::Unreadable(error.to_string()),
            });
        }
    };
    claims.check(expected)
}

impl Claims {
    fn check(self, expected: &Expected<'_>) -> Result<Person, TokenFault> {
        if self.iss != expected.issuer {
            return Err(TokenFault::Issuer(start(&self.iss)));
        }
        let audience = match self.aud {
            OneOrMore::One(one) => vec![one],
            OneOrMore::More(more) => more,
        };
        if !audience.iter().any(|each| each == expected.client) {
            return Err(TokenFault::Audience(start(&audience.join(", "))));
        }
        match &self.azp {
            Some(azp) if azp != expected.client => return Err(TokenFault::Audience(start(azp))),
            None if audience.len() > 1 => return Err(TokenFault::Audience(start(&audience.join(", ")))),
            _ => {}
        }
        let now = expected.now;
        let (ended, made) = (moment(self.exp)?, moment(self.iat)?);
        if made.duration_since(now) > DISAGREEMENT {
            return Err(TokenFault::NotYet { made, now });
        }
        if now.duration_since(ended) > DISAGREEMENT {
            return Err(TokenFault::Expired { ended, now });
        }
        if self.nonce.as_deref() != Some(expected.nonce) {
            return Err(TokenFault::Nonce);
        }
        if let Some(since) = expected.asked_since {
            let asked = self.auth_time.map(moment).transpose()?;
            if asked.is_none_or(|asked| since.duration_since(asked) > DISAGREEMENT) {
                return Err(TokenFault::NotAsked);
            }
        }
        if self.sub.is_empty()
            || self.sub.len() > LONGEST_SUBJECT
            || !self.sub.bytes().all(|b| b.is_ascii_graphic() || b == b' ')
        {
            return Err(TokenFault::Unreadable(format!(
                "its subject is not 1 to {LONGEST_SUBJECT} printable signs"
            )));
        }
        let name = self.name.or(self.preferred_username).map(|name| plain(&name));
        Ok(Person { subject: self.sub, name: name.filter(|name| !name.is_empty()) })
    }
}

/// A number of seconds since 1970 (RFC 7519, NumericDate).
fn moment(seconds: f64) -> Result<Timestamp, TokenFault> {
    let odd = || TokenFault::Unreadable(format!("{seconds} is no moment"));
    let whole = SignedDuration::try_from_secs_f64(seconds).map_err(|_| odd())?;
    Timestamp::UNIX_EPOCH.checked_add(whole).map_err(|_| odd())
}

/// What another program wrote, short enough for a message.
pub(crate) fn start(text: &str) -> String {
    text.chars().filter(|sign| !sign.is_control()).take(80).collect()
}

/// A name without signs that turn the line round or hide.
fn plain(name: &str) -> String {
    let hidden = |sign: char| {
        sign.is_control()
            || matches!(sign, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
    };
    name.chars().filter(|sign| !hidden(*sign)).take(LONGEST_NAME).collect::<String>().trim().to_owned()
}
