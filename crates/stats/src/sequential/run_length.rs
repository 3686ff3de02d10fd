//! The distribution of the number of observations until a chart signals.

use crate::error::StatsError;
use crate::sequential::walk::Step;
use crate::value::Probability;

/// Multiplications a distribution may take before it is refused; the charts of this room need a hundredth.
const MOST_PRODUCTS: u64 = 4_000_000_000;

/// Observations after which a distribution that has neither run out nor become geometric is refused.
const MOST_OBSERVATIONS: usize = 5_000_000;

/// How many observations a chart runs until it signals, at one true state of the world.
#[derive(Debug, Clone, PartialEq)]
pub struct RunLength {
    mean: f64,
    standard_deviation: f64,
    /// Chance of no signal within n observations, from n = 0 on.
    no_signal: Vec<f64>,
    /// From the end of `no_signal` on, the chance falls by e to minus this per observation; `None` where it has run
    /// out.
    decay: Option<f64>,
}

impl RunLength {
    /// Mean number of observations until the signal, at least 1.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Standard deviation of the number of observations.
    pub fn standard_deviation(&self) -> f64 {
        self.standard_deviation
    }

    /// The chance, 0 to 1, of a signal within the first `n` observations.
    pub fn signal_within(&self, n: u64) -> f64 {
        (1.0 - self.no_signal_within(n)).clamp(0.0, 1.0)
    }

    /// The chance, 0 to 1, of no signal within the first `n` observations, exact in the far tail too.
    pub fn no_signal_within(&self, n: u64) -> f64 {
        let last = self.no_signal.len() - 1;
        match (usize::try_from(n), self.decay) {
            (Ok(index), _) if index <= last => self.no_signal[index],
            (_, None) => 0.0,
            (_, Some(decay)) => self.no_signal[last] * libm::exp(-decay * (n - last as u64) as f64),
        }
    }

    /// The smallest number of observations within which a signal comes with at least this chance; `None` for a
    /// chance of 1, which no number reaches, and for one beyond the resolution of the tail.
    pub fn quantile(&self, chance: Probability) -> Option<u64> {
        let wanted = 1.0 - chance.get();
        if wanted <= 0.0 {
            return None;
        }
        // A relative slack of a few roundings, so a tie such as P(N ≤ n) = 0.5 exactly is found at n.
        let met = |no_signal: f64| no_signal <= wanted * (1.0 + 1e-13);
        let index = self.no_signal.partition_point(|&no_signal| !met(no_signal));
        if index < self.no_signal.len() {
            return Some(index as u64);
        }
        let decay = self.decay?;
        let last = self.no_signal.len() as u64 - 1;
        let more = -libm::log(wanted / self.no_signal[last as usize]) / decay;
        // Beyond that a count is no longer exact.
        if more > 9e15 {
            return None;
        }
        let mut n = last + libm::floor(more).max(0.0) as u64;
        while !met(self.no_signal_within(n)) {
            n += 1;
        }
        Some(n)
    }

    /// For a chart whose chances are already worked out; `decay` continues the last of `no_signal`.
    pub(crate) fn from_parts(
        mean: f64,
        standard_deviation: f64,
        no_signal: Vec<f64>,
        decay: Option<f64>,
    ) -> Self {
        Self { mean, standard_deviation, no_signal, decay }
    }

    /// Solves the renewal equation. `first` is the first cycle where it differs from `again`, those after it;
    /// `memory` is a number of observations longer than any repeating pattern of the chart.
    pub(crate) fn from_cycles(
        first: Option<&Cycle>,
        again: &Cycle,
        mean: f64,
        standard_deviation: f64,
        memory: usize,
    ) -> Result<Self, StatsError> {
        let tail = Tail::of(first, again);
        let first = first.unwrap_or(again);
        let mut starts = Starts::new();
        let mut no_signal = vec![1.0];
        let mut n_settled = 0;
        let mut n_products = 0u64;
        loop {
            let n = no_signal.len();
            starts.extend(first, again);
            let inside = first.inside_after(n) + starts.newest() + starts.since(&again.inside, n);
            no_signal.push(inside.clamp(0.0, 1.0));
            if inside < 1e-18 {
                return Ok(Self { mean, standard_deviation, no_signal, decay: None });
            }
            if let Some(tail) = &tail {
                let expected = tail.amplitude * libm::exp(-tail.rate * n as f64);
                // Each observation may add a rounding, so the agreement asked for loosens by a few of them.
                let near = 1e-12 + 4.0 * f64::EPSILON * n as f64;
                n_settled = if (inside / expected - 1.0).abs() < near { n_settled + 1 } else { 0 };
                // Two periods of agreement: the other terms have died, they are not merely passing through zero.
                if n_settled > 2 * memory {
                    return Ok(Self { mean, standard_deviation, no_signal, decay: Some(tail.rate) });
                }
            }
            n_products += 2 * n.min(again.below.len()) as u64;
            if n_products > MOST_PRODUCTS || n > MOST_OBSERVATIONS {
                return Err(StatsError::DidNotSettle {
                    what: "the run-length distribution",
                    steps: n,
                    last: inside,
                });
            }
        }
    }
}

/// The chances of one cycle, step by step: back at zero, at the limit, still between.
#[derive(Debug, Clone, Default)]
pub(crate) struct Cycle {
    below: Vec<f64>,
    above: Vec<f64>,
    inside: Vec<f64>,
}

impl Cycle {
    pub(crate) fn push(&mut self, step: Step) {
        self.below.push(step.left_below);
        self.above.push(step.left_above);
        self.inside.push(step.inside);
    }

    fn inside_after(&self, n: usize) -> f64 {
        self.inside.get(n - 1).copied().unwrap_or(0.0)
    }

    /// Chance of a signal within n observations when this is the first cycle and `again` are the others.
    pub(crate) fn signal_within(&self, again: &Cycle, n: usize) -> f64 {
        let mut starts = Starts::new();
        let mut total: f64 = self.above.iter().take(n).sum();
        for _ in 1..n {
            starts.extend(self, again);
        }
        // A later cycle that signals in its k-th step has started after n − k observations at the latest.
        let mut n_starts = 0.0;
        let mut started_by: Vec<f64> = Vec::with_capacity(n);
        for start in &starts.chances {
            n_starts += start;
            started_by.push(n_starts);
        }
        total +=
            started_by.iter().rev().zip(&again.above).map(|(starts, chance)| starts * chance).sum::<f64>();
        total
    }
}

/// z_n: the chance that a later cycle starts right after n observations. z_0 is 0: the first cycle starts there.
struct Starts {
    /// Newest first would need shifting; oldest first, read backwards.
    chances: Vec<f64>,
}

impl Starts {
    fn new() -> Self {
        Self { chances: vec![0.0] }
    }

    fn newest(&self) -> f64 {
        self.chances[self.chances.len() - 1]
    }

    /// Σ_(k ≥ 1) steps_k · z_(n−k), where `steps[0]` is k = 1.
    fn since(&self, steps: &[f64], n: usize) -> f64 {
        let length = steps.len().min(n);
        let starts = &self.chances[n - length..n];
        let steps = &steps[..length];
        // Four sums side by side: one alone waits for each addition, and most of the work of a distribution is here.
        let (starts_by_four, steps_by_four) = (starts.rchunks_exact(4), steps.chunks_exact(4));
        let left_over = starts_by_four.remainder().iter().rev().zip(steps_by_four.remainder());
        let mut sums = [0.0; 4];
        for (starts, steps) in starts_by_four.zip(steps_by_four) {
            for (index, sum) in sums.iter_mut().enumerate() {
                *sum += starts[3 - index] * steps[index];
            }
        }
        sums.iter().sum::<f64>() + left_over.map(|(start, step)| start * step).sum::<f64>()
    }

    fn extend(&mut self, first: &Cycle, again: &Cycle) {
        let n = self.chances.len();
        let next = first.below.get(n - 1).copied().unwrap_or(0.0) + self.since(&again.below, n);
        self.chances.push(next);
    }
}

/// P(no signal within n) ≈ amplitude · e^(−rate·n) for large n.
struct Tail {
    amplitude: f64,
    rate: f64,
}

impl Tail {
    /// The pole of the renewal equation, or `None` when the cycles themselves die more slowly than it does.
    fn of(first: Option<&Cycle>, again: &Cycle) -> Option<Self> {
        let signal: f64 = again.above.iter().sum();
        let mut rate = 0.0;
        // Σ f_k (e^(kθ) − 1) = g is convex and rising in θ: Newton from 0 overshoots once, then falls to the root.
        for _ in 0..200 {
            let (mut value, mut slope) = (-signal, 0.0);
            for (index, chance) in again.below.iter().enumerate() {
                let k = (index + 1) as f64;
                value += chance * libm::expm1(k * rate);
                slope += chance * k * libm::exp(k * rate);
            }
            let change = value / slope;
            if !change.is_finite() {
                return None;
            }
            rate -= change;
            if change.abs() <= 1e-15 * rate {
                break;
            }
        }
        let weighted = |chances: &[f64]| -> f64 {
            chances.iter().enumerate().map(|(i, c)| c * libm::exp((i + 1) as f64 * rate)).sum()
        };
        // The cut-off end of the cycle must be nothing even when blown up by the tail.
        let length = again.inside.len();
        let blown_up = again.inside[length - 1] * libm::exp(length as f64 * rate) * length as f64;
        if !(rate > 0.0 && blown_up < 1e-14) {
            return None;
        }
        let mean_weight: f64 = again
            .below
            .iter()
            .enumerate()
            .map(|(i, c)| c * (i + 1) as f64 * libm::exp((i + 1) as f64 * rate))
            .sum();
        let starts = first.map_or(1.0, |cycle| weighted(&cycle.below));
        let amplitude = starts / mean_weight * (1.0 + weighted(&again.inside));
        amplitude.is_finite().then_some(Self { amplitude, rate })
    }
}
