//! Caption files read here and by webvtt-py 0.6.0 (PyPI), on the open files of its public repository: the same cues, with the
//! same times and words. `tests/reference/captions.py` runs the library; the test script names its Python in
//! WARDWRIGHT_PYTHON.

use std::path::{Path, PathBuf};
use std::process::Command;

use exchange::transcript::read;
use serde_json::Value;

/// Files in which the two differ on purpose: what the library drops, this reader keeps and names as a fault (invalid and
/// missing times), two voices of one cue become two lines, a repeated rolling line counts once, an end before its start
/// is not kept.
const DIFFER: [&str; 11] = [
    "comments.vtt",
    "styles.vtt",
    "youtube_dl.vtt",
    "invalid_timeframe.vtt",
    "invalid_timeframe.srt",
    "invalid_timeframe.sbv",
    "invalid_timeframe_in_cue_text.vtt",
    "missing_timeframe.vtt",
    "missing_timeframe.srt",
    "missing_timeframe.sbv",
    "missing_caption_text.sbv",
];

fn reference() -> Option<(PathBuf, Vec<Value>)> {
    let root = std::env::var_os("WARDWRIGHT_OPEN_DATA")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"), PathBuf::from);
    let folder = root.join("webvtt-srt");
    let Some(python) = std::env::var_os("WARDWRIGHT_PYTHON").filter(|_| folder.is_dir()) else {
        eprintln!(
            "NOT CHECKED against webvtt-py: WARDWRIGHT_PYTHON names no Python with webvtt-py, or the open caption files are \
             not at {}. docs/open-data.md says where they are published.",
            folder.display()
        );
        return None;
    };
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/captions.py");
    let output = Command::new(python).arg(script).arg(&folder).output().expect("the reference runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let lines = String::from_utf8(output.stdout).expect("text");
    let files = lines.lines().map(|line| serde_json::from_str(line).expect("one object a line")).collect();
    Some((folder, files))
}

#[test]
fn the_same_cues_as_webvtt_py() {
    let Some((folder, files)) = reference() else { return };
    let mut n_same = 0;
    for file in &files {
        let name = file["file"].as_str().expect("a name");
        let Some(cues) = file["cues"].as_array() else { continue };
        let expected: Vec<(f64, f64, &str)> = cues
            .iter()
            .map(|cue| {
                (
                    cue[0].as_f64().unwrap_or(-1.0),
                    cue[1].as_f64().unwrap_or(-1.0),
                    cue[2].as_str().unwrap_or(""),
                )
            })
            .filter(|(.., words)| !words.is_empty())
            .collect();
        let reading = read(&std::fs::read(folder.join(name)).expect("the file is there"));
        let lines = &reading.transcript.lines;
        if DIFFER.contains(&name) {
            let all: String = lines.iter().map(|line| line.text.as_str()).collect::<Vec<_>>().join(" ");
            for word in
                expected.iter().flat_map(|(.., words)| words.split_whitespace()).filter(|word| *word != "-")
            {
                assert!(all.contains(word), "{name}: {word:?} was lost");
            }
            continue;
        }
        let heard: Vec<(f64, f64, &str)> = lines
            .iter()
            .map(|line| (line.start_s.unwrap_or(-1.0), line.end_s.unwrap_or(-1.0), line.text.as_str()))
            .collect();
        assert_eq!(heard.len(), expected.len(), "{name}");
        for (one, other) in heard.iter().zip(&expected) {
            // An end before its start is named as a fault and not kept.
            let end = if other.1 < other.0 { -1.0 } else { other.1 };
            let same = (one.0 - other.0).abs() < 1e-9 && (one.1 - end).abs() < 1e-9;
            assert!(same, "{name}: {one:?} {other:?}");
            assert_eq!(one.2, other.2, "{name}");
        }
        n_same += 1;
    }
    assert!(n_same >= 12, "only {n_same} files were compared cue by cue");
}
