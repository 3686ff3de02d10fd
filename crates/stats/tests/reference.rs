//! Distributions, proportions and people against scipy and statsmodels, 200 inputs and more per function.
//!
//! The tolerance of each row is as tight as held when it was written; where it is looser than 1e-12 the reason
//! stands beside it.

#![expect(clippy::unwrap_used, reason = "a reference row that cannot be made is a failed test")]

#[path = "support/reference_file.rs"]
mod reference_file;

use reference_file::{Args, check, check_each};
use stats::dist;
use stats::proportion::{self, IntervalMethod, RatioEstimate, TwoByTwo};
use stats::{ConfidenceLevel, Probability, Proportion};

fn some(values: impl IntoIterator<Item = f64>) -> Vec<Option<f64>> {
    values.into_iter().map(Some).collect()
}

fn share(args: &Args, first: usize) -> Proportion {
    Proportion::new(args.count(first), args.count(first + 1)).unwrap()
}

fn level(args: &Args, index: usize) -> ConfidenceLevel {
    ConfidenceLevel::new(args.number(index)).unwrap()
}

fn chance(args: &Args, index: usize) -> Probability {
    Probability::new(args.number(index)).unwrap()
}

#[test]
fn normal_quantile() {
    check("normal_quantile", 2e-15, |args| some([dist::normal_quantile(args.number(0))]));
}

#[test]
fn normal_sf() {
    // Far out the area hangs on the rounding of z/√2 itself: at 37 that is 2e-13, in scipy as here.
    check("normal_sf", 3e-13, |args| some([dist::normal_sf(args.number(0))]));
}

#[test]
fn beta_cdf() {
    check("beta_cdf", 1e-12, |args| {
        let (a, b, x) = (args.number(0), args.number(1), args.number(2));
        some([dist::beta_cdf(a, b, x), dist::beta_sf(a, b, x)])
    });
}

#[test]
fn beta_cdf_precise() {
    check("beta_cdf_precise", 2e-14, |args| {
        let (a, b, x) = (args.number(0), args.number(1), args.number(2));
        some([dist::beta_cdf(a, b, x), dist::beta_sf(a, b, x)])
    });
}

#[test]
fn poisson_pmf_precise() {
    check("poisson_pmf_precise", 1e-14, |args| some([dist::poisson_pmf(args.count(0), args.number(1))]));
}

#[test]
fn beta_quantile() {
    check("beta_quantile", 1e-12, |args| {
        some([dist::beta_quantile(args.number(0), args.number(1), args.number(2))])
    });
}

#[test]
fn gamma_cdf() {
    check("gamma_cdf", 1e-11, |args| {
        let (shape, x) = (args.number(0), args.number(1));
        some([dist::gamma_cdf(shape, x), dist::gamma_sf(shape, x)])
    });
}

#[test]
fn gamma_quantile() {
    // scipy's own inverse is off by 1e-10 at shapes of a million (seen against forty digits).
    check("gamma_quantile", 1e-9, |args| some([dist::gamma_quantile(args.number(0), args.number(1))]));
}

#[test]
fn student_t_quantile() {
    check("student_t_quantile", 1e-12, |args| {
        some([dist::student_t_quantile(args.number(0), args.number(1))])
    });
}

#[test]
fn binomial() {
    check("binomial", 1e-11, |args| {
        let (x, n, p, q) = (args.count(0), args.count(1), args.number(2), args.number(3));
        some([
            dist::binomial_pmf(x, n, p),
            dist::binomial_cdf(x, n, p),
            dist::binomial_sf(x, n, p),
            dist::binomial_quantile(q, n, p) as f64,
        ])
    });
}

#[test]
fn poisson() {
    // scipy takes a difference of log-gammas for the single probability: 2e-10 at means of 1e5. The row above
    // with forty digits holds to 1e-14.
    check_each("poisson", &[1e-9, 1e-11], |args| {
        let (k, mean, q) = (args.count(0), args.number(1), args.number(2));
        some([
            dist::poisson_pmf(k, mean),
            dist::poisson_cdf(k, mean),
            dist::poisson_sf(k, mean),
            dist::poisson_quantile(q, mean) as f64,
        ])
    });
}

fn check_interval(function: &str, method: IntervalMethod, tolerance: f64) {
    check(function, tolerance, |args| {
        let interval = proportion::interval(share(args, 0), level(args, 2), method);
        some([interval.lower(), interval.upper()])
    });
}

#[test]
fn wilson() {
    check_interval("wilson", IntervalMethod::Wilson, 2e-14);
}

#[test]
fn wilson_continuity_corrected() {
    check_interval("wilson_continuity_corrected", IntervalMethod::WilsonContinuityCorrected, 1e-14);
}

#[test]
fn clopper_pearson() {
    check_interval("clopper_pearson", IntervalMethod::ClopperPearson, 1e-13);
}

#[test]
fn jeffreys() {
    check_interval("jeffreys", IntervalMethod::Jeffreys, 1e-13);
}

#[test]
fn mid_p() {
    check_interval("mid_p", IntervalMethod::MidP, 1e-11);
}

#[test]
fn poisson_exact() {
    check("poisson_exact", 1e-13, |args| {
        let interval = proportion::poisson_exact(args.count(0), args.number(1), level(args, 2)).unwrap();
        some([interval.lower(), interval.upper()])
    });
}

#[test]
fn difference_newcombe() {
    check("difference_newcombe", 1e-12, |args| {
        let interval = proportion::difference_newcombe(share(args, 0), share(args, 2), level(args, 4));
        some([interval.lower(), interval.upper()])
    });
}

fn bounds(estimate: RatioEstimate) -> Vec<Option<f64>> {
    vec![Some(estimate.lower), estimate.upper]
}

#[test]
fn risk_ratio_katz() {
    check("risk_ratio_katz", 1e-14, |args| {
        let estimate = proportion::risk_ratio_katz(share(args, 0), share(args, 2), level(args, 4)).unwrap();
        vec![estimate.ratio, Some(estimate.lower), estimate.upper]
    });
}

#[test]
fn risk_ratio_score() {
    check("risk_ratio_score", 1e-12, |args| {
        bounds(proportion::risk_ratio_score(share(args, 0), share(args, 2), level(args, 4)))
    });
}

#[test]
fn fisher_exact() {
    check("fisher_exact", 1e-12, |args| {
        let found = proportion::fisher_exact(TwoByTwo::new(share(args, 0), share(args, 2)).unwrap());
        some([found.less.get(), found.greater.get(), found.two_sided.get()])
    });
}

#[test]
fn conditional_odds_ratio() {
    // scipy stops its root search at about 1e-11.
    check("conditional_odds_ratio", 1e-11, |args| {
        let table = TwoByTwo::new(share(args, 0), share(args, 2)).unwrap();
        let estimate = proportion::conditional_odds_ratio(table, level(args, 4));
        vec![estimate.ratio, Some(estimate.lower), estimate.upper]
    });
}

#[test]
fn zero_failure_upper() {
    check("zero_failure_upper", 1e-14, |args| {
        some([proportion::zero_failure_upper(args.count(0), level(args, 1)).unwrap().get()])
    });
}

#[test]
fn clean_trials_needed() {
    check("clean_trials_needed", 1e-15, |args| {
        some(
            [proportion::clean_trials_needed(chance(args, 0), level(args, 1), args.count(2)).unwrap() as f64],
        )
    });
}

#[test]
fn one_sided_sample_size() {
    check("one_sided_sample_size", 1e-12, |args| {
        let test = proportion::one_sided_sample_size(
            chance(args, 0),
            chance(args, 1),
            chance(args, 2),
            chance(args, 3),
        )
        .unwrap();
        some([test.n_trials as f64, test.act_at as f64, test.size.get(), test.power.get()])
    });
}
