//! Passes marked by hand, and what they show. The rule's numbers are common practice, no source.

use breakdown::{Breakdown, ItemId, ItemKind, JobCode, Version, parse};
use jiff::civil::date;
use teachback::{
    Mark, OrderError, OutcomeError, PassRule, Shortfall, TeachBack, TeachBackItem, Why, outcome, series,
};

/// Two steps, ten key points of which two are safety points; dry before puncture binds.
fn job() -> Breakdown {
    let mut text = "job: Draw\ncode: draw\nversion: 3\nstep: Clean\n".to_owned();
    for (keyword, label) in
        [("key point", "clean"), ("key point", "dry"), ("knack", "a"), ("knack", "b"), ("knack", "c")]
    {
        text += &format!("  {keyword} [{label}]: Point {label}\n    reason: Because of {label}\n");
    }
    text += "step: Puncture\n";
    for (keyword, label) in [
        ("safety point", "puncture"),
        ("safety point", "stop"),
        ("knack", "d"),
        ("knack", "e"),
        ("knack", "f"),
    ] {
        text += &format!("  {keyword} [{label}]: Point {label}\n    reason: Because of {label}\n");
    }
    text += "order: clean before dry before puncture\n";
    parse(&text).breakdown.expect("a breakdown")
}

/// A pass in which everything is unprompted but for some changes.
fn pass(changes: &[(&str, Mark)]) -> TeachBack {
    let breakdown = job();
    let mut items: Vec<TeachBackItem> = breakdown
        .items()
        .iter()
        .map(|item| TeachBackItem { item: item.id, mark: Mark::Unprompted, at_s: None })
        .collect();
    for (id, mark) in changes {
        let id = ItemId::parse(id).expect("an item");
        items.iter_mut().filter(|item| item.item == id).for_each(|item| item.mark = *mark);
    }
    TeachBack::heard(breakdown.code.clone(), breakdown.version, items, None)
}

#[track_caller]
fn shortfalls(pass: &TeachBack) -> Vec<Shortfall> {
    outcome(&job(), pass, &PassRule::default()).expect("the same job").shortfalls
}

#[test]
fn a_pass_without_help_is_clean() {
    let outcome = outcome(&job(), &pass(&[]), &PassRule::default()).unwrap();
    assert!(outcome.clean && outcome.practise.is_empty());
    assert_eq!(outcome.key_points_unprompted.to_string(), "10 of 10");
    assert_eq!(outcome.safety_unprompted.to_string(), "2 of 2");
    assert_eq!(outcome.reasons_known.to_string(), "10 of 10");
    assert_eq!(outcome.steps_known.to_string(), "2 of 2");
}

#[test]
fn nine_of_ten_key_points_are_enough_and_eight_are_not() {
    assert_eq!(shortfalls(&pass(&[("1.3", Mark::Missed)])), []);
    assert_eq!(
        shortfalls(&pass(&[("1.3", Mark::Missed), ("1.4", Mark::Partial)])),
        [Shortfall::TooFewKnown { n: 8, of: 10, least: 0.9 }]
    );
    // Led counts as not known, prompted as known.
    let led = pass(&[("1.3", Mark::Led), ("1.4", Mark::Led), ("1.5", Mark::Prompted)]);
    assert_eq!(shortfalls(&led), [Shortfall::TooFewKnown { n: 8, of: 10, least: 0.9 }]);
}

#[test]
fn a_safety_point_needs_no_help() {
    assert_eq!(shortfalls(&pass(&[("2.2", Mark::Prompted)])), [Shortfall::SafetyWithHelp { n: 1, of: 2 }]);
    let lenient = PassRule::new(0.9, false, 2, true).unwrap();
    assert!(outcome(&job(), &pass(&[("2.2", Mark::Prompted)]), &lenient).unwrap().clean);
}

#[test]
fn wrong_stays_open_and_unsafe_stops() {
    assert_eq!(shortfalls(&pass(&[("1.3", Mark::Wrong)])), [Shortfall::WrongOpen { n: 1 }]);
    let stops = [Shortfall::Stopped { n: 1 }, Shortfall::SafetyWithHelp { n: 1, of: 2 }];
    assert_eq!(shortfalls(&pass(&[("2.1", Mark::Unsafe)])), stops);
    assert_eq!(shortfalls(&pass(&[("2.1", Mark::Wrong)])), stops, "wrong on a safety point is unsafe");
    assert_eq!(shortfalls(&pass(&[("2.1r", Mark::Wrong)])), [Shortfall::Stopped { n: 1 }]);
    let mut put_right = pass(&[("1.3", Mark::Wrong)]);
    let item = ItemId::parse("1.3").unwrap();
    put_right.items.push(TeachBackItem { item, mark: Mark::Unprompted, at_s: Some(80.0) });
    // The worst mark of a pass counts, as it does for release; the last is shown.
    assert_eq!(shortfalls(&put_right), [Shortfall::WrongOpen { n: 1 }]);
    let shown = outcome(&job(), &put_right, &PassRule::default()).unwrap().put_right;
    assert_eq!(shown, [(item, Mark::Unprompted)]);
}

#[test]
fn only_binding_orders_are_scored() {
    let order = |ids: &[&str]| {
        let mut pass = pass(&[]);
        let listed: Vec<ItemId> = ids.iter().map(|id| ItemId::parse(id).unwrap()).collect();
        pass.items.retain(|item| !listed.contains(&item.item));
        let said =
            listed.iter().map(|item| TeachBackItem { item: *item, mark: Mark::Unprompted, at_s: None });
        pass.items.extend(said.collect::<Vec<_>>());
        outcome(&job(), &pass, &PassRule::default()).unwrap().order_errors
    };
    let (dry, puncture) = (ItemId::key_point(1, 2), ItemId::key_point(2, 1));
    assert_eq!(order(&["1.1", "2.1", "1.2"]), [OrderError { first: dry, then: puncture }]);
    assert_eq!(order(&["1.1", "1.2", "2.1"]), []);
    assert_eq!(order(&["1.5", "1.3", "2.5", "2.3"]), [], "free orders are free");
    let mut missing = pass(&[("1.2", Mark::Missed)]);
    missing.items.reverse();
    let errors = outcome(&job(), &missing, &PassRule::default()).unwrap().order_errors;
    assert_eq!(errors, [], "what was not said is missed, not out of order");
}

#[test]
fn practice_starts_with_safety() {
    let changes = [
        ("1.3", Mark::Missed),
        ("2.2", Mark::Prompted),
        ("1.4", Mark::Wrong),
        ("2.1", Mark::Unsafe),
        ("1.5r", Mark::Partial),
    ];
    let outcome = outcome(&job(), &pass(&changes), &PassRule::default()).unwrap();
    let order: Vec<String> = outcome.practise.iter().map(|entry| entry.item.to_string()).collect();
    assert_eq!(order, ["2.1", "2.2", "1.4", "1.3", "1.5r"]);
    assert_eq!(outcome.practise[1].why, Why::Said(Mark::Prompted));
}

#[test]
fn what_nobody_judged_is_not_taken_for_known() {
    let mut pass = pass(&[]);
    pass.items.retain(|item| item.item.kind() != ItemKind::KeyPoint || item.item.step == 2);
    assert_eq!(
        shortfalls(&pass),
        [Shortfall::TooFewKnown { n: 5, of: 10, least: 0.9 }, Shortfall::NotJudged { n: 5 }]
    );
}

#[test]
fn another_job_or_version_is_refused() {
    let mut other = pass(&[]);
    other.version = Version(2);
    let error = outcome(&job(), &other, &PassRule::default()).unwrap_err();
    assert_eq!(error.to_string(), "the teach-back was heard against version 2, the breakdown is version 3");
    other.job = JobCode("line".to_owned());
    assert!(matches!(outcome(&job(), &other, &PassRule::default()), Err(OutcomeError::OtherJob { .. })));
    let mut stray = pass(&[]);
    let item = ItemId::key_point(9, 9);
    stray.items.push(TeachBackItem { item, mark: Mark::Wrong, at_s: None });
    assert_eq!(outcome(&job(), &stray, &PassRule::default()).unwrap().unknown_items, [item]);
}

#[test]
fn two_clean_passes_in_a_row_the_last_on_another_day() {
    let (clean, not) = (pass(&[]), pass(&[("2.1", Mark::Missed)]));
    let (first, second) = (date(2026, 3, 2), date(2026, 3, 9));
    let rule = PassRule::default();
    let complete =
        |passes: &[(jiff::civil::Date, &TeachBack)]| series(&job(), passes, &rule).unwrap().complete;
    assert!(complete(&[(first, &clean), (second, &clean)]));
    assert!(!complete(&[(first, &clean), (first, &clean)]), "the same day");
    assert!(!complete(&[(second, &clean)]));
    assert!(!complete(&[(first, &clean), (second, &not)]));
    assert!(complete(&[(first, &not), (first, &clean), (second, &clean)]));
    assert!(complete(&[(second, &clean), (first, &clean)]), "order of dates, not of the list");
    assert!(PassRule::new(1.2, true, 2, true).is_err());
    assert!(PassRule::new(f64::NAN, true, 2, true).is_err());
    assert!(PassRule::new(0.9, true, 0, true).is_err());
}
