//! The plan of the coming weeks for the invented demo unit, as somebody meets it on the command line.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use tempfile::TempDir;

fn wardwright(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("wardwright").expect("the binary is built").args(arguments).output();
    let output = output.expect("the binary runs");
    (
        output.status.code().unwrap_or(-1),
        String::from_utf8_lossy(&output.stdout).into_owned(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    )
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).expect("one JSON object")
}

#[test]
fn the_demo_unit_is_planned_and_planned_again_after_an_absence() {
    let folder = TempDir::new().expect("a folder");
    let data = folder.path().join("demo");
    let data = data.to_str().expect("a plain path");
    let (code, _, errors) = wardwright(&["demo", "--into", data, "--no-serve"]);
    assert_eq!(code, 0, "{errors}");

    let (code, text, errors) = wardwright(&["plan", "--data", data, "--json"]);
    assert_eq!(code, 0, "{errors}");
    let plan = json(&text);
    assert!(plan["bound"].as_f64() >= plan["objective"].as_f64());
    let learners = plan["learners"].as_array().expect("learners");
    assert!(!learners.is_empty());
    for learner in learners {
        let chance = learner["p_done_by_date"].as_f64().expect("a chance");
        assert!((0.0..=1.0).contains(&chance));
        if chance >= 0.5 {
            assert!(learner["date_50"].is_string(), "{learner}");
        }
    }
    let assignments = plan["assignments"].as_array().expect("assignments");
    assert!(!assignments.is_empty());
    // One learner at a time for each preceptor.
    let mut taken = std::collections::BTreeSet::new();
    for one in assignments {
        let key = (one["date"].to_string(), one["shift"].to_string(), one["preceptor"].to_string());
        assert!(taken.insert(key), "{one}");
    }
    let (code, words, _) = wardwright(&["plan", "--data", data]);
    assert_eq!(code, 0);
    assert!(words.contains("Learners done by their dates, in the mean"), "{words}");
    assert!(words.contains("local policy comes first"), "{words}");

    // The first preceptor of the plan is away for its first two weeks.
    let known = Path::new(data).join("plan.json");
    fs::write(&known, &text).expect("the plan is kept");
    let away = assignments[0]["preceptor"].as_str().expect("a preceptor").to_owned();
    let absent = format!("{away}:2026-11-02:2026-11-15");
    let known = known.to_str().expect("a plain path");
    let calendars = folder.path().join("calendars");
    let (code, text, errors) = wardwright(&[
        "plan",
        "--data",
        data,
        "--json",
        "--known",
        known,
        "--absent",
        &absent,
        "--calendars",
        calendars.to_str().expect("a plain path"),
    ]);
    assert_eq!(code, 0, "{errors}");
    let again = json(&text);
    let lost = assignments
        .iter()
        .filter(|one| one["preceptor"] == away.as_str() && one["date"].as_str() <= Some("2026-11-15"))
        .count() as u64;
    let changes = &again["changes"];
    let count = |key: &str| changes[key].as_u64().expect("a count");
    assert_eq!(count("known"), assignments.len() as u64);
    assert!(count("kept") + lost >= count("known"), "{changes} {lost}");
    for one in again["assignments"].as_array().expect("assignments") {
        assert!(one["preceptor"] != away.as_str() || one["date"].as_str() > Some("2026-11-15"), "{one}");
    }
    let written: Vec<_> = fs::read_dir(&calendars).expect("calendars were written").collect();
    assert!(written.len() >= 2);

    // A plan for another job is no plan of this one; a day in the past is none at all.
    for (arguments, expected) in [
        (vec!["plan", "--data", data, "--job", "lumbar"], "lumbar"),
        (vec!["plan", "--data", data, "--from", "2026-01-01"], "which is past"),
        (vec!["plan", "--data", data, "--absent", "n1"], "n1"),
        (vec!["plan", "--data", data, "--known", "no-such-plan.json"], "no-such-plan.json"),
    ] {
        let (code, out, errors) = wardwright(&arguments);
        assert_eq!((code, out.as_str()), (2, ""), "{errors}");
        assert!(errors.contains(expected) && errors.contains("to do:"), "{errors}");
    }
}

#[test]
fn the_shortest_rule_is_found_or_none_is() {
    let (code, text, errors) = wardwright(&["release-rule", "--find", "--json"]);
    assert_eq!(code, 0, "{errors}");
    let found = json(&text);
    assert!(found["search"]["not_ready_released"].as_f64() <= Some(0.05), "{text}");
    assert!(found["search"]["ready_held_back"].as_f64() <= Some(0.1), "{text}");
    let (code, text, _) = wardwright(&["release-rule", "--find", "--within", "10"]);
    assert_eq!(code, 1);
    assert!(text.contains("NO SUCH RULE"), "{text}");
    let (code, _, errors) = wardwright(&["release-rule", "--find", "--ready", "0.5"]);
    assert_eq!(code, 2);
    assert!(errors.contains("--find"), "{errors}");
}
