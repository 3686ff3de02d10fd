//! Plans of invented units for a peer to be measured beside (benches/pairing.py): one JSON object a line, with the
//! problem, the plan, its objective and bound, and the seconds it took.
//!
//! `pairing_plans small` gives the 40 small units of the tests, `pairing_plans whole` units of 12 learners, 10 preceptors and
//! six weeks of three shifts.

#[path = "../tests/common/mod.rs"]
mod common;

use std::time::Instant;

use common::{Wish, as_json, unit};
use timetable::pairing::{PairingEffort, PairingOutcome, PairingProblem, best_pairings};

fn problems(kind: &str) -> Option<Vec<PairingProblem>> {
    match kind {
        "small" => Some(common::small_units()),
        "whole" => Some(
            [2.2, 1.6, 1.2, 0.9, 0.6]
                .into_iter()
                .zip(1..)
                .map(|(draws_per_shift, seed)| unit(seed, &Wish { draws_per_shift, ..Wish::default() }))
                .collect(),
        ),
        _ => None,
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let kind = std::env::args().nth(1).unwrap_or_default();
    let problems = problems(&kind).ok_or("expected: small or whole")?;
    for problem in &problems {
        let began = Instant::now();
        let outcome = best_pairings(problem, &PairingEffort::default())?;
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
        println!(r#"{{"problem":{},"seconds":{seconds},{answer}}}"#, as_json(problem));
    }
    Ok(())
}
