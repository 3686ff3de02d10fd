//! What changed between two versions, and whether it asks those already released to be updated.

use breakdown::{ChangeKind, Difference, compare, parse, suggested_kind};

const FIRST: &str = "\
job: Draw
code: draw
version: 1
step: Clean the skin
  key point [clean]: Rub for at least 30 s
    reason: it kills by contact
    quantity: skin contact at least 30 s
  key point: Let it dry by itself
    reason: wet alcohol stings
step: Label the bottles
  safety point [label]: Label at the bedside
    reason: a bottle without a name treats the wrong patient
";

#[track_caller]
fn check(from: &str, to: &str, expected: &[&str], kind: ChangeKind) {
    assert!(FIRST.contains(from));
    let read = |text: &str| parse(text).breakdown.expect("a breakdown");
    let differences = compare(&read(FIRST), &read(&FIRST.replacen(from, to, 1)));
    let names: Vec<String> = differences
        .iter()
        .map(|difference| format!("{difference:?}").split([' ', '{']).next().unwrap_or("").to_owned())
        .collect();
    assert_eq!(names, expected, "{differences:#?}");
    assert_eq!(suggested_kind(&differences), kind);
}

#[test]
fn each_kind_of_change() {
    use ChangeKind::{Major, Minor};
    check("wet alcohol stings", "wet alcohol spoils the sample", &["ReasonsChanged"], Minor);
    check("Let it dry by itself", "Let it dry alone by itself", &["PointReworded"], Minor);
    check("Label at the bedside", "Label at the patient's bedside", &["PointReworded"], Major);
    check(
        "quantity: skin contact at least 30 s",
        "quantity: skin contact at least 60 s",
        &["QuantitiesChanged"],
        Major,
    );
    check("  key point: Let it", "  safety point: Let it", &["KindChanged"], Major);
    check("step: Label the bottles", "step: Label both bottles", &["StepRenamed"], Minor);
    check(
        "step: Label",
        "step: Send\n  knack: Walk\n    reason: ease\nstep: Label",
        &["StepAdded", "PointAdded"],
        Major,
    );
    check("version: 1", "version: 2\ncaution: Local policy first", &["Added"], Major);
    check("version: 1", "version: 2\nauthor: Somebody else", &[], Minor);
    check(
        "  key point: Let it dry by itself\n    reason: wet alcohol stings\nstep: Label the bottles\n",
        "step: Label the bottles\n  key point: Let it dry by itself\n    reason: wet alcohol stings\n",
        &["PointMoved"],
        Major,
    );
}

#[test]
fn steps_in_another_order() {
    let one = "job: x\nstep: Clean\n  knack: a\nstep: Fill\n  knack: b\n";
    let two = "job: x\nstep: Fill\n  knack: b\nstep: Clean\n  knack: a\n";
    let read = |text: &str| parse(text).breakdown.expect("a breakdown");
    let differences = compare(&read(one), &read(two));
    assert_eq!(differences.len(), 1, "{differences:#?}");
    assert!(matches!(&differences[0], Difference::StepsReordered { now, .. } if now == &["Fill", "Clean"]));
}
