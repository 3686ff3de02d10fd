use breakdown::JobCode;
use culture::{CultureSet, Route};
use practice::{Event, EventId, History, LaboratoryDraw, PersonId};

use crate::entry::{Body, Recorded};
use crate::error::BookError;
use crate::store::Store;

/// Everything in the book that bears on a person's standing, as the practice room takes it.
///
/// Draws the laboratory attributes to a collector come along only when at least one stored set names a collector:
/// a laboratory that names nobody says nothing about who drew.
pub fn history(store: &dyn Store) -> Result<History, BookError> {
    let events = store.entries()?.iter().filter_map(event).collect();
    let draws: Vec<_> = store.sets()?.iter().filter_map(laboratory_draw).collect();
    Ok(History { events, laboratory_draws: (!draws.is_empty()).then_some(draws) })
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

fn laboratory_draw(set: &CultureSet) -> Option<LaboratoryDraw> {
    let person = PersonId(set.collector.clone()?);
    let job = set.route.map(job_of_route);
    Some(LaboratoryDraw { person, job, on: set.collected.date() })
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
