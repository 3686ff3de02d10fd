//! Counting sets one by one, and putting together what was counted side by side.

use std::collections::HashMap;

use super::{GroupCounts, TableCounts};
use crate::fill::{BottleFacts, FillFacts, FillTarget};
use crate::judge::Judged;
use crate::set::Route;
use crate::table::{Moment, SetTable, civil};
use crate::tally::{DayShift, Month, Shift, Tally};
use crate::verdict::{Clause, Flag, Verdict};
use crate::window::counted_day;

/// Counts sets in any order; what several have counted adds up to the same.
pub(crate) struct Counter<'a> {
    sets: &'a SetTable,
    shift: DayShift,
    target: FillTarget,
    /// What each bottle of the list of bottles adds.
    bottles: Vec<BottleFacts>,
    clauses: [u64; Clause::ALL.len()],
    flags: [u64; Flag::ALL.len()],
    months: Months,
    units: Vec<GroupCounts>,
    collectors: Vec<Tally>,
    routes: [Tally; N_ROUTES + 1],
    shifts: [Tally; 3],
}

impl<'a> Counter<'a> {
    pub(crate) fn new(sets: &'a SetTable, shift: DayShift, target: FillTarget) -> Self {
        let columns = sets.columns();
        let none = GroupCounts { tally: Tally::default(), fill: FillFacts::none(target) };
        Self {
            sets,
            shift,
            target,
            bottles: columns
                .bottle_list
                .iter()
                .map(|bottle| BottleFacts::of(bottle.kind, bottle.fill_ml, target))
                .collect(),
            clauses: [0; Clause::ALL.len()],
            flags: [0; Flag::ALL.len()],
            months: Months::new(none),
            // The last is for what is not known.
            units: vec![none; columns.unit_names.len() + 1],
            collectors: vec![Tally::default(); columns.collector_names.len() + 1],
            routes: [Tally::default(); N_ROUTES + 1],
            shifts: [Tally::default(); 3],
        }
    }

    /// Counts one more set.
    pub(crate) fn add(&mut self, place: usize, judged: &Judged) {
        let columns = self.sets.columns();
        let verdict = judged.verdict();
        self.clauses[judged.clause as usize] += 1;
        let collected = columns.collected.get(place);
        let month = self.months.of_day(counted_day(collected, columns.received.get(place)));
        month.tally.add(verdict);
        let unit = of_code(&mut self.units, columns.units.get(place));
        unit.tally.add(verdict);
        of_code(&mut self.collectors, columns.collectors.get(place)).add(verdict);
        self.routes[route_place(columns.marks[place].route)].add(verdict);
        self.shifts[shift_of(self.shift, collected) as usize].add(verdict);
        if verdict == Verdict::Excluded {
            return;
        }
        if !judged.flags.is_empty() {
            for flag in judged.flags.iter() {
                self.flags[flag as usize] += 1;
            }
        }
        let mut fill = FillFacts::none(self.target);
        for bottle in self.sets.bottle_codes(place) {
            if let Some(bottle) = self.bottles.get(bottle as usize) {
                fill.add_bottle(*bottle);
            }
        }
        month.fill.add_all(&fill);
        unit.fill.add_all(&fill);
    }

    /// Adds what another has counted of the same table.
    pub(crate) fn add_all(&mut self, other: &Self) {
        for (sum, more) in self.clauses.iter_mut().zip(other.clauses) {
            *sum += more;
        }
        for (sum, more) in self.flags.iter_mut().zip(other.flags) {
            *sum += more;
        }
        for (month, more) in other.months.counted() {
            self.months.of_month(month).add_all(more);
        }
        for (sum, more) in self.units.iter_mut().zip(&other.units) {
            sum.add_all(more);
        }
        let tallies = self.collectors.iter_mut().chain(&mut self.routes).chain(&mut self.shifts);
        for (sum, more) in tallies.zip(other.collectors.iter().chain(&other.routes).chain(&other.shifts)) {
            sum.add_all(more);
        }
    }

    pub(crate) fn finish(self) -> TableCounts {
        let columns = self.sets.columns();
        let mut tally = Tally::default();
        let mut fill = FillFacts::none(self.target);
        for unit in &self.units {
            tally.add_all(&unit.tally);
            fill.add_all(&unit.fill);
        }
        let known_collectors = &self.collectors[..columns.collector_names.len()];
        let known_routes = ROUTES.into_iter().map(Some).chain([None]);
        let some = |tally: &Tally| *tally != Tally::default();
        TableCounts {
            tally,
            with_collector: known_collectors.iter().map(Tally::sets).sum(),
            months: self.months.counted().map(|(month, counts)| (month, *counts)).collect(),
            units: named(&columns.unit_names, self.units).filter(|(_, unit)| some(&unit.tally)).collect(),
            collectors: named(&columns.collector_names, self.collectors)
                .filter(|(_, tally)| some(tally))
                .collect(),
            routes: known_routes
                .map(|route| (route, self.routes[route_place(route)]))
                .filter(|(_, tally)| some(tally))
                .collect(),
            shifts: [Shift::Day, Shift::Night, Shift::NotKnown]
                .into_iter()
                .map(|shift| (shift, self.shifts[shift as usize]))
                .filter(|(_, tally)| some(tally))
                .collect(),
            clauses: Clause::ALL
                .into_iter()
                .map(|clause| (clause, self.clauses[clause as usize]))
                .filter(|(_, count)| *count > 0)
                .collect(),
            flags: Flag::ALL
                .into_iter()
                .map(|flag| (flag, self.flags[flag as usize]))
                .filter(|(_, count)| *count > 0)
                .collect(),
            fill,
        }
    }
}

impl GroupCounts {
    fn add_all(&mut self, other: &Self) {
        self.tally.add_all(&other.tally);
        self.fill.add_all(&other.fill);
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

/// The part of a code; the last is for what is not known.
fn of_code<T>(parts: &mut [T], code: u32) -> &mut T {
    let place = (code as usize).min(parts.len() - 1);
    &mut parts[place]
}

fn named<T>(names: &[String], parts: Vec<T>) -> impl Iterator<Item = (Option<String>, T)> {
    names.iter().map(|name| Some(name.clone())).chain([None]).zip(parts)
}

/// Counts by month, found by the day: days are plain numbers, months are not.
struct Months {
    none: GroupCounts,
    /// The place of the month of each day from the first on, plus one; 0 where it was not asked for yet.
    of_days: Vec<u32>,
    first: i32,
    places: HashMap<Month, usize>,
    counts: Vec<GroupCounts>,
}

/// About 270 years: days further apart than that are asked for one by one.
const MOST_DAYS: usize = 100_000;

impl Months {
    fn new(none: GroupCounts) -> Self {
        Self { none, of_days: Vec::new(), first: 0, places: HashMap::new(), counts: Vec::new() }
    }

    fn of_day(&mut self, day: i32) -> &mut GroupCounts {
        if self.of_days.is_empty() {
            // Room for what comes before the first day that is met.
            self.first = day.saturating_sub(MOST_DAYS as i32 / 2);
        }
        let number = usize::try_from(i64::from(day) - i64::from(self.first)).unwrap_or(usize::MAX);
        if let Some(place) = self.of_days.get(number).and_then(|place| place.checked_sub(1)) {
            return &mut self.counts[place as usize];
        }
        let (year, month, _) = civil(day);
        let place = self.place(Month { year, month });
        if number < MOST_DAYS {
            if self.of_days.len() <= number {
                self.of_days.resize(number + 1, 0);
            }
            self.of_days[number] = u32::try_from(place + 1).unwrap_or(0);
        }
        &mut self.counts[place]
    }

    fn of_month(&mut self, month: Month) -> &mut GroupCounts {
        let place = self.place(month);
        &mut self.counts[place]
    }

    fn place(&mut self, month: Month) -> usize {
        let counts = &mut self.counts;
        *self.places.entry(month).or_insert_with(|| {
            counts.push(self.none);
            counts.len() - 1
        })
    }

    /// Every month that was met, in no order.
    fn counted(&self) -> impl Iterator<Item = (Month, &GroupCounts)> {
        self.places.iter().map(|(month, place)| (*month, &self.counts[*place]))
    }
}
