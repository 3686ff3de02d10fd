//! Knows the accounts of a data folder and the sessions under way, for the pages.

mod administration;
mod notes;
mod provider;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::SystemTime;

use account::{
    Account, AccountName, Accounts, Attempts, Role, Sessions, TOKEN_BYTES, Through, Token, Wait,
    waste_as_much_time,
};
use jiff::Timestamp;
use jiff::civil::DateTime;
use practice::PersonId;
use site::{AtProvider, DeskError, Doorkeeper, FromProvider, Refusal, SignIn, Stranger, View};

use crate::accounts_file::AccountsFile;
use crate::folder::Folder;
use crate::message::Message;
use crate::provider_file::{Named, Passwords};

pub use notes::Notes;
pub use provider::has_a_way_in;

pub struct DoorkeeperOfFolder {
    folder: Folder,
    behind: Option<String>,
    file: AccountsFile,
    known: Mutex<Known>,
    sessions: Mutex<Sessions>,
    attempts: Mutex<Attempts>,
    /// One password is looked at at a time: each takes 19 MB and a core for a moment.
    hashing: Mutex<()>,
    notes: Notes,
    provider: Option<Named>,
    /// When each account last signed in since the start.
    signed_in: Mutex<BTreeMap<AccountName, DateTime>>,
    /// Who came from the provider and has no account, latest first.
    strangers: Mutex<Vec<Stranger>>,
}

/// The accounts as they were read last, with the file's time then.
struct Known {
    accounts: Accounts,
    read: Option<(SystemTime, u64)>,
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // What is kept under these locks is whole after each step, so a panic elsewhere does not spoil it.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl DoorkeeperOfFolder {
    /// `behind` is the name under which a proxy passes requests on.
    pub fn open(folder: Folder, behind: Option<String>) -> Result<DoorkeeperOfFolder, Message> {
        let file = AccountsFile::of(folder.path());
        let read = stamp(&file);
        let accounts = file.read()?;
        let notes = Notes::of(folder.path(), folder.keep_views_days()?);
        notes.forget_old(folder.now());
        let provider = crate::provider_file::read(folder.path())?;
        Ok(DoorkeeperOfFolder {
            notes,
            provider,
            signed_in: Mutex::default(),
            strangers: Mutex::default(),
            folder,
            behind,
            file,
            known: Mutex::new(Known { accounts, read }),
            sessions: Mutex::default(),
            attempts: Mutex::default(),
            hashing: Mutex::new(()),
        })
    }

    /// The accounts as they are now. A file that cannot be read any more leaves the last good ones, and says so on the log.
    fn accounts(&self) -> Accounts {
        let mut known = held(&self.known);
        let read = stamp(&self.file);
        if read != known.read {
            known.read = read;
            match self.file.read() {
                // A file that is gone does not open the door.
                Ok(accounts) if accounts.is_empty() && !known.accounts.is_empty() => {
                    eprintln!(
                        "wardwright accounts: {} is gone; the accounts read last still hold",
                        self.file.path().display()
                    );
                }
                Ok(accounts) => known.accounts = accounts,
                Err(message) => {
                    eprintln!("wardwright accounts: {message}; the accounts read last still hold")
                }
            }
        }
        known.accounts.clone()
    }

    fn begin(&self, account: &Account, through: Through, now: Timestamp) -> Result<Token, DeskError> {
        let mut random = [0; TOKEN_BYTES];
        getrandom::fill(&mut random)
            .map_err(|error| DeskError::Failed(format!("no random bytes: {error}")))?;
        let token = Token::new(random);
        held(&self.sessions).begin(&token, account.name.clone(), account.epoch, through, now);
        held(&self.signed_in).insert(account.name.clone(), self.folder.now());
        Ok(token)
    }

    fn is_right(&self, account: Option<&Account>, password: &str) -> bool {
        let _turn = held(&self.hashing);
        match account.and_then(|account| account.password.as_ref()) {
            Some(hash) => hash.is_of(password),
            None => {
                waste_as_much_time(password);
                false
            }
        }
    }

    /// True where passwords are for administrators alone.
    fn administrators_alone(&self) -> bool {
        self.provider.as_ref().is_some_and(|named| named.passwords == Passwords::Administrators)
    }

    /// An account as it is in a session that began in this way. Where passwords are for administrators alone, one that
    /// came in by a password is an administrator and nothing else, or nobody.
    fn through_which(&self, account: Account, through: Through) -> Option<Account> {
        if through == Through::Provider {
            return Some(Account { must_change: false, ..account });
        }
        if !self.administrators_alone() {
            return Some(account);
        }
        account.is(Role::Administrator).then(|| Account {
            roles: BTreeSet::from([Role::Administrator]),
            person: None,
            ..account
        })
    }

    /// When somebody may try again, on the clock of the wall.
    fn until(&self, wait: Wait) -> Option<DateTime> {
        match wait {
            Wait::Until(moment) | Wait::Place(moment) => Some(self.folder.on_the_wall(moment)),
            Wait::Locked => None,
        }
    }
}

fn stamp(file: &AccountsFile) -> Option<(SystemTime, u64)> {
    let metadata = fs::metadata(file.path()).ok()?;
    Some((metadata.modified().ok()?, metadata.len()))
}

impl Doorkeeper for DoorkeeperOfFolder {
    fn has_accounts(&self) -> bool {
        !self.accounts().is_empty()
    }

    fn behind(&self) -> Option<&str> {
        self.behind.as_deref()
    }

    fn who(&self, token: &Token) -> Option<Account> {
        let (name, epoch, through) = held(&self.sessions).use_now(token, Timestamp::now())?;
        let account = self.accounts().find(&name).filter(|account| account.epoch == epoch).cloned();
        // A first password is somebody else's choice; who came through the provider did not use it.
        account.and_then(|account| self.through_which(account, through))
    }

    fn sign_in(&self, name: &str, password: &str, place: &str) -> Result<SignIn, DeskError> {
        let now = Timestamp::now();
        let accounts = self.accounts();
        let known = AccountName::new(name).ok();
        let account = known.as_ref().and_then(|name| accounts.find(name));
        let counted = known.as_ref().map_or_else(|| name.to_lowercase(), ToString::to_string);
        let unlocked = account.and_then(|account| account.unlocked);
        if let Err(wait) = held(&self.attempts).begin(&counted, place, now, unlocked) {
            return Ok(SignIn::Wait(wait, self.until(wait)));
        }
        let right = self.is_right(account, password);
        match account {
            Some(account) if right => {
                held(&self.attempts).right(&counted);
                match self.through_which(account.clone(), Through::Password) {
                    Some(seen) => Ok(SignIn::In(self.begin(account, Through::Password, now)?, seen)),
                    None => Ok(SignIn::NotByPassword),
                }
            }
            _ => {
                held(&self.attempts).wrong(&counted, now);
                Ok(SignIn::Wrong)
            }
        }
    }

    fn only_administrators_by_password(&self) -> bool {
        self.administrators_alone()
    }

    fn sign_out(&self, token: &Token) -> Option<String> {
        held(&self.sessions).end(token)
    }

    fn change_password(
        &self,
        name: &AccountName,
        old: &str,
        new: &str,
    ) -> Result<Result<Token, Refusal>, DeskError> {
        let now = Timestamp::now();
        let accounts = self.accounts();
        let Some(account) = accounts.find(name) else {
            return Err(DeskError::Failed("the account is gone".to_owned()));
        };
        let refused = |message: Message| Refusal {
            place: message.place,
            found: message.found,
            expected: message.expected,
            to_do: message.to_do,
        };
        let wrong = |found: &str| {
            Refusal::new(
                "password now",
                found,
                "the password you signed in with",
                "type it again; nothing was changed",
            )
        };
        if self.administrators_alone() && !account.is(Role::Administrator) {
            return Ok(Err(Refusal::new(
                "password",
                "an account that is no administrator’s",
                "the hospital’s sign-in alone: passwords are for administrators here",
                "change the password of the hospital’s sign-in there; nothing was changed",
            )));
        }
        if held(&self.attempts).begin(name.as_str(), "password page", now, account.unlocked).is_err() {
            return Ok(Err(wrong("several wrong passwords in a row; wait a while")));
        }
        if !self.is_right(Some(account), old) {
            held(&self.attempts).wrong(name.as_str(), now);
            return Ok(Err(wrong("another password")));
        }
        held(&self.attempts).right(name.as_str());
        if old == new {
            return Ok(Err(Refusal::new(
                "new password",
                "the password of now",
                "another one",
                "choose a new one; nothing was changed",
            )));
        }
        let hash = match crate::accounts::hash(new, &self.folder, name) {
            Ok(hash) => hash,
            Err(message) => return Ok(Err(refused(message))),
        };
        let changed = self.file.change(|accounts| {
            accounts.with_password(name, hash, false).map_err(|error| self.file.misfit(&error))
        });
        match changed.as_ref().map(|accounts| accounts.find(name)) {
            Ok(Some(account)) => Ok(Ok(self.begin(account, Through::Password, now)?)),
            Ok(None) => Err(DeskError::Failed("the account is gone".to_owned())),
            Err(message) => Err(DeskError::Failed(message.to_string())),
        }
    }

    fn note_view(&self, view: &View) -> Result<(), DeskError> {
        self.notes.note_view(view).map_err(DeskError::Failed)
    }

    fn views_of(&self, person: &PersonId) -> Result<Vec<View>, DeskError> {
        let about = |view: &View| view.of.as_ref().is_none_or(|of| of == person);
        self.notes.views(about).map_err(DeskError::Failed)
    }

    fn provider(&self) -> Option<&str> {
        self.provider.as_ref().map(|named| named.name.as_str())
    }

    fn begin_at_provider(&self, to: &str, place: &str) -> Result<AtProvider, DeskError> {
        self.go_there(to, place)
    }

    fn back_from_provider(&self, query: &str, cookie: &str) -> Result<FromProvider, DeskError> {
        self.come_back(query, cookie)
    }
}
