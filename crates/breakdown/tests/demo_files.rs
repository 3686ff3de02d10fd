//! The two breakdowns that come with the program are sound, and their ledgers are right by hand.

use std::path::{Path, PathBuf};

use breakdown::{Parsed, Severity, ledger, parse_bytes, write};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../breakdowns")
}

#[track_caller]
fn read(name: &str) -> Parsed {
    let path = folder().join(name);
    parse_bytes(&std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display())))
}

#[test]
fn both_are_sound() {
    for name in ["vein.txt", "central-line.txt"] {
        let parsed = read(name);
        let faults: Vec<String> = parsed
            .faults
            .iter()
            .map(|fault| format!("{name}:{} {} {}", fault.place.line, fault.name(), fault.found()))
            .collect();
        assert!(parsed.is_sound(), "{}", faults.join("\n"));
        assert_eq!(parsed.n_of(Severity::Advice), 0, "{}", faults.join("\n"));
    }
}

#[test]
fn written_and_read_again_they_are_the_same() {
    for name in ["vein.txt", "central-line.txt"] {
        let text = write(read(name).breakdown.as_ref().unwrap());
        let again = write(breakdown::parse(&text).breakdown.as_ref().unwrap());
        assert_eq!(text, again);
    }
}

#[test]
fn ledgers_of_the_vein_by_hand() {
    let parsed = read("vein.txt");
    let vein = parsed.breakdown.as_ref().unwrap();
    let blood = ledger::blood(vein);
    // 2 bottles of 8 to 10 mL, nothing wasted, two sets: 32 to 40 mL.
    assert_eq!(blood.taken_per_set.unwrap().to_string(), "16 to 20 mL");
    assert_eq!(blood.taken_per_patient.unwrap().to_string(), "32 to 40 mL");
    let fill = ledger::bottle_fill(vein, ledger::recommended_adult_fill()).unwrap();
    assert!(fill.short.is_nothing());
    assert_eq!(fill.yield_lost.at_most, 0.0);
    // Tops 15 + 30 s, skin 30 + 30 s.
    let time = ledger::time(vein);
    assert_eq!(time.one_after_another.to_s(), 105.0);
    assert_eq!(time.side_by_side.to_s(), 60.0);
    let wipes = ledger::supplies(vein, 3).into_iter().find(|need| need.name.contains("wipe")).unwrap();
    assert_eq!(wipes.count, Some(6));
}

#[test]
fn ledgers_of_the_line_by_hand() {
    let parsed = read("central-line.txt");
    let line = parsed.breakdown.as_ref().unwrap();
    let blood = ledger::blood(line);
    // 16 to 20 mL cultured and 5 mL discarded.
    assert_eq!(blood.cultured_per_set.unwrap().to_string(), "16 to 20 mL");
    assert_eq!(blood.wasted_per_set.to_string(), "5 mL");
    assert_eq!(blood.taken_per_set.unwrap().to_string(), "21 to 25 mL");
}

#[test]
fn the_example_with_faults_has_the_faults_its_comments_name() {
    let parsed = read("examples/faults.txt");
    let found: Vec<(usize, &str)> =
        parsed.faults.iter().map(|fault| (fault.place.line, fault.name())).collect();
    assert_eq!(
        found,
        [
            (1, "not-yet-given"), // author
            (1, "not-yet-given"), // approved by
            (5, "bad-code"),
            (7, "bad-version"),
            (8, "bad-date"),
            (16, "text-disagrees"),
            (20, "no-reason"),
            (24, "reason-repeats"),
            (26, "no-reason"), // its reason is misspelt
            (27, "unknown-keyword"),
            (29, "quantity-without-unit"),
            (33, "does-not-add-up"),
            (36, "order-against-steps"),
            (37, "unknown-label"),
        ]
    );
    assert!(parsed.breakdown.is_some() && !parsed.is_sound());
}

#[test]
fn the_example_of_the_rule_of_thumb_is_sound_and_names_its_cost() {
    let parsed = read("examples/ten-and-five.txt");
    assert!(parsed.is_sound(), "{:?}", parsed.faults);
    let fill = ledger::bottle_fill(parsed.breakdown.as_ref().unwrap(), ledger::recommended_adult_fill());
    assert_eq!(fill.unwrap().short.to_string(), "3 to 5 mL");
}
