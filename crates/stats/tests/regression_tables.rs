//! Published and recomputed values of segmented regression. Marks as in the tables of the sequential tests.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use stats::regression::{
    Answer, Harmonics, SegmentedFit, SegmentedPlan, Series, SlopeChange, StandardErrors, durbin_watson,
    newey_west_lag, segmented_regression,
};
use stats::{ConfidenceLevel, Proportion, StatsError};

/// Hospital admissions for acute coronary events in Sicily by month, January 2002 to November 2006, and the
/// age-standardised population; smoking banned in public places from month 37 (Lopez Bernal, Cummins and Gasparrini
/// 2017, Int J Epidemiol 46:348, published data).
const ACES: [u64; 59] = [
    728, 659, 791, 734, 757, 726, 760, 740, 720, 814, 795, 858, 887, 766, 851, 769, 781, 756, 766, 752, 765,
    831, 879, 928, 914, 808, 937, 840, 916, 828, 845, 818, 860, 839, 887, 886, 831, 796, 833, 820, 877, 758,
    767, 738, 781, 843, 850, 908, 1021, 859, 976, 888, 962, 838, 810, 876, 843, 936, 912,
];
const POPULATION: [f64; 59] = [
    379875.3, 376495.5, 377040.8, 377116.4, 377383.4, 374113.1, 379513.3, 376295.5, 374653.2, 378485.6,
    375955.5, 378349.7, 376762.4, 379032.3, 379360.4, 376162.0, 377972.4, 381830.7, 379888.6, 380872.2,
    380966.9, 381240.4, 382104.9, 381802.7, 381656.3, 383680.0, 383504.2, 386462.9, 383783.1, 380836.8,
    383483.0, 380906.2, 382926.8, 384052.4, 384449.6, 383428.4, 388153.2, 388373.2, 386470.1, 386033.2,
    383686.4, 385509.3, 385901.9, 386516.6, 388436.5, 383255.2, 390148.7, 385874.9, 391613.6, 391750.4,
    394005.6, 391364.9, 391664.6, 389022.3, 391878.5, 388575.3, 392989.0, 390018.8, 390712.3,
];

#[track_caller]
fn close(found: f64, printed: f64, half_unit: f64, row: &str) {
    assert!((found - printed).abs() <= half_unit * 1.0001, "{row}: found {found}, printed {printed}");
}

fn level() -> ConfidenceLevel {
    ConfidenceLevel::default()
}

fn sicily(slope_change: SlopeChange, n_pairs: usize, errors: StandardErrors) -> SegmentedFit {
    let harmonics = (n_pairs > 0).then_some(Harmonics { season: 12.0, n_pairs });
    let plan = SegmentedPlan { n_before: 36, slope_change, harmonics };
    let series = Series::Counts { counts: &ACES, exposure: &POPULATION };
    segmented_regression(series, &plan, errors, level()).unwrap()
}

/// Step and trend, Poisson with offset (data published, figures recomputed). The printed quasi-Poisson interval is
/// ± 1.96 standard errors; this room takes t, so the error is compared and the interval rebuilt with z.
#[test]
fn sicily_step_and_trend() {
    let fit = sicily(SlopeChange::None, 0, StandardErrors::Model);
    for (name, estimate, error) in [
        ("level", -6.2431509, 0.0111894),
        ("change of level", -0.1116284, 0.0172248),
        ("trend", 0.0049450, 0.0004992),
    ] {
        let term = fit.term(name).unwrap();
        close(term.estimate, estimate, 5e-8, name);
        close(term.standard_error, error, 5e-8, name);
    }
    let (ratio, interval) = fit.ratio("change of level").unwrap();
    close(ratio, 0.8943765, 5e-8, "step ratio");
    close(interval.lower(), 0.864686, 5e-7, "lower");
    close(interval.upper(), 0.925086, 5e-7, "upper");
    close(fit.deviance, 197.30961, 5e-6, "deviance");
    close(fit.dispersion, 3.559187, 5e-7, "dispersion");
    assert_eq!(fit.effect.answer, Answer::Fewer);
    assert!((fit.effect.expected_with / fit.effect.seen - 1.0).abs() < 1e-12, "a step fits the sum after it");

    let quasi = sicily(SlopeChange::None, 0, StandardErrors::Dispersion);
    let step = quasi.term("change of level").unwrap();
    close(libm::exp(step.estimate - 1.959964 * step.standard_error), 0.839189, 5e-7, "quasi lower, z");
    close(libm::exp(step.estimate + 1.959964 * step.standard_error), 0.953193, 5e-7, "quasi upper, z");
    let (_, wider) = quasi.ratio("change of level").unwrap();
    assert!(wider.lower() < 0.839189 && wider.upper() > 0.953193, "t is wider than z");
}

/// With two pairs of season terms, quasi-Poisson (recomputed).
#[test]
fn sicily_with_a_season() {
    let fit = sicily(SlopeChange::None, 2, StandardErrors::Dispersion);
    let step = fit.term("change of level").unwrap();
    close(libm::exp(step.estimate), 0.8850715, 5e-8, "step ratio");
    close(libm::exp(step.estimate - 1.959964 * step.standard_error), 0.839401, 5e-7, "lower, z");
    close(libm::exp(step.estimate + 1.959964 * step.standard_error), 0.933227, 5e-7, "upper, z");
    close(fit.dispersion, 2.262183, 5e-7, "dispersion");
}

/// Least squares on the rate per 100,000 with a change of trend counted from 1 (recomputed).
#[test]
fn sicily_least_squares() {
    let rates: Vec<f64> =
        ACES.iter().zip(&POPULATION).map(|(&n, population)| n as f64 / population * 1e5).collect();
    let plan = SegmentedPlan::new(36);
    let fit =
        segmented_regression(Series::Measurements(&rates), &plan, StandardErrors::Model, level()).unwrap();
    for (name, estimate, error, digits) in [
        ("level", 194.10874, 4.850321, 5e-6),
        ("trend", 1.035849, 0.228604, 5e-7),
        ("change of level", -24.844364, 7.704619, 5e-7),
        ("change of trend", 0.127220, 0.502873, 5e-7),
    ] {
        let term = fit.term(name).unwrap();
        close(term.estimate, estimate, digits, name);
        close(term.standard_error, error, 5e-7, name);
    }
    close(fit.durbin_watson, 1.593964, 5e-7, "Durbin-Watson");
    let mean = rates.iter().sum::<f64>() / 59.0;
    let total: f64 = rates.iter().map(|rate| (rate - mean) * (rate - mean)).sum();
    close(1.0 - fit.deviance / total, 0.359702, 5e-7, "R squared");
}

/// Twelve points, cut after the sixth (recomputed): the coding of time since changes the change of level and
/// nothing else.
#[test]
fn twelve_points_in_both_codings() {
    let y = [4.1, 4.5, 3.9, 4.4, 4.6, 4.2, 2.9, 2.6, 2.8, 2.3, 2.5, 2.1];
    let fit = |slope_change| {
        let plan = SegmentedPlan { n_before: 6, slope_change, harmonics: None };
        segmented_regression(Series::Measurements(&y), &plan, StandardErrors::Model, level()).unwrap()
    };
    let from_one = fit(SlopeChange::FromOne);
    for (term, (estimate, error)) in from_one.terms.iter().zip([
        (4.153333, 0.220396),
        (0.037143, 0.056593),
        (-1.362857, 0.279165),
        (-0.174286, 0.080034),
    ]) {
        close(term.estimate, estimate, 5e-7, &term.name);
        close(term.standard_error, error, 5e-7, &term.name);
    }
    close(from_one.dispersion.sqrt(), 0.236744, 5e-7, "residual spread");
    close(from_one.durbin_watson, 3.265263, 5e-7, "Durbin-Watson");
    let from_zero = fit(SlopeChange::FromZero);
    close(from_zero.term("change of level").unwrap().estimate, -1.537143, 5e-7, "level change, from zero");
    for (a, b) in from_one.fitted.iter().zip(&from_zero.fitted) {
        assert!((a - b).abs() < 1e-12, "the same lines");
    }
    assert!((from_one.effect.avoided - from_zero.effect.avoided).abs() < 1e-11);
    // By hand: six periods of 1.362857 and 0.174286 · (1 + 2 + … + 6).
    close(from_one.effect.avoided, 6.0 * 1.362857 + 21.0 * 0.174286, 2e-5, "avoided");
}

/// The customary lag, 4 (n/100)^(2/9) rounded down, by hand; Durbin-Watson at its ends.
#[test]
fn customary_lags_and_durbin_watson() {
    assert_eq!([24, 48, 100, 240].map(newey_west_lag), [2, 3, 4, 4]);
    assert!(durbin_watson(&[1.0]).is_err() && durbin_watson(&[0.0, 0.0]).is_err());
    assert!(durbin_watson(&[1.0, 1.0, 1.0, 1.0]).unwrap().abs() < 1e-15);
    // The squares pass the largest double.
    assert!(durbin_watson(&[1e154, -1e154]).is_err() && durbin_watson(&[9e153, -9e153]).is_err());
}

fn sets(events: &[u64], n: u64) -> Vec<Proportion> {
    events.iter().map(|&x| Proportion::new(x, n).unwrap()).collect()
}

/// A two-by-two table is the simplest case: with a flat, evenly split series the step is the table's log odds ratio.
#[test]
fn a_flat_series_is_a_two_by_two_table() {
    // Counts symmetric in time on each side leave no trend: 30/800 before, 15/800 after.
    let periods = sets(&[7, 8, 8, 7, 4, 3, 4, 4], 200);
    let plan = SegmentedPlan { n_before: 4, slope_change: SlopeChange::FromOne, harmonics: None };
    let fit =
        segmented_regression(Series::Proportions(&periods), &plan, StandardErrors::Model, level()).unwrap();
    assert!(
        (fit.effect.expected_with - 15.0).abs() < 1e-9 && fit.effect.seen == 15.0 && fit.effect.size == 800.0
    );
    assert!((fit.term("trend").unwrap().estimate).abs() < 1e-9);
    // Before: logit(30/800), carried on flat: 30 expected, 15 seen.
    assert!((fit.effect.expected_without - 30.0).abs() < 1e-6, "{}", fit.effect.expected_without);
    // Four periods before leave the carried-on trend so loose that nothing can be told.
    assert_eq!(fit.effect.answer, Answer::CannotTell);
    assert!(fit.effect.interval.lower() < 0.0 && fit.effect.interval.upper() > 0.0);
}

/// What has no answer says so, with the place.
#[test]
fn refusals_say_where() {
    let plan = SegmentedPlan::new(6);
    let run = |series: Series, plan: &SegmentedPlan| {
        segmented_regression(series, plan, StandardErrors::Dispersion, level())
    };
    let text = |result: Result<SegmentedFit, StatsError>| result.unwrap_err().to_string();

    let none = sets(&[0; 12], 80);
    assert_eq!(
        text(run(Series::Proportions(&none), &plan)),
        "every period's proportion is 0: there is no spread to work with"
    );
    let all = sets(&[80; 12], 80);
    assert_eq!(
        text(run(Series::Proportions(&all), &plan)),
        "every period's proportion is 1: there is no spread to work with"
    );
    // No contaminated set at all after the change: the odds ratio is 0 and its logarithm has no end.
    let none_after = sets(&[3, 2, 4, 1, 3, 2, 0, 0, 0, 0, 0, 0], 80);
    let error = run(Series::Proportions(&none_after), &plan).unwrap_err();
    assert!(matches!(error, StatsError::Separated { point: 7..=12 }), "{error}");
    let counts = [3, 2, 4, 1, 3, 2, 0, 0, 0, 0, 0, 0];
    let error = run(Series::Counts { counts: &counts, exposure: &[80.0; 12] }, &plan).unwrap_err();
    assert!(matches!(error, StatsError::Separated { point: 7..=12 }), "{error}");
    // Perfectly split: nothing before, everything after.
    let split = sets(&[0, 0, 0, 0, 0, 0, 9, 9, 9, 9, 9, 9], 9);
    assert!(matches!(run(Series::Proportions(&split), &plan).unwrap_err(), StatsError::Separated { .. }));

    let one = sets(&[3], 80);
    assert!(run(Series::Proportions(&one), &plan).is_err());
    assert!(run(Series::Proportions(&one), &SegmentedPlan::new(0)).is_err());
    assert!(run(Series::Proportions(&[]), &plan).is_err());
    let seven = sets(&[3, 2, 4, 1, 3, 2, 1], 80);
    assert_eq!(
        text(run(Series::Proportions(&seven), &plan)),
        "1 periods after the change; at least 2 needed"
    );
    let line: Vec<f64> = (0..12).map(f64::from).collect();
    assert_eq!(
        text(run(Series::Measurements(&line), &plan)),
        "every residual is 0: there is no spread to work with"
    );
    let mut broken = line.clone();
    broken[4] = f64::NAN;
    assert_eq!(text(run(Series::Measurements(&broken), &plan)), "measurement NaN is not a finite number");
    assert_eq!(
        text(run(Series::Counts { counts: &counts, exposure: &[0.0; 12] }, &plan)),
        "exposure 0 is not above 0"
    );
    // A season of 2 periods: its sine is 0 throughout.
    let season = SegmentedPlan { harmonics: Some(Harmonics { season: 2.0, n_pairs: 1 }), ..plan };
    let noisy: Vec<f64> = (0..12).map(|i| f64::from(i * i % 7)).collect();
    assert_eq!(
        text(run(Series::Measurements(&noisy), &season)),
        "the term season sine 1 cannot be told apart from the other terms: use fewer terms or more points"
    );
}
