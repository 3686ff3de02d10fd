//! Signing in at the hospital's own provider.

use account::{Accounts, Role, Subject, Through};
use jiff::Timestamp;
use openid::{Came, Fault, RANDOM_BYTES, Started};
use site::{AtProvider, DeskError, FromProvider, Refusal, Stranger};

use super::{DoorkeeperOfFolder, held};
use crate::provider_file::Named;

/// Strangers remembered.
const STRANGERS: usize = 20;

impl DoorkeeperOfFolder {
    /// Asks the provider once, so that a fault shows on the log before somebody stands at the page.
    pub fn look_at_provider(&self) {
        if let Some(named) = &self.provider
            && let Err(fault) = named.provider.look(Timestamp::now())
        {
            eprintln!(
                "wardwright sign-in: {}: {fault}; expected {}",
                named.name,
                fault.expected_and_to_do().0
            );
        }
        if self.administrators_alone() && !has_a_way_in(&self.accounts()) {
            eprintln!(
                "wardwright sign-in: passwords are for administrators alone, and no administrator has one; expected one, \
                 or nobody gets in while the provider is down; wardwright accounts password NAME"
            );
        }
    }

    /// Where the provider sends people back to, without the scheme.
    pub fn host_to_come_back_to(&self) -> Option<&str> {
        let address = self.provider.as_ref()?.provider.settings().address();
        address.split_once("://").map(|(_, host)| host)
    }

    fn named(&self) -> Result<&Named, DeskError> {
        self.provider.as_ref().ok_or_else(|| DeskError::Failed("there is no sign-in provider".to_owned()))
    }

    pub(super) fn go_there(&self, to: &str, place: &str) -> Result<AtProvider, DeskError> {
        let named = self.named()?;
        let now = Timestamp::now();
        // Counted by place alone: no name is known yet.
        if let Err(wait) = held(&self.attempts).begin("", place, now, Some(now)) {
            return Ok(AtProvider::Wait(wait, self.until(wait)));
        }
        let mut random = [0; RANDOM_BYTES];
        getrandom::fill(&mut random)
            .map_err(|error| DeskError::Failed(format!("no random bytes: {error}")))?;
        Ok(match named.provider.begin(random, to, now) {
            Ok(Started { cookie, address }) => AtProvider::Go { address, cookie },
            Err(fault) => AtProvider::Refused(refusal(named, &fault)),
        })
    }

    pub(super) fn come_back(&self, query: &str, cookie: &str) -> Result<FromProvider, DeskError> {
        let named = self.named()?;
        let now = Timestamp::now();
        let Came { person, to, id_token } = match named.provider.finish(query, cookie, now) {
            Ok(came) => came,
            Err(fault) => return Ok(FromProvider::Refused(refusal(named, &fault))),
        };
        let subject =
            Subject { issuer: named.provider.settings().issuer().to_owned(), subject: person.subject };
        let accounts = self.accounts();
        if let Some(account) = accounts.of_subject(&subject) {
            let token = self.begin(account, Through::Provider, now)?;
            if named.sign_out_there
                && let Some(way_out) = named.provider.goodbye(&id_token)
            {
                held(&self.sessions).keep_way_out(&token, way_out);
            }
            if let Some(seen) = self.through_which(account.clone(), Through::Provider) {
                return Ok(FromProvider::In(token, seen, to));
            }
        }
        let stranger =
            Stranger { subject: subject.subject.clone(), name: person.name, when: self.folder.now() };
        let mut strangers = held(&self.strangers);
        strangers.retain(|other| other.subject != stranger.subject);
        strangers.insert(0, stranger);
        strangers.truncate(STRANGERS);
        Ok(FromProvider::NoAccount { subject: subject.subject })
    }
}

/// True where an administrator can sign in without the provider.
pub fn has_a_way_in(accounts: &Accounts) -> bool {
    accounts.iter().any(|account| account.is(Role::Administrator) && account.password.is_some())
}

/// What whoever stands at the page is told; what only those who look after the program can mend goes to the log too.
fn refusal(named: &Named, fault: &Fault) -> Refusal {
    if fault.is_for_the_log() {
        eprintln!("wardwright sign-in: {}: {fault}", named.name);
    }
    let (expected, to_do) = fault.expected_and_to_do();
    Refusal::new(named.name.clone(), fault.to_string(), expected, to_do)
}
