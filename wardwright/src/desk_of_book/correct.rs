//! What the page that corrects an entry asks.

use jiff::civil::DateTime;
use practice::{EventId, History, PersonId, Role, Sentences};
use site::{CorrectDesk, Correctable, Correction, DeskError, Recording};
use uuid::Uuid;

use super::{DeskOfBook, failed};
use crate::message::Message;

impl CorrectDesk for DeskOfBook {
    fn correctable(&self, entry: Uuid) -> Result<Option<Correctable>, DeskError> {
        let read = || -> Result<History, Message> {
            let book = self.folder().book()?;
            ::book::history(&book).map_err(|error| crate::book::message(&error, self.folder().path()))
        };
        Ok(correctable(&read().map_err(failed)?, entry))
    }

    fn correct(&self, correction: &Correction) -> Result<Recording, DeskError> {
        let _writing = self.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        crate::recording::correct(self.folder(), correction, self.folder().now()).map_err(failed)
    }
}

fn correctable(history: &History, entry: Uuid) -> Option<Correctable> {
    let id = EventId(entry.to_string());
    let event = history.events.iter().find(|event| event.id == id)?;
    let people = crate::recording::people_of(history);
    let name = |id: &PersonId| people.get(id).map_or_else(|| id.to_string(), |(name, _)| name.clone());
    let named = |id: &PersonId| (id.clone(), name(id));
    let by_correction = history.events.iter().find(|later| later.corrects.as_ref() == Some(&id));
    let mut writers = vec![named(&event.by)];
    let trainers = people.iter().filter(|(id, (_, role))| *role == Role::Trainer && **id != event.by);
    writers.extend(trainers.map(|(id, (name, _))| (id.clone(), name.clone())));
    let happened: DateTime = event.happened;
    Some(Correctable {
        what: Sentences::new(history).of(&event.kind),
        when: happened,
        by: named(&event.by),
        of: event.kind.person().map(named),
        corrected: by_correction.map(|later| later.correction_reason.clone().unwrap_or_default()),
        writers,
    })
}
