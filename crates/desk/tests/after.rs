//! A person's own draws beside their results, counted by hand. The unit is invented.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use common::{LEARNER, PRECEPTOR, day, material, person, set};
use culture::{Bottle, BottleKind, ReportStatus};
use desk::{AfterResult, Desk};
use practice::{Circumstances, Difficulty, DrawMark, DrawnFrom, EventKind, ObservedDraw, WhyThere};

/// The learner's first four draws get the specimen numbers S1 to S4, the third with circumstances.
fn desk() -> Desk {
    let mut negative = set("S1", "p1", "2026-01-07T09:00", None, None);
    negative.bottles = vec![Bottle { kind: BottleKind::Aerobic, fill_ml: Some(9.5) }];
    negative.received = Some("2026-01-07T09:40".parse().unwrap());
    let mut open = set("S2", "p2", "2026-02-09T09:00", None, Some("Staphylococcus epidermidis"));
    open.status = ReportStatus::Preliminary;
    let contaminated = set("S3", "p3", "2026-01-09T09:00", None, Some("Staphylococcus epidermidis"));
    let beside = set("S3b", "p3", "2026-01-09T09:20", None, None);
    let mut material = material("2026-02-10", vec![negative, open, contaminated, beside]);
    let mut number = 0;
    for event in &mut material.history.events {
        let EventKind::DrawObserved(draw) = &mut event.kind else { continue };
        number += 1;
        draw.specimen = Some(format!("S{number}"));
        if number == 3 {
            told(draw);
        }
    }
    Desk::new(material)
}

fn told(draw: &mut ObservedDraw) {
    draw.attempts = 2;
    draw.items[0].mark = DrawMark::AfterPrompt;
    draw.circumstances = Circumstances {
        difficulty: vec![Difficulty::Shock],
        drawn_from: Some(DrawnFrom::Line),
        why_there: Some(WhyThere::NoOtherWay),
        fills: vec![(practice::Bottle::Aerobic, 85)],
        ..Circumstances::default()
    };
}

#[test]
fn only_final_results_are_shown_and_no_percentage() {
    let page = desk().after(&person(LEARNER)).unwrap();
    let when: Vec<_> = page.draws.iter().map(|draw| draw.when.date()).collect();
    assert_eq!(when, ["2026-01-11", "2026-01-10", "2026-01-09", "2026-01-08", "2026-01-07"].map(day));
    assert_eq!(page.draws[0].result, AfterResult::NoSpecimen, "the spot check has no number");
    assert_eq!(page.draws[1].result, AfterResult::NotFound { specimen: "S4".to_owned() });
    assert_eq!(page.draws[3].result, AfterResult::NotYet, "what grew so far is not shown");
    let AfterResult::Final { verdict, bottles, to_laboratory_min, .. } = &page.draws[4].result else {
        panic!("{:?}", page.draws[4].result);
    };
    assert_eq!((verdict.as_str(), *to_laboratory_min), ("negative", Some(40)));
    assert_eq!(bottles, &[("aerobic".to_owned(), Some(9.5))]);
    assert!(page.sentence.starts_with("2 of 5 watched draws"), "{}", page.sentence);
    assert!(!page.sentence.contains('%'));
}

#[test]
fn the_circumstances_of_the_time_stand_beside_the_result() {
    let page = desk().after(&person(LEARNER)).unwrap();
    let draw = &page.draws[2];
    let AfterResult::Final { verdict, organisms, .. } = &draw.result else { panic!("{:?}", draw.result) };
    assert_eq!(verdict, "contaminated");
    assert_eq!(organisms, &["Staphylococcus epidermidis"]);
    let words: Vec<_> = draw.circumstances.iter().map(|(what, words)| format!("{what}: {words}")).collect();
    assert_eq!(
        words,
        [
            "attempts: 2",
            "difficult: shock",
            "drawn from: a line: no other way in",
            "fill as seen: aerobic 8.5 mL"
        ]
    );
    assert_eq!(draw.open, ["let the skin dry (after a prompt)"]);
    assert_eq!(desk().after(&person(PRECEPTOR)).unwrap().draws, [], "somebody else's draws are not theirs");
    assert_eq!(desk().after(&person("nobody")), None);
}
