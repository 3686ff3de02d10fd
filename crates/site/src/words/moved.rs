//! Which pages say nothing of their own, and which still do: every file of the pages is read.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use super::scripts::tests::{is_said, texts};

/// Files that still hold texts of their own: these are what a translation would have to move first.
const NOT_YET: [&str; 50] = [
    "account",
    "accounts/mod",
    "accounts/one",
    "accounts/views",
    "after",
    "away",
    "breakdowns/ledgers",
    "breakdowns/missed",
    "breakdowns/mod",
    "collection",
    "collection/form",
    "collection/shown",
    "correct",
    "editor/form",
    "editor/mod",
    "find",
    "follow_up",
    "keys",
    "methods",
    "mod",
    "next_draw",
    "observe/mod",
    "observe/typed",
    "pairs",
    "papers",
    "people",
    "person",
    "plan/mod",
    "plan/shown",
    "published",
    "reports",
    "results",
    "rules/mod",
    "rules/typed",
    "rules/view",
    "sign_in",
    "sign_in/provider",
    "signing/confidence",
    "signing/mod",
    "signing/view",
    "start/job",
    "start/mod",
    "start/people",
    "teach_back/mod",
    "teach_back/typed",
    "timetable/date",
    "timetable/expected",
    "timetable/mod",
    "upload",
    "watching",
];

fn files(folder: &Path, under: &str, found: &mut BTreeMap<String, String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        let name = format!("{under}{}", entry.file_name().to_str().unwrap());
        if entry.file_type().unwrap().is_dir() {
            files(&entry.path(), &format!("{name}/"), found);
        } else if let Some(name) = name.strip_suffix(".rs") {
            found.insert(name.to_owned(), fs::read_to_string(entry.path()).unwrap());
        }
    }
}

/// What a file says outside its tests, but for what is put into a text by its name and what a log is told.
fn said(name: &str, file: &str) -> Vec<String> {
    let file = match name {
        // What comes before is the description that a device reads when the pages are installed.
        "bedside" => file.split_once("\"##;").map_or("", |(_, after)| after),
        _ => file,
    };
    let file = file.split("#[cfg(test)]").next().unwrap_or_default();
    texts(file).into_iter().filter(|text| is_said(text) && !text.contains(['{', '/'])).collect()
}

#[test]
fn no_page_but_those_listed_says_anything_of_its_own() {
    let mut pages = BTreeMap::new();
    files(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src/pages"), "", &mut pages);
    assert!(pages.contains_key("today") && pages.contains_key("teach_back/live"), "the pages were not found");
    let own: BTreeMap<&str, Vec<String>> = pages
        .iter()
        .map(|(name, file)| (name.as_str(), said(name, file)))
        .filter(|(_, said)| !said.is_empty())
        .collect();
    for (name, said) in &own {
        assert!(NOT_YET.contains(name), "{name} says {said:?}: its words belong in src/words");
    }
    for name in NOT_YET {
        assert!(own.contains_key(name), "{name} says nothing of its own any more: take it off the list");
    }
}
