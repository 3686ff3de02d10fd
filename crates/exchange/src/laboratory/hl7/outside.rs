//! Field by field beside a library of other people (python-hl7), on the open messages and our own invented one.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use super::character_set::CharacterSet;
use super::pieces::{Piece, Pieces};
use super::segments::Message;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn reference(python: &std::ffi::OsStr, path: &Path) -> Value {
    let script = root().join("tests/reference/messages_reference.py");
    let output = Command::new(python).arg(script).arg("segments").arg(path).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Every segment and the first component of the first repetition of every field.
#[test]
fn fields_are_those_another_library_reads() {
    let Some(python) = std::env::var_os("WARDWRIGHT_PYTHON") else {
        println!(
            "NOT CHECKED against python-hl7: WARDWRIGHT_PYTHON is not set. Name a Python with tests/reference/requirements.txt installed, as the test script does."
        );
        return;
    };
    let open = std::env::var_os("WARDWRIGHT_OPEN_DATA")
        .map_or_else(|| root().join("../shared/data"), PathBuf::from)
        .join("hl7v2-oru-micro");
    let mut paths = vec![PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/larkfield_two_sets.hl7")];
    match std::fs::read_dir(&open) {
        Ok(entries) => paths.extend(
            entries
                .map(|entry| entry.unwrap().path())
                .filter(|p| p.extension().is_some_and(|kind| kind == "hl7")),
        ),
        Err(_) => println!(
            "NOT CHECKED: the open HL7 v2 messages; docs/open-data.md says where they are published."
        ),
    }
    let mut n_fields = 0;
    for path in paths {
        let bytes = std::fs::read(&path).unwrap();
        let expected = reference(&python, &path);
        let pieces: Vec<Piece<'_>> = Pieces::of(&bytes).collect();
        let messages: Vec<&[u8]> = pieces
            .iter()
            .filter_map(|piece| if let Piece::Message { bytes, .. } = piece { Some(*bytes) } else { None })
            .collect();
        let expected = expected["messages"].as_array().unwrap();
        assert_eq!(messages.len(), expected.len(), "{}: messages", path.display());
        for (bytes, expected) in messages.into_iter().zip(expected) {
            let decoded = CharacterSet::Ascii.read(bytes).unwrap();
            let message = Message::cut(&decoded.text, 1, decoded.encoding).unwrap();
            let expected = expected.as_array().unwrap();
            assert_eq!(message.segments.len(), expected.len(), "{}: segments", path.display());
            for (segment, expected) in message.segments.iter().zip(expected) {
                assert_eq!(segment.name(), expected[0].as_str().unwrap());
                for (at, expected) in expected[1].as_array().unwrap().iter().enumerate() {
                    let number = at + 1;
                    if segment.name() == "MSH" && number <= 2 {
                        continue;
                    }
                    let found = segment.field(number).component(1);
                    let place =
                        format!("{}, line {}, {}-{number}", path.display(), segment.line, segment.name());
                    assert_eq!(found, expected.as_str().unwrap(), "{place}");
                    n_fields += 1;
                }
            }
        }
    }
    assert!(n_fields > 300, "{n_fields}");
}
