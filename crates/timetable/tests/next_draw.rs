//! Who takes the next draw: shifts made by hand, people invented. The order is common practice, no source; each case
//! says in its name what it holds to.

use std::collections::BTreeMap;

use breakdown::JobCode;
use jiff::civil::{Date, DateTime, date};
use practice::{Due, Level, PersonId, Standing};
use timetable::plan::{Absence, PlannedPairing};
use timetable::*;

const ON: Date = date(2026, 11, 2);

fn id(text: &str) -> PersonId {
    PersonId(text.to_owned())
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
        needed_by: None,
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

#[derive(Default)]
struct Case {
    on_day: Vec<&'static str>,
    standings: Vec<Standing>,
    trainers: Vec<PersonId>,
    absences: Vec<Absence>,
    planned: Vec<PlannedPairing>,
    watched: Vec<WatchedDraw>,
    last_draw: BTreeMap<PersonId, Date>,
    look_from_draw: Option<u16>,
}

impl Case {
    fn roster(&self) -> Roster {
        let times = ShiftTimes::default();
        let shift = Shift { on: ON, kind: ShiftKind::DAY };
        let duty = |who: &&str| Duty { from: shift.start(times), to: shift.end(times), person: id(who) };
        Roster::from_duties(self.on_day.iter().map(duty), times)
    }

    fn at(&self, at: DateTime) -> NextDraw {
        let roster = self.roster();
        next_draw(&NextDrawQuestion {
            at,
            job: &JobCode("vein".to_owned()),
            roster: &roster,
            standings: &self.standings,
            trainers: &self.trainers,
            absences: &self.absences,
            planned: &self.planned,
            watched: &self.watched,
            last_draw: &self.last_draw,
            look_from_draw: self.look_from_draw,
        })
    }

    /// "L with P, R" at ten in the morning.
    fn order(&self) -> String {
        let answer = self.at(ON.at(10, 0, 0, 0));
        let words = |offer: &DrawOffer| match &offer.watches {
            Some(watcher) => format!("{} with {watcher}", offer.draws),
            None => offer.draws.to_string(),
        };
        answer.offers.iter().map(words).collect::<Vec<_>>().join(", ")
    }
}

fn pairing(learner: &str, preceptor: &str, turns: u8) -> PlannedPairing {
    let shift = Shift { on: ON, kind: ShiftKind::DAY };
    PlannedPairing { shift, learner: id(learner), preceptor: id(preceptor), turns, of_turns: 2, draws: 1.0 }
}

fn watched(drawn_by: &str, watched_by: &str, at: DateTime) -> WatchedDraw {
    WatchedDraw { drawn_by: id(drawn_by), watched_by: id(watched_by), at }
}

fn two_and_two() -> Case {
    Case {
        on_day: vec!["L", "M", "P", "Q", "R"],
        standings: vec![
            standing("L", Level::Learning),
            standing("M", Level::Learning),
            standing("P", Level::MayPrecept),
            standing("Q", Level::MayPrecept),
            standing("R", Level::AllPatients),
        ],
        ..Case::default()
    }
}

#[test]
fn a_learner_with_a_preceptor_comes_first_then_those_who_draw_alone() {
    let case = two_and_two();
    assert_eq!(case.order(), "L with P, M with P, P, Q, R");
    assert!(case.at(ON.at(10, 0, 0, 0)).offers[0].must_be_watched);
}

#[test]
fn the_plan_says_who_and_turns_go_round() {
    let mut case = two_and_two();
    case.planned = vec![pairing("M", "Q", 1), pairing("L", "P", 1)];
    assert!(case.order().starts_with("L with P, M with Q"), "{}", case.order());
    case.watched = vec![watched("L", "P", ON.at(8, 0, 0, 0))];
    assert!(case.order().starts_with("M with Q, L with P"), "{}", case.order());
    // With two turns of two, one draw is half of the share and one draw of one turn is all of it.
    case.planned = vec![pairing("M", "Q", 1), pairing("L", "P", 2)];
    case.watched.push(watched("M", "Q", ON.at(9, 0, 0, 0)));
    assert!(case.order().starts_with("L with P"), "{}", case.order());
    // A draw of the night before is not of this shift.
    case.watched = vec![watched("L", "P", ON.at(6, 0, 0, 0))];
    case.planned = vec![pairing("L", "P", 1), pairing("M", "Q", 1)];
    assert!(case.order().starts_with("L with P"), "{}", case.order());
    // A pairing of somebody absent does not count.
    case.absences = vec![Absence { person: id("P"), from: ON, to: ON }];
    assert!(case.order().starts_with("M with Q, L with Q"), "{}", case.order());
}

#[test]
fn without_a_plan_the_nearest_date_goes_first_and_whoever_watched_least_watches() {
    let mut case = two_and_two();
    case.standings[1].needed_by = Some(date(2026, 11, 20));
    case.watched = vec![watched("X", "P", date(2026, 10, 30).at(9, 0, 0, 0))];
    assert!(case.order().starts_with("M with Q"), "{}", case.order());
    let first = &case.at(ON.at(10, 0, 0, 0)).offers[0];
    assert_eq!(first.why, [DrawReason::DateFirst { by: date(2026, 11, 20) }]);
    assert_eq!(first.why_watches, [DrawReason::WatchedLeast { draws: 0 }]);
    // Eight days ago is no load of this week.
    case.watched = vec![watched("X", "P", date(2026, 10, 25).at(9, 0, 0, 0))];
    assert!(case.order().starts_with("M with P"), "{}", case.order());
}

#[test]
fn the_trainer_watches_where_the_rules_own_look_is_due() {
    let mut case = two_and_two();
    case.on_day.push("T");
    case.trainers = vec![id("T")];
    case.look_from_draw = Some(3);
    case.standings[0].draws_counted = 1;
    assert!(case.order().starts_with("M with P") || case.order().starts_with("L with P"), "{}", case.order());
    case.standings[0].draws_counted = 2;
    case.standings[0].needed_by = Some(date(2026, 11, 5));
    assert!(case.order().starts_with("L with T"), "{}", case.order());
    case.standings[0].look_done = true;
    assert!(case.order().starts_with("L with P"), "{}", case.order());
}

#[test]
fn nobody_draws_unwatched_and_nobody_before_they_were_shown() {
    let mut case = two_and_two();
    case.on_day = vec!["L", "R"];
    assert_eq!(case.order(), "R");
    let why = case.at(ON.at(10, 0, 0, 0)).offers[0].why.clone();
    assert_eq!(why[0], DrawReason::NobodyToWatch { learners: 1 });
    case.on_day = vec!["L", "P"];
    case.standings[0].level = Level::Planned;
    let answer = case.at(ON.at(10, 0, 0, 0));
    assert_eq!(answer.offers.len(), 1);
    assert_eq!(answer.to_be_shown_first, [id("L")]);
    // A preceptor who lapsed neither watches nor draws alone.
    case.standings[0].level = Level::Learning;
    case.standings[2].level = Level::Lapsed;
    assert_eq!(case.order(), "");
}

#[test]
fn of_those_released_a_check_due_goes_first_then_the_longest_without_a_draw() {
    let mut case = two_and_two();
    case.on_day = vec!["P", "Q", "R", "O"];
    case.standings.push(standing("O", Level::OwnPatients));
    case.last_draw =
        [("P", 28), ("Q", 20), ("R", 30)].map(|(who, day)| (id(who), date(2026, 10, day))).into();
    assert_eq!(case.order(), "Q, P, R, O");
    let answer = case.at(ON.at(10, 0, 0, 0));
    assert_eq!(answer.offers[0].why[1], DrawReason::LongestWithout { since: Some(date(2026, 10, 20)) });
    assert_eq!(answer.offers[3].why, [DrawReason::OwnPatientsOnly]);
    case.on_day.push("T");
    case.trainers = vec![id("T")];
    case.standings[4].next_check = Some(Due { on: date(2026, 11, 1), why: "one-month check".to_owned() });
    assert_eq!(case.order(), "R with T, Q, P, O");
    case.standings[4].next_check = Some(Due { on: date(2026, 11, 9), why: "one-month check".to_owned() });
    assert_eq!(case.order(), "Q, P, R, O");
}

#[test]
fn where_nobody_may_draw_the_next_who_may_is_named() {
    let mut case = two_and_two();
    let answer = case.at(ON.at(20, 0, 0, 0));
    assert_eq!((answer.n_on_duty, answer.offers.len()), (0, 0));
    assert_eq!(answer.next_released, None);
    let before = case.at(date(2026, 11, 1).at(20, 0, 0, 0));
    assert_eq!(before.next_released, Some((ON.at(7, 0, 0, 0), id("P"))));
    case.absences =
        vec![Absence { person: id("P"), from: ON, to: ON }, Absence { person: id("Q"), from: ON, to: ON }];
    assert_eq!(case.at(date(2026, 11, 1).at(20, 0, 0, 0)).next_released.unwrap().1, id("R"));
}
