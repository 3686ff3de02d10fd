//! The beta distribution, and Student's t through it.

use super::saddle::BinomialFactor;

/// P(X ≤ x) for X ~ Beta(a, b); a > 0, b > 0, x from 0 to 1.
pub fn beta_cdf(a: f64, b: f64, x: f64) -> f64 {
    Beta::new(a, b).tails(x, 1.0 - x).0
}

/// P(X > x) for X ~ Beta(a, b); a > 0, b > 0, x from 0 to 1.
pub fn beta_sf(a: f64, b: f64, x: f64) -> f64 {
    Beta::new(a, b).tails(x, 1.0 - x).1
}

/// The x with P(X ≤ x) = p for X ~ Beta(a, b); p from 0 to 1.
pub fn beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    debug_assert!((0.0..=1.0).contains(&p), "{p}");
    if p <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return 1.0;
    }
    Beta::new(a, b).solve(p, 1.0 - p)
}

/// The x with P(X > x) = q for X ~ Beta(a, b); q from 0 to 1. A small q keeps its digits.
pub fn beta_upper_quantile(a: f64, b: f64, q: f64) -> f64 {
    debug_assert!((0.0..=1.0).contains(&q), "{q}");
    if q <= 0.0 {
        return 1.0;
    }
    if q >= 1.0 {
        return 0.0;
    }
    Beta::new(a, b).solve(1.0 - q, q)
}

/// P(|T| > t) for Student's t with `df` degrees of freedom (above 0), t ≥ 0.
pub fn student_t_two_sided(t: f64, df: f64) -> f64 {
    let square = t * t;
    let beta = Beta::new(0.5 * df, 0.5);
    beta.tails(df / (df + square), square / (df + square)).0
}

/// The t with P(T ≤ t) = p for Student's t with `df` degrees of freedom (above 0), 0 < p < 1.
pub fn student_t_quantile(p: f64, df: f64) -> f64 {
    debug_assert!(0.0 < p && p < 1.0, "{p}");
    if p == 0.5 {
        return 0.0;
    }
    let tail = p.min(1.0 - p);
    // In the middle the other tail is the small one; solving for it keeps t near 0 exact.
    let t = if tail < 0.25 {
        let x = Beta::new(0.5 * df, 0.5).solve(2.0 * tail, 1.0 - 2.0 * tail);
        (df * (1.0 - x) / x).sqrt()
    } else {
        let y = Beta::new(0.5, 0.5 * df).solve(1.0 - 2.0 * tail, 2.0 * tail);
        (df * y / (1.0 - y)).sqrt()
    };
    if p < 0.5 { -t } else { t }
}

/// A beta distribution with what does not depend on x worked out once.
struct Beta {
    a: f64,
    b: f64,
    factor: BinomialFactor,
}

impl Beta {
    fn new(a: f64, b: f64) -> Self {
        debug_assert!(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite(), "Beta({a}, {b})");
        Self { a, b, factor: BinomialFactor::new(a, b) }
    }

    /// x^a y^b / B(a, b).
    fn leading(&self, x: f64, y: f64) -> f64 {
        self.a * self.b / (self.a + self.b) * self.factor.at(x, y)
    }

    /// The areas below and above x, with y = 1 − x. The smaller is worked, so both keep their digits.
    fn tails(&self, x: f64, y: f64) -> (f64, f64) {
        if x <= 0.0 {
            return (0.0, 1.0);
        }
        if y <= 0.0 {
            return (1.0, 0.0);
        }
        self.tails_with(x, y, self.leading(x, y), f64::EPSILON)
    }

    /// `tolerance` is how far, relatively, the last term may still move the smaller area.
    fn tails_with(&self, x: f64, y: f64, leading: f64, tolerance: f64) -> (f64, f64) {
        let (a, b) = (self.a, self.b);
        if x < (a + 1.0) / (a + b + 2.0) {
            let below = (leading / continued_fraction(a, b, x, y, tolerance)).min(1.0);
            (below, 1.0 - below)
        } else {
            let above = (leading / continued_fraction(b, a, y, x, tolerance)).min(1.0);
            (1.0 - above, above)
        }
    }

    /// The x with area `p` below and `q` = 1 − p above: Halley's method held inside a shrinking bracket.
    fn solve(&self, p: f64, q: f64) -> f64 {
        let (mut low, mut high) = (0.0_f64, 1.0_f64);
        let mut x = self.guess(p, q);
        // The step from the guess is not the last, so half the terms will do; too rough to set the bracket by.
        let nearer = x - self.step(x, p, q, 1e-6).1;
        if low < nearer && nearer < high {
            x = nearer;
        }
        for _ in 0..200 {
            let (error, step) = self.step(x, p, q, f64::EPSILON);
            if error == 0.0 {
                return x;
            }
            if error < 0.0 {
                low = x;
            } else {
                high = x;
            }
            let mut next = x - step;
            let inside = low < next && next < high;
            if !inside {
                // Far down the lower tail halving the exponent is quicker than halving the number.
                next = if low == 0.0 && high < 1e-3 { high * 1e-2 } else { 0.5 * (low + high) };
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

    /// How far the area below `x` is above `p`, and the step of Halley's method that takes away from `x` for it.
    fn step(&self, x: f64, p: f64, q: f64, tolerance: f64) -> (f64, f64) {
        let y = 1.0 - x;
        let leading = self.leading(x, y);
        let (below, above) = self.tails_with(x, y, leading, tolerance);
        // The smaller tail decides, relative to what is wanted of it.
        let error = if p <= q { below - p } else { q - above };
        let newton = error / leading * (x * y);
        let bend = (self.a - 1.0) / x - (self.b - 1.0) / y;
        (error, newton / (1.0 - 0.5 * (newton * bend).clamp(-1.0, 1.0)))
    }

    /// A first guess: Abramowitz and Stegun 26.5.22 where both shapes exceed 1, the leading power otherwise.
    fn guess(&self, p: f64, q: f64) -> f64 {
        let (a, b) = (self.a, self.b);
        let guess = if a > 1.0 && b > 1.0 {
            let z = quick_upper_z(p, q);
            let lambda = (z * z - 3.0) / 6.0;
            let (ra, rb) = (1.0 / (2.0 * a - 1.0), 1.0 / (2.0 * b - 1.0));
            let h = 2.0 / (ra + rb);
            let w = z * (h + lambda).max(0.0).sqrt() / h - (rb - ra) * (lambda + 5.0 / 6.0 - 2.0 / (3.0 * h));
            a / (a + b * libm::exp(2.0 * w))
        } else {
            let ln_beta = super::ln_beta(a, b);
            let from_below = libm::exp((libm::log(p * a) + ln_beta) / a);
            let from_above = libm::exp((libm::log(q * b) + ln_beta) / b);
            if from_below < from_above { from_below } else { 1.0 - from_above }
        };
        guess.clamp(1e-300, 1.0 - 1e-16)
    }
}

/// The z with area q above it, to about 4.5e-4: Abramowitz and Stegun 26.2.23. Enough for a first guess.
fn quick_upper_z(p: f64, q: f64) -> f64 {
    let tail = p.min(q);
    let t = (-2.0 * libm::log(tail)).sqrt();
    let z = t
        - (2.515_517 + t * (0.802_853 + t * 0.010_328))
            / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
    // Positive when the wanted area lies below the middle.
    if p < q { z } else { -z }
}

/// The continued fraction of the incomplete beta function (Didonato and Morris 1992, ACM Trans Math Softw
/// 18:360, equation 9): I_x(a, b) = x^a y^b / B(a, b) divided by it. It needs about √max(a, b) terms, and
/// nothing cancels near x = 1 because y = 1 − x is given beside x.
///
/// Numerators and denominators are carried forward apart (Wallis): one division a term, and it is not waited
/// for.
fn continued_fraction(a: f64, b: f64, x: f64, y: f64, tolerance: f64) -> f64 {
    const LARGE: f64 = 1e150;
    let most = 1000.0 + 50.0 * a.max(b).sqrt();
    let start = a * y - b * x + 1.0;
    let mut inverse = 1.0 / (a + 1.0);
    let (mut top_before, mut top) = (1.0, a * start * inverse);
    let (mut bottom_before, mut bottom) = (0.0, 1.0);
    let mut m = 1.0;
    while m < most {
        // `inverse` is 1/(a + 2m − 1) here, and 1/(a + 2m + 1) for the next term.
        let fall = m * (b - m) * x * inverse;
        let numerator = (a + m - 1.0) * (a + b + m - 1.0) * x * inverse * fall;
        inverse = 1.0 / (a + 2.0 * m + 1.0);
        let denominator = m + fall + (a + m) * (start + m * (1.0 + y)) * inverse;
        (top_before, top) = (top, denominator * top + numerator * top_before);
        (bottom_before, bottom) = (bottom, denominator * bottom + numerator * bottom_before);
        // The last two ratios agree: cross-multiplied, so that no division is spent on it.
        let (cross, back) = (top * bottom_before, top_before * bottom);
        if (cross - back).abs() <= tolerance * cross.abs() {
            break;
        }
        if bottom.abs() > LARGE || top.abs() > LARGE {
            top /= LARGE;
            top_before /= LARGE;
            bottom /= LARGE;
            bottom_before /= LARGE;
        }
        m += 1.0;
    }
    top / bottom
}
