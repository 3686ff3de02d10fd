//! The reader against a plain fuzzy matcher on the same transcripts in the same run: the token-set ratio of rapidfuzz, with the
//! threshold that is best for it on the tuning part (`tests/hearing/token_set.py`). Sentence embeddings, the other peer, need a
//! learning framework of several gigabytes and are run by hand (`docs/hearing.md`).

mod labelled_set;

use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use breakdown::{ItemKind, ItemView};
use labelled_set::{Part, cases, job};
use serde_json::{Value, json};
use teachback::{HeardAs, Settings, hear};

/// Shares of words made wrong, each with the seeds it is repeated with.
const LEVELS: [(f64, u64); 3] = [(0.0, 1), (0.10, 2), (0.25, 2)];

/// Said and heard, too much, lost.
type Counts = [u32; 3];

fn text_of(item: &ItemView<'_>) -> String {
    match item.id.kind() {
        ItemKind::Reason => item.key_point.map_or(String::new(), |point| point.reasons.join(" ")),
        _ => item.text.to_owned(),
    }
}

/// One row for each transcript and level, as the peer reads it, and the reader's counts at each level.
fn rows(part: Part) -> Result<(String, [Counts; 3]), Box<dyn Error>> {
    let (mut rows, mut counts) = (String::new(), [[0; 3]; 3]);
    for case in cases(part) {
        let breakdown = job(&case.job);
        for ((share, n_seeds), count) in LEVELS.into_iter().zip(&mut counts) {
            for seed in 1..=n_seeds {
                let written = case.written(share, seed);
                let labels = case.labels(&breakdown, &written);
                let hearing = hear(&breakdown, &written.transcript, &Settings::default());
                let items = breakdown.items();
                let told = items.iter().zip(&labels).zip(&hearing.proposals);
                let items: Vec<Value> = told
                    .map(|((item, label), proposal)| {
                        let guess = proposal.heard_as != HeardAs::NotHeard;
                        // The words of an item that was led are the trainer's.
                        if label.mark != "led" {
                            match (label.mark != "missed", guess) {
                                (true, true) => count[0] += 1,
                                (false, true) => count[1] += 1,
                                (true, false) => count[2] += 1,
                                (false, false) => {}
                            }
                        }
                        let kind = format!("{:?}", item.id.kind());
                        json!({"item": item.id.to_string(), "kind": kind, "text": text_of(item), "label": label.mark})
                    })
                    .collect();
                let lines = written.transcript.lines.iter();
                let lines: Vec<&str> = lines
                    .filter(|line| line.speaker.as_deref() != Some("Trainer"))
                    .map(|line| line.text.as_str())
                    .collect();
                writeln!(rows, "{}", json!({"share": share, "seed": seed, "lines": lines, "items": items}))?;
            }
        }
    }
    Ok((rows, counts))
}

#[test]
fn above_a_plain_fuzzy_matcher_at_every_level() -> Result<(), Box<dyn Error>> {
    let Some(python) = std::env::var_os("WARDWRIGHT_PYTHON") else {
        println!(
            "NOT CHECKED against rapidfuzz: WARDWRIGHT_PYTHON is not set. Name a Python with tests/reference/requirements.txt installed, as the test script does."
        );
        return Ok(());
    };
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/hearing/token_set.py");
    let tuning = folder.join("peer-tuning.jsonl");
    std::fs::write(&tuning, rows(Part::Tuning)?.0)?;
    for part in [Part::Test, Part::SecondTest, Part::ThirdTest, Part::FourthTest] {
        let (text, counts) = rows(part)?;
        let test = folder.join(format!("peer-{part:?}.jsonl"));
        std::fs::write(&test, text)?;
        let output = Command::new(&python).arg(&script).arg(&tuning).arg(&test).output()?;
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let peer: Value = serde_json::from_slice(&output.stdout)?;
        for ((share, _), [hit, extra, lost]) in LEVELS.into_iter().zip(counts) {
            let own = f64::from(2 * hit) / f64::from((2 * hit + extra + lost).max(1));
            let other = peer[format!("{share:?}")].as_f64().ok_or("a score for each level")?;
            println!("{part:?}, {share} of the words wrong: F1 {own:.3}, token set {other:.3}");
            assert!(own > other, "{part:?} at {share}: {own:.3} against {other:.3}");
        }
    }
    Ok(())
}
