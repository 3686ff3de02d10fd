//! Every count of a report on a table of sets, in one pass.

use std::collections::BTreeMap;

use crate::fill::{FillFacts, FillTarget};
use crate::judge::Judged;
use crate::set::Route;
use crate::table::civil;
use crate::table::{Moment, SetTable};
use crate::tally::{DayShift, Month, Shift, Tally};
use crate::verdict::{Clause, Flag, Verdict};
use crate::window::counted_day;

/// The counts of a report on a table of sets.
#[derive(Debug, Clone, PartialEq)]
pub struct TableCounts {
    /// All sets.
    pub tally: Tally,
    /// By month of collection.
    pub months: BTreeMap<Month, Tally>,
    /// By unit; `None` where the unit is not known.
    pub units: BTreeMap<Option<String>, Tally>,
    /// By collector; `None` where nobody is recorded.
    pub collectors: BTreeMap<Option<String>, Tally>,
    /// By vein or line; `None` where it is not known.
    pub routes: BTreeMap<Option<Route>, Tally>,
    /// By shift.
    pub shifts: BTreeMap<Shift, Tally>,
    /// How often each clause fired.
    pub clauses: BTreeMap<Clause, u64>,
    /// How often each flag was raised, among the sets the rule is about; flags never raised are left out.
    pub flags: Vec<(Flag, u64)>,
    /// Sets the rule is about whose collector is recorded.
    pub with_collector: u64,
    /// Fill of the bottles of the sets the rule is about.
    pub fill: FillFacts,
}

impl TableCounts {
    /// Counts everything.
    pub fn of(sets: &SetTable, judged: &[Judged], shift: DayShift, target: FillTarget) -> Self {
        let columns = sets.columns();
        let mut by_clause: BTreeMap<Clause, u64> = BTreeMap::new();
        let mut clause_counts = [0_u64; Clause::ALL.len()];
        let mut flag_counts = [0_u64; Flag::ALL.len()];
        let mut months = Months::default();
        let mut units = Coded::new(columns.unit_names.len());
        let mut collectors = Coded::new(columns.collector_names.len());
        let mut routes = [Tally::default(); N_ROUTES + 1];
        let mut shifts = [Tally::default(); 3];
        let mut fill = FillFacts::none(target);
        let mut tally = Tally::default();
        let mut with_collector = 0;
        for (place, one) in judged.iter().enumerate() {
            let verdict = one.verdict();
            tally.add(verdict);
            clause_counts[one.clause as usize] += 1;
            let collected = columns.collected[place];
            months.tally(counted_day(collected, columns.received[place])).add(verdict);
            units.tally(columns.units[place]).add(verdict);
            collectors.tally(columns.collectors[place]).add(verdict);
            routes[route_place(columns.marks[place].route)].add(verdict);
            shifts[shift_of(shift, collected) as usize].add(verdict);
            if verdict == Verdict::Excluded {
                continue;
            }
            with_collector += u64::from((columns.collectors[place] as usize) < columns.collector_names.len());
            if !one.flags.is_empty() {
                for flag in one.flags.iter() {
                    flag_counts[flag as usize] += 1;
                }
            }
            for bottle in sets.bottle_codes(place) {
                let fill_ml = bottle.fill().and_then(|fill| columns.fills_ml.get(fill as usize).copied());
                fill.add(bottle.kind(), fill_ml);
            }
        }
        for (clause, count) in Clause::ALL.into_iter().map(|clause| (clause, clause_counts[clause as usize]))
        {
            if count > 0 {
                by_clause.insert(clause, count);
            }
        }
        let known_routes = ROUTES.into_iter().map(Some).chain([None]);
        Self {
            tally,
            months: months.finish(),
            units: units.finish(&columns.unit_names),
            collectors: collectors.finish(&columns.collector_names),
            routes: known_routes
                .map(|route| (route, routes[route_place(route)]))
                .filter(|(_, tally)| *tally != Tally::default())
                .collect(),
            shifts: [Shift::Day, Shift::Night, Shift::NotKnown]
                .into_iter()
                .map(|shift| (shift, shifts[shift as usize]))
                .filter(|(_, tally)| *tally != Tally::default())
                .collect(),
            clauses: by_clause,
            flags: Flag::ALL
                .into_iter()
                .map(|flag| (flag, flag_counts[flag as usize]))
                .filter(|(_, count)| *count > 0)
                .collect(),
            with_collector,
            fill,
        }
    }
}

const ROUTES: [Route; 4] = [Route::Vein, Route::CentralLine, Route::ArterialLine, Route::Cannula];
const N_ROUTES: usize = ROUTES.len();

fn route_place(route: Option<Route>) -> usize {
    route.map_or(N_ROUTES, |route| route as usize)
}

fn shift_of(shift: DayShift, collected: Moment) -> Shift {
    match collected.hour() {
        Some(hour) if (shift.from..shift.until).contains(&hour) => Shift::Day,
        Some(_) => Shift::Night,
        None => Shift::NotKnown,
    }
}

/// Tallies by a code; the last is for what is not known.
struct Coded(Vec<Tally>);

impl Coded {
    fn new(n_names: usize) -> Self {
        Self(vec![Tally::default(); n_names + 1])
    }

    fn tally(&mut self, code: u32) -> &mut Tally {
        let place = (code as usize).min(self.0.len() - 1);
        &mut self.0[place]
    }

    fn finish(self, names: &[String]) -> BTreeMap<Option<String>, Tally> {
        let names = names.iter().map(|name| Some(name.clone())).chain([None]);
        names.zip(self.0).filter(|(_, tally)| *tally != Tally::default()).collect()
    }
}

/// Tallies by the day, gathered into months at the end: days are plain numbers, months are not.
#[derive(Default)]
struct Months {
    by_day: Vec<Tally>,
    first: i32,
    /// Days too far from the rest to keep a place for each day between.
    far: BTreeMap<i32, Tally>,
}

/// About 270 years: more days than that apart are kept one by one.
const MOST_DAYS: usize = 100_000;

impl Months {
    fn tally(&mut self, day: i32) -> &mut Tally {
        if self.by_day.is_empty() {
            // Room for what comes before the first day that is met.
            self.first = day.saturating_sub(MOST_DAYS as i32 / 2);
        }
        let place = usize::try_from(i64::from(day) - i64::from(self.first)).unwrap_or(usize::MAX);
        if place >= MOST_DAYS {
            return self.far.entry(day).or_default();
        }
        if place >= self.by_day.len() {
            self.by_day.resize(place + 1, Tally::default());
        }
        &mut self.by_day[place]
    }

    fn finish(self) -> BTreeMap<Month, Tally> {
        let mut months: BTreeMap<Month, Tally> = BTreeMap::new();
        let near = (self.first..).zip(self.by_day).filter(|(_, tally)| *tally != Tally::default());
        for (day, tally) in near.chain(self.far) {
            let (year, month, _) = civil(day);
            months.entry(Month { year, month }).or_default().add_all(&tally);
        }
        months
    }
}
