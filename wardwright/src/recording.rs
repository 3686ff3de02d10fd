//! What the pages write into the record book: looked over against the book, then added, once.

mod away;
mod corrections;
mod decisions;
mod draws;

use ::book::{AnyBook, Body, BookError, Draft, Store as _};
use ::breakdown::{Breakdown, Severity};
use jiff::civil::DateTime;
use practice::{EventKind, History, PersonId, SpotCheck, standing_events};
use site::{Recording, Refusal};
use teachback::TeachBack;

pub use corrections::{correct, people_of, take_in_people};

use crate::folder::Folder;
use crate::message::Message;

/// Adds an entry to the book of a folder, or says why not. The same entry sent again is kept once.
pub fn record(folder: &Folder, sent: &site::Draft, now: DateTime) -> Result<Recording, Message> {
    let mut book = folder.book()?;
    let say = |error: BookError| crate::book::message(&error, folder.path());
    let draft = Draft::new(sent.id, sent.happened, sent.by.clone(), Body::Practice(sent.what.clone()));
    // An entry that is there already was looked over when it came first.
    let there = book.entries().map_err(say)?;
    if !there.iter().any(|known| *known.draft() == draft) {
        let history = ::book::history(&book).map_err(say)?;
        let mut refusals = look_over(sent, &history, now);
        refusals.extend(decisions::look_over(sent, &history, &folder.release_rule()?));
        if !refusals.is_empty() {
            return Ok(Recording::Refused(refusals));
        }
    }
    append(&mut book, draft).map_err(say)
}

/// Adds an entry, or gives why the book does not take it.
pub fn append(book: &mut AnyBook, draft: Draft) -> Result<Recording, BookError> {
    match book.append(vec![draft], jiff::Timestamp::now()) {
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
        Err(error) => Err(error),
    }
}

/// What the book cannot see by itself: that people and versions are known, and that nothing happens after now.
fn look_over(sent: &site::Draft, history: &History, now: DateTime) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    if sent.happened > now {
        refusals.push(Refusal::new(
            "the time",
            format!("{}, which is after now, {now}", sent.happened),
            "something that has happened",
            "correct the time",
        ));
    }
    if !knows(history, &sent.by) {
        refusals.push(unknown("who writes it", &sent.by));
    }
    match &sent.what {
        EventKind::TeachBackHeard { person, teachback } => {
            if !knows(history, person) {
                refusals.push(unknown("who said the job back", person));
            }
            if *person == sent.by {
                refusals.push(Refusal::new(
                    "Heard by",
                    "the learner",
                    "somebody else: nobody hears their own teach-back",
                    "choose the name of the one who listened",
                ));
            }
            refusals.extend(marks(teachback, history));
            refusals.extend(same_pass(sent, person, teachback, history));
        }
        EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw)) => {
            refusals.extend(draws::look_over(sent, draw, history));
        }
        EventKind::BreakdownPublished(breakdown) => refusals.extend(next_version(breakdown, history)),
        EventKind::Planned { person, job, by } => {
            if !knows(history, person) {
                refusals.push(unknown("who is to learn it", person));
            }
            if crate::breakdown::newest_version(history, job).is_none() {
                refusals.push(Refusal::new(
                    "the job",
                    format!("{job}, which has no breakdown in the book"),
                    "a job with a published breakdown",
                    "publish its breakdown first",
                ));
            }
            if *by < now.date() {
                refusals.push(Refusal::new(
                    "the date",
                    format!("{by}, which is past"),
                    format!("today, {}, or a later day", now.date()),
                    "give a date that can still be kept",
                ));
            }
        }
        EventKind::PersonLeft { person } => refusals.extend(away::goes(sent, person, history)),
        EventKind::PersonAdded(person) if knows(history, &person.id) => {
            refusals.extend(away::comes_back(sent, person, history));
        }
        EventKind::Released(_)
        | EventKind::Withdrawn { .. }
        | EventKind::NotYet { .. }
        | EventKind::RefresherDone { .. }
        | EventKind::ConfidenceSaid { .. }
        | EventKind::RulePublished { .. } => {}
        _ => refusals.push(Refusal::new(
            "this entry",
            "an entry of a kind the pages do not write yet",
            "a teach-back, an observed draw, a breakdown or a date on the timetable",
            "write it with `wardwright book add`",
        )),
    }
    refusals
}

fn knows(history: &History, id: &PersonId) -> bool {
    standing_events(history)
        .iter()
        .any(|known| matches!(&known.event.kind, EventKind::PersonAdded(person) if person.id == *id))
}

fn unknown(place: &str, id: &PersonId) -> Refusal {
    Refusal::new(
        place,
        format!("{id}, whom the book does not know"),
        "the staff identifier of somebody in the book",
        "add the person first",
    )
}

/// A breakdown is sound, and its version is the next one: a published version is never changed.
fn next_version(breakdown: &Breakdown, history: &History) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    let faults = ::breakdown::check(breakdown);
    if let Some(fault) = faults.iter().find(|fault| fault.severity() == Severity::Fault) {
        refusals.push(Refusal::new("the breakdown", fault.found(), fault.expected(), fault.to_do()));
    }
    let newest = crate::breakdown::newest_version(history, &breakdown.code);
    let next = newest.map_or(1, |newest| newest.0.saturating_add(1));
    if breakdown.version.0 != next {
        refusals.push(Refusal::new(
            format!("version {} of {}", breakdown.version, breakdown.code),
            match newest {
                Some(newest) => format!("version {newest} in the book"),
                None => "no version in the book yet".to_owned(),
            },
            format!("version {next} next"),
            "look at what changed meanwhile, then publish yours as the next one",
        ));
    }
    refusals
}

/// Every mark is of an item of the version, once, and at least one item is marked.
fn marks(heard: &TeachBack, history: &History) -> Option<Refusal> {
    let version = standing_events(history).into_iter().find_map(|known| match &known.event.kind {
        EventKind::BreakdownPublished(breakdown)
            if breakdown.code == heard.job && breakdown.version == heard.version =>
        {
            Some(breakdown)
        }
        _ => None,
    });
    let Some(version) = version else {
        return Some(Refusal::new(
            "the breakdown",
            format!("version {} of {}, which is not in the book", heard.version, heard.job),
            "a published version",
            "open the form again from the person's record",
        ));
    };
    if heard.items.is_empty() {
        return Some(Refusal::new(
            "Marks",
            "no item is marked",
            "a mark for what was said",
            "mark each item",
        ));
    }
    let stray = heard.items.iter().find(|said| !has(version, said.item));
    let twice = heard
        .items
        .iter()
        .enumerate()
        .find(|(place, said)| heard.items.iter().take(*place).any(|earlier| earlier.item == said.item));
    match (stray, twice) {
        (Some(said), _) => Some(Refusal::new(
            format!("item {}", said.item),
            format!("a mark for an item that version {} does not have", heard.version),
            "items of the version it was heard against",
            "open the form again from the person's record",
        )),
        (None, Some((_, said))) => Some(Refusal::new(
            format!("item {}", said.item),
            "two marks",
            "one mark for each item",
            "send the form again",
        )),
        (None, None) => None,
    }
}

/// A second listener names the pass they heard: one of the same person on the same version, that somebody else heard.
fn same_pass(sent: &site::Draft, person: &PersonId, heard: &TeachBack, history: &History) -> Option<Refusal> {
    let named = heard.same_pass_as.as_ref()?;
    let refuse = |found: String| {
        Some(Refusal::new(
            "Heard together with",
            found,
            "a pass of the same person on the same version, heard by somebody else",
            "choose another, or nobody",
        ))
    };
    let passes = practice::heard_passes(history);
    let entry = practice::EventId(named.clone());
    let Some(pass) = passes.iter().find(|pass| pass.holds(&entry)) else {
        return refuse(format!("entry {named}, which is no teach-back that stands in the book"));
    };
    let first = &pass.counted;
    if pass.person != person || first.job != heard.job || first.version != heard.version {
        return refuse(format!("a pass of {} on {}, version {}", pass.person, first.job, first.version));
    }
    if pass.listened.iter().any(|listened| listened.event.by == sent.by) {
        return refuse(format!("a pass that {} has written down already", sent.by));
    }
    None
}

fn has(breakdown: &Breakdown, item: ::breakdown::ItemId) -> bool {
    breakdown.items().iter().any(|known| known.id == item)
}

#[cfg(test)]
mod tests {
    use ::breakdown::{ItemId, JobCode, Version};
    use jiff::civil::date;
    use practice::{Person, Role};
    use teachback::{Mark, TeachBackItem};
    use uuid::Uuid;

    use super::*;
    use crate::folder::Settings;

    const VEIN: &str = include_str!("../../breakdowns/vein.txt");

    fn vein(version: u32) -> Breakdown {
        let text = VEIN.replace("\nversion: 1\n", &format!("\nversion: {version}\n"));
        ::breakdown::parse(&text).sound().unwrap().clone()
    }

    pub(super) fn now() -> DateTime {
        date(2026, 3, 3).at(14, 30, 0, 0)
    }

    pub(super) fn draft(by: &str, what: EventKind) -> site::Draft {
        let happened = date(2026, 3, 3).at(14, 0, 0, 0);
        site::Draft { id: Uuid::now_v7(), happened, by: PersonId(by.to_owned()), what }
    }

    fn heard(item: ItemId, version: u32) -> EventKind {
        let items = vec![TeachBackItem { item, mark: Mark::Unprompted, at_s: Some(3.5) }];
        let teachback = TeachBack::heard(JobCode("vein".to_owned()), Version(version), items, None);
        EventKind::TeachBackHeard { person: PersonId("L".to_owned()), teachback }
    }

    /// A trainer, a learner and the first version of a breakdown, put into the book by other ways than the pages'.
    pub(super) fn unit(folder: &tempfile::TempDir) -> Folder {
        let settings = Settings {
            schema: 1,
            unit: "Invented unit".to_owned(),
            invented: true,
            today: None,
            rules: "adult-24h".to_owned(),
            release_rule: None,
            training_started: None,
            timezone: None,
            keep_views_days: None,
            book: None,
        };
        let folder = Folder::create(&folder.path().join("data"), settings).unwrap();
        let person = |id: &str, role| {
            EventKind::PersonAdded(Person {
                id: PersonId(id.to_owned()),
                name: format!("Invented {id}"),
                role,
                unit: "Invented unit".to_owned(),
                started: date(2026, 1, 1),
            })
        };
        let known = [
            person("T", Role::Trainer),
            person("L", Role::Nurse),
            EventKind::BreakdownPublished(Box::new(vein(1))),
        ];
        let drafts = known.map(|kind| {
            let happened = date(2026, 1, 2).at(9, 0, 0, 0);
            Draft::new(Uuid::now_v7(), happened, PersonId("T".to_owned()), Body::Practice(kind))
        });
        folder.book().unwrap().append(drafts.to_vec(), jiff::Timestamp::UNIX_EPOCH).unwrap();
        folder
    }

    pub(super) fn refused(folder: &Folder, draft: &site::Draft) -> String {
        refusals_of(&record(folder, draft, now()).unwrap())
    }

    pub(super) fn refusals_of(recording: &Recording) -> String {
        match recording {
            Recording::Refused(refusals) => {
                refusals.iter().map(|each| format!("{}: {}; ", each.place, each.found)).collect()
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn an_entry_sent_twice_is_kept_once_and_never_changed() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let first = draft("T", heard(ItemId::key_point(1, 1), 1));
        assert_eq!(record(&folder, &first, now()).unwrap(), Recording::Recorded);
        assert_eq!(record(&folder, &first, now()).unwrap(), Recording::AlreadyThere);
        let other = site::Draft { what: heard(ItemId::step(1), 1), ..first.clone() };
        assert!(refused(&folder, &other).contains("says something else"));
        let book = folder.book().unwrap();
        assert_eq!(book.entries().unwrap().len(), 4);
        assert!(book.verify().unwrap().is_sound());
    }

    #[test]
    fn what_the_book_does_not_know_is_refused_and_nothing_is_written() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let good = || heard(ItemId::key_point(1, 1), 1);
        let late = site::Draft { happened: date(2026, 3, 4).at(0, 0, 0, 0), ..draft("T", good()) };
        let shown = EventKind::Demonstrated {
            person: PersonId("L".to_owned()),
            job: vein(1).code,
            version: vein(1).version,
        };
        for (sent, words) in [
            (draft("L", good()), "Heard by: the learner"),
            (draft("X", good()), "who writes it: X, whom the book does not know"),
            (draft("T", heard(ItemId::key_point(1, 1), 2)), "version 2 of vein, which is not in the book"),
            (draft("T", heard(ItemId::key_point(9, 9), 1)), "item 9.9"),
            (late, "after now"),
            (draft("T", shown), "a kind the pages do not write yet"),
        ] {
            let found = refused(&folder, &sent);
            assert!(found.contains(words), "{words}: {found}");
        }
        assert_eq!(folder.book().unwrap().entries().unwrap().len(), 3);
    }

    #[test]
    fn a_breakdown_is_published_as_the_next_version_only() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        let publish = |version| draft("T", EventKind::BreakdownPublished(Box::new(vein(version))));
        assert!(refused(&folder, &publish(1)).contains("version 1 in the book"));
        assert!(refused(&folder, &publish(3)).contains("version 1 in the book"));
        let second = publish(2);
        assert_eq!(record(&folder, &second, now()).unwrap(), Recording::Recorded);
        assert_eq!(record(&folder, &second, now()).unwrap(), Recording::AlreadyThere);
        let mut faulty = vein(3);
        faulty.steps[0].key_points[0].reasons.clear();
        let faulty = draft("T", EventKind::BreakdownPublished(Box::new(faulty)));
        assert!(refused(&folder, &faulty).contains("has no reason"));
    }
}
