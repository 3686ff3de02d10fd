//! Krippendorff's alpha: several watchers, missing ratings, any kind of scale.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use crate::agreement::result::NoInterval;
use crate::error::{StatsError, finite};
use crate::value::{ConfidenceLevel, Interval};

/// What the distance between two ratings means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Metric {
    /// Names: same or not.
    Nominal,
    /// Ranks: how many ratings lie between.
    Ordinal,
    /// Differences mean something: (a − b)².
    Interval,
    /// Ratios mean something, from 0 up: ((a − b)/(a + b))².
    Ratio,
}

/// Ratings by case, only of cases rated at least twice.
#[derive(Debug, Clone, PartialEq)]
pub struct ReliabilityData {
    /// The distinct ratings in rising order.
    values: Vec<f64>,
    /// For every case the ratings given, as places in `values`.
    cases: Vec<Vec<usize>>,
    n_left_out: usize,
}

impl ReliabilityData {
    /// One list per watcher, all as long as there are cases, `None` where a watcher did not rate.
    ///
    /// Cases with fewer than two ratings say nothing about agreement and are left out; at least one must remain.
    ///
    /// ```
    /// use stats::agreement::ReliabilityData;
    /// let data = ReliabilityData::new(&[&[Some(1.0), None, Some(2.0)], &[Some(1.0), Some(1.0), Some(3.0)]])?;
    /// assert_eq!((data.n_cases(), data.n_left_out()), (2, 1));
    /// assert!(ReliabilityData::new(&[&[Some(1.0), None], &[None, Some(2.0)]]).is_err());
    /// # Ok::<(), stats::StatsError>(())
    /// ```
    pub fn new<Ratings: AsRef<[Option<f64>]>>(watchers: &[Ratings]) -> Result<Self, StatsError> {
        if watchers.len() < 2 {
            return Err(StatsError::TooFew { what: "watchers", found: watchers.len(), needed: 2 });
        }
        let n_units = watchers[0].as_ref().len();
        let mut by_case: Vec<Vec<f64>> = vec![Vec::new(); n_units];
        for watcher in watchers {
            let ratings = watcher.as_ref();
            if ratings.len() != n_units {
                return Err(StatsError::LengthsDiffer {
                    left_name: "cases of one watcher",
                    left: ratings.len(),
                    right_name: "cases of the first watcher",
                    right: n_units,
                });
            }
            for (case, rating) in by_case.iter_mut().zip(ratings) {
                if let Some(rating) = rating {
                    // Adding zero makes a negative zero the same rating as zero.
                    case.push(finite("rating", *rating)? + 0.0);
                }
            }
        }
        by_case.retain(|case| case.len() > 1);
        if by_case.is_empty() {
            return Err(StatsError::TooFew { what: "cases rated at least twice", found: 0, needed: 1 });
        }
        let mut values: Vec<f64> = by_case.iter().flatten().copied().collect();
        values.sort_by(f64::total_cmp);
        values.dedup();
        let place = |rating: &f64| values.partition_point(|value| value < rating);
        let cases: Vec<Vec<usize>> = by_case.iter().map(|case| case.iter().map(place).collect()).collect();
        let n_left_out = n_units - cases.len();
        Ok(Self { values, cases, n_left_out })
    }

    /// How many cases carry at least two ratings.
    pub fn n_cases(&self) -> usize {
        self.cases.len()
    }

    /// How many cases were left out with fewer than two.
    pub fn n_left_out(&self) -> usize {
        self.n_left_out
    }
}

/// Krippendorff's alpha with what it was made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alpha {
    /// 1 − observed/expected; 1 is full agreement, 0 what chance gives, below 0 less than chance.
    pub estimate: f64,
    /// Mean squared distance within a case, in the unit of the metric; 0 or more.
    pub observed_disagreement: f64,
    /// Mean squared distance between any two ratings, in the unit of the metric; above 0.
    pub expected_disagreement: f64,
    /// Cases with at least two ratings: the denominator.
    pub n_cases: u64,
    /// Ratings of those cases.
    pub n_ratings: u64,
    /// Spread of the resamples; `None` for one case or too few of them.
    pub standard_error: Option<f64>,
    /// The interval, or why there is none.
    pub interval: Result<Interval, NoInterval>,
}

/// Krippendorff's alpha with a bootstrap interval over cases.
///
/// # Formula
/// α = 1 − Do/De. Do = (1/n) Σ_cases Σ_pairs δ(a, b)/(m − 1) over ordered pairs of the m ratings of a case; De = Σ n_a n_b
/// δ(a, b)/(n (n − 1)) over all n ratings. δ: nominal 0 or 1; interval (a − b)²; ratio ((a − b)/(a + b))²; ordinal (n_a/2 +
/// those between + n_b/2)². Interval: percentiles of α over `n_resamples` draws of the cases with replacement
/// (ChaCha8 from `seed`), positions (n + 1)·p as in Hyndman and Fan type 6; standard error their spread.
/// # Range
/// At most 1. `n_resamples` 100 to 1,000,000. Ratio: ratings 0 or more.
/// # Ends
/// Every rating the same: an error, no disagreement was possible. One case: α, no interval. Resamples with one
/// rating throughout are left out, and ones whose squares pass the largest double; more than one in ten of them: no interval. Full agreement: 1, no interval.
/// # Source
/// Krippendorff 2004, Content Analysis, ch. 11; bootstrap over cases: Efron 1979, Ann Stat 7:1 (not the resampling of
/// Hayes and Krippendorff 2007, which draws pairs).
/// # Check
/// The 4 by 12 example on four metrics, a binary example; Python krippendorff on random data, 1e-9. The interval:
/// a second bootstrap in numpy, within the scatter of resampling.
/// # Example
/// ```
/// use stats::{ConfidenceLevel, agreement::{Metric, ReliabilityData, krippendorff_alpha}};
/// // Ratings 0 0 / 0 1: Do = 2/4, De = 2·3·1/(4·3) = 1/2, α = 0.
/// let data = ReliabilityData::new(&[&[Some(0.0), Some(0.0)], &[Some(0.0), Some(1.0)]])?;
/// let alpha = krippendorff_alpha(&data, Metric::Nominal, ConfidenceLevel::default(), 1000, 1)?;
/// assert!(alpha.estimate.abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn krippendorff_alpha(
    data: &ReliabilityData,
    metric: Metric,
    level: ConfidenceLevel,
    n_resamples: usize,
    seed: u64,
) -> Result<Alpha, StatsError> {
    if !(100..=1_000_000).contains(&n_resamples) {
        return Err(StatsError::NotWithin {
            what: "number of resamples",
            value: n_resamples as f64,
            low: 100.0,
            high: 1e6,
        });
    }
    if metric == Metric::Ratio && data.values[0] < 0.0 {
        return Err(StatsError::NotWithin {
            what: "rating on a ratio scale",
            value: data.values[0],
            low: 0.0,
            high: f64::MAX,
        });
    }
    if data.values.len() == 1 {
        return Err(StatsError::NoSpread { what: "rating", value: data.values[0] });
    }
    let mut counts = Counts::new(data.values.len());
    let all: Vec<usize> = (0..data.cases.len()).collect();
    let (seen, chance) = counts.disagreement(data, metric, &all);
    let estimate = finite("agreement", 1.0 - seen / finite("expected disagreement", chance)?)?;

    let mut interval = Err(NoInterval::OneCase);
    let mut standard_error = None;
    if data.cases.len() > 1 {
        let resamples = resample(data, metric, n_resamples, seed, &mut counts);
        (standard_error, interval) = summarise(resamples, n_resamples, level);
    }
    Ok(Alpha {
        estimate,
        observed_disagreement: seen,
        expected_disagreement: chance,
        n_cases: data.cases.len() as u64,
        n_ratings: data.cases.iter().map(|case| case.len() as u64).sum(),
        standard_error,
        interval,
    })
}

/// Alpha of each draw of the cases with replacement, where it can be computed.
fn resample(
    data: &ReliabilityData,
    metric: Metric,
    n_resamples: usize,
    seed: u64,
    counts: &mut Counts,
) -> Vec<f64> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let n_cases = data.cases.len() as u64;
    let mut drawn = vec![0; data.cases.len()];
    let mut alphas = Vec::with_capacity(n_resamples);
    for _ in 0..n_resamples {
        for case in &mut drawn {
            // The high half of a 64 by 64 bit product is uniform on 0..n to within n/2^64.
            *case = ((u128::from(random.next_u64()) * u128::from(n_cases)) >> 64) as usize;
        }
        let (seen, chance) = counts.disagreement(data, metric, &drawn);
        // With huge ratings one draw may pass the largest number where all cases together do not.
        if chance > 0.0 && chance.is_finite() {
            alphas.push(1.0 - seen / chance);
        }
    }
    alphas
}

fn summarise(
    mut alphas: Vec<f64>,
    asked: usize,
    level: ConfidenceLevel,
) -> (Option<f64>, Result<Interval, NoInterval>) {
    let used = alphas.len();
    if used * 10 < asked * 9 {
        return (None, Err(NoInterval::TooFewResamples { used, asked }));
    }
    let mean = alphas.iter().sum::<f64>() / used as f64;
    let squares: f64 = alphas.iter().map(|alpha| (alpha - mean) * (alpha - mean)).sum();
    let error = (squares / (used as f64 - 1.0)).sqrt();
    if error < 1e-12 {
        return (Some(0.0), Err(NoInterval::NoSpreadSeen));
    }
    alphas.sort_by(f64::total_cmp);
    let at = |chance: f64| {
        let position = (chance * (used as f64 + 1.0) - 1.0).clamp(0.0, used as f64 - 1.0);
        let below = position as usize;
        let above = (below + 1).min(used - 1);
        alphas[below] + (position - below as f64) * (alphas[above] - alphas[below])
    };
    let (lower, upper) = (at(level.tail()), at(1.0 - level.tail()));
    (Some(error), Ok(Interval::of(lower.max(-1.0).min(upper), upper, level)))
}

/// Room for the counts of one draw, kept between draws.
struct Counts {
    /// How often each value occurs in the draw.
    totals: Vec<f64>,
    /// How many ratings of the draw lie at or below each value, for the ordinal metric.
    up_to: Vec<f64>,
}

impl Counts {
    fn new(n_values: usize) -> Self {
        Self { totals: vec![0.0; n_values], up_to: vec![0.0; n_values] }
    }

    /// Observed and expected disagreement of the cases drawn.
    fn disagreement(&mut self, data: &ReliabilityData, metric: Metric, drawn: &[usize]) -> (f64, f64) {
        self.totals.fill(0.0);
        for &case in drawn {
            for &value in &data.cases[case] {
                self.totals[value] += 1.0;
            }
        }
        let mut running = 0.0;
        for (up_to, total) in self.up_to.iter_mut().zip(&self.totals) {
            running += total;
            *up_to = running;
        }
        let n = running;
        let distance = |a: usize, b: usize| self.distance(metric, &data.values, a, b);
        let mut seen = 0.0;
        for &case in drawn {
            let ratings = &data.cases[case];
            let mut pairs = 0.0;
            for (i, &a) in ratings.iter().enumerate() {
                for &b in &ratings[i + 1..] {
                    pairs += 2.0 * distance(a, b);
                }
            }
            seen += pairs / (ratings.len() as f64 - 1.0);
        }
        let mut chance = 0.0;
        for a in 0..self.totals.len() {
            for b in a + 1..self.totals.len() {
                chance += 2.0 * self.totals[a] * self.totals[b] * distance(a, b);
            }
        }
        (seen / n, chance / (n * (n - 1.0)))
    }

    fn distance(&self, metric: Metric, values: &[f64], a: usize, b: usize) -> f64 {
        let root = match metric {
            _ if a == b => 0.0,
            Metric::Nominal => 1.0,
            Metric::Ordinal => {
                let (low, high) = (a.min(b), a.max(b));
                let between = self.up_to[high] - self.up_to[low] - self.totals[high];
                self.totals[low] / 2.0 + between + self.totals[high] / 2.0
            }
            Metric::Interval => values[a] - values[b],
            // Two different values from 0 up have a sum above 0.
            Metric::Ratio => (values[a] - values[b]) / (values[a] + values[b]),
        };
        root * root
    }
}
