//! Invented units, made from a seed.

#![allow(dead_code, reason = "tests, bench and example each use a part")]

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use timetable::pairing::*;

/// What kind of unit is wanted.
#[derive(Debug, Clone)]
pub struct Wish {
    pub n_learners: usize,
    pub n_preceptors: usize,
    pub n_weeks: usize,
    /// Shifts a person works in a week.
    pub shifts_per_week: usize,
    /// Expected draws offered to learners on one shift.
    pub draws_per_shift: f64,
    pub draws_needed: usize,
    pub least_pairings: u32,
    /// Pairings of a preceptor in a week.
    pub most_per_week: u32,
    /// Whether there is an old plan to keep to.
    pub known: bool,
}

impl Default for Wish {
    /// Twelve learners and ten preceptors over six weeks of three shifts.
    fn default() -> Self {
        Wish {
            n_learners: 12,
            n_preceptors: 10,
            n_weeks: 6,
            shifts_per_week: 5,
            draws_per_shift: 1.2,
            draws_needed: 8,
            least_pairings: 2,
            most_per_week: 3,
            known: false,
        }
    }
}

/// Units of one draw.
const PER_DRAW: f64 = 40.0;

/// Three shifts a day, everybody on one shift a day at most, nights with fewer draws.
pub fn unit(seed: u64, wish: &Wish) -> PairingProblem {
    let mut dice = ChaCha8Rng::seed_from_u64(seed);
    let shifts: Vec<PairingShift> = (0..wish.n_weeks * 21)
        .map(|place| {
            let busy = [1.4, 1.0, 0.6][place % 3] * dice.random_range(0.8..1.2);
            let units = (wish.draws_per_shift * busy * PER_DRAW / 2.0).round();
            PairingShift { week: place / 21, turns: 2, units_per_turn: (units as u32).max(1) }
        })
        .collect();
    let mut roster = |n_per_week: usize| -> Vec<usize> {
        let mut own = Vec::new();
        for week in 0..wish.n_weeks {
            let kind = dice.random_range(0..3);
            let mut days: Vec<usize> = (0..7).collect();
            for _ in 0..n_per_week.min(7) {
                let day = days.remove(dice.random_range(0..days.len()));
                own.push((week * 7 + day) * 3 + kind);
            }
        }
        own.sort_unstable();
        own
    };
    let learners: Vec<PairingLearner> = (0..wish.n_learners)
        .map(|place| {
            let needed = wish.draws_needed + place % 3;
            PairingLearner {
                shifts: roster(wish.shifts_per_week),
                done: poisson_at_least(needed, PER_DRAW),
                least_pairings: wish.least_pairings,
                most_per_week: 4,
            }
        })
        .collect();
    let preceptors: Vec<PairingPreceptor> = (0..wish.n_preceptors)
        .map(|_| PairingPreceptor {
            shifts: roster(wish.shifts_per_week),
            most_per_week: wish.most_per_week,
            most_in_all: wish.most_per_week * wish.n_weeks as u32 - 1,
        })
        .collect();
    let known = wish.known.then(|| {
        let mut pairings = Vec::new();
        for (learner, one) in learners.iter().enumerate() {
            for shift in one.shifts.iter().step_by(2) {
                let preceptor = preceptors.iter().position(|preceptor| preceptor.shifts.contains(shift));
                pairings.push(KnownPairing { learner, shift: *shift, preceptor });
            }
        }
        KnownPlan { pairings, cost_per_change: 0.01 }
    });
    PairingProblem { shifts, learners, preceptors, known }
}

/// P(Poisson(u / per_draw) >= n) for u from 0 on, until next to nothing is missing. Summed from the terms.
pub fn poisson_at_least(n: usize, per_draw: f64) -> Vec<f64> {
    let mut chances: Vec<f64> = Vec::new();
    loop {
        let mean = chances.len() as f64 / per_draw;
        let mut term = libm::exp(-mean);
        let mut below = 0.0;
        for k in 0..n {
            below += term;
            term *= mean / (k as f64 + 1.0);
        }
        let last = chances.last().copied().unwrap_or(0.0);
        chances.push((1.0 - below).clamp(last, 1.0));
        if below < 1e-4 {
            return chances;
        }
    }
}

/// The problem as the reference script reads it.
pub fn as_json(problem: &PairingProblem) -> String {
    let list = |of: &[usize]| format!("{of:?}");
    let shifts: Vec<String> = problem
        .shifts
        .iter()
        .map(|one| format!(r#"{{"week":{},"turns":{},"units":{}}}"#, one.week, one.turns, one.units_per_turn))
        .collect();
    let learners: Vec<String> = problem
        .learners
        .iter()
        .map(|one| {
            format!(
                r#"{{"shifts":{},"done":{:?},"least":{},"week":{}}}"#,
                list(&one.shifts),
                one.done,
                one.least_pairings,
                one.most_per_week
            )
        })
        .collect();
    let preceptors: Vec<String> = problem
        .preceptors
        .iter()
        .map(|one| {
            let shifts = list(&one.shifts);
            format!(r#"{{"shifts":{shifts},"week":{},"all":{}}}"#, one.most_per_week, one.most_in_all)
        })
        .collect();
    let (known, cost) = problem.known.as_ref().map_or((Vec::new(), 0.0), |known| {
        (known.pairings.iter().map(|one| [one.learner, one.shift]).collect(), known.cost_per_change)
    });
    format!(
        r#"{{"shifts":[{}],"learners":[{}],"preceptors":[{}],"known":{known:?},"cost":{cost}}}"#,
        shifts.join(","),
        learners.join(","),
        preceptors.join(",")
    )
}

/// Small units of every kind of shortage: learners, preceptors, draws, weeks, changes to an old plan, and some where no
/// plan keeps the limits.
pub fn small_units() -> Vec<PairingProblem> {
    (0..40)
        .map(|seed| {
            let wish = Wish {
                n_learners: 2 + seed as usize % 4,
                n_preceptors: 1 + seed as usize % 3,
                n_weeks: 1 + seed as usize % 3,
                shifts_per_week: 3 + seed as usize % 3,
                draws_per_shift: [0.5, 1.0, 1.6][seed as usize % 3],
                draws_needed: 2 + seed as usize % 5,
                least_pairings: if seed % 5 == 4 { 2 + seed as u32 % 3 } else { 0 },
                most_per_week: 2 + seed as u32 % 3,
                known: seed % 4 == 3,
            };
            unit(seed, &wish)
        })
        .collect()
}
