//! Pairings against a general solver of whole-number programs, and against what every plan must keep.
//!
//! All people and rosters here are invented, made from numbers that look like chance.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use std::io::Write as _;
use std::process::{Command, Stdio};
use std::time::Instant;

use common::{Wish, as_json, small_units, unit};
use timetable::pairing::*;

fn found(problem: &PairingProblem, effort: &PairingEffort) -> PairingAnswer {
    match best_pairings(problem, effort).unwrap() {
        PairingOutcome::Found(answer) => answer,
        PairingOutcome::Infeasible(short) => panic!("infeasible: {short:?}"),
    }
}

/// Every limit of the problem, written once more from its words.
#[track_caller]
fn check_limits(problem: &PairingProblem, answer: &PairingAnswer) {
    let count =
        |wanted: &dyn Fn(&Pairing) -> bool| answer.pairings.iter().filter(|one| wanted(one)).count() as u32;
    for (place, shift) in problem.shifts.iter().enumerate() {
        let turns: u32 =
            answer.pairings.iter().filter(|one| one.shift == place).map(|one| u32::from(one.turns)).sum();
        assert!(turns <= u32::from(shift.turns), "shift {place}");
    }
    let n_weeks = problem.shifts.iter().map(|shift| shift.week + 1).max().unwrap_or(0);
    for (p, preceptor) in problem.preceptors.iter().enumerate() {
        assert!(count(&|one| one.preceptor == p) <= preceptor.most_in_all);
        for week in 0..n_weeks {
            let in_week = count(&|one| one.preceptor == p && problem.shifts[one.shift].week == week);
            assert!(in_week <= preceptor.most_per_week);
        }
        for shift in 0..problem.shifts.len() {
            let here = count(&|one| one.preceptor == p && one.shift == shift);
            assert!(here <= u32::from(preceptor.shifts.contains(&shift)), "preceptor {p} on {shift}");
        }
    }
    let mut objective = 0.0;
    for (l, learner) in problem.learners.iter().enumerate() {
        assert!(count(&|one| one.learner == l) >= learner.least_pairings);
        for week in 0..n_weeks {
            let in_week = count(&|one| one.learner == l && problem.shifts[one.shift].week == week);
            assert!(in_week <= learner.most_per_week);
        }
        for shift in 0..problem.shifts.len() {
            let here = count(&|one| one.learner == l && one.shift == shift);
            assert!(here <= u32::from(learner.shifts.contains(&shift)), "learner {l} on {shift}");
        }
        let own = answer.pairings.iter().filter(|one| one.learner == l);
        let units: u32 = own.map(|one| u32::from(one.turns) * problem.shifts[one.shift].units_per_turn).sum();
        assert_eq!(units, answer.units[l]);
        objective += learner.done[(units as usize).min(learner.done.len() - 1)];
    }
    if let Some(known) = &problem.known {
        let has = |l: usize, s: usize| answer.pairings.iter().any(|one| (one.learner, one.shift) == (l, s));
        let dropped = known.pairings.iter().filter(|one| !has(one.learner, one.shift)).count();
        let kept = known.pairings.len() - dropped;
        objective -= known.cost_per_change * (dropped + answer.pairings.len() - kept) as f64;
    }
    assert!((objective - answer.objective).abs() < 1e-9, "{objective} and {}", answer.objective);
    assert!(answer.bound >= answer.objective);
}

/// What the reference says about each problem: status, objective, bound, seconds. `None` when it was not given.
fn reference(problems: &[PairingProblem], seconds: u32) -> Option<Vec<(String, f64, f64, f64)>> {
    let Some(python) = std::env::var_os("WARDWRIGHT_PYTHON") else {
        println!(
            "Not run: pairings against OR-Tools CP-SAT. ./test installs it; by hand, set WARDWRIGHT_PYTHON"
        );
        println!("to a Python with tests/reference/requirements.txt installed.");
        return None;
    };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/pairing_cpsat.py");
    let mut child = Command::new(python)
        .arg(script)
        .arg(seconds.to_string())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let lines: Vec<String> = problems.iter().map(as_json).collect();
    let mut stdin = child.stdin.take().unwrap();
    let writer = std::thread::spawn(move || stdin.write_all((lines.join("\n") + "\n").as_bytes()));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    assert!(output.status.success());
    let text = String::from_utf8(output.stdout).unwrap();
    let number = |line: &str, key: &str| -> f64 {
        let Some((_, rest)) = line.split_once(&format!("\"{key}\": ")) else { return f64::NAN };
        rest.split([',', '}']).next().unwrap().parse().unwrap()
    };
    let status = |line: &str| line.split('"').nth(3).unwrap().to_owned();
    Some(
        text.lines()
            .map(|line| {
                (status(line), number(line, "objective"), number(line, "bound"), number(line, "seconds"))
            })
            .collect(),
    )
}

#[test]
fn plans_are_within_one_percent_of_the_proven_optimum() {
    let problems = small_units();
    let outcomes: Vec<_> =
        problems.iter().map(|problem| best_pairings(problem, &PairingEffort::default()).unwrap()).collect();
    for (problem, outcome) in problems.iter().zip(&outcomes) {
        if let PairingOutcome::Found(answer) = outcome {
            check_limits(problem, answer);
        }
    }
    let Some(reference) = reference(&problems, 120) else { return };
    assert_eq!(reference.len(), problems.len());
    let (mut n_infeasible, mut n_equal) = (0, 0);
    for (place, ((status, objective, _, _), outcome)) in reference.iter().zip(&outcomes).enumerate() {
        match outcome {
            PairingOutcome::Infeasible(short) => {
                assert_eq!(status, "infeasible", "{place}: {short:?}");
                n_infeasible += 1;
            }
            PairingOutcome::Found(answer) => {
                assert_eq!(status, "optimal", "{place}");
                // Chances in millionths, two for each learner at most.
                let rounding = 1e-6 * problems[place].learners.len() as f64;
                assert!(answer.objective <= objective + rounding, "{place}: {answer:?} and {objective}");
                assert!(answer.bound >= objective - rounding, "{place}: {} and {objective}", answer.bound);
                let near = objective - 0.01 * objective.abs() - rounding;
                assert!(answer.objective >= near, "{place}: {} and {objective}", answer.objective);
                n_equal += usize::from(answer.objective >= objective - rounding);
            }
        }
    }
    println!(
        "{n_equal} of {} equal to the optimum; {n_infeasible} infeasible",
        problems.len() - n_infeasible
    );
    assert!(n_infeasible >= 3, "{n_infeasible}");
}

#[test]
fn the_bound_of_a_whole_unit_is_within_one_percent() {
    for (seed, draws_per_shift, draws_needed) in [(1, 2.2, 8), (2, 1.2, 8), (3, 0.8, 6), (4, 0.6, 8)] {
        let wish = Wish { draws_per_shift, draws_needed, ..Wish::default() };
        let problem = unit(seed, &wish);
        let from = Instant::now();
        let answer = found(&problem, &PairingEffort::default());
        let seconds = from.elapsed().as_secs_f64();
        println!(
            "{draws_per_shift} draws a shift, {draws_needed} needed: {:.4} of {} done, bound {:.4}, gap {:.2} %, {seconds:.2} s",
            answer.objective,
            problem.learners.len(),
            answer.bound,
            100.0 * (answer.bound - answer.objective) / answer.objective
        );
        check_limits(&problem, &answer);
        assert!(answer.bound - answer.objective <= 0.01 * answer.objective);
    }
}

/// One absence: the plan that is known is kept but for what the absence takes, and what changes is worth its cost.
#[test]
fn after_an_absence_little_changes() {
    let mut problem = unit(1, &Wish { draws_per_shift: 1.6, ..Wish::default() });
    let old = found(&problem, &PairingEffort::default());
    // The preceptor with most pairings is away for the second and third week.
    let load = |p: usize| old.pairings.iter().filter(|one| one.preceptor == p).count();
    let away = (0..problem.preceptors.len()).max_by_key(|p| load(*p)).unwrap();
    let shifts = problem.shifts.clone();
    problem.preceptors[away].shifts.retain(|shift| !(1..3).contains(&shifts[*shift].week));
    let still = |one: &Pairing| one.preceptor != away || problem.preceptors[away].shifts.contains(&one.shift);
    let n_lost = old.pairings.iter().filter(|one| !still(one)).count();
    assert!(n_lost > 2, "{n_lost}");
    let pairings = old
        .pairings
        .iter()
        .map(|one| KnownPairing {
            learner: one.learner,
            shift: one.shift,
            preceptor: still(one).then_some(one.preceptor),
        })
        .collect();
    problem.known = Some(KnownPlan { pairings, cost_per_change: 0.01 });
    let from = Instant::now();
    let new = found(&problem, &PairingEffort::again());
    println!("planned again in {:.2} s", from.elapsed().as_secs_f64());
    check_limits(&problem, &new);
    let has = |plan: &PairingAnswer, one: &Pairing| {
        plan.pairings.iter().any(|other| (other.learner, other.shift) == (one.learner, one.shift))
    };
    let dropped = old.pairings.iter().filter(|one| !has(&new, one)).count();
    let added = new.pairings.iter().filter(|one| !has(&old, one)).count();
    println!(
        "{n_lost} pairings lost their preceptor; {dropped} dropped, {added} added of {}",
        old.pairings.len()
    );
    // At most each lost one is dropped and another takes its place.
    assert!(dropped + added <= 2 * n_lost, "{dropped} and {added} for {n_lost}");
    // Nobody else's preceptor changes where theirs is still there, but to make room.
    let moved = new
        .pairings
        .iter()
        .filter(|one| {
            old.pairings.iter().any(|other| {
                (other.learner, other.shift) == (one.learner, one.shift)
                    && still(other)
                    && other.preceptor != one.preceptor
            })
        })
        .count();
    assert!(moved <= n_lost, "{moved}");
}

#[test]
fn those_who_cannot_have_their_fewest_shifts_are_named() {
    let mut problem = unit(5, &Wish { n_learners: 3, ..Wish::default() });
    problem.learners[1]
        .shifts
        .retain(|shift| !problem.preceptors.iter().any(|one| one.shifts.contains(shift)));
    let outcome = best_pairings(&problem, &PairingEffort::default()).unwrap();
    assert_eq!(outcome, PairingOutcome::Infeasible(vec![(1, 2)]));
    problem.learners[1].least_pairings = 0;
    let answer = found(&problem, &PairingEffort::default());
    assert_eq!(answer.units[1], 0);
}

#[test]
fn what_cannot_be_a_problem_is_refused() {
    let good = unit(6, &Wish { n_learners: 2, n_weeks: 1, ..Wish::default() });
    let refused = |change: &dyn Fn(&mut PairingProblem)| {
        let mut problem = good.clone();
        change(&mut problem);
        best_pairings(&problem, &PairingEffort::default()).unwrap_err().to_string()
    };
    assert!(refused(&|one| one.learners[0].shifts.push(99)).contains("learner 0 names shift 99"));
    assert!(refused(&|one| one.preceptors[1].shifts.push(99)).contains("preceptor 1"));
    assert!(refused(&|one| one.shifts[3].turns = 0).contains("shift 3 has 0 turns"));
    assert!(refused(&|one| one.learners[1].done = vec![0.5, 0.4]).contains("learner 1"));
    assert!(refused(&|one| one.learners[1].done = vec![f64::NAN]).contains("learner 1"));
    assert!(refused(&|one| one.learners[1].done.clear()).contains("learner 1"));
    let known = KnownPlan { pairings: Vec::new(), cost_per_change: f64::INFINITY };
    assert!(refused(&|one| one.known = Some(known.clone())).contains("a change costs inf"));
    let empty = PairingProblem { shifts: vec![], learners: vec![], preceptors: vec![], known: None };
    let answer = found(&empty, &PairingEffort::default());
    assert!(answer.objective == 0.0 && answer.bound < 1e-8, "{answer:?}");
}
