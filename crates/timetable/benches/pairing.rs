//! How long a plan takes: one unit of 12 learners and 10 preceptors over six weeks of three shifts, easy and hard, planned
//! again after an absence, and 40 such units on two cores. Each run checks that the plan is within one percent of the
//! bound.

#[path = "../tests/common/mod.rs"]
mod common;

use common::{Wish, unit};
use timetable::pairing::*;

fn main() {
    divan::main();
}

fn plan(problem: &PairingProblem, effort: &PairingEffort) -> PairingAnswer {
    match best_pairings(problem, effort) {
        Ok(PairingOutcome::Found(answer)) => answer,
        other => panic!("a plan was expected: {other:?}"),
    }
}

/// Draws offered on a shift: plenty, scarce, and so scarce that a third of the learners can be done.
#[divan::bench(args = [2.2, 1.2, 0.6], sample_count = 3, sample_size = 1)]
fn one_unit(bencher: divan::Bencher<'_, '_>, draws_per_shift: f64) {
    let problem = unit(4, &Wish { draws_per_shift, ..Wish::default() });
    bencher.bench_local(|| {
        let answer = plan(&problem, &PairingEffort::default());
        assert!(answer.bound - answer.objective <= 0.01 * answer.objective);
        answer
    });
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn again_after_an_absence(bencher: divan::Bencher<'_, '_>) {
    let mut problem = unit(1, &Wish { draws_per_shift: 1.6, ..Wish::default() });
    let old = plan(&problem, &PairingEffort::default());
    problem.preceptors[0].shifts.retain(|shift| *shift >= 42);
    let pairings = old
        .pairings
        .iter()
        .map(|one| {
            let here = problem.preceptors[one.preceptor].shifts.contains(&one.shift);
            KnownPairing { learner: one.learner, shift: one.shift, preceptor: here.then_some(one.preceptor) }
        })
        .collect();
    problem.known = Some(KnownPlan { pairings, cost_per_change: 0.01 });
    bencher.bench_local(|| {
        let new = plan(&problem, &PairingEffort::again());
        assert!(new.objective > old.objective - 0.5);
        new
    });
}

#[divan::bench(sample_count = 1, sample_size = 1)]
fn forty_units_on_two_cores(bencher: divan::Bencher<'_, '_>) {
    let problems: Vec<PairingProblem> = (0..40)
        .map(|seed| {
            unit(seed, &Wish { draws_per_shift: [2.2, 1.6, 1.2][seed as usize % 3], ..Wish::default() })
        })
        .collect();
    bencher.bench_local(|| {
        std::thread::scope(|scope| {
            for half in problems.chunks(20) {
                scope.spawn(move || {
                    for problem in half {
                        let answer = plan(problem, &PairingEffort::default());
                        assert!(answer.bound >= answer.objective);
                    }
                });
            }
        });
    });
}
