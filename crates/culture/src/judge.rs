//! The verdict on every set.

use std::collections::HashMap;

use jiff::civil::Date;

use crate::commensal::{CommensalList, Listing};
use crate::organism::{Agreement, Identity, Matching, Nomenclature};
use crate::rules::{DifferentCommensalsPolicy, MixedGrowthPolicy, RuleSet, SingleSetPolicy, Window};
use crate::set::{BottleKind, Collected, CultureSet, ReportStatus, Route};
use crate::verdict::{Clause, Flag, Flags, Verdict};
use crate::window::{self, Timing};

/// The verdict on one set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Judged {
    /// The clause of the rule that fired; it gives the verdict.
    pub clause: Clause,
    /// How many sets of the patient lie in the window, this one included; 0 where the window was not looked at.
    pub n_in_window: u32,
    /// The other set that settled the verdict, by its place in the list that was judged.
    pub decided_by: Option<usize>,
    /// What a reader should know besides.
    pub flags: Flags,
}

impl Judged {
    /// What the set is called.
    pub fn verdict(&self) -> Verdict {
        self.clause.verdict()
    }
}

/// From this age on a rule is one for adults, and a paediatric bottle is worth a remark. Common practice, no source.
const ADULT_FROM_YEARS: f64 = 16.0;

/// Gives each set its verdict, in the order given, by the rule's commensal list and the names that come with this room.
///
/// `as_of` is the day of the report: sets taken later are excluded, and a set without a final report counts as closed
/// from [`RuleSet::days_to_close`] days on. `None` takes every set as closed, for files whose dates were shifted.
/// Sorting is the costliest part: n log n in the number of sets. The same sets give the same verdicts in any order.
pub fn judge(sets: &[CultureSet], rules: &RuleSet, as_of: Option<Date>) -> Vec<Judged> {
    Judge { sets, rules, as_of, names: Nomenclature::built_in(), list: rules.list.list() }.all()
}

struct Judge<'a> {
    sets: &'a [CultureSet],
    rules: &'a RuleSet,
    as_of: Option<Date>,
    names: &'a Nomenclature,
    list: &'a CommensalList,
}

/// What a reported name turned out to be.
struct Organism {
    identity: Identity,
    kind: Kind,
    doubtful: bool,
    misspelt: bool,
    often_a_pathogen: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Commensal,
    Recognised,
    ForAPerson,
}

/// The organisms of every set, as places in a table of distinct names.
struct Organisms {
    table: Vec<Organism>,
    ids: Vec<u32>,
    starts: Vec<usize>,
}

impl Organisms {
    fn of(&self, set: usize) -> &[u32] {
        &self.ids[self.starts[set]..self.starts[set + 1]]
    }

    fn get(&self, id: u32) -> &Organism {
        &self.table[id as usize]
    }
}

/// How two organisms of the table stand to each other.
#[derive(Debug, Clone, Copy)]
struct Relation {
    agreement: Option<Agreement>,
    may_be_same: bool,
}

impl Judge<'_> {
    fn all(&self) -> Vec<Judged> {
        let organisms = self.organisms();
        let mut judged: Vec<Judged> = Vec::with_capacity(self.sets.len());
        let mut in_series: Vec<usize> = Vec::with_capacity(self.sets.len());
        for (place, set) in self.sets.iter().enumerate() {
            let (clause, flags, has_part) = self.alone(set, organisms.of(place), &organisms);
            judged.push(Judged { clause, n_in_window: 0, decided_by: None, flags });
            if has_part {
                in_series.push(place);
            }
        }
        let timings: Vec<Timing> = self.sets.iter().map(Timing::of).collect();
        in_series.sort_unstable_by(|&a, &b| {
            let (one, other) = (&self.sets[a], &self.sets[b]);
            (&one.patient, timings[a].latest, timings[a].earliest, &one.id, a).cmp(&(
                &other.patient,
                timings[b].latest,
                timings[b].earliest,
                &other.id,
                b,
            ))
        });
        let mut relations = HashMap::new();
        for patient in in_series.chunk_by(|&a, &b| self.sets[a].patient == self.sets[b].patient) {
            self.one_patient(patient, &timings, &organisms, &mut relations, &mut judged);
        }
        judged
    }

    /// Looks every distinct name up once.
    fn organisms(&self) -> Organisms {
        let mut by_name: HashMap<&str, u32> = HashMap::new();
        let mut organisms =
            Organisms { table: Vec::new(), ids: Vec::new(), starts: Vec::with_capacity(self.sets.len() + 1) };
        for set in self.sets {
            organisms.starts.push(organisms.ids.len());
            for isolate in &set.isolates {
                let id = *by_name.entry(&isolate.reported_name).or_insert_with(|| {
                    organisms.table.push(self.organism(&isolate.reported_name));
                    u32::try_from(organisms.table.len() - 1).unwrap_or(u32::MAX)
                });
                organisms.ids.push(id);
            }
        }
        organisms.starts.push(organisms.ids.len());
        organisms
    }

    fn organism(&self, reported: &str) -> Organism {
        let identified = self.names.identify(reported);
        let own = |named: &[Identity]| {
            named
                .iter()
                .any(|name| self.names.agreement(name, &identified.identity, Matching::Species).is_some())
        };
        let (kind, often_a_pathogen) = match self.list.listing(&identified.identity) {
            _ if own(&self.rules.never_commensal) => (Kind::Recognised, false),
            _ if own(&self.rules.also_commensal) => (Kind::Commensal, false),
            Listing::Commensal { warning, .. } => (Kind::Commensal, warning.is_some()),
            Listing::NotCommensal => (Kind::Recognised, false),
            Listing::AskAPerson { .. } => (Kind::ForAPerson, false),
        };
        Organism {
            kind,
            doubtful: identified.doubtful,
            misspelt: identified.misspelt,
            often_a_pathogen,
            identity: identified.identity,
        }
    }

    /// What the set says by itself; the clause for a lone commensal is provisional until its window is looked at.
    /// The last value says whether the set takes part in its patient's series.
    fn alone(&self, set: &CultureSet, ids: &[u32], organisms: &Organisms) -> (Clause, Flags, bool) {
        let mut flags = Flags::default();
        flags.insert_if(window::collected_after_received(set), Flag::CollectedAfterReceived);
        flags.insert_if(matches!(set.collected, Collected::On(_)), Flag::DayOnly);
        if set.status == ReportStatus::Cancelled {
            return (Clause::Cancelled, flags, false);
        }
        if self.as_of.is_some_and(|as_of| window::counted_on(set) > as_of) {
            return (Clause::AfterAsOf, flags, false);
        }
        if self.rules.excluded_specimens.contains(&set.specimen) {
            return (Clause::ExcludedSpecimen, flags, false);
        }
        let (from, below) = (self.rules.from_years, self.rules.below_years);
        if from.is_some() || below.is_some() {
            let paediatric = |bottle: &crate::Bottle| bottle.kind == BottleKind::Paediatric;
            let for_adults = from.is_some_and(|from| from >= ADULT_FROM_YEARS);
            flags.insert_if(for_adults && set.bottles.iter().any(paediatric), Flag::PaediatricBottle);
            match set.age_years {
                Some(age)
                    if from.is_some_and(|from| age < from) || below.is_some_and(|below| age >= below) =>
                {
                    return (Clause::OutsideAge, flags, false);
                }
                Some(_) => {}
                None if below.is_some() => return (Clause::AgeNotKnown, flags, false),
                None if !set.bottles.is_empty() && set.bottles.iter().all(paediatric) => {
                    return (Clause::PaediatricBottleWithoutAge, flags, false);
                }
                None => flags.insert(Flag::AgeUnknown),
            }
        }
        let has = |kind| ids.iter().any(|&id| organisms.get(id).kind == kind);
        flags.insert_if(ids.iter().any(|&id| organisms.get(id).doubtful), Flag::DoubtfulName);
        flags.insert_if(ids.iter().any(|&id| organisms.get(id).misspelt), Flag::MisspeltName);
        flags.insert_if(ids.iter().any(|&id| organisms.get(id).often_a_pathogen), Flag::OftenAPathogen);
        let mixed = has(Kind::Recognised) && has(Kind::Commensal);
        flags.insert_if(mixed, Flag::MixedGrowth);
        if self.is_open(set) {
            return (Clause::NotClosed, flags, true);
        }
        let still_preliminary = set.status == ReportStatus::Preliminary;
        flags.insert_if(still_preliminary && self.as_of.is_some(), Flag::ClosedByAge);
        let clause = if ids.is_empty() {
            Clause::NoGrowth
        } else if mixed {
            match self.rules.mixed_growth {
                MixedGrowthPolicy::TruePositive => Clause::MixedGrowth,
                MixedGrowthPolicy::Undetermined => Clause::MixedGrowthForAPerson,
            }
        } else if has(Kind::Recognised) {
            Clause::RecognisedOrganism
        } else if has(Kind::ForAPerson) {
            Clause::OrganismForAPerson
        } else {
            Clause::CommensalSingleSet
        };
        (clause, flags, true)
    }

    fn is_open(&self, set: &CultureSet) -> bool {
        let unfinished = matches!(set.status, ReportStatus::Preliminary | ReportStatus::NotStated);
        let young = self.as_of.is_some_and(|as_of| {
            window::days(as_of) - window::days(window::counted_on(set)) < self.rules.days_to_close
        });
        unfinished && young
    }

    /// Settles the lone commensals of one patient, whose sets come sorted by time.
    fn one_patient(
        &self,
        sets: &[usize],
        timings: &[Timing],
        organisms: &Organisms,
        relations: &mut HashMap<(u32, u32), Relation>,
        judged: &mut [Judged],
    ) {
        let own: Vec<Timing> = sets.iter().map(|&set| timings[set]).collect();
        let ranges = window::windows(&own, self.rules.window);
        for (&set, &(low, high)) in sets.iter().zip(&ranges) {
            judged[set].n_in_window = u32::try_from(high - low).unwrap_or(u32::MAX);
        }
        if sets.iter().all(|&set| judged[set].clause != Clause::CommensalSingleSet) {
            return;
        }
        let series = Series::new(self, sets, organisms, judged);
        for (place, &set) in sets.iter().enumerate() {
            if judged[set].clause != Clause::CommensalSingleSet {
                continue;
            }
            let (low, high) = ranges[place];
            let settled = series.settle(place, low, high, organisms, relations, &own[place]);
            judged[set].clause = settled.clause;
            judged[set].decided_by = settled.decided_by.map(|place| sets[place]);
            judged[set].flags.insert_if(settled.at_genus, Flag::MatchedAtGenus);
            judged[set].flags.insert_if(settled.line_and_vein, Flag::LineAndVeinDisagree);
        }
    }
}

/// One patient's sets in order of time, with what is needed to answer a window without walking it.
struct Series<'a> {
    judge: &'a Judge<'a>,
    sets: &'a [usize],
    /// (organism, open, place), sorted.
    growth: Vec<(u32, bool, usize)>,
    /// Where each (organism, open) begins and ends in `growth`.
    runs: Vec<(usize, usize)>,
    /// How many sets before each place are open, from a vein, from a line.
    open: Vec<u32>,
    vein: Vec<u32>,
    line: Vec<u32>,
}

struct Settled {
    clause: Clause,
    decided_by: Option<usize>,
    at_genus: bool,
    line_and_vein: bool,
}

impl<'a> Series<'a> {
    fn new(judge: &'a Judge<'a>, sets: &'a [usize], organisms: &Organisms, judged: &[Judged]) -> Self {
        let is_open = |set: usize| judged[set].clause == Clause::NotClosed;
        let mut growth: Vec<(u32, bool, usize)> = sets
            .iter()
            .enumerate()
            .flat_map(|(place, &set)| organisms.of(set).iter().map(move |&id| (id, is_open(set), place)))
            .collect();
        growth.sort_unstable();
        let mut end = 0;
        let runs = growth
            .chunk_by(|a, b| (a.0, a.1) == (b.0, b.1))
            .map(|run| {
                end += run.len();
                (end - run.len(), end)
            })
            .collect();
        let route = |set: usize| judge.sets[set].route;
        let counted = |is: &dyn Fn(usize) -> bool| -> Vec<u32> {
            std::iter::once(0)
                .chain(sets.iter().scan(0, |sum, &set| {
                    *sum += u32::from(is(set));
                    Some(*sum)
                }))
                .collect()
        };
        Self {
            judge,
            sets,
            growth,
            runs,
            open: counted(&is_open),
            vein: counted(&|set| route(set) == Some(Route::Vein)),
            line: counted(&|set| matches!(route(set), Some(Route::CentralLine | Route::ArterialLine))),
        }
    }

    fn settle(
        &self,
        place: usize,
        low: usize,
        high: usize,
        organisms: &Organisms,
        relations: &mut HashMap<(u32, u32), Relation>,
        timing: &Timing,
    ) -> Settled {
        let rules = self.judge.rules;
        let own = organisms.of(self.sets[place]);
        let (mut matched, mut matched_open) = (None, None);
        let (mut may_be_same, mut different) = (None, None);
        for &(start, end) in &self.runs {
            let run = &self.growth[start..end];
            let (other_id, open, _) = run[0];
            let Some(other) = other_in_window(run, place, low, high) else { continue };
            let organism = organisms.get(other_id);
            for &id in own {
                let relation = *relations.entry((id, other_id)).or_insert_with(|| {
                    let one = &organisms.get(id).identity;
                    Relation {
                        agreement: self.judge.names.agreement(one, &organism.identity, rules.matching),
                        may_be_same: self.judge.names.may_be_same(one, &organism.identity),
                    }
                });
                match (organism.kind, relation.agreement) {
                    (Kind::Commensal, Some(agreement)) => {
                        let found = if open { &mut matched_open } else { &mut matched };
                        // The same name says more than a name that only covers the other.
                        if found.is_none() || agreement == Agreement::SameName {
                            *found = Some((other, agreement));
                        }
                    }
                    (Kind::Commensal, None) => different = different.or(Some(other)),
                    (Kind::ForAPerson, _) if relation.may_be_same => {
                        may_be_same = may_be_same.or(Some(other))
                    }
                    _ => {}
                }
            }
        }
        let n_open = self.open[high] - self.open[low];
        let n_in_window = u32::try_from(high - low).unwrap_or(u32::MAX);
        let (clause, decided_by) = if let Some((other, _)) = matched {
            (Clause::CommensalMatched, Some(other))
        } else if matched_open.is_some() || n_open > 0 {
            (Clause::OtherSetNotClosed, matched_open.map(|(other, _)| other))
        } else if may_be_same.is_some() {
            (Clause::OtherSetNotIdentified, may_be_same)
        } else if n_in_window < rules.minimum_sets {
            (self.single(timing), None)
        } else if different.is_some() && rules.different_commensals == DifferentCommensalsPolicy::Undetermined
        {
            (Clause::DifferentCommensals, different)
        } else {
            (Clause::CommensalInOneSet, Some(if low == place { place + 1 } else { low }))
        };
        let at_genus = matched.is_some_and(|(_, agreement)| agreement == Agreement::Covered);
        let other_route = match self.judge.sets[self.sets[place]].route {
            Some(Route::Vein) => self.line[high] - self.line[low],
            Some(Route::CentralLine | Route::ArterialLine) => self.vein[high] - self.vein[low],
            _ => 0,
        };
        let line_and_vein = clause == Clause::CommensalInOneSet && other_route > 0;
        Settled { clause, decided_by, at_genus, line_and_vein }
    }

    fn single(&self, timing: &Timing) -> Clause {
        let days_of_window = match self.judge.rules.window {
            Window::AnchoredHours(hours) | Window::RollingHours(hours) => hours.div_ceil(24),
            Window::CalendarDays(days) => days,
        };
        let last_day = i64::from(timing.day) + i64::from(days_of_window);
        if self.judge.as_of.is_some_and(|as_of| i64::from(window::days(as_of)) <= last_day) {
            return Clause::WindowNotOver;
        }
        match self.judge.rules.single_set {
            SingleSetPolicy::Undetermined => Clause::CommensalSingleSet,
            SingleSetPolicy::Contaminated => Clause::SingleSetCounted,
        }
    }
}

/// The first place in the window, other than the set's own, where this organism grew.
fn other_in_window(run: &[(u32, bool, usize)], own: usize, low: usize, high: usize) -> Option<usize> {
    let first = run.partition_point(|&(_, _, place)| place < low);
    run[first..]
        .iter()
        .map(|&(_, _, place)| place)
        .take_while(|&place| place < high)
        .find(|&place| place != own)
}
