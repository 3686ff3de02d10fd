use std::sync::Arc;

use crate::door::{About, Desk, DeskError};
use crate::form::Secret;
use crate::problem::Problem;

/// What each handler is given.
#[derive(Clone)]
pub(crate) struct Site {
    desk: Arc<dyn Desk>,
    secret: Secret,
}

impl Site {
    pub(crate) fn new(desk: Arc<dyn Desk>) -> Site {
        Site { desk, secret: Secret::drawn() }
    }

    /// What forms carry to show that these pages made them.
    pub(crate) fn secret(&self) -> &Secret {
        &self.secret
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
