//! 10,000 Wilson and Clopper-Pearson intervals, and the beta-binomial fit of 5,000 people, beside scipy and statsmodels.
//!
//! `WARDWRIGHT_PYTHON=... cargo bench -p wardwright-stats --bench intervals`: first the table against the peer on the same input in the
//! same run, answers compared, then our own times over several sizes.
//!
//! "arrays" compares one call for the whole column with one call of the peer: once into columns that are there already,
//! once with new ones. "one by one" compares one call per pair on both sides; both tables show what is not faster too.

#![expect(clippy::unwrap_used, reason = "an input that cannot be made ends the bench")]

#[path = "support/peer.rs"]
mod peer;

use serde_json::json;
use stats::people::beta_binomial_likelihood;
use stats::proportion::{clopper_pearson, clopper_pearson_each, wilson, wilson_each};
use stats::{ConfidenceLevel, Interval, Proportion, StatsError};

/// A small generator of our own, so that the input is the same everywhere and needs no library.
struct Steps(u64);

impl Steps {
    /// The next number from 0 to 1.
    fn next(&mut self) -> f64 {
        // Knuth's multiplier for 64 bits; the upper bits are the good ones.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Pairs with 1 to 2,000 trials and rates from rare to common.
fn pairs(n_pairs: usize) -> Vec<Proportion> {
    let mut steps = Steps(7);
    (0..n_pairs)
        .map(|_| {
            let trials = 1 + (2_000.0 * steps.next()) as u64;
            let share = steps.next();
            Proportion::new((trials as f64 * share * share * share) as u64, trials).unwrap()
        })
        .collect()
}

/// People with 20 to 300 trials whose rates differ around a few per cent.
fn people(n_people: usize) -> Vec<Proportion> {
    let mut steps = Steps(11);
    (0..n_people)
        .map(|_| {
            let trials = 20 + (280.0 * steps.next()) as u64;
            let rate = 0.12 * steps.next() * steps.next();
            let events = (0..trials).filter(|_| steps.next() < rate).count() as u64;
            Proportion::new(events, trials).unwrap()
        })
        .collect()
}

fn bounds(intervals: &[Interval]) -> Vec<f64> {
    let lower = intervals.iter().map(|interval| interval.lower());
    lower.chain(intervals.iter().map(|interval| interval.upper())).collect()
}

/// A slice form: it fills two columns.
type Each = fn(&[Proportion], ConfidenceLevel, &mut [f64], &mut [f64]) -> Result<(), StatsError>;

/// The whole column in one call, into columns that are there and into new ones.
fn compare_columns(said: &serde_json::Value, task: &str, pairs: &[Proportion], each: Each, tolerance: f64) {
    let level = ConfidenceLevel::default();
    let (mut lower, mut upper) = (vec![0.0; pairs.len()], vec![0.0; pairs.len()]);
    let (time, ()) = peer::best_of(100, || each(pairs, level, &mut lower, &mut upper).unwrap());
    peer::compare(said, task, time, &[lower, upper].concat(), tolerance);
    let (time, (lower, upper)) = peer::best_of(100, || {
        let (mut lower, mut upper) = (vec![0.0; pairs.len()], vec![0.0; pairs.len()]);
        each(pairs, level, &mut lower, &mut upper).unwrap();
        (lower, upper)
    });
    print!("  new columns: ");
    peer::compare(said, task, time, &[lower, upper].concat(), tolerance);
}

fn against_the_peer() {
    let (pairs, people) = (pairs(10_000), people(5_000));
    let input = json!({
        "x": pairs.iter().map(|p| p.events()).collect::<Vec<_>>(),
        "n": pairs.iter().map(|p| p.trials()).collect::<Vec<_>>(),
        "people_x": people.iter().map(|p| p.events()).collect::<Vec<_>>(),
        "people_n": people.iter().map(|p| p.trials()).collect::<Vec<_>>(),
    });
    let Some(said) = peer::run("intervals.py", &input) else { return };
    println!("peer: {}", said["versions"].as_str().unwrap_or("versions not said"));
    let level = ConfidenceLevel::default();
    // The peer's lower bound cancels near 0, which costs it some digits.
    compare_columns(&said, "wilson, arrays", &pairs, wilson_each, 1e-10);
    let (time, found) = peer::best_of(20, || pairs.iter().map(|&p| wilson(p, level)).collect::<Vec<_>>());
    peer::compare(&said, "wilson, one by one", time, &bounds(&found), 1e-10);
    compare_columns(&said, "clopper_pearson, arrays", &pairs, clopper_pearson_each, 1e-11);
    let (time, found) =
        peer::best_of(20, || pairs.iter().map(|&p| clopper_pearson(p, level)).collect::<Vec<_>>());
    peer::compare(&said, "clopper_pearson, one by one", time, &bounds(&found), 1e-11);
    let (time, fit) = peer::best_of(40, || beta_binomial_likelihood(&people).unwrap());
    let answer = [fit.prior.alpha(), fit.prior.beta()];
    peer::compare(&said, "beta_binomial, with slopes", time, &answer, 1e-8);
    // Without slopes the peer stops about 1e-4 from the top.
    peer::compare(&said, "beta_binomial, as usually written", time, &answer, 1e-3);
}

#[divan::bench(args = [1, 10, 100, 10_000])]
fn wilson_columns(bencher: divan::Bencher, n_pairs: usize) {
    columns(bencher, n_pairs, wilson_each);
}

#[divan::bench(args = [1, 10, 100, 10_000])]
fn clopper_pearson_columns(bencher: divan::Bencher, n_pairs: usize) {
    columns(bencher, n_pairs, clopper_pearson_each);
}

fn columns(bencher: divan::Bencher, n_pairs: usize, each: Each) {
    let pairs = pairs(n_pairs);
    let (mut lower, mut upper) = (vec![0.0; n_pairs], vec![0.0; n_pairs]);
    bencher.bench_local(|| {
        each(divan::black_box(&pairs), ConfidenceLevel::default(), &mut lower, &mut upper).unwrap();
        upper[n_pairs - 1]
    });
}

#[divan::bench(args = [1, 100, 10_000])]
fn wilson_intervals(bencher: divan::Bencher, n_pairs: usize) {
    let pairs = pairs(n_pairs);
    bencher
        .bench(|| pairs.iter().map(|&p| wilson(p, ConfidenceLevel::default()).upper()).fold(0.0, f64::max));
}

#[divan::bench(args = [1, 100, 10_000])]
fn clopper_pearson_intervals(bencher: divan::Bencher, n_pairs: usize) {
    let pairs = pairs(n_pairs);
    bencher.bench(|| {
        pairs.iter().map(|&p| clopper_pearson(p, ConfidenceLevel::default()).upper()).fold(0.0, f64::max)
    });
}

#[divan::bench(args = [50, 500, 5_000])]
fn beta_binomial_fit(bencher: divan::Bencher, n_people: usize) {
    let people = people(n_people);
    bencher.bench(|| beta_binomial_likelihood(&people).unwrap().prior.mean());
}

fn main() {
    against_the_peer();
    divan::main();
}
