//! What a teach-back shows, what comes next, what many miss, and how far two listeners agree; counted by hand.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use breakdown::{ItemId, Version};
use common::*;
use desk::Desk;
use jiff::civil::DateTime;
use practice::{Event, EventId, EventKind};
use teachback::{Mark, TeachBack, TeachBackItem};

fn pass(step: Mark, point: Mark) -> TeachBack {
    let said = |item, mark, at_s| TeachBackItem { item, mark, at_s: Some(at_s) };
    let items = vec![
        said(ItemId::step(1), step, 2.0),
        said(ItemId::key_point(1, 1), point, 9.5),
        said(ItemId::reason_of(1, 1), Mark::Unprompted, 14.0),
    ];
    TeachBack::heard(job("vein"), Version(1), items, None)
}

fn at(text: &str) -> DateTime {
    text.parse().unwrap()
}

fn heard(id: &str, when: &str, by: &str, teachback: TeachBack) -> Event {
    Event {
        id: EventId(id.to_owned()),
        happened: at(when),
        by: person(by),
        kind: EventKind::TeachBackHeard { person: person(LEARNER), teachback },
        corrects: None,
        correction_reason: None,
    }
}

/// The unit on 4 January 2026: the learner is planned for 14 February, nothing has been said yet.
fn desk_with(events: Vec<Event>) -> Desk {
    let mut material = material("2026-01-04", Vec::new());
    material.history.events.extend(events);
    material.today = day("2026-01-20");
    Desk::new(material)
}

#[test]
fn a_first_clean_pass_asks_for_a_second_on_another_day() {
    let desk = desk_with(Vec::new());
    let first = desk
        .teach_back_result(
            &person(LEARNER),
            &pass(Mark::Unprompted, Mark::Unprompted),
            at("2026-01-05T10:00"),
            &person(TRAINER),
            None,
        )
        .unwrap();
    assert!(first.clean && first.practise.is_empty() && first.shortfalls.is_empty());
    assert_eq!(first.next, Some(day("2026-01-06")));
    assert!(first.next_sentence.contains("on another day, from 6 January 2026"), "{}", first.next_sentence);
    assert!(first.next_sentence.contains("to be learnt by 14 February 2026"), "{}", first.next_sentence);
    assert_eq!(first.lasted_s, Some(14.0));

    let desk = desk_with(vec![heard(
        "first",
        "2026-01-05T10:00",
        TRAINER,
        pass(Mark::Unprompted, Mark::Unprompted),
    )]);
    let second = desk
        .teach_back_result(
            &person(LEARNER),
            &pass(Mark::Unprompted, Mark::Unprompted),
            at("2026-01-06T10:00"),
            &person(TRAINER),
            None,
        )
        .unwrap();
    assert_eq!(second.next, None);
    assert!(second.next_sentence.starts_with("The teach-back is complete."), "{}", second.next_sentence);
    // The saved pass, asked for by its entry, is not counted twice.
    let saved = desk.teach_back("first").unwrap();
    assert!(
        saved.next_sentence.contains("clean passes in a row: 1; the rule asks for 2"),
        "{}",
        saved.next_sentence
    );
    assert_eq!((saved.heard_by.as_str(), saved.corrected), ("Tamsin Ode", None));
    assert_eq!(desk.teach_back("e1"), None, "an entry of another kind");
}

#[test]
fn what_was_unsafe_comes_first_and_stops_the_pass() {
    let desk = desk_with(Vec::new());
    // The key point is a safety point: wrong on it is unsafe.
    let result = desk
        .teach_back_result(
            &person(LEARNER),
            &pass(Mark::Missed, Mark::Wrong),
            at("2026-01-05T10:00"),
            &person(TRAINER),
            None,
        )
        .unwrap();
    assert!(!result.clean);
    assert!(result.shortfalls[0].starts_with("the pass stopped"), "{:?}", result.shortfalls);
    let practise: Vec<_> = result
        .practise
        .iter()
        .map(|point| (point.item.to_string(), point.why.as_str(), point.safety))
        .collect();
    assert_eq!(practise, [("1.1".to_owned(), "unsafe", true), ("1".to_owned(), "missed", false)]);
    let form = desk_with(vec![heard("a", "2026-01-05T10:00", TRAINER, pass(Mark::Missed, Mark::Wrong))]);
    let form = form.teach_back_form(&person(LEARNER), &job("vein"), None).unwrap();
    let (when, open) = form.last.unwrap();
    assert_eq!((when, open.len()), (at("2026-01-05T10:00"), 2));
    let listeners: Vec<_> = form.listeners.iter().map(|(id, ..)| id.0.as_str()).collect();
    assert_eq!(listeners, [TRAINER, PRECEPTOR], "trainers first, and nobody hears their own");
    assert_eq!(desk.teach_back_form(&person("nobody"), &job("vein"), None), None);
    assert_eq!(desk.teach_back_form(&person(LEARNER), &job("vein"), Some(Version(2))), None);
}

/// Five passes heard by two: of ten items, eight are marked unprompted by both, one unprompted and missed, one missed by
/// both. Observed agreement 9 of 10. AC1 by hand with three categories (Gwet 2008): shares .85, 0 and .15, chance
/// (.1275 + .1275)/2 = .1275, so (.9 − .1275)/.8725 = .885. Kappa (Cohen 1960): chance .9 × .8 + .1 × .2 = .74, so .615.
#[test]
fn two_listeners_are_held_against_each_other() {
    use Mark::{Missed, Unprompted};
    let marks = [
        ((Unprompted, Unprompted), (Unprompted, Unprompted)),
        ((Unprompted, Unprompted), (Unprompted, Unprompted)),
        ((Unprompted, Unprompted), (Unprompted, Unprompted)),
        ((Unprompted, Unprompted), (Unprompted, Missed)),
        ((Unprompted, Missed), (Unprompted, Missed)),
    ];
    let mut events = Vec::new();
    for (number, (one, other)) in (5..).zip(marks) {
        let when = format!("2026-01-{number:02}T10:00");
        let without_reason = |(step, point): (Mark, Mark)| {
            let mut pass = pass(step, point);
            pass.items.truncate(2);
            pass
        };
        events.push(heard(&format!("t{number}"), &when, TRAINER, without_reason(one)));
        // Seconds do not matter: both wrote the same minute.
        events.push(heard(&format!("p{number}"), &format!("{when}:30"), PRECEPTOR, without_reason(other)));
    }
    // Another pass that only one person heard.
    events.push(heard("alone", "2026-01-12T10:00", TRAINER, pass(Unprompted, Missed)));
    let page = desk_with(events).missed(&job("vein")).unwrap();
    let listeners = page.listeners.unwrap();
    assert_eq!((listeners.passes, listeners.alike.events, listeners.alike.of), (5, 9, 10));
    assert!(listeners.ac1.starts_with("0.89, 95 % interval"), "{}", listeners.ac1);
    assert!(listeners.kappa.starts_with("0.62, 95 % interval"), "{}", listeners.kappa);
    assert_eq!(listeners.differed, [(ItemId::key_point(1, 1), 1, 5)]);
    // Of the key point: six passes, the worse mark of two listeners; missed in two of theirs and in the one heard
    // alone. Nothing was watched.
    let point = &page.ranked[0];
    assert_eq!((point.cost, point.judged, point.missed.events, point.missed.of), (3, 6, 3, 6));
    assert!(page.too_few.is_empty());
}

#[test]
fn too_few_are_not_ranked() {
    let page = desk_with(vec![heard("a", "2026-01-05T10:00", TRAINER, pass(Mark::Missed, Mark::Prompted))])
        .missed(&job("vein"))
        .unwrap();
    assert_eq!((page.ranked.len(), page.too_few.len()), (0, 1));
    assert_eq!((page.too_few[0].cost, page.too_few[0].prompted.events), (1, 1));
    assert_eq!(page.listeners, None);
    assert_eq!(desk_with(Vec::new()).missed(&job("none")), None);
}
