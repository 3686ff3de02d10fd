//! Roster, grid, coverage, expected draws and the chance of being done by a date. People and rosters are invented.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::collections::BTreeSet;

use breakdown::JobCode;
use jiff::civil::{Date, DateTime, Weekday};
use practice::{Level, PersonId, Scope, Standing};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use stats::Probability;
use stats::arrivals::{GammaRate, Stratum, chance_of_at_least, shrink_rates};
use timetable::*;

fn id(text: &str) -> PersonId {
    PersonId(text.to_owned())
}

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn shift(on: &str, kind: ShiftKind) -> Shift {
    Shift { on: day(on), kind }
}

fn rows(text: &str) -> Vec<RosterRow> {
    (1usize..)
        .zip(text.lines())
        .map(|(line, row)| {
            let [person, date, shift] = row.split(',').collect::<Vec<_>>().try_into().unwrap();
            RosterRow { line, person: person.to_owned(), date: date.to_owned(), shift: shift.to_owned() }
        })
        .collect()
}

fn read(text: &str) -> RosterRows {
    let known: BTreeSet<_> = ["L", "M", "P", "T"].map(id).into_iter().collect();
    Roster::read(&rows(text), &known, ShiftTimes::default(), &RosterWords::default())
}

fn standing(who: &str, level: Level) -> Standing {
    Standing {
        person: id(who),
        job: JobCode("vein".to_owned()),
        level,
        scope: None,
        version: None,
        since: None,
        on_word_of: None,
        needed_by: Some(day("2026-03-01")),
        evidence: Vec::new(),
        next_scope: None,
        missing: Vec::new(),
        rule_met: false,
        draws_counted: 0,
        clean_in_a_row: 0,
        look_done: false,
        points: 0,
        next_check: None,
        corrected: Vec::new(),
    }
}

#[test]
fn a_roster_keeps_good_rows_and_names_bad_ones() {
    let read = read(
        "L,2026-01-07,night\nX,2026-01-07,day\nL,2026-02-30,day\nL,2026-01-08,late\nL,2026-01-07,night\nP,2026-01-07, Day ",
    );
    let told: Vec<_> = read.faults.iter().map(|fault| fault.to_string()).collect();
    assert_eq!(told.len(), 4, "{told:#?}");
    assert!(told[0].starts_with("line 2: found \"X\", whom the book does not know"), "{}", told[0]);
    assert!(told[1].starts_with("line 3: found the date \"2026-02-30\""), "{}", told[1]);
    assert!(told[2].starts_with("line 4: found the shift \"late\"; expected day or night"), "{}", told[2]);
    assert!(told[3].starts_with("line 5: found the same shift of L as on line 1"), "{}", told[3]);
    let roster = read.roster;
    assert!(roster.works(&id("L"), shift("2026-01-07", ShiftKind::NIGHT)));
    assert!(
        !roster.works(&id("L"), shift("2026-01-08", ShiftKind::DAY)),
        "the second half is of the same shift"
    );
    assert!(roster.works(&id("P"), shift("2026-01-07", ShiftKind::DAY)));
    assert_eq!(roster.shifts_of(&id("L"), day("2026-01-01"), day("2026-01-31")).len(), 1);
    assert_eq!(roster.last_day(), Some(day("2026-01-07")));
}

#[test]
fn spans_of_any_length_fall_on_the_shifts_they_fill_by_half() {
    let duty =
        |from: &str, to: &str| Duty { from: from.parse().unwrap(), to: to.parse().unwrap(), person: id("L") };
    let on = |duties: Vec<Duty>| {
        let roster = Roster::from_duties(duties, ShiftTimes::default());
        let shifts = roster.shifts_of(&id("L"), day("2026-01-01"), day("2026-01-31"));
        shifts.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    // Six of twelve hours are half; five are not.
    assert_eq!(on(vec![duty("2026-01-07T13:00", "2026-01-07T23:59")]), ["2026-01-07 day"]);
    assert_eq!(on(vec![duty("2026-01-07T14:00", "2026-01-08T01:00")]), ["2026-01-07 night"]);
    // A day of 24 hours is two shifts; two halves of one shift are one.
    assert_eq!(
        on(vec![duty("2026-01-07T07:00", "2026-01-08T07:00")]),
        ["2026-01-07 day", "2026-01-07 night"]
    );
    assert_eq!(
        on(vec![duty("2026-01-07T19:00", "2026-01-07T22:00"), duty("2026-01-08T02:00", "2026-01-08T06:00")]),
        ["2026-01-07 night"]
    );
    // A span that ends before it begins is no work.
    assert!(on(vec![duty("2026-01-08T07:00", "2026-01-07T07:00")]).is_empty());
}

#[test]
fn the_grid_says_who_can_and_who_is_to_learn() {
    let standings = [
        standing("A", Level::AllPatients),
        standing("B", Level::Learning),
        standing("C", Level::Planned),
        standing("D", Level::Lapsed),
        Standing { needed_by: None, ..standing("E", Level::NotPlanned) },
    ];
    let cells: Vec<_> = grid(&standings).rows.into_iter().map(|(_, mut cells)| cells.remove(0)).collect();
    let by = day("2026-03-01");
    assert_eq!(
        cells,
        [
            Cell::CanDo(Scope::AllPatients),
            Cell::InTraining(Some(by)),
            Cell::NeededBy(by),
            Cell::ToRefresh,
            Cell::NotPlanned
        ]
    );
}

#[test]
fn coverage_counts_who_may_draw_and_who_may_watch() {
    let roster =
        read("L,2026-01-07,day\nP,2026-01-07,day\nL,2026-01-07,night\nT,2026-01-08,day\nM,2026-01-08,day")
            .roster;
    let standings = [
        standing("L", Level::Learning),
        standing("P", Level::MayPrecept),
        standing("M", Level::ToBeUpdated),
        standing("T", Level::NotPlanned),
    ];
    let of = coverage(
        &roster,
        &standings,
        &[id("T")],
        &JobCode("vein".to_owned()),
        day("2026-01-07"),
        day("2026-01-08"),
    );
    let told: Vec<_> = of
        .iter()
        .map(|shift| {
            (
                shift.n_on_duty,
                shift.may_draw_alone.len(),
                shift.may_watch.len(),
                shift.has_unwatched_learner(),
            )
        })
        .collect();
    assert_eq!(told, [(2, 1, 1, false), (1, 0, 0, true), (2, 0, 1, false), (0, 0, 0, false)]);
    assert!(of[1].is_bare() && of[2].is_bare() && !of[0].is_bare());
}

/// Two weeks counted by hand: 14 days, so two shifts in every slot; nights bring more.
#[test]
fn rates_are_shrunk_counts_by_slot() {
    let mut draws: Vec<DateTime> = Vec::new();
    // Monday 5 January 2026. Three draws on each Monday night, of which one after midnight.
    for text in [
        "2026-01-05T20:00",
        "2026-01-05T23:00",
        "2026-01-06T02:00",
        "2026-01-12T20:00",
        "2026-01-12T23:00",
        "2026-01-13T06:59",
    ] {
        draws.push(text.parse().unwrap());
    }
    // Outside the period: the night of the 4th, and the day after the end.
    draws.push("2026-01-05T03:00".parse().unwrap());
    draws.push("2026-01-19T08:00".parse().unwrap());
    let rates = draw_rates(&draws, day("2026-01-05"), day("2026-01-18"), ShiftTimes::default()).unwrap();
    assert!(!rates.is_alike(), "six draws on one of fourteen slots are more than chance");
    let mut strata = vec![Stratum::new(0, 2.0).unwrap(); 14];
    strata[1] = Stratum::new(6, 2.0).unwrap();
    let expected = shrink_rates(&strata).unwrap();
    let monday_night = Slot { weekday: Weekday::Monday, kind: ShiftKind::NIGHT };
    let sunday_day = Slot { weekday: Weekday::Sunday, kind: ShiftKind::DAY };
    assert_eq!(rates.of(monday_night), Some(expected[1]));
    assert_eq!(rates.of(sunday_day), Some(expected[12]));
    assert!(rates.of(monday_night).unwrap().mean() < 3.0, "drawn towards the others");
    // Without any draw: one rate of half a draw over all 28 shifts.
    let none = draw_rates(&[], day("2026-01-05"), day("2026-01-18"), ShiftTimes::default()).unwrap();
    assert_eq!(none.of(sunday_day), Some(GammaRate::new(0.5, 28.0).unwrap()));
    assert!(draw_rates(&[], day("2026-01-18"), day("2026-01-05"), ShiftTimes::default()).is_err());
}

fn one(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

/// 28 shifts, all alike, 28 draws seen: one learner, ten day shifts of which six are watched.
fn ten_shifts() -> (Vec<ShiftCoverage>, DrawRates) {
    let draws: Vec<DateTime> = Shift::between(day("2026-01-05"), day("2026-01-18"), ShiftTimes::default())
        .map(|shift| shift.start(ShiftTimes::default()))
        .collect();
    let rates = draw_rates(&draws, day("2026-01-05"), day("2026-01-18"), ShiftTimes::default()).unwrap();
    assert_eq!(
        rates.of(Slot { weekday: Weekday::Friday, kind: ShiftKind::DAY }),
        Some(GammaRate::new(28.5, 28.0).unwrap())
    );
    let coverage = Shift::between(day("2026-02-02"), day("2026-02-11"), ShiftTimes::default())
        .filter(|shift| shift.kind == ShiftKind::DAY)
        .zip(0..)
        .map(|(shift, number)| ShiftCoverage {
            shift,
            n_on_duty: 3,
            may_draw_alone: Vec::new(),
            may_watch: if number < 6 { vec![id("P")] } else { Vec::new() },
            learning: if number == 0 { vec![id("L"), id("M")] } else { vec![id("L")] },
        })
        .collect();
    (coverage, rates)
}

#[test]
fn the_chance_of_being_done_and_what_stands_in_the_way() {
    let (coverage, rates) = ten_shifts();
    let learner = id("L");
    let wanted = Wanted { person: &learner, draws: 4, by: day("2026-02-11"), offered: one(0.5) };
    let told = forecast(&wanted, &coverage, &rates).unwrap();
    // Five watched shifts alone and one shared, half the draws offered: an exposure of 2.75 shifts.
    let rate = GammaRate::new(28.5, 28.0).unwrap();
    let by_hand = chance_of_at_least(rate, 4, 2.75).unwrap().get();
    assert!((told.chance.get() - by_hand).abs() < 1e-12);
    assert!((told.mean_draws - 28.5 / 28.0 * 2.75).abs() < 1e-12);
    assert_eq!((told.n_shifts, told.n_watched_shifts), (10, 6));
    let sentences: Vec<_> = told.bottlenecks.iter().map(|bottleneck| bottleneck.what.as_str()).collect();
    assert_eq!(
        sentences,
        [
            "50 of 100 draws are offered to learners",
            "nobody to watch on 4 of 10 day shifts",
            "another learner on 1 of 10 shifts",
        ]
    );
    for (bottleneck, exposure) in told.bottlenecks.iter().zip([5.5, 4.75, 3.0]) {
        let by_hand = chance_of_at_least(rate, 4, exposure).unwrap().get();
        assert!((bottleneck.chance.get() - by_hand).abs() < 1e-12, "{bottleneck:?}");
    }
    // Nothing wanted is certain; no shift gives nothing; nothing after the date counts.
    assert_eq!(
        forecast(&Wanted { draws: 0, ..wanted.clone() }, &coverage, &rates).unwrap().chance.get(),
        1.0
    );
    let nobody = id("N");
    let none = forecast(&Wanted { person: &nobody, ..wanted.clone() }, &coverage, &rates).unwrap();
    assert_eq!((none.chance.get(), none.n_shifts, none.bottlenecks), (0.0, 0, Vec::new()));
    assert_eq!(
        forecast(&Wanted { by: day("2026-02-01"), ..wanted }, &coverage, &rates).unwrap().chance.get(),
        0.0
    );
}

/// 100,000 periods drawn at random: the rate from its gamma, the draws one by one, each offered or not and to one of the
/// learners on the shift.
#[test]
fn the_chance_agrees_with_a_simulation() {
    let (coverage, rates) = ten_shifts();
    let learner = id("L");
    let wanted = Wanted { person: &learner, draws: 4, by: day("2026-02-11"), offered: one(0.5) };
    let chance = forecast(&wanted, &coverage, &rates).unwrap().chance.get();
    let mut dice = ChaCha8Rng::seed_from_u64(20_260_202);
    let exponential = |dice: &mut ChaCha8Rng| -libm::log1p(-dice.random::<f64>());
    let n_periods = 100_000;
    let mut n_done = 0;
    for _ in 0..n_periods {
        // Shape 28.5 is 28 exponentials and half the square of a standard normal; exposure 28.
        let mut gamma: f64 = (0..28).map(|_| exponential(&mut dice)).sum();
        let angle = std::f64::consts::TAU * dice.random::<f64>();
        let normal = (2.0 * exponential(&mut dice)).sqrt() * libm::cos(angle);
        gamma += normal * normal / 2.0;
        let per_shift = gamma / 28.0;
        let mut n_draws = 0;
        for shift in coverage.iter().filter(|shift| !shift.may_watch.is_empty()) {
            let mut elapsed = exponential(&mut dice) / per_shift;
            while elapsed < 1.0 {
                let offered = dice.random::<f64>() < 0.5;
                let to_learner = dice.random::<f64>() * (shift.learning.len() as f64) < 1.0;
                n_draws += u32::from(offered && to_learner);
                elapsed += exponential(&mut dice) / per_shift;
            }
        }
        n_done += u32::from(n_draws >= 4);
    }
    let simulated = f64::from(n_done) / f64::from(n_periods);
    let four_errors = 4.0 * (chance * (1.0 - chance) / f64::from(n_periods)).sqrt();
    assert!((simulated - chance).abs() < four_errors, "{simulated} {chance}");
}
