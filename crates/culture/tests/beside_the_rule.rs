//! What stands beside the rule: another rule, a person's judgement, doubts about the data, one person's figures.

#![expect(clippy::unwrap_used, reason = "helpers of tests that cannot go on without their values")]

use std::collections::BTreeMap;

use culture::{
    Beside, Bottle, BottleKind, Clause, Collected, Comparison, CultureSet, Doubt, Isolate, Judgement,
    JudgementError, Listing, PatientKey, ReportStatus, Route, RuleSet, SetId, Specimen, Tally, Verdict,
    collector_figures, doubts, judge,
};
use jiff::civil::{Date, date};
use stats::Probability;

const AS_OF: Date = date(2026, 6, 30);

/// A final set of 2026-03, "day hour:minute", of an adult; invented.
fn set(id: &str, patient: &str, when: &str, organism: &str) -> CultureSet {
    let (day, time) = when.split_once(' ').unwrap();
    let (hour, minute) = time.split_once(':').unwrap();
    let day = date(2026, 3, day.parse().unwrap());
    CultureSet {
        id: SetId(id.to_owned()),
        patient: PatientKey(patient.to_owned()),
        collected: Collected::At(day.at(hour.parse().unwrap(), minute.parse().unwrap(), 0, 0)),
        received: None,
        unit: Some("ICU".to_owned()),
        collector: Some("K1".to_owned()),
        route: Some(Route::Vein),
        specimen: Specimen::Blood,
        age_years: Some(54.0),
        status: ReportStatus::Final,
        bottles: Vec::new(),
        positive_after_s: None,
        isolates: [organism]
            .into_iter()
            .filter(|name| !name.is_empty())
            .map(|name| Isolate { reported_name: name.to_owned() })
            .collect(),
    }
}

fn clauses(sets: &[CultureSet], rule: &str) -> Vec<Clause> {
    judge(sets, &RuleSet::ready(rule).unwrap(), Some(AS_OF)).iter().map(|judged| judged.clause).collect()
}

/// College of American Pathologists monitor QT2 (2005): six kinds of organism; autopsy excluded; neonates apart.
#[test]
fn the_short_list_leaves_out_autopsies_neonates_and_other_commensals() {
    use Clause::{
        AgeNotKnown, CommensalInOneSet, ExcludedSpecimen, NoGrowth, OutsideAge, RecognisedOrganism,
    };
    let mut sets = vec![set("1", "p", "2 08:00", "CoNS"), set("2", "p", "2 08:20", "")];
    assert_eq!(clauses(&sets, "cap-series"), [CommensalInOneSet, NoGrowth]);
    sets[0].specimen = Specimen::PostMortem;
    assert_eq!(clauses(&sets, "cap-series"), [ExcludedSpecimen, NoGrowth]);
    assert_eq!(clauses(&sets, "adult-24h"), [CommensalInOneSet, NoGrowth], "that measure names no specimens");
    sets[0].specimen = Specimen::Blood;
    for set in &mut sets {
        set.age_years = Some(0.05);
    }
    assert_eq!(clauses(&sets, "cap-series"), [OutsideAge; 2]);
    assert_eq!(clauses(&sets, "cap-neonates"), [CommensalInOneSet, NoGrowth]);
    assert_eq!(clauses(&sets, "children-24h"), [OutsideAge; 2]);
    for set in &mut sets {
        set.age_years = Some(7.0);
    }
    assert_eq!(clauses(&sets, "children-24h"), [CommensalInOneSet, NoGrowth]);
    assert_eq!(clauses(&sets, "cap-neonates"), [OutsideAge; 2]);
    for set in &mut sets {
        set.age_years = None;
    }
    assert_eq!(clauses(&sets, "cap-neonates"), [AgeNotKnown; 2]);
    // NHSN lists Kocuria, the short list does not.
    let kocuria = [set("1", "p", "2 08:00", "Kocuria rosea"), set("2", "p", "2 08:20", "")];
    assert_eq!(clauses(&kocuria, "cap-series"), [RecognisedOrganism, NoGrowth]);
    assert_eq!(clauses(&kocuria, "adult-24h"), [CommensalInOneSet, NoGrowth]);
}

/// The names the monitor gives are on the short list; others of the long list are not.
#[test]
fn the_short_list_holds_what_its_source_names() {
    let listing = |name: &str| {
        let identity = culture::Nomenclature::built_in().identify(name).identity;
        culture::CommensalList::short().listing(&identity)
    };
    for name in [
        "coagulase-negative Staphylococcus",
        "Micrococcus",
        "alpha-hemolytic streptococcus",
        "viridans streptococcus",
        "Propionibacterium acnes",
        "Cutibacterium acnes",
        "Corynebacterium",
        "diphtheroids",
        "Bacillus",
    ] {
        assert!(matches!(listing(name), Listing::Commensal { .. }), "{name}: {:?}", listing(name));
    }
    for name in [
        "Aerococcus viridans",
        "Rothia mucilaginosa",
        "Streptococcus gallolyticus",
        "Staphylococcus aureus",
        "Bacillus anthracis",
        "Enterococcus faecalis",
        "Streptococcus pneumoniae",
    ] {
        assert_eq!(listing(name), Listing::NotCommensal, "{name}");
    }
}

/// Trial NCT03088865: a skin organism in a single set, 7-day frame.
#[test]
fn seven_days_reach_further_and_a_lone_set_counts() {
    let sets = [
        set("1", "p", "2 08:00", "CoNS"),
        set("2", "p", "8 08:00", "CoNS"),
        set("3", "q", "2 08:00", "CoNS"),
    ];
    use Clause::{CommensalMatched, SingleSetCounted};
    assert_eq!(clauses(&sets, "frame-7d"), [CommensalMatched, CommensalMatched, SingleSetCounted]);
    let apart = [set("1", "p", "2 08:00", "CoNS"), set("2", "p", "9 08:01", "CoNS")];
    assert_eq!(clauses(&apart, "frame-7d"), [SingleSetCounted; 2]);
}

/// European-style surveillance, from memory: two concordant commensals in two samples within 48 hours.
#[test]
fn commensals_match_within_48_hours_and_no_longer() {
    use Clause::{CommensalMatched, CommensalSingleSet};
    let pair = |second: &str| [set("1", "p", "2 08:00", "CoNS"), set("2", "p", second, "S. hominis")];
    assert_eq!(clauses(&pair("4 08:00"), "match-48h"), [CommensalMatched; 2]);
    assert_eq!(clauses(&pair("4 08:01"), "match-48h"), [CommensalSingleSet; 2]);
    // By calendar days the same pair is too far apart.
    assert_eq!(clauses(&pair("4 08:00"), "nhsn-match"), [CommensalSingleSet; 2]);
}

#[test]
fn a_rule_of_ones_own_may_name_organisms() {
    let mut rule = RuleSet::ready("adult-24h").unwrap();
    let names = culture::Nomenclature::built_in();
    rule.never_commensal = vec![names.identify("Staphylococcus lugdunensis").identity];
    rule.also_commensal = vec![names.identify("Enterococcus faecium").identity];
    let sets = [
        set("1", "p", "2 08:00", "S. lugdunensis"),
        set("2", "p", "2 08:10", ""),
        set("3", "q", "2 08:00", "E. faecium"),
        set("4", "q", "2 08:10", ""),
    ];
    let found: Vec<Clause> = judge(&sets, &rule, Some(AS_OF)).iter().map(|judged| judged.clause).collect();
    use Clause::{CommensalInOneSet, NoGrowth, RecognisedOrganism};
    assert_eq!(found, [RecognisedOrganism, NoGrowth, CommensalInOneSet, NoGrowth]);
}

#[test]
fn a_rule_file_with_a_slip_is_refused_with_the_place() {
    let sound = include_str!("../data/rules/cap-neonates.toml");
    for (found, instead, said) in [
        ("list = \"short-list\"", "list = \"my-list\"", "the lists that come with this version"),
        ("below_years = 0.0766", "below_years = 200", "below_years 200 is not within 0 to 130"),
        (
            "below_years = 0.0766",
            "from_years = 9\nbelow_years = 2",
            "from_years 9 is not less than below_years 2",
        ),
        ("\"post-mortem\"", "\"urine\"", "urine"),
        (
            "minimum_sets = 2",
            "minimum_sets = 2\nnever_commensal = [\"S. intermedius\"]",
            "write genus and species in full",
        ),
    ] {
        assert!(sound.contains(found), "{found}");
        let error = RuleSet::from_toml(&sound.replacen(found, instead, 1)).unwrap_err().to_string();
        assert!(error.contains(said), "{error}");
    }
}

#[test]
fn every_set_is_in_one_move_of_a_comparison() {
    let sets = [
        set("1", "p", "2 08:00", "CoNS"),
        set("2", "p", "3 09:00", ""),
        set("3", "q", "2 08:00", "Kocuria rosea"),
        set("4", "q", "2 08:10", ""),
        set("5", "r", "2 08:00", "E. coli"),
    ];
    let judged = |rule| judge(&sets, &RuleSet::ready(rule).unwrap(), Some(AS_OF));
    let compared = Comparison::of(&judged("episode-48h"), &judged("cap-series"));
    assert_eq!(compared.moves.values().sum::<u64>(), 5);
    let changes: Vec<_> = compared.changes().collect();
    use Clause::{CommensalInOneSet, CommensalSingleSet, RecognisedOrganism};
    assert_eq!(
        changes,
        [((CommensalInOneSet, RecognisedOrganism), 1), ((CommensalInOneSet, CommensalSingleSet), 1)]
    );
    assert_eq!((compared.first.contaminated, compared.second.contaminated), (2, 0));
    let same = Comparison::of(&judged("adult-24h"), &judged("adult-24h"));
    assert_eq!((same.changed(), same.moves.values().sum::<u64>()), (0, 5));
}

#[test]
fn a_judgement_stands_beside_the_rule_and_needs_a_name_and_a_reason() {
    let sets = [
        set("1", "p", "2 08:00", "CoNS"),
        set("2", "q", "2 08:20", "CoNS"),
        set("3", "q", "2 08:40", ""),
        CultureSet { status: ReportStatus::Cancelled, ..set("4", "r", "2 08:40", "") },
    ];
    let rule = RuleSet::ready("adult-24h").unwrap();
    let judged = judge(&sets, &rule, Some(AS_OF));
    assert_eq!(Tally::of(&judged).contaminated, 1);
    let sign = |id: &str, verdict, on| {
        Judgement::new(SetId(id.to_owned()), verdict, "Invented physician", on, "same antibiogram as the tip")
            .unwrap()
    };
    let (early, late) = (date(2026, 3, 9), date(2026, 3, 12));
    let judgements = [
        sign("1", Verdict::Contaminated, early),
        sign("2", Verdict::Contaminated, late),
        sign("2", Verdict::TruePositive, early),
        sign("4", Verdict::Contaminated, early),
        sign("9", Verdict::Negative, early),
    ];
    let beside = Beside::find(&sets, &judgements);
    assert_eq!(beside.pairs, [(0, 0), (1, 1), (3, 3)]);
    assert_eq!((beside.without_set.as_slice(), beside.replaced.as_slice()), ([4].as_slice(), [2].as_slice()));
    let tally = beside.tally(&judged, &judgements);
    assert_eq!((tally.contaminated, tally.undetermined, tally.excluded), (2, 0, 1));
    // The rule's own verdicts are untouched, and only what differs is listed.
    assert_eq!(judged[0].clause, Clause::CommensalSingleSet);
    assert_eq!(beside.differing(&judged, &judgements).collect::<Vec<_>>(), [(0, 0), (3, 3)]);

    let refused = |verdict, by, because| {
        Judgement::new(SetId("1".to_owned()), verdict, by, early, because).unwrap_err()
    };
    assert_eq!(refused(Verdict::Negative, " ", "x"), JudgementError::Unsigned);
    assert_eq!(refused(Verdict::Negative, "x", ""), JudgementError::NoReason);
    assert_eq!(refused(Verdict::Excluded, "x", "x"), JudgementError::NotAJudgement("excluded"));
}

#[test]
fn doubts_about_the_data_are_counted_out_of_what_they_could_be_met_in() {
    let one_bottle = vec![Bottle { kind: BottleKind::Aerobic, fill_ml: None }];
    let in_ed = |set: CultureSet| CultureSet { unit: Some("ED".to_owned()), ..set };
    let sets = vec![
        // One login in two units within five minutes.
        set("1", "a", "2 08:00", ""),
        in_ed(set("2", "b", "2 08:05", "")),
        // The same in sixteen minutes is a walk.
        in_ed(CultureSet { collector: Some("K2".to_owned()), ..set("3", "c", "3 08:00", "") }),
        CultureSet { collector: Some("K2".to_owned()), ..set("4", "d", "3 08:16", "") },
        // Three patients at one minute.
        set("5", "e", "4 06:00", ""),
        set("6", "f", "4 06:00", ""),
        set("7", "g", "4 06:00", ""),
        // Two sets of a patient at one minute, by one route; and by two routes, which is a pair.
        CultureSet { collector: None, ..set("8", "h", "5 06:00", "") },
        CultureSet { collector: None, ..set("9", "h", "5 06:00", "") },
        CultureSet { collector: None, ..set("10", "i", "5 06:00", "") },
        CultureSet { collector: None, route: Some(Route::CentralLine), ..set("11", "i", "5 06:00", "") },
        CultureSet {
            collector: None,
            received: Some(date(2026, 3, 6).at(5, 0, 0, 0)),
            ..set("12", "j", "6 06:00", "")
        },
        CultureSet {
            collector: None,
            received: Some(date(2026, 3, 9).at(5, 0, 0, 0)),
            ..set("13", "k", "6 06:00", "")
        },
        CultureSet { collector: None, bottles: one_bottle, route: None, ..set("14", "l", "7 00:00", "") },
        CultureSet {
            collector: None,
            collected: Collected::On(date(2026, 3, 8)),
            ..set("15", "m", "8 00:00", "")
        },
        CultureSet { collector: None, status: ReportStatus::Cancelled, ..set("16", "n", "9 00:00", "") },
    ];
    let judged = judge(&sets, &RuleSet::ready("adult-24h").unwrap(), Some(AS_OF));
    let found: BTreeMap<&str, (u64, u64, Vec<&str>)> = doubts(&sets, &judged)
        .into_iter()
        .map(|count| {
            let ids = count.places.iter().map(|&place| sets[place].id.0.as_str()).collect();
            (count.doubt.id(), (count.sets, count.of, ids))
        })
        .collect();
    assert_eq!(found.len(), Doubt::ALL.len());
    let expect = |id: &str, sets: u64, of: u64, ids: &[&str]| {
        assert_eq!(found[id], (sets, of, ids.to_vec()), "{id}");
    };
    expect("two-units-at-once", 2, 7, &["1", "2"]);
    expect("round-time", 3, 7, &["5", "6", "7"]);
    expect("same-minute", 2, 14, &["8", "9"]);
    expect("after-receipt", 1, 2, &["12"]);
    expect("long-way", 1, 2, &["13"]);
    expect("midnight", 1, 14, &["14"]);
    expect("day-only", 1, 15, &["15"]);
    expect("one-bottle", 1, 1, &["14"]);
    expect("route-not-recorded", 1, 15, &["14"]);
    expect("collector-not-recorded", 8, 15, &["8", "9", "10", "11", "12", "13", "14", "15"]);
}

/// Two contaminated sets in fourteen at a rate of 3 %: 1 - 0.97^14 - 14 x 0.03 x 0.97^13, by hand.
#[test]
fn two_in_fourteen_mean_little() {
    let tally =
        |contaminated, closed| Tally { contaminated, negative: closed - contaminated, ..Tally::default() };
    let everyone: BTreeMap<String, Tally> =
        [("K1", tally(2, 14)), ("K2", tally(1, 60)), ("K3", tally(0, 26)), ("K4", Tally::default())]
            .into_iter()
            .map(|(name, tally)| (name.to_owned(), tally))
            .collect();
    let target = Probability::new(0.03).unwrap();
    let figures = collector_figures(&everyone, "K1", target).unwrap();
    assert_eq!((figures.everyone.events(), figures.everyone.trials(), figures.people), (3, 100, 3));
    let by_hand = 1.0 - 0.97_f64.powi(14) - 14.0 * 0.03 * 0.97_f64.powi(13);
    assert!((figures.as_high_by_chance - by_hand).abs() < 1e-12, "{}", figures.as_high_by_chance);
    // Three people looked at: the least of the three chances counts at most three times.
    assert!((figures.adjusted - 3.0 * by_hand).abs() < 1e-12, "{}", figures.adjusted);
    assert!(figures.interval.contains(figures.estimate) && figures.estimate < 2.0 / 14.0);
    assert!(figures.funnel.upper() > 2.0 / 14.0 - 0.05);
    let none =
        |who: &str, everyone: &BTreeMap<String, Tally>| collector_figures(everyone, who, target).unwrap_err();
    assert_eq!(none("K4", &everyone), culture::NoCollectorFigures::NoSets);
    assert_eq!(none("K9", &everyone), culture::NoCollectorFigures::NoSets);
    let clean: BTreeMap<String, Tally> = [("K1".to_owned(), tally(0, 14))].into();
    assert_eq!(none("K1", &clean), culture::NoCollectorFigures::NothingToCompare);
}
