//! The accounts of a unit, in `accounts.toml` beside the record book.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use account::{Account, AccountName, Accounts, PasswordHash, Role, Subject};
use jiff::Timestamp;
use practice::PersonId;
use rustix::fs::{FlockOperation, flock};
use serde::{Deserialize, Serialize};

use crate::message::Message;

/// Name of the file.
pub const ACCOUNTS: &str = "accounts.toml";
const LOCK: &str = "accounts.lock";

/// The file as it is written.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Stored {
    schema: u32,
    #[serde(default, rename = "account")]
    accounts: Vec<StoredAccount>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StoredAccount {
    name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    person: Option<String>,
    roles: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    password: Option<String>,
    /// The sign-in provider to which the subject belongs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    issuer: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    subject: Option<String>,
    #[serde(default)]
    must_change: bool,
    #[serde(default)]
    epoch: u64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    unlocked: Option<String>,
}

/// The file of a data folder.
#[derive(Debug, Clone)]
pub struct AccountsFile {
    folder: PathBuf,
}

impl AccountsFile {
    pub fn of(folder: &Path) -> AccountsFile {
        AccountsFile { folder: folder.to_owned() }
    }

    pub fn path(&self) -> PathBuf {
        self.folder.join(ACCOUNTS)
    }

    /// Reads the accounts; none where there is no file.
    pub fn read(&self) -> Result<Accounts, Message> {
        let path = self.path();
        if !path.exists() {
            return Ok(Accounts::default());
        }
        let stored: Stored = crate::toml_file::read(&path, "the accounts", "docs/accounts.md")?;
        if stored.schema != 1 {
            return Err(self.fault(
                format!("schema = {}", stored.schema),
                "schema = 1",
                "use the version of wardwright that wrote it, or a newer one",
            ));
        }
        let accounts =
            stored.accounts.into_iter().map(|each| self.account(each)).collect::<Result<_, _>>()?;
        Accounts::new(accounts).map_err(|error| self.misfit(&error))
    }

    /// Changes the accounts: reads them, asks for the change, and puts the new file in the old one's place in one step.
    /// Two changes at once wait for each other.
    pub fn change(
        &self,
        change: impl FnOnce(&Accounts) -> Result<Accounts, Message>,
    ) -> Result<Accounts, Message> {
        let failed = |error: std::io::Error| {
            self.fault(
                format!("cannot be written: {error}"),
                "a data folder this program may write to",
                "check the permissions of the folder and the space on the disk; the accounts are as they were",
            )
        };
        let lock = fs::File::create(self.folder.join(LOCK)).map_err(failed)?;
        flock(&lock, FlockOperation::LockExclusive).map_err(|error| failed(error.into()))?;
        let accounts = change(&self.read()?)?;
        let stored = Stored { schema: 1, accounts: accounts.iter().map(stored).collect() };
        let text = toml::to_string(&stored).map_err(|error| {
            self.fault(error.to_string(), "accounts that can be written as TOML", "report this fault")
        })?;
        let new = self.folder.join(format!("{ACCOUNTS}.new"));
        let mut file = private(&new).map_err(failed)?;
        file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(failed)?;
        fs::rename(&new, self.path()).map_err(failed)?;
        fs::File::open(&self.folder).and_then(|folder| folder.sync_all()).map_err(failed)?;
        Ok(accounts)
    }

    fn account(&self, stored: StoredAccount) -> Result<Account, Message> {
        let name = AccountName::new(&stored.name).map_err(|error| self.misfit(&error))?;
        let roles = stored
            .roles
            .iter()
            .map(|word| {
                Role::from_word(word).ok_or_else(|| {
                    self.fault(
                        format!("“{word}” as a role of “{name}”"),
                        Role::ALL.map(Role::word).join(", "),
                        "correct the word",
                    )
                })
            })
            .collect::<Result<_, _>>()?;
        let no_hash = || {
            self.fault(
                format!("a password of “{name}” that is no Argon2id hash"),
                "a hash as `wardwright accounts` writes it",
                format!(
                    "give a new password with `wardwright accounts password {name}`, or restore the file"
                ),
            )
        };
        let password =
            stored.password.map(|text| PasswordHash::read(&text).ok_or_else(no_hash)).transpose()?;
        let subject = match (stored.issuer, stored.subject) {
            (Some(issuer), Some(subject)) => Some(Subject { issuer, subject }),
            (None, None) => None,
            _ => {
                return Err(self.fault(
                    format!("one of issuer and subject of “{name}” without the other"),
                    "both, or neither",
                    format!("`wardwright accounts tie {name} SUBJECT` writes both; restore the file or take the line out"),
                ));
            }
        };
        let unlocked = match stored.unlocked {
            Some(text) => Some(text.parse::<Timestamp>().map_err(|_| {
                self.fault(
                    format!("“{text}” as the moment “{name}” was unlocked"),
                    "a moment such as 2026-11-02T07:30:00Z",
                    "correct the line",
                )
            })?),
            None => None,
        };
        Ok(Account {
            name,
            person: stored.person.map(PersonId),
            roles,
            password,
            subject,
            must_change: stored.must_change,
            epoch: stored.epoch,
            unlocked,
        })
    }

    /// What does not fit, where it stands.
    pub fn misfit(&self, error: &account::AccountFault) -> Message {
        let text = error.to_string();
        let (found, expected) =
            text.split_once("; expected ").unwrap_or((&text, "accounts that fit together"));
        self.fault(found, expected, "`wardwright accounts list` shows what there is; nothing was changed")
    }

    fn fault(
        &self,
        found: impl Into<String>,
        expected: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Message {
        Message::new(self.path().display().to_string(), found, expected, to_do)
    }
}

fn stored(account: &Account) -> StoredAccount {
    StoredAccount {
        name: account.name.to_string(),
        person: account.person.as_ref().map(ToString::to_string),
        roles: account.roles.iter().map(ToString::to_string).collect(),
        password: account.password.as_ref().map(|hash| hash.text().to_owned()),
        issuer: account.subject.as_ref().map(|subject| subject.issuer.clone()),
        subject: account.subject.as_ref().map(|subject| subject.subject.clone()),
        must_change: account.must_change,
        epoch: account.epoch,
        unlocked: account.unlocked.map(|moment| moment.to_string()),
    }
}

/// A file that only its owner may read.
fn private(path: &Path) -> std::io::Result<fs::File> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    options.open(path)
}
