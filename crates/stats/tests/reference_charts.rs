//! Charts and people against numpy, scipy and statsmodels, 200 inputs and more per function.
//!
//! The tolerance of each row is as tight as held when it was written; where it is looser than 1e-12 the reason
//! stands beside it.

#![expect(clippy::unwrap_used, reason = "a reference row that cannot be made is a failed test")]

#[path = "support/reference_file.rs"]
mod reference_file;

use reference_file::{Args, check, check_each};
use stats::charts::{
    ChartOptions, ChartPoint, ControlChart, EventCount, EwmaDesign, EwmaLimits, GCentre, GLimits, PLimits,
    ewma_chart, g_chart, individuals_chart, p_chart, runs_analysis, t_chart, u_chart, xbar_s_chart,
};
use stats::people::{
    BetaPrior, Excess, FunnelCentre, FunnelMethod, benjamini_hochberg, beta_binomial_likelihood,
    beta_binomial_moments, funnel_limits, over_dispersion, probability_as_high,
};
use stats::{ConfidenceLevel, Probability, Proportion};

fn some(values: impl IntoIterator<Item = f64>) -> Vec<Option<f64>> {
    values.into_iter().map(Some).collect()
}

fn proportions(args: &Args) -> Vec<Proportion> {
    args.counts(0).into_iter().zip(args.counts(1)).map(|(x, n)| Proportion::new(x, n).unwrap()).collect()
}

/// Values, centres, lower and upper limits, in the order the script writes them.
fn drawn(chart: &ControlChart) -> Vec<Option<f64>> {
    let each = |part: fn(&ChartPoint) -> Option<f64>| chart.points.iter().map(part).collect::<Vec<_>>();
    [each(|p| Some(p.value)), each(|p| Some(p.centre)), each(|p| p.lower), each(|p| p.upper)].concat()
}

fn plain() -> ChartOptions {
    ChartOptions::default()
}

fn check_p(function: &str, limits: PLimits) {
    // A lower limit near 0 is a small difference of larger numbers.
    check(function, 1e-11, |args| drawn(&p_chart(&proportions(args), limits, &plain()).unwrap()));
}

#[test]
fn p_normal() {
    check_p("p_normal", PLimits::Normal);
}

#[test]
fn p_exact() {
    check_p("p_exact", PLimits::ExactBinomial);
}

#[test]
fn p_prime() {
    check_p("p_prime", PLimits::LaneyPrime);
}

#[test]
fn u() {
    check("u_chart", 1e-11, |args| {
        let counts: Vec<EventCount> = args
            .counts(0)
            .into_iter()
            .zip(args.numbers(1))
            .map(|(x, exposure)| EventCount::new(x, exposure).unwrap())
            .collect();
        drawn(&u_chart(&counts, &plain()).unwrap())
    });
}

#[test]
fn g() {
    check("g_chart", 1e-12, |args| {
        let chart = |limits| g_chart(&args.counts(0), GCentre::Median, limits, &plain()).unwrap().points[0];
        let (three_sigma, probability) = (chart(GLimits::ThreeSigma), chart(GLimits::Probability));
        // No limit at 0 is how a lower quantile of 0 reads.
        let lower = probability.lower.or(Some(0.0));
        vec![three_sigma.upper, Some(three_sigma.centre), probability.upper, lower]
    });
}

#[test]
fn t() {
    // The power 3.6 multiplies the error of a lower limit near 0.
    check("t_chart", 1e-11, |args| drawn(&t_chart(&args.numbers(0), &plain()).unwrap()));
}

#[test]
fn individuals() {
    check("individuals_chart", 1e-12, |args| drawn(&individuals_chart(&args.numbers(0), &plain()).unwrap()));
}

#[test]
fn xbar_s() {
    check("xbar_s_chart", 1e-12, |args| {
        let groups: Vec<Vec<f64>> = args
            .value(0)
            .as_array()
            .unwrap()
            .iter()
            .map(|group| group.as_array().unwrap().iter().map(|value| value.as_f64().unwrap()).collect())
            .collect();
        let charts = xbar_s_chart(&groups, &plain()).unwrap();
        [drawn(&charts.means), drawn(&charts.deviations)].concat()
    });
}

#[test]
fn ewma() {
    check("ewma_chart", 1e-12, |args| {
        let design = EwmaDesign {
            target: args.number(1),
            sigma: args.number(2),
            weight: args.number(3),
            width: args.number(4),
            limits: EwmaLimits::TimeVarying,
        };
        drawn(&ewma_chart(&args.numbers(0), design).unwrap())
    });
}

#[test]
fn runs() {
    check("runs_analysis", 1e-15, |args| {
        let runs = runs_analysis(&args.numbers(0), args.number(1)).unwrap();
        some(
            [runs.n_useful, runs.longest_run, runs.longest_run_limit, runs.crossings, runs.crossings_limit]
                .map(|count| count as f64),
        )
    });
}

#[test]
fn funnel() {
    check("funnel_exact", 1e-12, |args| {
        let target = Probability::new(args.number(0)).unwrap();
        let level = ConfidenceLevel::new(args.number(2)).unwrap();
        let limits = funnel_limits(target, args.count(1), level, FunnelMethod::Exact, 1.0).unwrap();
        some([limits.lower(), limits.upper()])
    });
}

#[test]
fn dispersion() {
    // The p-value of a χ² in the thousands hangs on its last digits.
    check_each("over_dispersion", &[1e-12, 1e-12, 1e-11, 1e-12], |args| {
        let found = over_dispersion(&proportions(args), FunnelCentre::Pooled, 0.1).unwrap();
        some([found.phi, found.chi_squared, found.p_value.get(), found.phi_winsorised])
    });
}

#[test]
fn moments() {
    check("beta_binomial_moments", 1e-12, |args| {
        let prior = beta_binomial_moments(&proportions(args)).unwrap();
        some([prior.alpha(), prior.beta()])
    });
}

#[test]
fn likelihood() {
    // The top is flat, so scipy's root of the slopes is good to about 1e-10 in the shapes.
    check_each("beta_binomial_likelihood", &[1e-9, 1e-9, 1e-11], |args| {
        let fit = beta_binomial_likelihood(&proportions(args)).unwrap();
        assert_eq!(fit.excess, Excess::Found);
        some([fit.prior.alpha(), fit.prior.beta(), fit.log_likelihood])
    });
}

#[test]
fn posterior() {
    check("posterior", 1e-11, |args| {
        let prior = BetaPrior::new(args.number(0), args.number(1)).unwrap();
        let found = prior.after(Proportion::new(args.count(2), args.count(3)).unwrap());
        let interval = found.credible_interval(ConfidenceLevel::new(args.number(5)).unwrap());
        let above = found.probability_above(Probability::new(args.number(4)).unwrap());
        some([found.mean(), found.standard_deviation(), interval.lower(), interval.upper(), above.get()])
    });
}

#[test]
fn as_high() {
    check("probability_as_high", 1e-11, |args| {
        let seen = Proportion::new(args.count(0), args.count(1)).unwrap();
        some([probability_as_high(seen, Probability::new(args.number(2)).unwrap()).unwrap().get()])
    });
}

#[test]
fn discovery() {
    check("benjamini_hochberg", 1e-14, |args| {
        let p: Vec<Probability> = args.numbers(0).into_iter().map(|p| Probability::new(p).unwrap()).collect();
        some(benjamini_hochberg(&p).iter().map(|p| p.get()))
    });
}
