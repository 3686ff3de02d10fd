use std::collections::BTreeSet;
use std::fmt;

use jiff::Timestamp;
use practice::PersonId;

use crate::password::PasswordHash;
use crate::role::Role;

/// Longest name of an account, in characters.
const LONGEST_NAME: usize = 64;

/// Name somebody signs in with, in small letters.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AccountName(String);

impl AccountName {
    /// Reads a name: letters, digits, and `.`, `-`, `_`, `@` between them; capitals count as small letters.
    pub fn new(text: &str) -> Result<AccountName, AccountFault> {
        let name = text.trim().to_lowercase();
        let plain = |sign: char| sign.is_ascii_alphanumeric();
        let fits = !name.is_empty()
            && name.len() <= LONGEST_NAME
            && name.chars().all(|sign| plain(sign) || ".-_@".contains(sign))
            && name.starts_with(plain)
            && name.ends_with(plain);
        if fits { Ok(AccountName(name)) } else { Err(AccountFault::Name(text.to_owned())) }
    }

    /// The name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for AccountName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Who somebody is to a sign-in provider, for good.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Subject {
    /// The provider, letter for letter.
    pub issuer: String,
    /// The person, as the provider tells its people apart.
    pub subject: String,
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} at {}", self.subject, self.issuer)
    }
}

/// One account. It has a password, or a subject at a sign-in provider, or both.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// Name it signs in with.
    pub name: AccountName,
    /// Whose it is, by staff identifier, where they stand in the record book.
    pub person: Option<PersonId>,
    /// What it signs in as.
    pub roles: BTreeSet<Role>,
    /// Hash of its password, where it signs in with one.
    pub password: Option<PasswordHash>,
    /// Who it is to a sign-in provider, where it signs in through one.
    pub subject: Option<Subject>,
    /// True while the password is one that somebody else chose.
    pub must_change: bool,
    /// Grows with every change of password or roles: sessions from before are over.
    pub epoch: u64,
    /// When an administrator last unlocked it.
    pub unlocked: Option<Timestamp>,
}

impl Account {
    /// True when it has this role.
    pub fn is(&self, role: Role) -> bool {
        self.roles.contains(&role)
    }
}

/// Why accounts are not as they must be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AccountFault {
    /// Not a name.
    #[error(
        "“{0}” as the name of an account; expected 1 to {LONGEST_NAME} letters, digits and . - _ @ between them"
    )]
    Name(String),
    /// The name is taken.
    #[error("a second account “{0}”; expected each name once")]
    Twice(AccountName),
    /// One person with two accounts.
    #[error("a second account of {0}; expected one for each person")]
    PersonTwice(PersonId),
    /// No such account.
    #[error("no account “{0}”")]
    Unknown(AccountName),
    /// An account without a role.
    #[error(
        "no role for “{0}”; expected at least one of trainer, preceptor, learner, results reader, administrator"
    )]
    NoRole(AccountName),
    /// A role that is about a person of the unit, without the person.
    #[error("“{0}” as {1}, of nobody; expected the staff identifier of that person")]
    NoPerson(AccountName, Role),
    /// One subject with two accounts.
    #[error("a second account of the subject {0}; expected one for each")]
    SubjectTwice(Subject),
    /// A subject that cannot be one.
    #[error("“{0}” as a subject; expected 1 to 255 printable signs, as the provider gives it")]
    Subject(String),
    /// Nothing to sign in with.
    #[error("“{0}” with neither a password nor a subject at the sign-in provider; expected at least one")]
    NoWayIn(AccountName),
    /// Nobody would be left who can make accounts.
    #[error(
        "no administrator would be left; expected at least one, or nobody could make or unlock an account"
    )]
    NoAdministrator,
}

/// The accounts of a unit, by name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Accounts {
    accounts: Vec<Account>,
}

impl Accounts {
    /// Checks that they fit together. None at all is allowed: then nobody signs in.
    pub fn new(mut accounts: Vec<Account>) -> Result<Accounts, AccountFault> {
        accounts.sort_by(|one, other| one.name.cmp(&other.name));
        if let Some(pair) = accounts.windows(2).find(|pair| pair[0].name == pair[1].name) {
            return Err(AccountFault::Twice(pair[0].name.clone()));
        }
        let mut people = BTreeSet::new();
        let mut subjects = BTreeSet::new();
        for account in &accounts {
            if account.password.is_none() && account.subject.is_none() {
                return Err(AccountFault::NoWayIn(account.name.clone()));
            }
            if let Some(subject) = &account.subject {
                if !is_subject(&subject.subject) {
                    return Err(AccountFault::Subject(subject.subject.chars().take(80).collect()));
                }
                if !subjects.insert(subject.clone()) {
                    return Err(AccountFault::SubjectTwice(subject.clone()));
                }
            }
            if account.roles.is_empty() {
                return Err(AccountFault::NoRole(account.name.clone()));
            }
            match &account.person {
                Some(person) if !people.insert(person.clone()) => {
                    return Err(AccountFault::PersonTwice(person.clone()));
                }
                Some(_) => {}
                None => {
                    if let Some(role) = account.roles.iter().find(|role| role.needs_person()) {
                        return Err(AccountFault::NoPerson(account.name.clone(), *role));
                    }
                }
            }
        }
        if !accounts.is_empty() && !accounts.iter().any(|account| account.is(Role::Administrator)) {
            return Err(AccountFault::NoAdministrator);
        }
        Ok(Accounts { accounts })
    }

    /// True when there is none: nobody signs in.
    pub fn is_empty(&self) -> bool {
        self.accounts.is_empty()
    }

    /// Every account, by name.
    pub fn iter(&self) -> impl Iterator<Item = &Account> {
        self.accounts.iter()
    }

    /// The account of this name.
    pub fn find(&self, name: &AccountName) -> Option<&Account> {
        self.accounts.iter().find(|account| account.name == *name)
    }

    /// The account tied to this subject.
    pub fn of_subject(&self, subject: &Subject) -> Option<&Account> {
        self.accounts.iter().find(|account| account.subject.as_ref() == Some(subject))
    }

    /// With one more account.
    pub fn with(&self, account: Account) -> Result<Accounts, AccountFault> {
        Accounts::new(self.accounts.iter().cloned().chain([account]).collect())
    }

    /// Without the account of this name.
    pub fn without(&self, name: &AccountName) -> Result<Accounts, AccountFault> {
        self.known(name)?;
        Accounts::new(self.accounts.iter().filter(|account| account.name != *name).cloned().collect())
    }

    /// With another password. `by_another` is true when it was not chosen by whoever signs in with it.
    pub fn with_password(
        &self,
        name: &AccountName,
        password: PasswordHash,
        by_another: bool,
    ) -> Result<Accounts, AccountFault> {
        self.changed(name, |account| {
            account.password = Some(password);
            account.must_change = by_another;
            account.epoch += 1;
        })
    }

    /// With other roles, of this person.
    pub fn with_roles(
        &self,
        name: &AccountName,
        roles: BTreeSet<Role>,
        person: Option<PersonId>,
    ) -> Result<Accounts, AccountFault> {
        self.changed(name, |account| {
            account.roles = roles;
            account.person = person;
            account.epoch += 1;
        })
    }

    /// Tied to a subject at the sign-in provider, or to none any more.
    pub fn with_subject(
        &self,
        name: &AccountName,
        subject: Option<Subject>,
    ) -> Result<Accounts, AccountFault> {
        self.changed(name, |account| {
            account.subject = subject;
            account.epoch += 1;
        })
    }

    /// With failed attempts up to this moment forgotten.
    pub fn unlocked(&self, name: &AccountName, now: Timestamp) -> Result<Accounts, AccountFault> {
        self.changed(name, |account| account.unlocked = Some(now))
    }

    fn known(&self, name: &AccountName) -> Result<&Account, AccountFault> {
        self.find(name).ok_or_else(|| AccountFault::Unknown(name.clone()))
    }

    fn changed(
        &self,
        name: &AccountName,
        change: impl FnOnce(&mut Account),
    ) -> Result<Accounts, AccountFault> {
        let mut account = self.known(name)?.clone();
        change(&mut account);
        let others = self.accounts.iter().filter(|other| other.name != *name).cloned();
        Accounts::new(others.chain([account]).collect())
    }
}

/// True for what can be a subject (OpenID Connect Core 1.0, section 2: at most 255 ASCII signs).
fn is_subject(text: &str) -> bool {
    (1..=255).contains(&text.len())
        && text.bytes().all(|byte| byte.is_ascii_graphic() || byte == b' ')
        && text.trim() == text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// No password anybody knows: only its form matters here.
    const HASH: &str =
        "$argon2id$v=19$m=19456,t=2,p=1$AQEBAQEBAQEBAQEBAQEBAQ$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
    const OTHER_HASH: &str =
        "$argon2id$v=19$m=19456,t=2,p=1$AgICAgICAgICAgICAgICAg$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

    fn account(name: &str, person: Option<&str>, roles: &[Role]) -> Account {
        Account {
            name: AccountName::new(name).unwrap(),
            person: person.map(|id| PersonId(id.to_owned())),
            roles: roles.iter().copied().collect(),
            password: Some(PasswordHash::read(HASH).unwrap()),
            subject: None,
            must_change: true,
            epoch: 4,
            unlocked: None,
        }
    }

    #[test]
    fn names_are_plain_and_in_small_letters() {
        assert_eq!(AccountName::new(" N.Harrow ").unwrap().as_str(), "n.harrow");
        for bad in ["", " ", "-a", "a-", "a b", "a/b", "<b>", "\u{202e}abc", "é", &"a".repeat(65)] {
            assert!(AccountName::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn accounts_that_do_not_fit_together_are_refused() {
        let admin = account("admin", None, &[Role::Administrator]);
        let some = Accounts::new(vec![admin.clone(), account("a", Some("n001"), &[Role::Learner])]).unwrap();
        assert!(matches!(
            some.with(account("A", Some("n002"), &[Role::Learner])),
            Err(AccountFault::Twice(_))
        ));
        assert!(matches!(
            some.with(account("b", Some("n001"), &[Role::Learner])),
            Err(AccountFault::PersonTwice(_))
        ));
        assert!(matches!(
            some.with(account("b", None, &[Role::Preceptor])),
            Err(AccountFault::NoPerson(_, _))
        ));
        assert!(matches!(some.with(account("b", None, &[])), Err(AccountFault::NoRole(_))));
        assert!(some.with(account("b", None, &[Role::ResultsReader])).is_ok());
        assert_eq!(some.without(&admin.name), Err(AccountFault::NoAdministrator));
        assert_eq!(
            some.with_roles(&admin.name, [Role::ResultsReader].into(), None),
            Err(AccountFault::NoAdministrator)
        );
        let subject =
            |text: &str| Some(Subject { issuer: "https://a.example".to_owned(), subject: text.to_owned() });
        let without_password = |name: &str, subject: Option<Subject>| Account {
            password: None,
            subject,
            ..account(name, None, &[Role::ResultsReader])
        };
        let tied = some.with(without_password("b", subject("x|1"))).unwrap();
        assert!(matches!(
            tied.with(without_password("c", subject("x|1"))),
            Err(AccountFault::SubjectTwice(_))
        ));
        assert!(tied.with(without_password("c", subject("x|2"))).is_ok());
        assert!(matches!(tied.with(without_password("c", None)), Err(AccountFault::NoWayIn(_))));
        let b = AccountName::new("b").unwrap();
        assert_eq!(tied.with_subject(&b, None), Err(AccountFault::NoWayIn(b)));
        for bad in ["", " x", "x\ny", "\u{202e}x", &"x".repeat(256)] {
            let fault = some.with(without_password("c", subject(bad)));
            assert!(matches!(fault, Err(AccountFault::Subject(_))), "{bad:?}");
        }
        let nobody = AccountName::new("nobody").unwrap();
        assert_eq!(some.without(&nobody), Err(AccountFault::Unknown(nobody)));
        assert!(Accounts::new(Vec::new()).unwrap().is_empty());
    }

    #[test]
    fn a_new_password_or_role_ends_older_sessions() {
        let name = AccountName::new("admin").unwrap();
        let some = Accounts::new(vec![account("admin", None, &[Role::Administrator])]).unwrap();
        let hash = PasswordHash::read(OTHER_HASH).unwrap();
        let other = some.with_password(&name, hash.clone(), false).unwrap();
        let changed = other.find(&name).unwrap();
        assert!(changed.epoch == 5 && !changed.must_change && changed.password == Some(hash));
        let other = other.with_roles(&name, [Role::Administrator, Role::ResultsReader].into(), None).unwrap();
        assert_eq!(other.find(&name).unwrap().epoch, 6);
        let subject = Subject { issuer: "https://a.example".to_owned(), subject: "x|1".to_owned() };
        let other = other.with_subject(&name, Some(subject.clone())).unwrap();
        assert_eq!(other.find(&name).unwrap().epoch, 7, "tied to somebody else: older sessions are over");
        assert_eq!(other.of_subject(&subject).map(|account| &account.name), Some(&name));
        let elsewhere = Subject { issuer: "https://b.example".to_owned(), ..subject };
        assert_eq!(
            other.of_subject(&elsewhere),
            None,
            "the same number at another provider is somebody else"
        );
        let other = other.with_subject(&name, None).unwrap();
        let moment = Timestamp::from_second(1_790_000_000).unwrap();
        let other = other.unlocked(&name, moment).unwrap();
        assert!(other.find(&name).unwrap().epoch == 8 && other.find(&name).unwrap().unlocked == Some(moment));
    }
}
