//! How much a near miss counts as agreement.

use crate::agreement::table::check_categories;
use crate::error::{StatsError, finite, within};

/// Agreement weights of every pair of categories: 1 for the same, down to 0 for the furthest apart.
#[derive(Debug, Clone, PartialEq)]
pub struct AgreementWeights {
    n_categories: usize,
    weights: Vec<f64>,
}

impl AgreementWeights {
    /// Only the same category agrees.
    pub fn identity(n_categories: usize) -> Result<Self, StatsError> {
        Self::from_distance(n_categories, |apart, _| if apart == 0.0 { 1.0 } else { 0.0 })
    }

    /// 1 − |i − j|/(k − 1) for ordered categories (Cicchetti and Allison 1971, from memory).
    ///
    /// ```
    /// use stats::agreement::AgreementWeights;
    /// assert_eq!(AgreementWeights::linear(3)?.weight(0, 1), 0.5);
    /// assert_eq!(AgreementWeights::quadratic(3)?.weight(0, 1), 0.75);
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn linear(n_categories: usize) -> Result<Self, StatsError> {
        Self::from_distance(n_categories, |apart, furthest| 1.0 - apart / furthest)
    }

    /// 1 − (i − j)²/(k − 1)² for ordered categories (Fleiss and Cohen 1973, from memory).
    pub fn quadratic(n_categories: usize) -> Result<Self, StatsError> {
        Self::from_distance(n_categories, |apart, furthest| 1.0 - (apart / furthest) * (apart / furthest))
    }

    /// Weights given row by row, 0 to 1, with 1 on the diagonal. They need not be symmetric.
    pub fn from_agreement(n_categories: usize, weights: &[f64]) -> Result<Self, StatsError> {
        Self::check_size(n_categories, weights.len())?;
        for (cell, &weight) in weights.iter().enumerate() {
            within("agreement weight", weight, 0.0, 1.0)?;
            if cell / n_categories == cell % n_categories && weight != 1.0 {
                return Err(StatsError::NotWithin {
                    what: "agreement weight of a category with itself",
                    value: weight,
                    low: 1.0,
                    high: 1.0,
                });
            }
        }
        Ok(Self { n_categories, weights: weights.to_vec() })
    }

    /// Weights of disagreement given row by row, 0 on the diagonal and otherwise 0 or more, in any unit; the
    /// largest becomes no agreement at all. Kappa does not depend on the unit.
    ///
    /// ```
    /// use stats::agreement::AgreementWeights;
    /// let weights = AgreementWeights::from_disagreement(2, &[0.0, 3.0, 6.0, 0.0])?;
    /// assert_eq!((weights.weight(0, 1), weights.weight(1, 0)), (0.5, 0.0));
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn from_disagreement(n_categories: usize, disagreement: &[f64]) -> Result<Self, StatsError> {
        Self::check_size(n_categories, disagreement.len())?;
        let mut largest = 0.0f64;
        for &value in disagreement {
            let value = within("disagreement weight", finite("disagreement weight", value)?, 0.0, f64::MAX)?;
            largest = largest.max(value);
        }
        if largest == 0.0 {
            return Err(StatsError::NoSpread { what: "disagreement weight", value: 0.0 });
        }
        let weights: Vec<f64> = disagreement.iter().map(|value| 1.0 - value / largest).collect();
        Self::from_agreement(n_categories, &weights)
    }

    /// The weight of a first and a second rating.
    ///
    /// # Panics
    /// When a category is outside the table, as indexing does.
    pub fn weight(&self, first: usize, second: usize) -> f64 {
        self.weights[first * self.n_categories + second]
    }

    /// How many categories the weights are for.
    pub fn n_categories(&self) -> usize {
        self.n_categories
    }

    fn from_distance(n_categories: usize, weight: impl Fn(f64, f64) -> f64) -> Result<Self, StatsError> {
        check_categories(n_categories)?;
        let n_cells = n_categories * n_categories;
        let furthest = (n_categories - 1) as f64;
        let weights = (0..n_cells)
            .map(|cell| weight((cell / n_categories).abs_diff(cell % n_categories) as f64, furthest))
            .collect();
        Ok(Self { n_categories, weights })
    }

    fn check_size(n_categories: usize, n_weights: usize) -> Result<(), StatsError> {
        check_categories(n_categories)?;
        let n_cells = n_categories * n_categories;
        if n_weights != n_cells {
            return Err(StatsError::LengthsDiffer {
                left_name: "weights",
                left: n_weights,
                right_name: "cells",
                right: n_cells,
            });
        }
        Ok(())
    }
}
