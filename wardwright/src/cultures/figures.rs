//! Every figure of the report, computed once for text, JSON and chart.

use std::collections::BTreeMap;

use culture::{
    Clause, CommensalList, DayShift, FillFacts, FillTarget, Flag, GroupCounts, Judged, Month, PatientOrder,
    ReportOn, Route, RuleSet, Shift, SingleSets, TableReport, Tally,
};
use exchange::laboratory::{BulkImport, DateKind, Holds};
use jiff::civil::Date;

/// What a report on laboratory files says.
pub struct Figures<'a> {
    /// What came out of the files.
    pub import: &'a BulkImport,
    /// A verdict for each set, where something asks for them one by one; else none.
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
    pub months: Vec<(Month, GroupCounts)>,
    /// By unit; `None` where the unit is not known.
    pub units: Vec<(Option<String>, GroupCounts)>,
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
    /// Density at which masses of bottles became volumes, where they were weighed.
    pub density_g_per_ml: Option<f64>,
}

impl<'a> Figures<'a> {
    /// Counts everything.
    pub fn new(
        import: &'a BulkImport,
        order: &PatientOrder,
        judged: &'a [Judged],
        rules: &'a RuleSet,
        as_of: Date,
        threads: usize,
    ) -> Self {
        let on = ReportOn {
            rules,
            as_of: (import.dates == DateKind::AsRecorded).then_some(as_of),
            shift: DayShift::default(),
            target: FillTarget::default(),
        };
        let TableReport { counts, single } = TableReport::of(&import.sets, order, on, threads);
        Self {
            tally: counts.tally,
            months: counts.months.into_iter().collect(),
            units: counts.units.into_iter().collect(),
            routes: counts.routes.into_iter().collect(),
            shifts: counts.shifts.into_iter().collect(),
            clauses: counts.clauses,
            flags: counts.flags,
            single,
            with_collector: counts.with_collector,
            fill: counts.fill,
            density_g_per_ml: None,
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
