//! One story that every backend of the book must tell, from the first breakdown to a corrected laboratory report.
//!
//! A backend's tests call [`any_store_tells_the_story`] with a way to make an empty book and one to open it again.
//! People, unit and results are invented.

use std::collections::{BTreeMap, BTreeSet};

use breakdown::{Breakdown, ItemId, JobCode, KeyPoint, KeyPointKind, Step, Version};
use culture::{Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId};
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use practice::{
    DrawItem, DrawMark, EventKind, Level, ObservedDraw, Person, PersonId, PointsTest, Release, ReleaseRule,
    Role, Scope, Setting, SpotCheck, Standing, WhoMayWatch, rule_in_force, standings,
};
use quantity::{Per, Stated, Unit};
use teachback::{Mark, TeachBack, TeachBackItem};
use uuid::Uuid;

use crate::chain::sha256_hex;
use crate::entry::{Body, Draft, Figure, PublishedReport, RuleNamed, TakenInCounts};
use crate::error::BookError;
use crate::history::history;
use crate::messages::{Intake, MessageFate, NewMessage};
use crate::store::{Head, JudgedSet, SetsAfter, Stands, Store, TakeIn, TakeInOutcome};
use crate::story_of_halves::halves_become_one_set_and_part_again;

/// Runs the whole story. `reopen` gets the book as another program would find it.
pub(crate) fn any_store_tells_the_story<S: Store>(mut store: S, reopen: impl Fn(S) -> S) {
    an_empty_book(&store);
    let draws = a_learner_learns(&mut store);
    store = reopen(store);
    the_standing_rests_on_the_entries(&store);
    a_rule_is_published_and_a_release_put_off(&mut store);
    released_to_own_then_all(&mut store);
    a_correction_stands_beside_what_it_corrects(&mut store, draws[4]);
    store = reopen(store);
    sending_twice_is_once(&mut store);
    what_the_book_refuses(&mut store);
    laboratory_files(&mut store);
    a_report_keeps_its_snapshot(&mut store);
    messages_come_one_by_one(&mut store);
    halves_become_one_set_and_part_again(&mut store);
    store = reopen(store);
    let verification = store.verify().unwrap();
    assert!(verification.is_sound(), "{:#?}", verification.faults);
    assert_eq!(verification.head, store.head().unwrap());
    assert_eq!(verification.n_entries, store.entries().unwrap().len() as u64);
    assert_eq!(verification.n_set_rows, 12);
}

fn an_empty_book(store: &impl Store) {
    assert_eq!(store.head().unwrap().seq, 0);
    assert!(store.entries().unwrap().is_empty() && store.sets().unwrap().is_empty());
    assert!(store.verify().unwrap().is_sound());
}

/// People, breakdown, two passes of the teach-back, five observed draws of which the third is a spot check.
fn a_learner_learns(store: &mut impl Store) -> Vec<Uuid> {
    let joined = |id: &str, role| EventKind::PersonAdded(person(id, role));
    let mut drafts = vec![
        draft(1, "2026-01-02T08:00", "T-01", joined("T-01", Role::Trainer)),
        draft(2, "2026-01-02T08:00", "T-01", joined("P-02", Role::Preceptor)),
        draft(3, "2026-01-02T08:00", "T-01", joined("N-03", Role::Nurse)),
        draft(4, "2026-01-02T08:30", "T-01", EventKind::BreakdownPublished(Box::new(breakdown()))),
        draft(5, "2026-01-02T08:40", "T-01", release("P-02", Scope::MayPrecept)),
        draft(
            6,
            "2026-01-02T09:00",
            "T-01",
            EventKind::Planned { person: id("N-03"), job: job(), by: "2026-02-28".parse().unwrap() },
        ),
        draft(
            7,
            "2026-01-05T10:00",
            "T-01",
            EventKind::Demonstrated { person: id("N-03"), job: job(), version: Version(1) },
        ),
        draft(8, "2026-01-05T11:00", "T-01", heard()),
        draft(9, "2026-01-06T11:00", "T-01", heard()),
    ];
    let draws: Vec<Uuid> = (10..15).map(entry_id).collect();
    for (number, day) in (10..15).zip(["07", "08", "09", "10", "11"]) {
        let happened = format!("2026-01-{day}T03:15");
        drafts.push(match number {
            12 => draft(
                number,
                &happened,
                "T-01",
                EventKind::SpotChecked(SpotCheck(draw("T-01", DrawMark::Done))),
            ),
            _ => draft(number, &happened, "P-02", EventKind::DrawObserved(draw("P-02", DrawMark::Done))),
        });
    }
    let appended = store.append(drafts.clone(), at("2026-01-11T04:00:00Z")).unwrap();
    assert!(appended.already_there.is_empty());
    let recorded: Vec<_> = appended.recorded.iter().map(|entry| entry.draft().clone()).collect();
    assert_eq!(recorded, drafts);
    let read: Vec<_> = store.entries().unwrap().iter().map(|entry| entry.draft().clone()).collect();
    assert_eq!(read, drafts, "what is read is what was written");
    let seqs: Vec<_> = store.entries().unwrap().iter().map(|entry| entry.seq()).collect();
    assert_eq!(seqs, (1..=14).collect::<Vec<u64>>());
    draws
}

fn the_standing_rests_on_the_entries(store: &impl Store) {
    let standing = standing(store, "2026-01-12");
    assert_eq!(standing.level, Level::Learning, "nothing but a signed release raises a standing");
    assert!(standing.rule_met, "{:?}", standing.missing);
    assert_eq!((standing.draws_counted, standing.clean_in_a_row), (5, 5));
    let evidence: Vec<_> = standing.evidence.iter().map(|evidence| evidence.event.0.clone()).collect();
    let entries: Vec<_> = (6..15).map(|number| entry_id(number).to_string()).collect();
    assert_eq!(evidence, entries, "every entry about the learner is listed, and nothing else");
}

/// A rule, a decision against it and a learner's own word: kept word for word, and none of them moves a standing.
fn a_rule_is_published_and_a_release_put_off(store: &mut impl Store) {
    let rule = ReleaseRule {
        name: "five draws, prompts allowed".to_owned(),
        version: 2,
        safety_prompts_allowed: None,
        points: Some(PointsTest { needed: 3, lost_by_fault: 1 }),
        who_may_watch: WhoMayWatch::PreceptorsAndTrainers,
        evidence_counts_days: Some(400),
        ..ReleaseRule::default()
    };
    let published =
        EventKind::RulePublished { rule: Box::new(rule.clone()), why: "prompts are not faults".to_owned() };
    let said = EventKind::ConfidenceSaid { person: id("N-03"), job: job(), clean_of_ten: 9 };
    let not_yet =
        EventKind::NotYet { person: id("N-03"), job: job(), reason: "one night shift first".to_owned() };
    let drafts = vec![
        draft(17, "2026-01-11T18:00", "T-01", published.clone()),
        draft(18, "2026-01-11T18:10", "N-03", said.clone()),
        draft(19, "2026-01-11T18:20", "T-01", not_yet.clone()),
    ];
    store.append(drafts, at("2026-01-11T18:30:00Z")).unwrap();
    let kinds: Vec<EventKind> =
        history(store).unwrap().events.into_iter().rev().take(3).map(|event| event.kind).collect();
    assert_eq!(kinds, [not_yet, said, published]);
    assert_eq!(standing(store, "2026-01-11").level, Level::Learning);
    let moment = "2026-01-11T18:00".parse().unwrap();
    assert_eq!(rule_in_force(&history(store).unwrap(), moment, &ReleaseRule::default()), rule);
}

fn released_to_own_then_all(store: &mut impl Store) {
    let own = draft(20, "2026-01-12T09:00", "T-01", release("N-03", Scope::OwnPatients));
    store.append(vec![own], at("2026-01-12T08:01:00Z")).unwrap();
    let standing_then = standing(store, "2026-01-12");
    assert_eq!((standing_then.level, standing_then.on_word_of), (Level::OwnPatients, Some(id("T-01"))));
    let check = EventKind::SpotChecked(SpotCheck(draw("T-01", DrawMark::Done)));
    let all = release("N-03", Scope::AllPatients);
    let drafts =
        vec![draft(21, "2026-01-19T14:00", "T-01", check), draft(22, "2026-01-20T09:00", "T-01", all)];
    store.append(drafts, at("2026-01-20T08:01:00Z")).unwrap();
    assert_eq!(standing(store, "2026-01-20").level, Level::AllPatients);
    assert_eq!(standing(store, "2026-01-19").level, Level::OwnPatients, "as it stood the day before");
}

fn a_correction_stands_beside_what_it_corrects(store: &mut impl Store, earlier: Uuid) {
    let kind = EventKind::DrawObserved(draw("P-02", DrawMark::NotDone));
    let correction = draft(30, "2026-01-11T03:15", "P-02", kind)
        .correcting(earlier, "two lines of the sheet were swapped");
    store.append(vec![correction], at("2026-01-21T09:00:00Z")).unwrap();
    let entries = store.entries().unwrap();
    assert!(entries.iter().any(|entry| entry.id() == earlier), "the corrected entry stays");
    let last = entries.last().unwrap();
    assert_eq!(
        (last.corrects(), last.correction_reason()),
        (Some(earlier), Some("two lines of the sheet were swapped"))
    );
    let corrected = standing(store, "2026-01-21").corrected;
    assert_eq!(corrected.len(), 1);
    assert_eq!(corrected[0].original.0, earlier.to_string());
    assert_eq!(corrected[0].correction.0, entry_id(30).to_string());
    assert!(!corrected[0].original_sentence.contains("missed"));
    assert!(corrected[0].correction_sentence.contains("safety points missed: 1.1"));
}

fn sending_twice_is_once(store: &mut impl Store) {
    let before = store.entries().unwrap();
    let again = before.iter().map(|entry| entry.draft().clone()).collect();
    let appended = store.append(again, at("2026-02-01T00:00:00Z")).unwrap();
    assert!(appended.recorded.is_empty());
    assert_eq!(appended.already_there.len(), before.len());
    assert_eq!(store.entries().unwrap(), before);
    // One entry twice in one sending is one entry.
    let left = || draft(40, "2026-02-01T09:00", "T-01", EventKind::PersonLeft { person: id("P-02") });
    let appended = store.append(vec![left(), left()], at("2026-02-01T09:00:00Z")).unwrap();
    assert_eq!((appended.recorded.len(), appended.already_there), (1, vec![entry_id(40)]));
}

fn what_the_book_refuses(store: &mut impl Store) {
    let before = store.head().unwrap();
    let left = |who: &str| EventKind::PersonLeft { person: id(who) };
    let good = || draft(50, "2026-02-02T09:00", "T-01", left("N-03"));
    let mut refused = |drafts: Vec<Draft>| {
        let mut all = vec![good()];
        all.extend(drafts);
        let error = store.append(all, at("2026-02-02T09:00:00Z")).unwrap_err();
        assert_eq!(store.head().unwrap(), before, "all or none: {error}");
        error
    };
    let other_content = draft(40, "2026-02-01T09:00", "T-01", left("T-01"));
    assert!(matches!(refused(vec![other_content]), BookError::IdTaken { seq: 22, .. }));
    let unknown = draft(51, "2026-02-02T09:00", "T-01", left("P-02")).correcting(entry_id(999), "a slip");
    let without_reason = Draft { correction_reason: None, ..unknown.clone() };
    let no_one = Draft { by: id(" "), ..good_with(52) };
    let error_of_nothing = draft(53, "2026-02-02T09:00", "T-01", EventKind::EnteredInError);
    let not_version_7 = Draft { id: Uuid::nil(), ..good_with(54) };
    let mut heard_at_nan = draft(55, "2026-02-02T09:00", "T-01", heard());
    if let Body::Practice(EventKind::TeachBackHeard { teachback, .. }) = &mut heard_at_nan.body {
        teachback.items[0].at_s = Some(f64::NAN);
    }
    let nul = draft(56, "2026-02-02T09:00", "T-01", left("P\u{0}2"));
    for draft in [unknown, without_reason, no_one, error_of_nothing, not_version_7, heard_at_nan, nul] {
        let error = refused(vec![draft]);
        assert!(matches!(error, BookError::BadDraft { .. }), "{error}");
    }

    fn good_with(number: u32) -> Draft {
        draft(number, "2026-02-02T09:00", "T-01", EventKind::PersonLeft { person: id("P-02") })
    }
}

fn laboratory_files(store: &mut impl Store) {
    let n_before = store.entries().unwrap().len();
    let january = || {
        file(60, "january.csv", vec![judged("S-1", &["CNS"], "provisional"), judged("S-2", &[], "negative")])
    };
    let taken = store.take_in(january(), at("2026-02-03T09:00:00Z")).unwrap();
    assert!(matches!(taken, TakeInOutcome::TakenIn(_)));
    assert_eq!(counts(&taken), (2, 0, 0));

    // The same sending again, and the same file read anew, change nothing.
    for again in [january(), TakeIn { id: entry_id(61), ..january() }] {
        let outcome = store.take_in(again, at("2026-02-03T10:00:00Z")).unwrap();
        assert!(matches!(outcome, TakeInOutcome::AlreadyTakenIn(_)));
        assert_eq!(outcome.entry(), taken.entry());
    }
    assert_eq!(store.entries().unwrap().len(), n_before + 1);

    // A later file brings a corrected report, a new set and one it had before: the old verdict stays with its date.
    let mut corrected = judged("S-1", &["Staphylococcus aureus"], "true positive");
    corrected.set.status = ReportStatus::Corrected;
    let february = file(
        62,
        "february.csv",
        vec![corrected.clone(), judged("S-2", &[], "negative"), judged("S-3", &[], "negative")],
    );
    let taken = store.take_in(february, at("2026-03-03T09:00:00Z")).unwrap();
    assert_eq!(counts(&taken), (1, 1, 1));
    let versions = store.set_versions(&SetId("S-1".to_owned())).unwrap();
    let said: Vec<_> = versions
        .iter()
        .map(|version| (version.version, version.verdict.as_str(), version.recorded_at.to_string()))
        .collect();
    assert_eq!(
        said,
        [
            (1, "provisional", "2026-02-03T09:00:00Z".to_owned()),
            (2, "true positive", "2026-03-03T09:00:00Z".to_owned()),
        ]
    );
    assert_eq!(versions[1].set, corrected.set);
    assert_eq!(versions[0].set.isolates, [Isolate { reported_name: "CNS".to_owned() }]);
    assert_eq!(versions[1].rule.name, "one of two or more within 24 h");
    let latest: Vec<_> = store.sets().unwrap().into_iter().map(|set| (set.id.0, set.status)).collect();
    assert_eq!(
        latest,
        [
            ("S-1".to_owned(), ReportStatus::Corrected),
            ("S-2".to_owned(), ReportStatus::Final),
            ("S-3".to_owned(), ReportStatus::Final),
        ]
    );
    assert!(store.set_versions(&SetId("S-9".to_owned())).unwrap().is_empty());

    // Draws the laboratory attributes to people come along for the standing.
    let draws = history(store).unwrap().laboratory_draws.unwrap();
    assert_eq!(draws.len(), 3);
    assert_eq!((draws[0].person.clone(), draws[0].job.clone()), (id("N-03"), Some(job())));

    let head = store.head().unwrap();
    let one = || judged("S-4", &[], "negative");
    let named = |patient: &str| JudgedSet {
        set: CultureSet { patient: PatientKey(patient.to_owned()), ..one().set },
        ..one()
    };
    let mut filled_with_nan = one();
    filled_with_nan.set.bottles[0].fill_ml = Some(f64::NAN);
    for (sets, expected) in [
        (vec![one(), one()], "twice in one file"),
        (vec![named("12345678")], "keeps no patient identifier"),
        (vec![filled_with_nan], "fill of a bottle in mL: NaN"),
    ] {
        let error = store.take_in(file(63, "bad.csv", sets), at("2026-03-04T09:00:00Z")).unwrap_err();
        assert!(error.to_string().contains(expected), "{error}");
    }
    let unhashed = TakeIn { file_sha256: "none".to_owned(), ..file(64, "bad.csv", vec![one()]) };
    assert!(store.take_in(unhashed, at("2026-03-04T09:00:00Z")).is_err());
    let taken_id = TakeIn { file_name: "other.csv".to_owned(), ..january() };
    assert!(matches!(store.take_in(taken_id, at("2026-03-04T09:00:00Z")), Err(BookError::IdTaken { .. })));
    assert_eq!(store.head().unwrap(), head);
}

fn a_report_keeps_its_snapshot(store: &mut impl Store) {
    let report = PublishedReport {
        title: "Blood cultures, January 2026".to_owned(),
        unit: Some("Critical care".to_owned()),
        from: "2026-01-01".parse().unwrap(),
        to: "2026-01-31".parse().unwrap(),
        as_of: "2026-02-07".parse().unwrap(),
        rule: rule(),
        figures: vec![Figure {
            name: "contamination rate".to_owned(),
            events: 4,
            trials: 200,
            interval: Some((0.0078, 0.05029)),
        }],
        file_sha256: Some(sha256_hex(b"the printed page")),
    };
    let publish = |number, report: &PublishedReport| {
        Draft::new(
            entry_id(number),
            moment("2026-02-07T10:00"),
            id("T-01"),
            Body::ReportPublished(report.clone()),
        )
    };
    store.append(vec![publish(70, &report)], at("2026-02-07T09:00:00Z")).unwrap();
    let entries = store.entries().unwrap();
    assert_eq!(*entries.last().unwrap().body(), Body::ReportPublished(report.clone()));
    let mut impossible = report;
    impossible.figures[0].events = 201;
    assert!(store.append(vec![publish(71, &impossible)], at("2026-02-07T09:00:00Z")).is_err());
}

/// A set that comes in two messages, one message that cannot be read, and what becomes of each.
fn messages_come_one_by_one(store: &mut impl Store) {
    let n_before = store.entries().unwrap().len();
    let set = || BTreeSet::from([SetId("M-1".to_owned())]);
    let message = |identity: &str, fate: MessageFate, sealed: &[u8]| NewMessage {
        identity: identity.to_owned(),
        received_at: at("2026-03-05T09:00:00Z"),
        source: "an invented laboratory".to_owned(),
        fate,
        sealed: sealed.to_vec(),
    };
    let taken = || MessageFate::TakenIn { sets: vec![SetId("M-1".to_owned())] };
    let aside = || MessageFate::KeptAside { reason: "no time of collection".to_owned() };
    let when = at("2026-03-05T09:00:01Z");

    // Worked out from a book that has grown since: nothing is written.
    let stale = Intake {
        seen: Some(Head { seq: 1, hash: "f".repeat(64) }),
        file: Some(file(80, "messages", vec![judged("M-1", &["CNS"], "provisional")])),
        messages: vec![message("one", taken(), b"\0first")],
        ..Intake::default()
    };
    assert_eq!(store.take_in_with_messages(stale.clone(), when), Err(BookError::Moved));
    assert_eq!(store.message("one").unwrap(), None);

    let fresh = Intake {
        seen: Some(store.head().unwrap()),
        messages: vec![message("one", taken(), b"\0first"), message("odd", aside(), b"odd")],
        ..stale
    };
    let outcome = store.take_in_with_messages(fresh, when).unwrap();
    assert!(matches!(outcome.file, Some(TakeInOutcome::TakenIn(_))));
    assert_eq!(outcome.head, store.head().unwrap());
    assert_eq!(store.sets_after(outcome.head.seq - 1).unwrap().sets.len(), 1);
    assert_eq!(store.sets_after(outcome.head.seq).unwrap(), SetsAfter::default());

    let before = Head { seq: outcome.head.seq - 1, hash: "f".repeat(64) };
    assert!(store.goes_on_from(&outcome.head).unwrap() && !store.goes_on_from(&before).unwrap());
    assert!(!store.has_entries_of_people_after(outcome.head.seq - 1).unwrap(), "a laboratory's entry only");
    assert!(store.has_entries_of_people_after(0).unwrap());

    // The second message of the set makes a second version; the first is found again by the set, sealed as it was.
    let second = Intake {
        file: Some(file(81, "messages", vec![judged("M-1", &["CNS", "Candida albicans"], "true-positive")])),
        messages: vec![message("two", taken(), b"second")],
        ..Intake::default()
    };
    store.take_in_with_messages(second, when).unwrap();
    let known = store.messages_of_sets(&set()).unwrap();
    let sealed: Vec<_> = known.iter().map(|message| message.sealed.as_deref().unwrap()).collect();
    assert_eq!(sealed, [b"\0first".as_slice(), b"second"]);
    assert_eq!(store.set_versions(&SetId("M-1".to_owned())).unwrap().len(), 2);
    let patient = judged("M-1", &[], "").set.patient;
    let of_patient = store.sets_of_patients(&BTreeSet::from([patient.clone()])).unwrap();
    let m1 = of_patient.iter().find(|known| known.set.id.0 == "M-1").unwrap();
    assert_eq!(m1.set.isolates.len(), 2, "the latest version only");
    assert_eq!(of_patient.len(), 4);
    assert_eq!(store.patients_of_sets(&set()).unwrap(), BTreeMap::from([(SetId("M-1".to_owned()), patient)]));

    // What is kept aside waits, is counted when it comes again, and keeps its number when it can be taken in at last.
    let waiting = store.messages_kept_aside().unwrap();
    assert_eq!(waiting.len(), 1);
    assert_eq!(
        (waiting[0].identity.as_str(), waiting[0].aside_because.as_deref(), waiting[0].times_received),
        ("odd", Some("no time of collection"), 1)
    );
    let again = Intake { messages: vec![message("odd", aside(), b"odd")], ..Intake::default() };
    let head = store.head().unwrap();
    assert_eq!(store.take_in_with_messages(again, when).unwrap().file, None);
    assert_eq!(store.head().unwrap(), head, "a message kept aside is no entry");
    let odd = store.message("odd").unwrap().unwrap();
    assert_eq!((odd.number, odd.times_received), (2, 2));
    let unchanged = Intake {
        file: Some(file(82, "messages", vec![judged("M-1", &["CNS", "Candida albicans"], "true-positive")])),
        messages: vec![message("odd", taken(), b"odd")],
        ..Intake::default()
    };
    assert_eq!(store.take_in_with_messages(unchanged, when).unwrap().file, None, "nothing new, no entry");
    assert!(store.messages_kept_aside().unwrap().is_empty());
    let numbers: Vec<_> =
        store.messages_of_sets(&set()).unwrap().iter().map(|message| message.number).collect();
    assert_eq!(numbers, [1, 2, 3], "in the order in which they first came");
    assert_eq!(store.entries().unwrap().len(), n_before + 2);
    assert_eq!(
        store.entries_of_people().unwrap(),
        store
            .entries()
            .unwrap()
            .into_iter()
            .filter(|entry| !matches!(entry.body(), Body::LaboratoryFileTakenIn(_)))
            .collect::<Vec<_>>()
    );

    let twice = Intake {
        messages: vec![message("x", aside(), b"x"), message("x", aside(), b"x")],
        ..Intake::default()
    };
    assert!(store.take_in_with_messages(twice, when).is_err());
    assert_eq!(store.message("x").unwrap(), None);

    store.forget_messages_before(at("2026-03-05T09:00:00Z")).unwrap();
    assert!(store.message("one").unwrap().unwrap().sealed.is_some(), "not before its time");
    store.forget_messages_before(at("2026-03-05T09:00:01Z")).unwrap();
    let forgotten = store.message("one").unwrap().unwrap();
    assert_eq!((forgotten.sealed, forgotten.aside_because), (None, None), "that it came stays known");
}

fn counts(outcome: &TakeInOutcome) -> (u64, u64, u64) {
    match outcome.entry().body() {
        Body::LaboratoryFileTakenIn(file) => (file.sets_new, file.sets_changed, file.sets_unchanged),
        other => panic!("{other:?}"),
    }
}

fn standing(store: &impl Store, on: &str) -> Standing {
    let on: Date = on.parse().unwrap();
    standings(&history(store).unwrap(), on, &ReleaseRule::default())
        .into_iter()
        .find(|standing| standing.person == id("N-03"))
        .unwrap()
}

/// A UUIDv7 whose number can be read in a failing test.
pub(crate) fn entry_id(number: u32) -> Uuid {
    Uuid::parse_str(&format!("019b7000-0000-7000-8000-{number:012}")).unwrap()
}

pub(crate) fn draft(number: u32, happened: &str, by: &str, kind: EventKind) -> Draft {
    Draft::new(entry_id(number), moment(happened), id(by), Body::Practice(kind))
}

pub(crate) fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn moment(text: &str) -> DateTime {
    text.parse().unwrap()
}

pub(crate) fn id(text: &str) -> PersonId {
    PersonId(text.to_owned())
}

fn job() -> JobCode {
    JobCode("vein".to_owned())
}

pub(crate) fn person(who: &str, role: Role) -> Person {
    Person {
        id: id(who),
        name: format!("Invented {who}"),
        role,
        unit: "Critical care".to_owned(),
        started: "2026-01-02".parse().unwrap(),
    }
}

fn release(who: &str, scope: Scope) -> EventKind {
    EventKind::Released(Release { person: id(who), job: job(), version: Version(1), scope, reason: None })
}

fn breakdown() -> Breakdown {
    let fill = Stated {
        what: Some("fill".to_owned()),
        low: Some(8.0),
        high: Some(10.0),
        unit: Unit::Millilitre,
        per: Some(Per::Bottle),
        words: "8 to 10 mL per bottle".to_owned(),
    };
    let point = |kind, text: &str, quantities| KeyPoint {
        label: None,
        kind,
        text: text.to_owned(),
        reasons: vec!["because a mislabelled culture treats the wrong patient".to_owned()],
        quantities,
        line: 4,
    };
    Breakdown {
        job: "Draw one set from a vein".to_owned(),
        code: job(),
        version: Version(1),
        effective: None,
        author: Some("T-01".to_owned()),
        approved_by: None,
        change: None,
        cautions: vec!["Local policy comes first.".to_owned()],
        supplies: Vec::new(),
        steps: vec![Step {
            name: "Fill the bottles".to_owned(),
            key_points: vec![
                point(KeyPointKind::Safety, "two identifiers", Vec::new()),
                point(KeyPointKind::MakesOrBreaks, "each bottle 8 to 10 mL", vec![fill]),
            ],
            line: 3,
        }],
        orders: Vec::new(),
        synonyms: vec![vec!["scrub".to_owned(), "clean".to_owned()]],
    }
}

fn heard() -> EventKind {
    let items = breakdown()
        .items()
        .into_iter()
        .map(|item| TeachBackItem { item: item.id, mark: Mark::Unprompted, at_s: Some(0.1 + 0.2) })
        .collect();
    let teachback = TeachBack::heard(job(), Version(1), items, Some("calm".to_owned()));
    EventKind::TeachBackHeard { person: id("N-03"), teachback }
}

fn draw(watched_by: &str, safety: DrawMark) -> ObservedDraw {
    ObservedDraw {
        job: job(),
        version: Version(1),
        drawn_by: id("N-03"),
        watched_by: id(watched_by),
        setting: Setting::RealPatient,
        specimen: None,
        attempts: 1,
        taken_over: false,
        items: vec![
            DrawItem { item: ItemId::key_point(1, 1), mark: safety },
            DrawItem { item: ItemId::key_point(1, 2), mark: DrawMark::Done },
        ],
        note: None,
        circumstances: practice::Circumstances::default(),
    }
}

fn rule() -> RuleNamed {
    RuleNamed { name: "one of two or more within 24 h".to_owned(), version: "1".to_owned() }
}

pub(crate) fn judged(set_id: &str, isolates: &[&str], verdict: &str) -> JudgedSet {
    JudgedSet {
        set: CultureSet {
            id: SetId(set_id.to_owned()),
            patient: PatientKey(sha256_hex(b"an invented patient")),
            collected: Collected::At(moment("2026-01-30T04:10")),
            received: None,
            unit: Some("Critical care".to_owned()),
            collector: Some(" n-03".to_owned()),
            route: Some(Route::Vein),
            specimen: culture::Specimen::Blood,
            age_years: Some(61.5),
            status: ReportStatus::Final,
            bottles: vec![Bottle { kind: BottleKind::Aerobic, fill_ml: Some(8.3) }],
            positive_after_s: None,
            isolates: isolates.iter().map(|name| Isolate { reported_name: (*name).to_owned() }).collect(),
        },
        verdict: verdict.to_owned(),
        clause: "one set of two".to_owned(),
        stands: Stands::Alone,
    }
}

pub(crate) fn file(number: u32, name: &str, sets: Vec<JudgedSet>) -> TakeIn {
    TakeIn {
        id: entry_id(number),
        happened: moment("2026-02-03T10:00"),
        by: id("T-01"),
        file_name: name.to_owned(),
        file_sha256: sha256_hex(name.as_bytes()),
        counts: TakenInCounts { rows: sets.len() as u64, rows_unread: 0, sets: sets.len() as u64 },
        rule: rule(),
        sets,
    }
}
