//! The watched folder.

mod common;

use std::fs;

use book::Store as _;
use common::{SAID, Said, moment, open, terms};
use door::{Door, Found, Watch};
use exchange::laboratory::Mapping;

const MAPPING: &str = r#"
schema = 1
name = "an invented laboratory"

[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
organism = "organism"
"#;

#[test]
fn files_are_taken_in_when_whole_and_moved() {
    let folder = tempfile::tempdir().unwrap();
    let inbox = folder.path().join("inbox");
    fs::create_dir(&inbox).unwrap();
    let book = folder.path().join("book.sqlite");
    drop(open(&book));
    let reopened = || {
        let store = book::SqliteBook::open(&book).unwrap();
        Door::open(store, terms(Mapping::from_toml(MAPPING).unwrap())).unwrap()
    };
    let mut door = reopened();
    let mut watch = Watch::open(&inbox, false).unwrap();
    let put = |name: &str, text: &str| fs::write(inbox.join(name), text).unwrap();
    let good = "specimen,patient,collected,organism\nS-1,77,2026-03-01 04:10,\nS-2,78,2026-03-01 05:10,Escherichia coli\n";
    put("march.csv", good);
    put("bad.csv", "specimen,patient,collected,organism\nS-7,77,yesterday,\n");
    put("growing.csv", "specimen,patient\n");
    put("later.csv.part", good);
    put(".hidden", good);
    let messages =
        [SAID.message(), "quux\r".to_owned(), Said { control: "2", specimen: "S-9", ..SAID }.message()];
    put("feed.hl7", &messages.concat());
    assert_eq!(watch.look(&mut door, &moment).unwrap(), [], "the first look only remembers");
    put("growing.csv", good);
    let lines: Vec<String> = watch.look(&mut door, &moment).unwrap().iter().map(Found::line).collect();
    assert_eq!(lines.len(), 3, "{lines:#?}");
    assert!(
        lines[0].starts_with("bad.csv: kept aside for 1 reason(s)") && lines[0].contains("line 2"),
        "{lines:#?}"
    );
    assert!(lines[2].starts_with("march.csv: entry ") && lines[2].contains("2 sets new"), "{lines:#?}");
    let names = |inside: &str| {
        let mut names: Vec<String> = fs::read_dir(inbox.join(inside))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    };
    assert_eq!(names("done"), ["feed.hl7", "march.csv"]);
    assert_eq!(names("kept-aside"), ["bad.csv", "bad.csv.why.txt"]);
    assert!(
        fs::read_to_string(inbox.join("kept-aside/bad.csv.why.txt"))
            .unwrap()
            .contains("column \"collected\"")
    );
    // The grown file holds what the book knows; a program that stopped before it moved a file meets the file again.
    let lines: Vec<String> = watch.look(&mut door, &moment).unwrap().iter().map(Found::line).collect();
    assert_eq!(lines.len(), 1, "{lines:#?}");
    assert!(lines[0].starts_with("growing.csv: taken in before"), "{lines:#?}");
    fs::copy(inbox.join("done/march.csv"), inbox.join("march.csv")).unwrap();
    let head = door.store().head().unwrap();
    let mut after = Watch::open(&inbox, false).unwrap();
    after.look(&mut door, &moment).unwrap();
    assert!(after.look(&mut door, &moment).unwrap()[0].line().contains("taken in before"));
    assert_eq!(door.store().head().unwrap(), head);
    assert_eq!(names("done"), ["feed.hl7", "growing.csv", "march-2.csv", "march.csv"]);
    assert!(inbox.join("later.csv.part").exists() && inbox.join(".hidden").exists());
    assert!(Watch::open(&folder.path().join("none"), false).is_err());
}
