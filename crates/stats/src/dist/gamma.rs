//! The gamma distribution with scale 1, and chi-squared through it.

use super::normal::normal_quantile;
use super::saddle::poisson_factor;

/// P(X ≤ x) for X ~ Gamma(shape, scale 1); shape > 0, x ≥ 0.
pub fn gamma_cdf(shape: f64, x: f64) -> f64 {
    tails(shape, x).0
}

/// P(X > x) for X ~ Gamma(shape, scale 1); shape > 0, x ≥ 0.
pub fn gamma_sf(shape: f64, x: f64) -> f64 {
    tails(shape, x).1
}

/// The x with P(X ≤ x) = p for X ~ Gamma(shape, scale 1); 0 ≤ p < 1.
pub fn gamma_quantile(shape: f64, p: f64) -> f64 {
    debug_assert!((0.0..1.0).contains(&p), "{p}");
    if p <= 0.0 { 0.0 } else { solve(shape, p, 1.0 - p) }
}

/// The x with P(X > x) = q for X ~ Gamma(shape, scale 1); 0 < q ≤ 1. A small q keeps its digits.
pub fn gamma_upper_quantile(shape: f64, q: f64) -> f64 {
    debug_assert!(0.0 < q && q <= 1.0, "{q}");
    if q >= 1.0 { 0.0 } else { solve(shape, 1.0 - q, q) }
}

/// P(X > x) for chi-squared with `df` degrees of freedom (above 0), x ≥ 0.
pub fn chi_squared_sf(x: f64, df: f64) -> f64 {
    gamma_sf(0.5 * df, 0.5 * x)
}

/// The x with P(X ≤ x) = p for chi-squared with `df` degrees of freedom (above 0), 0 ≤ p < 1.
pub fn chi_squared_quantile(p: f64, df: f64) -> f64 {
    2.0 * gamma_quantile(0.5 * df, p)
}

/// The areas below and above x. The smaller is worked, so both keep their digits.
fn tails(shape: f64, x: f64) -> (f64, f64) {
    debug_assert!(shape > 0.0 && x >= 0.0, "Gamma({shape}) at {x}");
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    tails_with(shape, x, poisson_factor(shape, x))
}

/// `factor` is x^shape e^(−x) / Γ(shape + 1).
fn tails_with(shape: f64, x: f64, factor: f64) -> (f64, f64) {
    if x < shape + 1.0 {
        let below = (factor * series(shape, x)).min(1.0);
        (below, 1.0 - below)
    } else {
        let above = (factor * shape * continued_fraction(shape, x)).min(1.0);
        (1.0 - above, above)
    }
}

/// 1 + x/(a+1) + x²/((a+1)(a+2)) + … (Abramowitz and Stegun 6.5.29).
fn series(shape: f64, x: f64) -> f64 {
    let (mut term, mut sum, mut next) = (1.0, 1.0, shape);
    while term > sum * 1e-17 {
        next += 1.0;
        term *= x / next;
        sum += term;
    }
    sum
}

/// The continued fraction of the upper tail (Abramowitz and Stegun 6.5.31) by the modified Lentz method.
fn continued_fraction(shape: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |value: f64| if value.abs() < TINY { TINY } else { value };
    let most = 1000.0 + 50.0 * shape.sqrt();
    let mut b = x + 1.0 - shape;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / guard(b);
    let mut value = d;
    let mut i = 1.0;
    while i < most {
        let a = -i * (i - shape);
        b += 2.0;
        d = 1.0 / guard(a * d + b);
        c = guard(b + a / c);
        let change = d * c;
        value *= change;
        if (change - 1.0).abs() < 1e-16 {
            break;
        }
        i += 1.0;
    }
    value
}

/// Halley's method inside a shrinking bracket, from the Wilson-Hilferty guess.
fn solve(shape: f64, p: f64, q: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, f64::INFINITY);
    let mut x = guess(shape, p, q);
    for _ in 0..500 {
        let factor = poisson_factor(shape, x);
        let (below, above) = tails_with(shape, x, factor);
        let error = if p <= q { below - p } else { q - above };
        if error == 0.0 {
            return x;
        }
        if error < 0.0 {
            low = x;
        } else {
            high = x;
        }
        // The density is factor × shape / x.
        let newton = error / (factor * shape) * x;
        let bend = (shape - 1.0) / x - 1.0;
        let step = newton / (1.0 - 0.5 * (newton * bend).clamp(-1.0, 1.0));
        let mut next = x - step;
        let inside = low < next && next < high;
        if !inside {
            next = if high.is_infinite() {
                2.0 * x
            } else if low == 0.0 {
                high * 1e-2
            } else {
                0.5 * (low + high)
            };
        }
        let moved = (next - x).abs();
        x = next;
        // Halley triples the digits: after an error this small in the area the step leaves nothing to do.
        if moved <= 1e-16 * x || (error.abs() <= 3e-6 * p.min(q) && inside) {
            return x;
        }
    }
    x
}

fn guess(shape: f64, p: f64, q: f64) -> f64 {
    let z = if p <= q { normal_quantile(p) } else { -normal_quantile(q) };
    let ninth = 1.0 / (9.0 * shape);
    let cube = 1.0 - ninth + z * ninth.sqrt();
    let wilson_hilferty = shape * cube * cube * cube;
    if shape > 1.0 && cube > 0.1 {
        return wilson_hilferty;
    }
    // The lower tail behaves as x^shape / Γ(shape + 1).
    let power = libm::exp((libm::log(p) + libm::lgamma(shape + 1.0)) / shape);
    if power < 0.5 * shape || cube <= 0.1 { power.max(1e-300) } else { wilson_hilferty.max(1e-300) }
}
