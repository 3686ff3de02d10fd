//! A file of entries is read or refused, whatever it holds, and never half.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use book::{Fault, Written, read_entries};
use practice::ReleaseRule;
use proptest::prelude::*;

fn read(text: &str) -> Result<usize, Vec<Fault>> {
    let rule = ReleaseRule::default();
    let fault = |name: &str| Fault {
        place: name.to_owned(),
        found: "no file".to_owned(),
        expected: "a file".to_owned(),
        what_to_do: "name a file".to_owned(),
    };
    let against = Written {
        entries: &[],
        today: "2026-03-01".parse().unwrap(),
        rule: &rule,
        read_breakdown: &|name| Err(fault(name)),
        read_transcript: &|name, _| Err(fault(name)),
        read_rule: &|name| if name == "rule.toml" { Ok(ReleaseRule::default()) } else { Err(fault(name)) },
    };
    read_entries(text, &against).map(|drafts| drafts.len())
}

#[test]
fn the_first_trainer_adds_themselves() {
    let text = "[[entry]]\nwhat = \"person added\"\non = 2026-01-02\nby = \"T\"\nperson = \"T\"\nname = \"Invented\"\nrole = \"trainer\"\n\
                unit = \"U\"\nstarted = 2020-01-01\n";
    assert_eq!(read(text), Ok(1));
    let faults = read(&text.replace("by = \"T\"", "by = \"X\"")).unwrap_err();
    assert_eq!(faults.len(), 1);
    assert!(faults[0].place.starts_with("line 4: entry 1 (person added), by"), "{}", faults[0]);
}

const PEOPLE: &str = "by = \"T\"\n\
    [[entry]]\nwhat = \"person added\"\non = 2026-01-02\nperson = \"T\"\nname = \"Invented\"\nrole = \"trainer\"\nunit = \"U\"\nstarted = 2020-01-01\n\
    [[entry]]\nwhat = \"person added\"\non = 2026-01-02\nperson = \"N\"\nname = \"Invented\"\nrole = \"nurse\"\nunit = \"U\"\nstarted = 2026-01-02\n";

#[test]
fn a_rule_is_published_by_a_trainer_from_a_file_with_its_reason() {
    let rule = "[[entry]]\nwhat = \"rule published\"\non = 2026-01-03\nfile = \"rule.toml\"\nreason = \"too many held back\"\n";
    assert_eq!(read(&format!("{PEOPLE}{rule}")), Ok(3));
    for (from, to, words) in [
        ("file = \"rule.toml\"", "file = \"other.toml\"", "no file"),
        ("reason = \"too many held back\"\n", "", "reason"),
        ("on = 2026-01-03", "on = 2026-01-03\nby = \"N\"", "N, who is not a trainer"),
    ] {
        let faults = read(&format!("{PEOPLE}{}", rule.replace(from, to))).unwrap_err();
        let said: String = faults.iter().map(|fault| fault.to_string()).collect();
        assert!(said.contains(words), "{words}: {said}");
    }
}

#[test]
fn a_confidence_of_a_job_that_is_not_published_is_named() {
    let text = "[[entry]]\nwhat = \"confidence\"\non = 2026-01-03\nby = \"N\"\nperson = \"N\"\njob = \"vein\"\nclean-of-ten = 11\n";
    let faults = read(&format!("{PEOPLE}{text}")).unwrap_err();
    let said: String = faults.iter().map(|fault| fault.to_string()).collect();
    assert!(said.contains("clean-of-ten") && said.contains("vein"), "{said}");
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in any::<String>()) {
        let _ = read(&text);
    }

    /// Lines of real files in any order and number: far more of them get past the reading of TOML.
    #[test]
    fn any_lines_are_read_or_refused(lines in prop::collection::vec(prop::sample::select(vec![
        "[[entry]]", "by = \"T\"", "what = \"person added\"", "what = \"observed draw\"", "what = \"teach-back\"",
        "what = \"released\"", "what = \"confidence\"", "clean-of-ten = 11", "what = \"rule published\"", "what = \"entered in error\"", "on = 2026-01-02", "at = 2026-01-02T03:00", "at = 2026-01-02T03:00:00Z",
        "on = \"soon\"", "person = \"T\"", "name = \"Invented\"", "role = \"trainer\"", "unit = \"U\"", "started = 2020-01-01",
        "job = \"vein\"", "version = 0", "version = 1", "version = 99999999999999999999", "others = \"done\"", "done = [\"1.1\", 2]",
        "done = \"1\"", "not-done = []", "corrects = 1", "corrects = -1", "corrects = \"x\"", "because = \"\"", "label = \"x\"", "to = \"all\"",
        "attempts = 10", "taken-over = 1", "[entry]", "entry = 3", "x.y = 1", "é = \"é\"",
    ]), 0..30)) {
        let text = lines.join("\n");
        if let Err(faults) = read(&text) {
            prop_assert!(!faults.is_empty());
            for fault in faults {
                prop_assert!(fault.place.starts_with("line "), "{}", fault);
                prop_assert!(!fault.found.is_empty() && !fault.expected.is_empty() && !fault.what_to_do.is_empty(), "{}", fault);
            }
        }
    }
}
