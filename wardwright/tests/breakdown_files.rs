//! The commands on breakdown files and teach-backs, run as a trainer runs them. The unit is invented.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;

fn breakdowns() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../breakdowns")
}

/// Runs a command in the folder of the breakdowns: exit code, standard output, standard error.
#[track_caller]
fn run(words: &[&str]) -> (i32, String, String) {
    let output =
        Command::cargo_bin("wardwright").unwrap().current_dir(breakdowns()).args(words).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[track_caller]
fn json(words: &[&str]) -> (i32, Value) {
    let (code, out, _) = run(words);
    (code, serde_json::from_str(&out).unwrap())
}

#[test]
fn the_breakdowns_that_come_along_are_sound() {
    let (code, out, _) = run(&["breakdown", "check", "vein.txt", "central-line.txt"]);
    assert_eq!(code, 0, "{out}");
    assert!(
        out.contains("vein.txt: sound. Blood culture from a vein, adult, one set (vein, version 1)"),
        "{out}"
    );
}

#[test]
fn a_key_point_without_a_reason_is_named_with_its_place() {
    let (code, out, _) = run(&["breakdown", "check", "examples/faults.txt"]);
    assert_eq!(code, 1);
    let expected = "\
examples/faults.txt:20: fault no-reason
  found:    key point \"Let it dry by itself\" has no reason
  expected: why it is a key point: people keep to what they know the reason of
  to do:    add \"reason:\" under it; a key point nobody can give a reason for may not be one
";
    assert!(out.contains(expected), "{out}");
    assert!(out.contains("examples/faults.txt: 12 faults, 2 pieces of advice."), "{out}");
}

#[test]
fn machines_get_every_finding() {
    let (code, report) =
        json(&["breakdown", "check", "--json", "vein.txt", "examples/faults.txt", "no-such-file.txt"]);
    assert_eq!(code, 2, "the file that could not be read decides");
    assert_eq!(report["sound"], false);
    assert_eq!(report["files"][0]["sound"], true);
    assert_eq!(report["files"][1]["findings"].as_array().unwrap().len(), 14);
    let finding = &report["files"][2]["findings"][0];
    assert_eq!((finding["name"].as_str(), finding["severity"].as_str()), (Some("unreadable"), Some("fault")));
}

#[test]
fn bad_files_get_a_message_and_an_exit_code() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let vein = fs::read_to_string(breakdowns().join("vein.txt")).unwrap();
    let latin: Vec<u8> =
        vein.replace("author: Unit", "author: \u{c9}ducation unit").chars().map(|c| c as u32 as u8).collect();
    let utf16: Vec<u8> = "\u{feff}"
        .chars()
        .chain(vein.chars())
        .collect::<String>()
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let rows = [
        (file("empty.txt", b""), 2, "the file holds nothing but blank lines and comments"),
        (file("picture.txt", b"\x89PNG\r\n\x1a\n\x00\x00"), 2, "control characters"),
        (file("latin.txt", &latin), 0, "it was read as one byte per letter"),
        (file("utf16.txt", &utf16), 0, "sound"),
        (file("bom.txt", &[b"\xef\xbb\xbf", vein.as_bytes()].concat()), 0, "sound"),
    ];
    for (path, expected_code, expected) in rows {
        let (code, out, _) = run(&["breakdown", "check", &path]);
        assert_eq!(code, expected_code, "{out}");
        assert!(out.contains(expected), "{out}");
    }
    let (code, _, err) = run(&["breakdown", "check", "no-such-file.txt"]);
    assert_eq!(code, 2);
    assert!(err.contains("the file could not be read") && err.contains("to do:"), "{err}");
}

/// Two bottles of 8 to 10 mL and 5 mL discarded, by hand: 21 to 25 mL a set. Twelve draws need twelve masks.
#[test]
fn check_adds_up_what_the_job_takes() {
    let (code, out, _) = run(&["breakdown", "check", "central-line.txt", "--draws", "12"]);
    assert_eq!(code, 0, "{out}");
    for words in [
        "into the bottles, per set: 16 to 20 mL",
        "discarded, per set: 5 mL",
        "taken from the patient, per set: 21 to 25 mL",
        "Fill of an adult bottle",
        "if different things dry side by side: ",
        "Supplies for 12 draws",
        "12 x mask",
    ] {
        assert!(out.contains(words), "{words}: {out}");
    }
    let (_, report) =
        json(&["breakdown", "check", "--json", "--draws", "12", "central-line.txt", "no-such.txt"]);
    let ledgers = &report["files"][0]["ledgers"];
    assert_eq!(ledgers["blood"]["taken_per_set_ml"], serde_json::json!([21.0, 25.0]));
    assert_eq!(ledgers["draws"], 12);
    let least: f64 = ledgers["time"]["entries"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry["at_least_s"].as_f64().unwrap())
        .sum();
    assert_eq!(ledgers["time"]["one_after_another_s"].as_f64(), Some(least));
    assert!(report["files"][1]["ledgers"].is_null());
}

#[test]
fn show_gives_the_ledgers() {
    let (code, shown) = json(&["breakdown", "show", "central-line.txt", "--draws", "12", "--json"]);
    assert_eq!(code, 0);
    // 2 bottles of 8 to 10 mL and 5 mL discarded, by hand.
    assert_eq!(shown["blood"]["taken_per_set_ml"], serde_json::json!([21.0, 25.0]));
    let mask = shown["supplies"].as_array().unwrap().iter().find(|supply| supply["name"] == "mask").unwrap();
    assert_eq!(mask["count"], 12);
    let (code, text, _) = run(&["breakdown", "show", "examples/ten-and-five.txt"]);
    assert_eq!(code, 0);
    assert!(text.contains("short by 3 to 5 mL a bottle"), "{text}");
    // Nadler 1962 as printed, 1.75 m and 70 kg: a man has 4.823755 L; two sets of two bottles of 8 to 10 mL.
    let body = ["--weight", "70", "--height", "1.75", "--patient", "man"];
    let (code, shown) = json(&[&["breakdown", "show", "vein.txt", "--json"][..], &body[..]].concat());
    assert_eq!(code, 0);
    assert!((shown["patient"]["blood_ml"].as_f64().unwrap() - 4823.755).abs() < 1e-3, "{}", shown["patient"]);
    assert_eq!(shown["patient"]["taken_ml"], serde_json::json!([32.0, 40.0]));
    let (code, _, err) = run(&["breakdown", "show", "vein.txt", "--weight", "7000"]);
    assert_eq!(code, 2);
    assert!(err.contains("7000 kg is not within 0.3 to 400 kg"), "{err}");
    let (code, _, err) = run(&["breakdown", "show", "examples/faults.txt"]);
    assert_eq!(code, 1);
    assert!(err.contains("wardwright breakdown check examples/faults.txt"), "{err}");
}

#[test]
fn compare_proposes_major_for_safety() {
    let folder = tempfile::tempdir().unwrap();
    let changed = folder.path().join("vein-2.txt");
    let vein = fs::read_to_string(breakdowns().join("vein.txt")).unwrap();
    fs::write(&changed, vein.replace("at most 2 attempts", "at most 3 attempts")).unwrap();
    let (code, out, _) = run(&["breakdown", "compare", "vein.txt", changed.to_str().unwrap()]);
    assert_eq!(code, 0);
    assert!(
        out.contains("number was: at most 2 attempts") && out.contains("Proposed: change (major)"),
        "{out}"
    );
    let (_, out, _) = run(&["breakdown", "compare", "vein.txt", "vein.txt"]);
    assert_eq!(out, "Nothing changed.\n");
}

#[test]
fn a_teach_back_becomes_a_draft() {
    let (code, draft) =
        json(&["teachback", "examples/teach-back-vein.vtt", "--breakdown", "vein.txt", "--json"]);
    assert_eq!(code, 0);
    assert_eq!(
        (&draft["same_job"], &draft["draft"], &draft["steps_named"]),
        (&true.into(), &true.into(), &7.into())
    );
    let item = |id: &str| {
        let items = draft["items"].as_array().unwrap().iter();
        items.clone().find(|item| item["item"] == id).unwrap().clone()
    };
    // Planted: 10 s of contact for at least 30 s, 10 mL per set for 8 to 10 mL per bottle.
    let clean = item("3.4");
    assert_eq!(
        (&clean["mark"], &clean["kind"], &clean["step"]),
        (&"wrong".into(), &"key_point".into(), &3.into())
    );
    assert_eq!(clean["expected_quantity"], "skin contact at least 30 s");
    assert_eq!(clean["heard_quantity"], "10 s");
    assert_eq!(item("5.1")["heard_quantity"], "10 mL per set");
    assert_eq!(item("3.5")["mark"], "prompted");
    assert_eq!(item("7.1")["listen"], true);
    for key in ["items", "steps_named", "order_errors", "unmatched", "same_job"] {
        assert!(draft.get(key).is_some(), "{key}");
    }
}

#[test]
fn what_is_no_teach_back_of_this_job() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let other = file("other.srt", "1\n00:00:01,000 --> 00:00:04,000\nthe weather stays fine until monday\n");
    let (code, out, _) = run(&["teachback", &other, "--breakdown", "vein.txt"]);
    assert_eq!(code, 1);
    assert!(
        out.contains("THIS IS NOT THIS JOB, it seems: ") && out.contains("words that carry meaning"),
        "{out}"
    );
    // Another language is said to be that, or something like it.
    let german = "1\n00:00:01,000 --> 00:00:09,000\nzuerst prüfe ich den namen und das geburtsdatum am armband dann desinfiziere ich die haut\n";
    let (code, out, _) = run(&["teachback", &file("german.srt", german), "--breakdown", "vein.txt"]);
    assert_eq!(code, 1);
    assert!(out.contains("another language"), "{out}");
    let empty = file("empty.vtt", "WEBVTT\n");
    let (code, _, err) = run(&["teachback", &empty, "--breakdown", "vein.txt"]);
    assert_eq!(code, 2);
    assert!(err.contains("no words"), "{err}");
    let (code, _, err) = run(&["teachback", &other, "--breakdown", "no-such-file.txt"]);
    assert_eq!(code, 2);
    assert!(err.contains("no-such-file.txt"), "{err}");
}
