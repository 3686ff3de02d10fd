//! The columns of a segmented regression.

use nalgebra::DMatrix;

use crate::error::{StatsError, positive};

/// The column of the change of level; the terms of the change stand from here to the season.
const FIRST_CHANGE: usize = 2;

/// How time since the change is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SlopeChange {
    /// The trend goes on unchanged: only the level may change.
    None,
    /// Time since is 0 in the first period after: the change of level is the one in that period.
    FromZero,
    /// Time since is 1 in the first period after: the change of level is the one a period earlier.
    FromOne,
}

/// A season as pairs of sine and cosine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Harmonics {
    /// Periods in one season, at least 2: 12 for months of a year.
    pub season: f64,
    /// How many pairs, 1 to 6: the first with the season's own length, the second with half of it, and so on.
    pub n_pairs: usize,
}

/// Where the series is cut and which terms describe it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SegmentedPlan {
    /// Periods before the change; the next one, counted from 0, is the first after.
    pub n_before: usize,
    /// Whether and how the trend may change.
    pub slope_change: SlopeChange,
    /// A season, if any.
    pub harmonics: Option<Harmonics>,
}

impl SegmentedPlan {
    /// Level, trend, change of level and change of trend counted from 1 in the first period after; no season.
    pub fn new(n_before: usize) -> Self {
        Self { n_before, slope_change: SlopeChange::FromOne, harmonics: None }
    }

    /// Columns for `n_points` periods, and the same as they would be had nothing changed.
    pub(crate) fn design(&self, n_points: usize) -> Result<Design, StatsError> {
        if self.n_before >= n_points {
            return Err(StatsError::IndexOutside {
                what: "first period after the change",
                index: self.n_before,
                length: n_points,
            });
        }
        let mut names = vec!["level".to_owned(), "trend".to_owned(), "change of level".to_owned()];
        if self.slope_change != SlopeChange::None {
            names.push("change of trend".to_owned());
        }
        let mut season = 1.0;
        let mut n_pairs = 0;
        if let Some(harmonics) = self.harmonics {
            season = positive("periods in a season", harmonics.season)?;
            if season < 2.0 {
                return Err(StatsError::NotWithin {
                    what: "periods in a season",
                    value: season,
                    low: 2.0,
                    high: f64::MAX,
                });
            }
            if !(1..=6).contains(&harmonics.n_pairs) {
                return Err(StatsError::NotWithin {
                    what: "pairs of season terms",
                    value: harmonics.n_pairs as f64,
                    low: 1.0,
                    high: 6.0,
                });
            }
            n_pairs = harmonics.n_pairs;
            for pair in 1..=n_pairs {
                names.push(format!("season sine {pair}"));
                names.push(format!("season cosine {pair}"));
            }
        }
        if n_points <= names.len() {
            return Err(StatsError::TooFew {
                what: "periods for that many terms",
                found: n_points,
                needed: names.len() + 1,
            });
        }
        if self.n_before < 2 {
            return Err(StatsError::TooFew {
                what: "periods before the change",
                found: self.n_before,
                needed: 2,
            });
        }
        let n_after_needed = if self.slope_change == SlopeChange::None { 1 } else { 2 };
        if n_points - self.n_before < n_after_needed {
            return Err(StatsError::TooFew {
                what: "periods after the change",
                found: n_points - self.n_before,
                needed: n_after_needed,
            });
        }
        let n_terms = names.len();
        let first_season = n_terms - 2 * n_pairs;
        let column = |period: usize, term: usize| -> f64 {
            let time = period as f64 + 1.0;
            let changed = period >= self.n_before;
            let since = match self.slope_change {
                _ if !changed => 0.0,
                SlopeChange::None => 0.0,
                SlopeChange::FromZero => time - (self.n_before as f64 + 1.0),
                SlopeChange::FromOne => time - self.n_before as f64,
            };
            match term {
                0 => 1.0,
                1 => time,
                FIRST_CHANGE => f64::from(u8::from(changed)),
                _ if term < first_season => since,
                _ => {
                    let pair = ((term - first_season) / 2 + 1) as f64;
                    let angle = std::f64::consts::TAU * pair * time / season;
                    if (term - first_season).is_multiple_of(2) { libm::sin(angle) } else { libm::cos(angle) }
                }
            }
        };
        let actual = DMatrix::from_fn(n_points, n_terms, column);
        let mut unchanged = actual.clone();
        unchanged.columns_mut(FIRST_CHANGE, first_season - FIRST_CHANGE).fill(0.0);
        let design = Design { names, actual, unchanged };
        design.check_rank()?;
        Ok(design)
    }
}

/// The columns, with their names, as they are and as they would be had nothing changed.
pub(crate) struct Design {
    pub names: Vec<String>,
    pub actual: DMatrix<f64>,
    pub unchanged: DMatrix<f64>,
}

impl Design {
    /// Refuses a term that the terms before it already make up.
    fn check_rank(&self) -> Result<(), StatsError> {
        let r = self.actual.clone().qr().unpack_r();
        for (term, name) in self.names.iter().enumerate() {
            // A column of R is as long as the column it stands for.
            let length = r.column(term).norm();
            // Every real column has entries near 1 or above; a sine of whole half turns is rounding.
            if length < 1e-9 || r[(term, term)].abs() < 1e-9 * length {
                return Err(StatsError::Collinear { term: name.clone() });
            }
        }
        Ok(())
    }
}
