//! Reports in messages: the latest word on each result, and one set out of several orders and messages.

use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap, HashSet};

use culture::{BottleKind, Collected, PatientKey, ReportStatus, Route, SetId, Specimen};
use jiff::civil::DateTime;

use super::OrderNumber;
use super::account::{Account, Place};
use super::codes::{RESULT_WORDS, bottle_label, saw_nothing};
use super::gather::{BottleFact, Fact, Gatherer};
use super::mapping::Mapping;
use super::moment::Moment;
use super::words::plain;

/// One report on one order, as a message gives it.
#[derive(Debug, Clone)]
pub(super) struct Report {
    pub place: Place,
    /// Specimen number, or what stands for it.
    pub set: String,
    /// The laboratory's number of the order this one hangs under, where it names no specimen of its own: it then belongs
    /// to the set of that order, once that is known.
    pub under: Option<String>,
    /// What tells the orders of one specimen apart.
    pub order: String,
    /// The laboratory's number of the order, by which susceptibilities name their culture; empty where there is none.
    pub filler: String,
    /// It holds everything that is known of its order, so that what an earlier one said and this one does not is gone.
    pub replaces_all: bool,
    /// When the report was made, in seconds; later ones replace earlier ones. `None` where it does not say: then the
    /// one that comes later is the later one.
    pub stamp: Option<i64>,
    /// Tells reports of one time apart.
    pub sent: Sent,
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
    /// Seconds to the first positive bottle.
    pub positive_after_s: Option<u32>,
    pub results: Vec<ReportedResult>,
}

/// When a report was sent, more finely than its stamp: the time of its message with the fraction of the second, and
/// its control number, which senders count up (common practice, no source).
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Sent {
    seconds: Option<i64>,
    fraction: String,
    control_length: usize,
    control: String,
}

impl Sent {
    /// By the fields MSH-7 and MSH-10.
    pub(super) fn of(time: &str, control: &str) -> Self {
        let digits = time.split_once('.').map(|(_, fraction)| fraction.split(['+', '-']).next());
        Self {
            seconds: Moment::hl7(time).map(Moment::seconds),
            fraction: digits.flatten().unwrap_or_default().to_owned(),
            control_length: control.len(),
            control: control.to_owned(),
        }
    }
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
    reports: Vec<Report>,
    susceptibilities: Vec<Susceptibilities>,
}

/// What the messages say of a number besides its set.
#[derive(Debug, Default)]
pub(super) struct Orders {
    /// The order numbers that lead to sets.
    pub of_sets: Vec<OrderNumber>,
    /// Numbers that would have been sets of their own, had the order they hang under not been known, and its set.
    pub parts: Vec<(String, String)>,
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

/// How far a report is: of two that were made at one time the one that is further counts as the later one.
fn how_far(status: ReportStatus) -> u8 {
    match status {
        ReportStatus::Preliminary => 0,
        ReportStatus::NotStated => 1,
        ReportStatus::Final => 2,
        ReportStatus::Corrected => 3,
        ReportStatus::Cancelled => 4,
    }
}

/// The earlier of two reports first, by what they say and not by when they came. Two that agree in all that could tell
/// them apart are put in order by their content, so that any order of arrival ends in the same set.
fn earlier_first(one: &Report, other: &Report) -> Ordering {
    let content = |report: &Report| {
        let Report { results, bottles, positive_after_s, collected, received, unit, collector, .. } = report;
        format!("{results:?}{bottles:?}{positive_after_s:?}{collected:?}{received:?}{unit:?}{collector:?}")
    };
    (one.stamp, how_far(one.status), &one.sent)
        .cmp(&(other.stamp, how_far(other.status), &other.sent))
        .then_with(|| content(one).cmp(&content(other)))
}

/// The status of a report that states none of its own: that of its slowest result. What was corrected is said before
/// what is final, and a result that says nothing does not count.
pub(super) fn slowest(of_results: impl Iterator<Item = ReportStatus>) -> ReportStatus {
    of_results
        .min_by_key(|status| match status {
            ReportStatus::Preliminary => 0,
            ReportStatus::Corrected => 1,
            ReportStatus::Final => 2,
            ReportStatus::NotStated | ReportStatus::Cancelled => 3,
        })
        .unwrap_or(ReportStatus::NotStated)
}

impl Reports {
    /// Takes a report in.
    pub(super) fn add(&mut self, report: Report) {
        self.reports.push(report);
    }

    /// Susceptibilities are no set and no isolate of their own; they are held against their culture at the end.
    pub(super) fn susceptibilities(&mut self, found: Susceptibilities) {
        self.susceptibilities.push(found);
    }

    /// Hands every set to the gatherer, in the order in which they were first met. What the reports of one order say is
    /// laid over one another from the earliest to the latest; the orders of one set follow one another by their numbers.
    pub(super) fn finish(
        mut self,
        mapping: &Mapping,
        gatherer: &mut Gatherer,
        account: &mut Account,
    ) -> Orders {
        let orders = self.find_sets();
        let susceptibilities = std::mem::take(&mut self.susceptibilities);
        let sets = self.put_together(account);
        hold_susceptibilities_against_cultures(&susceptibilities, &sets, account);
        for orders in sets {
            let named = orders.iter().any(|kept| !kept.organisms(mapping).0.is_empty());
            for kept in orders {
                kept.hand_over(mapping, named, gatherer, account);
            }
        }
        orders
    }

    /// Gives every report that names no specimen the set of the order it hangs under, where that is known.
    fn find_sets(&mut self) -> Orders {
        const MOST_LEVELS: usize = 16;
        let mut own: HashMap<&str, &str> = HashMap::new();
        let mut above: HashMap<&str, &str> = HashMap::new();
        for report in self.reports.iter().filter(|report| !report.filler.is_empty()) {
            match &report.under {
                // Of several the least, whichever came first.
                None => own
                    .entry(&report.filler)
                    .and_modify(|known| *known = (*known).min(&report.set))
                    .or_insert(&report.set),
                Some(under) => above
                    .entry(&report.filler)
                    .and_modify(|known| *known = (*known).min(under.as_str()))
                    .or_insert(under),
            };
        }
        let set_above = |under: &str| {
            let mut at = under;
            for _ in 0..MOST_LEVELS {
                match own.get(at) {
                    Some(set) => return Some((*set).to_owned()),
                    None => at = above.get(at)?,
                }
            }
            None
        };
        let found: Vec<Option<String>> =
            self.reports.iter().map(|report| report.under.as_deref().and_then(set_above)).collect();
        let mut orders = Orders::default();
        for (report, found) in self.reports.iter_mut().zip(found) {
            let number = std::mem::take(&mut report.set);
            report.set = found.unwrap_or_else(|| number.clone());
            if number != report.set {
                orders.parts.push((number, report.set.clone()));
            }
            let mut leads = |number: &String, is_above: bool| {
                if !number.is_empty() {
                    let set = SetId(report.set.clone());
                    orders.of_sets.push(OrderNumber { set, number: number.clone(), is_above });
                }
            };
            if report.filler != report.set {
                leads(&report.filler, false);
            }
            if let Some(under) = &report.under {
                leads(under, true);
            }
        }
        orders.of_sets.sort_unstable();
        orders.of_sets.dedup();
        orders.parts.sort_unstable();
        orders.parts.dedup();
        orders
    }

    /// Each set with its orders.
    fn put_together(self, account: &mut Account) -> Vec<Vec<Kept>> {
        let mut places: HashMap<(String, String, PatientKey), (usize, usize)> = HashMap::new();
        let mut set_places: HashMap<String, usize> = HashMap::new();
        let mut sets: Vec<Vec<Vec<Report>>> = Vec::new();
        for report in self.reports {
            let key = (report.set.clone(), report.order.clone(), report.patient.clone());
            if let Some(&(set, order)) = places.get(&key) {
                account.drop_row(
                    report.place.file,
                    "a repeated or corrected report on an order that is counted once",
                );
                sets[set][order].push(report);
                continue;
            }
            let set = *set_places.entry(report.set.clone()).or_insert_with(|| {
                sets.push(Vec::new());
                sets.len() - 1
            });
            places.insert(key, (set, sets[set].len()));
            sets[set].push(vec![report]);
        }
        let mut together = Vec::with_capacity(sets.len());
        for orders in sets {
            let mut orders: Vec<Kept> = orders.into_iter().filter_map(Kept::of).collect();
            orders.sort_by(|one, other| {
                let key = |kept: &Kept| (kept.latest.order.clone(), kept.latest.patient.0.clone());
                key(one).cmp(&key(other))
            });
            together.push(orders);
        }
        together
    }
}

fn hold_susceptibilities_against_cultures(
    susceptibilities: &[Susceptibilities],
    sets: &[Vec<Kept>],
    account: &mut Account,
) {
    let mut isolates: HashMap<&str, HashSet<&str>> = HashMap::new();
    for kept in sets.iter().flatten().filter(|kept| !kept.latest.filler.is_empty()) {
        let named = kept.results.iter().filter(|(_, known)| matches!(known.says, Says::Words(_)));
        let sub_ids = named.map(|(key, _)| key.sub_id.as_str());
        isolates.entry(&kept.latest.filler).or_default().extend(sub_ids);
    }
    for found in susceptibilities {
        let Some(sub_ids) = isolates.get(found.parent.as_str()) else {
            account.drop_row(found.place.file, "not a blood culture");
            continue;
        };
        account.drop_row(found.place.file, "susceptibilities of an isolate that is counted with its culture");
        if !found.sub_id.is_empty() && !sub_ids.contains(found.sub_id.as_str()) {
            account.note(
                found.place,
                "susceptibilities belong to an isolate (OBR-26) that the culture does not report; an organism may be missing",
            );
        }
    }
}

impl Kept {
    /// All reports of one order of one patient, which are laid over one another by their times. Where one of them does
    /// not say when it was made, the one that came later counts as later.
    fn of(mut reports: Vec<Report>) -> Option<Self> {
        let place = reports.first()?.place;
        if reports.iter().all(|report| report.stamp.is_some()) {
            reports.sort_by(earlier_first);
        }
        let mut reports = reports.into_iter();
        let mut first = reports.next()?;
        first.place = place;
        let results = std::mem::take(&mut first.results);
        let mut kept = Self { latest: first.clone(), results: BTreeMap::new() };
        kept.update(first, results);
        for mut report in reports {
            let results = std::mem::take(&mut report.results);
            kept.update(report, results);
        }
        Some(kept)
    }

    fn hand_over(self, mapping: &Mapping, named: bool, gatherer: &mut Gatherer, account: &mut Account) {
        let (mut organisms, grew) = self.organisms(mapping);
        if grew && !named {
            organisms.push("growth reported, no organism named".to_owned());
        }
        let report = self.latest;
        if let Some(fault) = gatherer.future(report.collected) {
            account.unread_row(report.place, fault);
            return;
        }
        let fact = Fact {
            positive_after_s: report.positive_after_s,
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
            report.positive_after_s = report.positive_after_s.or(before.positive_after_s);
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
