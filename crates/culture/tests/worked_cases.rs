//! The worked cases of the trade, set by set.
//!
//! Source of the rule: CDC adult measure (CBE 3658, 2022): a skin commensal in only one set of two or more within 24 h.
//! The cases themselves are invented. What the measure leaves open (single sets, mixed growth, names that stop at
//! genus) follows common practice, no source.

#![expect(clippy::unwrap_used, reason = "a helper of tests that cannot go on without its value")]

use culture::{
    Bottle, BottleKind, Clause, Collected, CultureSet, DifferentCommensalsPolicy, Flag, Isolate, Judged,
    Matching, MixedGrowthPolicy, PatientKey, ReportStatus, Route, RuleSet, SetId, SingleSetPolicy, Tally,
    Verdict, Window, judge, merge_split_sets,
};
use jiff::civil::{Date, DateTime, date};

/// A set of the patient "p" in March 2026: id, "day hour:minute", organisms parted by "+", final.
fn set(id: &str, when: &str, organisms: &str) -> CultureSet {
    CultureSet {
        id: SetId(id.to_owned()),
        patient: PatientKey("p".to_owned()),
        collected: Collected::At(at(when)),
        received: None,
        unit: Some("ICU".to_owned()),
        collector: None,
        route: None,
        specimen: culture::Specimen::Blood,
        age_years: Some(54.0),
        status: ReportStatus::Final,
        bottles: Vec::new(),
        positive_after_s: None,
        isolates: organisms
            .split('+')
            .map(str::trim)
            .filter(|name| !name.is_empty())
            .map(|name| Isolate { reported_name: name.to_owned() })
            .collect(),
    }
}

fn at(when: &str) -> DateTime {
    let (day, time) = when.split_once(' ').unwrap();
    let (hour, minute) = time.split_once(':').unwrap();
    date(2026, 3, day.parse().unwrap()).at(hour.parse().unwrap(), minute.parse().unwrap(), 0, 0)
}

fn default_rule() -> RuleSet {
    RuleSet::ready("adult-24h").unwrap()
}

const REPORT_DAY: Date = date(2026, 4, 30);

#[track_caller]
fn check(case: &str, rules: &RuleSet, sets: &[CultureSet], expected: &[Clause]) -> Vec<Judged> {
    let judged = judge(sets, rules, Some(REPORT_DAY));
    let clauses: Vec<Clause> = judged.iter().map(|judged| judged.clause).collect();
    assert_eq!(clauses, expected, "{case}");
    judged
}

#[test]
fn c1_a_commensal_in_one_set_of_two_is_contamination() {
    let sets = [set("1", "2 08:00", "CoNS"), set("2", "2 08:20", "")];
    let judged = check("C1", &default_rule(), &sets, &[Clause::CommensalInOneSet, Clause::NoGrowth]);
    assert_eq!(judged[0].decided_by(), Some(1));
    assert_eq!(judged[0].n_in_window, 2);
    let tally = Tally::of(&judged);
    assert_eq!((tally.contaminated, tally.closed()), (1, 2), "1/2");
}

#[test]
fn c2_the_same_commensal_in_two_sets_is_no_contamination() {
    let sets = [set("1", "2 08:00", "S. epidermidis"), set("2", "2 08:20", "S. epidermidis")];
    let judged = check("C2", &default_rule(), &sets, &[Clause::CommensalMatched; 2]);
    assert_eq!(Tally::of(&judged).contaminated, 0);
}

#[test]
fn c3_a_pending_second_set_keeps_the_first_provisional() {
    let mut pending = set("2", "2 08:20", "");
    pending.status = ReportStatus::Preliminary;
    let sets = [set("1", "2 08:00", "CoNS"), pending];
    let judged = judge(&sets, &default_rule(), Some(date(2026, 3, 5)));
    assert_eq!(judged[0].clause, Clause::OtherSetNotClosed);
    assert_eq!(judged[1].clause, Clause::NotClosed);
    assert_eq!(Tally::of(&judged).closed(), 0);
    assert_eq!(Tally::of(&judged).rate(), None, "a rate needs a closed set");
    // Six days after the draw the second set counts as closed though no final report came.
    let judged = judge(&sets, &default_rule(), Some(date(2026, 3, 8)));
    assert_eq!(judged[0].clause, Clause::CommensalInOneSet);
    assert!(judged[1].flags.contains(Flag::ClosedByAge));
}

#[test]
fn c4_a_commensal_in_a_single_set_cannot_be_told() {
    let sets = [set("1", "2 08:00", "CoNS")];
    check("C4", &default_rule(), &sets, &[Clause::CommensalSingleSet]);
    let counted = RuleSet { single_set: SingleSetPolicy::Contaminated, ..default_rule() };
    check("C4 counted", &counted, &sets, &[Clause::SingleSetCounted]);
    let single = culture::SingleSets::count(&sets, &judge(&sets, &default_rule(), Some(REPORT_DAY)));
    assert_eq!((single.single, single.occasions, single.sets), (1, 1, 1));
    // On the day of the draw a second set may still come.
    let same_day = judge(&sets, &default_rule(), Some(date(2026, 3, 2)));
    assert_eq!(same_day[0].clause, Clause::WindowNotOver);
}

#[test]
fn c5_the_window_decides_about_the_next_day() {
    let sets = [set("1", "2 08:00", "CoNS"), set("2", "3 09:00", "")];
    check("C5 at 24 h", &default_rule(), &sets, &[Clause::CommensalSingleSet, Clause::NoGrowth]);
    let rule_48 = RuleSet::ready("episode-48h").unwrap();
    check("C5 at 48 h", &rule_48, &sets, &[Clause::CommensalInOneSet, Clause::NoGrowth]);
}

#[test]
fn c6_mixed_growth_is_no_contamination_and_is_noted() {
    let sets = [set("1", "2 08:00", "E. coli + CoNS"), set("2", "2 08:20", "E. coli")];
    let judged = check("C6", &default_rule(), &sets, &[Clause::MixedGrowth, Clause::RecognisedOrganism]);
    assert!(judged[0].flags.contains(Flag::MixedGrowth));
    let for_a_person = RuleSet { mixed_growth: MixedGrowthPolicy::Undetermined, ..default_rule() };
    let expected = [Clause::MixedGrowthForAPerson, Clause::RecognisedOrganism];
    check("C6 for a person", &for_a_person, &sets, &expected);
}

#[test]
fn c7_two_different_commensals_are_both_contamination_by_default() {
    let sets = [set("1", "2 08:00", "Micrococcus"), set("2", "2 08:20", "Corynebacterium")];
    check("C7", &default_rule(), &sets, &[Clause::CommensalInOneSet; 2]);
    let for_a_person =
        RuleSet { different_commensals: DifferentCommensalsPolicy::Undetermined, ..default_rule() };
    check("C7 for a person", &for_a_person, &sets, &[Clause::DifferentCommensals; 2]);
}

#[test]
fn c8_the_matching_level_decides_and_is_shown() {
    let sets = [set("1", "2 08:00", "CoNS"), set("2", "2 08:20", "S. hominis")];
    let judged = check("C8 genus", &default_rule(), &sets, &[Clause::CommensalMatched; 2]);
    assert!(judged.iter().all(|judged| judged.flags.contains(Flag::MatchedAtGenus)));
    let by_species = RuleSet { matching: Matching::Species, ..default_rule() };
    let judged = check("C8 species", &by_species, &sets, &[Clause::CommensalInOneSet; 2]);
    assert_eq!(Tally::of(&judged).contaminated, 2);
}

#[test]
fn c9_a_correction_changes_the_verdict() {
    let mut sets = [set("1", "2 08:00", "CoNS"), set("2", "2 08:20", "")];
    sets[0].isolates[0].reported_name = "S. aureus".to_owned();
    sets[0].status = ReportStatus::Corrected;
    let judged = check("C9", &default_rule(), &sets, &[Clause::RecognisedOrganism, Clause::NoGrowth]);
    assert_eq!(Tally::of(&judged).contaminated, 0);
}

#[test]
fn c10_one_set_under_two_specimen_numbers_is_one_set() {
    let half = |id: &str, kind, organisms: &str| {
        let mut half = set(id, "2 08:00", organisms);
        half.bottles = vec![Bottle { kind, fill_ml: Some(9.0) }];
        half
    };
    let mut sets = vec![half("X", BottleKind::Aerobic, "CoNS"), half("Y", BottleKind::Anaerobic, "")];
    assert_eq!(merge_split_sets(&mut sets).len(), 1);
    assert_eq!(sets.len(), 1);
    assert_eq!(sets[0].id.0, "X");
    assert_eq!(sets[0].bottles.len(), 2);
    check("C10: not two sets, not a series", &default_rule(), &sets, &[Clause::CommensalSingleSet]);
    // Two aerobic bottles at one minute are two sets.
    let mut two = vec![half("X", BottleKind::Aerobic, "CoNS"), half("Y", BottleKind::Aerobic, "")];
    assert_eq!(merge_split_sets(&mut two).len(), 0);
    // So are bottles by different routes.
    let mut routes = vec![half("X", BottleKind::Aerobic, ""), half("Y", BottleKind::Anaerobic, "")];
    routes[0].route = Some(Route::Vein);
    routes[1].route = Some(Route::CentralLine);
    assert_eq!(merge_split_sets(&mut routes).len(), 0);
}

#[test]
fn c11_a_child_is_outside_the_adult_rule() {
    let mut child = set("1", "2 08:00", "Cutibacterium");
    child.age_years = Some(0.4);
    child.bottles = vec![Bottle { kind: BottleKind::Paediatric, fill_ml: Some(2.0) }];
    let judged = check("C11", &default_rule(), &[child.clone()], &[Clause::OutsideAge]);
    assert_eq!(judged[0].verdict(), Verdict::Excluded);
    assert_eq!(Tally::of(&judged).sets(), 0);
    let single = culture::SingleSets::count(&[child.clone()], &judged);
    assert_eq!(single.single, 0, "not an adult single-set failure");
    child.age_years = None;
    check("C11 without an age", &default_rule(), &[child], &[Clause::PaediatricBottleWithoutAge]);
}

#[test]
fn c12_the_series_crosses_units_and_the_set_keeps_its_own() {
    let mut emergency = set("1", "2 08:00", "CoNS");
    emergency.unit = Some("ED".to_owned());
    emergency.collector = Some("P".to_owned());
    let mut icu = set("2", "2 13:00", "");
    icu.collector = Some("Q".to_owned());
    let sets = [emergency, icu];
    let judged = check("C12", &default_rule(), &sets, &[Clause::CommensalInOneSet, Clause::NoGrowth]);
    let by_unit = culture::tally_by(&sets, &judged, |set| set.unit.clone());
    assert_eq!(by_unit[&Some("ED".to_owned())].contaminated, 1);
    assert_eq!(by_unit[&Some("ICU".to_owned())].contaminated, 0);
    let by_collector = culture::tally_by(&sets, &judged, |set| set.collector.clone());
    assert_eq!(by_collector[&Some("P".to_owned())].contaminated, 1);
}

#[test]
fn c13_line_and_vein_that_disagree_are_flagged() {
    let mut line = set("1", "2 08:00", "CoNS");
    line.route = Some(Route::CentralLine);
    let mut vein = set("2", "2 08:05", "");
    vein.route = Some(Route::Vein);
    let expected = [Clause::CommensalInOneSet, Clause::NoGrowth];
    let judged = check("C13", &default_rule(), &[line.clone(), vein.clone()], &expected);
    assert!(judged[0].flags.contains(Flag::LineAndVeinDisagree));
    line.route = Some(Route::Vein);
    let judged = check("C13 both from veins", &default_rule(), &[line, vein], &expected);
    assert!(!judged[0].flags.contains(Flag::LineAndVeinDisagree));
}

#[test]
fn c14_a_collection_after_receipt_uses_the_receipt_time() {
    let mut wrong = set("1", "3 09:00", "CoNS");
    wrong.received = Some(at("2 07:40"));
    // By its collection time the set would be 25 h after the other; by its receipt it is in the window.
    let judged = check(
        "C14",
        &default_rule(),
        &[wrong.clone(), set("2", "2 08:00", "")],
        &[Clause::CommensalInOneSet, Clause::NoGrowth],
    );
    assert!(judged[0].flags.contains(Flag::CollectedAfterReceived));
    assert_eq!(culture::counted_on(&wrong), date(2026, 3, 2));
}

/// NHSN LCBI 2 matching: same or consecutive calendar days, absolute day difference at most 1; a genus-only name
/// matches a species of the genus (NHSN bloodstream infection manual and FAQ, as quoted in public encodings).
#[test]
fn nhsn_matching_by_calendar_day() {
    let rules = RuleSet::ready("nhsn-match").unwrap();
    let matched = [Clause::CommensalMatched; 2];
    let alone = [Clause::CommensalSingleSet; 2];
    let different = [Clause::CommensalInOneSet; 2];
    for (case, first, second, expected) in [
        ("day 1 and day 1", ("2 08:00", "S. epidermidis"), ("2 08:20", "S. epidermidis"), matched),
        ("day 1 and day 2", ("2 08:00", "S. epidermidis"), ("3 20:00", "S. epidermidis"), matched),
        ("day 1 and day 3", ("2 08:00", "S. epidermidis"), ("4 06:00", "S. epidermidis"), alone),
        ("genus and species", ("2 08:00", "S. epidermidis"), ("2 08:20", "CoNS"), matched),
        ("two species", ("2 08:00", "S. epidermidis"), ("2 08:20", "S. hominis"), different),
        ("across midnight", ("2 23:50", "S. epidermidis"), ("3 00:10", "S. epidermidis"), matched),
    ] {
        let sets = [set("1", first.0, first.1), set("2", second.0, second.1)];
        check(case, &rules, &sets, &expected);
    }
}

/// The other ends of the windows: exactly 24 h is within 24 h, one minute more is not (our reading of "within").
#[test]
fn the_window_holds_its_last_moment() {
    let rules = default_rule();
    let sets = [set("1", "2 08:00", "CoNS"), set("2", "3 08:00", "")];
    check("24 h 0 min", &rules, &sets, &[Clause::CommensalInOneSet, Clause::NoGrowth]);
    let sets = [set("1", "2 08:00", "CoNS"), set("2", "3 08:01", "")];
    check("24 h 1 min", &rules, &sets, &[Clause::CommensalSingleSet, Clause::NoGrowth]);
    // Anchored and rolling windows differ for a third set.
    let chain = [set("1", "2 08:00", ""), set("2", "3 07:00", ""), set("3", "3 20:00", "CoNS")];
    let anchored = [Clause::NoGrowth, Clause::NoGrowth, Clause::CommensalSingleSet];
    check("anchored", &rules, &chain, &anchored);
    let rolling = RuleSet { window: Window::RollingHours(24), ..rules };
    let expected = [Clause::NoGrowth, Clause::NoGrowth, Clause::CommensalInOneSet];
    check("rolling", &rolling, &chain, &expected);
}

#[test]
fn sets_with_only_a_day_are_in_the_window_when_that_is_sure() {
    let day_only = |id: &str, day: i8, organisms: &str| {
        let mut set = set(id, "2 00:00", organisms);
        set.collected = Collected::On(date(2026, 3, day));
        set
    };
    let sets = [day_only("1", 2, "CoNS"), day_only("2", 2, "")];
    check("one day", &default_rule(), &sets, &[Clause::CommensalInOneSet, Clause::NoGrowth]);
    let sets = [day_only("1", 2, "CoNS"), day_only("2", 3, "")];
    check("two days", &default_rule(), &sets, &[Clause::CommensalSingleSet, Clause::NoGrowth]);
    let rule_48 = RuleSet::ready("episode-48h").unwrap();
    check("two days at 48 h", &rule_48, &sets, &[Clause::CommensalInOneSet, Clause::NoGrowth]);
}

#[test]
fn what_no_table_settles_is_left_to_a_person() {
    let rules = default_rule();
    for name in [
        "Staphylococcus",
        "Gram positive cocci",
        "Quux quuxii",
        "S. intermedius",
        "Lysinibacillus sphaericus",
    ] {
        let sets = [set("1", "2 08:00", name), set("2", "2 08:20", "")];
        check(name, &rules, &sets, &[Clause::OrganismForAPerson, Clause::NoGrowth]);
    }
    // The other set may have grown the same organism.
    let sets = [set("1", "2 08:00", "S. epidermidis"), set("2", "2 08:20", "Staphylococcus sp.")];
    let expected = [Clause::OtherSetNotIdentified, Clause::OrganismForAPerson];
    check("bare genus beside", &rules, &sets, &expected);
    // It cannot be the same: the genus is another.
    let sets = [set("1", "2 08:00", "Micrococcus luteus"), set("2", "2 08:20", "Staphylococcus sp.")];
    let expected = [Clause::CommensalInOneSet, Clause::OrganismForAPerson];
    check("another genus beside", &rules, &sets, &expected);
}

#[test]
fn cancelled_and_later_sets_are_excluded_and_are_no_partners() {
    let mut cancelled = set("2", "2 08:20", "");
    cancelled.status = ReportStatus::Cancelled;
    let sets = [set("1", "2 08:00", "CoNS"), cancelled, set("3", "9 08:00", "")];
    let judged = judge(&sets, &default_rule(), Some(date(2026, 3, 8)));
    let clauses: Vec<Clause> = judged.iter().map(|judged| judged.clause).collect();
    assert_eq!(clauses, [Clause::CommensalSingleSet, Clause::Cancelled, Clause::AfterAsOf]);
}

/// The example of docs/rules.md is a rule set, and the page names every ready one.
#[test]
fn the_documented_rule_set_can_be_read() {
    let page = include_str!("../../../docs/rules.md");
    let example = page.split("```toml").nth(1).unwrap().split("```").next().unwrap();
    assert_eq!(RuleSet::from_toml(example).unwrap().label(), "larkfield, version 1");
    for name in culture::READY_RULE_SETS {
        assert_eq!(RuleSet::ready(name).unwrap().name, name);
        assert!(page.contains(&format!("`{name}`")), "{name}");
    }
}
