//! Who stands at the entrance: the trait through which the pages ask who somebody is.

mod administration;

pub use administration::{
    AccountChange, AccountRow, AccountsPage, Administration, ChangeNote, Changed, Stranger, ViewsAsked,
    ViewsPage,
};

use account::{Account, AccountName, Token, Wait};
use jiff::civil::DateTime;
use practice::PersonId;

use crate::door::{DeskError, Refusal};

/// Knows the accounts and the sessions. The program that starts the site implements it.
///
/// Calls may block; the site makes those that do on threads kept for blocking work.
pub trait Doorkeeper: Administration + Send + Sync {
    /// False where the unit has no accounts: then nobody signs in, and the pages answer on this machine only.
    fn has_accounts(&self) -> bool;

    /// Name under which a proxy that encrypts passes requests on to these pages, where there is one.
    fn behind(&self) -> Option<&str> {
        None
    }

    /// Whose session this is now.
    fn who(&self, token: &Token) -> Option<Account>;

    /// Signs somebody in. `place` says where the request came from, for the rate of attempts.
    fn sign_in(&self, name: &str, password: &str, place: &str) -> Result<SignIn, DeskError>;

    /// Name of the provider at which people can sign in, where there is one.
    fn provider(&self) -> Option<&str> {
        None
    }

    /// Begins a sign-in at the provider; `to` is where to go afterwards.
    fn begin_at_provider(&self, to: &str, place: &str) -> Result<AtProvider, DeskError> {
        let _ = (to, place);
        Err(DeskError::Failed("there is no provider".to_owned()))
    }

    /// Takes the provider's answer, the query as it came, brought by a browser with this cookie.
    fn back_from_provider(&self, query: &str, cookie: &str) -> Result<FromProvider, DeskError> {
        let _ = (query, cookie);
        Err(DeskError::Failed("there is no provider".to_owned()))
    }

    /// True where passwords are for administrators alone, because everybody else signs in at the provider. Such a
    /// session is for what administrators do and for nothing else.
    fn only_administrators_by_password(&self) -> bool {
        false
    }

    /// Ends a session. Where it began at the provider, says where the browser goes to end it there too.
    fn sign_out(&self, token: &Token) -> Option<String>;

    /// Takes another password. All sessions of the account end; the token of a new one comes back.
    fn change_password(
        &self,
        name: &AccountName,
        old: &str,
        new: &str,
    ) -> Result<Result<Token, Refusal>, DeskError>;

    /// Keeps that somebody saw figures of a person.
    fn note_view(&self, view: &View) -> Result<(), DeskError>;

    /// Who saw figures of this person, latest first.
    fn views_of(&self, person: &PersonId) -> Result<Vec<View>, DeskError>;
}

/// What became of an attempt to sign in.
#[derive(Debug)]
pub enum SignIn {
    /// Signed in, with the token of the new session.
    In(Token, Account),
    /// No account has this name with this password; which of the two is wrong is not said.
    Wrong,
    /// The pair is right, and passwords are for administrators alone.
    NotByPassword,
    /// Not looked at.
    Wait(Wait, Option<DateTime>),
}

/// What became of an attempt to begin at the provider.
#[derive(Debug)]
pub enum AtProvider {
    /// The browser goes there, and keeps a text to show that it is the one that began.
    Go {
        /// Where.
        address: String,
        /// What it keeps.
        cookie: String,
    },
    /// The provider cannot be used now.
    Refused(Refusal),
    /// Not looked at.
    Wait(Wait, Option<DateTime>),
}

/// What came of an answer of the provider.
#[derive(Debug)]
pub enum FromProvider {
    /// Signed in, with the token of the new session, and where to go.
    In(Token, Account, String),
    /// Nobody is let in, and why.
    Refused(Refusal),
    /// The provider knows them; no account is tied to them.
    NoAccount {
        /// Who they are to the provider.
        subject: String,
    },
}

/// Figures that were seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct View {
    /// When, the unit's local time.
    pub when: DateTime,
    /// The account that saw them.
    pub by: AccountName,
    /// Whose they are; nobody for a page about everybody.
    pub of: Option<PersonId>,
    /// On which page, as a route without names in it.
    pub page: String,
}

/// A doorkeeper of a unit without accounts.
#[derive(Debug, Clone, Copy, Default)]
pub struct OpenDoor;

impl Administration for OpenDoor {}

impl Doorkeeper for OpenDoor {
    fn has_accounts(&self) -> bool {
        false
    }

    fn who(&self, _: &Token) -> Option<Account> {
        None
    }

    fn sign_in(&self, _: &str, _: &str, _: &str) -> Result<SignIn, DeskError> {
        Ok(SignIn::Wrong)
    }

    fn sign_out(&self, _: &Token) -> Option<String> {
        None
    }

    fn change_password(
        &self,
        _: &AccountName,
        _: &str,
        _: &str,
    ) -> Result<Result<Token, Refusal>, DeskError> {
        Err(DeskError::Failed("there are no accounts".to_owned()))
    }

    fn note_view(&self, _: &View) -> Result<(), DeskError> {
        Ok(())
    }

    fn views_of(&self, _: &PersonId) -> Result<Vec<View>, DeskError> {
        Ok(Vec::new())
    }
}
