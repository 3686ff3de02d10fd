//! A provider that does what OpenID Connect lays down, on this machine, with keys of its own; told to, it does one thing wrong.
#![expect(clippy::unwrap_used, reason = "a test stops where its own provider cannot go on")]
#![allow(dead_code, reason = "each test file uses its own part of it")]

use std::collections::{BTreeMap, BTreeSet};
use std::io::{Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use base64::Engine as _;
use base64::engine::general_purpose::{STANDARD, URL_SAFE_NO_PAD};
use ring::rand::SystemRandom;
use ring::rsa;
use ring::signature::{
    ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair, KeyPair as _, RSA_PKCS1_SHA256, RsaKeyPair,
};
use serde_json::{Value, json};

pub const CLIENT: &str = "wardwright-of-the-ward";
pub const SECRET: &str = "a secret: 100 % invented";

/// One thing that a provider does otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Twist {
    Nothing,
    WrongNonce,
    NoNonce,
    WrongAudience,
    AudienceOfTwo,
    WrongParty,
    OtherIssuer,
    Expired,
    FromTheFuture,
    NotAskedAgain,
    BadSignature,
    ChangedClaims,
    AlgNone,
    SignedWithThePublicKey,
    UnknownKey,
    NoSubject,
    NoIdToken,
    NotJson,
    Failing,
}

/// How ID tokens are signed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Signs {
    Es256,
    /// With the key of RFC 7515, appendix A.2.
    Rs256,
}

struct State {
    twist: Twist,
    signs: Signs,
    person: String,
    /// Name of the key in use; a new one makes the provider change its key.
    key_name: String,
    codes: BTreeMap<String, Asked>,
    used: BTreeSet<String>,
    n_codes: u32,
    n_key_lists: u32,
    /// ID tokens it gave, each with whom it is of.
    given: BTreeMap<String, String>,
    /// Whose sessions were ended here.
    ended: Vec<String>,
}

struct Asked {
    challenge: String,
    back: String,
    nonce: String,
    person: String,
}

pub struct Faithful {
    pub issuer: String,
    state: Arc<Mutex<State>>,
    keys: Arc<Keys>,
}

struct Keys {
    ec: EcdsaKeyPair,
    rsa: RsaKeyPair,
    random: SystemRandom,
}

const RSA: [(&str, &str); 8] = [
    (
        "n",
        "ofgWCuLjybRlzo0tZWJjNiuSfb4p4fAkd_wWJcyQoTbji9k0l8W26mPddxHmfHQp-Vaw-4qPCJrcS2mJPMEzP1Pt0Bm4d4QlL-yRT-SFd2lZS-pCgNMsD1W_YpRPEwOWvG6b32690r2jZ47soMZo9wGzjb_7OMg0LOL-bSf63kpaSHSXndS5z5rexMdbBYUsLA9e-KXBdQOS-UTo7WTBEMa2R2CapHg665xsmtdVMTBQY4uDZlxvb3qCo5ZwKh9kG4LT6_I5IhlJH7aGhyxXFvUK-DWNmoudF8NAco9_h9iaGNj8q2ethFkMLs91kzk2PAcDTW9gb54h4FRWyuXpoQ",
    ),
    ("e", "AQAB"),
    (
        "d",
        "Eq5xpGnNCivDflJsRQBXHx1hdR1k6Ulwe2JZD50LpXyWPEAeP88vLNO97IjlA7_GQ5sLKMgvfTeXZx9SE-7YwVol2NXOoAJe46sui395IW_GO-pWJ1O0BkTGoVEn2bKVRUCgu-GjBVaYLU6f3l9kJfFNS3E0QbVdxzubSu3Mkqzjkn439X0M_V51gfpRLI9JYanrC4D4qAdGcopV_0ZHHzQlBjudU2QvXt4ehNYTCBr6XCLQUShb1juUO1ZdiYoFaFQT5Tw8bGUl_x_jTj3ccPDVZFD9pIuhLhBOneufuBiB4cS98l2SR_RQyGWSeWjnczT0QU91p1DhOVRuOopznQ",
    ),
    (
        "p",
        "4BzEEOtIpmVdVEZNCqS7baC4crd0pqnRH_5IB3jw3bcxGn6QLvnEtfdUdiYrqBdss1l58BQ3KhooKeQTa9AB0Hw_Py5PJdTJNPY8cQn7ouZ2KKDcmnPGBY5t7yLc1QlQ5xHdwW1VhvKn-nXqhJTBgIPgtldC-KDV5z-y2XDwGUc",
    ),
    (
        "q",
        "uQPEfgmVtjL0Uyyx88GZFF1fOunH3-7cepKmtH4pxhtCoHqpWmT8YAmZxaewHgHAjLYsp1ZSe7zFYHj7C6ul7TjeLQeZD_YwD66t62wDmpe_HlB-TnBA-njbglfIsRLtXlnDzQkv5dTltRJ11BKBBypeeF6689rjcJIDEz9RWdc",
    ),
    (
        "dp",
        "BwKfV3Akq5_MFZDFZCnW-wzl-CCo83WoZvnLQwCTeDv8uzluRSnm71I3QCLdhrqE2e9YkxvuxdBfpT_PI7Yz-FOKnu1R6HsJeDCjn12Sk3vmAktV2zb34MCdy7cpdTh_YVr7tss2u6vneTwrA86rZtu5Mbr1C1XsmvkxHQAdYo0",
    ),
    (
        "dq",
        "h_96-mK1R_7glhsum81dZxjTnYynPbZpHziZjeeHcXYsXaaMwkOlODsWa7I9xXDoRwbKgB719rrmI2oKr6N3Do9U0ajaHF-NKJnwgjMd2w9cjz3_-kyNlxAr2v4IKhGNpmM5iIgOS1VZnOZ68m6_pbLBSp3nssTdlqvd0tIiTHU",
    ),
    (
        "qi",
        "IYd7DHOhrWvxkwPQsRM2tOgrjbcrfvtQJipd-DlcxyVuuM9sQLdgjVk2oy26F0EmpScGLq2MowX7fhd_QJQ3ydy5cY7YIBi87w93IKLEdfnbJtoOPLUW0ITrJReOgo1cq9SbsxYawBgfp_gh6A5603k2-ZQwVK0JKSHuLFkuQ3U",
    ),
];

fn rsa_part(name: &str) -> Vec<u8> {
    let text = RSA.iter().find(|(known, _)| *known == name).unwrap().1;
    URL_SAFE_NO_PAD.decode(text).unwrap()
}

impl Keys {
    fn new() -> Keys {
        let random = SystemRandom::new();
        let made = EcdsaKeyPair::generate_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, &random).unwrap();
        let ec = EcdsaKeyPair::from_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, made.as_ref(), &random).unwrap();
        let [n, e, d, p, q, dp, dq, qi] = ["n", "e", "d", "p", "q", "dp", "dq", "qi"].map(rsa_part);
        let rsa = RsaKeyPair::from_components(&rsa::KeyPairComponents {
            public_key: rsa::PublicKeyComponents { n: &n, e: &e },
            d: &d,
            p: &p,
            q: &q,
            dP: &dp,
            dQ: &dq,
            qInv: &qi,
        })
        .unwrap();
        Keys { ec, rsa, random }
    }

    fn published(&self, name: &str) -> Value {
        let point = self.ec.public_key().as_ref();
        json!({"keys": [
            {"kty": "EC", "crv": "P-256", "use": "sig", "kid": format!("ec {name}"),
             "x": URL_SAFE_NO_PAD.encode(&point[1..33]), "y": URL_SAFE_NO_PAD.encode(&point[33..65])},
            {"kty": "RSA", "use": "sig", "alg": "RS256", "kid": format!("rsa {name}"), "n": RSA[0].1, "e": RSA[1].1},
        ]})
    }

    fn sign(&self, signs: Signs, message: &str) -> Vec<u8> {
        match signs {
            Signs::Es256 => self.ec.sign(&self.random, message.as_bytes()).unwrap().as_ref().to_vec(),
            Signs::Rs256 => {
                let mut signature = vec![0; self.rsa.public().modulus_len()];
                self.rsa.sign(&RSA_PKCS1_SHA256, &self.random, message.as_bytes(), &mut signature).unwrap();
                signature
            }
        }
    }
}

pub fn now() -> u64 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs()
}

impl Faithful {
    pub fn start() -> Faithful {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let issuer = format!("http://{}", listener.local_addr().unwrap());
        let state = Arc::new(Mutex::new(State {
            twist: Twist::Nothing,
            signs: Signs::Es256,
            person: "subject-1".to_owned(),
            key_name: "one".to_owned(),
            codes: BTreeMap::new(),
            used: BTreeSet::new(),
            n_codes: 0,
            n_key_lists: 0,
            given: BTreeMap::new(),
            ended: Vec::new(),
        }));
        let keys = Arc::new(Keys::new());
        let faithful = Faithful { issuer: issuer.clone(), state: state.clone(), keys: keys.clone() };
        thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let (issuer, state, keys) = (issuer.clone(), state.clone(), keys.clone());
                thread::spawn(move || serve(stream, &issuer, &state, &keys));
            }
        });
        faithful
    }

    pub fn twist(&self, twist: Twist) {
        self.state.lock().unwrap().twist = twist;
    }

    pub fn signs(&self, signs: Signs) {
        self.state.lock().unwrap().signs = signs;
    }

    pub fn person(&self, person: &str) {
        self.state.lock().unwrap().person = person.to_owned();
    }

    pub fn change_key(&self, name: &str) {
        self.state.lock().unwrap().key_name = name.to_owned();
    }

    pub fn n_key_lists(&self) -> u32 {
        self.state.lock().unwrap().n_key_lists
    }

    pub fn ended(&self) -> Vec<String> {
        self.state.lock().unwrap().ended.clone()
    }

    /// What a browser does that is sent there by somebody whom the provider lets in: where it is sent back to.
    pub fn signs_in(&self, address: &str) -> String {
        let path = address.strip_prefix(&self.issuer).expect("the provider's own address");
        let (head, body) =
            ask(&self.issuer, &format!("GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"));
        let location = head.lines().find_map(|line| line.strip_prefix("Location: "));
        location.unwrap_or_else(|| panic!("the provider refuses: {head} {body}")).to_owned()
    }
}

/// One request to a server on this machine: head and body of the answer.
pub fn ask(server: &str, request: &str) -> (String, String) {
    let mut stream = TcpStream::connect(server.strip_prefix("http://").unwrap()).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    stream.write_all(request.as_bytes()).unwrap();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap();
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap();
    (head.to_owned(), body.to_owned())
}

fn serve(mut stream: TcpStream, issuer: &str, state: &Mutex<State>, keys: &Keys) {
    let mut bytes = Vec::new();
    let mut part = [0; 4096];
    let (head, body) = loop {
        let n = stream.read(&mut part).unwrap_or(0);
        if n == 0 {
            return;
        }
        bytes.extend_from_slice(&part[..n]);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let Some((head, body)) = text.split_once("\r\n\r\n") else { continue };
        let length = field_of(head, "content-length").map_or(0, |length| length.parse::<usize>().unwrap());
        if body.len() >= length {
            break (head.to_owned(), body.to_owned());
        }
    };
    let mut words = head.split(' ');
    let (method, target) = (words.next().unwrap(), words.next().unwrap());
    let (path, query) = target.split_once('?').unwrap_or((target, ""));
    let mut state = state.lock().unwrap();
    let (status, location, answer) = match (method, path) {
        _ if state.twist == Twist::Failing => (503, String::new(), "down for the night".to_owned()),
        ("GET", "/.well-known/openid-configuration") => (200, String::new(), described(issuer).to_string()),
        ("GET", "/keys") => {
            state.n_key_lists += 1;
            (200, String::new(), keys.published(&state.key_name).to_string())
        }
        ("GET", "/authorize") => match authorize(&mut state, issuer, &fields(query)) {
            Ok(location) => (302, location, String::new()),
            Err(why) => (400, String::new(), why.to_owned()),
        },
        ("GET", "/out") => match end_session(&mut state, &fields(query)) {
            Ok(location) => (302, location, String::new()),
            Err(why) => (400, String::new(), why.to_owned()),
        },
        ("POST", "/token") => match token(&mut state, issuer, keys, &head, &fields(&body)) {
            Ok(answer) => (200, String::new(), answer),
            Err((status, word)) => (status, String::new(), json!({"error": word}).to_string()),
        },
        _ => (404, String::new(), String::new()),
    };
    drop(state);
    let location = if location.is_empty() { location } else { format!("Location: {location}\r\n") };
    let _ = write!(
        stream,
        "HTTP/1.1 {status} x\r\nContent-Type: application/json\r\n{location}Content-Length: {}\r\nConnection: close\r\n\r\n{answer}",
        answer.len()
    );
}

fn field_of(head: &str, wanted: &str) -> Option<String> {
    head.lines()
        .filter_map(|line| line.split_once(':'))
        .find(|(name, _)| name.eq_ignore_ascii_case(wanted))
        .map(|(_, value)| value.trim().to_owned())
}

fn fields(text: &str) -> BTreeMap<String, String> {
    form_urlencoded::parse(text.as_bytes()).into_owned().collect()
}

fn described(issuer: &str) -> Value {
    json!({
        "issuer": issuer,
        "authorization_endpoint": format!("{issuer}/authorize"),
        "token_endpoint": format!("{issuer}/token"),
        "jwks_uri": format!("{issuer}/keys"),
        "end_session_endpoint": format!("{issuer}/out"),
        "response_types_supported": ["code"],
        "subject_types_supported": ["public"],
        "id_token_signing_alg_values_supported": ["ES256", "RS256"],
        "code_challenge_methods_supported": ["S256"],
        "authorization_response_iss_parameter_supported": true,
    })
}

/// Core 1.0, section 3.1.2, and RFC 7636, section 4.4: what a request must hold before anybody is asked to sign in.
fn authorize(
    state: &mut State,
    issuer: &str,
    sent: &BTreeMap<String, String>,
) -> Result<String, &'static str> {
    let field = |name: &str| sent.get(name).map_or("", String::as_str);
    if field("client_id") != CLIENT || !field("redirect_uri").ends_with("/sign-in/back") {
        return Err("an unknown client or place to go back to");
    }
    if field("response_type") != "code" || !field("scope").split(' ').any(|scope| scope == "openid") {
        return Err("not the code flow of OpenID Connect");
    }
    if field("code_challenge_method") != "S256" || field("code_challenge").len() != 43 {
        return Err("no code challenge");
    }
    if field("state").len() < 22 || field("nonce").len() < 22 {
        return Err("a state or nonce that can be guessed");
    }
    state.n_codes += 1;
    let code = format!("code-{}", state.n_codes);
    state.codes.insert(
        code.clone(),
        Asked {
            challenge: field("code_challenge").to_owned(),
            back: field("redirect_uri").to_owned(),
            nonce: field("nonce").to_owned(),
            person: state.person.clone(),
        },
    );
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.append_pair("code", &code).append_pair("state", field("state")).append_pair("iss", issuer);
    Ok(format!("{}?{}", field("redirect_uri"), query.finish()))
}

/// RP-Initiated Logout 1.0, sections 2 and 3: a token this provider gave, of this client, and a registered place to go to.
fn end_session(state: &mut State, sent: &BTreeMap<String, String>) -> Result<String, &'static str> {
    let field = |name: &str| sent.get(name).map_or("", String::as_str);
    let person = state.given.get(field("id_token_hint")).ok_or("a token that was not given here")?;
    if field("client_id") != CLIENT {
        return Err("an unknown client");
    }
    let back = field("post_logout_redirect_uri");
    let host = back.strip_prefix("http://127.0.0.1:").and_then(|rest| rest.strip_suffix("/sign-in"));
    if host.is_none_or(|port| port.parse::<u16>().is_err()) {
        return Err("a place to go to that is not registered");
    }
    state.ended.push(person.clone());
    Ok(back.to_owned())
}

/// RFC 6749, section 4.1.3, and RFC 7636, section 4.6.
fn token(
    state: &mut State,
    issuer: &str,
    keys: &Keys,
    head: &str,
    sent: &BTreeMap<String, String>,
) -> Result<String, (u16, &'static str)> {
    let field = |name: &str| sent.get(name).map_or("", String::as_str);
    let shown = field_of(head, "authorization").unwrap_or_default();
    let shown = shown.strip_prefix("Basic ").and_then(|text| STANDARD.decode(text).ok()).unwrap_or_default();
    let shown = String::from_utf8(shown).unwrap();
    let decoded = |text: &str| fields(&format!("x={text}"))["x"].clone();
    let (client, secret) = shown.split_once(':').ok_or((401, "invalid_client"))?;
    if decoded(client) != CLIENT || decoded(secret) != SECRET {
        return Err((401, "invalid_client"));
    }
    if field("grant_type") != "authorization_code" || !state.used.insert(field("code").to_owned()) {
        return Err((400, "invalid_grant"));
    }
    let asked = state.codes.get(field("code")).ok_or((400, "invalid_grant"))?;
    let digest = ring::digest::digest(&ring::digest::SHA256, field("code_verifier").as_bytes());
    if URL_SAFE_NO_PAD.encode(digest) != asked.challenge || field("redirect_uri") != asked.back {
        return Err((400, "invalid_grant"));
    }
    let twist = state.twist;
    if twist == Twist::NoIdToken {
        return Ok(json!({"access_token": "a", "token_type": "Bearer"}).to_string());
    }
    if twist == Twist::NotJson {
        return Ok("<p>Welcome</p>".to_owned());
    }
    let person = asked.person.clone();
    let id_token = id_token(twist, state, issuer, keys, asked);
    state.given.insert(id_token.clone(), person);
    Ok(json!({"access_token": "a", "token_type": "Bearer", "expires_in": 300, "id_token": id_token})
        .to_string())
}

fn id_token(twist: Twist, state: &State, issuer: &str, keys: &Keys, asked: &Asked) -> String {
    let made = match twist {
        Twist::Expired => now() - 3_600,
        Twist::FromTheFuture => now() + 3_600,
        _ => now(),
    };
    let mut claims = json!({
        "iss": issuer, "sub": asked.person, "aud": CLIENT, "iat": made, "exp": made + 300, "auth_time": made,
        "nonce": asked.nonce, "name": "N. Harrow (invented)",
    });
    match twist {
        Twist::WrongNonce => claims["nonce"] = json!("another"),
        Twist::NoNonce => claims["nonce"] = Value::Null,
        Twist::WrongAudience => claims["aud"] = json!("another-program"),
        Twist::AudienceOfTwo => claims["aud"] = json!([CLIENT, "another-program"]),
        Twist::WrongParty => claims["azp"] = json!("another-program"),
        Twist::OtherIssuer => claims["iss"] = json!("https://elsewhere.example"),
        Twist::NotAskedAgain => claims["auth_time"] = json!(made - 7_200),
        Twist::NoSubject => claims["sub"] = json!(""),
        _ => {}
    }
    let (alg, kind) = if state.signs == Signs::Es256 { ("ES256", "ec") } else { ("RS256", "rsa") };
    let head = match twist {
        Twist::AlgNone => json!({"alg": "none"}),
        Twist::SignedWithThePublicKey => json!({"alg": "HS256", "kid": format!("rsa {}", state.key_name)}),
        Twist::UnknownKey => json!({"alg": alg, "kid": "nobody's"}),
        _ => json!({"alg": alg, "kid": format!("{kind} {}", state.key_name)}),
    };
    let part = |value: &Value| URL_SAFE_NO_PAD.encode(value.to_string());
    let message = format!("{}.{}", part(&head), part(&claims));
    let mut signature = match twist {
        Twist::AlgNone => Vec::new(),
        // The old trick: the published key as the secret of a keyed hash.
        Twist::SignedWithThePublicKey => {
            let key = ring::hmac::Key::new(ring::hmac::HMAC_SHA256, &rsa_part("n"));
            ring::hmac::sign(&key, message.as_bytes()).as_ref().to_vec()
        }
        _ => keys.sign(state.signs, &message),
    };
    if twist == Twist::BadSignature {
        signature[5] ^= 1;
    }
    let message = if twist == Twist::ChangedClaims {
        let mut others = claims.clone();
        others["sub"] = json!("somebody else");
        format!("{}.{}", part(&head), part(&others))
    } else {
        message
    };
    format!("{message}.{}", URL_SAFE_NO_PAD.encode(signature))
}
