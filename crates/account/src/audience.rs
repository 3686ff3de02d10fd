use practice::PersonId;

use crate::accounts::Account;
use crate::role::Role;

/// For whom an address is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Audience {
    /// Whoever can reach the program: the page to sign in on, scripts and styles.
    Anyone,
    /// Whoever is signed in: nothing on it is about one person or the unit's results.
    SignedIn,
    /// Whoever marks what others say or do: preceptors and trainers.
    Watchers,
    /// The person it is about, and their trainer.
    Own,
    /// Trainers and readers of results: figures of the unit, of nobody alone.
    UnitFigures,
    /// Trainers.
    Trainers,
    /// Trainers, and administrators, who take in the first people of a unit: nobody of it can sign in before.
    Beginning,
    /// Administrators.
    Administrators,
}

/// Whom what stands at an address is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whose {
    /// Nobody alone.
    Nobodys,
    /// This person.
    Person(PersonId),
    /// An entry about one person, on the word of another.
    Entry {
        /// Whom it is about.
        of: PersonId,
        /// On whose word it stands: they wrote it, so they may read it.
        by: PersonId,
    },
    /// Somebody the program cannot name: an entry that does not exist, or an address it cannot read.
    Unknown,
}

/// True when this account may see, or send to, an address of this audience. The one place where it is decided.
pub fn may(account: &Account, audience: Audience, whose: &Whose) -> bool {
    let is = |role: Role| account.roles.contains(&role);
    match audience {
        Audience::Anyone | Audience::SignedIn => true,
        Audience::Watchers => is(Role::Trainer) || is(Role::Preceptor),
        Audience::Own => is(Role::Trainer) || owns(account, whose),
        Audience::UnitFigures => is(Role::Trainer) || is(Role::ResultsReader),
        Audience::Trainers => is(Role::Trainer),
        Audience::Beginning => is(Role::Trainer) || is(Role::Administrator),
        Audience::Administrators => is(Role::Administrator),
    }
}

fn owns(account: &Account, whose: &Whose) -> bool {
    let Some(me) = &account.person else { return false };
    match whose {
        Whose::Person(person) => person == me,
        Whose::Entry { of, by } => of == me || by == me,
        Whose::Nobodys | Whose::Unknown => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::accounts::AccountName;
    use crate::password::PasswordHash;

    /// No password anybody knows: only its form matters here.
    const HASH: &str =
        "$argon2id$v=19$m=19456,t=2,p=1$AQEBAQEBAQEBAQEBAQEBAQ$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

    fn account(roles: &[Role], person: Option<&str>) -> Account {
        Account {
            name: AccountName::new("someone").unwrap(),
            person: person.map(|id| PersonId(id.to_owned())),
            roles: roles.iter().copied().collect(),
            password: Some(PasswordHash::read(HASH).unwrap()),
            subject: None,
            must_change: false,
            epoch: 0,
            unlocked: None,
        }
    }

    /// The issue of trust in one table: role by audience, about oneself and about somebody else.
    #[test]
    fn who_may_see_what() {
        use Audience::{Administrators, Anyone, Beginning, Own, SignedIn, Trainers, UnitFigures, Watchers};
        let all = [Anyone, SignedIn, Watchers, Own, UnitFigures, Trainers, Beginning, Administrators];
        let allowed = |role: Role, whose: &Whose| -> Vec<Audience> {
            let account = account(&[role], Some("n001"));
            all.into_iter().filter(|audience| may(&account, *audience, whose)).collect()
        };
        let own = Whose::Person(PersonId("n001".to_owned()));
        let others = Whose::Person(PersonId("n002".to_owned()));
        for whose in [&own, &others, &Whose::Unknown] {
            assert_eq!(
                allowed(Role::Trainer, whose),
                [Anyone, SignedIn, Watchers, Own, UnitFigures, Trainers, Beginning]
            );
        }
        assert_eq!(allowed(Role::Preceptor, &own), [Anyone, SignedIn, Watchers, Own]);
        assert_eq!(allowed(Role::Learner, &own), [Anyone, SignedIn, Own]);
        for whose in [&others, &Whose::Unknown, &Whose::Nobodys] {
            assert_eq!(allowed(Role::Preceptor, whose), [Anyone, SignedIn, Watchers]);
            assert_eq!(allowed(Role::Learner, whose), [Anyone, SignedIn]);
            assert_eq!(allowed(Role::ResultsReader, whose), [Anyone, SignedIn, UnitFigures]);
            assert_eq!(allowed(Role::Administrator, whose), [Anyone, SignedIn, Beginning, Administrators]);
        }
    }

    #[test]
    fn an_account_of_nobody_owns_nothing() {
        let reader = account(&[Role::ResultsReader], None);
        assert!(
            !may(&reader, Audience::Own, &Whose::Unknown) && !may(&reader, Audience::Own, &Whose::Nobodys)
        );
    }
}
