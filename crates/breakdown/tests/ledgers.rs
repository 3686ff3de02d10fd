//! Ledgers held against published figures and common practice.

use breakdown::ledger::{self, VolumeRange};
use breakdown::parse;
use quantity::Volume;

fn job(quantities: &[&str]) -> breakdown::Breakdown {
    let lines: String = quantities.iter().map(|text| format!("    quantity: {text}\n")).collect();
    parse(&format!("job: x\nstep: Fill\n  key point: Fill\n{lines}")).breakdown.expect("a breakdown")
}

fn ml(value: f64) -> Volume {
    Volume::from_ml(value).expect("in range")
}

/// Common practice, no source: "10 mL, 5 mL in each bottle". It adds up, and it falls short of the guides' 8 to 10 mL
/// per bottle (IDSA/ASM guide, Miller 2018: 20 to 30 mL per set), which costs about 3 % of the yield per mL (Mermel
/// and Maki 1993).
#[test]
fn the_rule_of_thumb_of_ten_and_five_adds_up_and_costs_yield() {
    let text = "job: x\ncode: x\nversion: 1\nstep: Fill\n  key point: Fill\n    quantity: fill 5 mL per bottle\n    quantity: 2 bottles per set\n    quantity: blood 10 mL per set\n";
    let parsed = parse(text);
    assert!(!parsed.faults.iter().any(|fault| fault.name() == "does-not-add-up"));
    let breakdown = parsed.breakdown.expect("a breakdown");
    assert_eq!(ledger::blood(&breakdown).taken_per_set, Some(VolumeRange { low: ml(10.0), high: ml(10.0) }));
    let fill = ledger::bottle_fill(&breakdown, ledger::recommended_adult_fill()).expect("a fill");
    assert_eq!(fill.short, VolumeRange { low: ml(3.0), high: ml(5.0) });
    // By hand: 3 x 3 and 5 x 3 points; 3 x 9/6 and 5 x 37/6.
    assert_eq!((fill.yield_lost.about_low, fill.yield_lost.about_high), (9.0, 15.0));
    assert_eq!(fill.yield_lost.at_least, 4.5);
    assert!((fill.yield_lost.at_most - 30.8333).abs() < 1e-3);
}

#[test]
fn what_goes_back_is_not_lost() {
    let breakdown = job(&[
        "fill 10 mL per bottle",
        "2 bottles per set",
        "discard 5 mL per set",
        "divert 1 to 2 mL",
        "return 5 mL",
        "3 sets per patient",
    ]);
    let blood = ledger::blood(&breakdown);
    assert_eq!(blood.wasted_per_set, VolumeRange { low: ml(6.0), high: ml(7.0) });
    assert_eq!(blood.returned_per_set, VolumeRange { low: ml(5.0), high: ml(5.0) });
    assert_eq!(blood.taken_per_set, Some(VolumeRange { low: ml(21.0), high: ml(22.0) }));
    assert_eq!(blood.taken_per_patient, Some(VolumeRange { low: ml(63.0), high: ml(66.0) }));
}

#[test]
fn what_is_not_stated_is_said_to_be_unknown() {
    let blood = ledger::blood(&job(&["fill at least 8 mL per bottle", "2 bottles per set"]));
    assert_eq!(blood.taken_per_set, None);
    assert_eq!(blood.unknown.len(), 2, "{:?}", blood.unknown);
    assert_eq!(ledger::bottle_fill(&job(&[]), ledger::recommended_adult_fill()), None);
}

#[test]
fn too_much_is_named_too() {
    let fill = ledger::bottle_fill(&job(&["fill 8 to 12 mL per bottle"]), ledger::recommended_adult_fill());
    let fill = fill.expect("a fill");
    assert!(fill.short.is_nothing());
    assert_eq!(fill.over, ml(2.0));
}

#[test]
fn upper_limits_do_not_lengthen_the_job() {
    let breakdown = job(&[
        "tourniquet at most 1 min",
        "skin contact 30 to 60 s",
        "skin dry at least 30 s",
        "press 2 min",
    ]);
    let time = ledger::time(&breakdown);
    assert_eq!(time.one_after_another.to_s(), 180.0);
    assert_eq!(time.side_by_side.to_s(), 120.0);
}
