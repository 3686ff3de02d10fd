//! Binomial, Poisson and negative binomial counts.

use super::beta::{beta_cdf, beta_sf};
use super::gamma::{gamma_cdf, gamma_sf};
use super::normal::normal_quantile;
use super::saddle::{BinomialFactor, poisson_factor};

/// A cumulative probability this close below the wanted one counts as reaching it, so that a quantile which
/// falls exactly on a step does not hang on the last bit.
const STEP_TOLERANCE: f64 = 64.0 * f64::EPSILON;

/// P(X = k) for X ~ Binomial(n, p).
pub fn binomial_pmf(k: u64, n: u64, p: f64) -> f64 {
    if k > n {
        return 0.0;
    }
    if p <= 0.0 {
        return if k == 0 { 1.0 } else { 0.0 };
    }
    if p >= 1.0 {
        return if k == n { 1.0 } else { 0.0 };
    }
    let n_f = n as f64;
    if k == 0 {
        return libm::exp(n_f * libm::log1p(-p));
    }
    if k == n {
        return libm::exp(n_f * libm::log(p));
    }
    BinomialFactor::new(k as f64, (n - k) as f64).at(p, 1.0 - p)
}

/// P(X ≤ k) for X ~ Binomial(n, p).
pub fn binomial_cdf(k: u64, n: u64, p: f64) -> f64 {
    if k >= n {
        return 1.0;
    }
    beta_sf(k as f64 + 1.0, (n - k) as f64, p)
}

/// P(X > k) for X ~ Binomial(n, p).
pub fn binomial_sf(k: u64, n: u64, p: f64) -> f64 {
    if k >= n {
        return 0.0;
    }
    beta_cdf(k as f64 + 1.0, (n - k) as f64, p)
}

/// The smallest k with P(X ≤ k) ≥ q for X ~ Binomial(n, p); q from 0 to 1.
pub fn binomial_quantile(q: f64, n: u64, p: f64) -> u64 {
    if q <= 0.0 || p <= 0.0 {
        return 0;
    }
    if q >= 1.0 || p >= 1.0 {
        return n;
    }
    let n_f = n as f64;
    let guess = n_f * p + normal_quantile(q) * (n_f * p * (1.0 - p)).sqrt();
    first_reaching(q, guess.clamp(0.0, n_f) as u64, n, |k| binomial_cdf(k, n, p), |k| binomial_sf(k, n, p))
}

/// P(X = k) for X ~ Poisson(mean), mean ≥ 0.
pub fn poisson_pmf(k: u64, mean: f64) -> f64 {
    if mean <= 0.0 {
        return if k == 0 { 1.0 } else { 0.0 };
    }
    if k == 0 { libm::exp(-mean) } else { poisson_factor(k as f64, mean) }
}

/// P(X ≤ k) for X ~ Poisson(mean), mean ≥ 0.
pub fn poisson_cdf(k: u64, mean: f64) -> f64 {
    gamma_sf(k as f64 + 1.0, mean.max(0.0))
}

/// P(X > k) for X ~ Poisson(mean), mean ≥ 0.
pub fn poisson_sf(k: u64, mean: f64) -> f64 {
    gamma_cdf(k as f64 + 1.0, mean.max(0.0))
}

/// The smallest k with P(X ≤ k) ≥ q for X ~ Poisson(mean); 0 ≤ q < 1.
pub fn poisson_quantile(q: f64, mean: f64) -> u64 {
    if q <= 0.0 || mean <= 0.0 {
        return 0;
    }
    let guess = (mean + normal_quantile(q) * mean.sqrt()).max(0.0);
    first_reaching(q, guess as u64, u64::MAX, |k| poisson_cdf(k, mean), |k| poisson_sf(k, mean))
}

/// P(at most k failures before the r-th success), each success with probability p; r > 0 need not be whole.
pub fn negative_binomial_cdf(k: u64, r: f64, p: f64) -> f64 {
    if p >= 1.0 {
        return 1.0;
    }
    if p <= 0.0 {
        return 0.0;
    }
    beta_cdf(r, k as f64 + 1.0, p)
}

/// The smallest k with P(K ≤ k) ≥ q, K the failures before the first success at probability p; 0 ≤ q < 1, p >
/// 0.
pub fn geometric_quantile(q: f64, p: f64) -> u64 {
    if q <= 0.0 || p >= 1.0 {
        return 0;
    }
    // P(K ≤ k) = 1 − (1 − p)^(k + 1).
    let trials = libm::log1p(-q) / libm::log1p(-p);
    libm::ceil(trials * (1.0 - STEP_TOLERANCE) - 1.0).max(0.0) as u64
}

/// The first count whose lower tail reaches q, by doubling steps from a guess and then halving. The tail that
/// is small is the one compared, so quantiles near 1 keep their digits.
fn first_reaching(
    q: f64,
    guess: u64,
    most: u64,
    below: impl Fn(u64) -> f64,
    above: impl Fn(u64) -> f64,
) -> u64 {
    let reached = |k: u64| {
        if q <= 0.5 {
            below(k) >= q * (1.0 - STEP_TOLERANCE)
        } else {
            above(k) <= (1.0 - q) * (1.0 + STEP_TOLERANCE)
        }
    };
    let (mut not_yet, mut yes);
    let mut step = 1;
    if reached(guess) {
        yes = guess;
        loop {
            let Some(lower) = yes.checked_sub(step) else {
                if reached(0) {
                    return 0;
                }
                not_yet = 0;
                break;
            };
            if !reached(lower) {
                not_yet = lower;
                break;
            }
            yes = lower;
            step *= 2;
        }
    } else {
        not_yet = guess;
        loop {
            let upper = not_yet.saturating_add(step).min(most);
            if upper == most || reached(upper) {
                yes = upper;
                break;
            }
            not_yet = upper;
            step *= 2;
        }
    }
    while yes - not_yet > 1 {
        let middle = not_yet + (yes - not_yet) / 2;
        if reached(middle) {
            yes = middle;
        } else {
            not_yet = middle;
        }
    }
    yes
}
