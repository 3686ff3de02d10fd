//! Standing worked out from what happened. The rules checked here are the trade's: common practice, no source.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use breakdown::{ChangeKind, ItemId, Version};
use common::*;
use practice::*;
use teachback::Mark;

const SAFETY: ItemId = ItemId { step: 2, point: 1, reason: false };

#[test]
fn a_learner_goes_from_the_timetable_to_all_patients_and_only_a_trainer_moves_them() {
    let mut unit = Unit::new();
    assert_eq!(unit.standing("L", "2026-01-02").level, Level::NotPlanned);
    unit.add(
        "2026-01-02",
        "T",
        EventKind::Planned { person: person("L"), job: job(), by: day("2026-02-01") },
    );
    let planned = unit.standing("L", "2026-01-02");
    assert_eq!((planned.level, planned.needed_by), (Level::Planned, Some(day("2026-02-01"))));

    unit.ready();
    let ready = unit.standing("L", "2026-01-12");
    assert_eq!(ready.level, Level::Learning, "the rule is met, and meeting it raises nothing");
    assert_eq!(ready.missing, Vec::<String>::new());
    assert!(ready.rule_met);
    assert_eq!(
        (ready.next_scope, ready.draws_counted, ready.clean_in_a_row),
        (Some(Scope::OwnPatients), 5, 5)
    );
    assert_eq!(ready.on_word_of, Some(person("T")));

    unit.release("2026-01-12", "T", "L", Scope::OwnPatients, 1);
    let own = unit.standing("L", "2026-01-12");
    assert_eq!((own.level, own.since), (Level::OwnPatients, Some(day("2026-01-12"))));
    assert_eq!(own.missing, ["0 of 1 clean checks on their own patients since release"]);
    assert_eq!(own.next_check.unwrap().on, day("2026-01-19"));

    unit.spot_check("2026-01-19", draw());
    assert!(unit.standing("L", "2026-01-19").rule_met);
    unit.release("2026-01-20", "T", "L", Scope::AllPatients, 1);
    let all = unit.standing("L", "2026-01-20");
    assert_eq!((all.level, all.next_scope, all.rule_met), (Level::AllPatients, None, false));
    // As it stood on an earlier day: what happened later is not known then.
    assert_eq!(unit.standing("L", "2026-01-13").level, Level::OwnPatients);
}

#[test]
fn what_is_missing_is_named() {
    let missing = |unit: &Unit| unit.standing("L", "2026-01-31").missing;
    let mut unit = Unit::new();
    assert_eq!(
        missing(&unit),
        [
            "0 of 2 clean passes of the teach-back in a row",
            "0 of 5 observed draws on real patients",
            "0 of 3 draws in a row without a missed safety point",
            "the trainer's own look at draw 2 or a later one",
        ]
    );
    unit.ready();
    unit.watch("2026-01-12", "P", draw_with(&[(SAFETY, DrawMark::NotDone)]));
    unit.watch("2026-01-13", "P", draw());
    assert_eq!(
        missing(&unit),
        ["1 of 3 draws in a row without a missed safety point (missed on 12 January 2026: 2.1)"]
    );
    unit.watch("2026-01-14", "P", draw_with(&[(SAFETY, DrawMark::NotSeen)]));
    unit.watch("2026-01-15", "P", draw_with(&[(SAFETY, DrawMark::AfterPrompt)]));
    assert_eq!(
        missing(&unit),
        ["safety points done only after a prompt on the last 3 draws: 1 (2.1), allowed 0"]
    );
    // Three draws on which nobody saw the safety point: not seen is not done.
    for on in ["2026-01-16", "2026-01-17", "2026-01-18"] {
        unit.watch(on, "P", draw_with(&[(SAFETY, DrawMark::NotSeen)]));
    }
    assert_eq!(missing(&unit), ["safety points nobody saw done on the last 3 draws: 2.1"]);
    unit.watch("2026-01-19", "P", draw());
    assert!(missing(&unit).is_empty());
    unit.spot_check("2026-01-20", draw_with(&[(SAFETY, DrawMark::NotDone)]));
    unit.watch("2026-01-21", "P", draw());
    unit.watch("2026-01-22", "P", draw());
    unit.watch("2026-01-23", "P", draw());
    assert_eq!(
        missing(&unit),
        ["a clean spot check: on the last one, 20 January 2026, a safety point was missed (2.1)"]
    );
}

#[test]
fn the_teach_back_is_judged_pass_by_pass() {
    let missing = |marks: &[&[(ItemId, Mark)]], days: &[&str]| {
        let mut unit = Unit::new();
        for (on, marks) in days.iter().zip(marks) {
            unit.teach_back(on, marks);
        }
        unit.standing("L", "2026-01-31").missing.remove(0)
    };
    let clean: &[(ItemId, Mark)] = &[];
    let (a, b) = ("2026-01-05", "2026-01-06");
    assert_eq!(missing(&[clean], &[a]), "1 of 2 clean passes of the teach-back in a row");
    assert_eq!(
        missing(&[clean, clean], &[a, "2026-01-05T15:00"]),
        "a clean pass of the teach-back on another day than the others"
    );
    assert_eq!(missing(&[clean, clean], &[a, b]), "0 of 5 observed draws on real patients");
    for (item, mark, fault) in [
        (SAFETY, Mark::Prompted, "safety points not said unprompted: 2.1"),
        (
            SAFETY,
            Mark::Unsafe,
            "wrong: 2.1; safety points not said unprompted: 2.1; 3 of 4 key points said; the rule asks for 90 %",
        ),
        (ItemId::step(2), Mark::Missed, "steps not said: 2"),
        (ItemId::key_point(1, 2), Mark::Led, "3 of 4 key points said; the rule asks for 90 %"),
        (ItemId::key_point(1, 2), Mark::Partial, "3 of 4 key points said; the rule asks for 90 %"),
    ] {
        assert_eq!(
            missing(&[clean, &[(item, mark)]], &[a, b]),
            format!("0 of 2 clean passes of the teach-back in a row (the last, on 6 January 2026: {fault})")
        );
    }
    // A key point that is no safety point may need a neutral question.
    let prompted: &[(ItemId, Mark)] = &[(ItemId::key_point(1, 2), Mark::Prompted)];
    assert_eq!(missing(&[clean, prompted], &[a, b]), "0 of 5 observed draws on real patients");
}

#[test]
fn a_draw_counts_only_on_a_patient_and_before_someone_who_may_watch() {
    let why = |by: &str, draw: ObservedDraw| {
        let mut unit = Unit::new();
        unit.add("2026-01-01", "T", person_added("N", Role::Preceptor));
        unit.watch("2026-01-07", by, draw);
        let standing = unit.standing("L", "2026-01-31");
        assert_eq!(standing.draws_counted == 1, standing.evidence[0].does_not_count.is_none());
        standing.evidence[0].does_not_count.clone()
    };
    let watched_by = |id: &str| ObservedDraw { watched_by: person(id), ..draw() };
    assert_eq!(why("P", draw()), None);
    assert_eq!(why("T", watched_by("T")), None);
    for (draw, reason) in [
        (ObservedDraw { setting: Setting::Simulated, ..draw() }, "on a training arm, not on a patient"),
        (ObservedDraw { taken_over: true, ..draw() }, "the watcher took over"),
        (watched_by("L"), "watched by nobody else"),
        (watched_by("N"), "watched by Invented N, who might not precept on this job that day"),
        (ObservedDraw { version: Version(7), ..draw() }, "on version 7, which the book does not hold"),
    ] {
        assert_eq!(why("P", draw).as_deref(), Some(reason));
    }
}

#[test]
fn sentences_name_people_and_keep_the_identifier_of_someone_unknown() {
    let mut unit = Unit::new();
    unit.watch("2026-01-07", "P", draw());
    unit.watch("2026-01-08", "X", ObservedDraw { watched_by: person("X"), ..draw() });
    let evidence = unit.standing("L", "2026-01-31").evidence;
    assert_eq!(
        evidence[0].sentence,
        "Draw on a real patient, watched by Invented P: 4 of 4 key points seen were done without help."
    );
    assert!(evidence[1].sentence.contains("watched by X: "), "{}", evidence[1].sentence);
    assert_eq!(
        evidence[1].does_not_count.as_deref(),
        Some("watched by X, who might not precept on this job that day")
    );
    let planned = EventKind::Planned { person: person("L"), job: job(), by: day("2026-02-01") };
    let sentences = Sentences::new(&unit.history);
    assert_eq!(sentences.of(&planned), "On the timetable: needed by 1 February 2026.");
    assert_eq!(sentences.of(&EventKind::DrawObserved(draw())), evidence[0].sentence);
}

#[test]
fn a_spot_check_is_the_trainers_own_look() {
    let mut unit = Unit::new();
    unit.add("2026-01-07", "P", EventKind::SpotChecked(SpotCheck(draw())));
    let standing = unit.standing("L", "2026-01-31");
    assert_eq!(standing.draws_counted, 0);
    assert_eq!(
        standing.evidence[0].does_not_count.as_deref(),
        Some("a spot check is the trainer's own look, and Invented P is not a trainer")
    );
    // The trainer's look at the first draw comes too early for a rule that asks for the second or a later one.
    let mut unit = Unit::new();
    unit.spot_check("2026-01-07", draw());
    let missing = unit.standing("L", "2026-01-31").missing;
    assert!(missing.contains(&"the trainer's own look at draw 2 or a later one".to_owned()), "{missing:?}");
}

#[test]
fn two_watchers_of_one_draw_make_one_draw_with_the_worse_mark() {
    let mut unit = Unit::new();
    let specimen = Some("S-1".to_owned());
    unit.watch("2026-01-07T09:00", "P", ObservedDraw { specimen: specimen.clone(), ..draw() });
    unit.spot_check(
        "2026-01-07T09:04",
        ObservedDraw { specimen, ..draw_with(&[(SAFETY, DrawMark::NotDone)]) },
    );
    unit.watch("2026-01-08T10:00", "P", draw());
    unit.spot_check("2026-01-08T10:00", draw());
    let standing = unit.standing("L", "2026-01-31");
    assert_eq!((standing.draws_counted, standing.clean_in_a_row), (2, 1));

    let pairs = paired_marks(&unit.history, &job(), day("2026-01-31"));
    let of = |item| pairs.iter().find(|pair| pair.item == item).unwrap().agreement().unwrap();
    assert_eq!((of(SAFETY).events(), of(SAFETY).trials()), (1, 2));
    assert_eq!((of(ItemId::key_point(1, 1)).events(), of(ItemId::key_point(1, 1)).trials()), (2, 2));

    // Gwet 2008 (from memory): AC1 = (pa - pe) / (1 - pe), pe = sum of p (1 - p) over categories / (categories - 1). Here
    // pa = 1/2; done 3/4, not done 1/4 of the marks: pe = (3/16 + 3/16) / 2 = 3/16; AC1 = (8/16 - 3/16) / (13/16) = 5/13.
    let ac1 = pairs.iter().find(|pair| pair.item == SAFETY).unwrap().ac1(Default::default()).unwrap();
    assert!((ac1.estimate - 5.0 / 13.0).abs() < 1e-12, "{ac1:?}");

    let facts = key_point_facts(&unit.history, &job(), day("2026-01-31"));
    let safety = facts.iter().find(|fact| fact.item == SAFETY).unwrap();
    assert!(safety.safety);
    assert_eq!((safety.done.not_done, safety.done.seen()), (1, 2), "draws, not marks");
}

#[test]
fn nobody_releases_themselves_and_only_a_trainer_releases() {
    let mut unit = Unit::new();
    unit.ready();
    unit.release("2026-01-12", "P", "L", Scope::OwnPatients, 1);
    let standing = unit.standing("L", "2026-01-31");
    assert_eq!(standing.level, Level::Learning);
    let last = standing.evidence.last().unwrap();
    assert_eq!(last.does_not_count.as_deref(), Some("signed by Invented P, who is not a trainer"));
    unit.release("2026-01-12", "T", "T", Scope::AllPatients, 1);
    assert_eq!(unit.standing("T", "2026-01-31").level, Level::NotPlanned);
}

#[test]
fn a_correction_replaces_and_stays_beside_what_it_corrects() {
    let mut unit = Unit::new();
    unit.ready();
    let slip = unit.watch("2026-01-12", "P", draw_with(&[(SAFETY, DrawMark::NotDone)]));
    assert_eq!(unit.standing("L", "2026-01-31").clean_in_a_row, 0);
    let first = unit.correct(&slip, "2026-01-12", "P", EventKind::DrawObserved(draw()));
    let standing = unit.standing("L", "2026-01-31");
    assert_eq!((standing.draws_counted, standing.clean_in_a_row), (6, 6));
    let [corrected] = standing.corrected.as_slice() else { panic!("{:?}", standing.corrected) };
    assert_eq!((&corrected.original, &corrected.correction), (&slip, &first));
    assert_eq!(corrected.reason, "the form was read wrong");
    assert!(
        corrected.original_sentence.contains("safety points missed: 2.1"),
        "{}",
        corrected.original_sentence
    );
    assert!(!corrected.correction_sentence.contains("missed"), "{}", corrected.correction_sentence);
    assert!(standing.evidence.iter().all(|evidence| evidence.event != slip));

    // A correction of the correction: the last word holds, the first writing stays named.
    let second = unit.correct(&first, "2026-01-12", "T", EventKind::EnteredInError);
    let standing = unit.standing("L", "2026-01-31");
    assert_eq!(standing.draws_counted, 5);
    assert_eq!((&standing.corrected[0].original, &standing.corrected[0].correction), (&slip, &second));
    assert_eq!(standing.corrected[0].correction_sentence, "Entered in error: it did not happen.");
}

#[test]
fn a_withdrawn_standing_needs_new_evidence_and_a_new_release() {
    let mut unit = Unit::new();
    unit.ready();
    unit.release("2026-01-12", "T", "L", Scope::AllPatients, 1);
    unit.add(
        "2026-03-01",
        "T",
        EventKind::Withdrawn {
            person: person("L"),
            job: job(),
            reason: "a key point has slipped".to_owned(),
        },
    );
    let standing = unit.standing("L", "2026-03-02");
    assert_eq!((standing.level, standing.scope, standing.draws_counted), (Level::Withdrawn, None, 0));
    assert_eq!(
        standing.evidence[2].does_not_count.as_deref(),
        Some("before the standing was withdrawn on 1 March 2026")
    );
    unit.release("2026-03-10", "T", "L", Scope::OwnPatients, 1);
    assert_eq!(unit.standing("L", "2026-03-10").level, Level::OwnPatients);
}

#[test]
fn a_major_version_asks_for_a_refresher_and_a_minor_one_does_not() {
    let mut unit = Unit::new();
    unit.ready();
    unit.release("2026-01-12", "T", "L", Scope::AllPatients, 1);
    let publish = |unit: &mut Unit, version, kind, effective| {
        let new = breakdown(version, Some(kind), Some(effective));
        unit.add("2026-02-01", "T", EventKind::BreakdownPublished(Box::new(new)));
    };
    publish(&mut unit, 2, ChangeKind::Minor, "2026-02-01");
    assert_eq!(unit.standing("L", "2026-02-02").level, Level::AllPatients);
    publish(&mut unit, 3, ChangeKind::Major, "2026-03-01");
    assert_eq!(unit.standing("L", "2026-02-28").level, Level::AllPatients, "not yet in force");
    let old = unit.standing("L", "2026-03-01");
    assert_eq!(
        (old.level, old.since, old.scope),
        (Level::ToBeUpdated, Some(day("2026-03-01")), Some(Scope::AllPatients))
    );
    assert_eq!(old.missing, ["a refresher on version 3 or newer (major change: label at the bedside)"]);
    assert_eq!(old.next_check.unwrap().on, day("2026-03-31"));
    assert!(!old.level.may_draw_alone() && !old.rule_met);
    // Draws on the old version, and draws watched by a preceptor who is to be updated, no longer count.
    assert_eq!(unit.standing("L", "2026-03-01").draws_counted, 0);
    let refreshed =
        EventKind::RefresherDone { person: person("L"), job: job(), version: Version(3), reason: None };
    unit.add("2026-03-02", "P", refreshed.clone());
    assert_eq!(unit.standing("L", "2026-03-02").level, Level::ToBeUpdated, "P is to be updated too");
    unit.add("2026-03-03", "T", refreshed);
    let new = unit.standing("L", "2026-03-03");
    assert_eq!((new.level, new.version), (Level::AllPatients, Some(Version(3))));
}

#[test]
fn a_standing_lapses_only_where_the_laboratory_names_collectors() {
    let mut unit = Unit::new();
    unit.ready();
    unit.release("2026-01-12", "T", "L", Scope::AllPatients, 1);
    assert_eq!(unit.standing("L", "2026-12-31").level, Level::AllPatients, "nobody could know");
    let drew = |on: &str, code: Option<&str>| LaboratoryDraw {
        person: person("L"),
        job: code.map(|code| breakdown::JobCode(code.to_owned())),
        on: day(on),
    };
    unit.history.laboratory_draws =
        Some(vec![drew("2026-02-01", None), drew("2026-03-01", Some("central-line"))]);
    assert_eq!(unit.standing("L", "2026-05-03").level, Level::AllPatients, "no file tells of April yet");
    let others = ["2026-05-02", "2026-05-03", "2026-05-04"];
    let others = others.map(|on| LaboratoryDraw { person: person("P"), ..drew(on, None) });
    unit.history.laboratory_draws.as_mut().unwrap().extend(others);
    // 90 days after 1 February 2026 is 2 May.
    assert_eq!(unit.standing("L", "2026-05-02").level, Level::AllPatients);
    let lapsed = unit.standing("L", "2026-05-03");
    assert_eq!((lapsed.level, lapsed.since), (Level::Lapsed, Some(day("2026-05-03"))));
    assert_eq!(
        lapsed.missing,
        [
            "a watched draw or a refresher: no draw is known since 1 February 2026, 91 days ago, and the rule allows 90"
        ]
    );
    let never = ReleaseRule { lapse_after_days: None, ..ReleaseRule::default() };
    assert_eq!(unit.standing_under("L", "2026-05-03", &never).level, Level::AllPatients);
    unit.watch("2026-05-04", "P", draw());
    assert_eq!(unit.standing("L", "2026-05-04").level, Level::AllPatients);
}

#[test]
fn said_and_done_never_stand_in_for_each_other() {
    // Any number of clean passes is no draw, and any number of clean draws is no pass.
    let mut said = Unit::new();
    for on in ["2026-01-05", "2026-01-06", "2026-01-07", "2026-01-08", "2026-01-09", "2026-01-10"] {
        said.teach_back(on, &[]);
    }
    assert_eq!(said.standing("L", "2026-01-31").draws_counted, 0);
    assert!(!said.standing("L", "2026-01-31").rule_met);
    let mut done = Unit::new();
    for on in ["2026-01-05", "2026-01-06", "2026-01-07", "2026-01-08", "2026-01-09", "2026-01-10"] {
        done.spot_check(on, draw());
    }
    assert_eq!(done.standing("L", "2026-01-31").missing, ["0 of 2 clean passes of the teach-back in a row"]);
}

#[test]
fn people_come_and_go() {
    let mut unit = Unit::new();
    unit.add("2026-02-01", "T", EventKind::PersonLeft { person: person("L") });
    assert_eq!(unit.standing("L", "2026-02-02").level, Level::Away);
    unit.add("2026-05-01", "T", person_added("L", Role::Nurse));
    assert_eq!(unit.standing("L", "2026-05-02").level, Level::NotPlanned);
}
