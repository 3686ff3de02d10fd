//! What the laboratory's results say about the training: before and after, and month by month.

use culture::{CultureSet, Judged};
use jiff::ToSpan as _;
use jiff::civil::Date;
use practice::{day_in_words, month_in_words};
use stats::regression::{
    Answer, SegmentedFit, SegmentedPlan, Series, SlopeChange, StandardErrors, segmented_regression,
};
use stats::{ConfidenceLevel, Proportion, proportion};

use crate::facts::Desk;
use crate::rate::{counted, percent};
use crate::results::tally;
use crate::view::{Finding, MonthRow};

/// Fewest months on either side of the change for which a trend is fitted.
///
/// Penfold and Zhang 2013, Acad Pediatr 13:S38 (from memory): at least eight observations before and eight after.
const FEWEST_MONTHS: usize = 8;

impl Desk {
    /// Before and after the day the training began: the difference, then the months as an interrupted time series.
    pub(crate) fn change(&self, sets: &[(&CultureSet, &Judged)], months: &[MonthRow]) -> Vec<Finding> {
        let Some(started) = self.material.training_started else { return Vec::new() };
        let closed_where = |is_wanted: &dyn Fn(Date) -> bool| {
            let counts = tally(sets.iter().copied().filter(|(set, _)| is_wanted(set.collected.date())));
            Proportion::new(counts.contaminated, counts.closed())
        };
        let (Ok(before), Ok(after)) =
            (closed_where(&|day| day < started), closed_where(&|day| day >= started))
        else {
            return Vec::new();
        };
        vec![
            Finding {
                sentence: difference(started, before, after),
                anchor: "difference_newcombe".to_owned(),
            },
            Finding {
                sentence: match month_by_month(started, months) {
                    Ok(sentence) => sentence,
                    Err(why) => format!("Month by month: not worked out, because {why}."),
                },
                anchor: "segmented_regression".to_owned(),
            },
        ]
    }
}

fn difference(started: Date, before: Proportion, after: Proportion) -> String {
    let difference = proportion::difference_newcombe(before, after, ConfidenceLevel::default());
    let (lower, upper) = (difference.lower() * 100.0, difference.upper() * 100.0);
    let decimals = decimals_of(lower, upper);
    let points = |value: f64| signed(value, decimals);
    let verdict = if lower > 0.0 {
        "Fewer than before, by more than chance explains; what else changed in that time, such a comparison cannot say."
    } else if upper < 0.0 {
        "More than before, by more than chance explains; what else changed in that time, such a comparison cannot say."
    } else {
        "Cannot tell yet: the interval holds both a fall and a rise."
    };
    format!(
        "Before {}: {} of {} closed sets contaminated ({}). From then on: {} of {} ({}). Difference, before less after: \
         {} percentage points, 95 % interval {} to {} (Newcombe). {verdict}",
        day_in_words(started),
        before.events(),
        before.trials(),
        percent(before.estimate()),
        after.events(),
        after.trials(),
        percent(after.estimate()),
        points((before.estimate() - after.estimate()) * 100.0),
        points(lower),
        points(upper),
    )
}

/// The months against the trend before, or why that is not worked out. A month that the training began in counts as
/// before unless it began on the first: that can only make the training look smaller than it was.
fn month_by_month(started: Date, months: &[MonthRow]) -> Result<String, String> {
    let closed: Vec<(Date, Proportion)> = months
        .iter()
        .filter_map(|row| {
            Some((row.month, Proportion::new(row.counts.contaminated, row.counts.closed()).ok()?))
        })
        .collect();
    let (n_before, first_after) = match started.day() {
        1 => (closed.iter().filter(|(month, _)| *month < started).count(), started),
        _ => (
            closed.iter().filter(|(month, _)| *month <= started).count(),
            started.first_of_month().saturating_add(1.month()),
        ),
    };
    let n_after = closed.len() - n_before;
    if n_before < FEWEST_MONTHS || n_after < FEWEST_MONTHS {
        return Err(format!(
            "closed sets come from {} before {} and {} from then on, and a trend needs at least {FEWEST_MONTHS} on each \
             side",
            counted(n_before as u64, "month", "months"),
            month_in_words(first_after),
            n_after,
        ));
    }
    let is_gap = |pair: &[(Date, Proportion)]| match pair {
        [(one, _), (next, _)] => one.saturating_add(1.month()) != *next,
        _ => false,
    };
    if closed.windows(2).any(is_gap) {
        return Err("a month in between has no closed set, and a trend needs evenly spaced months".to_owned());
    }
    let series: Vec<Proportion> = closed.iter().map(|(_, proportion)| *proportion).collect();
    let plan = SegmentedPlan { n_before, slope_change: SlopeChange::FromZero, harmonics: None };
    let fit = segmented_regression(
        Series::Proportions(&series),
        &plan,
        StandardErrors::Dispersion,
        ConfidenceLevel::default(),
    )
    .map_err(|error| error.to_string())?;
    let partly = if started.day() == 1 {
        String::new()
    } else {
        format!(
            " {}, in which the training began on the {}, counts as before.",
            month_in_words(started),
            ordinal(started.day())
        )
    };
    told(&fit, first_after, n_before, n_after, &partly)
        .ok_or_else(|| "the regression gave no step to report".to_owned())
}

fn told(
    fit: &SegmentedFit,
    first_after: Date,
    n_before: usize,
    n_after: usize,
    partly: &str,
) -> Option<String> {
    let (ratio, ratio_interval) = fit.ratio("change of level")?;
    let effect = fit.effect;
    let (lower, upper) = (effect.interval.lower(), effect.interval.upper());
    let decimals = decimals_of(lower, upper);
    let fewer = |value: f64| match value < 0.0 {
        true => format!("{:.decimals$} more", value.abs()),
        false => format!("{value:.decimals$} fewer"),
    };
    let answer = match effect.answer {
        Answer::Fewer => {
            "Fewer contaminated sets than the trend gave, by more than chance explains; what else changed in that time, \
             the series cannot say."
        }
        Answer::More => {
            "More contaminated sets than the trend gave, by more than chance explains; what else changed in that time, \
             the series cannot say."
        }
        Answer::CannotTell => "Cannot tell: the interval holds both fewer and more.",
    };
    Some(format!(
        "Month by month, {n_before} months before {first} and {n_after} from then on, against the trend before carried on \
         (segmented logistic regression, errors widened for over-dispersion): in {first} the odds of contamination \
         changed by a factor of {ratio:.2} (95 % interval {:.2} to {:.2}). Avoided since then: of {:.0} closed sets {:.0} \
         were contaminated where the trend gave {:.1}, so {} (95 % interval {} to {}). {answer}{partly}",
        ratio_interval.lower(),
        ratio_interval.upper(),
        effect.size,
        effect.seen,
        effect.expected_without,
        fewer(effect.avoided),
        fewer(lower),
        fewer(upper),
        first = month_in_words(first_after),
    ))
}

/// Decimals for an interval: one, or two where an end lies within 0.1 of nought, and as many more as it takes that no
/// end reads as nought when it is not. The sign of an end is the finding, so a rounded end must not hide it.
fn decimals_of(lower: f64, upper: f64) -> usize {
    let (mut decimals, mut unit) = if lower.abs().min(upper.abs()) < 0.1 { (2, 0.01) } else { (1, 0.1) };
    let reads_as_nought = |end: f64, unit: f64| end != 0.0 && end.abs() < unit / 2.0;
    while decimals < MOST_DECIMALS && (reads_as_nought(lower, unit) || reads_as_nought(upper, unit)) {
        decimals += 1;
        unit /= 10.0;
    }
    decimals
}

/// Beyond six decimals an end is nought for every purpose.
const MOST_DECIMALS: usize = 6;

/// A number with a true minus sign; what rounds to nought has none.
fn signed(value: f64, decimals: usize) -> String {
    let magnitude = format!("{:.decimals$}", value.abs());
    let is_nought = magnitude.chars().all(|c| matches!(c, '0' | '.'));
    if value < 0.0 && !is_nought { format!("\u{2212}{magnitude}") } else { magnitude }
}

/// "1st", "2nd", "15th".
fn ordinal(day: i8) -> String {
    let ending = match (day % 10, day) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{day}{ending}")
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::results::contamination;
    use crate::view::VerdictCounts;

    fn months(first: Date, counts: &[(u64, u64)]) -> Vec<MonthRow> {
        counts
            .iter()
            .enumerate()
            .map(|(place, (contaminated, sets))| {
                let counts = VerdictCounts {
                    sets: *sets,
                    contaminated: *contaminated,
                    negative: sets - contaminated,
                    ..VerdictCounts::default()
                };
                let month = first.saturating_add((place as i64).months());
                MonthRow { month, counts, contamination: contamination(counts) }
            })
            .collect()
    }

    #[test]
    fn the_difference_is_newcombes() {
        // Newcombe 1998, Stat Med 17:873, Table II, 56/70 - 48/80: method 10 gives 0.0524 to 0.3339.
        let (before, after) =
            (Proportion::new(56, 70).expect("56 of 70"), Proportion::new(48, 80).expect("48 of 80"));
        assert_eq!(
            difference(date(2026, 3, 1), before, after),
            "Before 1 March 2026: 56 of 70 closed sets contaminated (80.0 %). From then on: 48 of 80 (60.0 %). Difference, \
             before less after: 20.0 percentage points, 95 % interval 5.2 to 33.4 (Newcombe). Fewer than before, by more \
             than chance explains; what else changed in that time, such a comparison cannot say."
        );
        // The same the other way round: the method is symmetrical.
        assert!(difference(date(2026, 3, 1), after, before).contains(
            "\u{2212}20.0 percentage points, 95 % interval \u{2212}33.4 to \u{2212}5.2 (Newcombe). More than"
        ));
    }

    #[test]
    fn an_end_near_nought_never_reads_as_nought() {
        for (lower, upper, decimals) in [
            (0.3, 2.1, 1),
            (0.1, 2.1, 1),
            (0.04, 2.1, 2),
            (-0.02, 2.1, 2),
            (0.004, 2.1, 3),
            (-3.0, -0.0004, 4),
            (0.0, 2.1, 2),
            (1e-12, 2.1, MOST_DECIMALS),
        ] {
            assert_eq!(decimals_of(lower, upper), decimals, "{lower} to {upper}");
        }
        assert_eq!(signed(-0.04, 1), "0.0");
        assert_eq!(signed(-0.04, 2), "\u{2212}0.04");
    }

    /// Ten months of 10 in 100, then ten of 5 in 100: both halves are level, so the regression fits them exactly. By
    /// hand: odds 5/95 against 10/90, a ratio of 0.4737; expected 100, seen 50, avoided 50.
    #[test]
    fn a_clean_step_gives_what_the_hand_gives() {
        let halves: Vec<(u64, u64)> = [(10, 100); 10].into_iter().chain([(5, 100); 10]).collect();
        let rows = months(date(2025, 1, 1), &halves);
        let told = month_by_month(date(2025, 11, 1), &rows).expect("ten months on each side");
        for words in [
            "10 months before November 2025 and 10 from then on",
            "in November 2025 the odds of contamination changed by a factor of 0.47 (95 % interval ",
            "of 1000 closed sets 50 were contaminated where the trend gave 100.0, so 50.0 fewer (95 % interval ",
        ] {
            assert!(told.contains(words), "{words} in {told}");
        }
        assert!(!told.contains("counts as before"), "{told}");
        // Training in the middle of October: October stays before, and the page says so.
        let middle = month_by_month(date(2025, 10, 15), &rows).expect("ten months on each side");
        assert_eq!(
            middle,
            format!("{told} October 2025, in which the training began on the 15th, counts as before.")
        );
    }

    #[test]
    fn too_short_or_broken_series_say_why() {
        let rows = months(date(2025, 1, 1), &[(3, 60); 20]);
        let why = |started: Date, rows: &[MonthRow]| month_by_month(started, rows).expect_err("no answer");
        assert_eq!(
            why(date(2025, 6, 1), &rows),
            "closed sets come from 5 months before June 2025 and 15 from then on, and a trend needs at least 8 on each side"
        );
        // From 2 June on July is the first whole month.
        assert!(
            why(date(2025, 6, 2), &rows)
                .starts_with("closed sets come from 6 months before July 2025 and 14")
        );
        assert!(why(date(2026, 3, 1), &rows).contains("14 months before March 2026 and 6 from"));
        let mut gap = rows.clone();
        gap.remove(3);
        assert!(why(date(2025, 11, 1), &gap).starts_with("a month in between has no closed set"));
        let none_after: Vec<(u64, u64)> = [(3, 60); 10].into_iter().chain([(0, 60); 10]).collect();
        let why_separated = why(date(2025, 11, 1), &months(date(2025, 1, 1), &none_after));
        assert!(why_separated.contains("no finite answer"), "{why_separated}");
    }

    #[test]
    fn days_of_a_month_have_their_endings() {
        let words: Vec<String> = [1, 2, 3, 4, 11, 12, 13, 21, 22, 23, 31].into_iter().map(ordinal).collect();
        assert_eq!(
            words,
            ["1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "22nd", "23rd", "31st"]
        );
    }
}
