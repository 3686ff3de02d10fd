//! Rows that belong together become sets, whatever the rows of the file were: sets, bottles, isolates or
//! susceptibilities.

use std::collections::HashMap;

use culture::{
    Bottle, BottleKind, Collected, CultureSet, Isolate, PatientKey, ReportStatus, Route, SetId, Specimen,
    merge_split_sets,
};
use jiff::civil::{Date, DateTime};

use super::Source;
use super::account::{Account, Fault, Place};
use super::mapping::{DateKind, Mapping, RowsAre, SplitSets};
use super::rows::Aids;

/// What one row, or one report in a message, says about a set.
#[derive(Debug, Clone)]
pub(super) struct Fact {
    pub place: Place,
    /// Rows with the same key are one set.
    pub key: String,
    /// What the set is called: the specimen number, or the key made for it.
    pub id: String,
    /// The key is a specimen number, which belongs to one patient.
    pub numbered: bool,
    pub patient: PatientKey,
    pub collected: Collected,
    pub received: Option<DateTime>,
    pub reported: Option<DateTime>,
    pub unit: Option<String>,
    pub collector: Option<String>,
    pub route: Option<Route>,
    pub specimen: Specimen,
    pub age_years: Option<f64>,
    pub status: ReportStatus,
    pub bottles: Vec<BottleFact>,
    pub organisms: Vec<String>,
    /// Seconds to the first positive bottle.
    pub positive_after_s: Option<u32>,
}

/// One bottle a row speaks of; rows with the same label and fill speak of the same bottle.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct BottleFact {
    pub label: String,
    pub kind: BottleKind,
    pub fill_ml: Option<f64>,
}

struct Draft {
    set: CultureSet,
    labels: Vec<String>,
    reported: Option<DateTime>,
    lines: Vec<Place>,
    numbered: bool,
    /// A row gave the same specimen number to another patient.
    two_patients: bool,
    /// Every row so far says cancelled.
    all_cancelled: bool,
}

pub(super) struct Gatherer {
    drafts: Vec<Draft>,
    by_key: HashMap<String, usize>,
    last_day: Option<Date>,
}

impl Gatherer {
    pub(super) fn new(mapping: &Mapping, today: Date) -> Self {
        let last_day = (mapping.dates == DateKind::AsRecorded).then_some(today);
        Self { drafts: Vec::new(), by_key: HashMap::new(), last_day }
    }

    /// The fault of a collection time after today.
    pub(super) fn future(&self, collected: Collected) -> Option<Fault> {
        let last_day = self.last_day?;
        let day = collected.date();
        (day > last_day).then(|| {
            Fault::new(
                format!("the collection day {day}, which is after {last_day}"),
                "a day that is not in the future",
                "correct the time in the laboratory's file, or, if dates were shifted to protect patients, write dates = \"shifted\" in the mapping",
            )
        })
    }

    /// Takes in what a row says.
    pub(super) fn add(&mut self, fact: Fact, account: &mut Account) {
        let Some(&place) = self.by_key.get(&fact.key) else {
            self.by_key.insert(fact.key.clone(), self.drafts.len());
            self.drafts.push(Draft::new(fact));
            return;
        };
        let draft = &mut self.drafts[place];
        match fact.reported.cmp(&draft.reported) {
            std::cmp::Ordering::Less if fact.reported.is_some() => {
                account.drop_row(fact.place.file, SUPERSEDED);
                return;
            }
            std::cmp::Ordering::Greater if draft.reported.is_some() && draft.set.patient == fact.patient => {
                for line in &draft.lines {
                    account.drop_row(line.file, SUPERSEDED);
                }
                *draft = Draft::new(fact);
                return;
            }
            _ => {}
        }
        draft.add(fact, account);
    }

    /// Closes the books: sets that are sound, in the order of their first row.
    pub(super) fn finish(self, mapping: &Mapping, aids: &Aids, account: &mut Account) -> Gathered {
        let mut sets = Vec::with_capacity(self.drafts.len());
        let mut first_rows = HashMap::with_capacity(self.drafts.len());
        for draft in self.drafts {
            if draft.two_patients {
                draft.refuse(account);
                continue;
            }
            if mapping.rows == Some(RowsAre::Set)
                && let Some(second) = draft.lines.get(1)
            {
                account.note(
                    *second,
                    "the mapping says rows = \"set\", and sets have further rows: they were taken together; correct the mapping if a row is something else",
                );
            }
            let mut set = draft.set;
            if draft.all_cancelled {
                set.status = ReportStatus::Cancelled;
            }
            if set.unit.is_none() {
                set.unit = aids.stays.unit_at(&set.patient, set.collected).map(str::to_owned);
            }
            if let Some(first) = draft.lines.iter().min() {
                first_rows.insert(set.id.clone(), *first);
            }
            sets.push(set);
        }
        let mut halves = Vec::new();
        if mapping.split_sets == SplitSets::Join {
            halves = merge_split_sets(&mut sets);
            if !halves.is_empty() {
                account.note_file(joined_note(halves.len()));
            }
        }
        let sources = sets
            .iter()
            .map(|set| {
                let first = first_rows.get(&set.id);
                first.map_or(Source { file: 0, line: None }, |first| Source {
                    file: usize::from(first.file),
                    line: first.line(),
                })
            })
            .collect();
        Gathered { sets, sources, halves }
    }
}

/// The sets that came out, where each was first met, and the halves of those that were joined.
pub(super) struct Gathered {
    pub sets: Vec<CultureSet>,
    pub sources: Vec<Source>,
    pub halves: Vec<[CultureSet; 2]>,
}

pub(super) const OTHER_TIME: &str = "the collection time differs from that of an earlier row of the same set; the earlier row's time was kept";
const SUPERSEDED: &str = "replaced by a later report on the same set";

impl Draft {
    fn new(fact: Fact) -> Self {
        let cancelled = fact.status == ReportStatus::Cancelled;
        let mut draft = Self {
            set: CultureSet {
                id: SetId(fact.id),
                patient: fact.patient,
                collected: fact.collected,
                received: fact.received,
                unit: fact.unit,
                collector: fact.collector,
                route: fact.route,
                specimen: fact.specimen,
                age_years: fact.age_years,
                status: fact.status,
                bottles: Vec::new(),
                isolates: Vec::new(),
                positive_after_s: fact.positive_after_s,
            },
            labels: Vec::new(),
            reported: fact.reported,
            lines: vec![fact.place],
            numbered: fact.numbered,
            two_patients: false,
            all_cancelled: cancelled,
        };
        draft.add_growth(fact.bottles, fact.organisms);
        draft
    }

    fn add(&mut self, fact: Fact, account: &mut Account) {
        self.lines.push(fact.place);
        if fact.patient != self.set.patient {
            self.two_patients = true;
            return;
        }
        let set = &mut self.set;
        if fact.collected != set.collected {
            account.note(fact.place, OTHER_TIME);
        }
        set.received = match (set.received, fact.received) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
        // The earliest bottle counts.
        set.positive_after_s = match (set.positive_after_s, fact.positive_after_s) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
        set.unit = set.unit.take().or(fact.unit);
        set.collector = set.collector.take().or(fact.collector);
        set.route = set.route.or(fact.route);
        set.age_years = set.age_years.or(fact.age_years);
        if fact.status != ReportStatus::Cancelled {
            set.status = if self.all_cancelled { fact.status } else { slower(set.status, fact.status) };
            self.all_cancelled = false;
        }
        self.add_growth(fact.bottles, fact.organisms);
    }

    fn add_growth(&mut self, bottles: Vec<BottleFact>, organisms: Vec<String>) {
        for bottle in bottles {
            // A row without a fill and one with it speak of the same bottle, whichever comes first.
            let known = self.labels.iter().zip(&mut self.set.bottles).find(|(label, there)| {
                **label == bottle.label
                    && there.kind == bottle.kind
                    && (there.fill_ml == bottle.fill_ml
                        || bottle.fill_ml.is_none()
                        || there.fill_ml.is_none())
            });
            match known {
                Some((_, there)) => there.fill_ml = there.fill_ml.or(bottle.fill_ml),
                None => {
                    self.labels.push(bottle.label);
                    self.set.bottles.push(Bottle { kind: bottle.kind, fill_ml: bottle.fill_ml });
                }
            }
        }
        for reported_name in organisms {
            let isolate = Isolate { reported_name };
            if !self.set.isolates.contains(&isolate) {
                self.set.isolates.push(isolate);
            }
        }
    }

    /// One specimen number for two patients: nobody can tell whose set it is, so no row of it is used.
    fn refuse(&self, account: &mut Account) {
        let fault =
            two_patients_fault(&self.set.id.0, self.numbered, self.lines.iter().map(|place| place.line));
        for place in &self.lines {
            account.unread_row(*place, fault.clone());
        }
    }
}

/// The fault of a specimen number, or of a set made by other columns, that two patients have.
pub(super) fn two_patients_fault(
    id: &str,
    numbered: bool,
    lines: impl ExactSizeIterator<Item = u32>,
) -> Fault {
    const MOST_NAMED: usize = 8;
    let more = lines.len() > MOST_NAMED;
    let mut named: Vec<String> = lines.take(MOST_NAMED).map(|line| line.to_string()).collect();
    if more {
        named.push("more".to_owned());
    }
    let what = if numbered { "specimen number" } else { "set" };
    Fault::new(
        format!("{what} {id:?} on lines {} for two different patients", named.join(" and ")),
        "one patient for each specimen number",
        "ask the laboratory which patient the specimen belongs to; until then no row of it is counted",
    )
}

/// Said where halves of sets were joined.
pub(super) fn joined_note(n_joined: usize) -> String {
    format!(
        "{n_joined} sets stood under two specimen numbers (one aerobic and one anaerobic bottle of one patient at the same minute) and were joined"
    )
}

/// A set is as far as its slowest row: a bottle that is still incubated keeps the set open.
pub(super) fn slower(one: ReportStatus, other: ReportStatus) -> ReportStatus {
    let rank = |status| match status {
        ReportStatus::Preliminary => 0,
        ReportStatus::NotStated => 1,
        ReportStatus::Corrected => 2,
        ReportStatus::Final => 3,
        ReportStatus::Cancelled => 4,
    };
    if rank(other) < rank(one) { other } else { one }
}
