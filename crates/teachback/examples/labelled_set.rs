//! Writes the labelled set with what the reader makes of it, one JSON object a line, for the peers and for fitting the
//! calibration: `cargo run -p wardwright-teachback --example labelled_set -- tuning|test|test-2|test-3|test-4 OUT.jsonl`.

#[path = "../tests/labelled_set/mod.rs"]
mod labelled_set;

use std::error::Error;
use std::io::{BufWriter, Write};

use breakdown::ItemKind;
use labelled_set::{Case, JOBS, Part, cases, job};
use serde_json::{Value, json};
use teachback::{Settings, hear, signs};

/// Shares of words made wrong, each with the seeds it is repeated with.
const LEVELS: [(f64, u64); 3] = [(0.0, 1), (0.10, 4), (0.25, 4)];

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, part, out] = arguments.as_slice() else {
        return Err("expected: tuning|test|test-2|test-3|test-4 OUT.jsonl".into());
    };
    let part = match part.as_str() {
        "tuning" => Part::Tuning,
        "test" => Part::Test,
        "test-2" => Part::SecondTest,
        "test-3" => Part::ThirdTest,
        "test-4" => Part::FourthTest,
        other => {
            return Err(format!("part {other:?}: expected tuning, test, test-2, test-3 or test-4").into());
        }
    };
    let mut file = BufWriter::new(std::fs::File::create(out)?);
    for case in cases(part) {
        for (share, n_seeds) in LEVELS {
            for seed in 1..=n_seeds {
                writeln!(file, "{}", row(&case, share, seed))?;
            }
        }
    }
    Ok(file.flush()?)
}

fn row(case: &Case, share: f64, seed: u64) -> Value {
    let breakdown = job(&case.job);
    let written = case.written(share, seed);
    let labels = case.labels(&breakdown, &written);
    let hearing = hear(&breakdown, &written.transcript, &Settings::default());
    let signs = signs(&breakdown, &written.transcript);
    let items = breakdown.items();
    let items: Vec<Value> = items
        .iter()
        .zip(&labels)
        .zip(&hearing.proposals)
        .map(|((item, label), proposal)| {
            let text = match item.id.kind() {
                ItemKind::Reason => item.key_point.map_or(String::new(), |point| point.reasons.join(" ")),
                _ => item.text.to_owned(),
            };
            json!({
                "item": item.id.to_string(),
                "kind": format!("{:?}", item.id.kind()),
                "safety": item.key_point.is_some_and(|point| point.kind == breakdown::KeyPointKind::Safety),
                "text": text,
                "label": label.mark,
                "label_s": label.at_s,
                "recognised": label.recognised,
                "mark": proposal.mark.words(),
                "heard_as": format!("{:?}", proposal.heard_as),
                "at_s": proposal.at_s,
                "heard": proposal.heard,
                "expected_quantity": proposal.expected_quantity,
                "heard_quantity": proposal.heard_quantity,
                "said_probability": proposal.said_probability,
                "confidence": proposal.confidence,
                "listen": proposal.listen,
                "signs": signs.iter().find(|(id, _)| *id == item.id).map(|(_, signs)| signs.to_vec()),
            })
        })
        .collect();
    let lines = written.transcript.lines.iter().filter(|line| line.speaker.as_deref() != Some("Trainer"));
    json!({
        "name": case.name, "job": case.job, "same": case.same, "share": share, "seed": seed,
        "lines": lines.map(|line| line.text.clone()).collect::<Vec<_>>(),
        "steps": case.steps, "steps_named": hearing.steps_named,
        "order": case.order, "order_errors": hearing.order_errors.iter().map(|error| {
            let label = |id| {
                let item = breakdown.items().into_iter().find(|item| item.id == id);
                item.and_then(|item| item.key_point).and_then(|point| point.label.clone())
            };
            json!([label(error.first), label(error.then)])
        }).collect::<Vec<_>>(),
        "other_jobs": JOBS.iter().filter(|code| **code != case.job).map(|code| {
            let hearing = hear(&job(code), &written.transcript, &Settings::default());
            json!([code, hearing.same_job, hearing.same_job_because])
        }).collect::<Vec<_>>(),
        "same_job": hearing.same_job, "because": hearing.same_job_because,
        "unmatched": hearing.unmatched.iter().map(|other| other.text.clone()).collect::<Vec<_>>(),
        "chat": case.lines.iter().filter(|line| line.tags.iter().any(|tag| tag == "x")).map(|line| line.text.clone()).collect::<Vec<_>>(),
        "items": items,
    })
}
