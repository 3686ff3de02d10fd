//! Runs a Python peer on the same input in the same call, compares its answers with ours, and prints both times.

use std::env;
use std::fs;
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::Value;

/// The environment variable that names a Python with the libraries of `tests/reference/requirements.txt`.
pub const PYTHON: &str = "WARDWRIGHT_PYTHON";

/// What the peer said; `None` when it could not run, with the reason printed.
pub fn run(script: &str, input: &Value) -> Option<Value> {
    let python = env::var(PYTHON).unwrap_or_else(|_| "python3".to_owned());
    let script = format!("{}/benches/peers/{script}", env!("CARGO_MANIFEST_DIR"));
    let path = env::temp_dir().join(format!("wardwright-bench-{}.json", std::process::id()));
    fs::write(&path, input.to_string()).expect("a temporary file can be written");
    let output = Command::new(&python).arg(&script).arg(&path).output();
    // The file is only the hand-over; a leftover in the temporary folder harms nobody.
    let _ = fs::remove_file(&path);
    match output {
        Ok(output) if output.status.success() => {
            Some(serde_json::from_slice(&output.stdout).expect("the peer prints JSON"))
        }
        Ok(output) => {
            let said = String::from_utf8_lossy(&output.stderr);
            println!("peer not run: {}", said.lines().last().unwrap_or("it said nothing"));
            println!("name a Python with tests/reference/requirements.txt installed in {PYTHON}");
            None
        }
        Err(error) => {
            println!("peer not run: {python}: {error}; name one in {PYTHON}");
            None
        }
    }
}

/// The best of several runs, with the answer of the last.
pub fn best_of<T>(times: usize, mut work: impl FnMut() -> T) -> (Duration, T) {
    let mut answer = None;
    let mut best = Duration::MAX;
    for _ in 0..times {
        let start = Instant::now();
        answer = Some(std::hint::black_box(work()));
        best = best.min(start.elapsed());
    }
    (best, answer.expect("at least one run"))
}

/// One line of the table; panics when the answers differ by more than the tolerance.
pub fn compare(peer: &Value, task: &str, ours: Duration, answer: &[f64], tolerance: f64) {
    let task_of_peer = &peer["tasks"][task];
    let seconds = task_of_peer["seconds"].as_f64().expect("the peer's seconds");
    let wanted: Vec<f64> = task_of_peer["answer"]
        .as_array()
        .expect("the peer's answer")
        .iter()
        .map(|value| value.as_f64().expect("a number"))
        .collect();
    assert_eq!(answer.len(), wanted.len(), "{task}: as many answers");
    let worst = answer
        .iter()
        .zip(&wanted)
        // An exact 0 of ours stands beside a rounding of theirs.
        .map(
            |(ours, theirs)| {
                if (ours - theirs).abs() < 1e-15 { 0.0 } else { ((ours - theirs) / theirs).abs() }
            },
        )
        .fold(0.0, f64::max);
    assert!(worst <= tolerance, "{task}: answers differ by {worst:.1e}, more than {tolerance:.0e}");
    println!(
        "{task:<36} ours {:>10.3} ms   peer {:>10.3} ms   {:>8.1} times as fast   answers within {worst:.0e}",
        1e3 * ours.as_secs_f64(),
        1e3 * seconds,
        seconds / ours.as_secs_f64()
    );
}
