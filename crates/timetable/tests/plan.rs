//! Plans of invented units: chances against simulated weeks, absences, bottlenecks and what is named.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use practice::PersonId;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use stats::Probability;
use timetable::pairing::PairingEffort;
use timetable::plan::*;
use timetable::*;

const FROM: Date = date(2026, 11, 2);

fn id(text: &str) -> PersonId {
    PersonId(text.to_owned())
}

/// Duties from words such as "L1 day 0 2 4": days after the first day of the plan.
fn roster(lines: &[&str]) -> Roster {
    let times = ShiftTimes::default();
    let duties = lines.iter().flat_map(|line| {
        let words: Vec<&str> = line.split(' ').collect();
        let kind = if words[1] == "day" { ShiftKind::DAY } else { ShiftKind::NIGHT };
        let person = id(words[0]);
        words[2..]
            .iter()
            .map(|after| {
                let on = FROM.saturating_add(after.parse::<i64>().unwrap().days());
                let shift = Shift { on, kind };
                Duty { from: shift.start(times), to: shift.end(times), person: person.clone() }
            })
            .collect::<Vec<_>>()
    });
    Roster::from_duties(duties, times)
}

/// Four weeks of draws, three on each day shift and one on each night, so that days and nights differ.
fn rates() -> DrawRates {
    let first = date(2026, 10, 5);
    let draws: Vec<_> = (0..28)
        .flat_map(|day| {
            let on = first.saturating_add(day.days());
            [8, 11, 15, 22].map(|hour| on.at(hour, 0, 0, 0))
        })
        .collect();
    draw_rates(&draws, first, date(2026, 11, 1), ShiftTimes::default()).unwrap()
}

struct Unit {
    roster: Roster,
    learners: Vec<LearnerToPlan>,
    watchers: Vec<PersonId>,
    trainers: Vec<PersonId>,
    rates: DrawRates,
    absences: Vec<Absence>,
    checks: Vec<CheckDue>,
    limits: PlanLimits,
}

impl Unit {
    fn new(roster: Roster, learners: Vec<LearnerToPlan>, watchers: &[&str]) -> Unit {
        Unit {
            roster,
            learners,
            watchers: watchers.iter().map(|who| id(who)).collect(),
            trainers: vec![id("T")],
            rates: rates(),
            absences: Vec::new(),
            checks: Vec::new(),
            limits: PlanLimits::default(),
        }
    }

    fn question(&self) -> PlanQuestion<'_> {
        PlanQuestion {
            from: FROM,
            until: date(2026, 11, 29),
            roster: &self.roster,
            learners: &self.learners,
            watchers: &self.watchers,
            trainers: &self.trainers,
            rates: &self.rates,
            offered: Probability::new(0.6).unwrap(),
            absences: &self.absences,
            checks: &self.checks,
            limits: self.limits,
            known: None,
            effort: PairingEffort::default(),
        }
    }
}

fn learner(who: &str, draws: u16, by: Date) -> LearnerToPlan {
    LearnerToPlan { person: id(who), met_after: met_after_draws(draws), by, look_after: Some(1) }
}

/// Two learners who share shifts, one of them also on nights, and two preceptors.
fn small_unit() -> Unit {
    let roster = roster(&[
        "L1 day 0 1 2 7 8 9 14 15 16",
        "L2 day 0 1 7 8",
        "L2 night 14 15 21 22",
        "P1 day 0 1 7 8 14 15",
        "P2 day 0 1 7 9 16",
        "P2 night 14 15 22",
        "T day 0 7 14 21",
    ]);
    let by = date(2026, 11, 29);
    let gradual = LearnerToPlan { met_after: vec![0.0, 0.0, 0.5, 0.8, 0.95, 1.0], ..learner("L2", 4, by) };
    Unit::new(roster, vec![learner("L1", 5, by), gradual], &["P1", "P2"])
}

#[test]
fn chances_agree_with_simulated_weeks() {
    let unit = small_unit();
    let plan = make_plan(&unit.question()).unwrap();
    let mut dice = ChaCha8Rng::seed_from_u64(6);
    let exponential = |dice: &mut ChaCha8Rng| -libm::log1p(-dice.random::<f64>());
    let n_months = 100_000;
    let mut n_done = [0.0; 2];
    for _ in 0..n_months {
        // One rate for each weekday and shift, the same in every week: shape by the sum of exponentials, what is left of
        // it by Johnk's method (two uniforms under their powers).
        let mut drawn = std::collections::BTreeMap::new();
        let mut n_draws = [0usize; 2];
        for pairing in &plan.pairings {
            let slot = Slot::of(pairing.shift);
            let rate = unit.rates.of(slot).unwrap();
            let key = (slot.weekday.to_monday_zero_offset(), slot.kind);
            let key = if unit.rates.is_alike() { (0, ShiftKind::DAY) } else { key };
            let per_shift = *drawn.entry(key).or_insert_with(|| {
                let whole = rate.shape() as u32;
                let part = rate.shape() - f64::from(whole);
                let mut gamma: f64 = (0..whole).map(|_| exponential(&mut dice)).sum();
                let mut rest = 0.0;
                while part > 1e-9 && rest == 0.0 {
                    let (x, y) = (
                        libm::pow(dice.random::<f64>(), 1.0 / part),
                        libm::pow(dice.random::<f64>(), 1.0 / (1.0 - part)),
                    );
                    if x + y <= 1.0 {
                        rest = exponential(&mut dice) * x / (x + y);
                    }
                }
                gamma += rest;
                gamma / rate.exposure()
            });
            let place = usize::from(pairing.learner == id("L2"));
            let mut elapsed = exponential(&mut dice) / per_shift;
            while elapsed < 1.0 {
                // Offered at all, and this learner's turn.
                let offered = dice.random::<f64>() < 0.6;
                let turn = dice.random_range(0..pairing.of_turns) < pairing.turns;
                n_draws[place] += usize::from(offered && turn);
                elapsed += exponential(&mut dice) / per_shift;
            }
        }
        for (place, learner) in unit.learners.iter().enumerate() {
            let met = &learner.met_after;
            n_done[place] += met[n_draws[place].min(met.len() - 1)];
        }
    }
    for (planned, n_done) in plan.learners.iter().zip(n_done) {
        let (chance, simulated) = (planned.done_by_date.get(), n_done / f64::from(n_months));
        let four_errors = 4.0 * (chance * (1.0 - chance) / f64::from(n_months)).sqrt();
        assert!((simulated - chance).abs() < four_errors, "{}: {simulated} {chance}", planned.person);
        assert!((0.2..0.999).contains(&chance), "no case to tell apart: {chance}");
    }
    // The optimiser counts with one rate and in sixteenths of the mean turn; the exact chances are near.
    let sum: f64 = plan.learners.iter().map(|learner| learner.done_by_date.get()).sum();
    assert!((sum - plan.objective).abs() < 0.02, "{sum} {}", plan.objective);
    assert!(plan.bound - plan.objective <= 0.01 * plan.objective);
}

#[test]
fn days_follow_from_the_pairings() {
    let mut unit = small_unit();
    let plan = make_plan(&unit.question()).unwrap();
    for planned in &plan.learners {
        // Planned only up to a day, the chance by that day is what the day was named for; a day earlier it is not.
        for (wanted, named) in [(0.5, planned.date_50), (0.9, planned.date_90)] {
            let by_day = |day: Date| {
                let own: Vec<_> = plan.pairings.iter().filter(|one| one.learner == planned.person).collect();
                let parts: Vec<_> = own
                    .iter()
                    .filter(|one| one.shift.on <= day)
                    .map(|one| {
                        let share = f64::from(one.turns) / f64::from(one.of_turns);
                        (unit.rates.of(Slot::of(one.shift)).unwrap(), 0.6 * share)
                    })
                    .collect();
                let to_plan = unit.learners.iter().find(|one| one.person == planned.person).unwrap();
                // Shifts of one slot share a rate; added up, they are one part.
                let mut merged: Vec<(stats::arrivals::GammaRate, f64)> = Vec::new();
                for (rate, exposure) in parts {
                    match merged.iter_mut().find(|(other, _)| *other == rate) {
                        Some((_, sum)) => *sum += exposure,
                        None => merged.push((rate, exposure)),
                    }
                }
                outcome_chance(&to_plan.met_after, &merged).unwrap().get()
            };
            match named {
                Some(day) => {
                    assert!(by_day(day) >= wanted, "{day}");
                    assert!(by_day(day.yesterday().unwrap()) < wanted, "{day}");
                }
                None => assert!(planned.done_by_date.get() < wanted),
            }
        }
    }
    // Nothing wanted is done on the first day, and nobody's time is taken for it.
    unit.learners[0].met_after = met_after_draws(0);
    let plan = make_plan(&unit.question()).unwrap();
    assert_eq!(plan.learners[0].n_watched, 0);
    assert_eq!(plan.learners[0].date_90, Some(FROM));
    assert_eq!(plan.learners[0].done_by_date.get(), 1.0);
}

#[test]
fn nobody_to_watch_at_night_is_named_with_what_it_would_give() {
    let roster = roster(&["L1 night 0 1 2 7 8 9 14 15", "L2 day 0 1 2", "P1 day 0 1 2 7 8 9"]);
    let by = date(2026, 11, 29);
    let mut unit = Unit::new(roster, vec![learner("L1", 2, by), learner("L2", 1, by)], &["P1"]);
    let plan = make_plan(&unit.question()).unwrap();
    assert_eq!(plan.learners[0].done_by_date.get(), 0.0);
    assert!(plan.pairings.iter().all(|one| one.learner == id("L2")));
    let told: Vec<String> = plan.faults.iter().map(ToString::to_string).collect();
    assert!(
        told.iter().any(|fault| fault.starts_with("L1: found 8 shifts up to 29 November 2026, none of them")),
        "{told:?}"
    );
    let first = &plan.bottlenecks[0];
    assert_eq!(first.without, "one more person to watch on every night shift");
    let (who, before, after) = first.helps_most.clone().unwrap();
    assert_eq!((who, before), (id("L1"), 0.0));
    assert!(after > 0.8, "{after}");
    assert!(first.learners_done.1 > first.learners_done.0 + 0.8);
    // Asked for a watched shift each, a preceptor who may take none makes it impossible, and the learner is named.
    unit.limits.preceptor_pairings_per_week = 0;
    let Err(PlanError::Infeasible(faults)) = make_plan(&unit.question()) else { panic!("it is infeasible") };
    assert!(faults.iter().any(|fault| fault.to_string().starts_with("L2: found 1 too few watched shifts")));
}

#[test]
fn after_an_absence_what_can_stay_stays() {
    let mut unit = small_unit();
    let old = make_plan(&unit.question()).unwrap();
    unit.absences.push(Absence { person: id("P1"), from: date(2026, 11, 9), to: date(2026, 11, 15) });
    let question =
        PlanQuestion { known: Some(&old.pairings), effort: PairingEffort::again(), ..unit.question() };
    let new = make_plan(&question).unwrap();
    let absent = |one: &&PlannedPairing| {
        one.preceptor == id("P1") && (date(2026, 11, 9)..=date(2026, 11, 15)).contains(&one.shift.on)
    };
    assert_eq!(new.pairings.iter().filter(absent).count(), 0);
    let n_lost = old.pairings.iter().filter(absent).count();
    assert!(n_lost > 0);
    let changes = new.changes.unwrap();
    assert_eq!(changes.n_known, old.pairings.len());
    assert!(changes.n_kept >= changes.n_known - n_lost, "{changes:?}");
    assert!(changes.n_added <= n_lost, "{changes:?}");
    // Planned again with nothing changed, nothing changes.
    unit.absences.clear();
    let question = PlanQuestion { known: Some(&old.pairings), ..unit.question() };
    let again = make_plan(&question).unwrap().changes.unwrap();
    assert_eq!((again.n_kept, again.n_added), (old.pairings.len(), 0));
}

#[test]
fn the_trainer_comes_by_when_the_look_may_count_and_before_checks_are_due() {
    let mut unit = small_unit();
    // Both learners' looks and the check may fall on one shift.
    unit.limits.visits_per_shift = 3;
    unit.checks = vec![
        CheckDue { person: id("P1"), on: date(2026, 11, 10), why: "check 2".to_owned() },
        CheckDue { person: id("P2"), on: date(2027, 3, 1), why: "check 3".to_owned() },
    ];
    let plan = make_plan(&unit.question()).unwrap();
    let of = |who: &str| plan.checks.iter().filter(|check| check.person == id(who)).collect::<Vec<_>>();
    // From a week before it is due: the trainer and P1 meet on 9 November (day 7), and already on the 2nd, too early.
    assert_eq!(of("P1")[0].shift, Some(Shift { on: date(2026, 11, 9), kind: ShiftKind::DAY }));
    assert_eq!(of("P1")[0].trainer, Some(id("T")));
    assert!(of("P2").is_empty(), "not due within the plan");
    // L1's look comes after one draw: on a shift they are planned on, not the first.
    let look = of("L1")[0].shift.unwrap();
    let own: Vec<_> =
        plan.pairings.iter().filter(|one| one.learner == id("L1")).map(|one| one.shift).collect();
    assert!(own.contains(&look) && own[0] < look);
    assert!(unit.roster.works(&id("T"), look));
}

#[test]
fn what_a_roster_lacks_is_named_and_planned_around() {
    let mut unit = small_unit();
    unit.learners[0].by = date(2026, 10, 1);
    let mut duties: Vec<Duty> = unit.roster.duties().cloned().collect();
    duties.push(Duty {
        from: date(2026, 11, 2).at(9, 0, 0, 0),
        to: date(2026, 11, 2).at(20, 0, 0, 0),
        person: id("P1"),
    });
    duties.retain(|duty| duty.from.date() < date(2026, 11, 23));
    unit.roster = Roster::from_duties(duties, ShiftTimes::default());
    let plan = make_plan(&unit.question()).unwrap();
    let told: Vec<String> = plan.faults.iter().map(ToString::to_string).collect();
    #[track_caller]
    fn check(told: &[String], words: &str) {
        assert!(told.iter().any(|fault| fault.contains(words)), "{words}: {told:#?}");
    }
    check(
        &told,
        "P1: found work from 07:00, 2 November 2026 to 19:00, 2 November 2026 and again from 09:00, 2 November 2026",
    );
    check(&told, "nobody on the roster from 23 November 2026 to 29 November 2026");
    check(&told, "L1: found needed by 1 October 2026, which is past");
    let question = PlanQuestion { until: date(2028, 1, 1), ..unit.question() };
    assert!(make_plan(&question).unwrap_err().to_string().contains("at most half a year later"));
    let question = PlanQuestion { until: date(2026, 1, 1), ..unit.question() };
    assert!(make_plan(&question).is_err());
}
