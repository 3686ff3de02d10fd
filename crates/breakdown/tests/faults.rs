//! Every finding of the format: a small file that has it, and the place where it is named.

use breakdown::{Fault, Severity, parse, parse_bytes};

/// A sound breakdown; rows change one line of it.
const SOUND: &str = "\
job: Draw from a vein
code: vein
version: 1
effective: 2026-03-02
author: Trainer
approved by: Lead
caution: Local policy comes first
words: clean = scrub
supply: 2 x bottle
step: Clean the skin
  key point [clean]: Rub for at least 30 s
    reason: it kills by contact
    quantity: skin contact at least 30 s
  key point [dry]: Let it dry by itself
    reason: wet alcohol stings
    quantity: skin dry at least 30 s
step: Fill the bottles
  safety point [fill]: Never push the plunger
    reason: that is how needles hurt
    quantity: fill 8 to 10 mL per bottle
    quantity: 2 bottles per set
order: clean before dry before fill
";

fn findings(text: &str) -> Vec<(usize, &'static str)> {
    parse(text).faults.iter().map(|fault| (fault.place.line, fault.name())).collect()
}

/// Replaces one line of the sound file and names the only findings that may follow.
#[track_caller]
fn check(from: &str, to: &str, expected: &[(usize, &'static str)]) {
    assert!(SOUND.contains(from), "{from:?} is not in the sound file");
    let text = SOUND.replacen(from, to, 1);
    let found = findings(&text);
    assert_eq!(found, expected, "{to:?}\n{:#?}", parse(&text).faults);
}

#[test]
fn the_sound_file_has_no_finding() {
    assert_eq!(findings(SOUND), []);
    assert!(parse(SOUND).is_sound());
}

#[test]
fn lines_that_are_not_what_they_should_be() {
    check("    reason: wet", "    resaon: wet", &[(14, "no-reason"), (15, "unknown-keyword")]);
    check("step: Clean", "stage: Clean", &[(10, "unknown-keyword"), (11, "out-of-place")]);
    check("caution: Local", "remember: Local", &[(0, "no-caution"), (7, "unknown-keyword")]);
    check("caution: Local policy comes", "Local policy comes", &[(0, "no-caution"), (7, "no-keyword")]);
    check("caution: Local policy comes first", "caution:", &[(0, "no-caution"), (7, "no-text")]);
    check("step: Fill the bottles", "step:", &[(17, "no-text")]);
    check("author: Trainer", "job: Another", &[(1, "not-yet-given"), (5, "twice")]);
    check("effective: 2026-03-02", "reason: because", &[(1, "not-yet-given"), (4, "out-of-place")]);
    check("step: Fill", "step [x]: Fill", &[(17, "label-not-here")]);
    check("[dry]", "[Dry it]", &[(14, "bad-label"), (22, "unknown-label"), (22, "unknown-label")]);
    check("[dry]", "[clean]", &[(14, "label-twice"), (22, "unknown-label"), (22, "unknown-label")]);
}

#[test]
fn headers() {
    check("job: Draw from a vein\n", "", &[(1, "missing")]);
    check("code: vein", "code: My Vein", &[(2, "bad-code")]);
    check("version: 1", "version: one", &[(3, "bad-version")]);
    check("version: 1", "version: 0", &[(3, "bad-version")]);
    check("version: 1", "version: 2", &[(1, "not-yet-given")]);
    check("version: 1", "version: 2\nchange: new wording", &[(4, "bad-change")]);
    check("version: 1", "version: 2\nchange(minor): new wording", &[]);
    check("2026-03-02", "2.3.2026", &[(4, "bad-date")]);
    check("2026-03-02", "2026-02-30", &[(4, "bad-date")]);
    check("approved by: Lead\n", "", &[(1, "not-yet-given")]);
    check("supply: 2 x", "supply: 0 x", &[(9, "bad-count")]);
    check("clean = scrub", "clean, scrub", &[(8, "bad-words")]);
    check("clean = scrub", "clean = scrub\nwords: scrub = prep", &[(9, "word-twice")]);
}

#[test]
fn steps_key_points_and_reasons() {
    check("    reason: it kills by contact\n", "", &[(11, "no-reason")]);
    check("it kills by contact", "because of the rubbing", &[(12, "reason-repeats")]);
    check("step: Fill the bottles", "step: Cleaning skin", &[(17, "step-twice")]);
    check("step: Fill", "step: Wait\nstep: Fill", &[(17, "step-without-key-points")]);
    check("safety point", "key point", &[(0, "no-safety-point")]);
    check("Let it dry by itself", "Rub at least 30 s", &[(14, "key-point-twice")]);
    let points = |n: usize| {
        (0..n).map(|at| format!("  knack: Trick {at}\n    reason: ease {at}\n")).collect::<String>()
    };
    check("step: Fill", &format!("{}step: Fill", points(3)), &[]);
    check("step: Fill", &format!("{}step: Fill", points(4)), &[(23, "too-many-key-points")]);
    let steps = |n: usize| {
        (0..n)
            .map(|at| format!("step: Stage {at}\n  knack: Trick {at}\n    reason: ease\n"))
            .collect::<String>()
    };
    check("step: Fill", &format!("{}step: Fill", steps(5)), &[]);
    check("step: Fill", &format!("{}step: Fill", steps(6)), &[(35, "many-steps")]);
    check("step: Fill", &format!("{}step: Fill", steps(8)), &[(41, "too-many-steps")]);
    assert_eq!(
        findings("job: Draw\ncode: draw\nversion: 1\neffective: 2026-01-01\nauthor: A\napproved by: B\n"),
        [(0, "no-steps")]
    );
}

#[test]
fn quantities() {
    check("fill 8 to 10 mL per bottle", "fill 8 to 10 per bottle", &[(20, "quantity-without-unit")]);
    check("fill 8 to 10 mL per bottle", "fill about 8 mL", &[(20, "bad-quantity")]);
    check("fill 8 to 10 mL per bottle", "fill 8 millilitrs", &[(20, "bad-quantity")]);
    check("quantity: skin dry at least 30 s", "quantity: skin contact 20 s", &[(16, "quantities-disagree")]);
    check("Rub for at least 30 s", "Rub for at least 20 s", &[(11, "text-disagrees")]);
    check("Let it dry by itself", "Let it dry for ten mils", &[(14, "quantity-not-marked")]);
    // 8 to 10 mL into each of 2 bottles make 16 to 20 mL.
    let with = |line: &str| format!("    quantity: 2 bottles per set\n    quantity: {line}\n");
    check("    quantity: 2 bottles per set\n", &with("blood 20 mL per set"), &[]);
    check("    quantity: 2 bottles per set\n", &with("blood 10 mL per set"), &[(22, "does-not-add-up")]);
    let patient = "2 sets per patient\n    quantity: blood 20 mL per patient";
    check("    quantity: 2 bottles per set\n", &with(patient), &[(23, "does-not-add-up")]);
}

#[test]
fn orders() {
    check("clean before dry before fill", "clean then dry", &[(22, "bad-order")]);
    check("clean before dry before fill", "clean before dri", &[(22, "unknown-label")]);
    check("clean before dry before fill", "dry before dry", &[(22, "order-to-itself")]);
    check("clean before dry before fill", "fill before clean", &[(22, "order-against-steps")]);
    check(
        "order: clean before dry before fill",
        "order: clean before dry\norder: dry before fill\norder: fill before clean",
        &[(24, "order-impossible")],
    );
}

#[test]
fn files_that_are_no_breakdown() {
    let name = |bytes: &[u8]| {
        let parsed = parse_bytes(bytes);
        assert!(parsed.breakdown.is_none());
        parsed.faults.iter().map(Fault::name).collect::<Vec<_>>()
    };
    assert_eq!(name(b""), ["empty"]);
    assert_eq!(name(b"# only a comment\n\n"), ["empty"]);
    assert_eq!(name(b"PK\x03\x04\x14\x00\x06\x00"), ["not-text"]);
    assert_eq!(name(&vec![b'a'; breakdown::LARGEST_FILE_BYTES + 1]), ["too-large"]);
}

#[test]
fn other_encodings_are_read_and_said() {
    let latin: Vec<u8> = SOUND.replace("Trainer", "Ren\u{e9}e").chars().map(|letter| letter as u8).collect();
    let parsed = parse_bytes(&latin);
    assert_eq!(parsed.breakdown.as_ref().unwrap().author.as_deref(), Some("Ren\u{e9}e"));
    assert_eq!(parsed.faults.iter().map(Fault::name).collect::<Vec<_>>(), ["encoding-assumed"]);
    assert!(parsed.is_sound(), "an assumed encoding is advice");
    let utf16: Vec<u8> = SOUND.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let marked = [b"\xff\xfe".as_slice(), &utf16].concat();
    assert_eq!(parse_bytes(&marked).faults, []);
    assert_eq!(parse_bytes(&[b"\xef\xbb\xbf", SOUND.as_bytes()].concat()).faults, []);
}

#[test]
fn line_ends_and_numbers_are_as_the_editor_and_the_author_like_them() {
    for end in ["\r\n", "\r"] {
        assert_eq!(findings(&SOUND.replace('\n', end)), []);
    }
    check("step: Fill", "Step 2: Fill", &[]);
    check("  key point [dry]:", "  KEY POINT 1.2 [dry] :", &[]);
    check("step: Fill", "stpe 2: Fill", &[(17, "unknown-keyword")]);
}

#[test]
fn a_place_is_a_line_and_a_column() {
    let parsed = parse(&SOUND.replace("fill 8 to 10 mL per bottle", "fill 8 to 10"));
    let place = parsed.faults[0].place;
    // "    quantity: fill": the text starts at the fifteenth character.
    assert_eq!((place.line, place.column), (20, 15));
}

#[test]
fn long_lines_continue_on_indented_lines() {
    let text = SOUND.replace("Let it dry by itself", "Let it\n      dry by\n      itself: no fanning");
    let parsed = parse(&text);
    assert_eq!(parsed.faults, []);
    assert_eq!(parsed.breakdown.unwrap().steps[0].key_points[1].text, "Let it dry by itself: no fanning");
}

#[test]
fn every_finding_has_all_its_sentences() {
    let broken = "\
jobb: x
version: x
step:
 key point [A B]:
  quantity: 8
  quantity: about 3 s
order: a before b
nonsense
";
    let parsed = parse(broken);
    assert!(parsed.faults.len() >= 8, "{:?}", parsed.faults);
    for fault in parsed.faults {
        for sentence in [fault.found(), fault.expected(), fault.to_do()] {
            assert!(!sentence.is_empty() && !sentence.contains("FaultKind"), "{fault:?}");
        }
        assert!(matches!(fault.severity(), Severity::Fault | Severity::Advice));
    }
}

#[test]
fn the_wording_of_the_commonest_fault() {
    let parsed = parse(&SOUND.replace("    reason: wet alcohol stings\n", ""));
    let fault = &parsed.faults[0];
    assert_eq!(fault.found(), "key point \"Let it dry by itself\" has no reason");
    assert_eq!(fault.expected(), "why it is a key point: people keep to what they know the reason of");
    assert_eq!(
        fault.to_do(),
        "add \"reason:\" under it; a key point nobody can give a reason for may not be one"
    );
}

/// The description for nurses explains every finding there is, and its example is a sound breakdown.
#[test]
fn the_description_explains_every_finding() {
    let description = include_str!("../../../docs/breakdown-file.md");
    let source = include_str!("../src/wording.rs");
    let names: Vec<&str> = source
        .lines()
        .map(str::trim)
        .filter_map(|line| line.strip_prefix('"')?.strip_suffix("\","))
        .filter(|name| name.chars().all(|letter| letter.is_ascii_lowercase() || letter == '-'))
        .filter(|name| *name != "plain text")
        .collect();
    assert!(names.len() > 40, "{names:?}");
    for name in names {
        assert!(description.contains(&format!("`{name}`")), "{name} is not explained");
    }
    let example = description.split("```text\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    assert_eq!(parse(example).faults, []);
}
