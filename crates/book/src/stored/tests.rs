//! Whatever is stored comes back as it was, and whatever stands in a file is read or refused without a panic.

use breakdown::{ItemId, JobCode, Version};
use culture::{Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId};
use jiff::civil::DateTime;
use practice::{
    Bottle as DrawnBottle, Circumstances, Difficulty, DrawItem, DrawMark, DrawnFrom, EventKind, ObservedDraw,
    PersonId, Setting, SpotCheck, Stopped, WhyThere,
};
use proptest::prelude::*;
use teachback::{HeardAs, Mark, OrderError, Proposed, ProposedItem, TeachBack, TeachBackItem};

use super::{decode, decode_set, encode, encode_set};
use crate::entry::Body;
use crate::store::{KnownSet, Stands};

fn item() -> impl Strategy<Value = ItemId> {
    (1u16..200, 0u16..200, any::<bool>()).prop_map(|(step, point, reason)| match (point, reason) {
        (0, _) => ItemId::step(step),
        (point, false) => ItemId::key_point(step, point),
        (point, true) => ItemId::reason_of(step, point),
    })
}

fn finite() -> impl Strategy<Value = f64> {
    any::<f64>().prop_filter("the book holds finite numbers", |number| number.is_finite())
}

fn circumstances() -> impl Strategy<Value = Circumstances> {
    let fill = (prop::sample::select(DrawnBottle::ALL.to_vec()), any::<u16>());
    let began = (item(), any::<u32>());
    (
        prop::collection::vec(fill, 0..4),
        prop::collection::vec(prop::sample::select(Difficulty::ALL.to_vec()), 0..3),
        prop::option::of(prop::sample::select(DrawnFrom::ALL.to_vec())),
        prop::option::of(prop::sample::select(WhyThere::ALL.to_vec())),
        prop::option::of(prop::sample::select(Stopped::ALL.to_vec())),
        prop::collection::vec(item(), 0..3),
        prop::collection::vec(item(), 0..3),
        prop::option::of(any::<u32>()),
        prop::collection::vec(began, 0..3),
        prop::option::of(any::<i32>()),
    )
        .prop_map(
            |(
                fills,
                difficulty,
                drawn_from,
                why_there,
                stopped,
                wrong,
                together,
                lasted_s,
                began_s,
                moved,
            )| {
                Circumstances {
                    fills,
                    difficulty,
                    drawn_from,
                    why_there,
                    stopped,
                    wrong,
                    together,
                    lasted_s,
                    began_s,
                    clock_moved_s: moved,
                }
            },
        )
}

fn draw() -> impl Strategy<Value = ObservedDraw> {
    let mark = prop_oneof![
        Just(DrawMark::Done),
        Just(DrawMark::AfterPrompt),
        Just(DrawMark::NotDone),
        Just(DrawMark::NotApplicable),
        Just(DrawMark::NotSeen)
    ];
    let items = prop::collection::vec((item(), mark).prop_map(|(item, mark)| DrawItem { item, mark }), 0..8);
    let setting = prop_oneof![Just(Setting::RealPatient), Just(Setting::Simulated)];
    let text = prop::option::of(any::<String>());
    let more = prop_oneof![Just(Circumstances::default()), circumstances()];
    (any::<[String; 3]>(), any::<u32>(), setting, text.clone(), any::<u8>(), any::<bool>(), items, text, more)
        .prop_map(|(names, version, setting, specimen, attempts, taken_over, items, note, circumstances)| {
            let [job, drawn_by, watched_by] = names;
            ObservedDraw {
                job: JobCode(job),
                version: Version(version),
                drawn_by: PersonId(drawn_by),
                watched_by: PersonId(watched_by),
                setting,
                specimen,
                attempts,
                taken_over,
                items,
                note,
                circumstances,
            }
        })
}

fn heard() -> impl Strategy<Value = EventKind> {
    let mark = prop_oneof![
        Just(Mark::Unprompted),
        Just(Mark::Prompted),
        Just(Mark::Led),
        Just(Mark::Partial),
        Just(Mark::Missed),
        Just(Mark::Wrong),
        Just(Mark::Unsafe)
    ];
    let said = (item(), mark, prop::option::of(finite())).prop_map(|(item, mark, at_s)| TeachBackItem {
        item,
        mark,
        at_s,
    });
    (
        any::<[String; 2]>(),
        any::<u32>(),
        prop::collection::vec(said, 0..8),
        prop::option::of(any::<String>()),
        prop::option::of(proposed()),
    )
        .prop_map(|([person, job], version, items, same_pass_as, proposed)| {
            let heard = TeachBack::heard(JobCode(job), Version(version), items, None);
            let teachback = TeachBack { same_pass_as, proposed: proposed.map(Box::new), ..heard };
            EventKind::TeachBackHeard { person: PersonId(person), teachback }
        })
}

fn proposed() -> impl Strategy<Value = Proposed> {
    let text = prop::option::of(any::<String>());
    let quantities = (text.clone(), text.clone());
    let one = (
        item(),
        prop::sample::select(Mark::ALL.to_vec()),
        prop::sample::select(HeardAs::ALL.to_vec()),
        prop::option::of(finite()),
        text.clone(),
        quantities,
        0.0..=1.0,
        any::<bool>(),
    );
    let one = one.prop_map(|(item, mark, heard_as, at_s, heard, (expected, was), confidence, listen)| {
        let (expected_quantity, heard_quantity) = (expected, was);
        ProposedItem {
            item,
            mark,
            heard_as,
            at_s,
            heard,
            expected_quantity,
            heard_quantity,
            confidence,
            listen,
        }
    });
    let pair = (item(), item()).prop_map(|(first, then)| OrderError { first, then });
    (
        any::<String>(),
        (text.clone(), text),
        0.0..=1.0,
        prop::collection::vec(one, 0..5),
        prop::option::of(any::<u32>()),
        prop::collection::vec(pair, 0..3),
    )
        .prop_map(
            |(program, (transcript_sha256, transcript), listen_below, items, steps_named, order_errors)| {
                Proposed {
                    program,
                    transcript_sha256,
                    transcript,
                    listen_below,
                    items,
                    steps_named,
                    order_errors,
                }
            },
        )
}

/// An entry as books have held it from the first version on: its text is the same to the letter, or hashes and
/// identifiers made from it would change, and it is read as a pass of one listener without a transcript.
#[test]
fn a_plain_teach_back_keeps_its_first_form() {
    let text = "{\"person\":\"N-03\",\"job\":\"vein\",\"version\":1,\"items\":[{\"item\":\"1.1\",\"mark\":\"led\",\"at_s\":2.5}],\"note\":null}";
    let body = decode("teach-back-heard", 1, text).unwrap();
    let Body::Practice(EventKind::TeachBackHeard { teachback, .. }) = &body else { panic!("{body:?}") };
    assert_eq!((&teachback.same_pass_as, &teachback.proposed), (&None, &None));
    let stored = encode(&body).unwrap();
    assert_eq!((stored.version, stored.text.as_str()), (1, text));
}

#[test]
fn a_confidence_that_is_no_share_is_refused() {
    let proposed = Proposed {
        program: "invented".to_owned(),
        transcript_sha256: None,
        transcript: None,
        listen_below: f64::NAN,
        items: Vec::new(),
        steps_named: None,
        order_errors: Vec::new(),
    };
    let heard = TeachBack::heard(JobCode("vein".to_owned()), Version(1), Vec::new(), None);
    let teachback = TeachBack { proposed: Some(Box::new(proposed)), ..heard };
    let person = PersonId("N-03".to_owned());
    assert!(encode(&Body::Practice(EventKind::TeachBackHeard { person, teachback })).is_err());
}

fn set() -> impl Strategy<Value = CultureSet> {
    let moment = (0i16..9999, 1i8..=12, 1i8..=28, 0i8..24, 0i8..60, 0i32..1_000_000_000).prop_map(
        |(year, month, day, hour, minute, nanosecond)| {
            DateTime::constant(year, month, day, hour, minute, 59, nanosecond)
        },
    );
    let collected = prop_oneof![
        moment.clone().prop_map(Collected::At),
        moment.clone().prop_map(|at| Collected::On(at.date()))
    ];
    let bottle =
        prop::option::of(finite()).prop_map(|fill_ml| Bottle { kind: BottleKind::Anaerobic, fill_ml });
    let text = prop::option::of(any::<String>());
    (
        any::<[String; 2]>(),
        collected,
        prop::option::of(moment),
        text.clone(),
        text,
        prop::option::of(finite()),
        prop::collection::vec(bottle, 0..3),
        (prop::collection::vec(any::<String>(), 0..3), prop::option::of(any::<u32>())),
    )
        .prop_map(
            |(
                [id, patient],
                collected,
                received,
                unit,
                collector,
                age_years,
                bottles,
                (names, positive_after_s),
            )| {
                CultureSet {
                    positive_after_s,
                    id: SetId(id),
                    patient: PatientKey(patient),
                    collected,
                    received,
                    unit,
                    collector,
                    route: Some(Route::ArterialLine),
                    specimen: culture::Specimen::Blood,
                    age_years,
                    status: ReportStatus::NotStated,
                    bottles,
                    isolates: names.into_iter().map(|reported_name| Isolate { reported_name }).collect(),
                }
            },
        )
}

proptest! {
    #[test]
    fn bodies_come_back_as_they_were(draw in draw(), heard in heard()) {
        for kind in [EventKind::DrawObserved(draw.clone()), EventKind::SpotChecked(SpotCheck(draw)), heard] {
            let said_more = matches!(&kind, EventKind::TeachBackHeard { teachback, .. }
                if teachback.same_pass_as.is_some() || teachback.proposed.is_some());
            let body = Body::Practice(kind);
            let stored = encode(&body).unwrap();
            let has_more = said_more || stored.text.contains("\"circumstances\":{");
            prop_assert_eq!(stored.version, if has_more { 2 } else { 1 });
            prop_assert_eq!(decode(&stored.kind, stored.version, &stored.text).unwrap(), body);
        }
    }

    #[test]
    fn sets_come_back_as_they_were(set in set()) {
        let [first, second] = [set.clone(), CultureSet { id: SetId(format!("{}-2", set.id)), ..set.clone() }];
        let whole = second.id.clone();
        for stands in [Stands::Alone, Stands::PartOf(whole), Stands::Joined(Box::new([first, second]))] {
            let stored = encode_set(&set, &stands).unwrap();
            let version = if set.positive_after_s.is_some() { 3 } else if stands == Stands::Alone { 1 } else { 2 };
            prop_assert_eq!(stored.version, version);
            let known = KnownSet { set: set.clone(), stands };
            prop_assert_eq!(decode_set(stored.version, &stored.text).unwrap(), known);
        }
    }

    #[test]
    fn text_that_is_no_body_is_refused(kind in "[a-z-]{0,20}", version in 0i64..4, text in any::<String>()) {
        for kind in [kind.as_str(), "draw-observed", "laboratory-file-taken-in", "breakdown-published"] {
            prop_assert!(decode(kind, version, &text).is_err());
        }
        prop_assert!(decode_set(version, &text).is_err());
    }
}

/// A set of each version, written by hand from the frozen names: old books are read, a set without a time is written as it
/// always was, and one with a time says it.
#[test]
fn every_version_of_a_set_is_read() {
    let first = r#"{"id":"S-1","patient":"p","collected_at":"2026-03-02T08:00:00","collected_on":null,"received":null,"unit":"ICU","collector":null,"route":"central-line","age_years":null,"status":"final","bottles":[{"kind":"aerobic","fill_ml":8.5}],"isolates":["CoNS"]}"#;
    let alone = decode_set(1, first).unwrap();
    assert_eq!((alone.set.positive_after_s, &alone.stands), (None, &Stands::Alone));
    let stored = encode_set(&alone.set, &alone.stands).unwrap();
    assert_eq!((stored.version, stored.text.as_str()), (1, first));
    let third =
        format!(r#"{{"timed":{{"set":{first},"positive_after_s":48600}},"halves":null,"part_of":null}}"#);
    let timed = decode_set(3, &third).unwrap();
    assert_eq!(timed.set.positive_after_s, Some(48_600));
    assert_eq!(CultureSet { positive_after_s: None, ..timed.set.clone() }, alone.set);
    let stored = encode_set(&timed.set, &timed.stands).unwrap();
    assert_eq!((stored.version, stored.text.as_str()), (3, third.as_str()));
}

/// A text of each version, written by hand from the frozen names: an old book is read, and a draw without circumstances
/// is still written as it always was.
#[test]
fn both_versions_of_a_draw_are_read() {
    let first = r#"{"job":"vein","version":1,"drawn_by":"L","watched_by":"P","setting":"real-patient","specimen":null,"attempts":1,"taken_over":false,"items":[{"item":"1.1","mark":"not-done"}],"note":null}"#;
    let old = decode("draw-observed", 1, first).unwrap();
    let stored = encode(&old).unwrap();
    assert_eq!((stored.version, stored.text.as_str()), (1, first));
    let more = r#"{"fills":[{"bottle":"aerobic","tenths_ml":85}],"difficulty":["shock"],"drawn_from":"new-cannula","why_there":"no-other-way","stopped":null,"wrong":["1.1"],"together":[],"lasted_s":341,"began_s":[{"item":"2","at_s":40}],"clock_moved_s":null}"#;
    let second = format!(r#"{{"draw":{first},"circumstances":{more}}}"#);
    let new = decode("draw-observed", 2, &second).unwrap();
    let Body::Practice(EventKind::DrawObserved(draw)) = &new else { panic!("{new:?}") };
    assert_eq!(draw.circumstances.fills, [(DrawnBottle::Aerobic, 85)]);
    assert_eq!(draw.circumstances.wrong, [ItemId::key_point(1, 1)]);
    assert_eq!(encode(&new).unwrap().text, second);
    assert!(decode("draw-observed", 2, first).is_err());
    assert!(decode("planned", 2, &second).is_err());
}

/// What was written before reasons were kept reads as it was, and a reason comes back word for word.
#[test]
fn a_refresher_keeps_its_reason_and_one_without_reads_as_before() {
    let refreshed = |reason: Option<&str>| {
        Body::Practice(EventKind::RefresherDone {
            person: PersonId("N-03".to_owned()),
            job: JobCode("vein".to_owned()),
            version: Version(2),
            reason: reason.map(str::to_owned),
        })
    };
    let first = r#"{"person":"N-03","job":"vein","version":2}"#;
    assert_eq!(decode("refresher-done", 1, first).unwrap(), refreshed(None));
    assert_eq!(encode(&refreshed(None)).unwrap().text, first);
    let with_reason = refreshed(Some("back after \"ten weeks\"\nwith the new kit"));
    let stored = encode(&with_reason).unwrap();
    assert_eq!((stored.kind.as_str(), stored.version), ("refresher-done", 2));
    assert_eq!(decode(&stored.kind, stored.version, &stored.text).unwrap(), with_reason);
    assert!(decode("refresher-done", 2, first).is_err());
    assert!(decode("refresher-done", 1, &stored.text).is_err());
}
