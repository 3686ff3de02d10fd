//! The square table of two watchers' ratings of the same cases.

use crate::error::StatsError;
use crate::value::LARGEST_COUNT;

/// Counts of cases by what the first watcher (row) and the second (column) said; at least one case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RatingTable {
    n_categories: usize,
    counts: Vec<u64>,
    n_cases: u64,
}

impl RatingTable {
    /// A table from its counts, row by row; 2 to 1,000 categories.
    ///
    /// ```
    /// use stats::agreement::RatingTable;
    /// let table = RatingTable::new(2, &[118, 5, 2, 0])?;
    /// assert_eq!(table.n_cases(), 125);
    /// assert_eq!(
    ///     RatingTable::new(2, &[118, 5, 2]).unwrap_err().to_string(),
    ///     "3 counts but 4 cells; there must be as many of each"
    /// );
    /// assert_eq!(
    ///     RatingTable::new(2, &[0, 0, 0, 0]).unwrap_err().to_string(),
    ///     "0 rated cases; at least 1 needed"
    /// );
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn new(n_categories: usize, counts: &[u64]) -> Result<Self, StatsError> {
        check_categories(n_categories)?;
        let n_cells = n_categories * n_categories;
        if counts.len() != n_cells {
            return Err(StatsError::LengthsDiffer {
                left_name: "counts",
                left: counts.len(),
                right_name: "cells",
                right: n_cells,
            });
        }
        let mut n_cases = 0u64;
        for &count in counts {
            n_cases = n_cases.saturating_add(count);
        }
        if n_cases > LARGEST_COUNT {
            return Err(StatsError::CountTooLarge {
                what: "rated cases",
                value: n_cases,
                most: LARGEST_COUNT,
            });
        }
        if n_cases == 0 {
            return Err(StatsError::TooFew { what: "rated cases", found: 0, needed: 1 });
        }
        Ok(Self { n_categories, counts: counts.to_vec(), n_cases })
    }

    /// A table from one pair of categories (counted from 0) per case.
    ///
    /// ```
    /// use stats::agreement::RatingTable;
    /// let table = RatingTable::from_pairs(2, &[(0, 0), (0, 1), (1, 1)])?;
    /// assert_eq!(table, RatingTable::new(2, &[1, 1, 0, 1])?);
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn from_pairs(n_categories: usize, pairs: &[(usize, usize)]) -> Result<Self, StatsError> {
        check_categories(n_categories)?;
        let mut counts = vec![0; n_categories * n_categories];
        for &(first, second) in pairs {
            for category in [first, second] {
                if category >= n_categories {
                    return Err(StatsError::IndexOutside {
                        what: "category",
                        index: category,
                        length: n_categories,
                    });
                }
            }
            counts[first * n_categories + second] += 1;
        }
        Self::new(n_categories, &counts)
    }

    /// How many categories there are.
    pub fn n_categories(&self) -> usize {
        self.n_categories
    }

    /// How many cases both watchers rated.
    pub fn n_cases(&self) -> u64 {
        self.n_cases
    }

    /// Cases the first watcher put in `row` and the second in `column`; 0 outside the table.
    pub fn count(&self, row: usize, column: usize) -> u64 {
        if row < self.n_categories && column < self.n_categories {
            self.counts[row * self.n_categories + column]
        } else {
            0
        }
    }

    /// Every cell as (row, column, share of all cases).
    pub(crate) fn shares(&self) -> impl Iterator<Item = (usize, usize, f64)> + '_ {
        self.counts.iter().enumerate().map(|(cell, &count)| {
            (cell / self.n_categories, cell % self.n_categories, count as f64 / self.n_cases as f64)
        })
    }

    /// Shares of the first and of the second watcher's ratings by category.
    pub(crate) fn margins(&self) -> (Vec<f64>, Vec<f64>) {
        let (mut rows, mut columns) = (vec![0u64; self.n_categories], vec![0u64; self.n_categories]);
        for (cell, count) in self.counts.iter().enumerate() {
            rows[cell / self.n_categories] += count;
            columns[cell % self.n_categories] += count;
        }
        let share = |counts: Vec<u64>| counts.into_iter().map(|c| c as f64 / self.n_cases as f64).collect();
        (share(rows), share(columns))
    }
}

/// The most categories taken; a table of their pairs must fit in memory.
const MOST_CATEGORIES: usize = 1_000;

/// Refuses fewer than 2 categories and more than 1,000.
pub(crate) fn check_categories(n_categories: usize) -> Result<(), StatsError> {
    if n_categories < 2 {
        return Err(StatsError::TooFew { what: "categories", found: n_categories, needed: 2 });
    }
    if n_categories > MOST_CATEGORIES {
        return Err(StatsError::CountTooLarge {
            what: "categories",
            value: n_categories as u64,
            most: MOST_CATEGORIES as u64,
        });
    }
    Ok(())
}
