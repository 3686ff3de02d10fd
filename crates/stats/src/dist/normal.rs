//! The normal distribution.

use std::f64::consts::{PI, SQRT_2};

use statrs::distribution::{ContinuousCDF, Normal};

use crate::value::ConfidenceLevel;

/// P(Z ≤ z).
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / SQRT_2)
}

/// P(Z > z), good to full relative precision far into the tail.
pub fn normal_sf(z: f64) -> f64 {
    0.5 * libm::erfc(z / SQRT_2)
}

/// The z with P(Z ≤ z) = p, for 0 < p < 1.
pub fn normal_quantile(p: f64) -> f64 {
    debug_assert!(0.0 < p && p < 1.0, "{p}");
    if p == 0.5 {
        return 0.0;
    }
    if p > 0.5 {
        // 1 − p is exact here, and the lower tail keeps its relative precision.
        return -normal_quantile(1.0 - p);
    }
    let guess = Normal::standard().inverse_cdf(p);
    // Two Halley steps on ln P settle the last digits with our own erfc.
    (0..2).fold(guess, |z, _| {
        let area = normal_cdf(z);
        if area == 0.0 {
            return z;
        }
        let density = libm::exp(-0.5 * z * z) / (2.0 * PI).sqrt();
        let step = (area - p) / density;
        z - step / (1.0 + 0.5 * z * step)
    })
}

/// The z that leaves half of 1 − level in each tail: 1.959964 at 0.95.
pub fn two_sided_z(level: ConfidenceLevel) -> f64 {
    level.z()
}
