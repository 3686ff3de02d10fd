//! Two watchers: Cohen's kappa, plain and weighted, and plain percent agreement.

use crate::agreement::result::Agreement;
use crate::agreement::table::RatingTable;
use crate::agreement::weights::AgreementWeights;
use crate::dist::two_sided_z;
use crate::error::StatsError;
use crate::value::{ConfidenceLevel, Proportion};

/// Cases on which two watchers said the same, of all cases; give it to an interval such as `wilson`.
///
/// # Formula
/// Sum of the diagonal over the sum of the table.
/// # Range
/// Answer a count with its denominator.
/// # Ends
/// One case: 0 of 1 or 1 of 1.
/// # Source
/// Definition.
/// # Check
/// Observed agreement of every table below.
/// # Example
/// ```
/// use stats::agreement::{RatingTable, percent_agreement};
/// let same = percent_agreement(&RatingTable::new(2, &[118, 5, 2, 0])?)?;
/// assert_eq!((same.events(), same.trials()), (118, 125));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn percent_agreement(table: &RatingTable) -> Result<Proportion, StatsError> {
    Proportion::new((0..table.n_categories()).map(|k| table.count(k, k)).sum(), table.n_cases())
}

/// Cohen's kappa: agreement of two watchers beyond what their own habits would give by chance.
///
/// # Formula
/// κ = (po − pe)/(1 − pe), po = Σ p_kk, pe = Σ p_k. p_.k; interval κ ± z·se with se of Fleiss, Cohen and Everitt 1969
/// eq. 13, null standard error their eq. 14.
/// # Range
/// −1 to 1. Interval kept within −1 to 1.
/// # Ends
/// Both watchers use one and the same category throughout: an error, chance would agree fully. Full agreement: κ 1
/// and no interval, its formula gives no width. One case in two categories: as the formula gives, no interval.
/// # Source
/// Cohen 1960, Educ Psychol Meas 20:37; Fleiss, Cohen, Everitt 1969, Psychol Bull 72:323.
/// # Check
/// Cohen's table (0.492), Fleiss and others' (0.4286), a published table with both errors; statsmodels, 1e-9.
/// # Example
/// ```
/// use stats::{ConfidenceLevel, agreement::{RatingTable, cohen_kappa}};
/// // po 0.7, pe 0.5·0.5 + 0.5·0.5 = 0.5, κ = 0.2/0.5.
/// let kappa = cohen_kappa(&RatingTable::new(2, &[35, 15, 15, 35])?, ConfidenceLevel::default())?;
/// assert!((kappa.estimate - 0.4).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn cohen_kappa(table: &RatingTable, level: ConfidenceLevel) -> Result<Agreement, StatsError> {
    weighted_kappa(table, &AgreementWeights::identity(table.n_categories())?, level)
}

/// Cohen's weighted kappa: as `cohen_kappa`, with near misses counted in part.
///
/// # Formula
/// po = Σ w_ij p_ij, pe = Σ w_ij p_i. p_.j; se² = {Σ p_ij [w_ij (1 − pe) − (w̄_i. + w̄_.j)(1 − po)]² − (po pe − 2 pe + po)²}
/// / (n (1 − pe)⁴); null se² = {Σ p_i. p_.j [w_ij − (w̄_i. + w̄_.j)]² − pe²} / (n (1 − pe)²).
/// # Range
/// Weights 0 to 1; answer at most 1, and −1 or more for symmetric weights.
/// # Ends
/// As `cohen_kappa`. Weights for another number of categories: an error.
/// # Source
/// Cohen 1968, Psychol Bull 70:213; Fleiss, Cohen, Everitt 1969, Psychol Bull 72:323, eq. 8-9.
/// # Check
/// Cohen's two weightings (0.348, 0.353), linear and quadratic; statsmodels, 1e-9.
/// # Example
/// ```
/// use stats::{ConfidenceLevel, agreement::{AgreementWeights, RatingTable, weighted_kappa}};
/// // Two categories: linear weights are no weights.
/// let table = RatingTable::new(2, &[35, 15, 15, 35])?;
/// let kappa = weighted_kappa(&table, &AgreementWeights::linear(2)?, ConfidenceLevel::default())?;
/// assert!((kappa.estimate - 0.4).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn weighted_kappa(
    table: &RatingTable,
    weights: &AgreementWeights,
    level: ConfidenceLevel,
) -> Result<Agreement, StatsError> {
    let n_categories = table.n_categories();
    if weights.n_categories() != n_categories {
        return Err(StatsError::LengthsDiffer {
            left_name: "categories weighted",
            left: weights.n_categories(),
            right_name: "categories rated",
            right: n_categories,
        });
    }
    let (rows, columns) = table.margins();
    // Everything is kept in disagreement 1 − w: differences from 1 would lose their digits when nearly all agree.
    let apart = |i: usize, j: usize| 1.0 - weights.weight(i, j);
    let by_row: Vec<f64> =
        (0..n_categories).map(|i| (0..n_categories).map(|j| apart(i, j) * columns[j]).sum()).collect();
    let by_column: Vec<f64> =
        (0..n_categories).map(|j| (0..n_categories).map(|i| apart(i, j) * rows[i]).sum()).collect();
    let expected_apart: f64 = by_row.iter().zip(&rows).map(|(apart, row)| apart * row).sum();
    if expected_apart <= 0.0 {
        return Err(StatsError::NoSpread { what: "agreement expected by chance", value: 1.0 });
    }
    let observed_apart: f64 = table.shares().map(|(i, j, share)| apart(i, j) * share).sum();
    let estimate = 1.0 - observed_apart / expected_apart;

    // The influence of one case in cell (i, j) on κ, times (1 − pe)²; its mean over the table is 0, so the sum of
    // squares is the variance of the source's equation without its final subtraction.
    let n = table.n_cases() as f64;
    let (mut spread, mut null_spread) = (0.0, 0.0);
    for (i, j, share) in table.shares() {
        let both = by_row[i] + by_column[j];
        let influence = observed_apart * (both - expected_apart) - apart(i, j) * expected_apart;
        spread += share * influence * influence;
        let null_influence = both - expected_apart - apart(i, j);
        null_spread += rows[i] * columns[j] * null_influence * null_influence;
    }
    let variance = spread / n / expected_apart.powi(4);
    let null_variance = null_spread / n / expected_apart.powi(2);
    let standard_error = (table.n_cases() > 1).then(|| variance.sqrt());
    Ok(Agreement {
        estimate,
        observed: 1.0 - observed_apart,
        expected: 1.0 - expected_apart,
        n_cases: table.n_cases(),
        standard_error,
        null_standard_error: Some(null_variance.sqrt()),
        interval: Agreement::around(estimate, standard_error, two_sided_z(level), level),
    })
}
