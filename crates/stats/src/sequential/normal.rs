//! The CUSUM of measurements: has a mean drifted up or down?

use crate::error::{StatsError, finite, positive, within};

/// A two-sided CUSUM in units of the standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalCusum {
    allowance: f64,
    limit: f64,
    head_start: f64,
}

impl NormalCusum {
    /// The largest limit taken, in standard deviations.
    pub const LARGEST_LIMIT: f64 = 50.0;

    /// A chart with allowance k (0 to 10) and limit h (above 0 to 50), both in standard deviations.
    ///
    /// ```
    /// use stats::sequential::NormalCusum;
    /// assert!(NormalCusum::new(0.5, 5.0).is_ok());
    /// assert_eq!(
    ///     NormalCusum::new(-0.5, 5.0).unwrap_err().to_string(),
    ///     "allowance of the chart -0.5 is not within 0 to 10"
    /// );
    /// ```
    pub fn new(allowance: f64, limit: f64) -> Result<Self, StatsError> {
        let allowance = within("allowance of the chart", allowance, 0.0, 10.0)?;
        positive("limit of the chart", limit)?;
        let limit = within("limit of the chart", limit, 0.0, Self::LARGEST_LIMIT)?;
        Ok(Self { allowance, limit, head_start: 0.0 })
    }

    /// The same chart with both sums started at `head_start`, 0 to below the limit; half the limit is usual.
    pub fn with_head_start(self, head_start: f64) -> Result<Self, StatsError> {
        let head_start = finite("head start", head_start)?;
        if !(0.0..self.limit).contains(&head_start) {
            return Err(StatsError::NotWithin {
                what: "head start",
                value: head_start,
                low: 0.0,
                high: self.limit,
            });
        }
        Ok(Self { head_start, ..self })
    }

    /// What is taken from every standardised deviation.
    pub fn allowance(self) -> f64 {
        self.allowance
    }

    /// Where a side signals (a sum above it).
    pub fn limit(self) -> f64 {
        self.limit
    }

    /// Where both sums start.
    pub fn head_start(self) -> f64 {
        self.head_start
    }
}

/// A side of the chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The mean seems to have gone up.
    Up,
    /// The mean seems to have gone down.
    Down,
}

/// Both sums after one measurement, in standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalCusumPoint {
    /// The upper sum, at least 0.
    pub high: f64,
    /// The lower sum, at least 0.
    pub low: f64,
    /// How many measurements in a row the upper sum has been above 0.
    pub n_high: usize,
    /// How many measurements in a row the lower sum has been above 0.
    pub n_low: usize,
    /// The side above the limit, if any; the larger when both are.
    pub signal: Option<Side>,
}

/// Both CUSUMs of a series of measurements, point by point. The sums go on after a signal.
///
/// # Formula
/// z = (x − target)/σ; high = max(0, high + z − k), low = max(0, low − z − k); a signal is a sum above h.
/// # Range
/// `target` and `values` in one unit, finite; `standard_deviation` above 0 in that unit; sums in σ.
/// # Ends
/// An empty series: an error. One point: its own deviation less k. All equal to the target: both sums stay 0.
/// # Source
/// Page 1954, Biometrika 41:100; Montgomery, Introduction to Statistical Quality Control, eq. 9.2-9.3.
/// # Check
/// NIST/SEMATECH e-Handbook 6.3.2.3 (20 points); Montgomery Table 9.2 (30 points).
/// # Example
/// ```
/// use stats::sequential::{NormalCusum, Side, normal_cusum_path};
/// let points = normal_cusum_path(NormalCusum::new(0.5, 4.0)?, 10.0, 1.0, &[12.0, 13.5])?;
/// assert_eq!((points[0].high, points[0].low), (1.5, 0.0));
/// assert_eq!((points[1].high, points[1].signal), (4.5, Some(Side::Up)));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn normal_cusum_path(
    chart: NormalCusum,
    target: f64,
    standard_deviation: f64,
    values: &[f64],
) -> Result<Vec<NormalCusumPoint>, StatsError> {
    let target = finite("target", target)?;
    let sigma = positive("standard deviation", standard_deviation)?;
    if values.is_empty() {
        return Err(StatsError::TooFew { what: "measurements", found: 0, needed: 1 });
    }
    let (mut high, mut low, mut n_high, mut n_low) = (chart.head_start, chart.head_start, 0, 0);
    let mut points = Vec::with_capacity(values.len());
    for &value in values {
        let z = finite("standardised deviation", (finite("measurement", value)? - target) / sigma)?;
        high = finite("upper sum", (high + z - chart.allowance).max(0.0))?;
        low = finite("lower sum", (low - z - chart.allowance).max(0.0))?;
        n_high = if high > 0.0 { n_high + 1 } else { 0 };
        n_low = if low > 0.0 { n_low + 1 } else { 0 };
        let signal = match (high > chart.limit, low > chart.limit) {
            (true, false) => Some(Side::Up),
            (false, true) => Some(Side::Down),
            (true, true) => Some(if high >= low { Side::Up } else { Side::Down }),
            (false, false) => None,
        };
        points.push(NormalCusumPoint { high, low, n_high, n_low, signal });
    }
    Ok(points)
}

/// Where the mean seems to be now, from a chart that has signalled.
///
/// # Formula
/// Up: target + σ·(k + high/n_high). Down: target − σ·(k + low/n_low).
/// # Range
/// As `normal_cusum_path`; the answer is in the unit of the measurements.
/// # Ends
/// The sum of that side is 0: `None`, there is no run to estimate from.
/// # Source
/// Montgomery, Introduction to Statistical Quality Control, eq. 9.5.
/// # Check
/// Montgomery's example: 10 + 0.5 + 5.28/7 = 11.25.
/// # Example
/// ```
/// use stats::sequential::{NormalCusum, Side, normal_cusum_path, shift_estimate};
/// let chart = NormalCusum::new(0.5, 4.0)?;
/// let points = normal_cusum_path(chart, 10.0, 1.0, &[12.0, 13.5])?;
/// // 10 + 0.5 + 4.5/2: the plain mean of the two.
/// assert_eq!(shift_estimate(chart, 10.0, 1.0, points[1], Side::Up), Some(12.75));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn shift_estimate(
    chart: NormalCusum,
    target: f64,
    standard_deviation: f64,
    point: NormalCusumPoint,
    side: Side,
) -> Option<f64> {
    let (sum, n, sign) = match side {
        Side::Up => (point.high, point.n_high, 1.0),
        Side::Down => (point.low, point.n_low, -1.0),
    };
    let estimate = target + sign * standard_deviation * (chart.allowance + sum / n as f64);
    (n > 0 && estimate.is_finite()).then_some(estimate)
}
