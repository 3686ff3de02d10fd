//! Plans of invented units for a peer to be measured beside (benches/pairing.py): one JSON object a line, with the
//! problem, the plan, its objective and bound, and the seconds it took.
//!
//! `small` gives the 40 small units of the tests, `whole` units of 12 learners, 10 preceptors and six weeks of three shifts,
//! `again` such units planned again after an absence, `hospital` 40 such units planned on two threads.

#[path = "../tests/common/mod.rs"]
mod common;

use std::time::Instant;

use common::{Wish, as_json, unit};
use timetable::pairing::{
    KnownPairing, KnownPlan, PairingAnswer, PairingEffort, PairingError, PairingOutcome, PairingProblem,
    best_pairings,
};

/// Draws offered on a shift, from plenty to so few that a third of the learners can be done.
const DRAWS_PER_SHIFT: [f64; 5] = [2.2, 1.6, 1.2, 0.9, 0.6];

fn whole(seed: u64, draws_per_shift: f64) -> PairingProblem {
    unit(seed, &Wish { draws_per_shift, ..Wish::default() })
}

/// A unit with the plan it had, and its busiest preceptor away for the second and third week.
fn after_an_absence(seed: u64, draws_per_shift: f64) -> Result<Option<PairingProblem>, PairingError> {
    let mut problem = whole(seed, draws_per_shift);
    let PairingOutcome::Found(old) = best_pairings(&problem, &PairingEffort::default())? else {
        return Ok(None);
    };
    let PairingAnswer { pairings, .. } = old;
    let load = |p: usize| pairings.iter().filter(|one| one.preceptor == p).count();
    let away = (0..problem.preceptors.len()).max_by_key(|p| load(*p)).unwrap_or_default();
    let shifts = problem.shifts.clone();
    problem.preceptors[away].shifts.retain(|shift| !(1..3).contains(&shifts[*shift].week));
    let pairings = pairings
        .iter()
        .map(|one| {
            let here = problem.preceptors[one.preceptor].shifts.contains(&one.shift);
            KnownPairing { learner: one.learner, shift: one.shift, preceptor: here.then_some(one.preceptor) }
        })
        .collect();
    problem.known = Some(KnownPlan { pairings, cost_per_change: 0.01 });
    Ok(Some(problem))
}

fn line(problem: &PairingProblem, effort: &PairingEffort) -> Result<String, PairingError> {
    let began = Instant::now();
    let outcome = best_pairings(problem, effort)?;
    let seconds = began.elapsed().as_secs_f64();
    let answer = match outcome {
        PairingOutcome::Infeasible(_) => r#""status":"infeasible""#.to_owned(),
        PairingOutcome::Found(answer) => {
            let pairings: Vec<String> = answer
                .pairings
                .iter()
                .map(|one| format!("[{},{},{},{}]", one.learner, one.shift, one.preceptor, one.turns))
                .collect();
            format!(
                r#""status":"found","objective":{},"bound":{},"pairings":[{}]"#,
                answer.objective,
                answer.bound,
                pairings.join(",")
            )
        }
    };
    Ok(format!(r#"{{"problem":{},"seconds":{seconds},{answer}}}"#, as_json(problem)))
}

fn lines(problems: &[PairingProblem], effort: &PairingEffort) -> Result<Vec<String>, PairingError> {
    problems.iter().map(|problem| line(problem, effort)).collect()
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let kind = std::env::args().nth(1).unwrap_or_default();
    let made = || DRAWS_PER_SHIFT.into_iter().zip(1..);
    let first = PairingEffort::default();
    let lines = match kind.as_str() {
        "small" => lines(&common::small_units(), &first)?,
        "whole" => lines(&made().map(|(draws, seed)| whole(seed, draws)).collect::<Vec<_>>(), &first)?,
        "again" => {
            let problems = made().map(|(draws, seed)| after_an_absence(seed, draws));
            let problems = problems.collect::<Result<Vec<_>, _>>()?;
            lines(&problems.into_iter().flatten().collect::<Vec<_>>(), &PairingEffort::again())?
        }
        "hospital" => {
            let draws = |seed: u64| DRAWS_PER_SHIFT[usize::try_from(seed % 3).unwrap_or_default()];
            let problems: Vec<PairingProblem> = (0..40).map(|seed| whole(seed, draws(seed))).collect();
            let began = Instant::now();
            let halves = std::thread::scope(|scope| {
                let halves: Vec<_> =
                    problems.chunks(20).map(|half| scope.spawn(|| lines(half, &first))).collect();
                halves.into_iter().map(|half| half.join()).collect::<Vec<_>>()
            });
            eprintln!("40 units on two threads: {:.1} s", began.elapsed().as_secs_f64());
            let mut all = Vec::new();
            for half in halves {
                all.extend(half.map_err(|_| "a thread ended early")??);
            }
            all
        }
        _ => return Err("expected: small, whole, again or hospital".into()),
    };
    for line in lines {
        println!("{line}");
    }
    Ok(())
}
