use std::sync::Arc;

use jiff::civil::DateTime;
use practice::PersonId;

use crate::door::{About, Correction, Desk, DeskError, Draft, Publication, Recording, Refusal};
use crate::entrance::Viewer;
use crate::form::Secret;
use crate::keeper::Doorkeeper;
use crate::problem::Problem;

/// What each handler is given.
#[derive(Clone)]
pub(crate) struct Site {
    desk: Arc<dyn Desk>,
    keeper: Arc<dyn Doorkeeper>,
    secret: Secret,
}

impl Site {
    pub(crate) fn new(desk: Arc<dyn Desk>, keeper: Arc<dyn Doorkeeper>) -> Site {
        Site { desk, keeper, secret: Secret::drawn() }
    }

    /// What forms carry to show that these pages made them.
    pub(crate) fn secret(&self) -> &Secret {
        &self.secret
    }

    /// Who knows the accounts.
    pub(crate) fn keeper(&self) -> &Arc<dyn Doorkeeper> {
        &self.keeper
    }

    /// Writes an entry. Where the unit has accounts, an entry stands on the word of whoever is signed in, and of nobody else.
    pub(crate) async fn record(&self, draft: Draft) -> Result<(About, Recording), Problem> {
        if let Some(refusal) = signs_for_another(&draft.by) {
            return Ok((self.about().await?, Recording::Refused(vec![refusal])));
        }
        self.ask(move |desk| desk.record(&draft)).await
    }

    /// Publishes a report, on the same terms.
    pub(crate) async fn publish(&self, publication: Publication) -> Result<Recording, Problem> {
        if let Some(refusal) = signs_for_another(&publication.by) {
            return Ok(Recording::Refused(vec![refusal]));
        }
        self.ask(move |desk| desk.publish(&publication)).await.map(|(_, recording)| recording)
    }

    /// Takes people in, each entry on the word of whoever is signed in. The first of a unit stand on the word of a trainer
    /// among them, whom an administrator names: nobody of the unit can be signed in yet.
    pub(crate) async fn record_people(
        &self,
        drafts: Vec<Draft>,
        has_trainers: bool,
    ) -> Result<(About, Recording), Problem> {
        let begins = !has_trainers
            && Viewer::now().account.is_some_and(|account| account.is(account::Role::Administrator));
        if !begins && let Some(refusal) = drafts.first().and_then(|draft| signs_for_another(&draft.by)) {
            return Ok((self.about().await?, Recording::Refused(vec![refusal])));
        }
        self.ask(move |desk| desk.take_in_people(&drafts)).await
    }

    /// Corrects an entry, on the word of whoever is signed in.
    pub(crate) async fn correct(&self, correction: Correction) -> Result<(About, Recording), Problem> {
        if let Some(refusal) = signs_for_another(&correction.by) {
            return Ok((self.about().await?, Recording::Refused(vec![refusal])));
        }
        self.ask(move |desk| desk.correct(&correction)).await
    }

    /// Asks the doorkeeper on a thread kept for blocking work, with the unit's local time.
    pub(crate) async fn ask_keeper<T: Send + 'static>(
        &self,
        question: impl FnOnce(&dyn Doorkeeper, DateTime) -> Result<T, DeskError> + Send + 'static,
    ) -> Result<T, Problem> {
        let keeper = Arc::clone(&self.keeper);
        self.ask(move |desk| question(&*keeper, desk.now())).await.map(|(_, answer)| answer)
    }

    /// Asks the desk on a thread kept for blocking work, so that a slow disk holds up nobody else's page.
    /// `about` comes with every answer because every page says it.
    pub(crate) async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&dyn Desk) -> Result<T, DeskError> + Send + 'static,
    ) -> Result<(About, T), Problem> {
        let desk = Arc::clone(&self.desk);
        let answer = tokio::task::spawn_blocking(move || {
            // Afterwards, because the answer tells whether its facts are of an earlier time.
            let answer = question(&*desk);
            (desk.about(), answer)
        })
        .await;
        match answer {
            Ok((about, Ok(value))) => Ok((about, value)),
            Ok((_, Err(DeskError::Busy(detail)))) => Err(Problem::Busy(detail)),
            Ok((_, Err(DeskError::Failed(detail)))) => Err(Problem::Failed(detail)),
            // The panic message may quote data, so only the fact is passed on; the panic itself is on the log.
            Err(_) => Err(Problem::Failed("answering stopped with a panic".to_owned())),
        }
    }

    /// What every page says; for pages that ask nothing else.
    pub(crate) async fn about(&self) -> Result<About, Problem> {
        self.ask(|_| Ok(())).await.map(|(about, ())| about)
    }
}

/// Why an entry cannot stand on this person's word: another is signed in.
fn signs_for_another(by: &PersonId) -> Option<Refusal> {
    let viewer = Viewer::now();
    let signed = viewer.account.and_then(|account| account.person);
    if !viewer.accounts || signed.as_ref() == Some(by) {
        return None;
    }
    let expected = match signed {
        Some(person) => format!("{person}, who is signed in"),
        None => "an account that belongs to a person of the unit".to_owned(),
    };
    Some(Refusal::new(
        "who signs",
        by.to_string(),
        expected,
        "choose yourself, or sign in as that person; nothing was written",
    ))
}
