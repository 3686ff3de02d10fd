//! The one plain sentence that goes with each signal. Points are counted from 1, as a reader counts them.

use crate::charts::chart::{ChartKind, ChartPoint, Rule};
use crate::charts::rules::RunsAnalysis;

pub(super) fn beyond_limit(kind: ChartKind, index: usize, point: &ChartPoint) -> String {
    let (side, limit) = match point.upper {
        Some(upper) if point.value > upper => ("above the upper", upper),
        _ => ("below the lower", point.lower.unwrap_or(point.centre)),
    };
    let value = with_denominator(kind, point);
    format!("Point {} is {side} limit: {value} against {}.", index + 1, number(kind, limit))
}

pub(super) fn zone(rule: Rule, from: usize, to: usize, above: bool) -> String {
    let side = if above { "above" } else { "below" };
    let points = format!("Points {} to {}", from + 1, to + 1);
    match rule {
        Rule::TwoOfThreeBeyondTwoSigma => {
            format!("{points}: two of three in a row are more than two sigma {side} the centre.")
        }
        Rule::FourOfFiveBeyondOneSigma => {
            format!("{points}: four of five in a row are more than one sigma {side} the centre.")
        }
        _ => format!("{points}: eight or more in a row are {side} the centre."),
    }
}

pub(super) fn long_run(
    kind: ChartKind,
    from: usize,
    to: usize,
    runs: &RunsAnalysis,
    above: bool,
    median: f64,
) -> String {
    format!(
        "Points {} to {}: {} in a row are {} the median {}; chance explains up to {} among {} points.",
        from + 1,
        to + 1,
        runs.longest_run,
        if above { "above" } else { "below" },
        number(kind, median),
        runs.longest_run_limit,
        runs.n_useful
    )
}

pub(super) fn few_crossings(
    kind: ChartKind,
    from: usize,
    to: usize,
    runs: &RunsAnalysis,
    median: f64,
) -> String {
    let times = if runs.crossings == 1 { "once" } else { &format!("{} times", runs.crossings) };
    format!(
        "Points {} to {} cross the median {} {times}; by chance {} points cross it at least {} times.",
        from + 1,
        to + 1,
        number(kind, median),
        runs.n_useful,
        runs.crossings_limit
    )
}

fn with_denominator(kind: ChartKind, point: &ChartPoint) -> String {
    let value = number(kind, point.value);
    match (kind, point.n) {
        (ChartKind::PNormal | ChartKind::PExact | ChartKind::PPrime, Some(n)) => {
            format!("{value} ({:.0} of {n:.0})", point.value * n)
        }
        (ChartKind::U, Some(n)) => format!("{value} ({:.0} in {})", point.value * n, plain(n)),
        _ => value,
    }
}

fn number(kind: ChartKind, value: f64) -> String {
    match kind {
        ChartKind::PNormal | ChartKind::PExact | ChartKind::PPrime => format!("{:.1} %", 100.0 * value),
        _ => plain(value),
    }
}

/// Four significant digits at most, without trailing zeros.
pub(super) fn plain(value: f64) -> String {
    let size = value.abs();
    let decimals = if size >= 1000.0 || size == 0.0 {
        0
    } else {
        let before_point = libm::floor(libm::log10(size)) as i32 + 1;
        (4 - before_point).clamp(0, 8) as usize
    };
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::plain;

    #[test]
    fn numbers_are_short() {
        for (value, text) in [
            (28.0, "28"),
            (0.0, "0"),
            (0.0740, "0.074"),
            (121.487704, "121.5"),
            (6937.93, "6938"),
            (-1.5, "-1.5"),
            (0.000123456, "0.0001235"),
            (710.05, "710"),
            (1.0, "1"),
        ] {
            assert_eq!(plain(value), text);
        }
    }
}
