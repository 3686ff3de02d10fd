use jiff::Timestamp;

/// Why somebody was not signed in through the provider.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// The provider does not answer.
    #[error("{place} does not answer: {detail}")]
    Silent {
        /// What was asked.
        place: &'static str,
        /// What the system said.
        detail: String,
    },
    /// It answers with something that cannot be used.
    #[error("{place} answers with {found}; expected {expected}")]
    Answer {
        /// What was asked.
        place: &'static str,
        /// What came.
        found: String,
        /// What was expected.
        expected: &'static str,
    },
    /// It refuses, and says why in a word of the standard.
    #[error("the provider refuses: {word}{}", more(.said))]
    Refuses {
        /// The standard's word, such as `access_denied`.
        word: String,
        /// What it says besides.
        said: String,
    },
    /// The answer does not belong to a sign-in that this browser began.
    #[error("an answer to a sign-in that this browser did not begin, or that was used already")]
    NotBegun,
    /// It took too long.
    #[error("an answer that came after more than ten minutes")]
    TooLate,
    /// The answer names another provider (RFC 9207).
    #[error("an answer from {0:?}")]
    OtherIssuer(String),
    /// The token does not hold.
    #[error("an ID token {0}")]
    Token(TokenFault),
}

fn more(said: &str) -> String {
    if said.is_empty() { String::new() } else { format!(" ({said})") }
}

/// What does not hold about an ID token.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TokenFault {
    /// It cannot be read.
    #[error("that cannot be read: {0}")]
    Unreadable(String),
    /// Signed in a way that is not taken, such as not at all.
    #[error("signed with {0:?}")]
    Algorithm(String),
    /// Signed with a key that the provider does not publish.
    #[error("signed with a key that the provider does not publish")]
    UnknownKey,
    /// The signature is not of this token.
    #[error("with a signature that is not its own")]
    Signature,
    /// From another provider.
    #[error("from another provider: {0:?}")]
    Issuer(String),
    /// Meant for another program.
    #[error("meant for another program: {0}")]
    Audience(String),
    /// Not the one that was asked for now.
    #[error("that belongs to another sign-in (nonce)")]
    Nonce,
    /// Over.
    #[error("that ended at {ended}, while it is {now} here")]
    Expired {
        /// When it ended.
        ended: Timestamp,
        /// The clock here.
        now: Timestamp,
    },
    /// From the future.
    #[error("made at {made}, while it is {now} here")]
    NotYet {
        /// When it was made.
        made: Timestamp,
        /// The clock here.
        now: Timestamp,
    },
    /// The password was asked for before this sign-in began.
    #[error("of somebody whom the provider did not ask again")]
    NotAsked,
}

impl Fault {
    /// What was expected instead, and what to do, for whoever stands before the page.
    pub fn expected_and_to_do(&self) -> (&'static str, &'static str) {
        const SETTINGS: &str =
            "tell whoever looks after this program: docs/accounts.md says how the two must fit";
        const AGAIN: &str = "begin again from this page";
        match self {
            Fault::Silent { .. } => (
                "an answer within ten seconds",
                "try again in a moment, or sign in with a password of your own if you have one; if it stays, tell whoever looks after the hospital's sign-in",
            ),
            Fault::Answer { .. } => ("what OpenID Connect lays down", SETTINGS),
            Fault::Refuses { word, .. } if word == "access_denied" || word == "login_required" => {
                ("that you are let in there", AGAIN)
            }
            Fault::Refuses { word, .. } if word == "invalid_grant" => ("a code that was not used yet", AGAIN),
            Fault::Refuses { word, .. } if word == "temporarily_unavailable" || word == "server_error" => {
                ("a provider that is ready", "try again in a moment")
            }
            Fault::Refuses { .. } => ("that the provider knows these pages", SETTINGS),
            Fault::NotBegun => ("the answer to the sign-in begun here, once", AGAIN),
            Fault::TooLate => ("an answer within ten minutes", AGAIN),
            Fault::OtherIssuer(_) => ("the provider of this hospital", SETTINGS),
            Fault::Token(TokenFault::Expired { .. } | TokenFault::NotYet { .. }) => (
                "clocks that agree within a minute",
                "tell whoever looks after this program: the clock of this machine or of the provider is wrong",
            ),
            Fault::Token(TokenFault::NotAsked) => (
                "that the provider asks for the password each time",
                "begin again; if it stays, tell whoever looks after this program: docs/accounts.md, ask_again",
            ),
            Fault::Token(TokenFault::Nonce) => ("the token of this sign-in", AGAIN),
            Fault::Token(_) => {
                ("a token from this hospital's provider, for these pages, signed with its key", SETTINGS)
            }
        }
    }

    /// True where whoever looks after the program should read it on the log.
    pub fn is_for_the_log(&self) -> bool {
        match self {
            Fault::NotBegun | Fault::TooLate => false,
            Fault::Refuses { word, .. } => word != "access_denied" && word != "login_required",
            Fault::Silent { .. } | Fault::Answer { .. } | Fault::OtherIssuer(_) | Fault::Token(_) => true,
        }
    }
}
