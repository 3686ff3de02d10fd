//! What administrators see and change about accounts.

use std::sync::PoisonError;

use account::{Account, AccountFault, AccountName, Accounts, Role, Subject, Wait};
use jiff::Timestamp;
use jiff::civil::DateTime;
use practice::PersonId;
use site::{
    AccountChange, AccountRow, AccountsPage, Administration, ChangeNote, Changed, DeskError, Refusal,
    ViewsAsked, ViewsPage,
};

use super::{DoorkeeperOfFolder, held, stamp};
use crate::message::Message;

/// Views and changes given to a page at most.
const SHOWN: usize = 300;

impl Administration for DoorkeeperOfFolder {
    fn accounts_page(&self) -> Result<AccountsPage, DeskError> {
        let now = Timestamp::now();
        let accounts = self.accounts();
        let signed_in = held(&self.signed_in).clone();
        let rows = accounts
            .iter()
            .map(|account| AccountRow {
                signed_in: signed_in.get(&account.name).copied(),
                locked: self.locked(account, now),
                account: account.clone(),
            })
            .collect();
        let people = crate::book::people_by_name(self.folder.path()).map_err(|message| failed(&message))?;
        // Somebody may have been tied on the command line since.
        let issuer = self.issuer();
        let is_tied = |subject: &str| {
            let subject =
                issuer.as_ref().map(|issuer| Subject { issuer: issuer.clone(), subject: subject.to_owned() });
            subject.is_some_and(|subject| accounts.of_subject(&subject).is_some())
        };
        let mut strangers = held(&self.strangers).clone();
        strangers.retain(|stranger| !is_tied(&stranger.subject));
        let mut changes = self.notes.changes().map_err(DeskError::Failed)?;
        let n_changes = changes.len();
        changes.truncate(SHOWN);
        Ok(AccountsPage {
            accounts: rows,
            people,
            provider: self.provider.as_ref().map(|named| named.name.clone()),
            strangers,
            changes,
            n_changes,
        })
    }

    fn change_account(
        &self,
        by: &AccountName,
        change: &AccountChange,
        now: DateTime,
    ) -> Result<Result<Changed, Refusal>, DeskError> {
        let done = self.prepared(change).and_then(|prepared| self.made(by, prepared, now));
        Ok(done.map_err(|message| Refusal {
            place: message.place,
            found: message.found,
            expected: message.expected,
            to_do: message.to_do,
        }))
    }

    fn views_page(&self, asked: &ViewsAsked) -> Result<ViewsPage, DeskError> {
        let wanted = |view: &site::View| {
            asked.by.as_ref().is_none_or(|by| view.by == *by)
                && asked.of.as_ref().is_none_or(|of| view.of.as_ref().is_none_or(|seen| seen == of))
        };
        let mut views = self.notes.views(wanted).map_err(DeskError::Failed)?;
        let n_views = views.len();
        views.truncate(SHOWN);
        Ok(ViewsPage { views, n_views, kept_days: self.notes.kept_days() })
    }
}

fn failed(message: &Message) -> DeskError {
    if message.passes { DeskError::Busy(message.to_string()) } else { DeskError::Failed(message.to_string()) }
}

type Change = Box<dyn FnOnce(&Accounts) -> Result<Accounts, AccountFault>>;

/// A change that can be made, with what is said and noted of it.
struct Prepared {
    name: AccountName,
    change: Change,
    what: String,
    first_password: Option<String>,
}

impl DoorkeeperOfFolder {
    fn issuer(&self) -> Option<String> {
        self.provider.as_ref().map(|named| named.provider.settings().issuer().to_owned())
    }

    fn locked(&self, account: &Account, now: Timestamp) -> Option<String> {
        match held(&self.attempts).waits(account.name.as_str(), now, account.unlocked)? {
            Wait::Locked => Some("a hundred wrong passwords in a row".to_owned()),
            wait => {
                let until = self.until(wait).map(|until| until.strftime("%H:%M:%S").to_string());
                Some(format!("wrong passwords; waits until {}", until.unwrap_or_default()))
            }
        }
    }

    /// Looks a change over, and works out what takes long before the file is held.
    fn prepared(&self, change: &AccountChange) -> Result<Prepared, Message> {
        let now = Timestamp::now();
        Ok(match change {
            AccountChange::Add { name, roles, person, subject } => {
                let name = AccountName::new(name).map_err(|fault| self.file.misfit(&fault))?;
                self.is_in_the_book(person.as_ref())?;
                let subject = subject.as_deref().map(|subject| self.subject(subject)).transpose()?;
                let (first_password, hash) = match subject {
                    Some(_) => (None, None),
                    None => {
                        let (words, hash) = self.first_password(&name)?;
                        (Some(words), Some(hash))
                    }
                };
                let what = match &subject {
                    Some(subject) => format!("made, as {}, tied to {}", words(roles), subject.subject),
                    None => format!("made, as {}", words(roles)),
                };
                let account = Account {
                    name: name.clone(),
                    person: person.clone(),
                    roles: roles.clone(),
                    must_change: hash.is_some(),
                    password: hash,
                    subject,
                    epoch: crate::accounts::first_epoch(now),
                    unlocked: None,
                };
                Prepared { name, change: Box::new(|accounts| accounts.with(account)), what, first_password }
            }
            AccountChange::Roles { name, roles, person } => {
                self.is_in_the_book(person.as_ref())?;
                let of = person.as_ref().map_or_else(String::new, |person| format!(", of {person}"));
                let (key, roles, person) = (name.clone(), roles.clone(), person.clone());
                let what = format!("is now {}{of}", words(&roles));
                Prepared {
                    name: name.clone(),
                    change: Box::new(move |accounts| accounts.with_roles(&key, roles, person)),
                    what,
                    first_password: None,
                }
            }
            AccountChange::NewPassword(name) => {
                let (words, hash) = self.first_password(name)?;
                let key = name.clone();
                Prepared {
                    name: name.clone(),
                    change: Box::new(move |accounts| {
                        accounts.with_password(&key, hash, true)?.unlocked(&key, now)
                    }),
                    what: "has a new first password".to_owned(),
                    first_password: Some(words),
                }
            }
            AccountChange::Unlock(name) => {
                let key = name.clone();
                Prepared {
                    name: name.clone(),
                    change: Box::new(move |accounts| accounts.unlocked(&key, now)),
                    what: "may try again after wrong passwords".to_owned(),
                    first_password: None,
                }
            }
            AccountChange::Remove(name) => {
                let key = name.clone();
                Prepared {
                    name: name.clone(),
                    change: Box::new(move |accounts| accounts.without(&key)),
                    what: "is gone; what its person wrote stays in the record book".to_owned(),
                    first_password: None,
                }
            }
            AccountChange::Tie(name, subject) => {
                let subject = subject.as_deref().map(|subject| self.subject(subject)).transpose()?;
                let key = name.clone();
                let what = match &subject {
                    Some(subject) => format!("is tied to {}", subject.subject),
                    None => "is tied to nobody at the sign-in provider any more".to_owned(),
                };
                Prepared {
                    name: name.clone(),
                    change: Box::new(move |accounts| accounts.with_subject(&key, subject)),
                    what,
                    first_password: None,
                }
            }
        })
    }

    /// Makes a change, and notes who made it.
    fn made(&self, by: &AccountName, prepared: Prepared, now: DateTime) -> Result<Changed, Message> {
        let Prepared { name, change, what, first_password } = prepared;
        let file = &self.file;
        let accounts = file.change(|accounts| {
            // Whoever lost the role a moment ago changes nothing any more.
            if !accounts.find(by).is_some_and(|account| account.is(Role::Administrator)) {
                return Err(Message::new(
                    "account",
                    format!("“{by}”, who is no administrator any more"),
                    "an administrator",
                    "sign in again; nothing was changed",
                ));
            }
            change(accounts).map_err(|fault| file.misfit(&fault))
        })?;
        {
            let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
            known.read = stamp(file);
            known.accounts = accounts;
        }
        let note =
            ChangeNote { when: now, by: by.to_string(), account: name.to_string(), what: what.clone() };
        if let Err(error) = self.notes.note_change(&note) {
            eprintln!("wardwright accounts: a change of {name} is made and could not be noted: {error}");
        }
        let opens_nothing = first_password.is_some()
            && self.administrators_alone()
            && !self.accounts().find(&name).is_some_and(|account| account.is(Role::Administrator));
        let more = if opens_nothing {
            " Passwords are for administrators alone here: tie it to its person at the hospital’s sign-in."
        } else {
            ""
        };
        Ok(Changed {
            words: format!("Account {name} {what}.{more}"),
            first_password: first_password.filter(|_| !opens_nothing),
        })
    }

    fn subject(&self, subject: &str) -> Result<Subject, Message> {
        match self.issuer() {
            Some(issuer) => Ok(Subject { issuer, subject: subject.to_owned() }),
            None => Err(crate::accounts::no_provider()),
        }
    }

    fn is_in_the_book(&self, person: Option<&PersonId>) -> Result<(), Message> {
        match person {
            Some(person) => crate::accounts::known(&self.folder, person),
            None => Ok(()),
        }
    }

    fn first_password(&self, name: &AccountName) -> Result<(String, account::PasswordHash), Message> {
        let _turn = held(&self.hashing);
        crate::accounts::drawn_password(&self.folder, name)
    }
}

fn words(roles: &std::collections::BTreeSet<Role>) -> String {
    roles.iter().map(|role| role.word()).collect::<Vec<_>>().join(", ")
}
