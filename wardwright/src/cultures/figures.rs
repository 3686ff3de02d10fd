//! Every figure of the report, computed once for text, JSON and chart.

use std::collections::BTreeMap;

use culture::{
    Clause, CommensalList, CultureSet, DayShift, FillFacts, FillTarget, Flag, Judged, Month, Route, RuleSet,
    Shift, SingleSets, Tally, Verdict, count_clauses, tally_by,
};
use exchange::laboratory::{DateKind, Holds, Import};
use jiff::civil::Date;

/// What a report on laboratory files says.
pub struct Figures<'a> {
    /// What came out of the files.
    pub import: &'a Import,
    /// A verdict for each set.
    pub judged: &'a [Judged],
    /// The rule set.
    pub rules: &'a RuleSet,
    /// The commensal list.
    pub list: &'static CommensalList,
    /// Day of the report.
    pub as_of: Date,
    /// All sets.
    pub tally: Tally,
    /// By month of collection.
    pub months: Vec<(Month, Tally)>,
    /// By unit; `None` where the unit is not known.
    pub units: Vec<(Option<String>, Tally)>,
    /// By vein or line; `None` where it is not known.
    pub routes: Vec<(Option<Route>, Tally)>,
    /// By shift.
    pub shifts: Vec<(Shift, Tally)>,
    /// How often each clause fired.
    pub clauses: BTreeMap<Clause, u64>,
    /// How often each flag was raised, among the sets the rule is about.
    pub flags: Vec<(Flag, u64)>,
    /// Single sets.
    pub single: SingleSets,
    /// Sets the rule is about whose collector is recorded.
    pub with_collector: u64,
    /// Fill of the bottles.
    pub fill: FillFacts,
}

impl<'a> Figures<'a> {
    /// Counts everything.
    pub fn new(import: &'a Import, judged: &'a [Judged], rules: &'a RuleSet, as_of: Date) -> Self {
        let sets: &[CultureSet] = &import.sets;
        let included = || sets.iter().zip(judged).filter(|(_, judged)| judged.verdict() != Verdict::Excluded);
        let shift = DayShift::default();
        let flags = Flag::ALL
            .into_iter()
            .map(|flag| (flag, included().filter(|(_, judged)| judged.flags.contains(flag)).count() as u64))
            .filter(|(_, count)| *count > 0)
            .collect();
        Self {
            tally: Tally::of(judged),
            months: known(tally_by(sets, judged, |set| Some(Month::of(set)))),
            units: tally_by(sets, judged, |set| set.unit.clone()).into_iter().collect(),
            routes: tally_by(sets, judged, |set| set.route).into_iter().collect(),
            shifts: known(tally_by(sets, judged, |set| Some(shift.of(set)))),
            clauses: count_clauses(judged),
            flags,
            single: SingleSets::count(sets, judged),
            with_collector: included().filter(|(set, _)| set.collector.is_some()).count() as u64,
            fill: FillFacts::count(included().map(|(set, _)| set), FillTarget::default()),
            list: rules.list.list(),
            import,
            judged,
            rules,
            as_of,
        }
    }

    /// Why there is no rate at all, where there is none.
    pub fn why_no_rate(&self) -> Option<&'static str> {
        match self.import.holds {
            Holds::PositivesOnly => {
                Some("the file holds only sets that grew: a rate would have no denominator")
            }
            Holds::AllSets => why_no_rate(&self.tally),
        }
    }

    /// The rate of a part, unless the files hold no denominator.
    pub fn rate(&self, tally: &Tally) -> Option<culture::Rate> {
        (self.import.holds == Holds::AllSets).then(|| tally.rate()).flatten()
    }

    /// Single sets by venepuncture, unless the files leave out sets without growth.
    pub fn singles_per_set(&self) -> Option<culture::Rate> {
        (self.import.holds == Holds::AllSets).then(|| self.single.per_set()).flatten()
    }

    /// Single sets by occasion, unless the files leave out sets without growth.
    pub fn singles_per_occasion(&self) -> Option<culture::Rate> {
        (self.import.holds == Holds::AllSets).then(|| self.single.per_occasion()).flatten()
    }

    /// Closed sets with any growth, unless the files leave out sets without growth.
    pub fn positivity(&self) -> Option<culture::Rate> {
        (self.import.holds == Holds::AllSets).then(|| self.tally.positivity()).flatten()
    }

    /// Whether dates were shifted to protect patients.
    pub fn shifted(&self) -> bool {
        self.import.dates == DateKind::Shifted
    }
}

/// Why a tally gives no rate.
pub fn why_no_rate(tally: &Tally) -> Option<&'static str> {
    match (tally.sets(), tally.closed()) {
        (0, _) => Some("there is no set that the rule is about"),
        (_, 0) => Some("no set is closed yet"),
        _ => None,
    }
}

fn known<K: Ord>(tallies: BTreeMap<Option<K>, Tally>) -> Vec<(K, Tally)> {
    tallies.into_iter().filter_map(|(key, tally)| Some((key?, tally))).collect()
}
