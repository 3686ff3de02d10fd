//! The fast judge against a plain one that looks at every pair of sets, and against sets in another order.

use std::collections::BTreeMap;

use culture::{
    Clause, Collected, CultureSet, Identity, Isolate, Listing, Matching, Nomenclature, PatientKey,
    ReportStatus, RuleSet, SetId, SingleSetPolicy, Specimen, Tally, Verdict, Window, judge,
};
use jiff::civil::date;
use proptest::prelude::*;

const NAMES: [&str; 9] = [
    "S. epidermidis",
    "CoNS",
    "S. hominis",
    "Micrococcus luteus",
    "Corynebacterium sp.",
    "E. coli",
    "S. aureus",
    "Staphylococcus",
    "gram positive cocci",
];

const AS_OF: jiff::civil::Date = date(2026, 3, 20);

fn set() -> impl Strategy<Value = CultureSet> {
    let organisms = prop_oneof![3 => Just(Vec::new()), 5 => prop::collection::vec(0..NAMES.len(), 1..3)];
    let age =
        prop_oneof![6 => Just(Some(40.0)), 1 => Just(Some(0.05)), 1 => Just(Some(5.0)), 1 => Just(None)];
    let specimen = prop_oneof![
        8 => Just(Specimen::Blood), 1 => Just(Specimen::PostMortem), 1 => Just(Specimen::QualityControl),
    ];
    (0_u8..3, 1_i8..22, 0_i8..24, any::<bool>(), organisms, 0_u8..6, age, specimen).prop_map(
        |(patient, day, hour, only_day, organisms, status, age_years, specimen)| CultureSet {
            id: SetId(String::new()),
            patient: PatientKey(patient.to_string()),
            collected: if only_day && day % 3 == 0 {
                Collected::On(date(2026, 3, day))
            } else {
                Collected::At(date(2026, 3, day).at(hour, 0, 0, 0))
            },
            received: None,
            unit: None,
            collector: None,
            route: None,
            specimen,
            age_years,
            status: match status {
                0 => ReportStatus::Preliminary,
                1 => ReportStatus::NotStated,
                2 => ReportStatus::Cancelled,
                _ => ReportStatus::Final,
            },
            bottles: Vec::new(),
            positive_after_s: None,
            isolates: organisms.into_iter().map(|n| Isolate { reported_name: NAMES[n].to_owned() }).collect(),
        },
    )
}

fn sets() -> impl Strategy<Value = Vec<CultureSet>> {
    prop::collection::vec(set(), 0..25).prop_map(|mut sets| {
        for (number, set) in sets.iter_mut().enumerate() {
            set.id = SetId(format!("S{number:02}"));
        }
        sets
    })
}

/// Earliest and latest second of a draw, counted from the first of the month.
fn span(set: &CultureSet) -> (i64, i64) {
    let day = i64::from(set.collected.date().day()) * 86_400;
    match set.collected.time() {
        Some(at) => (day + i64::from(at.hour()) * 3_600, day + i64::from(at.hour()) * 3_600),
        None => (day, day + 86_399),
    }
}

/// The sets in the window of each set, itself included, by the words of the definition.
fn plain_windows(sets: &[&CultureSet], window: Window) -> Vec<Vec<usize>> {
    match window {
        Window::AnchoredHours(hours) => {
            let mut order: Vec<usize> = (0..sets.len()).collect();
            order.sort_by_key(|&n| (span(sets[n]).1, span(sets[n]).0, sets[n].id.clone()));
            let mut of = vec![Vec::new(); sets.len()];
            let mut left: &[usize] = &order;
            while let Some(&anchor) = left.first() {
                let limit = span(sets[anchor]).0 + i64::from(hours) * 3_600;
                let series: Vec<usize> = left
                    .iter()
                    .copied()
                    .enumerate()
                    .take_while(|&(n, s)| n == 0 || span(sets[s]).1 <= limit)
                    .map(|(_, s)| s)
                    .collect();
                for &member in &series {
                    of[member] = series.clone();
                }
                left = &left[series.len()..];
            }
            of
        }
        Window::CalendarDays(days) => {
            let day = |n: usize| i64::from(sets[n].collected.date().day());
            (0..sets.len())
                .map(|n| (0..sets.len()).filter(|&m| (day(n) - day(m)).abs() <= i64::from(days)).collect())
                .collect()
        }
        Window::RollingHours(hours) => {
            let mut order: Vec<usize> = (0..sets.len()).collect();
            order.sort_by_key(|&n| (span(sets[n]).1, span(sets[n]).0, sets[n].id.clone()));
            let sure = |a: usize, b: usize| span(sets[b]).1 - span(sets[a]).0 <= i64::from(hours) * 3_600;
            let mut of = vec![Vec::new(); sets.len()];
            for (place, &n) in order.iter().enumerate() {
                let before = order[..place].iter().rev().take_while(|&&m| sure(m, n));
                let after = order[place + 1..].iter().take_while(|&&m| sure(n, m));
                of[n] = before.chain([&n]).chain(after).copied().collect();
            }
            of
        }
    }
}

fn plain_judge(sets: &[CultureSet], rules: &RuleSet) -> Vec<Clause> {
    let names = Nomenclature::built_in();
    let identity = |isolate: &Isolate| names.identify(&isolate.reported_name).identity;
    let listing = |identity: &Identity| rules.list.list().listing(identity);
    let open = |set: &CultureSet| {
        matches!(set.status, ReportStatus::Preliminary | ReportStatus::NotStated)
            && i32::from(AS_OF.day()) - i32::from(set.collected.date().day()) < rules.days_to_close
    };
    let left_out = |set: &CultureSet| {
        let (from, below) = (rules.from_years, rules.below_years);
        if set.status == ReportStatus::Cancelled {
            Some(Clause::Cancelled)
        } else if set.collected.date() > AS_OF {
            Some(Clause::AfterAsOf)
        } else if rules.excluded_specimens.contains(&set.specimen) {
            Some(Clause::ExcludedSpecimen)
        } else {
            match set.age_years {
                None => below.map(|_| Clause::AgeNotKnown),
                Some(age) => (age < from.unwrap_or(0.0) || age >= below.unwrap_or(f64::INFINITY))
                    .then_some(Clause::OutsideAge),
            }
        }
    };
    let excluded = |set: &CultureSet| left_out(set).is_some();
    let mut clauses = Vec::new();
    for (n, set) in sets.iter().enumerate() {
        let own: Vec<Identity> = set.isolates.iter().map(identity).collect();
        let has = |test: fn(&Listing) -> bool| own.iter().any(|identity| test(&listing(identity)));
        let (commensal, recognised) =
            (has(|l| matches!(l, Listing::Commensal { .. })), has(|l| *l == Listing::NotCommensal));
        clauses.push(if let Some(clause) = left_out(set) {
            clause
        } else if open(set) {
            Clause::NotClosed
        } else if own.is_empty() {
            Clause::NoGrowth
        } else if recognised {
            if commensal { Clause::MixedGrowth } else { Clause::RecognisedOrganism }
        } else if has(|l| matches!(l, Listing::AskAPerson { .. })) {
            Clause::OrganismForAPerson
        } else {
            let group: Vec<usize> =
                (0..sets.len()).filter(|&m| sets[m].patient == set.patient && !excluded(&sets[m])).collect();
            let members: Vec<&CultureSet> = group.iter().map(|&m| &sets[m]).collect();
            let me = group.iter().position(|&m| m == n).expect("the set is in its own group");
            let others: Vec<&CultureSet> = plain_windows(&members, rules.window)[me]
                .iter()
                .filter(|&&m| m != me)
                .map(|&m| members[m])
                .collect();
            let grew = |set: &CultureSet, test: &dyn Fn(&Identity, &Identity) -> bool| {
                set.isolates.iter().map(identity).any(|other| own.iter().any(|mine| test(mine, &other)))
            };
            let matches = |mine: &Identity, other: &Identity| {
                matches!(listing(other), Listing::Commensal { .. })
                    && names.agreement(mine, other, rules.matching).is_some()
            };
            let doubt = |mine: &Identity, other: &Identity| {
                matches!(listing(other), Listing::AskAPerson { .. }) && names.may_be_same(mine, other)
            };
            let window_over = match rules.window {
                Window::CalendarDays(days) => {
                    i64::from(AS_OF.day()) > i64::from(set.collected.date().day()) + i64::from(days)
                }
                Window::AnchoredHours(hours) | Window::RollingHours(hours) => {
                    i64::from(AS_OF.day())
                        > i64::from(set.collected.date().day()) + i64::from(hours.div_ceil(24))
                }
            };
            if others.iter().any(|other| !open(other) && grew(other, &matches)) {
                Clause::CommensalMatched
            } else if others.iter().any(|other| open(other)) {
                Clause::OtherSetNotClosed
            } else if others.iter().any(|other| grew(other, &doubt)) {
                Clause::OtherSetNotIdentified
            } else if !others.is_empty() {
                Clause::CommensalInOneSet
            } else if !window_over {
                Clause::WindowNotOver
            } else if rules.single_set == SingleSetPolicy::Contaminated {
                Clause::SingleSetCounted
            } else {
                Clause::CommensalSingleSet
            }
        });
    }
    clauses
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn the_fast_judge_says_what_the_plain_one_says(sets in sets(), species in any::<bool>()) {
        for name in culture::READY_RULE_SETS {
            let mut rules = RuleSet::ready(name).expect("a ready rule set");
            if species {
                rules.matching = Matching::Species;
            }
            let fast: Vec<Clause> = judge(&sets, &rules, Some(AS_OF)).iter().map(|judged| judged.clause).collect();
            prop_assert_eq!(fast, plain_judge(&sets, &rules), "{}", name);
        }
    }

    #[test]
    fn the_order_of_the_sets_does_not_matter(sets in sets(), seed in any::<u64>()) {
        let rules = RuleSet::ready("adult-24h").expect("a ready rule set");
        let by_id = |sets: &[CultureSet]| -> BTreeMap<String, (Clause, u32)> {
            let judged = judge(sets, &rules, Some(AS_OF));
            sets.iter().zip(judged).map(|(set, judged)| (set.id.0.clone(), (judged.clause, judged.n_in_window))).collect()
        };
        let mut mixed = sets.clone();
        let mut state = seed;
        for last in (1..mixed.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            mixed.swap(last, (state >> 33) as usize % (last + 1));
        }
        prop_assert_eq!(by_id(&sets), by_id(&mixed));
    }

    #[test]
    fn every_set_is_counted_once_and_the_interval_holds_the_rate(sets in sets()) {
        let judged = judge(&sets, &RuleSet::ready("nhsn-match").expect("a ready rule set"), Some(AS_OF));
        let tally = Tally::of(&judged);
        prop_assert_eq!(tally.sets() + tally.excluded, sets.len() as u64);
        prop_assert!(judged.iter().all(|one| one.verdict() != Verdict::Contaminated || one.n_in_window >= 2));
        if let Some(rate) = tally.rate() {
            prop_assert!(rate.interval.contains(rate.proportion.estimate()));
        }
    }
}

/// One patient key on very many sets, as in a file without identifiers, must not take time with the square of their
/// number.
#[test]
fn one_patient_with_very_many_sets_is_judged_quickly() {
    let base = |n: usize| CultureSet {
        id: SetId(format!("S{n}")),
        patient: PatientKey("p".to_owned()),
        collected: Collected::At(date(2026, 3, 1).at(8, 0, 0, 0)),
        received: None,
        unit: None,
        collector: None,
        route: None,
        specimen: culture::Specimen::Blood,
        age_years: None,
        status: ReportStatus::Final,
        bottles: Vec::new(),
        positive_after_s: None,
        isolates: if n.is_multiple_of(2) {
            vec![Isolate { reported_name: "CoNS".to_owned() }]
        } else {
            Vec::new()
        },
    };
    let sets: Vec<CultureSet> = (0..100_000).map(base).collect();
    let judged = judge(&sets, &RuleSet::ready("adult-24h").expect("a ready rule set"), None);
    assert!(judged.iter().step_by(2).all(|one| one.clause == Clause::CommensalMatched));
}

/// Rates of published counts, to four digits after the point as recomputed in double precision outside this project:
/// Gander 2009 J Clin Microbiol 47:1021, Boyce 2013 Infect Control Hosp Epidemiol.
#[test]
fn published_counts_give_the_published_rates() {
    for (contaminated, sets, percent) in [
        (62, 2_012, "3.0815"),
        (122, 1_650, "7.3939"),
        (100, 1_770, "5.6497"),
        (84, 5_274, "1.5927"),
        (21, 4_245, "0.4947"),
    ] {
        let tally = Tally { contaminated, negative: sets - contaminated, ..Tally::default() };
        let rate = tally.rate().expect("closed sets").proportion;
        assert_eq!(format!("{:.4}", rate.estimate() * 100.0), percent, "{contaminated} of {sets}");
    }
}
