//! Our acknowledgements and invented messages, held against libraries of other people: hl7apy for HL7 v2 in its strict
//! mode, fhir.resources for FHIR R4. The test script installs both; see tests/reference/requirements.txt.

mod support;

use std::path::{Path, PathBuf};
use std::process::Command;

use exchange::laboratory::acknowledge::{ErrorCode, Manner, Problem, Reply, acknowledge, identity};
use exchange::laboratory::mllp::{Frame, Frames, frame};
use exchange::laboratory::{InputFile, Mapping, read};
use jiff::civil::date;
use serde_json::Value;
use support::{TODAY, key, open_data};

fn own(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name)
}

/// What the library reads, or `None` with a word where there is no Python to ask.
fn ask(command: &str, paths: &[&Path], library: &str) -> Option<Value> {
    let Some(python) = std::env::var_os("WARDWRIGHT_PYTHON") else {
        println!(
            "NOT CHECKED against {library}: WARDWRIGHT_PYTHON is not set. Name a Python with tests/reference/requirements.txt installed, as the test script does."
        );
        return None;
    };
    let script =
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/messages_reference.py");
    let output = Command::new(python).arg(script).arg(command).args(paths).output().expect("Python starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    Some(serde_json::from_slice(&output.stdout).expect("JSON"))
}

fn message(version: &str, kind: &str, delimiters: &str) -> String {
    let text = format!(
        "MSH|{delimiters}|LAB^2.16^ISO|NORTH|TRAINER|WARD|20260302080000||{kind}|C-{version}|P|{version}\rPID|1||77\r"
    );
    let mut written = delimiters.chars();
    text.replace('^', &written.next().unwrap_or('^').to_string())
}

/// Every version from 2.3 to 2.6 and what hl7apy knows after it, each accepted, in error and rejected: the answer is
/// valid by the standard, names the message it answers, and goes back to where the message came from.
#[test]
fn acknowledgements_are_valid_in_every_version() {
    let problem = Problem {
        code: ErrorCode::DataType,
        segment: Some("OBR".to_owned()),
        field: Some(7),
        text: "found a value of the form \"9 aaaaa\"; expected a time as YYYYMMDDhhmm | ^ & ~ \\".to_owned(),
    };
    let replies = [
        ("AA", Reply::Accepted),
        ("AE", Reply::Error(problem)),
        ("AR", Reply::Rejected(Problem::new(ErrorCode::UnsupportedMessageType, "an order"))),
    ];
    let mut answers: Vec<String> = Vec::new();
    let mut expected: Vec<(String, &str, bool)> = Vec::new();
    for (version, kind) in [
        ("2.3", "ORU^R01"),
        ("2.3.1", "ORU^R01"),
        ("2.4", "ORU^R01^ORU_R01"),
        ("2.5", "ORU^R01^ORU_R01"),
        ("2.5.1", "ORU^R01^ORU_R01"),
        ("2.6", "ORU^R01^ORU_R01"),
        ("2.7", "ORU^R01^ORU_R01"),
        ("2.8", "ORU^R01^ORU_R01"),
    ] {
        for delimiters in ["^~\\&", "*~\\&"] {
            for (code, reply) in &replies {
                let message = message(version, kind, delimiters);
                let now = date(2026, 3, 2).at(8, 5, 9, 0);
                for answer in acknowledge(message.as_bytes(), reply, Manner::AsAsked, "W-1", now) {
                    // Through a frame and out of it again.
                    let mut frames = Frames::new(10_000);
                    frames.push(&frame(&answer));
                    assert_eq!(frames.next_frame(), Some(Frame::Message(answer.clone())));
                    answers.push(String::from_utf8(answer).expect("ASCII"));
                    expected.push((version.to_owned(), code, *code != "AA"));
                }
            }
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("answers");
    std::fs::write(&path, answers.join("\n\n")).expect("written");
    let Some(found) = ask("acknowledgements", &[&path], "hl7apy") else { return };
    let found = found["answers"].as_array().expect("answers");
    assert_eq!(found.len(), expected.len());
    for ((found, (version, code, has_error)), answer) in found.iter().zip(expected).zip(answers) {
        assert_eq!(found["valid"], true, "{found}: {answer:?}");
        assert_eq!(found["version"], *version);
        assert_eq!(found["code"], code);
        assert_eq!(found["control_id"], format!("C-{version}"));
        assert_eq!(found["receiver"].as_str().map(|name| name.starts_with("LAB")), Some(true), "{found}");
        assert_eq!(found["sender"], "TRAINER");
        assert_eq!(found["error"].is_string(), has_error, "{found}");
    }
}

/// The invented messages that other tests use are valid by hl7apy in strict mode, and an answer knows each again.
#[test]
fn our_invented_messages_are_valid() {
    let path = own("larkfield_two_sets.hl7");
    let text = std::fs::read(&path).expect("a file of this crate");
    let first = identity(&text, &key());
    assert_eq!((first.application.as_str(), first.control_id.as_str()), ("LAB", "LF-0001"));
    let Some(found) = ask("messages", &[&path], "hl7apy") else { return };
    let messages = found["messages"].as_array().expect("messages");
    assert_eq!(messages.len(), 2);
    let mut n_orders = 0;
    for message in messages {
        assert_eq!(message["valid"], true, "{message}");
        let segments = message["segments"].as_array().expect("segments");
        n_orders += segments.iter().filter(|name| *name == "OBR").count();
    }
    let import = read(
        &[InputFile { name: "larkfield_two_sets.hl7", bytes: &text }],
        &Mapping::for_messages(),
        &[],
        &key(),
        TODAY,
    );
    assert_eq!(import.counts[0].rows, n_orders as u64, "as many orders as the other library finds");
}

/// The invented bundle is valid by fhir.resources, and both count the same reports and organisms; so for the open
/// examples of the specification.
#[test]
fn resources_are_those_another_library_reads() {
    let own = own("larkfield_two_sets.json");
    let open = open_data("fhir-r4-micro", "the FHIR specification's examples against fhir.resources");
    let mut sets_of_files: Vec<Vec<PathBuf>> = vec![vec![own]];
    if let Some(folder) = open {
        let names =
            ["fhir401_Bundle-f202.json", "fhir401_Observation-f206.json", "fhir401_Patient-f201.json"];
        sets_of_files.push(names.iter().map(|name| folder.join(name)).collect());
    }
    for paths in sets_of_files {
        let borrowed: Vec<&Path> = paths.iter().map(PathBuf::as_path).collect();
        let Some(found) = ask("resources", &borrowed, "fhir.resources") else { return };
        let bytes: Vec<Vec<u8>> = paths.iter().map(|path| std::fs::read(path).expect("a file")).collect();
        let files: Vec<InputFile<'_>> =
            bytes.iter().map(|bytes| InputFile { name: "resources.json", bytes }).collect();
        let mapping =
            support::mapping("schema = 1\nname = \"examples\"\n[messages]\nday_from_report = true\n");
        let import = read(&files, &mapping, &[], &key(), TODAY);
        let rows: u64 = import.counts.iter().map(|file| file.rows).sum();
        assert_eq!(Some(rows), found["kinds"]["DiagnosticReport"].as_u64(), "one row for each report");
        let said: Vec<&str> = found["said"]
            .as_array()
            .expect("said")
            .iter()
            .filter_map(|pair| pair[1].as_str())
            .filter(|words| !words.starts_with("No growth"))
            .collect();
        let organisms: Vec<&str> = import
            .sets
            .iter()
            .flat_map(|set| &set.isolates)
            .map(|isolate| isolate.reported_name.as_str())
            .collect();
        assert_eq!(organisms, said, "{paths:?}");
    }
}
