//! The u and c charts: events counted over an exposure.

use crate::charts::chart::{ChartKind, ControlChart};
use crate::charts::finish;
use crate::charts::measurements::SIGMAS;
use crate::charts::plan::{ChartOptions, Placed, Recipe, at_least, bounded};
use crate::error::{StatsError, positive};
use crate::value::LARGEST_COUNT;

/// Events counted over an exposure: infections over line-days, defects over metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EventCount {
    events: u64,
    exposure: f64,
}

impl EventCount {
    /// Refuses an exposure that is not above 0.
    pub fn new(events: u64, exposure: f64) -> Result<Self, StatsError> {
        if events > LARGEST_COUNT {
            return Err(StatsError::CountTooLarge { what: "events", value: events, most: LARGEST_COUNT });
        }
        Ok(Self { events, exposure: positive("exposure", exposure)? })
    }

    /// How often it happened.
    pub fn events(self) -> u64 {
        self.events
    }

    /// Over how much, in the unit of the chart.
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// Events per unit of exposure.
    pub fn rate(self) -> f64 {
        self.events as f64 / self.exposure
    }
}

/// Whether a rate of events per unit of exposure has changed over time.
///
/// # Formula
///
/// Centre ū = Σevents/Σexposure; limits ū ± 3 √(ū/exposure).
///
/// # Range
///
/// Events from 0, exposure above 0 in one unit; values and limits are events per that unit.
///
/// # Ends
///
/// A lower limit at or below 0 is no limit. No events at all leaves no spread and is refused.
///
/// # Source
///
/// Montgomery, Introduction to Statistical Quality Control, section 7.3.
///
/// # Check
///
/// Montgomery Tables 7.10 (20 samples of 50) and 7.11 (dyed cloth, varying lengths).
///
/// # Example
///
/// ```
/// use stats::charts::{ChartOptions, EventCount, u_chart};
/// // 8 events in 2 units: ū = 4, limits 4 ± 3 √(4/1).
/// let counts = [EventCount::new(3, 1.0)?, EventCount::new(5, 1.0)?];
/// let chart = u_chart(&counts, &ChartOptions::default())?;
/// assert_eq!((chart.points[0].centre, chart.points[0].upper, chart.points[0].lower), (4.0, Some(10.0), None));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn u_chart(counts: &[EventCount], options: &ChartOptions) -> Result<ControlChart, StatsError> {
    finish(
        ChartKind::U,
        &CountChart { n: counts.len(), count: |index: usize| counts[index], plot_n: true },
        options,
    )
}

/// Whether the number of events per equal piece of exposure has changed over time.
///
/// # Formula
///
/// Centre c̄, the mean count; limits c̄ ± 3 √c̄.
///
/// # Range
///
/// Counts from 0, each over the same exposure.
///
/// # Ends
///
/// A lower limit at or below 0 is no limit. A count on a limit is not beyond it. All counts 0 leaves no
/// spread and is refused.
///
/// # Source
///
/// Montgomery, Introduction to Statistical Quality Control, section 7.3; NIST/SEMATECH e-Handbook 6.3.3.1.
///
/// # Check
///
/// NIST's wafer counts (c̄ 16, limits 28 and 4; 28 itself is on the limit) and Montgomery's Table 7.8.
///
/// # Example
///
/// ```
/// use stats::charts::{ChartOptions, c_chart};
/// // Mean 16: 16 ± 3 × 4.
/// let chart = c_chart(&[12, 20, 28, 4], &ChartOptions::default())?;
/// assert_eq!((chart.points[2].upper, chart.points[2].lower, chart.points[2].outside), (Some(28.0), Some(4.0), false));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn c_chart(counts: &[u64], options: &ChartOptions) -> Result<ControlChart, StatsError> {
    if let Some(&value) = counts.iter().find(|&&count| count > LARGEST_COUNT) {
        return Err(StatsError::CountTooLarge { what: "events", value, most: LARGEST_COUNT });
    }
    let count = |index: usize| EventCount { events: counts[index], exposure: 1.0 };
    finish(ChartKind::C, &CountChart { n: counts.len(), count, plot_n: false }, options)
}

struct CountChart<F> {
    n: usize,
    count: F,
    plot_n: bool,
}

impl<F: Fn(usize) -> EventCount> Recipe for CountChart<F> {
    type Shared = f64;

    fn n_points(&self) -> usize {
        self.n
    }

    fn value(&self, index: usize) -> f64 {
        (self.count)(index).rate()
    }

    fn shared_by_points(&self, basis: &[usize]) -> Result<f64, StatsError> {
        at_least(basis, 1)?;
        let (mut events, mut exposure) = (0.0, 0.0);
        for &index in basis {
            let count = (self.count)(index);
            events += count.events as f64;
            exposure += count.exposure;
        }
        self.shared_by_known(events / exposure).map_err(|error| match error {
            StatsError::NotPositive { value, .. } => StatsError::NoSpread { what: "count", value },
            other => other,
        })
    }

    fn shared_by_known(&self, centre: f64) -> Result<f64, StatsError> {
        positive("known rate", centre)
    }

    fn centre(&self, shared: &f64) -> f64 {
        *shared
    }

    fn place(&self, index: usize, &centre: &f64) -> Placed {
        let count = (self.count)(index);
        let sigma = (centre / count.exposure).sqrt();
        let limits = (centre - SIGMAS * sigma, centre + SIGMAS * sigma);
        let n = self.plot_n.then_some(count.exposure);
        let point = bounded(count.rate(), n, centre, limits, (0.0, f64::INFINITY));
        Placed { point, sigmas: (count.rate() - centre) / sigma }
    }
}
