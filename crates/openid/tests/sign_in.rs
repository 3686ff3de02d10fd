//! Sign-in against a provider on this machine that does what the standard lays down, and against one that does not.

mod faithful;

use faithful::{CLIENT, Faithful, SECRET, Signs, Twist};
use jiff::{SignedDuration, Timestamp};
use openid::{Came, Fault, OverHttp, Provider, RANDOM_BYTES, Settings, TokenFault};

const PAGES: &str = "http://127.0.0.1:8437";

fn provider(faithful: &Faithful, secret: Option<&str>, ask_again: bool) -> Provider {
    let settings = Settings::new(&faithful.issuer, CLIENT, secret, PAGES, ask_again).expect("settings");
    Provider::new(settings, Box::new(OverHttp::new(None).expect("a client")))
}

fn random(n: u8) -> [u8; RANDOM_BYTES] {
    std::array::from_fn(|at| n.wrapping_mul(7).wrapping_add(u8::try_from(at).expect("small")))
}

/// The query that a browser brings back once somebody signed in at the provider, and its cookie.
fn there_and_back(provider: &Provider, faithful: &Faithful, n: u8) -> (String, String) {
    let started = provider.begin(random(n), "/people/n001", Timestamp::now()).expect("a way to begin");
    let back = faithful.signs_in(&started.address);
    let query = back.strip_prefix(&format!("{PAGES}/sign-in/back?")).expect("back to these pages");
    (query.to_owned(), started.cookie)
}

fn sign_in(provider: &Provider, faithful: &Faithful, n: u8) -> Result<Came, Fault> {
    let (query, cookie) = there_and_back(provider, faithful, n);
    provider.finish(&query, &cookie, Timestamp::now())
}

#[test]
fn somebody_the_provider_lets_in_comes_back_as_who_they_are() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some(SECRET), true);
    provider.look(Timestamp::now()).unwrap();
    for (n, signs, subject) in [(1, Signs::Es256, "subject-1"), (2, Signs::Rs256, "2f9c|x y")] {
        faithful.signs(signs);
        faithful.person(subject);
        let came = sign_in(&provider, &faithful, n).unwrap();
        assert_eq!(came.person.subject, subject);
        assert_eq!(came.person.name.as_deref(), Some("N. Harrow (invented)"));
        assert_eq!(came.to, "/people/n001");
    }
}

/// RP-Initiated Logout 1.0: the provider ends the session of whoever came in by this token, and sends the browser back.
#[test]
fn the_session_at_the_provider_is_ended_with_the_token_that_was_given() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some(SECRET), true);
    let came = sign_in(&provider, &faithful, 1).unwrap();
    assert!(!format!("{came:?}").contains(came.id_token.text()), "a token does not get into a log");
    let address = provider.goodbye(&came.id_token).unwrap();
    assert_eq!(faithful.signs_in(&address), format!("{PAGES}/sign-in"));
    assert_eq!(faithful.ended(), ["subject-1"]);
}

#[test]
fn an_answer_is_taken_once_and_from_the_browser_that_began() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some(SECRET), true);
    let (query, cookie) = there_and_back(&provider, &faithful, 1);
    let (other_query, other_cookie) = there_and_back(&provider, &faithful, 2);
    let now = Timestamp::now();
    assert_eq!(provider.finish(&query, &other_cookie, now), Err(Fault::NotBegun), "another browser");
    assert_eq!(provider.finish(&query, "", now), Err(Fault::NotBegun), "no cookie");
    let changed = query.replace("state=", "state=x");
    assert_eq!(provider.finish(&changed, &cookie, now), Err(Fault::NotBegun), "another state");
    assert!(provider.finish(&query, &cookie, now).is_ok());
    assert_eq!(provider.finish(&query, &cookie, now), Err(Fault::NotBegun), "a replay");
    let late = now.checked_add(SignedDuration::from_mins(10)).unwrap();
    assert_eq!(provider.finish(&other_query, &other_cookie, late), Err(Fault::TooLate));

    // A code that was used, smuggled into a sign-in of one's own: the provider refuses it.
    let code = |query: &str| query.split('&').find(|part| part.starts_with("code=")).unwrap().to_owned();
    let (own, own_cookie) = there_and_back(&provider, &faithful, 3);
    let smuggled = own.replace(&code(&own), &code(&query));
    let fault = provider.finish(&smuggled, &own_cookie, now).unwrap_err();
    assert!(matches!(&fault, Fault::Refuses { word, .. } if word == "invalid_grant"), "{fault}");
    // A code not used yet, of another sign-in: its challenge is not of this verifier.
    let (victims, _) = there_and_back(&provider, &faithful, 4);
    let (own, own_cookie) = there_and_back(&provider, &faithful, 5);
    let injected = own.replace(&code(&own), &code(&victims));
    let fault = provider.finish(&injected, &own_cookie, now).unwrap_err();
    assert!(matches!(&fault, Fault::Refuses { word, .. } if word == "invalid_grant"), "{fault}");
}

#[test]
fn a_token_that_does_not_hold_lets_nobody_in() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some(SECRET), true);
    type IsIt = fn(&TokenFault) -> bool;
    let twists: [(Twist, IsIt); 14] = [
        (Twist::WrongNonce, |fault| *fault == TokenFault::Nonce),
        (Twist::NoNonce, |fault| *fault == TokenFault::Nonce),
        (Twist::WrongAudience, |fault| matches!(fault, TokenFault::Audience(_))),
        (Twist::AudienceOfTwo, |fault| matches!(fault, TokenFault::Audience(_))),
        (Twist::WrongParty, |fault| matches!(fault, TokenFault::Audience(_))),
        (Twist::OtherIssuer, |fault| matches!(fault, TokenFault::Issuer(_))),
        (Twist::Expired, |fault| matches!(fault, TokenFault::Expired { .. })),
        (Twist::FromTheFuture, |fault| matches!(fault, TokenFault::NotYet { .. })),
        (Twist::NotAskedAgain, |fault| *fault == TokenFault::NotAsked),
        (Twist::BadSignature, |fault| *fault == TokenFault::Signature),
        (Twist::ChangedClaims, |fault| *fault == TokenFault::Signature),
        (Twist::AlgNone, |fault| matches!(fault, TokenFault::Algorithm(alg) if alg == "none")),
        (Twist::UnknownKey, |fault| *fault == TokenFault::UnknownKey),
        (Twist::NoSubject, |fault| matches!(fault, TokenFault::Unreadable(_))),
    ];
    let mut n = 0;
    for signs in [Signs::Es256, Signs::Rs256] {
        faithful.signs(signs);
        for (twist, is_it) in twists {
            faithful.twist(twist);
            n += 1;
            match sign_in(&provider, &faithful, n) {
                Err(Fault::Token(fault)) => assert!(is_it(&fault), "{signs:?} {twist:?}: {fault}"),
                other => panic!("{signs:?} {twist:?}: {other:?}"),
            }
        }
        faithful.twist(Twist::SignedWithThePublicKey);
        let fault = sign_in(&provider, &faithful, 100).unwrap_err();
        assert_eq!(fault, Fault::Token(TokenFault::Algorithm("HS256".to_owned())));
        faithful.twist(Twist::Nothing);
        assert!(sign_in(&provider, &faithful, 101).is_ok(), "and then one that holds");
    }
}

#[test]
fn clocks_may_disagree_by_a_minute_and_no_more() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some(SECRET), false);
    let at = |seconds: i64| Timestamp::now().checked_add(SignedDuration::from_secs(seconds)).unwrap();
    for (n, ahead, holds) in [(1, -50, true), (2, -80, false), (3, 340, true), (4, 380, false)] {
        let (query, cookie) = there_and_back(&provider, &faithful, n);
        let came = provider.finish(&query, &cookie, at(ahead));
        assert_eq!(came.is_ok(), holds, "{ahead}: {came:?}");
        if let Err(fault) = came {
            assert!(fault.expected_and_to_do().1.contains("clock"), "{fault}");
        }
    }
}

#[test]
fn without_asking_again_somebody_known_from_before_is_let_in() {
    let faithful = Faithful::start();
    faithful.twist(Twist::NotAskedAgain);
    let provider = provider(&faithful, Some(SECRET), false);
    assert!(sign_in(&provider, &faithful, 1).is_ok());
}

#[test]
fn a_new_key_is_found_and_made_up_ones_do_not_flood_the_provider() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some(SECRET), true);
    assert!(sign_in(&provider, &faithful, 1).is_ok());
    assert!(sign_in(&provider, &faithful, 2).is_ok());
    assert_eq!(faithful.n_key_lists(), 1, "the list is kept");
    faithful.change_key("two");
    let later = Timestamp::now().checked_add(SignedDuration::from_secs(40)).unwrap();
    let (query, cookie) = there_and_back(&provider, &faithful, 3);
    assert!(provider.finish(&query, &cookie, later).is_ok(), "the provider changed its key");
    assert_eq!(faithful.n_key_lists(), 2);
    faithful.twist(Twist::UnknownKey);
    for n in 4..8 {
        let (query, cookie) = there_and_back(&provider, &faithful, n);
        assert_eq!(provider.finish(&query, &cookie, later), Err(Fault::Token(TokenFault::UnknownKey)));
    }
    assert_eq!(faithful.n_key_lists(), 2, "not once for each");
}

#[test]
fn a_provider_that_is_down_or_odd_is_named() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some("another secret"), true);
    let fault = sign_in(&provider, &faithful, 1).unwrap_err();
    assert!(matches!(&fault, Fault::Refuses { word, .. } if word == "invalid_client"), "{fault}");

    let provider = self::provider(&faithful, Some(SECRET), true);
    for (n, twist, word) in [(1, Twist::NoIdToken, "no ID token"), (2, Twist::NotJson, "no ID token")] {
        let (query, cookie) = there_and_back(&provider, &faithful, n);
        faithful.twist(twist);
        let fault = provider.finish(&query, &cookie, Timestamp::now()).unwrap_err();
        assert!(fault.to_string().contains(word), "{fault}");
        assert!(!fault.to_string().contains("Welcome"), "{fault}");
        faithful.twist(Twist::Nothing);
    }
    let (query, cookie) = there_and_back(&provider, &faithful, 3);
    faithful.twist(Twist::Failing);
    let fault = provider.finish(&query, &cookie, Timestamp::now()).unwrap_err();
    assert!(fault.to_string().contains("status 503"), "{fault}");

    let nobody = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let settings = Settings::new(&format!("http://{nobody}"), CLIENT, None, PAGES, true).unwrap();
    let provider = Provider::new(settings, Box::new(OverHttp::new(None).unwrap()));
    let Err(fault) = provider.begin(random(1), "/", Timestamp::now()) else { panic!("nobody is there") };
    assert!(matches!(fault, Fault::Silent { .. }), "{fault}");
    assert!(fault.expected_and_to_do().1.contains("try again"));
}

#[test]
fn what_comes_back_besides_a_code_is_told() {
    let faithful = Faithful::start();
    let provider = provider(&faithful, Some(SECRET), true);
    let begin = |n: u8| {
        let started = provider.begin(random(n), "/", Timestamp::now()).unwrap();
        let state = started.address.split("state=").nth(1).unwrap().split('&').next().unwrap().to_owned();
        (format!("state={state}"), started.cookie)
    };
    let issuer: String = form_urlencoded::byte_serialize(faithful.issuer.as_bytes()).collect();
    let (state, cookie) = begin(1);
    let refused =
        format!("{state}&iss={issuer}&error=access_denied&error_description=No%0A<b>such</b>%20nurse");
    let fault = provider.finish(&refused, &cookie, Timestamp::now()).unwrap_err();
    assert_eq!(
        fault,
        Fault::Refuses { word: "access_denied".to_owned(), said: "No<b>such</b> nurse".to_owned() }
    );
    let (state, cookie) = begin(2);
    let mixed_up = format!("{state}&code=x&iss=https%3A%2F%2Felsewhere.example");
    let fault = provider.finish(&mixed_up, &cookie, Timestamp::now()).unwrap_err();
    assert_eq!(fault, Fault::OtherIssuer("https://elsewhere.example".to_owned()));
    let (state, cookie) = begin(3);
    let fault = provider.finish(&format!("{state}&code=x"), &cookie, Timestamp::now()).unwrap_err();
    assert_eq!(fault, Fault::OtherIssuer("nobody".to_owned()), "it said that it names itself (RFC 9207)");
    let (state, cookie) = begin(4);
    let fault = provider.finish(&format!("{state}&iss={issuer}"), &cookie, Timestamp::now()).unwrap_err();
    assert!(fault.to_string().contains("no code"), "{fault}");
}
