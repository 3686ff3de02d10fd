//! Sequential tests, agreement, regression and arrivals against statsmodels, scipy, krippendorff and numpy.
//!
//! The tolerance of each row is as tight as held when it was written; where it is looser than 1e-9 the reason
//! stands beside it.

#![expect(clippy::unwrap_used, reason = "a reference row that cannot be made is a failed test")]

#[path = "support/reference_file.rs"]
mod reference_file;

use reference_file::{Args, check, check_each, check_in};
use serde_json::Value;

use stats::agreement::{
    AgreementWeights, Metric, RatingCounts, RatingTable, ReliabilityData, cohen_kappa, fleiss_kappa,
    gwet_ac1, krippendorff_alpha, weighted_kappa,
};
use stats::arrivals::{
    GammaRate, RateSpread, Stratum, chance_of_at_least, chance_of_at_least_across, fit_rate_spread,
    forecast_count, time_to_nth, waiting_time,
};
use stats::regression::{
    Harmonics, SegmentedPlan, Series, SlopeChange, StandardErrors, segmented_regression,
};
use stats::sequential::{
    NormalCusum, RisesOn, Sides, Sprt, TwoStepCusum, log_likelihood_cusum, normal_cusum_limit,
    normal_mean_run_length, normal_run_length, sprt_characteristics, two_step_mean_run_length,
    two_step_run_length, two_step_signal_within,
};
use stats::{ConfidenceLevel, Probability, Proportion};

fn some(values: impl IntoIterator<Item = f64>) -> Vec<Option<f64>> {
    values.into_iter().map(Some).collect()
}

fn p(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

fn level() -> ConfidenceLevel {
    ConfidenceLevel::default()
}

fn two_step(args: &Args) -> (TwoStepCusum, Probability) {
    let chart = TwoStepCusum::new(args.number(0), args.number(1), args.number(2), RisesOn::Event).unwrap();
    (chart.with_head_start(args.number(3)).unwrap(), p(args.number(4)))
}

#[test]
fn two_step_mean_and_spread() {
    // The reference solves the whole system, which loses digits in proportion to the mean (here up to 1e6).
    check_each("two_step_mean", &[1e-9, 1e-9], |args| {
        let (chart, rate) = two_step(args);
        let run = two_step_run_length(chart, rate).unwrap().unwrap();
        let mean = two_step_mean_run_length(chart, rate).unwrap().unwrap();
        assert!((mean / run.mean() - 1.0).abs() < 1e-13);
        some([mean, run.standard_deviation()])
    });
}

#[test]
fn two_step_distribution() {
    check("two_step_distribution", 1e-10, |args| {
        let (chart, rate) = two_step(args);
        let run = two_step_run_length(chart, rate).unwrap().unwrap();
        for n in args.counts(5).into_iter().filter(|n| *n < 500) {
            let direct = two_step_signal_within(chart, rate, n).unwrap().get();
            assert!((direct - run.signal_within(n)).abs() < 1e-12);
        }
        some(args.counts(5).into_iter().map(|n| run.no_signal_within(n)))
    });
}

#[test]
fn log_likelihood_mean() {
    check("log_likelihood_mean", 1e-12, |args| {
        let chart = log_likelihood_cusum(p(args.number(0)), args.number(1), args.number(2)).unwrap();
        some([two_step_mean_run_length(chart, p(args.number(3))).unwrap().unwrap()])
    });
}

#[test]
fn sprt() {
    check("sprt", 1e-12, |args| {
        let test = Sprt {
            event: args.number(0),
            non_event: args.number(1),
            says_p1_at: args.number(2),
            says_p0_at: args.number(3),
        };
        let found = sprt_characteristics(&test, p(args.number(4)), 10_000_000).unwrap();
        some([found.says_p1, found.says_p0, found.mean_observations])
    });
}

fn normal_chart(args: &Args) -> NormalCusum {
    NormalCusum::new(args.number(0), args.number(1)).unwrap().with_head_start(args.number(2)).unwrap()
}

#[test]
fn normal_mean_and_spread() {
    check_each("normal_mean", &[1e-9, 1e-9], |args| {
        let (chart, shift) = (normal_chart(args), args.number(3));
        let mean = normal_mean_run_length(chart, shift, Sides::One).unwrap();
        some([mean, normal_run_length(chart, shift).unwrap().standard_deviation()])
    });
}

#[test]
fn normal_distribution() {
    check("normal_distribution", 1e-9, |args| {
        let run = normal_run_length(normal_chart(args), args.number(3)).unwrap();
        some(args.counts(4).into_iter().map(|n| run.no_signal_within(n)))
    });
}

fn table(args: &Args) -> RatingTable {
    RatingTable::new(args.count(0) as usize, &args.counts(1)).unwrap()
}

#[test]
fn cohen() {
    // The errors are differences of near-equal sums of squares.
    check_each("cohen", &[1e-10, 1e-9, 1e-9], |args| {
        let table = table(args);
        let found = match args.text(2) {
            "identity" => cohen_kappa(&table, level()),
            "linear" => {
                weighted_kappa(&table, &AgreementWeights::linear(table.n_categories()).unwrap(), level())
            }
            _ => weighted_kappa(&table, &AgreementWeights::quadratic(table.n_categories()).unwrap(), level()),
        }
        .unwrap();
        some([found.estimate, found.standard_error.unwrap(), found.null_standard_error.unwrap()])
    });
}

#[test]
fn weighted_kappa_given() {
    check_each("weighted_kappa_given", &[1e-10, 1e-9], |args| {
        let table = table(args);
        let weights = AgreementWeights::from_agreement(table.n_categories(), &args.numbers(2)).unwrap();
        let found = weighted_kappa(&table, &weights, level()).unwrap();
        some([found.estimate, found.standard_error.unwrap()])
    });
}

fn rating_counts(args: &Args) -> RatingCounts {
    let rows: Vec<Vec<u64>> = args
        .value(1)
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row.as_array().unwrap().iter().map(|count| count.as_u64().unwrap()).collect())
        .collect();
    RatingCounts::new(args.count(0) as usize, &rows).unwrap()
}

#[test]
fn fleiss() {
    check_each("fleiss", &[1e-13, 1e-13], |args| {
        let found = fleiss_kappa(&rating_counts(args), level()).unwrap();
        some([found.estimate, found.standard_error.unwrap()])
    });
}

#[test]
fn ac1() {
    check_each("ac1", &[1e-13, 1e-13], |args| {
        let found = gwet_ac1(&rating_counts(args), level());
        some([found.estimate, found.standard_error.unwrap()])
    });
}

fn alpha_of(args: &Args, n_resamples: usize) -> stats::agreement::Alpha {
    let watchers: Vec<Vec<Option<f64>>> = args
        .value(1)
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row.as_array().unwrap().iter().map(Value::as_f64).collect())
        .collect();
    let metric = match args.text(0) {
        "nominal" => Metric::Nominal,
        "ordinal" => Metric::Ordinal,
        "interval" => Metric::Interval,
        _ => Metric::Ratio,
    };
    krippendorff_alpha(&ReliabilityData::new(&watchers).unwrap(), metric, level(), n_resamples, 11).unwrap()
}

#[test]
fn alpha() {
    check("alpha", 1e-13, |args| some([alpha_of(args, 100).estimate]));
}

#[test]
fn alpha_spread() {
    // Bootstraps of 500 and of 2000 draws: their spreads scatter by 3.2 % and 1.6 %, their ratio by 3.5 %; more for the
    // long tails of few cases.
    check("alpha_spread", 0.2, |args| some([alpha_of(args, 500).standard_error.unwrap()]));
}

fn segmented(args: &Args, series: Series) -> Vec<Option<f64>> {
    let slope_change = match args.text(1) {
        "none" => SlopeChange::None,
        "zero" => SlopeChange::FromZero,
        _ => SlopeChange::FromOne,
    };
    let n_pairs = args.count(2) as usize;
    let harmonics = (n_pairs > 0).then_some(Harmonics { season: 12.0, n_pairs });
    let plan = SegmentedPlan { n_before: args.count(0) as usize, slope_change, harmonics };
    let errors = match args.text(3) {
        "model" => StandardErrors::Model,
        "dispersion" => StandardErrors::Dispersion,
        _ => StandardErrors::NeweyWest { lag: args.count(4) as usize },
    };
    let fit = segmented_regression(series, &plan, errors, level()).unwrap();
    // Ten standard errors are added to an estimate, so that one near 0 is compared in absolute terms.
    let mut figures: Vec<f64> =
        fit.terms.iter().map(|term| term.estimate / term.standard_error + 10.0).collect();
    figures.extend(fit.terms.iter().map(|term| term.standard_error));
    figures.extend([fit.dispersion, fit.deviance, fit.durbin_watson]);
    figures.extend([fit.effect.avoided / fit.effect.standard_error + 10.0, fit.effect.standard_error]);
    some(figures)
}

#[test]
fn segmented_poisson() {
    check("segmented_poisson", 1e-9, |args| {
        segmented(args, Series::Counts { counts: &args.counts(5), exposure: &args.numbers(6) })
    });
}

#[test]
fn segmented_logistic() {
    check("segmented_logistic", 1e-9, |args| {
        let periods: Vec<Proportion> = args
            .counts(5)
            .into_iter()
            .zip(args.counts(6))
            .map(|(events, trials)| Proportion::new(events, trials).unwrap())
            .collect();
        segmented(args, Series::Proportions(&periods))
    });
}

#[test]
fn segmented_least_squares() {
    check("segmented_least_squares", 1e-9, |args| segmented(args, Series::Measurements(&args.numbers(5))));
}

#[test]
fn rate_spread() {
    // The top of a likelihood is flat: its place is known to about the root of the rounding of its slope.
    check("rate_spread", 1e-8, |args| {
        let strata: Vec<Stratum> = args
            .counts(0)
            .into_iter()
            .zip(args.numbers(1))
            .map(|(count, exposure)| Stratum::new(count, exposure).unwrap())
            .collect();
        match fit_rate_spread(&strata).unwrap() {
            RateSpread::Differ(spread) => some([spread.shape(), spread.exposure()]),
            RateSpread::Alike(_) => vec![None, None],
        }
    });
}

fn rate(args: &Args) -> GammaRate {
    GammaRate::new(args.number(0), args.number(1)).unwrap()
}

#[test]
fn chance_of_n() {
    check("chance_of_at_least", 1e-11, |args| {
        some([chance_of_at_least(rate(args), args.count(2), args.number(3)).unwrap().get()])
    });
}

#[test]
fn chance_of_n_across() {
    check("chance_of_at_least_across", 1e-11, |args| {
        let parts: Vec<(GammaRate, f64)> = args
            .value(0)
            .as_array()
            .unwrap()
            .iter()
            .map(|part| {
                let number = |index: usize| part[index].as_f64().unwrap();
                (GammaRate::new(number(0), number(1)).unwrap(), number(2))
            })
            .collect();
        some([chance_of_at_least_across(&parts, args.count(1)).unwrap().get()])
    });
}

#[test]
fn time_to_event() {
    check("time_to_nth", 1e-11, |args| {
        some([time_to_nth(rate(args), args.count(2), p(args.number(3))).unwrap()])
    });
}

#[test]
fn forecast() {
    check("forecast_count", 1e-14, |args| {
        let level = ConfidenceLevel::new(args.number(3)).unwrap();
        let found = forecast_count(rate(args), args.number(2), level).unwrap();
        some([found.mean, found.interval.lower(), found.interval.upper()])
    });
}

#[test]
fn waiting() {
    check("waiting_time", 1e-10, |args| {
        let waiting = waiting_time(args.count(0), p(args.number(1))).unwrap();
        let n = args.count(2);
        some([
            waiting.mean(),
            waiting.standard_deviation(),
            waiting.within(n),
            waiting.not_within(n),
            waiting.quantile(p(args.number(3))).unwrap() as f64,
        ])
    });
}

/// A second opinion from R (packages spc and sandwich, base R's glm and lm).
#[track_caller]
fn check_r(function: &str, tolerances: &[f64], answer: impl Fn(&Args) -> Vec<Option<f64>>) {
    check_in("WARDWRIGHT_STATS_REFERENCE_R", "stats_reference.R", function, tolerances, answer);
}

#[test]
fn r_normal_mean() {
    // spc solves the plain equation, which loses digits in proportion to the mean (here up to 1e7), and jsonlite
    // writes 15 digits.
    check_r("r_normal_mean", &[1e-8], |args| {
        let (chart, shift) = (normal_chart(args), args.number(3));
        some([
            normal_mean_run_length(chart, shift, Sides::One).unwrap(),
            normal_mean_run_length(chart, shift, Sides::Two).unwrap(),
        ])
    });
}

#[test]
fn r_normal_quantile() {
    check_r("r_normal_quantile", &[1e-15], |args| {
        let chart = NormalCusum::new(args.number(0), args.number(1)).unwrap();
        let run = normal_run_length(chart, args.number(2)).unwrap();
        some([run.quantile(p(args.number(3))).unwrap() as f64])
    });
}

#[test]
fn r_normal_limit() {
    // xcusum.crit stops its search for the limit at 1e-8 or so of the mean.
    check_r("r_normal_limit", &[1e-7], |args| {
        let limit = |sides| normal_cusum_limit(args.number(0), args.number(1), sides).unwrap().limit();
        some([limit(Sides::One), limit(Sides::Two)])
    });
}

/// The first figures of `segmented`: estimates, errors, dispersion, deviance.
fn without_effect(mut figures: Vec<Option<f64>>) -> Vec<Option<f64>> {
    figures.truncate(figures.len() - 3);
    figures
}

#[test]
fn r_segmented_poisson() {
    // R's glm keeps the weights of the step before its last, so its errors are good to about the root of its stopping
    // rule.
    check_r("r_segmented_poisson", &[1e-7], |args| {
        without_effect(segmented(
            args,
            Series::Counts { counts: &args.counts(5), exposure: &args.numbers(6) },
        ))
    });
}

#[test]
fn r_segmented_least_squares() {
    check_r("r_segmented_least_squares", &[1e-9], |args| {
        without_effect(segmented(args, Series::Measurements(&args.numbers(5))))
    });
}
