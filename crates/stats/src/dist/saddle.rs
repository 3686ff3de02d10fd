//! The leading factor of binomial and Poisson probabilities without cancelling large numbers.

use std::f64::consts::PI;

/// ½ ln(2π), to double precision.
const HALF_LN_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// Natural logarithm of the gamma function, x > 0.
pub fn ln_gamma(x: f64) -> f64 {
    libm::lgamma(x)
}

/// Natural logarithm of the beta function, a > 0 and b > 0, without the cancellation of three log-gammas.
pub fn ln_beta(a: f64, b: f64) -> f64 {
    let n = a + b;
    // B(a, b) = Γ(a+1) Γ(b+1) / Γ(n+1) × n / (a b), with every Γ in Stirling form; the parts that grow cancel
    // into a ln(a/n) + b ln(b/n).
    stirling_error(a) + stirling_error(b) - stirling_error(n)
        + HALF_LN_TWO_PI
        + 0.5 * libm::log(n / (a * b))
        + a * ln_ratio(a, b)
        + b * ln_ratio(b, a)
}

/// Natural logarithm of the number of ways to choose k of n; k from 0 to n.
pub fn ln_choose(n: f64, k: f64) -> f64 {
    if k == 0.0 || k == n {
        return 0.0;
    }
    -libm::log1p(n) - ln_beta(k + 1.0, n - k + 1.0)
}

/// ln(a / (a + b)), exact also when b is small beside a.
fn ln_ratio(a: f64, b: f64) -> f64 {
    if b < a { -libm::log1p(b / a) } else { libm::log(a / (a + b)) }
}

/// What Stirling's formula leaves out: ln Γ(n+1) − (n + ½) ln n + n − ½ ln 2π, n > 0.
pub(crate) fn stirling_error(n: f64) -> f64 {
    if n < 12.0 {
        return ln_gamma(n + 1.0) - (n + 0.5) * libm::log(n) + n - HALF_LN_TWO_PI;
    }
    // Bernoulli numbers B2k / (2k (2k − 1)): eight terms reach 1e-17 from n = 12 on.
    let inverse_square = 1.0 / (n * n);
    const TERMS: [f64; 8] = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
        1.0 / 156.0,
        -3617.0 / 122_400.0,
    ];
    TERMS.iter().rev().fold(0.0, |sum, term| sum * inverse_square + term) / n
}

/// x ln(x / mean) + mean − x, without cancellation when x is near the mean; x > 0, mean > 0. The difference
/// x − mean is given beside them, because the caller may know it better than by subtracting.
fn deviance(x: f64, mean: f64, difference: f64) -> f64 {
    if difference.abs() < 0.1 * (x + mean) {
        let ratio = difference / (x + mean);
        let mut sum = difference * ratio;
        let square = ratio * ratio;
        let mut power = 2.0 * x * ratio;
        for j in 1..200 {
            power *= square;
            let next = sum + power / f64::from(2 * j + 1);
            if next == sum {
                return sum;
            }
            sum = next;
        }
        return sum;
    }
    x * libm::log(x / mean) + mean - x
}

/// Γ(a+b+1) / (Γ(a+1) Γ(b+1)) x^a y^b for a > 0, b > 0, y = 1 − x: a binomial probability at real counts.
pub(crate) struct BinomialFactor {
    a: f64,
    b: f64,
    n: f64,
    constant: f64,
}

impl BinomialFactor {
    pub(crate) fn new(a: f64, b: f64) -> Self {
        let n = a + b;
        let constant = stirling_error(n) - stirling_error(a) - stirling_error(b)
            + 0.5 * libm::log(n / (2.0 * PI * a) / b);
        Self { a, b, n, constant }
    }

    /// The value at x, with y = 1 − x given beside it so that neither is lost near its end.
    pub(crate) fn at(&self, x: f64, y: f64) -> f64 {
        // a − n x with n = a + b and y = 1 − x: subtracting n x from a large a would lose it.
        let difference = self.a * y - self.b * x;
        let from_a = deviance(self.a, self.n * x, difference);
        let from_b = deviance(self.b, self.n * y, -difference);
        libm::exp(self.constant - from_a - from_b)
    }
}

/// mean^x e^(−mean) / Γ(x+1) for x > 0: a Poisson probability at a real count.
pub(crate) fn poisson_factor(x: f64, mean: f64) -> f64 {
    libm::exp(-stirling_error(x) - deviance(x, mean, x - mean)) / (2.0 * PI * x).sqrt()
}
