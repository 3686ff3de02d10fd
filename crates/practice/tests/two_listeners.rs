//! One pass that two people heard counts once, with the worse mark. Common practice, no source: as for a draw that two
//! people watched.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

#[expect(dead_code, reason = "each test file uses the helpers it needs")]
mod common;

use breakdown::{ItemId, Version};
use common::*;
use practice::*;
use teachback::{Mark, TeachBack, TeachBackItem};

const POINT: ItemId = ItemId { step: 1, point: 2, reason: false };

/// The whole job said unprompted, but for one key point.
fn said(point: Mark, same_pass_as: Option<&EventId>) -> EventKind {
    let items = [ItemId::step(1), ItemId::step(2)].into_iter().chain(key_points());
    let items = items
        .map(|item| TeachBackItem {
            item,
            mark: if item == POINT { point } else { Mark::Unprompted },
            at_s: None,
        })
        .collect();
    let mut teachback = TeachBack::heard(job(), Version(1), items, None);
    teachback.same_pass_as = same_pass_as.map(|entry| entry.0.clone());
    EventKind::TeachBackHeard { person: person("L"), teachback }
}

fn fact(unit: &Unit) -> KeyPointFact {
    let facts = key_point_facts(&unit.history, &job(), day("2026-01-31"));
    facts.into_iter().find(|fact| fact.item == POINT).unwrap()
}

#[test]
fn a_pass_that_names_another_is_the_same_pass() {
    let mut unit = Unit::new();
    let first = unit.add("2026-01-05T10:00", "T", said(Mark::Unprompted, None));
    // The second listener's clock runs two minutes before the first one's.
    let second = unit.add("2026-01-05T09:58", "P", said(Mark::Led, Some(&first)));
    // Named by way of the second one.
    unit.add("2026-01-05T10:01", "Q", said(Mark::Partial, Some(&second)));
    let passes = heard_passes(&unit.history);
    assert_eq!(passes.len(), 1);
    let by: Vec<_> = passes[0].listened.iter().map(|listened| listened.event.by.0.as_str()).collect();
    assert_eq!((by[0], by.len()), ("T", 3));
    assert_eq!(passes[0].happened(), "2026-01-05T10:00".parse().unwrap());
    assert!(passes[0].holds(&second));
    let point = fact(&unit);
    assert_eq!((point.said.judged(), point.said.partial, point.said.led), (1, 1, 0), "once, with the worst");
    let pairs = paired_teach_backs(&unit.history, &job(), day("2026-01-31"));
    assert_eq!(pairs.len(), 1);
    assert!(pairs[0].marks.contains(&(POINT, Mark::Unprompted, Mark::Led)));
}

#[test]
fn two_entries_of_one_pass_are_not_two_clean_passes() {
    let missing = |second: Option<&str>| {
        let mut unit = Unit::new();
        let first = unit.add("2026-01-05T10:00", "T", said(Mark::Unprompted, None));
        let named = second.map(|_| &first);
        unit.add("2026-01-06T10:00", "P", said(Mark::Unprompted, named));
        unit.standing("L", "2026-01-31").missing[0].clone()
    };
    assert!(missing(Some("named")).starts_with("1 of 2 clean passes"), "{}", missing(Some("named")));
    assert!(!missing(None).contains("clean passes"), "two passes on two days: {}", missing(None));
}

#[test]
fn the_same_minute_is_one_pass_and_the_same_day_is_not() {
    let n_passes = |first: &str, second: &str, by: &str| {
        let mut unit = Unit::new();
        unit.add(first, "T", said(Mark::Unprompted, None));
        unit.add(second, by, said(Mark::Missed, None));
        heard_passes(&unit.history).len()
    };
    assert_eq!(n_passes("2026-01-05T10:00", "2026-01-05T10:00:30", "P"), 1);
    assert_eq!(n_passes("2026-01-05T10:00", "2026-01-05T10:01", "P"), 2);
    // An entry that names a day only stands at its first minute, which says nothing.
    assert_eq!(n_passes("2026-01-05T00:00", "2026-01-05T00:00", "P"), 2);
    // Nobody hears one pass twice, and a learner does not hear their own.
    assert_eq!(n_passes("2026-01-05T10:00", "2026-01-05T10:00", "T"), 2);
    assert_eq!(n_passes("2026-01-05T10:00", "2026-01-05T10:00", "L"), 2);
}

#[test]
fn a_pass_that_names_what_is_not_there_stands_for_itself() {
    let mut unit = Unit::new();
    let nowhere = EventId("nowhere".to_owned());
    unit.add("2026-01-05T10:00", "T", said(Mark::Unprompted, Some(&nowhere)));
    let first = unit.add("2026-01-06T10:00", "T", said(Mark::Unprompted, None));
    // The same listener again, and the learner's own word.
    unit.add("2026-01-06T11:00", "T", said(Mark::Missed, Some(&first)));
    unit.add("2026-01-06T12:00", "L", said(Mark::Missed, Some(&first)));
    let passes = heard_passes(&unit.history);
    assert_eq!(passes.len(), 4);
    assert_eq!(passes[3].does_not_count(), Some("heard by the learner alone"));
}

#[test]
fn a_corrected_entry_keeps_its_listener() {
    let mut unit = Unit::new();
    let first = unit.add("2026-01-05T10:00", "T", said(Mark::Unprompted, None));
    unit.add("2026-01-05T10:02", "P", said(Mark::Prompted, Some(&first)));
    let mut corrected = unit.history.events[unit.history.events.len() - 2].clone();
    corrected.id = EventId("corrected".to_owned());
    corrected.corrects = Some(first);
    corrected.kind = said(Mark::Missed, None);
    unit.history.events.push(corrected);
    let passes = heard_passes(&unit.history);
    assert_eq!((passes.len(), passes[0].listened.len()), (1, 2));
    assert_eq!(fact(&unit).said.missed, 1);
}
