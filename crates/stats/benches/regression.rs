//! Segmented regressions of 240 months beside statsmodels.
//!
//! `WARDWRIGHT_PYTHON=... cargo bench -p wardwright-stats --bench regression`: first the table against the peer on the same input in the
//! same run, answers compared, then our own times over several sizes.

#![expect(clippy::unwrap_used, reason = "an input that cannot be made ends the bench")]

#[path = "support/peer.rs"]
mod peer;

use serde_json::json;
use stats::regression::{SegmentedFit, SegmentedPlan, Series, StandardErrors, segmented_regression};
use stats::{ConfidenceLevel, Proportion};

const LAG: usize = 4;

/// Events among 300 to 600 trials a month at 3 %, 2 % after half of the months, from a small generator of our own.
fn months(n_months: usize) -> Vec<Proportion> {
    let mut state = 3_u64;
    let mut next = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    (0..n_months)
        .map(|month| {
            let trials = 300 + (300.0 * next()) as u64;
            let rate = if 2 * month < n_months { 0.03 } else { 0.02 };
            let events = (0..trials).filter(|_| next() < rate).count() as u64;
            Proportion::new(events, trials).unwrap()
        })
        .collect()
}

fn fit(series: Series, n_before: usize, errors: StandardErrors) -> SegmentedFit {
    segmented_regression(series, &SegmentedPlan::new(n_before), errors, ConfidenceLevel::default()).unwrap()
}

/// Estimates, then standard errors.
fn figures(fit: &SegmentedFit) -> Vec<f64> {
    let estimates = fit.terms.iter().map(|term| term.estimate);
    estimates.chain(fit.terms.iter().map(|term| term.standard_error)).collect()
}

fn against_the_peer() {
    let months = months(240);
    let counts: Vec<u64> = months.iter().map(|month| month.events()).collect();
    let exposure: Vec<f64> = months.iter().map(|month| month.trials() as f64).collect();
    let values: Vec<f64> = months.iter().map(|month| 1000.0 * month.estimate()).collect();
    let input = json!({
        "events": counts, "trials": exposure, "values": values, "before": 120, "lag": LAG,
    });
    let Some(said) = peer::run("regression.py", &input) else { return };
    println!("peer: {}", said["versions"].as_str().unwrap_or("versions not said"));

    let dispersion = StandardErrors::Dispersion;
    let (time, found) = peer::best_of(50, || fit(Series::Proportions(&months), 120, dispersion));
    let mut answer = figures(&found);
    // Ours does not let the errors shrink when the spread is below the model's; the peer does.
    answer[4..].iter_mut().for_each(|error| *error *= found.dispersion.min(1.0).sqrt());
    // The peer stops when the deviance does, half the digits before the estimates do.
    peer::compare(&said, "quasi-binomial, 240 months", time, &answer, 1e-6);
    let robust = StandardErrors::NeweyWest { lag: LAG };
    let series = Series::Counts { counts: &counts, exposure: &exposure };
    let (time, found) = peer::best_of(50, || fit(series, 120, robust));
    peer::compare(&said, "Poisson, Newey-West, 240 months", time, &figures(&found), 1e-6);
    let (time, found) = peer::best_of(50, || fit(Series::Measurements(&values), 120, robust));
    peer::compare(&said, "least squares, Newey-West, 240 months", time, &figures(&found), 1e-9);
}

#[divan::bench(args = [24, 240, 2_400])]
fn quasi_binomial(bencher: divan::Bencher, n_months: usize) {
    let months = months(n_months);
    bencher
        .bench(|| fit(Series::Proportions(&months), n_months / 2, StandardErrors::Dispersion).effect.avoided);
}

#[divan::bench(args = [24, 240, 2_400])]
fn least_squares(bencher: divan::Bencher, n_months: usize) {
    let values: Vec<f64> = months(n_months).iter().map(|month| month.estimate()).collect();
    let errors = StandardErrors::NeweyWest { lag: LAG };
    bencher.bench(|| fit(Series::Measurements(&values), n_months / 2, errors).effect.avoided);
}

fn main() {
    against_the_peer();
    divan::main();
}
