//! Reads the figures written by `tests/reference/stats_reference.py` and compares ours with them.

use std::env;
use std::fs;

use serde_json::Value;

/// The environment variable that names the file of reference figures.
pub const VARIABLE: &str = "WARDWRIGHT_STATS_REFERENCE";

/// The arguments of one reference row.
pub struct Args<'a>(&'a [Value]);

#[allow(dead_code, reason = "each test file that includes this uses a part of it")]
impl<'a> Args<'a> {
    #[track_caller]
    pub fn number(&self, index: usize) -> f64 {
        self.0[index].as_f64().expect("a number")
    }

    #[track_caller]
    pub fn count(&self, index: usize) -> u64 {
        self.0[index].as_u64().expect("a count")
    }

    #[track_caller]
    pub fn text(&self, index: usize) -> &'a str {
        self.0[index].as_str().expect("a text")
    }

    #[track_caller]
    pub fn numbers(&self, index: usize) -> Vec<f64> {
        self.0[index]
            .as_array()
            .expect("a list")
            .iter()
            .map(|item| item.as_f64().expect("a number"))
            .collect()
    }

    #[track_caller]
    pub fn counts(&self, index: usize) -> Vec<u64> {
        self.0[index].as_array().expect("a list").iter().map(|item| item.as_u64().expect("a count")).collect()
    }

    pub fn value(&self, index: usize) -> &'a Value {
        &self.0[index]
    }
}

/// Compares our answers with every row of one function, to a relative tolerance; a wanted 0 must be 0.
///
/// Without the file the test says what was not run and how to run it, and passes.
#[track_caller]
pub fn check(function: &str, tolerance: f64, answer: impl Fn(&Args) -> Vec<Option<f64>>) {
    check_each(function, &[tolerance], answer);
}

/// As [`check`], with a tolerance for each figure of the answer (the last one serves for the rest).
#[track_caller]
pub fn check_each(function: &str, tolerances: &[f64], answer: impl Fn(&Args) -> Vec<Option<f64>>) {
    check_in(VARIABLE, "stats_reference.py", function, tolerances, answer);
}

/// As [`check_each`], with the file named by another variable and written by another script of `tests/reference`.
#[track_caller]
pub fn check_in(
    variable: &str,
    script: &str,
    function: &str,
    tolerances: &[f64],
    answer: impl Fn(&Args) -> Vec<Option<f64>>,
) {
    let Ok(path) = env::var(variable) else {
        println!(
            "not run: {function} against outside libraries. To run it: ./test, or write the file with \
             tests/reference/{script} and name it in {variable}"
        );
        return;
    };
    let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{variable}={path}: {error}"));
    let mut lines = text.lines().map(|line| serde_json::from_str::<Value>(line).expect("JSON on every line"));
    let versions = lines.next().expect("a first line with the versions");
    let (mut n_rows, mut worst, mut failures) = (0, vec![0.0_f64; tolerances.len()], Vec::new());
    for row in lines.filter(|row| row["function"] == function) {
        n_rows += 1;
        let args = row["args"].as_array().expect("args");
        let got = answer(&Args(args));
        let want = flatten(&row["want"]);
        if got.len() != want.len() {
            failures.push(format!("{args:?}: {} figures, wanted {}", got.len(), want.len()));
            continue;
        }
        for (index, (&got, &want)) in got.iter().zip(&want).enumerate() {
            let place = index.min(tolerances.len() - 1);
            let error = match (got, want) {
                (None, None) => 0.0,
                (Some(got), Some(want)) if got == want => 0.0,
                (Some(got), Some(want)) => ((got - want) / want).abs(),
                _ => f64::INFINITY,
            };
            worst[place] = worst[place].max(error);
            if !matches!(error.partial_cmp(&tolerances[place]), Some(std::cmp::Ordering::Less)) {
                failures.push(format!(
                    "{args:?} figure {index}: got {got:?}, wanted {want:?}, off by {error:.2e}"
                ));
            }
        }
    }
    assert!(n_rows >= 200, "{function}: {n_rows} rows in {path}; write the file anew (200 are wanted)");
    let worst: Vec<String> = worst.iter().map(|worst| format!("{worst:.1e}")).collect();
    println!("{function}: {n_rows} rows, worst {worst:?} of {tolerances:?}; {}", versions["versions"]);
    assert!(
        failures.is_empty(),
        "{function}: {} of {n_rows} rows differ\n{}",
        failures.len(),
        failures.iter().take(12).map(String::as_str).collect::<Vec<_>>().join("\n")
    );
}

fn flatten(value: &Value) -> Vec<Option<f64>> {
    match value {
        Value::Array(items) => items.iter().flat_map(flatten).collect(),
        Value::Number(number) => vec![number.as_f64()],
        _ => vec![None],
    }
}
