//! Reports in messages: the latest word on each result, and one set out of several orders.

use std::collections::{BTreeMap, HashMap};

use culture::{Collected, PatientKey, ReportStatus, Route};
use jiff::civil::DateTime;

use super::account::{Account, Place};
use super::codes::RESULT_WORDS;
use super::gather::{BottleFact, Fact, Gatherer};
use super::mapping::Mapping;
use super::words::plain;

/// One report on one order, as a message gives it.
#[derive(Debug, Clone)]
pub(super) struct Report {
    pub place: Place,
    /// Specimen number, or what stands for it.
    pub set: String,
    /// Order number of the laboratory within the specimen.
    pub order: String,
    /// When the message was made, as written; later messages replace earlier ones.
    pub stamp: String,
    pub patient: PatientKey,
    pub collected: Collected,
    pub received: Option<DateTime>,
    pub unit: Option<String>,
    pub collector: Option<String>,
    pub route: Option<Route>,
    pub age_years: Option<f64>,
    pub status: ReportStatus,
    pub bottles: Vec<BottleFact>,
    pub results: Vec<(ResultKey, ResultValue)>,
}

/// What a result is about: the code, the sub-id, and its turn where neither tells results apart.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct ResultKey {
    pub code: String,
    pub sub_id: String,
    pub turn: usize,
}

/// What a result says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum ResultValue {
    /// An organism, or words.
    Said(String),
    /// Withdrawn: deleted, or wrong.
    Withdrawn,
}

/// Keeps reports until all messages are read.
#[derive(Debug, Default)]
pub(super) struct Reports {
    reports: Vec<Kept>,
    by_order: HashMap<(String, String), usize>,
}

#[derive(Debug)]
struct Kept {
    latest: Report,
    results: BTreeMap<ResultKey, (String, ResultValue)>,
}

impl Reports {
    /// Takes a report in. One on the same order replaces what it repeats, result by result, if it is not older.
    pub(super) fn add(&mut self, mut report: Report, account: &mut Account) {
        let results = std::mem::take(&mut report.results);
        let stamp = report.stamp.clone();
        let key = (report.set.clone(), report.order.clone());
        let kept = match self.by_order.get(&key) {
            // Another patient under the same number is a fault of its own, which the gatherer names.
            Some(&place) if self.reports[place].latest.patient == report.patient => {
                account.drop_row(
                    report.place.file,
                    "a repeated or corrected report on an order that is counted once",
                );
                let kept = &mut self.reports[place];
                if kept.latest.stamp <= report.stamp {
                    report.place = kept.latest.place;
                    kept.latest = report;
                }
                kept
            }
            _ => {
                self.by_order.insert(key, self.reports.len());
                self.reports.push(Kept { latest: report, results: BTreeMap::new() });
                let last = self.reports.len() - 1;
                &mut self.reports[last]
            }
        };
        for (key, value) in results {
            let newer = kept.results.get(&key).is_none_or(|(known, _)| *known <= stamp);
            if newer {
                kept.results.insert(key, (stamp.clone(), value));
            }
        }
    }

    /// Hands every report to the gatherer, in the order in which they came.
    pub(super) fn finish(self, mapping: &Mapping, gatherer: &mut Gatherer, account: &mut Account) {
        let mut named: HashMap<String, bool> = HashMap::new();
        for kept in &self.reports {
            let any = kept.organisms(mapping).0.is_empty();
            let entry = named.entry(kept.latest.set.clone()).or_insert(false);
            *entry |= !any;
        }
        for kept in self.reports {
            let (mut organisms, grew) = kept.organisms(mapping);
            let set_is_named = named.get(&kept.latest.set).copied().unwrap_or_default();
            if grew && !set_is_named {
                organisms.push("growth reported, no organism named".to_owned());
            }
            let report = kept.latest;
            if let Some(fault) = gatherer.future(report.collected) {
                account.unread_row(report.place, fault);
                continue;
            }
            let fact = Fact {
                place: report.place,
                key: report.set.clone(),
                id: report.set,
                numbered: true,
                patient: report.patient,
                collected: report.collected,
                received: report.received,
                reported: None,
                unit: report.unit,
                collector: report.collector,
                route: report.route,
                specimen: culture::Specimen::Blood,
                age_years: report.age_years,
                status: report.status,
                bottles: report.bottles,
                organisms,
            };
            gatherer.add(fact, account);
        }
    }
}

impl Kept {
    /// The organisms named, and whether growth is reported without a name.
    fn organisms(&self, mapping: &Mapping) -> (Vec<String>, bool) {
        let mut organisms = Vec::new();
        let mut grew = false;
        for (_, value) in self.results.values() {
            let ResultValue::Said(said) = value else { continue };
            let said = said.trim();
            if said.is_empty() || mapping.no_growth.is(said) {
                continue;
            }
            if RESULT_WORDS.contains(&plain(said).as_str()) {
                grew = true;
                continue;
            }
            let name = mapping.organism_names.get(&plain(said)).cloned().unwrap_or_else(|| said.to_owned());
            if !organisms.contains(&name) {
                organisms.push(name);
            }
        }
        (organisms, grew)
    }
}
