//! Every method that the desk points at is described in `docs/methods.md`.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use std::collections::BTreeSet;

use common::*;
use culture::CultureSet;
use desk::{Charted, Desk, Fill, Material, Rate, Results, Share, UnitRow};
use jiff::ToSpan as _;
use jiff::civil::date;

/// Anchors of headings `### name`.
fn described() -> BTreeSet<String> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/methods.md");
    let text = std::fs::read_to_string(path).unwrap();
    text.lines().filter_map(|line| line.strip_prefix("### ")).map(|name| name.trim().to_owned()).collect()
}

/// Twenty months of thirty patients with two sets each, the second of a pair without growth; two contaminated sets a
/// month before November 2025 and one from then on, collected by the learner and the preceptor in turn.
fn many_sets() -> Vec<CultureSet> {
    let mut sets = Vec::new();
    for month in 0..20i64 {
        let day = date(2025, 1, 10).saturating_add(month.months());
        let n_contaminated = if month < 10 { 2 } else { 1 };
        for patient in 0..30 {
            let collector = Some(if patient % 2 == 0 { LEARNER } else { PRECEPTOR });
            let organism = (patient < n_contaminated).then_some("Staphylococcus epidermidis");
            let key = format!("{month}-{patient}");
            sets.push(set(&format!("{key}-1"), &key, &format!("{day}T08:00"), collector, organism));
            sets.push(set(&format!("{key}-2"), &key, &format!("{day}T08:20"), collector, None));
        }
    }
    sets
}

#[derive(Default)]
struct Anchors(BTreeSet<String>);

impl Anchors {
    fn rate(&mut self, rate: &Rate) {
        if let Share::Shown { anchor, .. } = &rate.share {
            self.0.insert(anchor.clone());
        }
    }

    fn strata(&mut self, rows: &[UnitRow]) {
        rows.iter().for_each(|row| self.rate(&row.contamination));
    }

    fn chart(&mut self, chart: &Result<Charted, String>) {
        self.0.extend(chart.iter().map(|charted| charted.anchor.clone()));
    }

    fn fill(&mut self, fill: &Result<Fill, String>) {
        if let Ok(fill) = fill {
            [&fill.under, &fill.within, &fill.over].into_iter().for_each(|rate| self.rate(rate));
        }
    }

    fn results(&mut self, results: &Results) {
        self.chart(&results.chart);
        self.fill(&results.fill);
        for rows in [&results.units, &results.routes, &results.shifts, &results.by_standing] {
            self.strata(rows);
        }
        results.months.iter().for_each(|month| self.rate(&month.contamination));
        for rate in
            [&results.contamination, &results.single_sets, &results.positivity, &results.unknown_collectors]
        {
            self.rate(rate);
        }
        self.0.extend(results.change.iter().map(|finding| finding.anchor.clone()));
    }

    fn desk(&mut self, desk: &Desk) {
        self.results(&desk.results());
        self.rate(&desk.today_page().contamination);
        for row in desk.people() {
            let results = desk.person(&row.id).unwrap().results;
            self.rate(&results.contamination);
            self.rate(&results.unknown_collectors);
            self.0.extend(results.chance.into_iter().flat_map(|chance| chance.anchors));
        }
        for month in desk.months() {
            let report = desk.month_report(month).unwrap();
            self.chart(&report.chart);
            self.fill(&report.fill);
            self.strata(&report.units);
            self.strata(&report.routes);
            for rate in [
                &report.this_month.contamination,
                &report.last_twelve,
                &report.single_sets,
                &report.unknown_collectors,
            ] {
                self.rate(rate);
            }
        }
    }
}

#[test]
fn every_anchor_is_a_heading_of_the_methods_page() {
    let mut anchors = Anchors::default();
    anchors.desk(&Desk::new(Material {
        training_started: Some(day("2025-11-01")),
        ..material("2026-09-30", many_sets())
    }));
    // The test would pass on a desk that points at nothing.
    let expected = [
        "wilson",
        "p_chart",
        "run_chart",
        "difference_newcombe",
        "segmented_regression",
        "probability_as_high",
        "trials_to_know",
    ];
    for anchor in expected {
        assert!(anchors.0.contains(anchor), "{anchor} is not among {:?}", anchors.0);
    }
    let described = described();
    assert!(described.contains("wilson"), "docs/methods.md was not read as expected");
    let missing: Vec<_> = anchors.0.difference(&described).collect();
    assert!(missing.is_empty(), "not in docs/methods.md: {missing:?}");
}
