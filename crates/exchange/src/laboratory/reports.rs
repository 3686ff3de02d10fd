//! Reports in messages: the latest word on each result, and one set out of several orders and messages.

use std::collections::{BTreeMap, HashMap, HashSet};

use culture::{BottleKind, Collected, PatientKey, ReportStatus, Route, Specimen};
use jiff::civil::DateTime;

use super::account::{Account, Place};
use super::codes::{RESULT_WORDS, bottle_label, saw_nothing};
use super::gather::{BottleFact, Fact, Gatherer};
use super::mapping::Mapping;
use super::words::plain;

/// One report on one order, as a message gives it.
#[derive(Debug, Clone)]
pub(super) struct Report {
    pub place: Place,
    /// Specimen number, or what stands for it.
    pub set: String,
    /// What tells the orders of one specimen apart.
    pub order: String,
    /// The laboratory's number of the order, by which susceptibilities name their culture; empty where there is none.
    pub filler: String,
    /// It holds everything that is known of its order, so that what an earlier one said and this one does not is gone.
    pub replaces_all: bool,
    /// When the report was made, in seconds; later ones replace earlier ones. `None` where it does not say: then the
    /// one that comes later is the later one.
    pub stamp: Option<i64>,
    pub patient: PatientKey,
    pub collected: Collected,
    pub received: Option<DateTime>,
    pub unit: Option<String>,
    pub collector: Option<String>,
    pub route: Option<Route>,
    pub specimen: Specimen,
    pub age_years: Option<f64>,
    pub status: ReportStatus,
    pub bottles: Vec<BottleFact>,
    pub results: Vec<ReportedResult>,
}

/// One result of a report.
#[derive(Debug, Clone)]
pub(super) struct ReportedResult {
    pub key: ResultKey,
    pub says: Says,
    pub is_preliminary: bool,
}

/// What a result is about: the code, the sub-id, and its turn where neither tells results apart.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct ResultKey {
    pub code: String,
    pub sub_id: String,
    pub turn: usize,
}

/// What a result says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Says {
    /// An organism, or words.
    Words(String),
    /// What a stain showed: growth without a name, unless it showed nothing.
    Stain(String),
    /// Withdrawn: deleted, or wrong.
    Withdrawn,
    /// What was said before holds, and is final now.
    AsBefore,
}

/// Susceptibilities, which belong to an isolate of a culture.
#[derive(Debug, Clone)]
pub(super) struct Susceptibilities {
    pub place: Place,
    /// The laboratory's number of the culture's order.
    pub parent: String,
    /// The sub-id of the isolate; empty where it is not said.
    pub sub_id: String,
}

/// Keeps reports until all messages are read.
#[derive(Debug, Default)]
pub(super) struct Reports {
    reports: Vec<Kept>,
    by_order: HashMap<(String, String), usize>,
    set_of_order: HashMap<String, String>,
    susceptibilities: Vec<Susceptibilities>,
}

#[derive(Debug)]
struct Kept {
    latest: Report,
    results: BTreeMap<ResultKey, Known>,
}

#[derive(Debug, Clone)]
struct Known {
    stamp: Option<i64>,
    says: Says,
    is_preliminary: bool,
}

/// Whether what bears the first time was said before what bears the second. Where a time is missing, what comes later
/// in the files counts as later.
fn is_older(one: Option<i64>, other: Option<i64>) -> bool {
    matches!((one, other), (Some(one), Some(other)) if one < other)
}

fn closes(status: ReportStatus) -> bool {
    matches!(status, ReportStatus::Final | ReportStatus::Corrected)
}

impl Reports {
    /// The specimen number of the set that an order belongs to.
    pub(super) fn set_of(&self, filler: &str) -> Option<&str> {
        self.set_of_order.get(filler).map(String::as_str)
    }

    /// Takes a report in. One on the same order replaces what it repeats, result by result, if it is not older.
    pub(super) fn add(&mut self, mut report: Report, account: &mut Account) {
        let results = std::mem::take(&mut report.results);
        if !report.filler.is_empty() {
            self.set_of_order.entry(report.filler.clone()).or_insert_with(|| report.set.clone());
        }
        let key = (report.set.clone(), report.order.clone());
        match self.by_order.get(&key) {
            // Another patient under the same number is a fault of its own, which the gatherer names.
            Some(&place) if self.reports[place].latest.patient == report.patient => {
                account.drop_row(
                    report.place.file,
                    "a repeated or corrected report on an order that is counted once",
                );
                self.reports[place].update(report, results);
            }
            _ => {
                self.by_order.insert(key, self.reports.len());
                let mut kept = Kept { latest: report.clone(), results: BTreeMap::new() };
                kept.update(report, results);
                self.reports.push(kept);
            }
        }
    }

    /// Susceptibilities are no set and no isolate of their own; they are held against their culture at the end.
    pub(super) fn susceptibilities(&mut self, found: Susceptibilities) {
        self.susceptibilities.push(found);
    }

    /// Hands every report to the gatherer, in the order in which they came.
    pub(super) fn finish(self, mapping: &Mapping, gatherer: &mut Gatherer, account: &mut Account) {
        self.hold_susceptibilities_against_cultures(account);
        let mut named: HashSet<String> = HashSet::new();
        for kept in &self.reports {
            if !kept.organisms(mapping).0.is_empty() {
                named.insert(kept.latest.set.clone());
            }
        }
        for kept in self.reports {
            let (mut organisms, grew) = kept.organisms(mapping);
            if grew && !named.contains(&kept.latest.set) {
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
                specimen: report.specimen,
                age_years: report.age_years,
                status: report.status,
                bottles: report.bottles,
                organisms,
            };
            gatherer.add(fact, account);
        }
    }

    fn hold_susceptibilities_against_cultures(&self, account: &mut Account) {
        let mut isolates: HashMap<&str, HashSet<&str>> = HashMap::new();
        for kept in self.reports.iter().filter(|kept| !kept.latest.filler.is_empty()) {
            let named = kept.results.iter().filter(|(_, known)| matches!(known.says, Says::Words(_)));
            let sub_ids = named.map(|(key, _)| key.sub_id.as_str());
            isolates.entry(&kept.latest.filler).or_default().extend(sub_ids);
        }
        for found in &self.susceptibilities {
            let Some(sub_ids) = isolates.get(found.parent.as_str()) else {
                account.drop_row(found.place.file, "not a blood culture");
                continue;
            };
            account.drop_row(
                found.place.file,
                "susceptibilities of an isolate that is counted with its culture",
            );
            if !found.sub_id.is_empty() && !sub_ids.contains(found.sub_id.as_str()) {
                account.note(
                    found.place,
                    "susceptibilities belong to an isolate (OBR-26) that the culture does not report; an organism may be missing",
                );
            }
        }
    }
}

impl Kept {
    fn update(&mut self, mut report: Report, results: Vec<ReportedResult>) {
        let stamp = report.stamp;
        if !is_older(stamp, self.latest.stamp) {
            if report.replaces_all {
                self.results.clear();
            }
            if closes(report.status) {
                // A final report says everything; preliminary words it does not repeat no longer hold.
                let repeated: HashSet<&ResultKey> = results.iter().map(|result| &result.key).collect();
                self.results.retain(|key, known| {
                    !known.is_preliminary || is_older(stamp, known.stamp) || repeated.contains(key)
                });
            }
            report.place = self.latest.place;
            // What a shorter report leaves out was said before.
            let before = &mut self.latest;
            report.received = report.received.or(before.received);
            report.unit = report.unit.or(before.unit.take());
            report.collector = report.collector.or(before.collector.take());
            report.route = report.route.or(before.route);
            report.age_years = report.age_years.or(before.age_years);
            let bottles = std::mem::take(&mut before.bottles);
            for bottle in bottles {
                add_bottle(&mut report.bottles, bottle);
            }
            self.latest = report;
        }
        let is_late = is_older(stamp, self.latest.stamp);
        if is_late && self.latest.replaces_all {
            return;
        }
        for result in results {
            let earlier = self.results.get(&result.key);
            if earlier.is_some_and(|known| is_older(stamp, known.stamp)) {
                continue;
            }
            // A preliminary report that comes late says nothing that the final one has not said or dropped.
            if is_late && earlier.is_none() && result.is_preliminary && closes(self.latest.status) {
                continue;
            }
            let says = match (result.says, earlier) {
                (Says::AsBefore, Some(known)) => known.says.clone(),
                (Says::AsBefore, None) => continue,
                (says, _) => says,
            };
            let known = Known { stamp, says, is_preliminary: result.is_preliminary };
            self.results.insert(result.key, known);
        }
    }

    /// The organisms named, and whether growth is reported without a name.
    fn organisms(&self, mapping: &Mapping) -> (Vec<String>, bool) {
        let mut organisms = Vec::new();
        let mut grew = false;
        for known in self.results.values() {
            match &known.says {
                Says::Words(said) => {
                    let said = said.trim();
                    if said.is_empty() || mapping.no_growth.is(said) {
                        continue;
                    }
                    if RESULT_WORDS.contains(&plain(said).as_str()) {
                        grew = true;
                        continue;
                    }
                    let name = mapping.organism_names.get(&plain(said));
                    let name = name.cloned().unwrap_or_else(|| said.to_owned());
                    if !organisms.contains(&name) {
                        organisms.push(name);
                    }
                }
                Says::Stain(said) => {
                    let words = plain(said);
                    grew |= !words.is_empty() && !saw_nothing(&words) && !mapping.no_growth.is(said);
                }
                Says::Withdrawn | Says::AsBefore => {}
            }
        }
        (organisms, grew)
    }
}

/// Puts a bottle to the others, unless it is one of them; a fill that was not known yet is added.
pub(super) fn add_bottle(bottles: &mut Vec<BottleFact>, bottle: BottleFact) {
    let same = bottles.iter_mut().find(|known| known.label == bottle.label && known.kind == bottle.kind);
    match same {
        Some(known) => known.fill_ml = known.fill_ml.or(bottle.fill_ml),
        None => bottles.push(bottle),
    }
}

/// A bottle known by its kind alone.
pub(super) fn plain_bottle(kind: BottleKind, fill_ml: Option<f64>) -> BottleFact {
    BottleFact { label: bottle_label(kind).to_owned(), kind, fill_ml }
}

/// Gives results of one report their turns. Results with the same code and sub-id are one result told several times
/// where their statuses differ: the one that is furthest counts. Where the statuses are the same they are several.
pub(super) fn with_turns(found: Vec<(String, String, u8, ReportedWords)>) -> Vec<ReportedResult> {
    let mut furthest: HashMap<(&str, &str), u8> = HashMap::new();
    for (code, sub_id, rank, _) in found.iter().filter(|(_, sub_id, ..)| !sub_id.is_empty()) {
        let known = furthest.entry((code, sub_id)).or_default();
        *known = (*known).max(*rank);
    }
    let counts: Vec<bool> = found
        .iter()
        .map(|(code, sub_id, rank, _)| {
            furthest.get(&(code.as_str(), sub_id.as_str())).is_none_or(|best| best == rank)
        })
        .collect();
    let mut turns: HashMap<(String, String), usize> = HashMap::new();
    let mut results = Vec::with_capacity(found.len());
    for ((code, sub_id, _, words), counts) in found.into_iter().zip(counts) {
        if !counts {
            continue;
        }
        let turn = turns.entry((code.clone(), sub_id.clone())).or_default();
        let key = ResultKey { code, sub_id, turn: *turn };
        *turn += 1;
        results.push(ReportedResult { key, says: words.says, is_preliminary: words.is_preliminary });
    }
    results
}

/// What a result says and whether it is preliminary, before its turn is known.
#[derive(Debug, Clone)]
pub(super) struct ReportedWords {
    pub says: Says,
    pub is_preliminary: bool,
}
