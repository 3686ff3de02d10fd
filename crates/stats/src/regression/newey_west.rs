//! Standard errors that hold when neighbouring periods are alike.

use nalgebra::DMatrix;

use crate::error::{StatsError, finite};

/// How many periods back Newey-West errors look when nothing else is known.
///
/// # Formula
/// ⌊4 (n/100)^(2/9)⌋.
/// # Range
/// `n_points` 1 or more periods; answer in periods.
/// # Ends
/// 0 periods: 0.
/// # Source
/// Newey and West 1994, Rev Econ Stud 61:631 (rule as given for Bartlett weights in textbooks; from memory).
/// # Check
/// 24, 48, 100, 240 periods by hand.
/// # Example
/// ```
/// use stats::regression::newey_west_lag;
/// // 4 · 1 = 4 at 100; 4 · 0.48^(2/9) = 3.4 at 48.
/// assert_eq!((newey_west_lag(100), newey_west_lag(48)), (4, 3));
/// ```
pub fn newey_west_lag(n_points: usize) -> usize {
    libm::floor(4.0 * libm::pow(n_points as f64 / 100.0, 2.0 / 9.0)) as usize
}

/// How alike neighbouring residuals are: about 2 when they are not, towards 0 when alike, towards 4 when alternating.
///
/// # Formula
/// Σ (e_t − e_(t−1))² / Σ e_t².
/// # Range
/// Residuals in any unit, in order of time; answer 0 to 4.
/// # Ends
/// Fewer than 2 residuals, all 0, or squares past the largest double: an error.
/// # Source
/// Durbin and Watson 1950, Biometrika 37:409.
/// # Check
/// Two series: 3.265263 and 1.593964.
/// # Example
/// ```
/// use stats::regression::durbin_watson;
/// // 1, −1, 1: (4 + 4)/3.
/// assert!((durbin_watson(&[1.0, -1.0, 1.0])? - 8.0 / 3.0).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn durbin_watson(residuals: &[f64]) -> Result<f64, StatsError> {
    if residuals.len() < 2 {
        return Err(StatsError::TooFew { what: "residuals", found: residuals.len(), needed: 2 });
    }
    for &residual in residuals {
        finite("residual", residual)?;
    }
    let squares: f64 = residuals.iter().map(|e| e * e).sum();
    if squares == 0.0 {
        return Err(StatsError::NoSpread { what: "residual", value: 0.0 });
    }
    let steps: f64 = residuals.windows(2).map(|pair| (pair[1] - pair[0]) * (pair[1] - pair[0])).sum();
    // Residuals beyond 1e150 or so have squares past the largest double.
    finite("Durbin-Watson statistic", steps / squares)
}

/// B S B · n/(n − p), S = Γ_0 + Σ_l (1 − l/(L + 1)) (Γ_l + Γ_l'), Γ_l = Σ_t s_t s_(t−l)', s_t the score of period t.
///
/// Newey and West 1987, Econometrica 55:703, eq. 5, with Bartlett weights; the factor for few periods is the usual one.
pub(crate) fn newey_west(
    columns: &DMatrix<f64>,
    residuals: &[f64],
    inverse_information: &DMatrix<f64>,
    lag: usize,
) -> DMatrix<f64> {
    let (n_points, n_terms) = columns.shape();
    let scores =
        DMatrix::from_fn(n_points, n_terms, |period, term| columns[(period, term)] * residuals[period]);
    // Half of S is Σ_t s_t (s_t/2 + Σ_l weight_l s_(t−l))', so one product serves all lags.
    let mut looked_back = &scores * 0.5;
    for back in 1..=lag.min(n_points - 1) {
        let weight = 1.0 - back as f64 / (lag as f64 + 1.0);
        for (mut sums, scores) in looked_back.column_iter_mut().zip(scores.column_iter()) {
            sums.rows_mut(back, n_points - back).axpy(weight, &scores.rows(0, n_points - back), 1.0);
        }
    }
    let half = scores.tr_mul(&looked_back);
    let middle = &half + half.transpose();
    let few = n_points as f64 / (n_points - n_terms) as f64;
    inverse_information * middle * inverse_information * few
}
