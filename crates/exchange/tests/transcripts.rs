//! Transcript files: the rules of the W3C for WebVTT, and the open caption files.
//!
//! The open files are those of the public test suite of the Python package webvtt-py (repository glut23/webvtt-py,
//! folder tests/subtitles, commit 2f78325d96f260540fe4ba729d3624daaf3f9be6, MIT licence). They are looked for in
//! `webvtt-srt` under the folder that WARDWRIGHT_OPEN_DATA names.

use std::path::{Path, PathBuf};

use exchange::transcript::{TranscriptFormat, TranscriptReading, read};
use proptest::prelude::*;

fn texts(reading: &TranscriptReading) -> Vec<&str> {
    reading.transcript.lines.iter().map(|line| line.text.as_str()).collect()
}

fn times(reading: &TranscriptReading) -> Vec<(Option<f64>, Option<f64>)> {
    reading.transcript.lines.iter().map(|line| (line.start_s, line.end_s)).collect()
}

#[track_caller]
fn check(
    text: &str,
    format: TranscriptFormat,
    expected: &[&str],
    fault_lines: &[usize],
) -> TranscriptReading {
    let reading = read(text.as_bytes());
    assert_eq!(reading.format, format, "{text:?}");
    assert_eq!(texts(&reading), expected, "{text:?}");
    let lines: Vec<usize> = reading.faults.iter().map(|fault| fault.line).collect();
    assert_eq!(lines, fault_lines, "{:#?}", reading.faults);
    reading
}

/// W3C WebVTT, section "WebVTT parser": each row one rule.
#[test]
fn webvtt_blocks_by_the_rules_of_the_w3c() {
    use TranscriptFormat::WebVtt;
    let cue = "00:01.000 --> 00:02.000\nscrub\n";
    check(&format!("WEBVTT\n\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("\u{feff}WEBVTT\n\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT title\n\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\nKind: captions\nLanguage: en\n\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\r\n\r\n{}", cue.replace('\n', "\r\n")), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\r\r{}", cue.replace('\n', "\r")), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\n\nname of the cue\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\n\nNOTE a comment\nof two lines\n\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\n\nSTYLE\n::cue {{}}\n\n{cue}"), WebVtt, &["scrub"], &[]);
    check(&format!("WEBVTT\n\n{cue}00:03.000 --> 00:04.000\nand dry\n"), WebVtt, &["scrub", "and dry"], &[]);
    check(
        "WEBVTT\n\n00:01.000 --> 00:02.000 align:start position:0%\nscrub\nwell",
        WebVtt,
        &["scrub well"],
        &[],
    );
    check(
        "WEBVTT\n\n00:01.000 --> 00:02.000\n<b>scrub</b> &amp; <00:01.500><c.x>dry</c>\n",
        WebVtt,
        &["scrub & dry"],
        &[],
    );
}

#[test]
fn nothing_said_is_lost() {
    use TranscriptFormat::{Srt, WebVtt};
    let reading = check(
        "WEBVTT\n\n00:01.000 --> 00:0x.000\nscrub\n\nand dry\n",
        WebVtt,
        &["scrub", "and dry"],
        &[3, 6],
    );
    assert_eq!(times(&reading), [(None, None), (None, None)]);
    check(
        "1\n00:00:01,000 --> 00:00:02,000\nscrub\n2\n00:00:02,000 --> 00:00:03,000\ndry\n",
        Srt,
        &["scrub", "dry"],
        &[],
    );
    check("WEBVTT\n\n00:01.000 --> 00:02.000\na < b\n", WebVtt, &["a < b"], &[]);
    check("WEBVTT\n\n00:05.000 --> 00:04.000\nscrub\n", WebVtt, &["scrub"], &[3]);
    check(
        "WEBVTT\n\n00:05.000 --> 00:06.000\nscrub\n\n00:01.000 --> 00:02.000\ndry\n",
        WebVtt,
        &["scrub", "dry"],
        &[7],
    );
}

#[test]
fn voices_and_speakers() {
    let speakers = |text: &str| -> Vec<(Option<String>, String)> {
        read(text.as_bytes()).transcript.lines.into_iter().map(|line| (line.speaker, line.text)).collect()
    };
    let named = |name: &str, text: &str| (Some(name.to_owned()), text.to_owned());
    let cue = "WEBVTT\n\n00:01.000 --> 00:02.000\n";
    assert_eq!(
        speakers(&format!("{cue}<v Trainer>what next?</v><v.loud Learner>let it dry\n")),
        [named("Trainer", "what next?"), named("Learner", "let it dry")]
    );
    assert_eq!(
        speakers("[00:01] Trainer: what next?\n[00:04] Learner: let it dry\nthirty seconds\n"),
        [named("Trainer", "what next?"), named("Learner", "let it dry thirty seconds")]
    );
    assert_eq!(
        speakers("[00:01] Step one: check the order\n"),
        [(None, "Step one: check the order".to_owned())]
    );
    assert_eq!(
        speakers(&format!("{cue}- what next?\n- let it dry\n")),
        [(None, "what next?".to_owned()), (None, "let it dry".to_owned())]
    );
}

#[test]
fn plain_lines_with_times_in_brackets() {
    use TranscriptFormat::{NoTimes, TimesInBrackets};
    let reading = check("[00:02] scrub\n[00:05.5] dry\n", TimesInBrackets, &["scrub", "dry"], &[]);
    assert_eq!(times(&reading), [(Some(2.0), Some(5.5)), (Some(5.5), None)]);
    check("so we start\n[00:02] scrub\n", TimesInBrackets, &["so we start", "scrub"], &[1]);
    check("scrub\ndry\n", NoTimes, &["scrub", "dry"], &[0]);
}

#[test]
fn what_is_no_transcript() {
    for bytes in [b"".as_slice(), b"\n\n", b"WEBVTT\n", b"RIFF\x24\x00\x00\x00WAVEfmt "] {
        let reading = read(bytes);
        assert!(reading.transcript.lines.is_empty());
        assert!(!reading.faults.is_empty());
    }
    let long = read(&vec![b'a'; 10_000_000]);
    assert_eq!(long.faults[0].to_do, "cut the recording into passes of one teach-back each");
    let latin = read(b"[00:01] caf\xe9\n");
    assert_eq!(texts(&latin), ["caf\u{e9}"]);
    assert!(latin.note.is_some());
}

fn open_data() -> Option<PathBuf> {
    let root = std::env::var_os("WARDWRIGHT_OPEN_DATA")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"), PathBuf::from);
    let folder = root.join("webvtt-srt");
    if folder.is_dir() {
        return Some(folder);
    }
    eprintln!(
        "not run: the open caption files are not at {}. They are the folder tests/subtitles of the public repository \
         glut23/webvtt-py; put them into a folder webvtt-srt and set WARDWRIGHT_OPEN_DATA to the folder above it.",
        folder.display()
    );
    None
}

/// File, lines with words, first text, last text: counted by reading the files. webvtt-py 0.6.0 reads the same texts,
/// except that here a cue of two voices gives two lines (comments.vtt), a repeated rolling line counts once
/// (youtube_dl.vtt), a cue without words gives none (missing_caption_text.vtt), and the words of a cue it drops or a
/// file it refuses are kept (invalid and missing times).
#[test]
fn the_open_caption_files() {
    let Some(folder) = open_data() else { return };
    let rows: &[(&str, usize, &str, &str)] = &[
        ("captions_with_bom.vtt", 4, "Caption text #1", "Caption text #4"),
        ("comments.vtt", 5, "Ta en kopp varmt te.", "Ta en kopp"),
        ("cue_tags.vtt", 3, "When the moon hits your eye", "That's amore"),
        ("metadata_headers.vtt", 2, "Caption text #1", "Caption text #2"),
        ("metadata_headers_multiline.vtt", 2, "Caption text #1", "Caption text #2"),
        ("missing_caption_text.vtt", 4, "Caption text #1", "Caption text #5"),
        ("missing_timeframe.vtt", 7, "Caption text #1", "Caption text #7"),
        ("invalid_timeframe.vtt", 7, "Caption text #1", "Caption text #7"),
        ("invalid.vtt", 7, "Caption text #1", "Caption text #7"),
        ("one_caption.vtt", 1, "Caption text #1", "Caption text #1"),
        ("sample.vtt", 16, "Caption text #1", "Caption text #16"),
        ("styles.vtt", 1, "Hello world.", "Hello world."),
        ("using_identifiers.vtt", 6, "Caption text #1", "Caption text #6"),
        ("youtube_dl.vtt", 3, "yeah", "this will happen is I'm telling"),
        ("one_caption.srt", 1, "Caption text #1", "Caption text #1"),
        ("sample.srt", 5, "Caption text #1", "Caption text #5"),
        ("missing_timeframe.srt", 5, "Caption text #1", "Caption text #5"),
        ("missing_caption_text.srt", 4, "Caption text #1", "Caption text #5"),
        ("sample.sbv", 5, "Caption text #1", "Caption text #5"),
        ("two_captions.sbv", 2, "Caption text #1", "Caption text #2 (line 1) Caption text #2 (line 2)"),
    ];
    for (name, n_lines, first, last) in rows {
        let reading = read(&std::fs::read(folder.join(name)).unwrap());
        let texts = texts(&reading);
        assert_eq!(texts.len(), *n_lines, "{name} {texts:#?} {:#?}", reading.faults);
        assert_eq!(texts.first(), Some(first), "{name}");
        assert_eq!(texts.last(), Some(last), "{name}");
    }
    for name in ["empty.vtt", "no_captions.vtt"] {
        let reading = read(&std::fs::read(folder.join(name)).unwrap());
        assert!(reading.transcript.lines.is_empty() && !reading.faults.is_empty(), "{name}");
    }
    for name in [
        "invalid_timeframe.vtt",
        "missing_timeframe.vtt",
        "invalid_timeframe_in_cue_text.vtt",
        "missing_timeframe.srt",
    ] {
        let reading = read(&std::fs::read(folder.join(name)).unwrap());
        assert!(!reading.faults.is_empty(), "{name} has a fault to name");
    }
}

proptest! {
    #[test]
    fn any_bytes_are_read_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = read(&bytes);
    }

    #[test]
    fn any_cues_are_read_without_panic_and_keep_their_words(
        blocks in prop::collection::vec(
            prop_oneof![
                Just("00:01.000 --> 00:02.000".to_owned()), Just(String::new()), Just("7".to_owned()),
                Just("0:00:01.000,0:00:02.000".to_owned()), Just("<v A>".to_owned()), Just("NOTE".to_owned()),
                Just("[00:01] x".to_owned()), "[a-z]{4,8}( [a-z]{1,8}){0,3}",
            ],
            0..14,
        ),
        vtt in any::<bool>(),
    ) {
        let text = format!("{}{}", if vtt { "WEBVTT\n\n" } else { "" }, blocks.join("\n"));
        let reading = read(text.as_bytes());
        for fault in &reading.faults {
            prop_assert!(fault.line <= text.lines().count(), "{:?}", fault);
        }
        // Words are kept, but for comments, cue names and repeated lines; without WEBVTT there are no comments.
        if !vtt && blocks.iter().all(|block| !block.contains(['>', ',', '[']) && block != "NOTE" && block != "7") {
            let words: usize = blocks.iter().map(|block| block.split_whitespace().count()).sum();
            let kept: usize = reading.transcript.lines.iter().map(|line| line.text.split_whitespace().count()).sum();
            prop_assert_eq!(words, kept);
        }
    }
}
