//! A file of entries is read or refused, whatever it holds, and never half.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use book::{Fault, Written, read_entries};
use practice::ReleaseRule;
use proptest::prelude::*;

fn read(text: &str) -> Result<usize, Vec<Fault>> {
    let rule = ReleaseRule::default();
    let no_file = |name: &str| {
        Err(Fault {
            place: name.to_owned(),
            found: "no file".to_owned(),
            expected: "a file".to_owned(),
            what_to_do: String::new(),
        })
    };
    let against =
        Written { entries: &[], today: "2026-03-01".parse().unwrap(), rule: &rule, read_breakdown: &no_file };
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

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in any::<String>()) {
        let _ = read(&text);
    }

    /// Lines of real files in any order and number: far more of them get past the reading of TOML.
    #[test]
    fn any_lines_are_read_or_refused(lines in prop::collection::vec(prop::sample::select(vec![
        "[[entry]]", "by = \"T\"", "what = \"person added\"", "what = \"observed draw\"", "what = \"teach-back\"",
        "what = \"released\"", "what = \"entered in error\"", "on = 2026-01-02", "at = 2026-01-02T03:00", "at = 2026-01-02T03:00:00Z",
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
