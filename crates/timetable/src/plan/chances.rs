use stats::arrivals::{GammaRate, chance_of_at_least_across};
use stats::{Probability, StatsError};

/// The chances of a rule that only counts: 0 up to the draws needed, 1 from there.
pub fn met_after_draws(n: u16) -> Vec<f64> {
    let mut met = vec![0.0; usize::from(n)];
    met.push(1.0);
    met
}

/// Chance of being done after a random number of draws, each rate with its exposure in shifts.
///
/// # Formula
/// met(0) + sum over n ≥ 1 of (met(n) − met(n − 1)) P(N ≥ n), N the draws
/// (`stats::arrivals::chance_of_at_least_across`).
/// # Range
/// `met_after` within 0 to 1, never falling, not empty; its last value holds for every larger number.
/// # Ends
/// No exposure: met(0).
/// # Source
/// Summation by parts of the mean of met(N).
/// # Check
/// Simulation of 100,000 periods.
pub fn outcome_chance(met_after: &[f64], parts: &[(GammaRate, f64)]) -> Result<Probability, StatsError> {
    let mut chance = met_after.first().copied().unwrap_or(0.0);
    for (n, pair) in (1u64..).zip(met_after.windows(2)) {
        let rise = pair[1] - pair[0];
        if rise > 0.0 {
            chance += rise * chance_of_at_least_across(parts, n)?.get();
        }
    }
    Probability::new(chance.clamp(0.0, 1.0))
}

/// The chance of being done by units of expected draws, `per_draw` units to a draw: draws are Poisson with a gamma rate
/// of the given shape. Ends at `most` units or where next to nothing is missing.
pub(super) fn chance_by_units(met_after: &[f64], shape: f64, per_draw: f64, most: usize) -> Vec<f64> {
    let last = met_after.last().copied().unwrap_or(0.0);
    let mut chances: Vec<f64> = Vec::with_capacity(most.min(4_096) + 1);
    for units in 0..=most {
        let mean = units as f64 / per_draw;
        // Negative binomial from the term at nought; each next by its ratio.
        let mut term = libm::exp(-shape * libm::log1p(mean / shape));
        let share = mean / (mean + shape);
        let mut missing = 0.0;
        for (n, met) in met_after.iter().enumerate() {
            missing += term * (last - met);
            term *= (shape + n as f64) / (n as f64 + 1.0) * share;
        }
        let before = chances.last().copied().unwrap_or(0.0);
        chances.push((last - missing).clamp(before, 1.0));
        if missing < 1e-6 {
            break;
        }
    }
    chances
}
