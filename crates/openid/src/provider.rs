use std::sync::{Mutex, MutexGuard, PoisonError};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use jiff::{SignedDuration, Timestamp};
use serde::Deserialize;

use crate::described::{Described, Shown};
use crate::fault::{Fault, TokenFault};
use crate::fetch::{Answer, Fetch};
use crate::keys::Keys;
use crate::settings::{Secret, Settings};
use crate::token::{Expected, Person, check, start};
use crate::way::{RANDOM_BYTES, Started, Way, Ways};

/// How long a description and a list of keys are good for.
const GOOD_FOR: SignedDuration = SignedDuration::from_mins(60);
/// How soon the list of keys may be asked for again because a token names another key.
const AGAIN_AFTER: SignedDuration = SignedDuration::from_secs(30);

const DESCRIPTION: &str = "the provider's description";
const KEYS: &str = "the provider's list of keys";
const TOKEN: &str = "the provider's exchange of the code";

/// One provider, with what is known of it.
pub struct Provider {
    settings: Settings,
    fetch: Box<dyn Fetch>,
    ways: Mutex<Ways>,
    described: Mutex<Option<(Timestamp, Described)>>,
    keys: Mutex<Option<(Timestamp, Keys)>>,
}

/// Somebody who came back from the provider.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Came {
    /// Who they are to the provider.
    pub person: Person,
    /// Where they wanted to go.
    pub to: String,
    /// The token they came in by, which the provider is shown again when they sign out.
    pub id_token: Secret,
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // What is kept under these locks is whole after each step, so a panic elsewhere does not spoil it.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[derive(Deserialize)]
struct Tokens {
    id_token: String,
}

#[derive(Deserialize)]
struct Refused {
    error: String,
    #[serde(default)]
    error_description: String,
}

impl Provider {
    /// A provider of which nothing but the settings is known yet.
    pub fn new(settings: Settings, fetch: Box<dyn Fetch>) -> Provider {
        Provider {
            settings,
            fetch,
            ways: Mutex::default(),
            described: Mutex::new(None),
            keys: Mutex::new(None),
        }
    }

    /// What the unit and the provider agreed on.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Begins a sign-in, and says where the browser goes. The description is asked for each time, so that a provider that is
    /// down is told of here, and nobody is sent to an address where nobody answers.
    pub fn begin(&self, random: [u8; RANDOM_BYTES], to: &str, now: Timestamp) -> Result<Started, Fault> {
        let described = self.described_anew(now)?;
        let (cookie, way) = Way::drawn(random, to, now);
        let address = described.address(&self.settings, &way);
        held(&self.ways).begin(way);
        Ok(Started { cookie, address })
    }

    /// Takes the provider's answer as it stands in the query, brought by a browser with this cookie.
    pub fn finish(&self, query: &str, cookie: &str, now: Timestamp) -> Result<Came, Fault> {
        let field = |wanted: &str| {
            form_urlencoded::parse(query.as_bytes())
                .find(|(name, _)| name == wanted)
                .map(|(_, value)| value.into_owned())
        };
        let way = held(&self.ways).take(&field("state").unwrap_or_default(), cookie, now)?;
        let described = self.described(now)?;
        match field("iss") {
            Some(issuer) if issuer != self.settings.issuer() => {
                return Err(Fault::OtherIssuer(start(&issuer)));
            }
            None if described.names_itself() => return Err(Fault::OtherIssuer("nobody".to_owned())),
            _ => {}
        }
        if let Some(word) = field("error") {
            let said = field("error_description").unwrap_or_default();
            return Err(Fault::Refuses { word: start(&word), said: start(&said) });
        }
        let code = field("code").filter(|code| !code.is_empty()).ok_or(Fault::Answer {
            place: "the provider",
            found: "no code".to_owned(),
            expected: "a code",
        })?;
        let token = self.exchange(&described, &code, &way)?;
        let person = self.checked(&described, &token, &way, now)?;
        Ok(Came { person, to: way.to().to_owned(), id_token: Secret::of(token) })
    }

    /// Where a browser goes to end its session at the provider too. Nothing is asked: whoever signs out waits for nobody,
    /// and came in by a description that is still known.
    pub fn goodbye(&self, id_token: &Secret) -> Option<String> {
        let described = held(&self.described).as_ref().map(|(_, described)| described.clone())?;
        described.goodbye(&self.settings, id_token.text())
    }

    /// True when the provider answers and its description fits the settings.
    pub fn look(&self, now: Timestamp) -> Result<(), Fault> {
        let described = self.described_anew(now)?;
        self.keys(&described, now, GOOD_FOR).map(|_| ())
    }

    fn described(&self, now: Timestamp) -> Result<Described, Fault> {
        if let Some((read, described)) = &*held(&self.described)
            && now.duration_since(*read).abs() < GOOD_FOR
        {
            return Ok(described.clone());
        }
        self.described_anew(now)
    }

    fn described_anew(&self, now: Timestamp) -> Result<Described, Fault> {
        let answer = self.fetch.get(DESCRIPTION, &self.settings.description())?;
        let described = Described::read(good(DESCRIPTION, &answer)?, &self.settings)?;
        *held(&self.described) = Some((now, described.clone()));
        Ok(described)
    }

    /// The keys, read anew where what is known is older than this.
    fn keys(&self, described: &Described, now: Timestamp, older: SignedDuration) -> Result<Keys, Fault> {
        if let Some((read, keys)) = &*held(&self.keys)
            && now.duration_since(*read).abs() < older
        {
            return Ok(keys.clone());
        }
        let answer = self.fetch.get(KEYS, &described.jwks_uri)?;
        let keys = Keys::read(good(KEYS, &answer)?)?;
        *held(&self.keys) = Some((now, keys.clone()));
        Ok(keys)
    }

    fn exchange(&self, described: &Described, code: &str, way: &Way) -> Result<String, Fault> {
        let back = self.settings.back();
        let mut form = vec![
            ("grant_type", "authorization_code"),
            ("code", code),
            ("redirect_uri", back.as_str()),
            ("code_verifier", way.verifier()),
        ];
        let shown = described.shown(&self.settings);
        let secret = self.settings.secret().map_or("", |secret| secret.text());
        let authorization = (shown == Shown::Basic).then(|| {
            // RFC 6749, section 2.3.1: both parts are written as in a form first.
            let part = |text: &str| form_urlencoded::byte_serialize(text.as_bytes()).collect::<String>();
            format!("Basic {}", STANDARD.encode(format!("{}:{}", part(self.settings.client()), part(secret))))
        });
        if shown != Shown::Basic {
            form.push(("client_id", self.settings.client()));
        }
        if shown == Shown::Post {
            form.push(("client_secret", secret));
        }
        let answer = self.fetch.send(TOKEN, &described.token_endpoint, &form, authorization.as_deref())?;
        if answer.status != 200 {
            if let Ok(refused) = serde_json::from_slice::<Refused>(&answer.bytes) {
                return Err(Fault::Refuses {
                    word: start(&refused.error),
                    said: start(&refused.error_description),
                });
            }
            good(TOKEN, &answer)?;
        }
        match serde_json::from_slice::<Tokens>(&answer.bytes) {
            Ok(tokens) => Ok(tokens.id_token),
            // What it holds is not repeated: it may be a token.
            Err(_) => Err(Fault::Answer {
                place: TOKEN,
                found: "no ID token".to_owned(),
                expected: "a JSON object with id_token",
            }),
        }
    }

    fn checked(
        &self,
        described: &Described,
        token: &str,
        way: &Way,
        now: Timestamp,
    ) -> Result<Person, Fault> {
        let expected = Expected {
            issuer: self.settings.issuer(),
            client: self.settings.client(),
            nonce: way.nonce(),
            now,
            asked_since: self.settings.ask_again().then(|| way.begun()),
        };
        match check(token, &self.keys(described, now, GOOD_FOR)?, &expected) {
            // The provider may have changed its key: its list is asked for again, but not with every made-up token.
            Err(TokenFault::UnknownKey) => {
                check(token, &self.keys(described, now, AGAIN_AFTER)?, &expected).map_err(Fault::Token)
            }
            checked => checked.map_err(Fault::Token),
        }
    }
}

fn good<'a>(place: &'static str, answer: &'a Answer) -> Result<&'a [u8], Fault> {
    if answer.status == 200 {
        Ok(&answer.bytes)
    } else {
        Err(Fault::Answer { place, found: format!("status {}", answer.status), expected: "status 200" })
    }
}
