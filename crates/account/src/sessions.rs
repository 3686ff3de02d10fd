use std::collections::HashMap;
use std::fmt;

use jiff::{SignedDuration, Timestamp};
use sha2::{Digest as _, Sha256};

use crate::accounts::AccountName;

/// Random bytes of a token.
pub const TOKEN_BYTES: usize = 32;
/// A session without a request ends after this (NIST SP 800-63B, authenticator assurance level 2; from memory).
const IDLE: SignedDuration = SignedDuration::from_mins(30);
/// Every session ends after this: one shift (the same source: at most 12 hours).
const LONGEST: SignedDuration = SignedDuration::from_hours(12);
/// Sessions of one account; a further one ends the oldest.
const OF_ONE_ACCOUNT: usize = 8;

/// What a browser carries to show whose session it is.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(not shown)")
    }
}

impl Token {
    /// A token of random bytes.
    pub fn new(random: [u8; TOKEN_BYTES]) -> Token {
        Token(random.iter().map(|byte| format!("{byte:02x}")).collect())
    }

    /// Reads what a browser sent; `None` for what cannot be a token.
    pub fn read(text: &str) -> Option<Token> {
        (text.len() == 2 * TOKEN_BYTES && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f')))
            .then(|| Token(text.to_owned()))
    }

    /// As it stands in a cookie.
    pub fn text(&self) -> &str {
        &self.0
    }

    fn digest(&self) -> [u8; 32] {
        Sha256::digest(self.0.as_bytes()).into()
    }
}

/// How somebody signed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Through {
    /// With the account's password.
    Password,
    /// At the sign-in provider.
    Provider,
}

#[derive(Debug, Clone)]
struct Session {
    account: AccountName,
    through: Through,
    epoch: u64,
    begun: Timestamp,
    seen: Timestamp,
    /// What is needed to sign out where somebody signed in.
    way_out: Option<String>,
}

/// Sessions under way. Kept in memory and by the digest of their token: a start of the program ends them all, and a
/// look at the memory gives no token away.
#[derive(Debug, Default)]
pub struct Sessions {
    by_digest: HashMap<[u8; 32], Session>,
}

impl Sessions {
    /// Begins one. `epoch` is the account's: when the account's grows, its older sessions are over.
    pub fn begin(
        &mut self,
        token: &Token,
        account: AccountName,
        epoch: u64,
        through: Through,
        now: Timestamp,
    ) {
        self.by_digest.retain(|_, session| !over(session, now));
        let mut of_this: Vec<(Timestamp, [u8; 32])> = self
            .by_digest
            .iter()
            .filter(|(_, session)| session.account == account)
            .map(|(digest, session)| (session.seen, *digest))
            .collect();
        of_this.sort_unstable();
        for (_, digest) in of_this.iter().rev().skip(OF_ONE_ACCOUNT - 1) {
            self.by_digest.remove(digest);
        }
        self.by_digest.insert(
            token.digest(),
            Session { account, through, epoch, begun: now, seen: now, way_out: None },
        );
    }

    /// Whose session it is, with the epoch it began under and how; notes that it was used. `None` when there is none or it is over.
    pub fn use_now(&mut self, token: &Token, now: Timestamp) -> Option<(AccountName, u64, Through)> {
        let digest = token.digest();
        let session = self.by_digest.get_mut(&digest)?;
        if over(session, now) {
            self.by_digest.remove(&digest);
            return None;
        }
        session.seen = session.seen.max(now);
        Some((session.account.clone(), session.epoch, session.through))
    }

    /// Keeps with a session what is needed to sign out where somebody signed in.
    pub fn keep_way_out(&mut self, token: &Token, way_out: String) {
        if let Some(session) = self.by_digest.get_mut(&token.digest()) {
            session.way_out = Some(way_out);
        }
    }

    /// Ends one, and gives back what was kept with it.
    pub fn end(&mut self, token: &Token) -> Option<String> {
        self.by_digest.remove(&token.digest())?.way_out
    }
}

fn over(session: &Session, now: Timestamp) -> bool {
    now.duration_since(session.seen) >= IDLE || now.duration_since(session.begun) >= LONGEST
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minute: i64) -> Timestamp {
        Timestamp::from_second(1_790_000_000 + 60 * minute).unwrap()
    }

    fn name(text: &str) -> AccountName {
        AccountName::new(text).unwrap()
    }

    #[test]
    fn a_session_ends_when_idle_and_after_a_shift() {
        let mut sessions = Sessions::default();
        let token = Token::new([1; TOKEN_BYTES]);
        sessions.begin(&token, name("a"), 3, Through::Password, at(0));
        assert_eq!(sessions.use_now(&token, at(29)), Some((name("a"), 3, Through::Password)));
        assert_eq!(
            sessions.use_now(&token, at(58)),
            Some((name("a"), 3, Through::Password)),
            "use keeps it alive"
        );
        assert_eq!(sessions.use_now(&token, at(88)), None, "half an hour without use");
        sessions.begin(&token, name("a"), 3, Through::Password, at(0));
        for minute in (0..720).step_by(20) {
            assert!(sessions.use_now(&token, at(minute)).is_some(), "{minute}");
        }
        assert_eq!(sessions.use_now(&token, at(720)), None, "twelve hours");
    }

    #[test]
    fn an_ended_session_and_a_made_up_token_are_nobody() {
        let mut sessions = Sessions::default();
        let token = Token::new([1; TOKEN_BYTES]);
        sessions.begin(&token, name("a"), 0, Through::Password, at(0));
        assert_eq!(sessions.use_now(&Token::new([2; TOKEN_BYTES]), at(1)), None);
        assert_eq!(sessions.end(&token), None);
        assert_eq!(sessions.use_now(&token, at(1)), None);
        sessions.begin(&token, name("a"), 0, Through::Provider, at(0));
        sessions.keep_way_out(&token, "way".to_owned());
        assert_eq!(sessions.end(&token).as_deref(), Some("way"));
        assert_eq!(sessions.end(&token), None, "it is given once");
        assert_eq!(Token::read(token.text()), Some(token.clone()));
        for bad in ["", "zz", &"g".repeat(64), &"A".repeat(64), &"0".repeat(65)] {
            assert_eq!(Token::read(bad), None, "{bad}");
        }
        assert!(!format!("{token:?}").contains("0101"), "a token does not get into a log");
    }

    #[test]
    fn a_clock_set_back_ends_nothing_and_lengthens_nothing() {
        let mut sessions = Sessions::default();
        let token = Token::new([1; TOKEN_BYTES]);
        sessions.begin(&token, name("a"), 0, Through::Password, at(60));
        assert!(sessions.use_now(&token, at(0)).is_some());
        assert_eq!(sessions.use_now(&token, at(90)), None);
    }

    #[test]
    fn a_ninth_session_ends_the_oldest() {
        let mut sessions = Sessions::default();
        let tokens: Vec<Token> = (0..9).map(|n| Token::new([n; TOKEN_BYTES])).collect();
        for (minute, token) in (0..).zip(&tokens) {
            sessions.begin(token, name("a"), 0, Through::Password, at(minute));
        }
        assert_eq!(sessions.use_now(&tokens[0], at(10)), None);
        assert!(tokens[1..].iter().all(|token| sessions.use_now(token, at(10)).is_some()));
    }
}
