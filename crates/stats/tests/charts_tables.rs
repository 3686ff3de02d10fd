//! Published control charts: data, limits and the points out, with source and mark beside each.
//!
//! Marks: `seen` read in the source itself, `seen2` in a second source that quotes it, `calc` computed from the
//! stated inputs by another program, `memory` recalled and not confirmed.

#![expect(clippy::unwrap_used, reason = "a table row that cannot be made is a failed test")]

use stats::Proportion;
use stats::charts::{
    ChartKind, ChartOptions, ControlChart, EventCount, EwmaDesign, EwmaLimits, GCentre, GLimits, PLimits,
    PhasePlan, Rule, RuleSet, Series, c_chart, choose_chart, chosen_chart, ewma_chart, g_chart,
    individuals_chart, p_chart, runs_analysis, sigma_z, t_chart, u_chart, xbar_s_chart,
};

/// NIST/SEMATECH e-Handbook 6.3.3.2, the orange juice cans of Montgomery: nonconforming of 50 [seen].
const CANS: [u64; 30] = [
    12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9,
    6,
];
/// The same, samples 31 to 54, after a machine adjustment [seen].
const CANS_AFTER: [u64; 24] = [9, 6, 12, 5, 6, 4, 6, 3, 7, 6, 2, 4, 3, 6, 5, 4, 8, 5, 6, 7, 5, 6, 3, 5];

/// Emergency attendances within the target, 20 weeks: Mohammed and others 2013 [seen].
const WITHIN: [u64; 20] = [
    266501, 264225, 276532, 281461, 269071, 261215, 270409, 279778, 270483, 270320, 267923, 271478, 255353,
    256820, 261835, 259144, 255910, 260863, 264465, 260989,
];
const ATTENDED: [u64; 20] = [
    280443, 276823, 291681, 296155, 282343, 275888, 283867, 295251, 284468, 282529, 279618, 283932, 266629,
    268091, 276803, 271578, 266005, 273520, 278574, 273772,
];

/// Montgomery Example 7.6: hours between failures of a valve [seen].
const VALVE_HOURS: [f64; 20] = [
    286.0, 948.0, 536.0, 124.0, 816.0, 729.0, 4.0, 143.0, 431.0, 8.0, 2837.0, 596.0, 81.0, 227.0, 603.0,
    492.0, 1199.0, 1214.0, 2831.0, 96.0,
];

#[track_caller]
fn near(found: f64, wanted: f64, half_unit: f64) {
    assert!((found - wanted).abs() <= half_unit, "found {found}, wanted {wanted}");
}

fn of(events: u64, trials: u64) -> Proportion {
    Proportion::new(events, trials).unwrap()
}

fn each_of(events: &[u64], trials: u64) -> Vec<Proportion> {
    events.iter().map(|&x| of(x, trials)).collect()
}

/// The points beyond a limit, counted from 1 as the sources count.
fn out(chart: &ControlChart) -> Vec<usize> {
    chart.points.iter().enumerate().filter(|(_, point)| point.outside).map(|(index, _)| index + 1).collect()
}

fn plan(plan: PhasePlan) -> ChartOptions {
    ChartOptions { plan, ..ChartOptions::default() }
}

#[test]
fn p_orange_juice_cans() {
    let samples = each_of(&CANS, 50);
    let chart = p_chart(&samples, PLimits::Normal, &ChartOptions::default()).unwrap();
    // p̄ 347/1500, limits .4102391 and .0524275, out 15 and 23 [seen2, calc]. A reading of p̄ ≈ 0.24 and an
    // upper limit of 0.43 goes round for the same data: the 30 counts do not give it.
    near(chart.points[0].centre, 0.231_333_3, 5e-8);
    near(chart.points[0].upper.unwrap(), 0.410_239_1, 5e-8);
    near(chart.points[0].lower.unwrap(), 0.052_427_5, 5e-8);
    assert_eq!(out(&chart), [15, 23]);
    let sentences: Vec<&str> = chart
        .signals
        .iter()
        .filter(|signal| signal.rule == Rule::BeyondLimit)
        .map(|signal| signal.sentence.as_str())
        .collect();
    assert_eq!(
        sentences,
        [
            "Point 15 is above the upper limit: 44.0 % (22 of 50) against 41.0 %.",
            "Point 23 is above the upper limit: 48.0 % (24 of 50) against 41.0 %.",
        ]
    );

    // Without 15 and 23: 301/1400, .3892972 and .0407028; point 21 at .40 is now beyond [seen2, calc].
    let options = plan(PhasePlan::single().leaving_out(&[14, 22]));
    let chart = p_chart(&samples, PLimits::Normal, &options).unwrap();
    near(chart.points[0].centre, 0.215, 1e-12);
    near(chart.points[0].upper.unwrap(), 0.389_297_2, 5e-8);
    near(chart.points[0].lower.unwrap(), 0.040_702_8, 5e-8);
    assert_eq!(out(&chart), [15, 21, 23]);
    assert_eq!(chart.phases[0].n_basis, 28);
}

#[test]
fn p_cans_before_and_after() {
    let mut samples = each_of(&CANS, 50);
    samples.extend(each_of(&CANS_AFTER, 50));
    // Own limits after: 133/1200, upper .2440207, lower −.0223540 so none [seen data, calc].
    let own = p_chart(&samples, PLimits::Normal, &plan(PhasePlan::before_and_after(30))).unwrap();
    near(own.phases[1].centre, 0.110_833_3, 5e-8);
    near(own.points[53].upper.unwrap(), 0.244_020_7, 5e-8);
    assert_eq!(own.points[53].lower, None);

    // Frozen at the baseline without 15 and 23, the fall shows: every point after rests on .2150.
    let frozen = PhasePlan::baseline_then_frozen(30).leaving_out(&[14, 22]);
    let frozen = p_chart(&samples, PLimits::Normal, &plan(frozen)).unwrap();
    near(frozen.phases[1].centre, 0.215, 1e-12);
    assert_eq!((frozen.phases[1].from, frozen.phases[1].to, frozen.phases[1].n_basis), (30, 53, 28));
    let run = frozen.signals.iter().find(|signal| signal.rule == Rule::LongRun && signal.from >= 30).unwrap();
    assert!(run.sentence.contains("in a row are below the median 20.0 %"), "{}", run.sentence);
    // The mean of the new samples lies 7.10062 standard errors of a difference below .215 [calc].
    let (before, after) = (301.0 / 1400.0, 133.0 / 1200.0);
    let pooled: f64 = 434.0 / 2600.0;
    let z = (before - after) / (pooled * (1.0 - pooled) * (1.0 / 1400.0 + 1.0 / 1200.0)).sqrt();
    near(z, 7.100_62, 5e-6);
}

#[test]
fn p_varying_sample_sizes() {
    // Montgomery Table 7.4, purchase orders [seen2].
    let n = [
        100, 80, 80, 100, 110, 110, 100, 100, 90, 90, 110, 120, 120, 120, 110, 80, 80, 80, 90, 100, 100, 100,
        100, 90, 90,
    ];
    let x = [12, 8, 6, 9, 10, 12, 11, 16, 10, 6, 20, 15, 9, 8, 6, 8, 10, 7, 5, 8, 5, 8, 10, 6, 9];
    let samples: Vec<Proportion> = x.iter().zip(n).map(|(&x, n)| of(x, n)).collect();
    let chart = p_chart(&samples, PLimits::Normal, &ChartOptions::default()).unwrap();
    near(chart.points[0].centre, 0.095_510_2, 5e-8);
    near(chart.points[0].upper.unwrap(), 0.183_686, 5e-7);
    near(chart.points[0].lower.unwrap(), 0.007_335, 5e-7);
    near(chart.points[1].upper.unwrap(), 0.194_093, 5e-7);
    assert_eq!(chart.points[1].lower, None);
    near(chart.points[4].upper.unwrap(), 0.179_582, 5e-7);
    assert_eq!(out(&chart), [11]);
}

#[test]
fn p_limits_of_small_and_known_rates() {
    // At 3 % of 80 the normal upper limit is .0872167 [calc]; it lets chance through with .010309 (binomial
    // tail beyond 6), not .00135. The exact limit is 8/80: P(X > 8) = .00067, P(X > 7) = .00279 (scipy
    // binom).
    let samples = each_of(&[0, 2, 3, 7, 8, 9], 80);
    let known = plan(PhasePlan::known(0.03));
    let normal = p_chart(&samples, PLimits::Normal, &known).unwrap();
    near(normal.points[0].upper.unwrap(), 0.087_216_7, 5e-8);
    assert_eq!(out(&normal), [4, 5, 6]);
    let exact = p_chart(&samples, PLimits::ExactBinomial, &known).unwrap();
    near(exact.points[0].upper.unwrap(), 0.1, 1e-15);
    assert_eq!(out(&exact), [6]);
    near(stats::dist::binomial_sf(6, 80, 0.03), 0.010_309, 5e-7);
    // The normal lower limit is above 0 only for n > 9(1 − p)/p: 291 at 3 %, 891 at 1 % [calc].
    for (n, rate, there) in [(290, 0.03, false), (292, 0.03, true), (890, 0.01, false), (892, 0.01, true)] {
        let chart = p_chart(&[of(1, n)], PLimits::Normal, &plan(PhasePlan::known(rate))).unwrap();
        assert_eq!(chart.points[0].lower.is_some(), there, "n {n} at {rate}");
    }
}

#[test]
fn p_prime_emergency_attendances() {
    let samples: Vec<Proportion> = WITHIN.iter().zip(ATTENDED).map(|(&x, n)| of(x, n)).collect();
    // p̄ .95289971, σ_z 10.6404219 with 1.128 (10.6368464 with 2/√π) [calc].
    near(sigma_z(&samples).unwrap(), 10.640_421_9, 5e-8);
    let plain = p_chart(&samples, PLimits::Normal, &ChartOptions::default()).unwrap();
    near(plain.points[0].centre, 0.952_899_71, 5e-9);
    near(plain.points[0].lower.unwrap(), 0.951_699_56, 5e-9);
    near(plain.points[0].upper.unwrap(), 0.954_099_86, 5e-9);
    assert_eq!(out(&plain), [1, 2, 3, 4, 6, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 19]);
    let prime = p_chart(&samples, PLimits::LaneyPrime, &ChartOptions::default()).unwrap();
    near(prime.points[0].lower.unwrap(), 0.940_129_64, 5e-9);
    near(prime.points[0].upper.unwrap(), 0.965_669_78, 5e-9);
    assert_eq!(out(&prime), [0_usize; 0]);
}

#[test]
fn c_wafers_and_boards() {
    // NIST 6.3.3.1: mean 16, limits 28 and 4; 31 is out, 28 is on the limit and not beyond [seen2, calc].
    let wafers =
        [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13];
    let chart = c_chart(&wafers, &ChartOptions::default()).unwrap();
    let point = chart.points[2];
    assert_eq!((point.centre, point.upper, point.lower, point.outside), (16.0, Some(28.0), Some(4.0), false));
    assert_eq!(out(&chart), [24]);
    let only = chart.signals.iter().find(|signal| signal.rule == Rule::BeyondLimit).unwrap();
    assert_eq!(only.sentence, "Point 24 is above the upper limit: 31 against 28.");

    // Montgomery Table 7.8: 516/26, out 6 and 20; without them 472/24 [seen, calc].
    let boards = [
        21, 24, 16, 12, 15, 5, 28, 20, 31, 25, 20, 24, 16, 19, 10, 17, 13, 22, 18, 39, 30, 24, 16, 19, 17, 15,
    ];
    let chart = c_chart(&boards, &ChartOptions::default()).unwrap();
    near(chart.points[0].centre, 19.846_15, 5e-6);
    near(chart.points[0].upper.unwrap(), 33.210_86, 5e-6);
    near(chart.points[0].lower.unwrap(), 6.481_45, 5e-6);
    assert_eq!(out(&chart), [6, 20]);
    let chart = c_chart(&boards, &plan(PhasePlan::single().leaving_out(&[5, 19]))).unwrap();
    near(chart.points[0].centre, 19.666_67, 5e-6);
    near(chart.points[0].upper.unwrap(), 32.970_80, 5e-6);
    near(chart.points[0].lower.unwrap(), 6.362_53, 5e-6);
}

#[test]
fn u_computers_and_cloth() {
    // Montgomery Table 7.10, 20 samples of 50: 74/1000, upper .1894123, no lower limit [seen2 data, calc].
    let x = [2, 3, 8, 1, 1, 4, 1, 4, 5, 1, 8, 2, 4, 3, 4, 1, 8, 3, 7, 4];
    let counts: Vec<EventCount> = x.iter().map(|&x| EventCount::new(x, 50.0).unwrap()).collect();
    let chart = u_chart(&counts, &ChartOptions::default()).unwrap();
    near(chart.points[0].centre, 0.074, 1e-12);
    near(chart.points[0].upper.unwrap(), 0.189_412_3, 5e-8);
    assert_eq!(chart.points[0].lower, None);

    // Table 7.11, dyed cloth per 50 square metres: 153/107.5 [seen2, calc]. Rounding the sizes 9.5, 10.5 and
    // 12.5 up first gives 1.40367, which goes round as the answer.
    let metres = [500.0, 400.0, 650.0, 500.0, 475.0, 500.0, 600.0, 525.0, 600.0, 625.0];
    let defects = [14, 12, 20, 11, 7, 10, 21, 16, 19, 23];
    let counts: Vec<EventCount> =
        defects.iter().zip(metres).map(|(&x, m)| EventCount::new(x, m / 50.0).unwrap()).collect();
    let chart = u_chart(&counts, &ChartOptions::default()).unwrap();
    near(chart.points[0].centre, 1.423_255_8, 5e-8);
    for (index, upper, lower) in
        [(0, 2.555_038, 0.291_474), (1, 2.688_626, 0.157_885), (9, 2.435_552, 0.410_959)]
    {
        near(chart.points[index].upper.unwrap(), upper, 5e-7);
        near(chart.points[index].lower.unwrap(), lower, 5e-7);
    }
}

#[test]
fn individuals_flow_rates() {
    // NIST 6.3.2.2 [seen2, calc].
    let chart = individuals_chart(
        &[49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1],
        &ChartOptions::default(),
    )
    .unwrap();
    near(chart.points[0].centre, 50.81, 1e-12);
    near(chart.points[0].upper.unwrap(), 55.8041, 5e-5);
    near(chart.points[0].lower.unwrap(), 45.8159, 5e-5);
    assert_eq!(out(&chart), [0_usize; 0]);
}

#[test]
fn g_worked_case_and_known_rates() {
    // Benneyan 2001, formulas [seen2]; the case itself [calc].
    let gaps = [22, 5, 41, 17, 60, 9, 33, 2, 54, 28, 14, 75];
    let chart =
        |centre| g_chart(&gaps, centre, GLimits::ThreeSigma, &ChartOptions::default()).unwrap().points[0];
    let mean = chart(GCentre::Mean);
    near(mean.centre, 30.0, 1e-12);
    near(mean.upper.unwrap(), 121.487_704, 5e-7);
    assert_eq!(mean.lower, None);
    near(chart(GCentre::Median).centre, 25.0, 0.0);
    near(chart(GCentre::HalfPoint).centre, 20.79, 1e-12);

    // Known rate 3 %: centre 32.3333, upper 130.8219; probability limits 0 and 216, median 22 [calc]. 1 %:
    // 99, 397.496, 657, 68.
    for (rate, centre, upper, probability_upper, middle) in
        [(0.03, 32.3333, 130.8219, 216.0, 22.0), (0.01, 99.0, 397.496, 657.0, 68.0)]
    {
        let known = plan(PhasePlan::known((1.0 - rate) / rate));
        let three_sigma = g_chart(&gaps, GCentre::Mean, GLimits::ThreeSigma, &known).unwrap().points[0];
        near(three_sigma.centre, centre, 5e-5);
        near(three_sigma.upper.unwrap(), upper, 5e-4);
        let exact = g_chart(&gaps, GCentre::Median, GLimits::Probability, &known).unwrap().points[0];
        assert_eq!((exact.centre, exact.upper, exact.lower), (middle, Some(probability_upper), None));
    }
    for (q, three_percent, one_percent) in [(0.025, 0, 2), (0.975, 121, 367)] {
        assert_eq!(stats::dist::geometric_quantile(q, 0.03), three_percent);
        assert_eq!(stats::dist::geometric_quantile(q, 0.01), one_percent);
    }
}

#[test]
fn t_valve_failures() {
    // Montgomery Example 7.6 with 1/3.6: back-transformed 430.04095, 6937.93349, no lower limit [seen2].
    let chart = t_chart(&VALVE_HOURS, &ChartOptions::default()).unwrap();
    near(chart.points[0].centre, 430.040_95, 5e-6);
    near(chart.points[0].upper.unwrap(), 6_937.933_49, 5e-6);
    assert_eq!(chart.points[0].lower, None);
    assert_eq!(chart.signals, []);
    // Runs about the centre line of this chart: n 20, longest 5, crossings 10, limits 7 and 6, no signal
    // [seen2].
    let runs = runs_analysis(&VALVE_HOURS, chart.points[0].centre).unwrap();
    assert_eq!((runs.n_useful, runs.longest_run, runs.crossings), (20, 5, 10));
    assert_eq!((runs.longest_run_limit, runs.crossings_limit), (7, 6));
}

#[test]
fn ewma_nist_and_montgomery() {
    // NIST 6.3.2.4: steady-state limits at every point; exact ones at 1, 2, 3 [seen2, calc].
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
        52.4, 53.6, 52.1,
    ];
    let printed = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
        49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let design =
        EwmaDesign { target: 50.0, sigma: 2.0539, weight: 0.3, width: 3.0, limits: EwmaLimits::SteadyState };
    let chart = ewma_chart(&values, design).unwrap();
    for (point, printed) in chart.points.iter().zip(printed) {
        near(point.value, printed, 0.005_000_1);
        near(point.upper.unwrap(), 52.588_43, 5e-6);
        near(point.lower.unwrap(), 47.411_57, 5e-6);
    }
    assert_eq!(chart.signals, []);
    let exact = ewma_chart(&values, EwmaDesign { limits: EwmaLimits::TimeVarying, ..design }).unwrap();
    for (index, upper) in [51.8485, 52.2564, 52.4314].into_iter().enumerate() {
        near(exact.points[index].upper.unwrap(), upper, 5e-5);
    }

    // Montgomery Table 9.1, λ .1, L 2.7 [seen data; first rows memory; calc].
    let values = [
        9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08,
        9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52,
    ];
    let design =
        EwmaDesign { target: 10.0, sigma: 1.0, weight: 0.1, width: 2.7, limits: EwmaLimits::TimeVarying };
    let chart = ewma_chart(&values, design).unwrap();
    for (index, value) in [(0, 9.945), (1, 9.7495), (2, 9.703_55), (29, 10.634_14)] {
        near(chart.points[index].value, value, 5e-6);
    }
    near(chart.points[0].upper.unwrap(), 10.27, 1e-12);
    near(chart.points[1].upper.unwrap(), 10.363_248, 5e-7);
    let steady = ewma_chart(&values, EwmaDesign { limits: EwmaLimits::SteadyState, ..design }).unwrap();
    near(steady.points[0].upper.unwrap(), 10.619_422, 5e-7);
    assert_eq!(out(&chart), [29, 30]);
}

#[test]
fn zone_tests_by_number() {
    // An artificial series in sigmas around 0 with known limits: 6 values, one beyond 2 sigma twice in three.
    let counts = [100, 100, 125, 100, 125, 100];
    let options = ChartOptions {
        plan: PhasePlan::known(100.0),
        rules: RuleSet::western_electric(&[1, 2, 3, 4]).unwrap(),
    };
    let chart = c_chart(&counts, &options).unwrap();
    let found: Vec<(Rule, usize, usize)> =
        chart.signals.iter().map(|signal| (signal.rule, signal.from, signal.to)).collect();
    assert_eq!(found, [(Rule::TwoOfThreeBeyondTwoSigma, 2, 4)]);
    assert_eq!(
        chart.signals[0].sentence,
        "Points 3 to 5: two of three in a row are more than two sigma above the centre."
    );
    assert!(RuleSet::western_electric(&[5]).is_err());
    // Without test 2 nothing is found.
    let options = ChartOptions { rules: RuleSet::western_electric(&[1, 3, 4]).unwrap(), ..options };
    assert_eq!(c_chart(&counts, &options).unwrap().signals, []);
}

#[test]
fn the_chooser_gives_its_reason() {
    let cans = each_of(&CANS, 50);
    let choice = choose_chart(Series::Proportions(&cans)).unwrap();
    // 11.6 events expected per point: too few to let the variation between points widen the limits.
    assert_eq!(choice.kind, ChartKind::PExact, "{}", choice.why);
    let weeks: Vec<Proportion> = WITHIN.iter().zip(ATTENDED).map(|(&x, n)| of(x, n)).collect();
    let choice = choose_chart(Series::Proportions(&weeks)).unwrap();
    assert_eq!(choice.kind, ChartKind::PPrime);
    assert_eq!(
        choice.why,
        "p-prime chart (Laney), because the points vary 10.64 times as much as chance alone gives."
    );
    let rare: Vec<Proportion> = (0..24).map(|month| of(u64::from(month % 4 == 0), 40)).collect();
    let choice = choose_chart(Series::Proportions(&rare)).unwrap();
    assert_eq!((choice.kind, choice.better_in_order), (ChartKind::PExact, Some(ChartKind::G)));
    let none = each_of(&[0; 12], 40);
    let chart = chosen_chart(Series::Proportions(&none), &ChartOptions::default()).unwrap();
    assert_eq!(chart.kind, ChartKind::Run);
    assert_eq!(chart.why, "Run chart, because every point is 0 % and limits need some spread.");
    assert_eq!(
        chosen_chart(Series::Times(&VALVE_HOURS), &ChartOptions::default()).unwrap().kind,
        ChartKind::T
    );
}

#[test]
fn what_cannot_be_charted_says_why() {
    let options = ChartOptions::default();
    let text = |result: Result<ControlChart, stats::StatsError>| result.unwrap_err().to_string();
    assert_eq!(text(p_chart(&[], PLimits::Normal, &options)), "0 points; at least 1 needed");
    assert_eq!(
        text(p_chart(&each_of(&[0, 0], 9), PLimits::Normal, &options)),
        "every proportion is 0: there is no spread to work with"
    );
    assert_eq!(
        text(p_chart(&each_of(&[9, 9], 9), PLimits::ExactBinomial, &options)),
        "every proportion is 1: there is no spread to work with"
    );
    assert_eq!(
        text(p_chart(&each_of(&[3], 9), PLimits::LaneyPrime, &options)),
        "1 points to compute limits from; at least 2 needed"
    );
    assert_eq!(text(individuals_chart(&[1.0, f64::NAN], &options)), "measurement NaN is not a finite number");
    assert_eq!(
        text(individuals_chart(&[1.0, 1.0], &options)),
        "every measurement is 1: there is no spread to work with"
    );
    assert_eq!(
        text(t_chart(&[1.0, -2.0], &options)).split(" is not").next().unwrap(),
        "time between events -2"
    );
    assert_eq!(
        text(c_chart(&[1, 2], &plan(PhasePlan::baseline_then_frozen(2)))),
        "first point of a phase 2 is outside the series of 2 points (first is 0)"
    );
    assert_eq!(
        text(c_chart(&[1, 2], &plan(PhasePlan::single().leaving_out(&[7])))),
        "point to leave out 7 is outside the series of 2 points (first is 0)"
    );
    assert!(xbar_s_chart(&[vec![1.0]], &options).is_err());
    assert!(individuals_chart(&[1.0, 2.0], &plan(PhasePlan::known(1.0))).is_err());
    assert!(EventCount::new(1, 0.0).is_err() && EventCount::new(1, f64::NAN).is_err());
}
