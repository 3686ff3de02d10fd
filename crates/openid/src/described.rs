use serde::Deserialize;

use crate::fault::Fault;
use crate::settings::{Settings, is_safe_address};
use crate::way::Way;

const PLACE: &str = "the provider's description";

/// What a provider says of itself (Discovery 1.0, section 3), as far as it is needed here.
#[derive(Debug, Clone, Deserialize)]
pub struct Described {
    issuer: String,
    authorization_endpoint: String,
    pub(crate) token_endpoint: String,
    pub(crate) jwks_uri: String,
    /// Where a session at the provider ends (RP-Initiated Logout 1.0, section 2.1), where it can.
    #[serde(default)]
    end_session_endpoint: Option<String>,
    #[serde(default)]
    response_types_supported: Option<Vec<String>>,
    #[serde(default)]
    id_token_signing_alg_values_supported: Option<Vec<String>>,
    #[serde(default)]
    code_challenge_methods_supported: Option<Vec<String>>,
    #[serde(default)]
    token_endpoint_auth_methods_supported: Option<Vec<String>>,
    #[serde(default)]
    authorization_response_iss_parameter_supported: bool,
}

/// How these pages show the provider who they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shown {
    /// In the head of the request.
    Basic,
    /// In the form.
    Post,
    /// Not at all: the provider gave no secret.
    Public,
}

impl Described {
    /// Reads a description and holds it against the settings.
    pub fn read(bytes: &[u8], settings: &Settings) -> Result<Described, Fault> {
        let answer =
            |found: String, expected: &'static str| Err(Fault::Answer { place: PLACE, found, expected });
        let described: Described = match serde_json::from_slice(bytes) {
            Ok(described) => described,
            Err(error) => {
                return answer(
                    format!("something that is no description ({error})"),
                    "a JSON object with issuer, authorization_endpoint, token_endpoint and jwks_uri",
                );
            }
        };
        if described.issuer != settings.issuer() {
            return answer(
                format!("issuer {:?}", described.issuer),
                "the issuer of provider.toml, letter for letter, with or without the last / alike",
            );
        }
        let needed = [&described.authorization_endpoint, &described.token_endpoint, &described.jwks_uri];
        for address in needed.into_iter().chain(&described.end_session_endpoint) {
            if !is_safe_address(address) || address.contains('#') {
                return answer(format!("{address:?}"), "addresses that begin with https://");
            }
        }
        let lists = |list: &Option<Vec<String>>, wanted: &[&str]| {
            list.as_ref().is_none_or(|list| list.iter().any(|each| wanted.contains(&each.as_str())))
        };
        if !lists(&described.response_types_supported, &["code"]) {
            return answer("no response type “code”".to_owned(), "the authorization code flow");
        }
        if !lists(&described.id_token_signing_alg_values_supported, &["RS256", "ES256"]) {
            return answer(
                format!(
                    "ID tokens signed with {}",
                    described.id_token_signing_alg_values_supported.unwrap_or_default().join(", ")
                ),
                "RS256 or ES256",
            );
        }
        if !lists(&described.code_challenge_methods_supported, &["S256"]) {
            return answer("no code challenge “S256”".to_owned(), "PKCE (RFC 7636) with S256");
        }
        Ok(described)
    }

    /// True where an answer must name the provider (RFC 9207).
    pub(crate) fn names_itself(&self) -> bool {
        self.authorization_response_iss_parameter_supported
    }

    /// How these pages show who they are: in the head, unless only the form is offered (Core 1.0, section 9).
    pub(crate) fn shown(&self, settings: &Settings) -> Shown {
        let offered = self.token_endpoint_auth_methods_supported.as_deref();
        let offers = |method: &str| offered.is_none_or(|offered| offered.iter().any(|each| each == method));
        match settings.secret() {
            None => Shown::Public,
            Some(_) if !offers("client_secret_basic") && offers("client_secret_post") => Shown::Post,
            Some(_) => Shown::Basic,
        }
    }

    /// Where a browser is sent to sign in.
    pub fn address(&self, settings: &Settings, way: &Way) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query
            .append_pair("response_type", "code")
            .append_pair("client_id", settings.client())
            .append_pair("redirect_uri", &settings.back())
            .append_pair("scope", "openid profile")
            .append_pair("state", way.state())
            .append_pair("nonce", way.nonce())
            .append_pair("code_challenge", &crate::way::challenge(way.verifier()))
            .append_pair("code_challenge_method", "S256");
        if settings.ask_again() {
            query.append_pair("prompt", "login").append_pair("max_age", "0");
        }
        with_query(&self.authorization_endpoint, &query.finish())
    }

    /// Where a browser is sent to end its session at the provider, with the ID token it came in by (RP-Initiated Logout
    /// 1.0, section 2); none where the provider ends no sessions.
    pub fn goodbye(&self, settings: &Settings, id_token: &str) -> Option<String> {
        let there = self.end_session_endpoint.as_deref()?;
        let mut query = form_urlencoded::Serializer::new(String::new());
        query
            .append_pair("id_token_hint", id_token)
            .append_pair("client_id", settings.client())
            .append_pair("post_logout_redirect_uri", &settings.after_sign_out());
        Some(with_query(there, &query.finish()))
    }
}

fn with_query(address: &str, query: &str) -> String {
    let joint = if address.contains('?') { '&' } else { '?' };
    format!("{address}{joint}{query}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> Settings {
        Settings::new("https://a.example", "draws", Some("s"), "https://draws.example", true).unwrap()
    }

    fn read(change: &str) -> Result<Described, Fault> {
        let mut fields: serde_json::Value = serde_json::from_str(
            r#"{"issuer": "https://a.example", "authorization_endpoint": "https://a.example/go?ward=1",
                "token_endpoint": "https://a.example/token", "jwks_uri": "https://a.example/keys"}"#,
        )
        .unwrap();
        let change: serde_json::Value = serde_json::from_str(change).unwrap();
        for (name, value) in change.as_object().unwrap() {
            fields[name] = value.clone();
        }
        Described::read(fields.to_string().as_bytes(), &settings())
    }

    #[test]
    fn a_description_is_held_against_the_settings() {
        let plain = read("{}").unwrap();
        assert_eq!(plain.shown(&settings()), Shown::Basic);
        let post = read(r#"{"token_endpoint_auth_methods_supported": ["client_secret_post"]}"#).unwrap();
        assert_eq!(post.shown(&settings()), Shown::Post);
        let public =
            Settings::new("https://a.example", "draws", None, "https://draws.example", true).unwrap();
        assert_eq!(plain.shown(&public), Shown::Public);
        for (bad, word) in [
            (r#"{"issuer": "https://a.example/"}"#, "letter for letter"),
            (r#"{"token_endpoint": "http://a.example/token"}"#, "https://"),
            (r#"{"jwks_uri": "keys"}"#, "https://"),
            (r#"{"end_session_endpoint": "http://a.example/out"}"#, "https://"),
            (r#"{"end_session_endpoint": "javascript:alert(1)"}"#, "https://"),
            (r#"{"token_endpoint": null}"#, "JSON object"),
            (r#"{"response_types_supported": ["id_token"]}"#, "code flow"),
            (r#"{"id_token_signing_alg_values_supported": ["HS256", "none"]}"#, "RS256"),
            (r#"{"code_challenge_methods_supported": ["plain"]}"#, "S256"),
        ] {
            let fault = read(bad).unwrap_err().to_string();
            assert!(fault.contains(word), "{bad}: {fault}");
        }
        assert!(Described::read(b"<html>", &settings()).is_err());
    }

    /// OpenID Connect RP-Initiated Logout 1.0, section 2: what the address to sign out at must carry.
    #[test]
    fn the_address_to_sign_out_at_carries_what_the_standard_asks_for() {
        assert_eq!(read("{}").unwrap().goodbye(&settings(), "a.b.c"), None, "this provider ends no sessions");
        let described = read(r#"{"end_session_endpoint": "https://a.example/out?ward=1"}"#).unwrap();
        let address = described.goodbye(&settings(), "a.b.c").unwrap();
        let (start, query) = address.split_once('?').unwrap();
        assert_eq!(start, "https://a.example/out");
        let fields: std::collections::BTreeMap<String, String> =
            form_urlencoded::parse(query.as_bytes()).into_owned().collect();
        let expected = [
            ("client_id", "draws"),
            ("id_token_hint", "a.b.c"),
            ("post_logout_redirect_uri", "https://draws.example/sign-in"),
            ("ward", "1"),
        ];
        assert!(
            fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).eq(expected),
            "{fields:?}"
        );
    }

    /// OpenID Connect Core 1.0, section 3.1.2.1, and RFC 7636, section 4.3: what a request must carry.
    #[test]
    fn the_address_carries_what_the_standard_asks_for() {
        let way =
            Way::drawn(std::array::from_fn(|at| u8::try_from(at).unwrap()), "/", jiff::Timestamp::UNIX_EPOCH)
                .1;
        let address = read("{}").unwrap().address(&settings(), &way);
        let (start, query) = address.split_once('?').unwrap();
        assert_eq!(start, "https://a.example/go");
        let fields: std::collections::BTreeMap<String, String> =
            form_urlencoded::parse(query.as_bytes()).into_owned().collect();
        assert_eq!(fields["ward"], "1");
        assert_eq!(fields["response_type"], "code");
        assert_eq!(fields["redirect_uri"], "https://draws.example/sign-in/back");
        assert!(fields["scope"].split(' ').any(|scope| scope == "openid"));
        assert_eq!((fields["prompt"].as_str(), fields["max_age"].as_str()), ("login", "0"));
        assert_eq!(fields["code_challenge_method"], "S256");
        assert!(!address.contains(way.verifier()), "the verifier stays here");
        assert_ne!(fields["state"], fields["nonce"]);
    }
}
