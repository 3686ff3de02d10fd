//! Who stands at the entrance: the trait through which the pages ask who somebody is.

use account::{Account, AccountName, Token, Wait};
use jiff::civil::DateTime;
use practice::PersonId;

use crate::door::{DeskError, Refusal};

/// Knows the accounts and the sessions. The program that starts the site implements it.
///
/// Calls may block; the site makes those that do on threads kept for blocking work.
pub trait Doorkeeper: Send + Sync {
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

    /// Ends a session.
    fn sign_out(&self, token: &Token);

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
    /// Not looked at.
    Wait(Wait, Option<DateTime>),
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

    fn sign_out(&self, _: &Token) {}

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
