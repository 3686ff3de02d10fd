use std::collections::BTreeMap;

use breakdown::JobCode;
use culture::{CultureSet, Route};
use practice::{Event, EventId, EventKind, History, LaboratoryDraw, PersonId};

use crate::entry::{Body, Recorded};
use crate::error::BookError;
use crate::store::Store;

/// Everything in the book that bears on a person's standing, as the practice room takes it.
///
/// Draws the laboratory attributes to people come along only when at least one stored set names a person of the book:
/// a laboratory that names nobody says nothing about who drew. Collectors are matched to staff identifiers without
/// regard to capitals and spaces around them.
pub fn history(store: &dyn Store) -> Result<History, BookError> {
    history_with(store, &store.sets()?)
}

/// The same for a reader who has the latest version of every set already.
pub fn history_with(store: &dyn Store, sets: &[CultureSet]) -> Result<History, BookError> {
    let events: Vec<Event> = store.entries_of_people()?.iter().filter_map(event).collect();
    let people: BTreeMap<String, PersonId> = events
        .iter()
        .filter_map(|event| match &event.kind {
            EventKind::PersonAdded(person) => Some((folded(&person.id.0), person.id.clone())),
            _ => None,
        })
        .collect();
    let draw = |set: &CultureSet| {
        let person = people.get(&folded(set.collector.as_deref()?))?.clone();
        Some(LaboratoryDraw { person, job: set.route.map(job_of_route), on: set.collected.date() })
    };
    let draws: Vec<_> = sets.iter().filter_map(draw).collect();
    Ok(History { events, laboratory_draws: (!draws.is_empty()).then_some(draws) })
}

fn folded(identifier: &str) -> String {
    identifier.trim().to_lowercase()
}

/// One entry as the practice room takes it; `None` for entries about files and reports.
pub fn event(entry: &Recorded) -> Option<Event> {
    let Body::Practice(kind) = entry.body() else { return None };
    Some(Event {
        id: EventId(entry.id().to_string()),
        happened: entry.happened(),
        by: entry.by().clone(),
        kind: kind.clone(),
        corrects: entry.corrects().map(|id| EventId(id.to_string())),
        correction_reason: entry.correction_reason().map(str::to_owned),
    })
}

/// The short name a breakdown has for a draw by this route, by the convention that `docs/record-book.md` states.
pub fn job_of_route(route: Route) -> JobCode {
    let code = match route {
        Route::Vein => "vein",
        Route::CentralLine => "central-line",
        Route::ArterialLine => "arterial-line",
        Route::Cannula => "cannula",
    };
    JobCode(code.to_owned())
}
