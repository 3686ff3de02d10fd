//! `wardwright cultures pairs` on an invented laboratory's files. The rule is IDSA 2009: 120 minutes; the differences
//! are by hand.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::fs;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

const MAPPING: &str = r#"schema = 1
name = "invented laboratory"
rows = "bottle"
date_formats = ["YYYY-MM-DD hh:mm"]
no_growth = ["no growth"]
[columns]
specimen = "no"
patient = "mrn"
collected = "drawn"
organism = ["found"]
route = "site"
bottle = "bottle"
fill_ml = "mL"
[route_words]
central_line = ["PICC"]
vein = ["arm"]
"#;

const SETS: &str = "no,mrn,drawn,found,site,bottle,mL\n\
    L1,1,2026-03-02 08:00,S. aureus,PICC,aerobic,10\n\
    L1,1,2026-03-02 08:00,S. aureus,PICC,anaerobic,10\n\
    V1,1,2026-03-02 08:10,S. aureus,arm,aerobic,10\n\
    V1,1,2026-03-02 08:10,S. aureus,arm,anaerobic,9\n\
    L2,2,2026-03-03 08:00,E. coli,PICC,aerobic,10\n\
    V2,2,2026-03-03 08:16,E. coli,arm,aerobic,10\n\
    L3,3,2026-03-04 08:00,E. coli,PICC,aerobic,10\n\
    V3,3,2026-03-04 08:00,no growth,arm,aerobic,10\n\
    L4,4,2026-03-04 08:00,no growth,PICC,aerobic,10\n";

fn folder(times: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in [("mapping.toml", MAPPING), ("lab.csv", SETS), ("times.csv", times)] {
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

#[track_caller]
fn run(folder: &TempDir, words: &[&str]) -> (i32, String, String) {
    let all = ["cultures", "pairs", "lab.csv", "--map", "mapping.toml", "--times", "times.csv"];
    let output =
        Command::cargo_bin("wardwright").unwrap().current_dir(folder).args(all).args(words).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[track_caller]
fn report(times: &str) -> Value {
    let (code, out, err) = run(&folder(times), &["--json"]);
    assert_eq!(code, 0, "{err}");
    serde_json::from_str(&out).unwrap()
}

const HEAD: &str = "specimen,positive_after_h\n";

/// The earliest bottle of a set counts: 12:00 in the line, then 119, 120 and 121 minutes later in the vein.
#[test]
fn the_difference_at_its_boundaries() {
    for (vein, s, finding) in [
        ("13:59", 7_140, "does-not-point-to-line"),
        ("14:00", 7_200, "points-to-line"),
        ("14:01", 7_260, "points-to-line"),
    ] {
        let report = report(&format!("{HEAD}L1,15.5\nL1,12\nV1,{vein}\nV1,\n"));
        assert_eq!(report["pairs"][0]["line_earlier_s"], s, "{report}");
        assert_eq!(report["pairs"][0]["finding"], finding, "{report}");
        assert_eq!(report["pairs"][0]["doubts"], serde_json::json!([]));
    }
}

#[test]
fn what_cannot_be_compared_says_why() {
    let (code, out, err) =
        run(&folder(&format!("{HEAD}L1,12\nL2,12\nV2,15\nL3,9\nX9,3\nV1,soon\n,4\n")), &[]);
    assert_eq!(code, 0, "{err}");
    for words in [
        "Pairs of a line and a vein set: 3. Sets from lines without a vein set within 24 hours: 1.",
        "a time to positivity is not known",
        "drawn 16 minutes apart, more than 15",
        "Only the line’s set grew",
        "line 7: \"soon\" is no time to positivity",
        "line 8: no specimen number",
        "specimen numbers that are in no set: 1",
        "IDSA 2009",
        "a licensed clinician decides",
    ] {
        assert!(out.contains(words), "no {words:?} in:\n{out}");
    }
}

#[test]
fn faults_of_the_files_are_named() {
    let (code, out, err) = run(&folder("sample,hours\nL1,12\n"), &[]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("\"specimen\" is not there; the columns are sample, hours"), "{err}");
    assert!(err.contains("--specimen-column"), "{err}");
    let (code, _, err) = run(&folder(""), &[]);
    assert_eq!(code, 2);
    assert!(err.contains("times.csv") && err.contains("empty file"), "{err}");
    let (code, out, err) = run(
        &folder("sample,hours,dose\nL1,12,yes\nV1,15,no\n"),
        &["--specimen-column", "sample", "--hours-column", "hours", "--antibiotic-column", "dose"],
    );
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("drawn under an antibiotic") && !out.contains("is not in these files"), "{out}");
}

/// The times come with the sets where the mapping names their column: 12:00 in the line, 14:00 in the vein. A table given
/// beside them goes first.
#[test]
fn times_that_come_with_the_sets() {
    let folder = folder("specimen,positive_after_h\nV1,13:59\n");
    let mapping = MAPPING.replace("fill_ml = \"mL\"", "fill_ml = \"mL\"\npositive_after_h = \"positive\"");
    let mut sets = String::new();
    for (line, row) in SETS.lines().enumerate() {
        let after = match (line, &row[..2]) {
            (0, _) => "positive",
            (_, "L1") => "12:00",
            (3, "V1") => "14",
            (4, "V1") => "20,5",
            _ => "",
        };
        let after = if after.contains(',') { format!("\"{after}\"") } else { after.to_owned() };
        sets.push_str(&format!("{row},{after}\n"));
    }
    fs::write(folder.path().join("mapping.toml"), mapping).unwrap();
    fs::write(folder.path().join("lab.csv"), sets).unwrap();
    let report = |times: &[&str]| -> Value {
        let mut command = Command::cargo_bin("wardwright").unwrap();
        command.current_dir(&folder).args([
            "cultures",
            "pairs",
            "lab.csv",
            "--map",
            "mapping.toml",
            "--json",
        ]);
        let output = command.args(times).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let alone = report(&[]);
    assert_eq!(alone["pairs"][0]["line_earlier_s"], 7_200, "{alone}");
    assert_eq!(alone["pairs"][0]["finding"], "points-to-line");
    let beside = report(&["--times", "times.csv"]);
    assert_eq!(beside["pairs"][0]["line_earlier_s"], 7_140, "{beside}");
    assert_eq!(beside["pairs"][0]["finding"], "does-not-point-to-line");
}
