use stats::{ConfidenceLevel, Proportion, proportion};

use crate::view::{Rate, Share};

/// Fewest trials for which a percentage is shown: below it counts and the interval speak alone.
///
/// Common practice, no source: a percentage of fewer than twenty sets reads as more than it is.
pub const FEWEST_FOR_A_PERCENTAGE: u64 = 20;

/// A rate with its Wilson interval, or the reason why no percentage is shown.
pub fn rate(events: u64, of: u64, what: &str, of_what: &str) -> Rate {
    Rate { events, of, what: what.to_owned(), of_what: of_what.to_owned(), share: share(events, of, of_what) }
}

fn share(events: u64, of: u64, of_what: &str) -> Share {
    let Ok(counted) = Proportion::new(events, of) else {
        return Share::Withheld(format!("there are no {of_what}"));
    };
    let interval = proportion::wilson(counted, ConfidenceLevel::default());
    if of < FEWEST_FOR_A_PERCENTAGE {
        return Share::Withheld(format!(
            "no percentage under {FEWEST_FOR_A_PERCENTAGE}; true rates from {} to {} would fit (Wilson, 95 %)",
            percent(interval.lower()),
            percent(interval.upper()),
        ));
    }
    Share::Shown {
        estimate: counted.estimate(),
        lower: interval.lower(),
        upper: interval.upper(),
        method: "Wilson, 95 %".to_owned(),
        anchor: "wilson".to_owned(),
    }
}

/// A fraction as a percentage with one decimal: "3.4 %". What is not nought never reads as nought, nor what is not all
/// as all.
pub fn percent(fraction: f64) -> String {
    match fraction * 100.0 {
        percent if percent > 0.0 && percent < 0.05 => "under 0.1 %".to_owned(),
        percent if (99.95..100.0).contains(&percent) => "over 99.9 %".to_owned(),
        percent => format!("{percent:.1} %"),
    }
}

/// "1 set", "2 sets".
pub fn counted(n: u64, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rate_carries_its_interval() {
        // Newcombe 1998, Stat Med 17:857, Table I, 15/148: Wilson .0624 to .1605.
        let Share::Shown { lower, upper, .. } = rate(15, 148, "a", "b").share else {
            panic!("15 of 148 is shown")
        };
        assert!((lower - 0.0624).abs() < 5e-5 && (upper - 0.1605).abs() < 5e-5, "{lower} {upper}");
    }

    #[test]
    fn a_percentage_never_reads_as_nought_or_all_when_it_is_not() {
        for (fraction, words) in [
            (0.0, "0.0 %"),
            (0.0004, "under 0.1 %"),
            (0.0006, "0.1 %"),
            (0.034, "3.4 %"),
            (0.9996, "over 99.9 %"),
            (1.0, "100.0 %"),
        ] {
            assert_eq!(percent(fraction), words);
        }
    }

    #[test]
    fn a_handful_shows_counts_and_an_interval_but_no_percentage() {
        let Share::Withheld(why) = rate(2, 14, "contaminated sets", "sets").share else {
            panic!("14 is a handful")
        };
        // Wilson interval of 2/14 by hand: centre (2 + 1.9207)/(14 + 3.8415) = .2198, half width .1797.
        assert_eq!(why, "no percentage under 20; true rates from 4.0 % to 39.9 % would fit (Wilson, 95 %)");
        assert_eq!(rate(0, 0, "x", "sets").share, Share::Withheld("there are no sets".to_owned()));
    }
}
