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

    // A plan that is kept lies beside the book and is read like any other; the next draw goes by it.
    let (code, text, errors) = wardwright(&["plan", "--data", data, "--job", "vein", "--json", "--keep"]);
    assert_eq!(code, 0, "{errors}");
    let kept = Path::new(data).join("plan-vein.json");
    assert_eq!(fs::read_to_string(&kept).expect("the kept plan"), text);
    let planned = json(&text);
    let first = &planned["assignments"][0];
    let at = format!(
        "{}T{}",
        first["date"].as_str().expect("a date"),
        if first["shift"] == "day" { "10:00" } else { "22:00" }
    );
    let next = ["next-draw", "--data", data, "--job", "vein", "--at", at.as_str(), "--json"];
    let (code, text, errors) = wardwright(&next);
    assert_eq!(code, 0, "{errors}");
    let offers = json(&text)["jobs"][0]["offers"].clone();
    let of_plan = |offer: &serde_json::Value| {
        planned["assignments"].as_array().expect("assignments").iter().any(|one| {
            one["date"] == first["date"]
                && one["shift"] == first["shift"]
                && one["learner"] == offer["draws"]
                && one["preceptor"] == offer["watches"]
        })
    };
    assert!(of_plan(&offers[0]), "{offers}");
    assert_eq!(offers[0]["must_be_watched"], true);
    let (code, words, _) = wardwright(&["next-draw", "--data", data, "--at", "2031-01-01T03:00"]);
    assert_eq!(code, 1);
    assert!(words.contains("Follow local policy"), "{words}");

    // A plan for another job is no plan of this one; a day in the past is none at all.
    for (arguments, expected) in [
        (vec!["plan", "--data", data, "--job", "lumbar"], "lumbar"),
        (vec!["plan", "--data", data, "--from", "2026-01-01"], "which is past"),
        (vec!["plan", "--data", data, "--absent", "n1"], "n1"),
        (vec!["plan", "--data", data, "--known", "no-such-plan.json"], "no-such-plan.json"),
        (vec!["next-draw", "--data", data, "--at", "soon"], "soon"),
        (vec!["next-draw", "--data", data, "--job", "lumbar"], "lumbar"),
    ] {
        let (code, out, errors) = wardwright(&arguments);
        assert_eq!((code, out.as_str()), (2, ""), "{errors}");
        assert!(errors.contains(expected) && errors.contains("to do:"), "{errors}");
    }
}

/// A unit with three shifts a day, and a roster with a fault of every kind: each is named with what helps, and the plan is
/// made from the rest.
#[test]
fn a_roster_with_faults_is_named_and_used() {
    let folder = TempDir::new().expect("a folder");
    let data = folder.path().join("demo");
    let data = data.to_str().expect("a plain path");
    let (code, _, errors) = wardwright(&["demo", "--into", data, "--no-serve"]);
    assert_eq!(code, 0, "{errors}");
    let (_, text, _) = wardwright(&["plan", "--data", data, "--job", "vein", "--json"]);
    let plan = json(&text);
    let learner = plan["learners"][0]["person"].as_str().expect("a learner").to_owned();
    let preceptor = plan["assignments"][0]["preceptor"].as_str().expect("a preceptor").to_owned();
    let today = plan["from"].as_str().expect("a day").parse::<jiff::civil::Date>().expect("a day");
    let day = |after: i64| today.saturating_add(jiff::ToSpan::days(after)).to_string();
    fs::write(
        Path::new(data).join("plan.toml"),
        "schema = 1\nshifts = [{ name = \"early\", begins = \"06:00\" }, { name = \"late\", begins = \"14:00\" }, \
         { name = \"night\", begins = \"22:00\" }]\nwords = [{ word = \"mid\", begins = \"10:00\", ends = \"18:00\" }]\n",
    )
    .expect("settings");
    let mut roster = "staff id,date,shift\n".to_owned();
    for after in [0, 2, 4, 14, 16, 18] {
        roster += &format!("{learner},{},early\n{preceptor},{},early\n", day(after), day(after));
    }
    // Overlapping work, an unknown person, an unknown word, a date that is none; the second week is missing.
    roster += &format!("{learner},{},mid\n", day(2));
    roster += &format!("x999,{},late\n{learner},{},dusk\n{learner},2026-13-40,late\n", day(2), day(4));
    fs::write(Path::new(data).join("roster.csv"), roster).expect("a roster");
    let (code, text, errors) =
        wardwright(&["plan", "--data", data, "--job", "vein", "--weeks", "3", "--json"]);
    assert_eq!(code, 0, "{errors}");
    for expected in
        ["\"x999\", whom the book does not know", "\"dusk\"", "early or late or night", "\"2026-13-40\""]
    {
        assert!(errors.contains(expected), "{expected}: {errors}");
    }
    let plan = json(&text);
    let faults = plan["faults"].to_string();
    for expected in ["and again from", "nobody on the roster from", "no shift from"] {
        assert!(faults.contains(expected), "{expected}: {faults}");
    }
    assert!(plan["assignments"].as_array().is_some_and(|all| {
        all.iter().any(|one| one["shift"] == "early" && one["learner"] == learner.as_str())
    }));
    let (code, _, errors) = wardwright(&["next-draw", "--data", data, "--at", "11:00", "--job", "vein"]);
    assert_eq!(code, 0, "{errors}");
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
