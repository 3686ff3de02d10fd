//! Pages of an invented unit of three people and twelve sets; every expected number is counted by hand.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use common::*;
use culture::{CultureSet, ReportStatus, Route};
use desk::{Desk, JobStanding, Rate, Share, UnitRow, Urgency, VerdictCounts};

/// Twelve sets of six patients, two each: two contaminated (a1, d1), one true positive (b2), one cancelled (e2), one
/// still open on 1 March 2026 (f1), seven without growth.
fn twelve_sets() -> Vec<CultureSet> {
    let (t, p, l) = (Some(TRAINER), Some(PRECEPTOR), Some(LEARNER));
    let skin = Some("Staphylococcus epidermidis");
    vec![
        set("a1", "a", "2026-01-05T08:00", l, skin),
        set("a2", "a", "2026-01-05T08:20", l, None),
        set("b1", "b", "2026-01-06T21:00", p, None),
        CultureSet {
            route: Some(Route::CentralLine),
            ..set("b2", "b", "2026-01-06T21:30", p, Some("Escherichia coli"))
        },
        set("c1", "c", "2026-01-07T08:00", p, None),
        set("c2", "c", "2026-01-07T08:10", p, None),
        set("d1", "d", "2026-02-03T20:00", l, Some("Cutibacterium acnes")),
        set("d2", "d", "2026-02-03T20:30", None, None),
        set("e1", "e", "2026-02-10", Some("X"), None),
        CultureSet { status: ReportStatus::Cancelled, ..set("e2", "e", "2026-02-10T08:00", p, None) },
        CultureSet { status: ReportStatus::Preliminary, ..set("f1", "f", "2026-02-27T08:00", l, None) },
        set("f2", "f", "2026-02-27T08:30", t, None),
    ]
}

fn desk(today: &str) -> Desk {
    Desk::new(material(today, twelve_sets()))
}

fn counted(rate: &Rate) -> (u64, u64) {
    (rate.events, rate.of)
}

/// Name, all sets, contaminated and closed of each stratum.
fn rows(strata: &[UnitRow]) -> Vec<(&str, u64, u64, u64)> {
    strata
        .iter()
        .map(|row| (row.name.as_str(), row.counts.sets, row.contamination.events, row.contamination.of))
        .collect()
}

#[test]
fn twelve_sets_are_counted_by_verdict_month_and_stratum() {
    let results = desk("2026-03-01").results();
    assert_eq!(
        results.counts,
        VerdictCounts {
            sets: 12,
            contaminated: 2,
            true_positive: 1,
            negative: 7,
            undetermined: 0,
            provisional: 1,
            excluded: 1,
        }
    );
    assert_eq!(counted(&results.contamination), (2, 10));
    // Wilson for 2 of 10 by hand: centre 3.9207/13.8415 = .2833, half width 1.96/13.8415 * 1.6001 = .2266.
    assert_eq!(
        results.contamination.share,
        Share::Withheld(
            "no percentage under 20; true rates from 5.7 % to 51.0 % would fit (Wilson, 95 %)".into()
        )
    );
    let months: Vec<_> =
        results.months.iter().map(|row| (row.month.to_string(), counted(&row.contamination))).collect();
    assert_eq!(months, [("2026-01-01".into(), (1, 6)), ("2026-02-01".into(), (1, 4))]);
    assert_eq!(rows(&results.units), [("Invented unit", 12, 2, 10)]);
    assert_eq!(rows(&results.routes), [("vein", 11, 2, 9), ("central line", 1, 0, 1)]);
    assert_eq!(
        rows(&results.shifts),
        [
            ("day, 07:00 to 18:59", 7, 1, 5),
            ("night, 19:00 to 06:59", 4, 1, 4),
            ("time not recorded", 1, 0, 1)
        ]
    );
    // Growth in a1, b2 and d1; d2 names no collector; of the sets not excluded, e1 alone was the only one of its day.
    assert_eq!(counted(&results.positivity), (3, 10));
    assert_eq!(counted(&results.unknown_collectors), (1, 12));
    assert_eq!(counted(&results.single_sets), (1, 11));
}

#[test]
fn a_set_belongs_to_the_standing_of_its_collector_at_the_draw() {
    // Released: b1, c1, c2, e2 by the preceptor, d1 and f1 by the learner after 1 February. Not released: a1 and a2
    // before it, b2 on the line for which nobody is released, f2 by the trainer. d2 names nobody, e1 a stranger.
    assert_eq!(
        rows(&desk("2026-03-01").results().by_standing),
        [
            ("released on the breakdown", 6, 1, 4),
            ("not released on the breakdown at the draw", 4, 1, 4),
            ("collector not of this unit", 1, 0, 1),
            ("collector not recorded", 1, 0, 1),
        ]
    );
}

#[test]
fn before_and_after_are_told_and_a_short_series_says_why_it_is_not() {
    let change = desk("2026-03-01").results().change;
    assert_eq!(change.len(), 2);
    let first = &change[0].sentence;
    assert!(
        first.starts_with(
            "Before 1 February 2026: 1 of 6 closed sets contaminated (16.7 %). From then on: 1 of 4 (25.0 %). Difference, \
             before less after: \u{2212}8.3 percentage points, 95 % interval \u{2212}"
        ),
        "{first}"
    );
    assert!(first.ends_with("Cannot tell yet: the interval holds both a fall and a rise."), "{first}");
    assert_eq!(
        change[1].sentence,
        "Month by month: not worked out, because closed sets come from 1 month before February 2026 and 1 from then on, and \
         a trend needs at least 8 on each side."
    );
}

#[test]
fn a_record_names_people_and_says_the_job_only_where_there_are_two() {
    let desk = desk("2026-03-01");
    let learner = desk.person(&person(LEARNER)).unwrap();
    let told = |entry: &str, page: &desk::PersonPage| {
        page.evidence.iter().find(|row| row.entry == entry).unwrap().what.clone()
    };
    assert_eq!(told("e7", &learner), "On the timetable: needed by 14 February 2026.");
    assert_eq!(
        told("e11", &learner),
        "Draw on a real patient, watched by Pell Orrin: 1 of 1 key points seen were done without help."
    );
    let preceptor = desk.person(&person(PRECEPTOR)).unwrap();
    assert_eq!(told("e8", &preceptor), "central-line: On the timetable: needed by 15 April 2026.");
    assert!(told("e6", &preceptor).starts_with("vein: Released to all patients and to precept"));
}

#[test]
fn nobody_misses_what_they_are_not_to_learn() {
    let desk = desk("2026-03-01");
    let standing = |who: &str, code: &str| -> JobStanding {
        let page = desk.person(&person(who)).unwrap();
        page.row.standings.into_iter().find(|standing| standing.job == job(code)).unwrap()
    };
    let line = standing(LEARNER, "central-line");
    assert_eq!((line.short.as_str(), line.missing.len()), ("not planned", 0));
    assert!(standing(PRECEPTOR, "central-line").missing.len() > 1, "planned, with everything still to come");
}

#[test]
fn chance_is_asked_about_closed_sets_that_name_a_collector_of_the_unit() {
    let page = desk("2026-03-01").person(&person(LEARNER)).unwrap();
    // a1, a2 and d1; f1 is still open.
    assert_eq!(counted(&page.results.contamination), (2, 3));
    let chance = page.results.chance.unwrap();
    // Two of eight: learner 2 of 3, preceptor 0 of 4 (b1, b2, c1, c2), trainer 0 of 1 (f2).
    assert_eq!(chance.unit_rate, 0.25);
    // Binomial(3, 1/4): P(X >= 2) = 3 * 1/16 * 3/4 + 1/64 = 10/64.
    assert!((chance.at_least_this_many - 10.0 / 64.0).abs() < 1e-12, "{}", chance.at_least_this_many);
}

#[test]
fn a_decision_due_says_what_the_rule_lets_through() {
    let page = desk("2026-01-31").today_page();
    let item = page.items.iter().find(|item| item.what.starts_with("Decide")).unwrap();
    assert_eq!(item.urgency, Urgency::Today);
    assert_eq!(item.what, "Decide whether to release Lio Marsh to own patients: Draw one set from a vein");
    // Judged after the fifth draw, the last three clean: 0.8 ^ 3 = 0.512 and 0.98 ^ 3 = 0.941.
    assert_eq!(
        item.why,
        "The release rule is met with 5 observed draws, the last 5 clean. The rule advises; you decide and sign. Of 100 \
         nurses who fail one draw in five, 51 would meet this rule within 5 draws. Of 100 nurses who fail one draw in 50, \
         94 would meet this rule within 5 draws."
    );
}

#[test]
fn today_gathers_what_is_overdue_with_days_in_words() {
    let page = desk("2026-03-01").today_page();
    // A week after release, common practice: 8 January for the preceptor, 8 February for the learner.
    let round = page.items.iter().find(|item| item.what.starts_with("Plan a round")).unwrap();
    assert_eq!(round.what, "Plan a round of 2 overdue follow-up checks: Draw one set from a vein");
    assert_eq!(
        round.why,
        "Longest overdue: Pell Orrin (since 8 January 2026), Lio Marsh (since 8 February 2026)."
    );
    // Of the six sets since 1 February, d2 names no collector.
    assert!(
        page.items.iter().any(|item| item.why.starts_with("1 of 6 sets of the last month name no collector"))
    );
    assert!(page.items.is_sorted_by_key(|item| item.urgency));
    assert_eq!(page.provisional_sets, 1);
    assert_eq!(counted(&page.contamination), (2, 10));
    assert_eq!(
        page.released,
        [
            ("Draw one set from a central line".to_owned(), 0, 3),
            ("Draw one set from a vein".to_owned(), 2, 3)
        ]
    );
    // Nothing on the page is written 2026-01-08.
    let is_iso = |text: &str| text.contains("2026-");
    assert!(!page.items.iter().any(|item| is_iso(&item.what) || is_iso(&item.why)), "{:#?}", page.items);
}

#[test]
fn a_month_is_reported_without_its_neighbours() {
    let desk = desk("2026-03-01");
    let february = desk.month_report(day("2026-02-01")).unwrap();
    assert_eq!(counted(&february.this_month.contamination), (1, 4));
    assert_eq!(counted(&february.last_twelve), (2, 10));
    // The first set is of January: two months are not called twelve.
    assert_eq!(february.last_twelve_named, "The 2 months up to this one: there are no earlier results");
    assert_eq!(february.staff_room, "1 of 4 closed sets were contaminated this month.");
    let trained = |month: &str| {
        let training = desk.month_report(day(month)).unwrap().training;
        (training.people, training.teachbacks, training.draws, training.spot_checks, training.releases)
    };
    assert_eq!(trained("2026-01-01"), (3, 2, 4, 1, 1));
    assert_eq!(trained("2026-02-01"), (3, 0, 0, 0, 1));
    assert!(desk.month_report(day("2026-03-01")).is_none(), "no set was collected in March");
}
