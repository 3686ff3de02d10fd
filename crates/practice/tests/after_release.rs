//! Fault rates, the chart after release, confidence, and watchers as questions. People are invented.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

#[expect(dead_code, reason = "each test file uses the helpers it needs")]
mod common;

use breakdown::ItemId;
use common::{Unit, day, job, person};
use practice::*;
use stats::{ConfidenceLevel, Probability, Proportion};

fn share(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

fn of(events: u64, trials: u64) -> Proportion {
    Proportion::new(events, trials).unwrap()
}

/// Intervals of 81 in 263, the example of R. G. Newcombe, Statistics in Medicine 17, 1998, 857: Wilson .25529 to .36621
/// (printed there to four places); Jeffreys .25452 to .36565, the quantiles of Beta(81.5, 182.5).
#[test]
fn a_fault_rate_is_the_published_interval() {
    let rate = fault_rate(of(81, 263), share(0.3), ConfidenceLevel::default()).unwrap();
    assert!((rate.interval.lower() - 0.254_52).abs() < 6e-6, "{:?}", rate.interval);
    assert!((rate.interval.upper() - 0.365_65).abs() < 6e-6, "{:?}", rate.interval);
    assert!((rate.mean - 81.5 / 264.0).abs() < 1e-12);
    assert!((0.5..0.7).contains(&rate.above_target.get()), "{:?}", rate.above_target);
    // No fault in five still leaves room for one draw in three.
    let clean = fault_rate(of(0, 5), share(0.2), ConfidenceLevel::default()).unwrap();
    assert!(clean.interval.upper() > 0.3 && clean.above_target.get() > 0.1, "{clean:?}");
}

#[test]
fn confidence_is_judged_only_where_the_draws_tell() {
    let beside = |stated, events, trials| {
        confidence_beside(share(stated), of(events, trials), ConfidenceLevel::default())
    };
    let same = beside(0.308, 81, 263);
    assert!((same.interval.0 - (0.308 - 0.366_21)).abs() < 1e-5, "{same:?}");
    assert!((same.interval.1 - (0.308 - 0.255_29)).abs() < 1e-5, "{same:?}");
    assert_eq!(same.says, Confidence::CannotTell);
    assert_eq!(beside(0.95, 12, 20).says, Confidence::Over);
    assert_eq!(beside(0.3, 20, 20).says, Confidence::Under);
    assert_eq!(beside(1.0, 5, 5).says, Confidence::CannotTell);
}

#[test]
fn the_chart_after_release_notices_and_says_how_often_it_is_wrong() {
    let design = FaultWatchDesign::usual().unwrap();
    let watch = fault_watch(&[false, true, false, true, true], &design).unwrap();
    // By hand: odds 0.25 over 0.0204.., ratio 12.25. A fault adds ln(0.2 / 0.02), a clean draw ln(0.8 / 0.98).
    let (up, down) = (libm::log(10.0), libm::log(0.8 / 0.98));
    let path = [0.0, up, up + down, 2.0 * up + down, 3.0 * up + down];
    for (found, expected) in watch.path.iter().zip(path) {
        assert!((found - expected).abs() < 1e-12, "{found} {expected}");
    }
    assert!(watch.draws_to_false_alarm >= 200.0);
    // Simulated with a seed: the mean number of draws to a signal at each rate.
    let mut state = 0x9E37_79B9_7F4A_7C15u64;
    let mut uniform = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    for (rate, mean) in [(0.02, watch.draws_to_false_alarm), (0.2, watch.draws_to_notice)] {
        let n_runs = 20_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n_runs {
            let (mut value, mut n) = (0.0f64, 0.0);
            while value < watch.limit - 1e-12 {
                value = (value + if uniform() < rate { up } else { down }).max(0.0);
                n += 1.0;
            }
            sum += n;
            squares += n * n;
        }
        let simulated = sum / f64::from(n_runs);
        let error = ((squares / f64::from(n_runs) - simulated * simulated) / f64::from(n_runs)).sqrt();
        assert!((simulated - mean).abs() < 4.0 * error, "{rate}: {simulated} {mean}");
    }
    let wrong = FaultWatchDesign { acceptable: share(0.3), ..design };
    assert!(fault_watch(&[], &wrong).is_err());
    assert!(fault_watch(&[], &design).unwrap().first_signal.is_none());
}

/// Beta(x + 1/2, n - x + 1/2) with x = 1 of n = 2 is Beta(3/2, 3/2): none in two is (1.5 / 3)(2.5 / 4) = 0.3125; one is
/// 2 (1.5 x 1.5) / (3 x 4) = 0.375; two as none.
#[test]
fn the_chance_of_so_few_by_hand() {
    let chance = |events| chance_of_so_few(of(events, 2), of(1, 2)).unwrap().get();
    assert!((chance(0) - 0.3125).abs() < 1e-12);
    assert!((chance(1) - 0.6875).abs() < 1e-12);
    assert!((chance(2) - 1.0).abs() < 1e-12);
}

#[test]
fn a_watcher_who_marks_no_fault_is_a_question_with_its_chance() {
    let mut unit = Unit::new();
    unit.add("2026-01-01", "T", common::person_added("Q", Role::Preceptor));
    unit.release("2026-01-01", "T", "Q", Scope::MayPrecept, 1);
    let safety = ItemId::key_point(1, 1);
    // P marks a fault on every third of 30 draws of L; Q on none of 30.
    for n in 0..30 {
        let when = format!("2026-02-{:02}T{:02}:00", n % 28 + 1, 8 + n / 28);
        let mark = if n % 3 == 0 { DrawMark::NotDone } else { DrawMark::Done };
        unit.watch(&when, "P", common::draw_with(&[(safety, mark)]));
        let when = format!("2026-02-{:02}T{:02}:00", n % 28 + 1, 14 + n / 28);
        unit.watch(&when, "Q", ObservedDraw { watched_by: person("Q"), ..common::draw() });
    }
    let facts = watcher_facts(&unit.history, &job(), day("2026-03-01")).unwrap();
    let of_whom = |who: &str| facts.iter().find(|one| one.watcher == person(who)).unwrap();
    assert_eq!(of_whom("P").marked, of(10, 30));
    assert_eq!(of_whom("Q").marked, of(0, 30));
    assert!(of_whom("P").questions.is_empty(), "{:?}", of_whom("P").questions);
    let question = &of_whom("Q").questions[0];
    assert!(question.contains("0 of 30 draws, other watchers on 10 of 30"), "{question}");
    assert!(question.ends_with("Watch a draw together and compare."), "{question}");
    // What comes after the day asked about does not count.
    let earlier = watcher_facts(&unit.history, &job(), day("2026-02-02")).unwrap();
    assert!(earlier.iter().all(|one| one.questions.is_empty()), "{earlier:?}");
}

#[test]
fn what_was_watched_after_release_is_told_in_order() {
    let mut unit = Unit::new();
    unit.ready();
    unit.release("2026-01-12", "T", "L", Scope::OwnPatients, 1);
    let missed = common::draw_with(&[(ItemId::key_point(2, 1), DrawMark::NotDone)]);
    unit.watch("2026-01-20", "P", common::draw());
    unit.watch("2026-01-21", "P", missed);
    // Not a safety point.
    unit.watch("2026-01-22", "P", common::draw_with(&[(ItemId::key_point(2, 2), DrawMark::NotDone)]));
    let outcomes = outcomes_after_release(&unit.history, &job(), day("2026-02-01"));
    assert_eq!(outcomes.get(&person("L")), Some(&vec![false, true, false]));
    let earlier = outcomes_after_release(&unit.history, &job(), day("2026-01-20"));
    assert_eq!(earlier.get(&person("L")), Some(&vec![false]));
}

/// Learners of P miss a safety point on every later draw, those of Q on none: a question about P, and none about Q.
#[test]
fn learners_who_fail_later_are_a_question_about_how_they_were_shown() {
    let mut unit = Unit::new();
    unit.add("2026-01-01", "T", common::person_added("Q", Role::Preceptor));
    unit.release("2026-01-01", "T", "Q", Scope::MayPrecept, 1);
    for (learner, watcher) in [("L", "P"), ("M", "Q")] {
        unit.add("2026-01-01", "T", common::person_added(learner, Role::Nurse));
        let draw =
            || ObservedDraw { drawn_by: person(learner), watched_by: person(watcher), ..common::draw() };
        unit.watch("2026-01-05", watcher, draw());
        unit.watch("2026-01-06", watcher, draw());
        unit.release("2026-01-12", "T", learner, Scope::OwnPatients, 1);
        for n in 0..8 {
            let mark = if learner == "L" { DrawMark::NotDone } else { DrawMark::Done };
            let later = common::draw_with(&[(ItemId::key_point(1, 1), mark)]);
            let later = ObservedDraw { drawn_by: person(learner), ..later };
            unit.spot_check(&format!("2026-02-{:02}", n + 1), later);
        }
    }
    let facts = watcher_facts(&unit.history, &job(), day("2026-03-01")).unwrap();
    let of_whom = |who: &str| facts.iter().find(|one| one.watcher == person(who)).unwrap();
    assert_eq!(of_whom("P").later, Some(of(8, 8)));
    assert_eq!(of_whom("Q").later_so_many, Some(share(1.0)));
    let questions = of_whom("P").questions.join(" ");
    assert!(
        questions.contains("missed a safety point on 8 of 8 draws, others' learners on 0 of 8"),
        "{questions}"
    );
    assert!(of_whom("Q").questions.iter().all(|one| !one.contains("After release")));
}

/// Student, Biometrika 6, 1908, 1: ten patients' additional hours of sleep under one drug less those under another, as in
/// R's data set `sleep`, here in tenths. R's help page prints the paired test: mean 1.58, 95 % from 0.7001142 to 2.4598858.
#[test]
fn the_units_mean_has_students_published_interval() {
    let hours = [1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4];
    let tenths: Vec<f64> = hours.iter().map(|hour| hour / 10.0).collect();
    let unit = confidence_of_unit(&tenths, ConfidenceLevel::default()).unwrap();
    assert_eq!(unit.n_people, 10);
    assert!((unit.mean - 0.158).abs() < 1e-12);
    assert!((unit.interval.0 - 0.070_011_42).abs() < 1e-8 && (unit.interval.1 - 0.245_988_58).abs() < 1e-8);
    assert_eq!(unit.says, Confidence::Over);
    let turned: Vec<f64> = tenths.iter().map(|one| -one).collect();
    assert_eq!(confidence_of_unit(&turned, ConfidenceLevel::default()).unwrap().says, Confidence::Under);
    let level = [0.1; 6];
    let same = confidence_of_unit(&level, ConfidenceLevel::default()).unwrap();
    assert!((same.interval.1 - same.interval.0).abs() < 1e-12);
    assert!(confidence_of_unit(&level[..5], ConfidenceLevel::default()).is_none(), "five people are too few");
}

/// scipy 1.17.1: `beta(x + 0.5, n - x + 0.5)`, its mean, `ppf` at 0.1, 0.9, 0.025 and 0.975, and `sf(0.2)`.
#[test]
fn the_fault_rate_at_signing_is_what_scipy_gives() {
    type Row = (u64, u64, [f64; 6]);
    let rows: [Row; 4] = [
        (
            0,
            5,
            [
                0.083_333_333_333_333_3,
                0.001_501_051_996_841_08,
                0.226_724_528_629_093,
                9.342_060_003_954_47e-5,
                0.379_377_142_299_039,
                0.125_466_896_410_719,
            ],
        ),
        (
            1,
            8,
            [
                0.166_666_666_666_667,
                0.037_034_893_565_341_2,
                0.332_424_338_625_246,
                0.013_838_233_790_320_8,
                0.453_719_321_032_415,
                0.326_822_357_622_946,
            ],
        ),
        (
            2,
            14,
            [
                0.166_666_666_666_667,
                0.059_044_766_052_962_5,
                0.294_996_652_970_084,
                0.030_922_127_534_754_3,
                0.384_894_319_607_362,
                0.316_099_948_390_837,
            ],
        ),
        (
            5,
            40,
            [
                0.134_146_341_463_415,
                0.071_299_001_943_481_7,
                0.204_882_385_369_593,
                0.049_337_095_637_856_7,
                0.252_485_118_905_441,
                0.113_491_223_327_533,
            ],
        ),
    ];
    for (faults, draws, expected) in rows {
        let at = |level: f64| {
            fault_rate(of(faults, draws), share(0.2), ConfidenceLevel::new(level).unwrap()).unwrap()
        };
        let (narrow, wide) = (at(0.8), at(0.95));
        let found = [
            wide.mean,
            narrow.interval.lower(),
            narrow.interval.upper(),
            wide.interval.lower(),
            wide.interval.upper(),
            wide.above_target.get(),
        ];
        for (found, expected) in found.iter().zip(expected) {
            assert!((found / expected - 1.0).abs() < 1e-12, "{faults} of {draws}: {found} {expected}");
        }
    }
}

/// scipy 1.17.1: `betabinom.cdf(k, n, x + 0.5, m - x + 0.5)`.
#[test]
fn the_chance_of_so_few_marked_faults_is_what_scipy_gives() {
    for ((k, n), (x, m), expected) in [
        ((0, 20), (12, 80), 0.050_438_712_596_417_8),
        ((1, 30), (20, 90), 0.010_401_629_673_497_4),
        ((3, 15), (1, 60), 0.997_412_942_256_677),
        ((0, 150), (40, 400), 1.403_766_757_747_37e-6),
    ] {
        let found = chance_of_so_few(of(k, n), of(x, m)).unwrap().get();
        // The tail of the last row is a product of 150 ratios here and a difference of gamma functions there.
        assert!((found / expected - 1.0).abs() < 1e-10, "{k} of {n} against {x} of {m}: {found} {expected}");
    }
}
