//! Every count of a report on a table of sets, worked out patient by patient on several threads.

use std::sync::atomic::{AtomicUsize, Ordering};

use jiff::civil::Date;

use crate::counts::{Counter, TableCounts};
use crate::fill::FillTarget;
use crate::judge::{Judge, Room};
use crate::rules::RuleSet;
use crate::single::SingleSets;
use crate::table::{PatientOrder, SetTable};
use crate::tally::DayShift;
use crate::verdict::Verdict;
use crate::window::Windows;

/// What a report on a table of sets says in numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct TableReport {
    /// The counts of the verdicts.
    pub counts: TableCounts,
    /// Single sets.
    pub single: SingleSets,
}

/// What the sets of a table are counted by.
#[derive(Debug, Clone, Copy)]
pub struct ReportOn<'a> {
    /// The rule set.
    pub rules: &'a RuleSet,
    /// The day of the report, as [`judge`](crate::judge) takes it.
    pub as_of: Option<Date>,
    /// When the day shift begins and ends.
    pub shift: DayShift,
    /// The fill a bottle should have.
    pub target: FillTarget,
}

/// Parts for each thread: who is done early takes another.
const PARTS_FOR_EACH: usize = 8;

impl TableReport {
    /// Judges and counts every set on so many threads. No verdict is kept, and the counts are the same on any number
    /// of threads: a series never crosses a patient, and sums of whole numbers do not hang on their order.
    pub fn of(sets: &SetTable, order: &PatientOrder, on: ReportOn<'_>, threads: usize) -> Self {
        let judge = Judge::new(sets, on.rules, on.as_of);
        let threads = threads.max(1);
        let parts = order.parts(if threads == 1 { 1 } else { threads.saturating_mul(PARTS_FOR_EACH) });
        let next = AtomicUsize::new(0);
        let count = || {
            let mut own = Part::new(sets, on);
            while let Some(part) = parts.get(next.fetch_add(1, Ordering::Relaxed)) {
                for patient in order.patients_of(part.clone()) {
                    own.patient(&judge, patient);
                }
            }
            own
        };
        let all = std::thread::scope(|scope| {
            let others: Vec<_> = (1..threads.min(parts.len())).map(|_| scope.spawn(count)).collect();
            let mut all = count();
            for other in others {
                match other.join() {
                    Ok(other) => all.add_all(&other),
                    Err(panic) => std::panic::resume_unwind(panic),
                }
            }
            all
        });
        Self { counts: all.counter.finish(), single: all.single }
    }
}

/// What one thread counts.
struct Part<'a> {
    sets: &'a SetTable,
    counter: Counter<'a>,
    single: SingleSets,
    room: Room,
    windows: Windows,
    /// Sets of a patient that the rule is about.
    in_report: Vec<u32>,
}

impl<'a> Part<'a> {
    fn new(sets: &'a SetTable, on: ReportOn<'_>) -> Self {
        Self {
            sets,
            counter: Counter::new(sets, on.shift, on.target),
            single: SingleSets::default(),
            room: Room::default(),
            windows: Windows::default(),
            in_report: Vec::new(),
        }
    }

    fn patient(&mut self, judge: &Judge<'_>, sets: &[u32]) {
        self.in_report.clear();
        for (set, judged) in sets.iter().zip(judge.patient(sets, &mut self.room)) {
            self.counter.add(*set as usize, judged);
            if judged.verdict() != Verdict::Excluded {
                self.in_report.push(*set);
            }
        }
        match judge.occasions(&self.in_report, &self.room) {
            Some(occasions) => self.single.add_occasions(occasions),
            None => self.single.add_patient(self.sets, &self.in_report, &mut self.windows),
        }
    }

    fn add_all(&mut self, other: &Self) {
        self.counter.add_all(&other.counter);
        self.single.add_all(&other.single);
    }
}
