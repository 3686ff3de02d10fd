//! What the tests of the laboratory's door share.

#![expect(clippy::unwrap_used, reason = "a helper of tests that cannot go on without its value")]
#![allow(dead_code, reason = "each test file uses a part")]

use std::path::PathBuf;

use culture::CultureSet;
use exchange::laboratory::{Import, InputFile, Mapping, PatientHashKey, read};
use jiff::civil::{Date, date};

/// The day on which the tests stand.
pub const TODAY: Date = date(2026, 4, 30);

/// A mapping for a table with every column that most tests need.
pub const MAPPING: &str = r#"
schema = 1
name = "test"
date_formats = ["YYYY-MM-DD hh:mm"]
[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
organism = "organism"
"#;

pub fn key() -> PatientHashKey {
    PatientHashKey::new(b"a key that is used by tests only").unwrap()
}

pub fn mapping(text: &str) -> Mapping {
    match Mapping::from_toml(text) {
        Ok(mapping) => mapping,
        Err(error) => panic!("{error}"),
    }
}

pub fn read_one(bytes: &[u8], mapping_text: &str) -> Import {
    read(&[InputFile { name: "cultures.csv", bytes }], &mapping(mapping_text), &[], &key(), TODAY)
}

/// Everything that was noticed, one line each.
pub fn said(import: &Import) -> String {
    let mut lines: Vec<String> = import.unread.iter().map(ToString::to_string).collect();
    lines.extend(import.notes.iter().map(|note| {
        format!("note: {}, {} rows, line {:?}: {}", note.file, note.count, note.first_line, note.text)
    }));
    lines.extend(
        import.dropped.iter().map(|dropped| format!("left out: {} rows: {}", dropped.rows, dropped.reason)),
    );
    lines.join("\n")
}

/// Rows in are rows kept, left out and unread, in every file.
#[track_caller]
pub fn every_row_is_accounted_for(import: &Import) {
    for file in &import.counts {
        assert_eq!(file.rows, file.kept + file.dropped + file.unread, "{file:?}");
    }
}

/// Sets by their number, for comparing imports that may meet them in another order.
pub fn sorted(mut sets: Vec<CultureSet>) -> Vec<CultureSet> {
    sets.sort_by(|a, b| a.id.cmp(&b.id));
    for set in &mut sets {
        set.isolates.sort_by(|a, b| a.reported_name.cmp(&b.reported_name));
        set.bottles.sort_by(|a, b| {
            (a.kind, a.fill_ml.map(f64::to_bits)).cmp(&(b.kind, b.fill_ml.map(f64::to_bits)))
        });
    }
    sets
}

/// The folder of open data, or `None` with a word about what was not checked and where the files are published.
pub fn open_data(folder: &str, what: &str) -> Option<PathBuf> {
    let root = std::env::var_os("WARDWRIGHT_OPEN_DATA").map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"),
        PathBuf::from,
    );
    let path = root.join(folder);
    if path.is_dir() {
        return Some(path);
    }
    println!(
        "NOT CHECKED: {what}. No folder {} was found. docs/open-data.md says where the files are published; put them in a folder and name it in WARDWRIGHT_OPEN_DATA.",
        path.display()
    );
    None
}

pub fn file(folder: &std::path::Path, name: &str) -> Vec<u8> {
    std::fs::read(folder.join(name)).unwrap()
}
