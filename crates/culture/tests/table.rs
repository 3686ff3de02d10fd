//! The table of sets against the plain lists it stands for.

use std::collections::BTreeMap;

use culture::{
    Bottle, BottleKind, Collected, CultureSet, DayShift, FillFacts, FillTarget, Flag, GroupCounts, Isolate,
    Month, PatientKey, PatientOrder, READY_RULE_SETS, ReportOn, ReportStatus, Route, RuleSet, SetColumns,
    SetId, SetTable, SingleSets, Specimen, TableCounts, TableReport, Tally, Verdict, count_clauses, judge,
    judge_table, merge_split_sets, merge_split_table, tally_by,
};
use jiff::civil::date;
use proptest::prelude::*;

fn set() -> impl Strategy<Value = CultureSet> {
    let one_of = |words: &'static [&'static str]| prop::option::of(prop::sample::select(words)).boxed();
    let bottle = (0_u8..4, prop::option::of(0_u8..12)).prop_map(|(kind, fill)| Bottle {
        kind: [BottleKind::Aerobic, BottleKind::Anaerobic, BottleKind::Paediatric, BottleKind::Other]
            [usize::from(kind)],
        fill_ml: fill.map(f64::from),
    });
    let who = (0_u32..999, 0_u8..4, one_of(&["ICU", "Ward"]), one_of(&["c1", "c2", "c3"]));
    let when = (1_i8..6, 0_i8..24, any::<bool>(), prop::option::of(0_i8..24));
    let what = (
        prop::collection::vec(bottle, 0..3),
        prop::sample::subsequence(vec!["CoNS", "S. epidermidis", "E. coli", "gram positive cocci"], 0..3),
        0_u8..5,
        prop::option::of(10_u8..30),
        0_u8..5,
    );
    (who, when, what).prop_map(|((number, patient, unit, collector), (day, hour, timed, received), what)| {
        let (bottles, organisms, route, age, status) = what;
        let day = date(2026, 3, day);
        CultureSet {
            id: SetId(format!("s{number}")),
            patient: PatientKey(format!("p{patient}")),
            collected: if timed { Collected::At(day.at(hour, 5, 7, 0)) } else { Collected::On(day) },
            received: received.map(|hour| day.at(hour, 30, 0, 0)),
            unit: unit.map(str::to_owned),
            collector: collector.map(str::to_owned),
            route: [
                None,
                Some(Route::Vein),
                Some(Route::CentralLine),
                Some(Route::ArterialLine),
                Some(Route::Cannula),
            ][usize::from(route)],
            specimen: Specimen::Blood,
            age_years: age.map(f64::from),
            status: [
                ReportStatus::Final,
                ReportStatus::Preliminary,
                ReportStatus::Corrected,
                ReportStatus::Cancelled,
                ReportStatus::NotStated,
            ][usize::from(status)],
            bottles,
            positive_after_s: (number % 3 == 0).then_some(number * 61),
            isolates: organisms.into_iter().map(|name| Isolate { reported_name: name.to_owned() }).collect(),
        }
    })
}

fn tallies<K: Ord + Clone>(counts: &BTreeMap<K, GroupCounts>) -> BTreeMap<K, Tally> {
    counts.iter().map(|(key, counts)| (key.clone(), counts.tally)).collect()
}

/// Patients as numbers in the order in which they are met, as a table has them.
fn numbered(sets: &[CultureSet]) -> Vec<CultureSet> {
    let mut numbers = BTreeMap::new();
    sets.iter()
        .map(|set| {
            let next = numbers.len();
            let number = *numbers.entry(set.patient.clone()).or_insert(next);
            CultureSet { patient: PatientKey(number.to_string()), ..set.clone() }
        })
        .collect()
}

proptest! {
    #[test]
    fn sets_come_back_as_they_were(sets in prop::collection::vec(set(), 0..30), keep in any::<u32>()) {
        let table = SetTable::of(&sets);
        prop_assert_eq!(table.to_sets(), numbered(&sets));
        let keep: Vec<bool> = (0..sets.len()).map(|n| keep >> (n % 32) & 1 == 1).collect();
        let kept: Vec<CultureSet> =
            numbered(&sets).into_iter().zip(&keep).filter(|(_, keep)| **keep).map(|(set, _)| set).collect();
        prop_assert_eq!(table.keep(&keep).to_sets(), kept);
    }

    #[test]
    fn halves_are_joined_as_in_a_list(sets in prop::collection::vec(set(), 0..40)) {
        let mut list = numbered(&sets);
        let n_joined = merge_split_sets(&mut list).len();
        match merge_split_table(&SetTable::of(&sets)) {
            None => prop_assert_eq!(n_joined, 0),
            Some((table, keep)) => {
                prop_assert_eq!(table.to_sets(), list);
                prop_assert_eq!(keep.iter().filter(|keep| !**keep).count(), n_joined);
            }
        }
    }

    #[test]
    fn counts_in_one_pass_are_the_counts_one_by_one(sets in prop::collection::vec(set(), 0..40)) {
        let rules = RuleSet::ready("adult-24h").expect("a ready rule set");
        let as_of = Some(date(2026, 3, 8));
        let table = SetTable::of(&sets);
        let order = PatientOrder::of(&table, 1);
        let judged = judge_table(&table, &order, &rules, as_of);
        prop_assert_eq!(&judged, &judge(&sets, &rules, as_of));
        prop_assert_eq!(SingleSets::count_table(&table, &order, &judged), SingleSets::count(&sets, &judged));
        let counts = TableCounts::of(&table, &judged, DayShift::default(), FillTarget::default());
        let included = || sets.iter().zip(&judged).filter(|(_, judged)| judged.verdict() != Verdict::Excluded);
        let by = |key: &dyn Fn(&CultureSet) -> Option<String>| tally_by(&sets, &judged, key);
        prop_assert_eq!(counts.tally, Tally::of(&judged));
        prop_assert_eq!(tallies(&counts.units), by(&|set| set.unit.clone()));
        prop_assert_eq!(counts.collectors, by(&|set| set.collector.clone()));
        prop_assert_eq!(counts.routes, tally_by(&sets, &judged, |set| set.route));
        let known = |month: &(Option<Month>, Tally)| (month.0.expect("every set has a month"), month.1);
        let months: Vec<_> = tally_by(&sets, &judged, |set| Some(Month::of(set))).into_iter().collect();
        prop_assert_eq!(tallies(&counts.months).into_iter().collect::<Vec<_>>(), months.iter().map(known).collect::<Vec<_>>());
        let shift = DayShift::default();
        let shifts = tally_by(&sets, &judged, |set| Some(shift.of(set)));
        prop_assert_eq!(counts.shifts.into_iter().map(|(shift, tally)| (Some(shift), tally)).collect::<BTreeMap<_, _>>(), shifts);
        prop_assert_eq!(counts.clauses, count_clauses(&judged));
        let flags: Vec<(Flag, u64)> = Flag::ALL
            .into_iter()
            .map(|flag| (flag, included().filter(|(_, judged)| judged.flags.contains(flag)).count() as u64))
            .filter(|(_, count)| *count > 0)
            .collect();
        prop_assert_eq!(counts.flags, flags);
        prop_assert_eq!(counts.with_collector, included().filter(|(set, _)| set.collector.is_some()).count() as u64);
        let filled = |part: &dyn Fn(&CultureSet) -> bool| {
            FillFacts::count(included().map(|(set, _)| set).filter(|set| part(set)), FillTarget::default())
        };
        prop_assert_eq!(counts.fill, filled(&|_| true));
        for (unit, of_unit) in &counts.units {
            prop_assert_eq!(of_unit.fill, filled(&|set| set.unit == *unit));
        }
        for (month, of_month) in &counts.months {
            prop_assert_eq!(of_month.fill, filled(&|set| Month::of(set) == *month));
        }
    }

    /// The whole report on any number of threads is that of one pass over judged sets.
    #[test]
    fn a_report_is_the_same_on_any_number_of_threads(sets in prop::collection::vec(set(), 0..60), rule in 0_usize..READY_RULE_SETS.len()) {
        let rules = RuleSet::ready(READY_RULE_SETS[rule]).expect("a ready rule set");
        let as_of = Some(date(2026, 3, 8));
        let table = SetTable::of(&sets);
        let judged = judge(&sets, &rules, as_of);
        let (shift, target) = (DayShift::default(), FillTarget::default());
        let plain = TableReport {
            counts: TableCounts::of(&table, &judged, shift, target),
            single: SingleSets::count(&sets, &judged),
        };
        let one = PatientOrder::of(&table, 1);
        for threads in [1, 2, 3, 7] {
            let order = PatientOrder::of(&table, threads);
            prop_assert_eq!(order.patients().collect::<Vec<_>>(), one.patients().collect::<Vec<_>>());
            let on = ReportOn { rules: &rules, as_of, shift, target };
            prop_assert_eq!(&TableReport::of(&table, &order, on, threads), &plain, "{} threads", threads);
        }
    }
}

#[test]
fn columns_that_do_not_fit_are_refused() {
    let table = SetTable::of(&[]);
    assert!(table.is_empty() && table.get(0).is_none());
    assert!(SetTable::new(SetColumns::default()).is_ok());
    let lone = SetColumns { patients: vec![0], ..SetColumns::default() };
    let refused = SetTable::new(lone).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "the column \"id_ends\" does not fit the other columns of the table of sets"
    );
}
