//! Run rules: what a chart says beyond single points outside the limits.

use crate::charts::chart::{ChartKind, ChartPoint, Rule, Signal};
use crate::charts::plan::Drawn;
use crate::charts::sentence;
use crate::dist::binomial_quantile;
use crate::error::{StatsError, finite};

/// The fewest points off the median for which a chart reports the runs analysis; the published table of
/// limits starts here.
const FEWEST_FOR_RUNS: usize = 10;

/// Which rules look for signals: beyond a limit, and Anhøj's two, unless said otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleSet {
    rules: Vec<Rule>,
}

impl RuleSet {
    /// These rules, in reading order.
    pub fn of(rules: &[Rule]) -> Self {
        let mut rules = rules.to_vec();
        rules.sort_unstable();
        rules.dedup();
        Self { rules }
    }

    /// The zone tests of the Western Electric handbook by their numbers, 1 to 4.
    ///
    /// Each test added brings false alarms: test 1 alone about one in 370 points, all four about one in 92
    /// (Champ and Woodall 1987, Technometrics 29:393), for normal values.
    pub fn western_electric(numbers: &[u8]) -> Result<Self, StatsError> {
        let rules = numbers
            .iter()
            .map(|&number| match number {
                1 => Ok(Rule::BeyondLimit),
                2 => Ok(Rule::TwoOfThreeBeyondTwoSigma),
                3 => Ok(Rule::FourOfFiveBeyondOneSigma),
                4 => Ok(Rule::EightOnOneSide),
                _ => Err(StatsError::NotWithin {
                    what: "Western Electric test",
                    value: f64::from(number),
                    low: 1.0,
                    high: 4.0,
                }),
            })
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Self::of(&rules))
    }

    /// Whether a rule is among them.
    pub fn contains(&self, rule: Rule) -> bool {
        self.rules.contains(&rule)
    }

    /// The same without the rules that need independent points.
    pub(super) fn limits_only(&self) -> Self {
        Self { rules: self.rules.iter().copied().filter(|&rule| rule == Rule::BeyondLimit).collect() }
    }
}

impl Default for RuleSet {
    fn default() -> Self {
        Self::of(&[Rule::BeyondLimit, Rule::LongRun, Rule::FewCrossings])
    }
}

/// What the runs of a series around a centre say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunsAnalysis {
    /// Points not on the centre.
    pub n_useful: usize,
    /// Length of the longest run on one side, points on the centre not counted.
    pub longest_run: usize,
    /// The longest run that chance explains.
    pub longest_run_limit: usize,
    /// How often the series crosses the centre.
    pub crossings: usize,
    /// The fewest crossings that chance explains.
    pub crossings_limit: usize,
    /// First and last point of the longest run (the first such run).
    pub run: (usize, usize),
}

impl RunsAnalysis {
    /// Whether the longest run is too long for chance.
    pub fn run_too_long(self) -> bool {
        self.longest_run > self.longest_run_limit
    }

    /// Whether the crossings are too few for chance.
    pub fn too_few_crossings(self) -> bool {
        self.crossings < self.crossings_limit
    }
}

/// Whether a series drifts or shifts without any single point standing out: its longest run on one side, and
/// how often it crosses.
///
/// # Formula
///
/// With n points off the centre: a signal if the longest run exceeds round(log₂ n) + 3, or if the crossings
/// are fewer than the 5 % point of Binomial(n − 1, ½).
///
/// # Range
///
/// Values and centre in any unit, finite; usually the centre is the median.
///
/// # Ends
///
/// Points on the centre are passed over: they neither break a run nor add to it. With no point off the centre
/// both counts are 0 and both limits are such that there is no signal. Below about 10 useful points the
/// limits mean little.
///
/// # Source
///
/// Anhøj and Olesen 2014, PLoS ONE 9(11):e113825; Anhøj 2015, PLoS ONE 10(3):e0121349.
///
/// # Check
///
/// The published worked case n = 24 (limits 8 and 8) and the table of limits for n 10 to 100; hours between
/// failures of Montgomery's t chart example: 20 points, longest run 5, 10 crossings, limits 7 and 6.
///
/// # Example
///
/// ```
/// use stats::charts::runs_analysis;
/// // Six below, then six above: 12 points, longest run 6 of 7 allowed, 1 crossing where 3 are the fewest.
/// let values = [1.0, 2.0, 1.0, 2.0, 1.0, 2.0, 8.0, 9.0, 8.0, 9.0, 8.0, 9.0];
/// let runs = runs_analysis(&values, 5.0)?;
/// assert_eq!((runs.longest_run, runs.longest_run_limit, runs.crossings, runs.crossings_limit), (6, 7, 1, 3));
/// assert!(!runs.run_too_long() && runs.too_few_crossings());
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn runs_analysis(values: &[f64], centre: f64) -> Result<RunsAnalysis, StatsError> {
    finite("centre", centre)?;
    for &value in values {
        finite("value", value)?;
    }
    Ok(runs_around(values.iter().copied(), centre))
}

fn runs_around(values: impl Iterator<Item = f64>, centre: f64) -> RunsAnalysis {
    let (mut n_useful, mut crossings) = (0, 0);
    let (mut longest, mut longest_at) = (0, (0, 0));
    let (mut length, mut first, mut above_before) = (0, 0, None);
    for (index, value) in values.enumerate() {
        if value == centre {
            continue;
        }
        n_useful += 1;
        let above = value > centre;
        if above_before == Some(above) {
            length += 1;
        } else {
            crossings += usize::from(above_before.is_some());
            (length, first) = (1, index);
            above_before = Some(above);
        }
        if length > longest {
            (longest, longest_at) = (length, (first, index));
        }
    }
    RunsAnalysis {
        n_useful,
        longest_run: longest,
        longest_run_limit: longest_run_limit(n_useful),
        crossings,
        crossings_limit: crossings_limit(n_useful),
        run: longest_at,
    }
}

/// round(log₂ n) + 3, in whole numbers: the rounding steps where n passes √2 times a power of two.
fn longest_run_limit(n_useful: usize) -> usize {
    if n_useful == 0 {
        return 3;
    }
    let floor = n_useful.ilog2();
    let n = n_useful as f64;
    let up = n * n > 2.0 * libm::ldexp(1.0, 2 * floor as i32);
    floor as usize + usize::from(up) + 3
}

/// The 5 % point of Binomial(n − 1, ½).
fn crossings_limit(n_useful: usize) -> usize {
    if n_useful < 2 { 0 } else { binomial_quantile(0.05, n_useful as u64 - 1, 0.5) as usize }
}

/// Everything the rules find, in order of the first point concerned.
pub(super) fn find_signals(kind: ChartKind, drawn: &Drawn, rules: &RuleSet) -> Vec<Signal> {
    let mut signals = Vec::new();
    if rules.contains(Rule::BeyondLimit) {
        for (index, point) in drawn.points.iter().enumerate().filter(|(_, point)| point.outside) {
            let sentence = sentence::beyond_limit(kind, index, point);
            signals.push(Signal { rule: Rule::BeyondLimit, from: index, to: index, sentence });
        }
    }
    for (phase, &median) in drawn.phases.iter().zip(&drawn.medians) {
        let range = phase.from..=phase.to;
        let sigmas = &drawn.sigmas[range.clone()];
        for (rule, wanted, window, beyond) in [
            (Rule::TwoOfThreeBeyondTwoSigma, 2, 3, 2.0),
            (Rule::FourOfFiveBeyondOneSigma, 4, 5, 1.0),
            (Rule::EightOnOneSide, 8, 8, 0.0),
        ] {
            if rules.contains(rule) {
                for (from, to, above) in zone_stretches(sigmas, wanted, window, beyond) {
                    let (from, to) = (phase.from + from, phase.from + to);
                    signals.push(Signal { rule, from, to, sentence: sentence::zone(rule, from, to, above) });
                }
            }
        }
        let points: &[ChartPoint] = &drawn.points[range];
        let runs = runs_around(points.iter().map(|point| point.value), median);
        if runs.n_useful < FEWEST_FOR_RUNS {
            continue;
        }
        if rules.contains(Rule::LongRun) && runs.run_too_long() {
            let (from, to) = (phase.from + runs.run.0, phase.from + runs.run.1);
            let above = drawn.points[from].value > median;
            let sentence = sentence::long_run(kind, from, to, &runs, above, median);
            signals.push(Signal { rule: Rule::LongRun, from, to, sentence });
        }
        if rules.contains(Rule::FewCrossings) && runs.too_few_crossings() {
            let sentence = sentence::few_crossings(kind, phase.from, phase.to, &runs, median);
            signals.push(Signal { rule: Rule::FewCrossings, from: phase.from, to: phase.to, sentence });
        }
    }
    signals.sort_by_key(|signal| (signal.from, signal.rule));
    signals
}

/// Stretches in which `wanted` of `window` points in a row lie beyond so many sigmas on one side. Windows
/// that overlap are one stretch; its ends are points that count, and the last one is the point that completes
/// the test.
fn zone_stretches(sigmas: &[f64], wanted: usize, window: usize, beyond: f64) -> Vec<(usize, usize, bool)> {
    let mut stretches: Vec<(usize, usize, bool)> = Vec::new();
    for above in [true, false] {
        let counts = |z: f64| if above { z > beyond } else { z < -beyond };
        let mut open: Option<(usize, usize)> = None;
        for last in 0..sigmas.len() {
            if !counts(sigmas[last]) {
                continue;
            }
            let start = (last + 1).saturating_sub(window);
            let hits = (start..=last).filter(|&index| counts(sigmas[index])).count();
            if hits < wanted {
                continue;
            }
            let first = (start..=last).find(|&index| counts(sigmas[index])).unwrap_or(last);
            open = match open {
                Some((from, to)) if first <= to => Some((from, last)),
                Some((from, to)) => {
                    stretches.push((from, to, above));
                    Some((first, last))
                }
                None => Some((first, last)),
            };
        }
        if let Some((from, to)) = open {
            stretches.push((from, to, above));
        }
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_limits_of_the_runs_analysis() {
        // Anhøj and Olesen 2014: n = 24 gives 8 and 8. The rest: computed from the published formulas with
        // base R's qbinom.
        let rows = [
            (10, 6, 2),
            (11, 6, 2),
            (12, 7, 3),
            (14, 7, 4),
            (15, 7, 4),
            (16, 7, 4),
            (17, 7, 5),
            (18, 7, 5),
            (19, 7, 6),
            (20, 7, 6),
            (21, 7, 6),
            (22, 7, 7),
            (23, 8, 7),
            (24, 8, 8),
            (25, 8, 8),
            (26, 8, 8),
            (27, 8, 9),
            (28, 8, 9),
            (30, 8, 10),
            (32, 8, 11),
            (34, 8, 12),
            (36, 8, 13),
            (40, 8, 14),
            (50, 9, 19),
            (60, 9, 23),
            (80, 9, 32),
            (100, 10, 41),
        ];
        for (n, run, crossings) in rows {
            assert_eq!((longest_run_limit(n), crossings_limit(n)), (run, crossings), "n = {n}");
        }
        // The run limit steps at 12, 23, 46 and 91.
        for step in [12, 23, 46, 91] {
            assert_eq!(longest_run_limit(step), longest_run_limit(step - 1) + 1, "n = {step}");
        }
    }

    #[test]
    fn points_on_the_centre_are_passed_over() {
        let runs = runs_around([1.0, 0.0, 1.0, -1.0, 0.0, 1.0].into_iter(), 0.0);
        assert_eq!((runs.n_useful, runs.longest_run, runs.crossings, runs.run), (4, 2, 2, (0, 2)));
        let none = runs_around([0.0; 5].into_iter(), 0.0);
        assert!(!none.run_too_long() && !none.too_few_crossings());
    }

    #[test]
    fn zone_tests_fire_where_the_handbook_says() {
        // Western Electric 1956: test 2 on the second of two points beyond two sigma within three, on one side.
        assert_eq!(zone_stretches(&[2.1, 0.0, 2.1], 2, 3, 2.0), [(0, 2, true)]);
        assert!(zone_stretches(&[2.1, 0.0, -2.1], 2, 3, 2.0).is_empty());
        assert!(zone_stretches(&[2.1, 0.0, 0.0, 2.1], 2, 3, 2.0).is_empty());
        assert_eq!(zone_stretches(&[-2.1, -2.1, 0.0], 2, 3, 2.0), [(0, 1, false)]);
        // Test 3: four of five beyond one sigma.
        assert_eq!(zone_stretches(&[1.1, 1.1, 0.0, 1.1, 1.1], 4, 5, 1.0), [(0, 4, true)]);
        assert!(zone_stretches(&[1.1, 1.1, 0.0, 0.0, 1.1, 1.1], 4, 5, 1.0).is_empty());
        // Test 4: eight in a row, a point on the centre breaks it, and a longer run is one stretch.
        assert_eq!(zone_stretches(&[0.1; 8], 8, 8, 0.0), [(0, 7, true)]);
        assert_eq!(zone_stretches(&[0.1; 11], 8, 8, 0.0), [(0, 10, true)]);
        assert!(zone_stretches(&[0.1; 7], 8, 8, 0.0).is_empty());
        assert!(zone_stretches(&[0.1, 0.1, 0.1, 0.1, 0.0, 0.1, 0.1, 0.1, 0.1], 8, 8, 0.0).is_empty());
    }
}
