//! Leave and return looked over against the book before they are added.

use jiff::civil::Date;
use practice::{EventKind, History, Person, PersonId, standing_events};
use site::Refusal;

use super::decisions::trainer;
use super::{knows, unknown};

/// The first day away of somebody who is away at the end of what the book has; `None` for somebody who is here.
fn away_since(person: &PersonId, history: &History) -> Option<Date> {
    let mut since = None;
    for known in standing_events(history) {
        match &known.event.kind {
            EventKind::PersonAdded(added) if added.id == *person => since = None,
            EventKind::PersonLeft { person: left } if left == person => {
                since.get_or_insert(known.event.happened.date());
            }
            _ => {}
        }
    }
    since
}

/// Somebody goes on leave or leaves the unit.
pub(super) fn goes(sent: &site::Draft, person: &PersonId, history: &History) -> Vec<Refusal> {
    let mut refusals: Vec<Refusal> = trainer(&sent.by, "Signed by", history).into_iter().collect();
    if !knows(history, person) {
        refusals.push(unknown("Who goes", person));
    }
    if let Some(since) = away_since(person, history) {
        refusals.push(Refusal::new(
            "Who goes",
            format!("{person}, who is away since {since}"),
            "somebody who is here",
            "nothing: the book has it already",
        ));
    }
    refusals
}

/// Somebody whom the book knows is added again: they are back. Only somebody who is away can come back.
pub(super) fn comes_back(sent: &site::Draft, person: &Person, history: &History) -> Vec<Refusal> {
    let mut refusals: Vec<Refusal> = trainer(&sent.by, "Signed by", history).into_iter().collect();
    match away_since(&person.id, history) {
        None => refusals.push(Refusal::new(
            "Who comes back",
            format!("{}, who is here", person.id),
            "somebody who is away",
            "nothing: the book has it already",
        )),
        Some(since) if sent.happened.date() < since => refusals.push(Refusal::new(
            "Back since",
            format!("{}, which is before the leave began", sent.happened.date()),
            format!("{since} or a later day"),
            "correct the date",
        )),
        Some(_) => {}
    }
    refusals
}

#[cfg(test)]
mod tests {
    use practice::{Level, Role};
    use site::Recording;

    use super::super::tests::{draft, now, refused, unit};
    use super::*;
    use crate::recording::record;

    /// By hand: away, not away twice, back, not back twice; the standing says so in between.
    #[test]
    fn leave_and_return_go_by_turns() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let learner = PersonId("L".to_owned());
        let goes = || EventKind::PersonLeft { person: learner.clone() };
        let history = || ::book::history(&folder.book().unwrap()).unwrap();
        let learner_as_known = || {
            let history = history();
            let person = standing_events(&history).into_iter().find_map(|known| match &known.event.kind {
                EventKind::PersonAdded(person) if person.id == learner => Some(person.clone()),
                _ => None,
            });
            person.unwrap()
        };
        let back = || EventKind::PersonAdded(learner_as_known());
        let level = || {
            let standings = practice::standings(&history(), now().date(), &practice::ReleaseRule::default());
            standings.into_iter().find(|standing| standing.person == learner).unwrap().level
        };
        assert!(refused(&folder, &draft("T", back())).contains("L, who is here"));
        assert!(refused(&folder, &draft("L", goes())).contains("not a trainer"));
        let nobody = EventKind::PersonLeft { person: PersonId("X".to_owned()) };
        assert!(refused(&folder, &draft("T", nobody)).contains("whom the book does not know"));
        assert_eq!(record(&folder, &draft("T", goes()), now()).unwrap(), Recording::Recorded);
        assert_eq!(level(), Level::Away);
        assert!(refused(&folder, &draft("T", goes())).contains("who is away since"));
        let early =
            site::Draft { happened: now().saturating_sub(jiff::Span::new().days(30)), ..draft("T", back()) };
        assert!(refused(&folder, &early).contains("before the leave began"));
        assert_eq!(record(&folder, &draft("T", back()), now()).unwrap(), Recording::Recorded);
        assert_ne!(level(), Level::Away);
        assert_eq!(learner_as_known().role, Role::Nurse);
    }
}
