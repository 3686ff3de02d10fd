//! Exact run lengths beside numpy and scipy: 20 log-likelihood charts at base rates 0.01 to 0.10, lattices, normal charts.
//!
//! `WARDWRIGHT_PYTHON=... cargo bench -p wardwright-stats --bench sequential`: first the table against the peer on the same input in the
//! same run, answers compared, then our own times over several sizes.

#![expect(clippy::unwrap_used, reason = "an input that cannot be made ends the bench")]

#[path = "support/peer.rs"]
mod peer;

use serde_json::json;
use stats::Probability;
use stats::sequential::{
    NormalCusum, Sides, lattice_cusum, log_likelihood_cusum, normal_mean_run_length, two_step_limit_for_mean,
    two_step_mean_run_length, two_step_run_length, two_step_signal_within,
};

fn p(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

/// Base rate, odds ratio, limit, true rate: in control and at twice the odds, for base rates 0.01 to 0.10.
fn charts() -> Vec<[f64; 4]> {
    (1..=10)
        .flat_map(|percent| {
            let base = f64::from(percent) / 100.0;
            [[base, 2.0, 3.5, base], [base, 2.0, 3.5, 2.0 * base / (1.0 + base)]]
        })
        .collect()
}

/// Steps per event, limit in steps, rate.
fn lattices() -> Vec<(u32, u32, f64)> {
    vec![(70, 280, 0.01), (35, 140, 0.02), (23, 92, 0.03), (70, 140, 0.02), (10, 40, 0.08)]
}

fn mean(chart: [f64; 4]) -> f64 {
    let [base, ratio, limit, rate] = chart;
    let chart = log_likelihood_cusum(p(base), ratio, limit).unwrap();
    two_step_mean_run_length(chart, p(rate)).unwrap().unwrap()
}

fn lattice_mean(&(m, limit, rate): &(u32, u32, f64)) -> f64 {
    two_step_mean_run_length(lattice_cusum(m, limit).unwrap(), p(rate)).unwrap().unwrap()
}

fn normal_mean(&(k, h, shift): &(f64, f64, f64)) -> f64 {
    normal_mean_run_length(NormalCusum::new(k, h).unwrap(), shift, Sides::One).unwrap()
}

fn against_the_peer() {
    let charts = charts();
    let lattices = lattices();
    let within: Vec<(u32, u32, f64, u64)> =
        lattices.iter().map(|&(m, limit, rate)| (m, limit, rate, 1000)).collect();
    let normals: Vec<(f64, f64, f64)> = (0..=6)
        .flat_map(|shift| [(0.5, 4.0, f64::from(shift) / 2.0), (0.5, 5.0, f64::from(shift) / 2.0)])
        .collect();
    let input = json!({ "charts": charts, "lattices": lattices, "within": within, "normals": normals });
    let Some(said) = peer::run("sequential.py", &input) else { return };
    println!("peer: {}", said["versions"].as_str().unwrap_or("versions not said"));

    let (time, answer) = peer::best_of(20, || charts.iter().map(|&chart| mean(chart)).collect::<Vec<_>>());
    // The peer leaves out states hardly ever reached and solves the plain system; it keeps 7 digits or more.
    peer::compare(&said, "log-likelihood, sparse solve", time, &answer, 1e-7);
    peer::compare(&said, "log-likelihood, filters", time, &answer, 1e-11);
    let (time, answer) = peer::best_of(20, || lattices.iter().map(lattice_mean).collect::<Vec<_>>());
    peer::compare(&said, "lattice, dense solve", time, &answer, 1e-10);
    let (time, answer) = peer::best_of(10, || {
        within
            .iter()
            .map(|&(m, limit, rate, n)| {
                two_step_signal_within(lattice_cusum(m, limit).unwrap(), p(rate), n).unwrap().get()
            })
            .collect::<Vec<_>>()
    });
    peer::compare(&said, "chance within n, matrix powers", time, &answer, 1e-10);
    let (time, answer) = peer::best_of(20, || normals.iter().map(normal_mean).collect::<Vec<_>>());
    peer::compare(&said, "normal, integral equation", time, &answer, 1e-10);
}

#[divan::bench(args = [0.001, 0.01, 0.03, 0.10])]
fn log_likelihood_mean(rate: f64) -> f64 {
    mean([rate, 2.0, 3.5, rate])
}

#[divan::bench(args = [0.01, 0.03, 0.10])]
fn log_likelihood_distribution(rate: f64) -> u64 {
    let chart = log_likelihood_cusum(p(rate), 2.0, 3.5).unwrap();
    two_step_run_length(chart, p(rate)).unwrap().unwrap().quantile(p(0.5)).unwrap()
}

#[divan::bench(args = [0.01, 0.03, 0.10])]
fn limit_for_mean_1000(rate: f64) -> f64 {
    let chart = log_likelihood_cusum(p(rate), 2.0, 1.0).unwrap();
    two_step_limit_for_mean(chart, p(rate), 1000.0).unwrap().0.limit()
}

#[divan::bench(args = [4.0, 10.0, 50.0])]
fn normal_mean_by_limit(limit: f64) -> f64 {
    normal_mean(&(0.5, limit, 1.0))
}

fn main() {
    against_the_peer();
    divan::main();
}
