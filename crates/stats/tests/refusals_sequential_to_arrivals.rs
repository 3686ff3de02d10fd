//! Whatever goes in, an answer or a refusal comes out: no panic, no NaN, no endless work.

use proptest::prelude::*;

use stats::agreement::{
    AgreementWeights, Metric, RatingCounts, RatingTable, ReliabilityData, cohen_kappa, fleiss_kappa,
    fleiss_kappa_by_category, gwet_ac1, krippendorff_alpha, scott_pi, weighted_kappa,
};
use stats::arrivals::{
    GammaRate, Stratum, chance_of_at_least, chance_of_at_least_across, forecast_count, shrink_rates,
    thin_rate, time_to_nth, waiting_time,
};
use stats::regression::{
    Harmonics, SegmentedPlan, Series, SlopeChange, StandardErrors, segmented_regression,
};
use stats::sequential::{
    NormalCusum, RisesOn, Sides, TwoStepCusum, lattice_alternative, lattice_cusum, learning_curve_cusum,
    log_likelihood_cusum, normal_cusum_path, normal_mean_run_length, sequential_ratio_test,
    siegmund_mean_run_length, sprt_characteristics, two_step_mean_run_length, two_step_run_length,
    two_step_signal_within,
};
use stats::{ConfidenceLevel, Probability, Proportion};

/// Numbers as a careless caller might send them: ordinary, tiny, huge, the wrong sign, not numbers.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 0.0f64..1.0,
        3 => -10.0f64..10.0,
        1 => prop::num::f64::ANY,
        1 => prop::sample::select(vec![0.0, -0.0, 1.0, 1e-300, 1e300, 1e-12, 1e9, f64::NAN, f64::INFINITY, f64::NEG_INFINITY]),
    ]
}

fn any_probability() -> impl Strategy<Value = Probability> {
    prop_oneof![
        6 => 0.0f64..=1.0,
        2 => prop::sample::select(vec![0.0, 1.0, 1e-300, 1e-9, 1.0 - 1e-16]),
        2 => 0.0f64..0.1,
    ]
    .prop_filter_map("a probability", |value| Probability::new(value).ok())
}

fn level() -> ConfidenceLevel {
    ConfidenceLevel::default()
}

fn sound(values: &[f64]) -> Result<(), TestCaseError> {
    prop_assert!(values.iter().all(|value| value.is_finite()), "{values:?}");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn charts(
        a in any_number(), b in any_number(), c in any_number(), d in any_number(), m in 0u32..200, limit in 0u32..400,
        p in any_probability(), q in any_probability(), n in 0u64..300,
    ) {
        for chart in [
            TwoStepCusum::new(a, b, c, RisesOn::NonEvent),
            log_likelihood_cusum(p, a, b),
            learning_curve_cusum(p, q, c),
            lattice_cusum(m, limit),
        ].into_iter().flatten() {
            // A whole distribution of a long chart takes seconds without optimisation: keep to what is quick.
            if chart.limit() / chart.rise().min(chart.fall()) > 60.0 { continue; }
            let chart = chart.with_head_start(d).unwrap_or(chart);
            prop_assert!(chart.fewest_to_signal() >= 1);
            if let Ok(Some(mean)) = two_step_mean_run_length(chart, q) {
                sound(&[mean])?;
                prop_assert!(mean >= 1.0);
            }
            if let Ok(chance) = two_step_signal_within(chart, q, n) {
                sound(&[chance.get()])?;
            }
            if let Ok(Some(run)) = two_step_run_length(chart, q) {
                sound(&[run.mean(), run.standard_deviation(), run.no_signal_within(n), run.no_signal_within(u64::MAX)])?;
                let _ = run.quantile(p);
            }
        }
        let _ = lattice_alternative(p, m);
        let errors = Probability::new(0.1).unwrap();
        if let Ok(found) = sequential_ratio_test(p, q, errors, errors).and_then(|test| sprt_characteristics(&test, p, n)) {
            sound(&[found.says_p0, found.says_p1, found.undecided, found.mean_observations])?;
        }
    }

    #[test]
    fn normal_charts(
        k in any_number(), h in any_number(), s in any_number(), shift in any_number(),
        values in prop::collection::vec(any_number(), 0..6), target in any_number(), sigma in any_number(),
    ) {
        let Ok(chart) = NormalCusum::new(k, h) else { return Ok(()) };
        let chart = chart.with_head_start(s).unwrap_or(chart);
        for found in [
            normal_mean_run_length(chart, shift, Sides::One),
            normal_mean_run_length(chart, shift, Sides::Two),
            siegmund_mean_run_length(chart, shift, Sides::Two),
        ].into_iter().flatten() {
            sound(&[found])?;
        }
        if let Ok(points) = normal_cusum_path(chart, target, sigma, &values) {
            for point in points {
                sound(&[point.high, point.low])?;
            }
        }
    }

    #[test]
    fn agreement(
        k in 0usize..5, cells in prop::collection::vec(prop_oneof![0u64..5, 0u64..100_000, Just(u64::MAX)], 0..17),
        weights in prop::collection::vec(any_number(), 0..17),
        rows in prop::collection::vec(prop::collection::vec(0u64..4, 0..5), 0..8),
        ratings in prop::collection::vec(prop::collection::vec(prop::option::of(any_number()), 3), 0..5),
    ) {
        if let Ok(table) = RatingTable::new(k, &cells) {
            for found in [cohen_kappa(&table, level()), scott_pi(&table, level())].into_iter().flatten() {
                sound(&[found.estimate, found.observed, found.expected, found.standard_error.unwrap_or(0.0)])?;
            }
            for weights in [AgreementWeights::from_agreement(k, &weights), AgreementWeights::from_disagreement(k, &weights)]
                .into_iter().flatten()
            {
                if let Ok(found) = weighted_kappa(&table, &weights, level()) {
                    sound(&[found.estimate, found.standard_error.unwrap_or(0.0)])?;
                }
            }
        }
        if let Ok(counts) = RatingCounts::new(k, &rows) {
            sound(&[gwet_ac1(&counts, level()).estimate])?;
            if let Ok(found) = fleiss_kappa(&counts, level()) {
                sound(&[found.estimate])?;
            }
            let _ = fleiss_kappa_by_category(&counts);
        }
        if let Ok(data) = ReliabilityData::new(&ratings) {
            for metric in [Metric::Nominal, Metric::Ordinal, Metric::Interval, Metric::Ratio] {
                if let Ok(found) = krippendorff_alpha(&data, metric, level(), 100, 1) {
                    sound(&[found.estimate, found.standard_error.unwrap_or(0.0)])?;
                    if let Ok(interval) = found.interval {
                        sound(&[interval.lower(), interval.upper()])?;
                    }
                }
            }
        }
    }

    #[test]
    fn regression(
        n_before in 0usize..20, coding in 0usize..3, season in any_number(), n_pairs in 0usize..4, errors in 0usize..3,
        lag in 0usize..10, events in prop::collection::vec((0u64..6, 0u64..8), 0..24),
        values in prop::collection::vec(any_number(), 0..24), wild in any::<bool>(),
    ) {
        let slope_change = [SlopeChange::None, SlopeChange::FromZero, SlopeChange::FromOne][coding];
        let harmonics = (n_pairs > 0).then_some(Harmonics { season: if wild { season } else { 12.0 }, n_pairs });
        let plan = SegmentedPlan { n_before, slope_change, harmonics };
        let errors = [StandardErrors::Model, StandardErrors::Dispersion, StandardErrors::NeweyWest { lag }][errors];
        let periods: Vec<Proportion> =
            events.iter().filter_map(|&(x, more)| Proportion::new(x, x + more).ok()).collect();
        let counts: Vec<u64> = events.iter().map(|&(x, _)| x).collect();
        let exposure: Vec<f64> = if wild { values.clone() } else { counts.iter().map(|x| 1.0 + *x as f64).collect() };
        for series in [
            Series::Proportions(&periods),
            Series::Counts { counts: &counts, exposure: &exposure },
            Series::Measurements(&values),
        ] {
            if let Ok(fit) = segmented_regression(series, &plan, errors, level()) {
                for term in &fit.terms {
                    sound(&[term.estimate, term.standard_error, term.interval.lower(), term.interval.upper()])?;
                }
                sound(&[fit.dispersion, fit.deviance, fit.durbin_watson, fit.effect.avoided, fit.effect.interval.upper()])?;
                sound(&fit.fitted)?;
                prop_assert!(fit.effect.interval.contains(fit.effect.avoided));
                prop_assert!(fit.counterfactual.iter().all(|c| c.interval.lower() <= c.interval.upper()));
            }
        }
    }

    #[test]
    fn arrivals(
        a in any_number(), b in any_number(), t in any_number(), n in prop_oneof![0u64..50, Just(u64::MAX), 0u64..1_000_000],
        p in any_probability(), strata in prop::collection::vec((prop_oneof![0u64..30, 0u64..1_000_000_000_000], any_number()), 0..8),
    ) {
        if let Ok(rate) = GammaRate::new(a, b) {
            for chance in [chance_of_at_least(rate, n, t), chance_of_at_least_across(&[(rate, t)], n.min(300))].into_iter().flatten() {
                sound(&[chance.get()])?;
            }
            if let Ok(time) = time_to_nth(rate, n, p) { sound(&[time])?; }
            if let Ok(rate) = thin_rate(rate, p) { sound(&[rate.mean()])?; }
            if let Ok(forecast) = forecast_count(rate, t, level()) { sound(&[forecast.mean, forecast.interval.upper()])?; }
        }
        let strata: Vec<Stratum> = strata.iter().filter_map(|&(x, t)| Stratum::new(x, t).ok()).collect();
        if let Ok(rates) = shrink_rates(&strata) {
            for rate in rates { sound(&[rate.mean(), rate.shape(), rate.exposure()])?; }
        }
        if let Ok(waiting) = waiting_time(n, p) {
            sound(&[waiting.mean(), waiting.standard_deviation(), waiting.within(n), waiting.not_within(2 * n.min(1 << 60))])?;
            let _ = waiting.quantile(p);
        }
    }
}
