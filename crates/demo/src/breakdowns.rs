//! The unit's breakdown files: the two the program comes with, dated as the unit published them, and the first
//! version of one of them.

use breakdown::{Breakdown, Severity, parse};

use crate::story::Jobs;
use crate::{BreakdownFile, DemoError};

const VEIN_FIRST: &str = include_str!("../data/vein-1.txt");
const VEIN: &str = include_str!("../../../breakdowns/vein.txt");
const LINE: &str = include_str!("../../../breakdowns/central-line.txt");

const SECOND_CHANGE: &str = "drying the skin is a key point of its own and comes before the puncture, because the old wording hid it \
     and many left it out; the fill is marked while the bottle stands upright; reading the antiseptic's label is a \
     safety point";

/// The files in the order they came into force, and what they say.
pub(crate) fn read() -> Result<(Vec<BreakdownFile>, Jobs), DemoError> {
    let vein_one = BreakdownFile { name: "vein-1.txt".to_owned(), text: VEIN_FIRST.to_owned() };
    let line_one = BreakdownFile {
        name: "central-line-1.txt".to_owned(),
        text: dated(LINE, "1", "2026-01-12", "first version"),
    };
    let vein_two =
        BreakdownFile { name: "vein-2.txt".to_owned(), text: dated(VEIN, "2", "2026-06-01", SECOND_CHANGE) };
    let jobs = Jobs { vein_one: sound(&vein_one)?, vein_two: sound(&vein_two)?, line_one: sound(&line_one)? };
    Ok((vec![vein_one, line_one, vein_two], jobs))
}

/// The same file with the version, the day and the change the invented unit gave it.
fn dated(text: &str, version: &str, effective: &str, change: &str) -> String {
    let mut dated = String::with_capacity(text.len() + change.len());
    for line in text.lines() {
        let given = |keyword: &str| line.starts_with(keyword);
        if given("version:") {
            dated.push_str(&format!("version: {version}"));
        } else if given("effective:") {
            dated.push_str(&format!("effective: {effective}"));
        } else if given("change (") {
            dated.push_str(&format!("change (major): {change}"));
        } else {
            dated.push_str(line);
        }
        dated.push('\n');
    }
    dated
}

fn sound(file: &BreakdownFile) -> Result<Breakdown, DemoError> {
    let parsed = parse(&file.text);
    match parsed.sound() {
        Some(breakdown) => Ok(breakdown.clone()),
        None => {
            let faults = parsed.faults.iter().filter(|fault| fault.severity() == Severity::Fault);
            let faults: Vec<String> = faults
                .map(|fault| {
                    format!("line {}: {}; expected {}", fault.place.line, fault.found(), fault.expected())
                })
                .collect();
            Err(DemoError::Breakdown { file: file.name.clone(), faults: faults.join("\n") })
        }
    }
}

#[cfg(test)]
mod tests {
    use breakdown::{ChangeKind, compare, suggested_kind};
    use jiff::civil::date;

    use super::*;

    #[test]
    fn every_file_is_sound_and_dated() {
        let (files, jobs) = read().unwrap();
        assert_eq!(files.len(), 3);
        assert_eq!(jobs.vein_one.code, jobs.vein_two.code);
        assert_eq!((jobs.vein_one.version.0, jobs.vein_two.version.0, jobs.line_one.version.0), (1, 2, 1));
        assert_eq!(jobs.vein_one.effective, Some(crate::calendar::TRAINING_STARTED));
        assert_eq!(jobs.vein_two.effective, Some(date(2026, 6, 1)));
        assert_eq!(jobs.line_one.effective, Some(date(2026, 1, 12)));
    }

    /// A new safety point and a new order are a major change: those already released must be updated.
    #[test]
    fn the_second_version_is_a_major_change() {
        let (_, jobs) = read().unwrap();
        let differences = compare(&jobs.vein_one, &jobs.vein_two);
        assert!(!differences.is_empty());
        assert_eq!(suggested_kind(&differences), ChangeKind::Major);
        assert_eq!(jobs.vein_two.change.as_ref().map(|change| change.kind), Some(ChangeKind::Major));
        assert!(jobs.vein_two.safety_points().len() > jobs.vein_one.safety_points().len());
    }

    #[test]
    fn a_file_with_a_fault_is_named_with_the_place() {
        let file = BreakdownFile {
            name: "x.txt".to_owned(),
            text: "job: A\ncode: a\nversion: 1\nstpe: B\n".to_owned(),
        };
        let Err(DemoError::Breakdown { file, faults }) = sound(&file) else { panic!("accepted") };
        assert_eq!(file, "x.txt");
        assert!(faults.contains("line 4"), "{faults}");
    }
}
