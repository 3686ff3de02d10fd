//! How long a normal CUSUM runs, by integral equation, by Markov chain, and by a formula.

use nalgebra::{DMatrix, DVector};

use crate::dist::normal_cdf;
use crate::error::{StatsError, finite, within};
use crate::sequential::normal::NormalCusum;
use crate::sequential::run_length::RunLength;

/// Which sums may signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Sides {
    /// The upper sum alone.
    One,
    /// Both sums, with the same allowance, limit and head start.
    Two,
}

/// The largest shift of the mean taken, in standard deviations either way.
const LARGEST_SHIFT: f64 = 30.0;

/// Mean number of measurements until a normal CUSUM signals, when the mean is off target by `shift`.
///
/// # Formula
/// One side: with T(u) = 1 + ∫₀ʰ T(y) φ(y + k − u − δ) dy and G(u) = Φ(u + δ − k − h) + ∫₀ʰ G(y) φ(y + k − u − δ) dy,
/// ARL(0) = T(0)/G(0) and ARL(s) = T(s) + (1 − G(s))·ARL(0). Two sides: with A, B the one-sided values at δ and −δ,
/// (A(s)·B(0) + B(s)·A(0) − A(0)·B(0)) / (A(0) + B(0)), which is 1/(1/A + 1/B) without a head start. Gauss-Legendre
/// nodes, 16 and 4 more per standard deviation of limit.
/// # Range
/// `shift` −30 to 30 standard deviations; answer in measurements, at least 1. Name the sides beside the number:
/// k 0.5, h 5 runs 931 measurements on one side and 465 on two.
/// # Ends
/// Two sides with a head start above h/2 + k: an error, the combination does not hold. A mean beyond the largest
/// double: an error.
/// # Source
/// Page 1954, Biometrika 41:100 (integral equation); Lucas and Crosier 1982, Technometrics 24:199 (head start,
/// combination).
/// # Check
/// 32 run lengths of Lucas and Crosier, 8 of Vance 1986; Clenshaw-Curtis quadrature of the plain equation in numpy on
/// 220 random charts, 1e-9; the R package spc on 219, 1e-8.
/// # Example
/// ```
/// use stats::sequential::{NormalCusum, Sides, normal_mean_run_length};
/// // With a limit near 0 and k = 0 the upper sum signals on the first positive measurement: mean 2, like a coin.
/// let chart = NormalCusum::new(0.0, 1e-12)?;
/// assert!((normal_mean_run_length(chart, 0.0, Sides::One)? - 2.0).abs() < 1e-9);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn normal_mean_run_length(chart: NormalCusum, shift: f64, sides: Sides) -> Result<f64, StatsError> {
    let shift = within("shift in standard deviations", shift, -LARGEST_SHIFT, LARGEST_SHIFT)?;
    let one_side = |shift: f64| -> Result<(f64, f64), StatsError> {
        let moments = Equation::new(chart, shift).solve()?;
        Ok((finite("mean run length", moments.mean_from_zero)?, finite("mean run length", moments.mean)?))
    };
    match sides {
        Sides::One => Ok(one_side(shift)?.1),
        Sides::Two => {
            if chart.head_start() > chart.limit() / 2.0 + chart.allowance() {
                return Err(StatsError::NotWithin {
                    what: "head start of a two-sided chart",
                    value: chart.head_start(),
                    low: 0.0,
                    high: chart.limit() / 2.0 + chart.allowance(),
                });
            }
            let ((a0, a), (b0, b)) = (one_side(shift)?, one_side(-shift)?);
            // Shares rather than products, so two very long run lengths do not overflow.
            let (share_a, share_b) = (a0 / (a0 + b0), b0 / (a0 + b0));
            Ok(a * share_b + b * share_a - a0 * share_b)
        }
    }
}

/// The whole run-length distribution of the upper sum of a normal CUSUM.
///
/// # Formula
/// P(no signal within n from u) = P(n − 1 from 0)·Φ(k − u − δ) + ∫₀ʰ P(n − 1 from y) φ(y + k − u − δ) dy, iterated;
/// once the ratio of successive chances is the same from every start (to 1e-13) the tail is geometric.
/// # Range
/// `shift` −30 to 30 standard deviations. One side only: the two sums of a two-sided chart are not independent.
/// # Ends
/// As `normal_mean_run_length`; more than 200,000 iterations: an error.
/// # Source
/// Waldmann 1986, Technometrics 28:61 (iteration and tail bounds; from memory).
/// # Check
/// Sum of the chances against the mean; powers of a Clenshaw-Curtis chain in numpy on 220 random charts, 1e-9; 220
/// quantiles of the R package spc, exactly.
/// # Example
/// ```
/// use stats::sequential::{NormalCusum, normal_run_length};
/// let run = normal_run_length(NormalCusum::new(0.0, 1e-12)?, 0.0)?;
/// assert!((run.signal_within(3) - 0.875).abs() < 1e-9);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn normal_run_length(chart: NormalCusum, shift: f64) -> Result<RunLength, StatsError> {
    const MOST: usize = 200_000;
    let shift = within("shift in standard deviations", shift, -LARGEST_SHIFT, LARGEST_SHIFT)?;
    let equation = Equation::new(chart, shift);
    let moments = equation.solve()?;
    finite("variance of the run length", moments.mean_square)?;
    let variance = (moments.mean_square - moments.mean * moments.mean).max(0.0);
    let transition = equation.transition_with_zero();
    let n_places = transition.ncols();
    let mut chances = DVector::from_element(n_places, 1.0);
    let mut next = chances.clone();
    let mut no_signal = vec![1.0];
    let mut seen = 0.0;
    while no_signal.len() < MOST {
        next.gemv(1.0, &transition, &chances, 0.0);
        let (mut least, mut most) = (f64::INFINITY, 0.0f64);
        for (new, old) in next.iter().zip(chances.iter()) {
            let ratio = if *old > 0.0 { new / old } else { 0.0 };
            (least, most) = (least.min(ratio), most.max(ratio));
        }
        // The last place is the start of the chart.
        no_signal.push(next[n_places - 1].min(1.0));
        std::mem::swap(&mut chances, &mut next);
        let last = chances[n_places - 1];
        seen += no_signal[no_signal.len() - 2];
        if last < 1e-18 {
            return Ok(RunLength::from_parts(moments.mean, libm::sqrt(variance), no_signal, None));
        }
        if most - least < 1e-13 * most {
            // The mean is the sum of the chances of no signal, and of the tail it is last/(1 − ratio): that gives the
            // ratio to far more digits than one quotient does, as long as the tail holds a share of the mean.
            let rest = moments.mean - seen;
            let decay = if last > 1e-3 && rest > 1e-3 * moments.mean {
                -libm::log1p(-last / rest)
            } else {
                -libm::log(0.5 * (least + most))
            };
            return Ok(RunLength::from_parts(moments.mean, libm::sqrt(variance), no_signal, Some(decay)));
        }
    }
    Err(StatsError::DidNotSettle {
        what: "the run-length distribution",
        steps: MOST,
        last: no_signal[no_signal.len() - 1],
    })
}

/// Mean run length of the upper sum by a Markov chain of `n_states` states; coarse, kept to compare with print.
///
/// # Formula
/// State width w = 2h/(2t − 1); from i to j with chance Φ((j − i)w + w/2 + k − δ) − Φ((j − i)w − w/2 + k − δ), to 0
/// with Φ(w/2 − iw + k − δ); means solve (I − R)μ = 1.
/// # Range
/// `n_states` t 2 to 500; `shift` −30 to 30 standard deviations; no head start. Below the true value, by about
/// 4 % at t = 5 and 0.008 % at t = 100.
/// # Ends
/// A system that cannot be solved (the chart hardly ever signals): an error.
/// # Source
/// Brook and Evans 1972, Biometrika 59:539, sections 2-3.
/// # Check
/// k 0.5: h 3 with t = 5, 10, 50, 100; h 4 with t = 5, 50; h 5 with t = 50.
/// # Example
/// ```
/// use stats::sequential::{NormalCusum, brook_evans_mean_run_length};
/// let chain = brook_evans_mean_run_length(NormalCusum::new(0.5, 3.0)?, 0.0, 5)?;
/// assert!((chain - 113.4739).abs() < 5e-5);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn brook_evans_mean_run_length(
    chart: NormalCusum,
    shift: f64,
    n_states: usize,
) -> Result<f64, StatsError> {
    let shift = within("shift in standard deviations", shift, -LARGEST_SHIFT, LARGEST_SHIFT)?;
    within("number of states", n_states as f64, 2.0, 500.0)?;
    if chart.head_start() > 0.0 {
        return Err(StatsError::DoesNotApply {
            what: "the Markov chain of states",
            because: "it is kept for charts without a head start",
        });
    }
    let width = 2.0 * chart.limit() / (2.0 * n_states as f64 - 1.0);
    let towards = chart.allowance() - shift;
    let system = DMatrix::from_fn(n_states, n_states, |i, j| {
        let apart = (j as f64 - i as f64) * width + towards;
        let chance = if j == 0 {
            normal_cdf(apart + width / 2.0)
        } else {
            normal_cdf(apart + width / 2.0) - normal_cdf(apart - width / 2.0)
        };
        if i == j { 1.0 - chance } else { -chance }
    });
    let means = system
        .lu()
        .solve(&DVector::from_element(n_states, 1.0))
        .ok_or(StatsError::NoAnswer { what: "mean run length by Markov chain", most: u64::MAX })?;
    finite("mean run length", means[0])
}

/// Mean run length of a normal CUSUM by Siegmund's formula: good to a few per cent, for a first look.
///
/// # Formula
/// One side: (e^(−2Δb) + 2Δb − 1)/(2Δ²) with Δ = δ − k, b = h + 1.166, and b² at Δ = 0. Two sides:
/// 1/ARL = 1/ARL(δ) + 1/ARL(−δ).
/// # Range
/// `shift` −30 to 30 standard deviations; no head start.
/// # Ends
/// A head start: an error. Δ = 0: b². A mean beyond the largest double: an error.
/// # Source
/// Siegmund 1985, Sequential Analysis, sec. 2.6 (formula from memory and a second source).
/// # Check
/// k 0.5, h 4 and 5, eight shifts, two-sided; one-sided h 5: 938.222 and 10.3362.
/// # Example
/// ```
/// use stats::sequential::{NormalCusum, siegmund_mean_run_length, Sides};
/// // Shift equal to k: (4 + 1.166)².
/// let arl = siegmund_mean_run_length(NormalCusum::new(0.5, 4.0)?, 0.5, Sides::One)?;
/// assert!((arl - 5.166 * 5.166).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn siegmund_mean_run_length(chart: NormalCusum, shift: f64, sides: Sides) -> Result<f64, StatsError> {
    let shift = within("shift in standard deviations", shift, -LARGEST_SHIFT, LARGEST_SHIFT)?;
    if chart.head_start() > 0.0 {
        return Err(StatsError::DoesNotApply {
            what: "Siegmund's formula",
            because: "it is for charts without a head start",
        });
    }
    let b = chart.limit() + 1.166;
    let one_side = |shift: f64| {
        let x = -2.0 * (shift - chart.allowance()) * b;
        // (e^x − 1 − x)/x² · 2b²; the series avoids the cancellation near Δ = 0.
        let ratio = if x.abs() < 1e-3 {
            0.5 + x / 6.0 + x * x / 24.0 + x * x * x / 120.0
        } else {
            (libm::expm1(x) - x) / (x * x)
        };
        2.0 * b * b * ratio
    };
    let arl = match sides {
        Sides::One => one_side(shift),
        Sides::Two => 1.0 / (1.0 / one_side(shift) + 1.0 / one_side(-shift)),
    };
    finite("mean run length", arl)
}

fn normal_density(x: f64) -> f64 {
    const ONE_OVER_ROOT_TWO_PI: f64 = 0.398_942_280_401_432_7;
    ONE_OVER_ROOT_TWO_PI * libm::exp(-0.5 * x * x)
}

struct Moments {
    mean_from_zero: f64,
    mean: f64,
    mean_square: f64,
}

/// The integral equation on quadrature nodes: places are the nodes, then 0, then the head start.
struct Equation {
    chart: NormalCusum,
    shift: f64,
    places: Vec<f64>,
    weights: Vec<f64>,
}

impl Equation {
    fn new(chart: NormalCusum, shift: f64) -> Self {
        // More nodes change nothing but rounding: tried up to limits of 50 against 60 and 14 per unit.
        let n_nodes = 16 + libm::ceil(4.0 * chart.limit()) as usize;
        let (nodes, mut weights) = gauss_legendre(n_nodes);
        let half = chart.limit() / 2.0;
        let mut places: Vec<f64> = nodes.iter().map(|node| half * (node + 1.0)).collect();
        weights.iter_mut().for_each(|weight| *weight *= half);
        places.push(0.0);
        places.push(chart.head_start());
        Self { chart, shift, places, weights }
    }

    /// Weighted density of moving from one place to a node.
    fn to_node(&self, from: f64, node: usize) -> f64 {
        self.weights[node] * normal_density(self.places[node] + self.chart.allowance() - from - self.shift)
    }

    fn to_zero(&self, from: f64) -> f64 {
        normal_cdf(self.chart.allowance() - from - self.shift)
    }

    fn to_signal(&self, from: f64) -> f64 {
        normal_cdf(from + self.shift - self.chart.allowance() - self.chart.limit())
    }

    /// The cycle from zero to zero or to the signal, as in the two-step charts: nothing cancels when the chart
    /// hardly ever signals, which a direct solve for the mean would not survive.
    fn solve(&self) -> Result<Moments, StatsError> {
        let n = self.weights.len();
        let system = DMatrix::from_fn(n, n, |i, j| {
            let chance = self.to_node(self.places[i], j);
            if i == j { 1.0 - chance } else { -chance }
        });
        let lu = system.lu();
        let no_answer = StatsError::NoAnswer { what: "mean run length", most: u64::MAX };
        // X(u) = rhs(u) + ∫ X(y) φ dy on the nodes, then carried to any place by the same equation.
        let solve = |rhs: &dyn Fn(f64, Option<usize>) -> f64| -> Result<Solution, StatsError> {
            let right = DVector::from_fn(n, |i, _| rhs(self.places[i], Some(i)));
            let nodes = lu.solve(&right).ok_or(no_answer.clone())?;
            let carried = |place: f64| {
                rhs(place, None) + (0..n).map(|j| self.to_node(place, j) * nodes[j]).sum::<f64>()
            };
            Ok(Solution { at_zero: carried(0.0), at_start: carried(self.chart.head_start()), nodes })
        };
        let length = solve(&|_, _| 1.0)?;
        let signal = solve(&|place, _| self.to_signal(place))?;
        let back = solve(&|place, _| self.to_zero(place))?;
        // E[T²] and E[T; back]: one step later both T and its event carry on, so E[T²](u) = 2T(u) − 1 + ∫ E[T²] φ
        // and E[T; back](u) = back(u) + ∫ E[T; back] φ.
        let at = |solution: &Solution, place: f64, node: Option<usize>| match node {
            Some(i) => solution.nodes[i],
            None if place == 0.0 => solution.at_zero,
            None => solution.at_start,
        };
        let square = solve(&|place, node| 2.0 * at(&length, place, node) - 1.0)?;
        let length_back = solve(&|place, node| at(&back, place, node))?;
        let mean_from_zero = length.at_zero / signal.at_zero;
        let square_from_zero = (square.at_zero + 2.0 * length_back.at_zero * mean_from_zero) / signal.at_zero;
        Ok(Moments {
            mean_from_zero,
            mean: length.at_start + back.at_start * mean_from_zero,
            mean_square: square.at_start
                + 2.0 * length_back.at_start * mean_from_zero
                + back.at_start * square_from_zero,
        })
    }

    /// Chances of moving between all places; the column of 0 holds the mass at zero, the head start is never
    /// moved to.
    fn transition_with_zero(&self) -> DMatrix<f64> {
        let n = self.weights.len();
        DMatrix::from_fn(n + 2, n + 2, |i, j| {
            if j < n {
                self.to_node(self.places[i], j)
            } else if j == n {
                self.to_zero(self.places[i])
            } else {
                0.0
            }
        })
    }
}

struct Solution {
    nodes: DVector<f64>,
    at_zero: f64,
    at_start: f64,
}

/// Nodes and weights of Gauss-Legendre quadrature on −1 to 1: roots of the Legendre polynomial by Newton from
/// Tricomi's estimate (Abramowitz and Stegun 25.4.29 for the weights, 22.16.6 for the estimate; from memory).
fn gauss_legendre(n: usize) -> (Vec<f64>, Vec<f64>) {
    let (mut nodes, mut weights) = (vec![0.0; n], vec![0.0; n]);
    let order = n as f64;
    for i in 0..n.div_ceil(2) {
        let mut x = libm::cos(std::f64::consts::PI * (i as f64 + 0.75) / (order + 0.5));
        let mut slope = 1.0;
        for _ in 0..100 {
            let (mut value, mut before) = (1.0, 0.0);
            for j in 0..n {
                let j = j as f64;
                (value, before) = (((2.0 * j + 1.0) * x * value - j * before) / (j + 1.0), value);
            }
            slope = order * (x * value - before) / (x * x - 1.0);
            let change = value / slope;
            x -= change;
            if change.abs() < 1e-15 {
                break;
            }
        }
        let weight = 2.0 / ((1.0 - x * x) * slope * slope);
        (nodes[i], nodes[n - 1 - i]) = (-x, x);
        (weights[i], weights[n - 1 - i]) = (weight, weight);
    }
    (nodes, weights)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz and Stegun Table 25.4 for n = 5 (from memory), and exactness on polynomials of degree 2n − 1.
    #[test]
    fn quadrature_is_exact_where_it_must_be() {
        let (nodes, weights) = gauss_legendre(5);
        assert!((nodes[4] - 0.906_179_845_938_664).abs() < 1e-15);
        assert!((weights[2] - 0.568_888_888_888_889).abs() < 1e-15);
        for n in [1, 2, 5, 32, 83, 532] {
            let (nodes, weights) = gauss_legendre(n);
            let total: f64 = weights.iter().sum();
            assert!((total - 2.0).abs() < 1e-13, "{n}: {total}");
            let power = 2 * n as i32 - 2;
            let integral: f64 = nodes.iter().zip(&weights).map(|(x, w)| w * x.powi(power)).sum();
            assert!((integral * f64::from(power + 1) / 2.0 - 1.0).abs() < 1e-11, "{n}: {integral}");
        }
    }
}
