//! The verdict on every set.

use std::collections::HashMap;
use std::num::NonZeroU32;

use jiff::civil::Date;

use crate::commensal::{CommensalList, Listing};
use crate::organism::{Agreement, Identity, Matching, Nomenclature};
use crate::rules::{DifferentCommensalsPolicy, MixedGrowthPolicy, RuleSet, SingleSetPolicy, Window};
use crate::set::{Bottle, BottleKind, CultureSet, ReportStatus, Route};
use crate::single::OCCASION;
use crate::table::{PatientOrder, SetTable};
use crate::verdict::{Clause, Flag, Flags, Verdict};
use crate::window::{self, Timing, Windows};

/// The verdict on one set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Judged {
    /// The clause of the rule that fired; it gives the verdict.
    pub clause: Clause,
    /// How many sets of the patient lie in the window, this one included; 0 where the window was not looked at.
    pub n_in_window: u32,
    decided_by: Option<NonZeroU32>,
    /// What a reader should know besides.
    pub flags: Flags,
}

impl Judged {
    /// What the set is called.
    pub fn verdict(&self) -> Verdict {
        self.clause.verdict()
    }

    /// The other set that settled the verdict, by its place in the list that was judged.
    pub fn decided_by(&self) -> Option<usize> {
        self.decided_by.map(|place| place.get() as usize - 1)
    }
}

/// From this age on a rule is one for adults, and a paediatric bottle is worth a remark. Common practice, no source.
const ADULT_FROM_YEARS: f64 = 16.0;

/// Gives each set its verdict, in the order given, by the rule's commensal list and the names that come with this room.
///
/// `as_of` is the day of the report: sets taken later are excluded, and a set without a final report counts as closed
/// from [`RuleSet::days_to_close`] days on. `None` takes every set as closed, for files whose dates were shifted.
/// The same sets give the same verdicts in any order. A list of sets is first brought into a [`SetTable`].
pub fn judge(sets: &[CultureSet], rules: &RuleSet, as_of: Option<Date>) -> Vec<Judged> {
    let table = SetTable::of(sets);
    judge_table(&table, &PatientOrder::of(&table, 1), rules, as_of)
}

/// The same of a table of sets, whose order by patient is worked out once for all that need it.
///
/// The time grows in step with the number of sets, except for the sorting of each patient's own few sets.
pub fn judge_table(
    sets: &SetTable,
    order: &PatientOrder,
    rules: &RuleSet,
    as_of: Option<Date>,
) -> Vec<Judged> {
    let judge = Judge::new(sets, rules, as_of);
    let mut room = Room::default();
    let not_yet =
        Judged { clause: Clause::Cancelled, n_in_window: 0, decided_by: None, flags: Flags::default() };
    // Every set is one patient's.
    let mut judged = vec![not_yet; sets.len()];
    for patient in order.patients() {
        for (set, verdict) in patient.iter().zip(judge.patient(patient, &mut room)) {
            judged[*set as usize] = *verdict;
        }
    }
    judged
}

/// Judges the sets of a table patient by patient, in any order and on several threads.
pub(crate) struct Judge<'a> {
    sets: &'a SetTable,
    rules: &'a RuleSet,
    /// In days since 1970-01-01.
    as_of: Option<i32>,
    names: &'a Nomenclature,
    list: &'a CommensalList,
    organisms: Organisms,
    /// Some set of the table has a paediatric bottle.
    paediatric: bool,
}

/// Room for the sets of one patient after the other.
#[derive(Default)]
pub(crate) struct Room {
    judged: Vec<Judged>,
    /// Which of the patient's sets take part in the series, and which sets of the table they are.
    part: Vec<usize>,
    in_series: Vec<u32>,
    windows: Windows,
    relations: HashMap<(u32, u32), Relation>,
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

/// What the names of the table of sets turned out to be, each looked up once.
struct Organisms(Vec<Organism>);

impl Organisms {
    fn get(&self, id: u32) -> &Organism {
        &self.0[id as usize]
    }
}

/// How two organisms of the table stand to each other.
#[derive(Debug, Clone, Copy)]
struct Relation {
    agreement: Option<Agreement>,
    may_be_same: bool,
}

impl<'a> Judge<'a> {
    pub(crate) fn new(sets: &'a SetTable, rules: &'a RuleSet, as_of: Option<Date>) -> Self {
        let mut judge = Self {
            sets,
            rules,
            as_of: as_of.map(window::days),
            names: Nomenclature::built_in(),
            list: rules.list.list(),
            organisms: Organisms(Vec::new()),
            paediatric: sets.columns().bottle_list.iter().any(is_paediatric),
        };
        let names = &sets.columns().organism_names;
        judge.organisms = Organisms(names.iter().map(|name| judge.organism(name)).collect());
        judge
    }

    /// The verdicts on all sets of one patient, which come sorted by time.
    pub(crate) fn patient<'r>(&self, sets: &[u32], room: &'r mut Room) -> &'r [Judged] {
        room.judged.clear();
        room.part.clear();
        room.in_series.clear();
        for (place, &set) in sets.iter().enumerate() {
            let (clause, flags) = self.alone(set as usize);
            room.judged.push(Judged { clause, n_in_window: 0, decided_by: None, flags });
            if has_part(clause) {
                room.part.push(place);
                room.in_series.push(set);
            }
        }
        self.series(room);
        &room.judged
    }

    /// Where the sets of the patient judged last that are in its series make the given sets, and the windows of the rule
    /// are occasions, these.
    pub(crate) fn occasions<'r>(&self, sets: &[u32], room: &'r Room) -> Option<&'r [(usize, usize)]> {
        let same = self.rules.window == OCCASION && room.in_series == sets;
        same.then(|| room.windows.ranges())
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
    fn alone(&self, place: usize) -> (Clause, Flags) {
        let columns = self.sets.columns();
        let organisms = &self.organisms;
        let (collected, received) = (columns.collected.get(place), columns.received.get(place));
        let set = columns.marks[place];
        let ids = self.sets.organism_codes(place);
        let mut flags = Flags::default();
        flags.insert_if(window::collected_after(collected, received), Flag::CollectedAfterReceived);
        flags.insert_if(collected.is_day_only(), Flag::DayOnly);
        if set.status == ReportStatus::Cancelled {
            return (Clause::Cancelled, flags);
        }
        let counted_on = window::counted_day(collected, received);
        if self.as_of.is_some_and(|as_of| counted_on > as_of) {
            return (Clause::AfterAsOf, flags);
        }
        if self.rules.excluded_specimens.contains(&set.specimen) {
            return (Clause::ExcludedSpecimen, flags);
        }
        let (from, below) = (self.rules.from_years, self.rules.below_years);
        if from.is_some() || below.is_some() {
            let paediatric = self.paediatric && self.sets.bottles(place).any(is_paediatric);
            let for_adults = from.is_some_and(|from| from >= ADULT_FROM_YEARS);
            flags.insert_if(for_adults && paediatric, Flag::PaediatricBottle);
            match self.sets.age_years(place) {
                Some(age)
                    if from.is_some_and(|from| age < from) || below.is_some_and(|below| age >= below) =>
                {
                    return (Clause::OutsideAge, flags);
                }
                Some(_) => {}
                None if below.is_some() => return (Clause::AgeNotKnown, flags),
                None if paediatric && self.sets.bottles(place).all(is_paediatric) => {
                    return (Clause::PaediatricBottleWithoutAge, flags);
                }
                None => flags.insert(Flag::AgeUnknown),
            }
        }
        if ids.is_empty() {
            return (self.without_growth(set.status, counted_on, &mut flags), flags);
        }
        let has = |kind| ids.iter().any(|&id| organisms.get(id).kind == kind);
        flags.insert_if(ids.iter().any(|&id| organisms.get(id).doubtful), Flag::DoubtfulName);
        flags.insert_if(ids.iter().any(|&id| organisms.get(id).misspelt), Flag::MisspeltName);
        flags.insert_if(ids.iter().any(|&id| organisms.get(id).often_a_pathogen), Flag::OftenAPathogen);
        let mixed = has(Kind::Recognised) && has(Kind::Commensal);
        flags.insert_if(mixed, Flag::MixedGrowth);
        let clause = self.without_growth(set.status, counted_on, &mut flags);
        if clause == Clause::NotClosed {
            return (clause, flags);
        }
        let clause = if mixed {
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
        (clause, flags)
    }

    /// What is said of a set in which nothing grew.
    fn without_growth(&self, status: ReportStatus, counted_on: i32, flags: &mut Flags) -> Clause {
        if self.is_open(status, counted_on) {
            return Clause::NotClosed;
        }
        flags.insert_if(status == ReportStatus::Preliminary && self.as_of.is_some(), Flag::ClosedByAge);
        Clause::NoGrowth
    }

    fn is_open(&self, status: ReportStatus, counted_on: i32) -> bool {
        let unfinished = matches!(status, ReportStatus::Preliminary | ReportStatus::NotStated);
        unfinished && self.as_of.is_some_and(|as_of| as_of - counted_on < self.rules.days_to_close)
    }

    /// Settles the lone commensals of one patient.
    fn series(&self, room: &mut Room) {
        let Room { judged, part, in_series, windows, relations } = room;
        let (own, ranges) = windows.of(self.sets, in_series, self.rules.window);
        for (&place, &(low, high)) in part.iter().zip(ranges) {
            judged[place].n_in_window = u32::try_from(high - low).unwrap_or(u32::MAX);
        }
        if part.iter().all(|&place| judged[place].clause != Clause::CommensalSingleSet) {
            return;
        }
        let open: Vec<bool> = part.iter().map(|&place| judged[place].clause == Clause::NotClosed).collect();
        let series = Series::new(self, in_series, &open);
        for (place, &of_patient) in part.iter().enumerate() {
            let judged = &mut judged[of_patient];
            if judged.clause != Clause::CommensalSingleSet {
                continue;
            }
            let (low, high) = ranges[place];
            let settled = series.settle(place, low, high, relations, &own[place]);
            judged.clause = settled.clause;
            judged.decided_by = settled.decided_by.and_then(|place| NonZeroU32::new(in_series[place] + 1));
            judged.flags.insert_if(settled.at_genus, Flag::MatchedAtGenus);
            judged.flags.insert_if(settled.line_and_vein, Flag::LineAndVeinDisagree);
        }
    }
}

fn is_paediatric(bottle: &Bottle) -> bool {
    bottle.kind == BottleKind::Paediatric
}

/// Whether a set of this clause takes part in its patient's series.
fn has_part(clause: Clause) -> bool {
    clause.verdict() != Verdict::Excluded && clause != Clause::PaediatricBottleWithoutAge
}

/// One patient's sets in order of time, with what is needed to answer a window without walking it.
struct Series<'a> {
    judge: &'a Judge<'a>,
    sets: &'a [u32],
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
    fn new(judge: &'a Judge<'a>, sets: &'a [u32], is_open: &[bool]) -> Self {
        let mut growth: Vec<(u32, bool, usize)> = sets
            .iter()
            .enumerate()
            .flat_map(|(place, &set)| {
                let ids = judge.sets.organism_codes(set as usize);
                ids.iter().map(move |&id| (id, is_open[place], place))
            })
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
        let route = |set: u32| judge.sets.columns().marks[set as usize].route;
        let counted = |is: &dyn Fn(usize) -> bool| -> Vec<u32> {
            std::iter::once(0)
                .chain((0..sets.len()).scan(0, |sum, place| {
                    *sum += u32::from(is(place));
                    Some(*sum)
                }))
                .collect()
        };
        Self {
            judge,
            sets,
            growth,
            runs,
            open: counted(&|place| is_open[place]),
            vein: counted(&|place| route(sets[place]) == Some(Route::Vein)),
            line: counted(&|place| {
                matches!(route(sets[place]), Some(Route::CentralLine | Route::ArterialLine))
            }),
        }
    }

    fn settle(
        &self,
        place: usize,
        low: usize,
        high: usize,
        relations: &mut HashMap<(u32, u32), Relation>,
        timing: &Timing,
    ) -> Settled {
        let rules = self.judge.rules;
        let organisms = &self.judge.organisms;
        let own = self.judge.sets.organism_codes(self.sets[place] as usize);
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
        let other_route = match self.judge.sets.columns().marks[self.sets[place] as usize].route {
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
        if self.judge.as_of.is_some_and(|as_of| i64::from(as_of) <= last_day) {
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
