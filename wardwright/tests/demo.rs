//! The demo, as somebody meets it who has just built the program.

use std::fs;
use std::path::{Path, PathBuf};

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

fn demo_in(folder: &Path) -> (i32, String, String) {
    wardwright(&["demo", "--into", folder.to_str().expect("a plain path"), "--no-serve"])
}

fn papers_in(folder: &Path) -> Vec<PathBuf> {
    let mut papers = Vec::new();
    let mut folders = vec![folder.join("papers")];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).expect("papers were written") {
            let path = entry.expect("a folder entry").path();
            if path.is_dir() { folders.push(path) } else { papers.push(path) }
        }
    }
    papers.sort();
    papers
}

#[test]
fn is_the_same_every_time_and_is_never_mixed_with_another() {
    let (first, second) = (TempDir::new().expect("a folder"), TempDir::new().expect("a folder"));
    let (first, second) = (first.path().join("demo"), second.path().join("demo"));

    let (code, summary, errors) = demo_in(&first);
    assert_eq!((code, errors.as_str()), (0, ""), "{summary}");
    for expected in [
        "(invented: no real people, patients or results)",
        "What needs the trainer today",
        "Decide whether to release",
        "Who may draw alone",
        "closed sets",
        "95 % interval",
        "rule: adult-24h, version 1",
        "Training support, not a medical device.",
    ] {
        assert!(summary.contains(expected), "{expected:?} is missing from:\n{summary}");
    }

    let (code, _, errors) = demo_in(&second);
    assert_eq!((code, errors.as_str()), (0, ""));
    let (papers, others) = (papers_in(&first), papers_in(&second));
    assert!(papers.len() > 50, "{} papers", papers.len());
    assert_eq!(papers.len(), others.len());
    for (paper, other) in papers.iter().zip(&others) {
        let bytes = fs::read(paper).expect("a paper");
        assert!(bytes.starts_with(b"%PDF-"), "{}", paper.display());
        assert!(bytes == fs::read(other).expect("a paper"), "{} differs between two demos", paper.display());
    }

    // Patient hashes are made under a key that is new for each folder, so the books differ and the keys do too.
    let key = |folder: &Path| fs::read(folder.join("patient.key")).expect("a key");
    assert_ne!(key(&first), key(&second));

    let book = fs::read(first.join("book.sqlite")).expect("a book");
    let (code, again, errors) = demo_in(&first);
    assert_eq!((code, errors.as_str()), (0, ""));
    assert!(again.contains("already holds the demo; it is shown as it is and nothing was added."), "{again}");
    assert!(book == fs::read(first.join("book.sqlite")).expect("a book"), "the second run changed the book");

    let (code, sound, _) = wardwright(&["book", "verify", "--data", first.to_str().expect("a plain path")]);
    assert_eq!(code, 0, "{sound}");
    assert!(sound.starts_with("Sound: "), "{sound}");
}

#[test]
fn leaves_a_units_own_folder_alone() {
    let folder = TempDir::new().expect("a folder");
    let own = folder.path().join("own");
    let own_text = own.to_str().expect("a plain path");
    let (code, _, errors) = wardwright(&["setup", "--data", own_text, "--unit", "Example Unit (invented)"]);
    assert_eq!(code, 0, "{errors}");
    let before = fs::read(own.join("book.sqlite")).expect("a book");
    let (code, _, errors) = demo_in(&own);
    assert_eq!(code, 2);
    assert!(errors.contains("which is not a demo") && errors.contains("--into"), "{errors}");
    assert!(before == fs::read(own.join("book.sqlite")).expect("a book"));

    let (code, _, errors) = wardwright(&["setup", "--data", own_text, "--unit", "Another"]);
    assert_eq!(code, 2);
    assert!(
        errors.contains("already holds wardwright.toml") && errors.contains("nothing was changed"),
        "{errors}"
    );
}

#[test]
fn a_settings_file_with_a_slip_is_named() {
    let folder = TempDir::new().expect("a folder");
    let own = folder.path().join("own");
    let own_text = own.to_str().expect("a plain path");
    wardwright(&["setup", "--data", own_text, "--unit", "Example Unit (invented)"]);
    let settings = own.join("wardwright.toml");
    let text = fs::read_to_string(&settings).expect("settings");
    fs::write(&settings, format!("{text}todya = \"2026-11-02\"\n")).expect("settings can be changed");
    let (code, _, errors) = wardwright(&["papers", "--data", own_text]);
    assert_eq!(code, 2);
    assert!(errors.contains("wardwright.toml") && errors.contains("todya"), "{errors}");

    fs::write(&settings, format!("{text}today = \"2.11.2026\"\n")).expect("settings can be changed");
    let (code, _, errors) = wardwright(&["papers", "--data", own_text]);
    assert_eq!(code, 2);
    assert!(errors.contains("a date such as 2026-11-02"), "{errors}");
}

#[test]
fn a_patient_key_that_was_swapped_is_refused_before_it_splits_a_patient_in_two() {
    let folder = TempDir::new().expect("a folder");
    let demo = folder.path().join("demo");
    let (code, _, errors) = demo_in(&demo);
    assert_eq!(code, 0, "{errors}");
    fs::write(demo.join("patient.key"), [7; 32]).expect("the key can be changed");
    let file = fs::read_dir(demo.join("laboratory"))
        .expect("laboratory files")
        .map(|entry| entry.expect("a folder entry").path())
        .find(|path| path.extension().is_some_and(|extension| extension == "csv"))
        .expect("a laboratory file");
    let before = fs::read(demo.join("book.sqlite")).expect("a book");
    let (code, _, errors) = wardwright(&[
        "cultures",
        "take-in",
        file.to_str().expect("a plain path"),
        "--map",
        demo.join("laboratory/mapping.toml").to_str().expect("a plain path"),
        "--data",
        demo.to_str().expect("a plain path"),
        "--by",
        "n001",
        "--with-unread",
    ]);
    assert_eq!(code, 2, "{errors}");
    assert!(errors.contains("key"), "{errors}");
    assert!(before == fs::read(demo.join("book.sqlite")).expect("a book"), "the book was touched");
}

/// A trainer, a nurse and a date on the timetable, all invented.
const ENTRIES: &str = r#"by = "t1"
[[entry]]
what = "person added"
on = 2026-01-02
person = "t1"
name = "Invented Trainer"
role = "trainer"
unit = "Invented unit"
started = 2026-01-02
[[entry]]
what = "person added"
on = 2026-01-02
person = "n1"
name = "Invented Nurse"
role = "nurse"
unit = "Invented unit"
started = 2026-01-02
[[entry]]
what = "breakdown published"
on = 2026-01-02
file = "vein.txt"
[[entry]]
what = "planned"
on = 2026-01-03
person = "n1"
job = "vein"
needed-by = 2031-03-01
"#;

#[test]
fn the_units_own_release_rule_is_the_one_that_advises() {
    let folder = TempDir::new().expect("a folder");
    let demo = folder.path().join("demo");
    let (code, summary, errors) = demo_in(&demo);
    assert_eq!(code, 0, "{errors}");
    assert!(summary.contains("Decide whether to release"), "{summary}");

    let shipped = concat!(env!("CARGO_MANIFEST_DIR"), "/../policies/release-rule.toml");
    let rule = fs::read_to_string(shipped)
        .expect("the shipped rule")
        .replace("draws_needed = 5", "draws_needed = 8");
    let settings = demo.join("wardwright.toml");
    let text = fs::read_to_string(&settings).expect("settings");
    fs::write(&settings, format!("{text}release_rule = \"own-rule.toml\"\n"))
        .expect("settings can be changed");

    let (code, _, errors) = demo_in(&demo);
    assert_eq!(code, 2);
    assert!(errors.contains("own-rule.toml"), "{errors}");

    fs::write(demo.join("own-rule.toml"), &rule).expect("a rule can be written");
    // The demo's book holds a published rule, which stands above the file.
    let (code, again, errors) = demo_in(&demo);
    assert_eq!((code, errors.as_str()), (0, ""));
    assert!(again.ends_with(&summary), "{again}");

    // A unit that has published none goes by its file.
    let unit = folder.path().join("unit");
    let data = unit.to_str().expect("a plain path");
    assert_eq!(wardwright(&["setup", "--data", data, "--unit", "Invented unit"]).0, 0);
    fs::write(unit.join("vein.txt"), include_str!("../../breakdowns/vein.txt")).expect("a breakdown");
    fs::write(unit.join("own-rule.toml"), rule).expect("a rule can be written");
    let entries = unit.join("entries.toml");
    fs::write(&entries, ENTRIES).expect("entries can be written");
    let entries = entries.to_str().expect("a plain path");
    let (code, _, errors) = wardwright(&["book", "add", entries, "--data", data]);
    assert_eq!(code, 0, "{errors}");
    let missing = || wardwright(&["people", "show", "n1", "--data", data]).1;
    assert!(missing().contains("0 of 5 observed draws"), "{}", missing());
    let settings = unit.join("wardwright.toml");
    let text = fs::read_to_string(&settings).expect("settings");
    fs::write(&settings, format!("{text}release_rule = \"own-rule.toml\"\n")).expect("settings");
    assert!(missing().contains("0 of 8 observed draws"), "{}", missing());
}
