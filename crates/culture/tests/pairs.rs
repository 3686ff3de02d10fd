//! Line and vein. The rule is IDSA 2009: blood from the line positive at least 120 minutes before blood from the vein,
//! with equal volumes drawn at the same time. The cases are invented, the differences by hand.

#![expect(clippy::unwrap_used, reason = "a helper of tests that cannot go on without its value")]

use culture::{
    Bottle, BottleKind, Collected, CultureSet, Isolate, PairDoubt, PairFinding, Pairs, PatientKey,
    PositiveTimes, ReportStatus, Route, SetId, Specimen, line_and_vein_pairs,
};
use jiff::civil::date;

/// A set drawn so many seconds after eight o'clock, filled with so much, grown as named.
fn set(id: &str, patient: &str, route: Route, second: i32, ml: Option<f64>, organism: &str) -> CultureSet {
    let at = date(2026, 3, 2).at(8, 0, 0, 0) + jiff::SignedDuration::from_secs(i64::from(second));
    CultureSet {
        id: SetId(id.to_owned()),
        patient: PatientKey(patient.to_owned()),
        collected: Collected::At(at),
        received: None,
        unit: None,
        collector: None,
        route: Some(route),
        specimen: Specimen::Blood,
        age_years: None,
        status: ReportStatus::Final,
        bottles: vec![Bottle { kind: BottleKind::Aerobic, fill_ml: ml }],
        positive_after_s: None,
        isolates: match organism {
            "" => Vec::new(),
            name => vec![Isolate { reported_name: name.to_owned() }],
        },
    }
}

const AUREUS: &str = "Staphylococcus aureus";

fn line(second: i32) -> CultureSet {
    set("L", "p", Route::CentralLine, second, Some(10.0), AUREUS)
}

fn vein(second: i32) -> CultureSet {
    set("V", "p", Route::Vein, second, Some(10.0), AUREUS)
}

fn times(line_s: i64, vein_s: i64) -> PositiveTimes {
    let after_s = [(SetId("L".to_owned()), line_s), (SetId("V".to_owned()), vein_s)].into();
    PositiveTimes { after_s, under_antibiotic: Vec::new() }
}

#[track_caller]
fn one(sets: &[CultureSet], times: &PositiveTimes) -> culture::Pair {
    let Pairs { pairs, alone } = line_and_vein_pairs(sets, times);
    assert_eq!((pairs.len(), alone.len()), (1, 0));
    pairs.into_iter().next().unwrap()
}

#[test]
fn the_difference_is_exact() {
    // Twelve hours in the line; the vein later by so many seconds.
    let check = |later_s: i64, finding: PairFinding| {
        let pair = one(&[line(0), vein(300)], &times(43_200, 43_200 + later_s));
        assert_eq!(pair.finding, finding, "{later_s} s");
        assert_eq!(pair.line_earlier_s, Some(later_s));
    };
    check(119 * 60, PairFinding::DoesNotPointToLine);
    check(120 * 60 - 1, PairFinding::DoesNotPointToLine);
    check(120 * 60, PairFinding::PointsToLine);
    check(121 * 60, PairFinding::PointsToLine);
    check(-121 * 60, PairFinding::DoesNotPointToLine);
}

#[test]
fn what_makes_a_pair_uninterpretable() {
    let three_hours = times(43_200, 54_000);
    let check = |sets: &[CultureSet], times: &PositiveTimes, doubts: &[PairDoubt]| {
        let pair = one(sets, times);
        assert_eq!(pair.doubts, doubts);
        assert_eq!(pair.finding, PairFinding::NotComparable);
    };
    // Fifteen minutes apart are allowed; one second more is sixteen begun.
    assert_eq!(one(&[line(0), vein(900)], &three_hours).finding, PairFinding::PointsToLine);
    check(&[line(0), vein(901)], &three_hours, &[PairDoubt::TooFarApart { minutes: 16 }]);
    let filled = |ml: Option<f64>| set("V", "p", Route::Vein, 0, ml, AUREUS);
    assert_eq!(one(&[line(0), filled(Some(8.0))], &three_hours).finding, PairFinding::PointsToLine);
    let unequal = PairDoubt::UnequalVolumes { line_ml: 10.0, vein_ml: 7.9 };
    check(&[line(0), filled(Some(7.9))], &three_hours, &[unequal]);
    check(&[line(0), filled(None)], &three_hours, &[PairDoubt::VolumeNotKnown]);
    let other = set("V", "p", Route::Vein, 0, Some(10.0), "Escherichia coli");
    check(&[line(0), other], &three_hours, &[PairDoubt::DifferentOrganisms]);
    let vague = set("V", "p", Route::Vein, 0, Some(10.0), "gram positive cocci");
    check(&[line(0), vague], &three_hours, &[PairDoubt::OrganismNotKnown]);
    let mut one_time = three_hours.clone();
    one_time.after_s.remove(&SetId("V".to_owned()));
    check(&[line(0), vein(0)], &one_time, &[PairDoubt::TimeToPositivityMissing]);
    let mut dosed = three_hours.clone();
    dosed.under_antibiotic.push(SetId("V".to_owned()));
    check(&[line(0), vein(0)], &dosed, &[PairDoubt::Antibiotic]);
    let mut no_time = vein(0);
    no_time.collected = Collected::On(date(2026, 3, 2));
    check(&[line(0), no_time], &three_hours, &[PairDoubt::TimeOfDrawMissing]);
}

#[test]
fn sets_that_did_not_grow_have_no_difference() {
    let empty = |id: &str, route| set(id, "p", route, 0, Some(10.0), "");
    let times = times(43_200, 54_000);
    let finding = |sets: &[CultureSet]| one(sets, &times).finding;
    assert_eq!(finding(&[line(0), empty("V", Route::Vein)]), PairFinding::OnlyLineGrew);
    assert_eq!(finding(&[empty("L", Route::CentralLine), vein(0)]), PairFinding::OnlyVeinGrew);
    assert_eq!(finding(&[empty("L", Route::CentralLine), empty("V", Route::Vein)]), PairFinding::NeitherGrew);
}

#[test]
fn nearest_of_one_patient_go_together_and_the_rest_stays_alone() {
    let line =
        |id: &str, patient: &str, second| set(id, patient, Route::CentralLine, second, Some(10.0), AUREUS);
    let vein = |id: &str, patient: &str, second| set(id, patient, Route::Vein, second, Some(10.0), AUREUS);
    let sets = [
        line("L1", "p", 0),
        line("L2", "p", 3600),
        vein("V1", "p", 3700),
        vein("V2", "p", 200),
        line("L3", "q", 0),
        vein("V3", "r", 0),
        // More than 24 hours from its vein.
        line("L4", "s", 0),
        vein("V4", "s", 86_401),
        set("C", "p", Route::Cannula, 0, Some(10.0), AUREUS),
    ];
    let found = line_and_vein_pairs(&sets, &PositiveTimes::default());
    let places: Vec<_> = found.pairs.iter().map(|pair| (pair.line, pair.vein)).collect();
    assert_eq!(places, [(0, 3), (1, 2)]);
    assert_eq!(found.alone, [4, 6]);
}
