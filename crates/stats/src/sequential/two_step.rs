//! Charts of yes-or-no outcomes whose sum rises by one size and falls by another, never below zero.

use crate::error::{StatsError, finite, positive, within};
use crate::sequential::run_length::{Cycle, RunLength};
use crate::sequential::skip_free;
use crate::sequential::walk::{Band, CycleTotals, Walk, follow};
use crate::value::Probability;

/// Which outcome moves the sum towards the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RisesOn {
    /// The event, such as a contaminated set: the chart watches for a rate that went up.
    Event,
    /// Its absence, such as a draw without a fault: the chart waits until the rate is shown to be low.
    NonEvent,
}

/// A cumulative sum S = max(0, S + weight) with two weights, which signals when S reaches the limit.
///
/// Weights and limit share one unit (logarithm of odds, or lattice steps). A sum within 1e-12 of the limit, as a share
/// of it, counts as reaching it, and one so near 0 as 0. Made by `log_likelihood_cusum`,
/// `lattice_cusum`, `learning_curve_cusum` and `ratio_slope_cusum`, or from weights directly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoStepCusum {
    rise: f64,
    fall: f64,
    limit: f64,
    head_start: f64,
    rises_on: RisesOn,
}

impl TwoStepCusum {
    /// A chart that rises by `rise` (above 0) on one outcome, falls by `fall` (above 0) on the other, starts at 0
    /// and signals at or above `limit` (above 0, at most 1e9 rises).
    ///
    /// ```
    /// use stats::sequential::{RisesOn, TwoStepCusum};
    /// let chart = TwoStepCusum::new(2.0, 1.0, 4.0, RisesOn::Event)?;
    /// assert_eq!(chart.path(&[true, false, false, false, true, true]), [2.0, 1.0, 0.0, 0.0, 2.0, 4.0]);
    /// assert_eq!(
    ///     TwoStepCusum::new(2.0, -1.0, 4.0, RisesOn::Event).unwrap_err().to_string(),
    ///     "fall of the chart -1 is not above 0"
    /// );
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn new(rise: f64, fall: f64, limit: f64, rises_on: RisesOn) -> Result<Self, StatsError> {
        let rise = positive("rise of the chart", rise)?;
        let fall = positive("fall of the chart", fall)?;
        let limit = positive("limit of the chart", limit)?;
        // Beyond that no run length could be worked out, and whole numbers of steps would stop being exact.
        within("limit of the chart, in rises", limit / rise, 0.0, 1e9)?;
        Ok(Self { rise, fall, limit, head_start: 0.0, rises_on })
    }

    /// The same chart with its first value at `head_start`, from 0 up to but not including the limit.
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

    /// The same chart with another limit, above the head start.
    pub fn with_limit(self, limit: f64) -> Result<Self, StatsError> {
        Self::new(self.rise, self.fall, limit, self.rises_on)?.with_head_start(self.head_start)
    }

    /// What the outcome towards the limit adds.
    pub fn rise(self) -> f64 {
        self.rise
    }

    /// What the other outcome takes away, as a positive number.
    pub fn fall(self) -> f64 {
        self.fall
    }

    /// Where the chart signals.
    pub fn limit(self) -> f64 {
        self.limit
    }

    /// Where the chart starts.
    pub fn head_start(self) -> f64 {
        self.head_start
    }

    /// Which outcome moves the sum towards the limit.
    pub fn rises_on(self) -> RisesOn {
        self.rises_on
    }

    /// The fewest observations that can bring a signal from zero: all of them towards the limit.
    pub fn fewest_to_signal(self) -> u64 {
        let mut n = libm::floor(self.limit / self.rise).max(1.0) as u64;
        // The division may round across a tie; the chart's own arithmetic decides.
        let signals = |n: u64| self.band(0.0).is_above(self.band(0.0).place(n, 0));
        while n > 1 && signals(n - 1) {
            n -= 1;
        }
        while !signals(n) {
            n += 1;
        }
        n
    }

    /// The chart before its first observation.
    pub fn start(self) -> TwoStepState {
        TwoStepState { chart: self, base: self.head_start, ups: 0, downs: 0, n_observations: 0 }
    }

    /// The value after each outcome (`true` is an event). The sum goes on after a signal.
    pub fn path(self, outcomes: &[bool]) -> Vec<f64> {
        let mut state = self.start();
        outcomes.iter().map(|&event| state.push(event)).collect()
    }

    /// The number of the first observation, counted from 1, at which the chart signals.
    pub fn first_signal(self, outcomes: &[bool]) -> Option<usize> {
        let mut state = self.start();
        outcomes
            .iter()
            .position(|&event| {
                state.push(event);
                state.signals()
            })
            .map(|index| index + 1)
    }

    /// The chance that one observation moves the sum up.
    fn chance_up(self, event_rate: Probability) -> f64 {
        match self.rises_on {
            RisesOn::Event => event_rate.get(),
            RisesOn::NonEvent => 1.0 - event_rate.get(),
        }
    }

    /// Rise, first place that signals and head start, counted in falls: where these are whole numbers, and few enough
    /// for the places to be taken one by one.
    fn whole_falls(self) -> Option<[usize; 3]> {
        // Some hundredths of a second of work, and 24 MB at the most.
        const MOST: f64 = 1e6;
        let falls_to_limit = self.limit / self.fall;
        if falls_to_limit > MOST || self.rise % self.fall != 0.0 || self.head_start % self.fall != 0.0 {
            return None;
        }
        let mut limit = libm::floor(falls_to_limit);
        // The division may round across a tie; the chart's own arithmetic decides.
        while !self.band(0.0).is_above(limit * self.fall) {
            limit += 1.0;
        }
        let (rise, head_start) = ((self.rise / self.fall).min(limit), self.head_start / self.fall);
        // A head start within rounding of the limit has its first observation there; the walk knows how.
        (head_start < limit).then(|| [rise, limit, head_start].map(|falls| falls as usize))
    }

    fn band(self, start: f64) -> Band {
        Band { start, up: self.rise, down: self.fall, lower: 0.0, upper: self.limit }
    }
}

/// A chart in use: what has been added since the sum last stood at zero.
///
/// Counts are kept rather than a running sum, so no rounding builds up and the chart signals exactly where its
/// run length says it does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoStepState {
    chart: TwoStepCusum,
    base: f64,
    ups: u64,
    downs: u64,
    n_observations: u64,
}

impl TwoStepState {
    /// Takes one outcome (`true` is an event) and gives the new value.
    pub fn push(&mut self, event: bool) -> f64 {
        self.n_observations += 1;
        if event == (self.chart.rises_on == RisesOn::Event) {
            self.ups += 1;
        } else {
            self.downs += 1;
        }
        if self.chart.band(self.base).is_below(self.value()) {
            (self.base, self.ups, self.downs) = (0.0, 0, 0);
        }
        self.value()
    }

    /// The value of the sum, at least 0.
    pub fn value(&self) -> f64 {
        self.chart.band(self.base).place(self.ups, self.downs)
    }

    /// Whether the sum stands at or above the limit.
    pub fn signals(&self) -> bool {
        self.chart.band(self.base).is_above(self.value())
    }

    /// How many outcomes the chart has taken.
    pub fn n_observations(&self) -> u64 {
        self.n_observations
    }
}

/// Mean number of observations until a two-step chart signals, when every outcome is an event with the same chance.
///
/// # Formula
/// A cycle runs from zero until the sum is at zero again (chance f, mean length included in t) or at the limit
/// (chance g). ARL = t / g, the mean length of a cycle over its chance of a signal; with a head start the first
/// cycle starts there and ARL = t' + f'·t/g. The places a cycle can reach are followed one by one; where rise and head
/// start are whole numbers of falls (a lattice), t and g follow in one pass over the places from the limit down.
/// # Range
/// `event_rate` 0 to 1, chance of an event per observation. Answer in observations, at least 1; `None` when the
/// chart cannot signal at that rate.
/// # Ends
/// Event rate 0 on a chart that rises on events (or 1 on one that rises without): `None`. Rate 1: the fewest
/// observations to signal. A mean beyond the largest double, or a walk longer than 20,000,000 steps: an error.
/// # Source
/// Page 1954, Biometrika 41:100 (the cycle argument: ARL is mean length over chance of a signal); followed by
/// states as in Brook and Evans 1972, Biometrika 59:539, with every reachable sum a state.
/// # Check
/// 24 log-likelihood and 18 lattice values recomputed by two methods, a hand case (27.241379), the known mean of k
/// successes in a row; the whole linear system in numpy on 220 random lattices (1e-9, its own precision) and filters in
/// scipy on 220 log-likelihood charts (1e-12).
/// # Example
/// ```
/// use stats::{Probability, sequential::{lattice_cusum, two_step_mean_run_length}};
/// // Up 2, down 1, signal at 4, chance 0.2. By hand: L0 = 5 + L2, L2 = 5.16 + 0.768 L2.
/// let arl = two_step_mean_run_length(lattice_cusum(3, 4)?, Probability::new(0.2)?)?.unwrap();
/// assert!((arl - (5.0 + 5.16 / 0.232)).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn two_step_mean_run_length(
    chart: TwoStepCusum,
    event_rate: Probability,
) -> Result<Option<f64>, StatsError> {
    let chance_up = chart.chance_up(event_rate);
    if chance_up == 0.0 {
        return Ok(None);
    }
    if let Some([rise, limit, head_start]) = chart.whole_falls() {
        let mean = skip_free::mean_run_length(rise, limit, head_start, chance_up);
        return finite("mean run length", mean).map(Some);
    }
    let again = follow(chart.band(0.0), chance_up, |_| ())?;
    let first =
        if chart.head_start > 0.0 { follow(chart.band(chart.head_start), chance_up, |_| ())? } else { again };
    let (mean, _) = moments(first, again);
    finite("mean run length", mean).map(Some)
}

/// Mean and mean square of the run length from the totals of the first cycle and of those after it.
fn moments(first: CycleTotals, again: CycleTotals) -> (f64, f64) {
    let mean_again = again.mean_steps / again.above;
    let square_again = (again.mean_square_steps + 2.0 * again.mean_steps_below * mean_again) / again.above;
    let mean = first.mean_steps + first.below * mean_again;
    let square =
        first.mean_square_steps + 2.0 * first.mean_steps_below * mean_again + first.below * square_again;
    (mean, square)
}

/// The whole run-length distribution of a two-step chart: mean, quantiles, chance of a signal within n.
///
/// # Formula
/// With f_k, g_k the chances that a cycle ends at zero or at the limit in its k-th step, the chance z_n that a
/// cycle starts after n observations is z_n = Σ f_k z_(n−k), and P(signal at n) = Σ g_k z_(n−k). Once the chance of
/// no signal falls by a constant factor per observation (checked against the pole Σ f_k e^(kθ) = 1 to 1e-12), the
/// tail is that geometric one.
/// # Range
/// As `two_step_mean_run_length`; `None` when the chart cannot signal.
/// # Ends
/// As `two_step_mean_run_length`.
/// # Source
/// Feller 1968, An Introduction to Probability Theory and Its Applications vol. 1, XIII.3 (renewal equation) and
/// XIII.10-11 (geometric tail) (from memory).
/// # Check
/// Powers of the whole transition matrix in numpy on 220 random lattices, 1e-10; enumeration of all strings of 12 outcomes.
/// # Example
/// ```
/// use stats::{Probability, sequential::{lattice_cusum, two_step_run_length}};
/// // Up 2, down 1, signal at 4: two events in a row, or event, non-event, event, event, and so on.
/// let run = two_step_run_length(lattice_cusum(3, 4)?, Probability::new(0.2)?)?.unwrap();
/// assert!((run.signal_within(2) - 0.04).abs() < 1e-15);
/// assert!((run.mean() - 27.241379).abs() < 1e-6);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn two_step_run_length(
    chart: TwoStepCusum,
    event_rate: Probability,
) -> Result<Option<RunLength>, StatsError> {
    let chance_up = chart.chance_up(event_rate);
    if chance_up == 0.0 {
        return Ok(None);
    }
    let mut again = Cycle::default();
    let totals = follow(chart.band(0.0), chance_up, |step| again.push(step))?;
    let mut first = None;
    let mut first_totals = totals;
    if chart.head_start > 0.0 {
        let mut cycle = Cycle::default();
        first_totals = follow(chart.band(chart.head_start), chance_up, |step| cycle.push(step))?;
        first = Some(cycle);
    }
    let (mean, mean_square) = moments(first_totals, totals);
    let variance = mean_square - mean * mean;
    finite("variance of the run length", variance)?;
    // Steps of the two kinds needed to cross the band: no pattern of the chart has a longer period.
    let memory = chart.limit / chart.rise.min(chart.fall);
    RunLength::from_cycles(first.as_ref(), &again, mean, libm::sqrt(variance.max(0.0)), memory as usize + 8)
        .map(Some)
}

/// Chance that a two-step chart signals within the first `n` observations.
///
/// # Formula
/// The renewal equation of `two_step_run_length`, carried no further than n.
/// # Range
/// `n` 0 to 100,000 observations; answer 0 to 1. For more, ask `two_step_run_length`.
/// # Ends
/// n = 0: 0. Below the fewest observations that can signal: 0.
/// # Source
/// As `two_step_run_length`.
/// # Check
/// As `two_step_run_length`.
/// # Example
/// ```
/// use stats::{Probability, sequential::{learning_curve_cusum, two_step_signal_within}};
/// // Eleven faultless draws in a row pass this chart and nothing shorter does.
/// let chart = learning_curve_cusum(Probability::new(0.10)?, Probability::new(0.10)?, 1.25)?;
/// let pass = two_step_signal_within(chart, Probability::new(0.10)?, 11)?;
/// assert!((pass.get() - 0.9f64.powi(11)).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn two_step_signal_within(
    chart: TwoStepCusum,
    event_rate: Probability,
    n: u64,
) -> Result<Probability, StatsError> {
    const MOST: u64 = 100_000;
    if n > MOST {
        return Err(StatsError::CountTooLarge { what: "number of observations", value: n, most: MOST });
    }
    let chance_up = chart.chance_up(event_rate);
    let cycle_from = |start: f64| {
        let mut walk = Walk::new(chart.band(start), chance_up);
        let mut cycle = Cycle::default();
        for _ in 0..n {
            let step = walk.step();
            cycle.push(step);
            // An emptied walk stays empty, and its zeros need not be kept.
            if step.inside == 0.0 {
                break;
            }
        }
        cycle
    };
    let again = cycle_from(0.0);
    let other_first = (chart.head_start > 0.0).then(|| cycle_from(chart.head_start));
    let first = other_first.as_ref().unwrap_or(&again);
    Probability::new(first.signal_within(&again, n as usize).clamp(0.0, 1.0))
}
