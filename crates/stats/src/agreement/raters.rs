//! Several watchers per case: Fleiss' kappa, Scott's pi, Gwet's AC1.

use crate::agreement::result::Agreement;
use crate::agreement::table::{RatingTable, check_categories};
use crate::dist::student_t_quantile;
use crate::error::StatsError;
use crate::value::ConfidenceLevel;

/// The most watchers of one case; sums over all cases must stay exact.
const MOST_WATCHERS: u64 = 1_000_000;

/// For every case, how many watchers chose each category; at least two watchers on every case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RatingCounts {
    n_categories: usize,
    /// A case's counts with how many cases have them.
    cases: Vec<(u64, Vec<u64>)>,
    n_cases: u64,
}

impl RatingCounts {
    /// One row of counts per case, each as long as there are categories (2 to 1,000), up to 1,000,000 watchers.
    ///
    /// ```
    /// use stats::agreement::RatingCounts;
    /// assert!(RatingCounts::new(2, &[&[3, 0], &[1, 2]]).is_ok());
    /// assert_eq!(
    ///     RatingCounts::new(2, &[&[3, 0], &[1, 0]]).unwrap_err().to_string(),
    ///     "1 watchers of one case; at least 2 needed"
    /// );
    /// ```
    pub fn new<Row: AsRef<[u64]>>(n_categories: usize, cases: &[Row]) -> Result<Self, StatsError> {
        Self::with_multiplicity(n_categories, cases.iter().map(|row| (1, row.as_ref().to_vec())).collect())
    }

    /// The cases of a table of two watchers, who are then not told apart.
    pub fn from_table(table: &RatingTable) -> Self {
        let n_categories = table.n_categories();
        let mut cases = Vec::new();
        for row in 0..n_categories {
            for column in 0..n_categories {
                let mut counts = vec![0; n_categories];
                counts[row] += 1;
                counts[column] += 1;
                if table.count(row, column) > 0 {
                    cases.push((table.count(row, column), counts));
                }
            }
        }
        Self { n_categories, cases, n_cases: table.n_cases() }
    }

    fn with_multiplicity(n_categories: usize, cases: Vec<(u64, Vec<u64>)>) -> Result<Self, StatsError> {
        check_categories(n_categories)?;
        if cases.is_empty() {
            return Err(StatsError::TooFew { what: "rated cases", found: 0, needed: 1 });
        }
        for (_, counts) in &cases {
            if counts.len() != n_categories {
                return Err(StatsError::LengthsDiffer {
                    left_name: "counts of one case",
                    left: counts.len(),
                    right_name: "categories",
                    right: n_categories,
                });
            }
            let n_raters = counts.iter().fold(0u64, |sum, count| sum.saturating_add(*count));
            if n_raters < 2 {
                return Err(StatsError::TooFew {
                    what: "watchers of one case",
                    found: n_raters as usize,
                    needed: 2,
                });
            }
            if n_raters > MOST_WATCHERS {
                return Err(StatsError::CountTooLarge {
                    what: "watchers of one case",
                    value: n_raters,
                    most: MOST_WATCHERS,
                });
            }
        }
        let n_cases = cases.iter().map(|(times, _)| times).sum();
        Ok(Self { n_categories, cases, n_cases })
    }

    /// How many cases were rated.
    pub fn n_cases(&self) -> u64 {
        self.n_cases
    }

    /// How many categories there are.
    pub fn n_categories(&self) -> usize {
        self.n_categories
    }

    /// The number of watchers when it is the same for every case.
    pub fn n_raters(&self) -> Option<u64> {
        let of = |counts: &[u64]| counts.iter().sum::<u64>();
        let first = of(&self.cases[0].1);
        self.cases.iter().all(|(_, counts)| of(counts) == first).then_some(first)
    }

    /// Mean over cases of the share of watchers in each category.
    fn prevalence(&self) -> Vec<f64> {
        let mut prevalence = vec![0.0; self.n_categories];
        for (times, counts) in &self.cases {
            let n_raters = counts.iter().sum::<u64>() as f64;
            for (sum, &count) in prevalence.iter_mut().zip(counts) {
                *sum += *times as f64 * count as f64 / n_raters;
            }
        }
        prevalence.iter_mut().for_each(|sum| *sum /= self.n_cases as f64);
        prevalence
    }
}

/// Share of pairs of watchers of one case who chose the same category.
fn agreeing_pairs(counts: &[u64]) -> f64 {
    let n: f64 = counts.iter().map(|&c| c as f64).sum();
    counts.iter().map(|&c| c as f64 * (c as f64 - 1.0)).sum::<f64>() / (n * (n - 1.0))
}

/// (observed − expected)/(1 − expected) with the spread of the cases about it, linearised.
///
/// `expected_of` gives the chance agreement of a case as if its watchers' shares were the prevalence on one side.
fn from_cases(
    counts: &RatingCounts,
    expected: f64,
    null_standard_error: Option<f64>,
    expected_of: impl Fn(&[f64]) -> f64,
    level: ConfidenceLevel,
) -> Agreement {
    let n = counts.n_cases as f64;
    let observed =
        counts.cases.iter().map(|(times, case)| *times as f64 * agreeing_pairs(case)).sum::<f64>() / n;
    let estimate = (observed - expected) / (1.0 - expected);
    let mut squares = 0.0;
    let mut shares = vec![0.0; counts.n_categories];
    for (times, case) in &counts.cases {
        let n_raters: f64 = case.iter().map(|&c| c as f64).sum();
        for (share, &count) in shares.iter_mut().zip(case) {
            *share = count as f64 / n_raters;
        }
        let of_case = (agreeing_pairs(case) - expected) / (1.0 - expected);
        let moved = 2.0 * (1.0 - estimate) * (expected_of(&shares) - expected) / (1.0 - expected);
        let apart = of_case - moved - estimate;
        squares += *times as f64 * apart * apart;
    }
    let standard_error = (counts.n_cases > 1).then(|| (squares / n / (n - 1.0)).sqrt());
    let quantile = if counts.n_cases > 1 { student_t_quantile(1.0 - level.tail(), n - 1.0) } else { 0.0 };
    Agreement {
        estimate,
        observed,
        expected,
        n_cases: counts.n_cases,
        standard_error,
        null_standard_error,
        interval: Agreement::around(estimate, standard_error, quantile, level),
    }
}

/// Fleiss' kappa: agreement of several watchers, who need not be the same for every case, beyond chance.
///
/// # Formula
/// π_k = mean share of category k, P̄ = mean share of agreeing pairs, P̄e = Σ π_k², κ = (P̄ − P̄e)/(1 − P̄e). Interval
/// κ ± t(n − 1)·se, se from the spread of the cases (Gwet 2008, linearised). With the same number m of watchers on
/// every case also the null se² = 2/(n m (m − 1)) · [(Σ pq)² − Σ pq(q − p)]/(Σ pq)².
/// # Range
/// −1/(m − 1) to 1 for m watchers.
/// # Ends
/// Every rating in one category: an error. Full agreement over several categories: κ 1, no interval. One case: no
/// interval.
/// # Source
/// Fleiss 1971, Psychol Bull 76:378; Fleiss, Nee, Landis 1979, Psychol Bull 86:974 (null error); Gwet 2008, Br J
/// Math Stat Psychol 61:29 (error).
/// # Check
/// Fleiss 1971, 30 cases by 6 (0.430, z 17.65); a 10 by 14 table (0.210); statsmodels, 1e-9; errors of irrCAC.
/// # Example
/// ```
/// use stats::{ConfidenceLevel, agreement::{RatingCounts, fleiss_kappa}};
/// // Two cases, two watchers, once agreed and once not: P̄ 1/2, π 3/4 and 1/4, P̄e 5/8, κ −1/3.
/// let counts = RatingCounts::new(2, &[&[2, 0], &[1, 1]])?;
/// assert!((fleiss_kappa(&counts, ConfidenceLevel::default())?.estimate + 1.0 / 3.0).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn fleiss_kappa(counts: &RatingCounts, level: ConfidenceLevel) -> Result<Agreement, StatsError> {
    let prevalence = counts.prevalence();
    let expected = prevalence.iter().map(|p| p * p).sum::<f64>();
    let spread: f64 = prevalence.iter().map(|p| p * (1.0 - p)).sum();
    if prevalence.iter().filter(|p| **p > 0.0).count() < 2 {
        return Err(StatsError::NoSpread { what: "agreement expected by chance", value: 1.0 });
    }
    let null = counts.n_raters().map(|m| {
        let skew: f64 = prevalence.iter().map(|p| p * (1.0 - p) * (1.0 - 2.0 * p)).sum();
        let pairs = counts.n_cases as f64 * m as f64 * (m as f64 - 1.0);
        (2.0 / pairs * (spread * spread - skew).max(0.0)).sqrt() / spread
    });
    let expected_of = |shares: &[f64]| shares.iter().zip(&prevalence).map(|(share, p)| share * p).sum();
    Ok(from_cases(counts, expected, null, expected_of, level))
}

/// Scott's pi: agreement of two watchers who are taken to share one habit; Fleiss' kappa for two.
///
/// # Formula
/// As `fleiss_kappa` with two watchers: pe = Σ ((p_k. + p_.k)/2)².
/// # Range
/// −1 to 1.
/// # Ends
/// As `fleiss_kappa`.
/// # Source
/// Scott 1955, Public Opin Q 19:321 (from memory).
/// # Check
/// A published 3 by 3 table (0.7962397).
/// # Example
/// ```
/// use stats::{ConfidenceLevel, agreement::{RatingTable, scott_pi}};
/// // po 0.7, both habits 1/2: pe 0.5.
/// let pi = scott_pi(&RatingTable::new(2, &[35, 15, 15, 35])?, ConfidenceLevel::default())?;
/// assert!((pi.estimate - 0.4).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn scott_pi(table: &RatingTable, level: ConfidenceLevel) -> Result<Agreement, StatsError> {
    fleiss_kappa(&RatingCounts::from_table(table), level)
}

/// The kappa of one category against all others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CategoryKappa {
    /// Mean share of ratings in the category, 0 to 1.
    pub share: f64,
    /// The kappa, or `None` for a category nobody or everybody used.
    pub kappa: Option<f64>,
}

/// Fleiss' kappa of each category against all others: which one the watchers cannot tell.
///
/// # Formula
/// κ_k = 1 − Σ x_ik (m − x_ik) / (n m (m − 1) π_k (1 − π_k)), m watchers on each of n cases.
/// # Range
/// At most 1. No interval: the cases of one category are too few for the large-sample error; show `fleiss_kappa`'s.
/// # Ends
/// A category nobody used, or the only one used: `None`. Cases with different numbers of watchers: an error.
/// # Source
/// Fleiss 1971, Psychol Bull 76:378, eq. 17-20 (equation numbers from memory).
/// # Check
/// Fleiss 1971: 0.2448, 0.2448, 0.5200, 0.4711, 0.5661.
/// # Example
/// ```
/// use stats::agreement::{RatingCounts, fleiss_kappa_by_category};
/// // Two categories are one question: both get the kappa of the whole, −1/3.
/// let kappas = fleiss_kappa_by_category(&RatingCounts::new(2, &[&[2, 0], &[1, 1]])?)?;
/// assert!(kappas.iter().all(|category| (category.kappa.unwrap() + 1.0 / 3.0).abs() < 1e-15));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn fleiss_kappa_by_category(counts: &RatingCounts) -> Result<Vec<CategoryKappa>, StatsError> {
    let n_raters = counts.n_raters().ok_or(StatsError::DoesNotApply {
        what: "kappa by category",
        because: "cases have different numbers of watchers",
    })? as f64;
    let pairs = counts.n_cases as f64 * n_raters * (n_raters - 1.0);
    let kappas = counts.prevalence().into_iter().enumerate().map(|(k, share)| {
        let split: f64 = counts
            .cases
            .iter()
            .map(|(times, case)| *times as f64 * case[k] as f64 * (n_raters - case[k] as f64))
            .sum();
        let n_in_category: u64 = counts.cases.iter().map(|(times, case)| times * case[k]).sum();
        let n_all = counts.n_cases * n_raters as u64;
        let used = n_in_category > 0 && n_in_category < n_all;
        CategoryKappa { share, kappa: used.then(|| 1.0 - split / (pairs * share * (1.0 - share))) }
    });
    Ok(kappas.collect())
}

/// Gwet's AC1: agreement beyond chance that stays meaningful when nearly every case is in one category.
///
/// # Formula
/// π_k = mean share of category k, pe = Σ π_k (1 − π_k)/(q − 1) over q categories, AC1 = (po − pe)/(1 − pe). Interval
/// AC1 ± t(n − 1)·se, se from the spread of the cases.
/// # Range
/// −1 to 1. `q` counts every category that could have been chosen, used or not: say how many.
/// # Ends
/// Every rating in one category: AC1 1, no interval. One case: no interval.
/// # Source
/// Gwet 2008, Br J Math Stat Psychol 61:29, eq. 8 (two watchers) and 22-24 (several; equation numbers from memory).
/// # Check
/// A published 3 by 3 table (0.8493), the kappa paradox table (0.9408), Fleiss 1971 (0.4479); errors of irrCAC; pair
/// counting and complex-step errors in numpy, 1e-9.
/// # Example
/// ```
/// use stats::{ConfidenceLevel, agreement::{RatingCounts, RatingTable, gwet_ac1}};
/// // po 0.7, π 1/2 and 1/2, pe 1/2.
/// let counts = RatingCounts::from_table(&RatingTable::new(2, &[35, 15, 15, 35])?);
/// assert!((gwet_ac1(&counts, ConfidenceLevel::default()).estimate - 0.4).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn gwet_ac1(counts: &RatingCounts, level: ConfidenceLevel) -> Agreement {
    let prevalence = counts.prevalence();
    let others = counts.n_categories as f64 - 1.0;
    let expected = prevalence.iter().map(|p| p * (1.0 - p)).sum::<f64>() / others;
    let expected_of = |shares: &[f64]| {
        shares.iter().zip(&prevalence).map(|(share, p)| share * (1.0 - p)).sum::<f64>() / others
    };
    from_cases(counts, expected, None, expected_of, level)
}
