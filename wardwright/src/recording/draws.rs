//! An observed draw or spot check looked over against the book before it is added.

use practice::{EventKind, History, ObservedDraw, Role, standing_events};
use site::Refusal;

use super::{has, knows, unknown};

/// What the book cannot see by itself. A watcher who may not precept is no reason to refuse: the draw is kept, and does
/// not count.
pub(super) fn look_over(sent: &site::Draft, draw: &ObservedDraw, history: &History) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    for (place, id) in [("Drawn by", &draw.drawn_by), ("Watched by", &draw.watched_by)] {
        if !knows(history, id) {
            refusals.push(unknown(place, id));
        }
    }
    if draw.drawn_by == draw.watched_by {
        refusals.push(Refusal::new(
            "Watched by",
            "the one who drew",
            "somebody else: nobody watches their own draw",
            "choose the name of the one who watched",
        ));
    }
    let is_spot_check = matches!(sent.what, EventKind::SpotChecked(_));
    if is_spot_check && (!is_trainer(history, &draw.watched_by) || sent.by != draw.watched_by) {
        refusals.push(Refusal::new(
            "Spot check",
            format!("watched by {}, written down by {}", draw.watched_by, sent.by),
            "one trainer who watched and writes it down",
            "write it as an observed draw",
        ));
    }
    if !(1..=9).contains(&draw.attempts) {
        refusals.push(Refusal::new(
            "Attempts",
            draw.attempts.to_string(),
            "1 to 9",
            "count the attempts of this collector",
        ));
    }
    refusals.extend(marks(draw, history));
    refusals
}

fn is_trainer(history: &History, id: &practice::PersonId) -> bool {
    // The latest that was said of a person holds.
    let mut people = standing_events(history).into_iter().filter_map(|known| match &known.event.kind {
        EventKind::PersonAdded(person) if person.id == *id => Some(person.role),
        _ => None,
    });
    people.next_back() == Some(Role::Trainer)
}

/// Every mark is of a key point or step of the version, once, and at least one is marked.
fn marks(draw: &ObservedDraw, history: &History) -> Option<Refusal> {
    let version = standing_events(history).into_iter().find_map(|known| match &known.event.kind {
        EventKind::BreakdownPublished(breakdown)
            if breakdown.code == draw.job && breakdown.version == draw.version =>
        {
            Some(breakdown)
        }
        _ => None,
    });
    let Some(version) = version else {
        return Some(Refusal::new(
            "the breakdown",
            format!("version {} of {}, which is not in the book", draw.version, draw.job),
            "a published version",
            "open the form again",
        ));
    };
    if draw.items.is_empty() {
        return Some(Refusal::new(
            "Marks",
            "no key point is marked",
            "a mark for what was seen",
            "mark each key point",
        ));
    }
    for (place, one) in draw.items.iter().enumerate() {
        if one.item.reason || !has(version, one.item) {
            return Some(Refusal::new(
                format!("item {}", one.item),
                format!("a mark for what version {} does not have, or for a reason", draw.version),
                "steps and key points of the version it was watched on",
                "open the form again",
            ));
        }
        if draw.items.iter().take(place).any(|earlier| earlier.item == one.item) {
            return Some(Refusal::new(
                format!("item {}", one.item),
                "two marks",
                "one mark for each key point",
                "send the form again",
            ));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use ::breakdown::{ItemId, JobCode, Version};
    use practice::{Circumstances, DrawItem, DrawMark, PersonId, Setting, SpotCheck};
    use site::Recording;

    use super::super::tests::{draft, now, unit};
    use super::*;
    use crate::recording::record;

    fn drawn(drawn_by: &str, watched_by: &str) -> ObservedDraw {
        ObservedDraw {
            job: JobCode("vein".to_owned()),
            version: Version(1),
            drawn_by: PersonId(drawn_by.to_owned()),
            watched_by: PersonId(watched_by.to_owned()),
            setting: Setting::RealPatient,
            specimen: Some("INV-26-000118".to_owned()),
            attempts: 1,
            taken_over: false,
            items: vec![DrawItem { item: ItemId::key_point(1, 1), mark: DrawMark::Done }],
            note: None,
            circumstances: Circumstances { lasted_s: Some(300), ..Circumstances::default() },
        }
    }

    #[test]
    fn a_draw_sent_twice_is_one_entry_and_another_of_its_name_is_refused() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let first = draft("T", EventKind::DrawObserved(drawn("L", "T")));
        assert_eq!(record(&folder, &first, now()).unwrap(), Recording::Recorded);
        assert_eq!(record(&folder, &first, now()).unwrap(), Recording::AlreadyThere);
        // The same identifier with other circumstances is other content.
        let other = EventKind::DrawObserved(ObservedDraw {
            circumstances: Circumstances { lasted_s: Some(301), ..Circumstances::default() },
            ..drawn("L", "T")
        });
        let again = record(&folder, &site::Draft { what: other, ..first }, now()).unwrap();
        assert!(matches!(again, Recording::Refused(_)), "{again:?}");
        use ::book::Store as _;
        let book = folder.book().unwrap();
        assert_eq!(book.entries().unwrap().len(), 4);
        assert!(book.verify().unwrap().is_sound());
    }

    #[test]
    fn what_the_book_does_not_know_is_refused_and_a_watcher_who_may_not_precept_is_not() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let item = |item| vec![DrawItem { item, mark: DrawMark::Done }];
        let rows = [
            (drawn("X", "T"), "Drawn by"),
            (drawn("L", "X"), "Watched by"),
            (drawn("L", "L"), "Watched by"),
            (ObservedDraw { version: Version(7), ..drawn("L", "T") }, "the breakdown"),
            (ObservedDraw { attempts: 0, ..drawn("L", "T") }, "Attempts"),
            (ObservedDraw { items: Vec::new(), ..drawn("L", "T") }, "Marks"),
            (ObservedDraw { items: item(ItemId::key_point(9, 9)), ..drawn("L", "T") }, "item 9.9"),
            (ObservedDraw { items: item(ItemId::reason_of(1, 1)), ..drawn("L", "T") }, "item 1.1r"),
        ];
        for (draw, place) in rows {
            match record(&folder, &draft("T", EventKind::DrawObserved(draw)), now()).unwrap() {
                Recording::Refused(refusals) => assert_eq!(refusals[0].place, place),
                other => panic!("{place}: {other:?}"),
            }
        }
        let spot_check = EventKind::SpotChecked(SpotCheck(drawn("T", "L")));
        assert!(matches!(record(&folder, &draft("L", spot_check), now()).unwrap(), Recording::Refused(_)));
        // A nurse who is released to nothing watched the trainer: kept, and the page says that it does not count.
        let kept = draft("L", EventKind::DrawObserved(drawn("T", "L")));
        assert_eq!(record(&folder, &kept, now()).unwrap(), Recording::Recorded);
    }
}
