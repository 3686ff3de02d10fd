//! What an administrator asks of the doorkeeper.

use std::collections::BTreeSet;

use account::{Account, AccountName, Role};
use jiff::civil::DateTime;
use practice::PersonId;

use super::View;
use crate::door::{DeskError, Refusal};

/// Looks after the accounts. A unit without accounts has nothing to look after: every method says so by itself.
pub trait Administration {
    /// The accounts, and who asked in vain.
    fn accounts_page(&self) -> Result<AccountsPage, DeskError> {
        Err(none())
    }

    /// Changes an account on the word of another.
    fn change_account(
        &self,
        by: &AccountName,
        change: &AccountChange,
        now: DateTime,
    ) -> Result<Result<Changed, Refusal>, DeskError> {
        let _ = (by, change, now);
        Err(none())
    }

    /// Who saw whose figures.
    fn views_page(&self, asked: &ViewsAsked) -> Result<ViewsPage, DeskError> {
        let _ = asked;
        Err(none())
    }
}

fn none() -> DeskError {
    DeskError::Failed("there are no accounts".to_owned())
}

/// Everything on the administrator's page.
#[derive(Debug, Clone, Default)]
pub struct AccountsPage {
    /// The accounts, by name.
    pub accounts: Vec<AccountRow>,
    /// People of the record book, with their names.
    pub people: Vec<(PersonId, String)>,
    /// Name of the sign-in provider, where there is one.
    pub provider: Option<String>,
    /// Who signed in at the provider since the program started and has no account, latest first.
    pub strangers: Vec<Stranger>,
    /// What was changed about accounts, latest first.
    pub changes: Vec<ChangeNote>,
    /// How many changes are kept.
    pub n_changes: usize,
}

/// One account.
#[derive(Debug, Clone)]
pub struct AccountRow {
    /// The account.
    pub account: Account,
    /// When it last signed in since the program started.
    pub signed_in: Option<DateTime>,
    /// What keeps it from trying a password now.
    pub locked: Option<String>,
}

/// Somebody the provider knows and these pages do not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stranger {
    /// Who they are to the provider.
    pub subject: String,
    /// What the provider calls them; it proves nothing.
    pub name: Option<String>,
    /// When they came.
    pub when: DateTime,
}

/// A change that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangeNote {
    /// When.
    pub when: DateTime,
    /// Who made it: an account, or the command line.
    pub by: String,
    /// Which account.
    pub account: String,
    /// What, in words.
    pub what: String,
}

/// A change to make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AccountChange {
    /// A new account, with a first password that the program draws unless it is tied to a subject.
    Add {
        /// Name to sign in with, as it was typed.
        name: String,
        /// What it signs in as.
        roles: BTreeSet<Role>,
        /// Whose it is.
        person: Option<PersonId>,
        /// Who that is to the provider.
        subject: Option<String>,
    },
    /// Other roles, of this person.
    Roles {
        /// Which account.
        name: AccountName,
        /// From now on.
        roles: BTreeSet<Role>,
        /// Whose it is.
        person: Option<PersonId>,
    },
    /// A new first password.
    NewPassword(AccountName),
    /// It may try again.
    Unlock(AccountName),
    /// Its end.
    Remove(AccountName),
    /// Tied to this subject, or to none any more.
    Tie(AccountName, Option<String>),
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// In words.
    pub words: String,
    /// A first password, to be told once and kept nowhere.
    pub first_password: Option<String>,
}

/// Which views are asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ViewsAsked {
    /// Of this person's figures.
    pub of: Option<PersonId>,
    /// By this account.
    pub by: Option<AccountName>,
}

/// Who saw whose figures.
#[derive(Debug, Clone, Default)]
pub struct ViewsPage {
    /// Latest first, the first few hundred.
    pub views: Vec<View>,
    /// How many there are in all for what was asked.
    pub n_views: usize,
    /// How many days views are kept.
    pub kept_days: u32,
}
