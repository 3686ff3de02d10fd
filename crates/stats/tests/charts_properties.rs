//! What must hold for any chart: no reference needed.

#![expect(clippy::unwrap_used, reason = "a case that cannot be made is a failed test")]

use proptest::prelude::*;
use stats::Proportion;
use stats::charts::{
    ChartOptions, ControlChart, EventCount, GCentre, GLimits, PLimits, PhasePlan, Rule, RuleSet, Series,
    c_chart, choose_chart, chosen_chart, g_chart, gaps_between_events, individuals_chart, p_chart, run_chart,
    runs_analysis, t_chart, u_chart,
};
use stats::dist::{binomial_sf, normal_sf};

fn proportions(fewest: usize) -> impl Strategy<Value = Vec<Proportion>> {
    let one =
        (1..=400_u64).prop_flat_map(|n| (0..=n, Just(n))).prop_map(|(x, n)| Proportion::new(x, n).unwrap());
    prop::collection::vec(one, fewest..40)
}

fn every_rule() -> RuleSet {
    RuleSet::of(&[
        Rule::BeyondLimit,
        Rule::TwoOfThreeBeyondTwoSigma,
        Rule::FourOfFiveBeyondOneSigma,
        Rule::EightOnOneSide,
        Rule::LongRun,
        Rule::FewCrossings,
    ])
}

/// Every number finite, limits around the centre, phases covering each point once, signals inside the series.
fn check_whole(chart: &ControlChart, n_points: usize) -> Result<(), TestCaseError> {
    prop_assert_eq!(chart.points.len(), n_points);
    for point in &chart.points {
        prop_assert!(point.value.is_finite() && point.centre.is_finite());
        prop_assert!(point.lower.is_none_or(|lower| lower.is_finite() && lower <= point.centre));
        prop_assert!(point.upper.is_none_or(|upper| upper.is_finite() && point.centre <= upper));
        let inside = point.lower.is_none_or(|lower| lower <= point.value)
            && point.upper.is_none_or(|upper| point.value <= upper);
        prop_assert_eq!(point.outside, !inside);
    }
    let mut next = 0;
    for phase in &chart.phases {
        prop_assert_eq!(phase.from, next);
        prop_assert!(phase.from <= phase.to);
        next = phase.to + 1;
    }
    prop_assert_eq!(next, n_points);
    for signal in &chart.signals {
        prop_assert!(signal.from <= signal.to && signal.to < n_points, "{signal:?}");
        prop_assert!(signal.sentence.ends_with('.') && !signal.sentence.contains("NaN"));
    }
    let beyond = chart.signals.iter().filter(|signal| signal.rule == Rule::BeyondLimit).count();
    prop_assert_eq!(beyond, chart.points.iter().filter(|point| point.outside).count());
    Ok(())
}

proptest! {
    #[test]
    fn every_p_chart_is_whole(samples in proportions(2), split in 1..40_usize) {
        for limits in [PLimits::Normal, PLimits::ExactBinomial, PLimits::LaneyPrime] {
            for plan in [PhasePlan::single(), PhasePlan::baseline_then_frozen(split), PhasePlan::before_and_after(split)] {
                let options = ChartOptions { plan, rules: every_rule() };
                // No spread, and a split past the end, are refused with the reason; both are tested by name.
                if let Ok(chart) = p_chart(&samples, limits, &options) {
                    check_whole(&chart, samples.len())?;
                }
            }
        }
    }

    #[test]
    fn exact_limits_leave_the_normal_tail_at_most(n in 1..3_000_u64, rate in 0.001..0.999_f64) {
        let options = ChartOptions { plan: PhasePlan::known(rate), ..ChartOptions::default() };
        let chart = p_chart(&[Proportion::new(0, n).unwrap()], PLimits::ExactBinomial, &options).unwrap();
        let tail = normal_sf(3.0);
        let point = chart.points[0];
        if let Some(upper) = point.upper {
            let k = (upper * n as f64).round() as u64;
            prop_assert!(binomial_sf(k, n, rate) <= tail * (1.0 + 1e-9));
            // One less would leave too much: the limit is as tight as it can be.
            prop_assert!(k == 0 || binomial_sf(k - 1, n, rate) > tail * (1.0 - 1e-9));
        }
        if let Some(lower) = point.lower {
            let k = (lower * n as f64).round() as u64;
            prop_assert!(stats::dist::binomial_cdf(k - 1, n, rate) <= tail * (1.0 + 1e-9));
            prop_assert!(stats::dist::binomial_cdf(k, n, rate) > tail * (1.0 - 1e-9));
        }
    }

    #[test]
    fn a_p_chart_of_non_events_is_the_mirror(samples in proportions(2)) {
        let mirrored: Vec<Proportion> = samples.iter().map(|sample| sample.complement()).collect();
        for limits in [PLimits::Normal, PLimits::ExactBinomial, PLimits::LaneyPrime] {
            let chart = p_chart(&samples, limits, &ChartOptions::default());
            let mirror = p_chart(&mirrored, limits, &ChartOptions::default());
            let (Ok(chart), Ok(mirror)) = (&chart, &mirror) else {
                prop_assert_eq!(chart.is_ok(), mirror.is_ok());
                continue;
            };
            for (point, other) in chart.points.iter().zip(&mirror.points) {
                prop_assert!((point.centre + other.centre - 1.0).abs() < 1e-12);
                if let (Some(lower), Some(upper)) = (point.lower, other.upper) {
                    prop_assert!((lower + upper - 1.0).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn the_chooser_always_makes_a_chart(samples in proportions(1)) {
        let choice = choose_chart(Series::Proportions(&samples)).unwrap();
        prop_assert!(choice.why.ends_with('.'));
        let chart = chosen_chart(Series::Proportions(&samples), &ChartOptions::default()).unwrap();
        prop_assert_eq!(chart.kind, choice.kind);
        check_whole(&chart, samples.len())?;
        // Whatever the baseline holds, there is a chart.
        if samples.len() > 1 {
            let plan = PhasePlan::baseline_then_frozen(samples.len() / 2);
            let options = ChartOptions { plan, rules: every_rule() };
            check_whole(&chosen_chart(Series::Proportions(&samples), &options).unwrap(), samples.len())?;
        }
    }

    #[test]
    fn charts_of_counts_and_gaps_are_whole(counts in prop::collection::vec(0..200_u64, 1..40), exposure in 0.1..90.0_f64) {
        let options = ChartOptions { rules: every_rule(), ..ChartOptions::default() };
        prop_assume!(counts.iter().any(|&count| count > 0));
        check_whole(&c_chart(&counts, &options).unwrap(), counts.len())?;
        let exposed: Vec<EventCount> =
            counts.iter().map(|&x| EventCount::new(x, exposure * (1.0 + x as f64)).unwrap()).collect();
        check_whole(&u_chart(&exposed, &options).unwrap(), counts.len())?;
        for limits in [GLimits::ThreeSigma, GLimits::Probability] {
            for centre in [GCentre::Mean, GCentre::HalfPoint] {
                check_whole(&g_chart(&counts, centre, limits, &options).unwrap(), counts.len())?;
            }
        }
    }

    #[test]
    fn charts_of_measurements_are_whole(values in prop::collection::vec(0.0..1e6_f64, 2..40)) {
        let options = ChartOptions { rules: every_rule(), ..ChartOptions::default() };
        check_whole(&run_chart(&values, &options).unwrap(), values.len())?;
        if values.iter().any(|&value| value != values[0]) {
            check_whole(&individuals_chart(&values, &options).unwrap(), values.len())?;
            check_whole(&t_chart(&values, &options).unwrap(), values.len())?;
        }
    }

    #[test]
    fn runs_do_not_depend_on_the_unit(values in prop::collection::vec(-100.0..100.0_f64, 1..60), shift in -50.0..50.0_f64) {
        let here = runs_analysis(&values, 0.0).unwrap();
        let doubled: Vec<f64> = values.iter().map(|value| 2.0 * value).collect();
        prop_assert_eq!(runs_analysis(&doubled, 0.0).unwrap(), here);
        let turned: Vec<f64> = values.iter().map(|value| -value).collect();
        prop_assert_eq!(runs_analysis(&turned, 0.0).unwrap(), here);
        prop_assert!(runs_analysis(&values, shift).unwrap().longest_run <= values.len());
        prop_assert!(here.crossings < here.n_useful.max(1));
    }

    #[test]
    fn gaps_hold_every_trial(outcomes in prop::collection::vec(any::<bool>(), 0..200)) {
        let gaps = gaps_between_events(outcomes.iter().copied());
        prop_assert_eq!(gaps.closed.len(), outcomes.iter().filter(|&&event| event).count());
        let trials: u64 = gaps.closed.iter().map(|gap| gap + 1).sum::<u64>() + gaps.open;
        prop_assert_eq!(trials as usize, outcomes.len());
    }
}
