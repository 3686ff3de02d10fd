//! People taken in together, and entries undone by another one that stands beside them.

use std::collections::BTreeMap;

use ::book::{Body, BookError, Draft, Store as _};
use jiff::civil::DateTime;
use practice::{EventId, EventKind, History, PersonId, Role, standing_events};
use site::{Correction, Recording, Refusal};

use crate::folder::Folder;
use crate::message::Message;

/// Longest reason.
const LONGEST_REASON: usize = 2_000;

/// Everybody in the book by identifier, with name and role.
pub fn people_of(history: &History) -> BTreeMap<PersonId, (String, Role)> {
    let people = standing_events(history).into_iter().filter_map(|known| match &known.event.kind {
        EventKind::PersonAdded(person) => Some((person.id.clone(), (person.name.clone(), person.role))),
        _ => None,
    });
    people.collect()
}

/// Writes people into the book, all or none, on the word of a trainer who is in the book or among them.
pub fn take_in_people(folder: &Folder, sent: &[site::Draft], now: DateTime) -> Result<Recording, Message> {
    let mut book = folder.book()?;
    let say = |error: BookError| crate::book::message(&error, folder.path());
    let drafts: Vec<Draft> = sent
        .iter()
        .map(|each| Draft::new(each.id, each.happened, each.by.clone(), Body::Practice(each.what.clone())))
        .collect();
    let there = book.entries().map_err(say)?;
    if !drafts.iter().all(|draft| there.iter().any(|known| known.draft() == draft)) {
        let history = ::book::history(&book).map_err(say)?;
        let refusals = people_refused(sent, &people_of(&history), now);
        if !refusals.is_empty() {
            return Ok(Recording::Refused(refusals));
        }
    }
    append(&mut book, drafts, folder)
}

fn people_refused(
    sent: &[site::Draft],
    known: &BTreeMap<PersonId, (String, Role)>,
    now: DateTime,
) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    let listed = sent.iter().filter_map(|draft| match &draft.what {
        EventKind::PersonAdded(person) => Some(person),
        _ => None,
    });
    let listed: Vec<_> = listed.collect();
    if listed.len() != sent.len() || sent.is_empty() {
        refusals.push(Refusal::new(
            "the list",
            "something other than people",
            "people",
            "hand the list in again",
        ));
    }
    for draft in sent {
        let is_trainer = known.get(&draft.by).is_some_and(|(_, role)| *role == Role::Trainer)
            || listed.iter().any(|person| person.id == draft.by && person.role == Role::Trainer);
        if !is_trainer {
            refusals.push(Refusal::new(
                "Taken in by",
                draft.by.to_string(),
                "a trainer of the unit",
                "choose from the list",
            ));
            break;
        }
        if draft.happened > now {
            refusals.push(Refusal::new(
                "this form",
                "a time after now",
                "a time that has been",
                "open it anew",
            ));
            break;
        }
    }
    for person in listed.iter().filter(|person| known.contains_key(&person.id)) {
        refusals.push(Refusal::new(
            format!("{}", person.id),
            "somebody whom the book knows already",
            "people who are new to it",
            "look at the list once more; it passes over those who are there",
        ));
    }
    refusals
}

/// Writes that an entry was made in error. It stays in the book; what is worked out from the book leaves it out.
pub fn correct(folder: &Folder, sent: &Correction, now: DateTime) -> Result<Recording, Message> {
    let mut book = folder.book()?;
    let say = |error: BookError| crate::book::message(&error, folder.path());
    let draft = Draft::new(sent.id, sent.when, sent.by.clone(), Body::Practice(EventKind::EnteredInError))
        .correcting(sent.corrects, sent.reason.clone());
    let there = book.entries().map_err(say)?;
    if !there.iter().any(|known| *known.draft() == draft) {
        let history = ::book::history(&book).map_err(say)?;
        let refusals = correction_refused(sent, &history, now);
        if !refusals.is_empty() {
            return Ok(Recording::Refused(refusals));
        }
    }
    append(&mut book, vec![draft], folder)
}

fn correction_refused(sent: &Correction, history: &History, now: DateTime) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    let id = EventId(sent.corrects.to_string());
    let known = people_of(history);
    match history.events.iter().find(|event| event.id == id) {
        None => refusals.push(Refusal::new(
            "the entry",
            format!("{id}, which is not in the book"),
            "an entry of the book",
            "open it from a record",
        )),
        Some(event) => {
            let is_trainer = known.get(&sent.by).is_some_and(|(_, role)| *role == Role::Trainer);
            if event.by != sent.by && !is_trainer {
                refusals.push(Refusal::new(
                    "Corrected by",
                    sent.by.to_string(),
                    "whoever wrote the entry, or a trainer",
                    "ask one of them",
                ));
            }
            if history.events.iter().any(|later| later.corrects.as_ref() == Some(&id)) {
                refusals.push(Refusal::new(
                    "the entry",
                    "an entry that is corrected already",
                    "one that stands",
                    "look at the record: the correction stands beside it",
                ));
            }
            if event.kind == EventKind::EnteredInError {
                refusals.push(Refusal::new(
                    "the entry",
                    "a correction",
                    "a first-hand entry",
                    "write what happened as a new entry",
                ));
            }
        }
    }
    let n_characters = sent.reason.trim().chars().count();
    if n_characters == 0 || n_characters > LONGEST_REASON {
        refusals.push(Refusal::new(
            "Why",
            if n_characters == 0 { "nothing".to_owned() } else { format!("{n_characters} characters") },
            format!("a sentence, at most {LONGEST_REASON} characters"),
            "say why; it is shown beside both entries",
        ));
    }
    if sent.when > now {
        refusals.push(Refusal::new("this form", "a time after now", "a time that has been", "open it anew"));
    }
    refusals
}

fn append(book: &mut ::book::AnyBook, drafts: Vec<Draft>, folder: &Folder) -> Result<Recording, Message> {
    match book.append(drafts, jiff::Timestamp::now()) {
        Ok(appended) if appended.recorded.is_empty() => Ok(Recording::AlreadyThere),
        Ok(_) => Ok(Recording::Recorded),
        Err(error @ (BookError::IdTaken { .. } | BookError::BadDraft { .. })) => {
            let fault = error.fault();
            Ok(Recording::Refused(vec![Refusal::new(
                fault.place,
                fault.found,
                fault.expected,
                fault.what_to_do,
            )]))
        }
        Err(error) => Err(crate::book::message(&error, folder.path())),
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use practice::Person;
    use uuid::Uuid;

    use super::super::tests::{draft, now, refusals_of, unit};
    use super::*;

    fn person(id: &str, role: Role) -> EventKind {
        EventKind::PersonAdded(Person {
            id: PersonId(id.to_owned()),
            name: format!("Invented {id}"),
            role,
            unit: "Invented unit".to_owned(),
            started: date(2026, 1, 1),
        })
    }

    #[test]
    fn people_come_in_together_once_and_on_a_trainers_word() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let good = [draft("T", person("a", Role::Nurse)), draft("T", person("b", Role::Preceptor))];
        assert_eq!(take_in_people(&folder, &good, now()).unwrap(), Recording::Recorded);
        assert_eq!(take_in_people(&folder, &good, now()).unwrap(), Recording::AlreadyThere);
        let by_nurse = [draft("L", person("c", Role::Nurse))];
        assert!(refusals_of(&take_in_people(&folder, &by_nurse, now()).unwrap()).contains("Taken in by: L"));
        // One who is there already keeps the other out too: all or none.
        let mixed = [draft("T", person("d", Role::Nurse)), draft("T", person("a", Role::Nurse))];
        assert!(refusals_of(&take_in_people(&folder, &mixed, now()).unwrap()).contains("a: somebody"));
        // The first of a unit stand on the word of a trainer among them.
        let first = [draft("new", person("new", Role::Trainer)), draft("new", person("e", Role::Nurse))];
        assert_eq!(take_in_people(&folder, &first, now()).unwrap(), Recording::Recorded);
        assert_eq!(folder.book().unwrap().entries().unwrap().len(), 3 + 2 + 2);
    }

    #[test]
    fn an_entry_is_undone_by_its_writer_or_a_trainer_once_and_stays() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let people = [draft("T", person("a", Role::Nurse)), draft("T", person("b", Role::Nurse))];
        take_in_people(&folder, &people, now()).unwrap();
        let undo = |by: &str, reason: &str| Correction {
            id: Uuid::now_v7(),
            corrects: people[0].id,
            when: now(),
            by: PersonId(by.to_owned()),
            reason: reason.to_owned(),
        };
        assert!(
            refusals_of(&correct(&folder, &undo("L", "why"), now()).unwrap()).contains("Corrected by: L")
        );
        assert!(refusals_of(&correct(&folder, &undo("T", "  "), now()).unwrap()).contains("Why: nothing"));
        let elsewhere = Correction { corrects: Uuid::now_v7(), ..undo("T", "why") };
        assert!(refusals_of(&correct(&folder, &elsewhere, now()).unwrap()).contains("not in the book"));
        let good = undo("T", "She joined another unit.");
        assert_eq!(correct(&folder, &good, now()).unwrap(), Recording::Recorded);
        assert_eq!(correct(&folder, &good, now()).unwrap(), Recording::AlreadyThere);
        assert!(
            refusals_of(&correct(&folder, &undo("T", "again"), now()).unwrap()).contains("corrected already")
        );
        let book = folder.book().unwrap();
        assert_eq!(book.entries().unwrap().len(), 6);
        let history = ::book::history(&book).unwrap();
        assert!(!people_of(&history).contains_key(&PersonId("a".to_owned())));
        assert!(book.verify().unwrap().is_sound());
    }
}
