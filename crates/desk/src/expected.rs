//! Draws to expect of a shift, by unit, weekday and shift, with what is not known of them.

use std::collections::{BTreeMap, HashMap};

use breakdown::JobCode;
use jiff::civil::{Date, DateTime, Weekday};
use stats::{ConfidenceLevel, StatsError};
use timetable::{DrawRates, Roster, Shift, ShiftTimes, Slot, draw_rates};

use crate::facts::Desk;

/// Most units of the laboratory's files that are told one by one; the rest is in the sum.
const MOST_UNITS: usize = 12;

/// Draws of one shift of the week.
#[derive(Debug, Clone, PartialEq)]
pub struct ExpectedSlot {
    /// The shift's name.
    pub shift: String,
    /// Draws that were counted.
    pub n_draws: u64,
    /// Shifts on which they were counted.
    pub n_shifts: u64,
    /// Draws to expect of one such shift.
    pub mean: f64,
    /// 95 % interval of the mean.
    pub interval: (f64, f64),
}

/// Draws to expect in one job.
#[derive(Debug, Clone, PartialEq)]
pub struct ExpectedDraws {
    /// The job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// The unit, as the laboratory names it; `None` for all together, which the plan reckons with.
    pub unit: Option<String>,
    /// Days from which draws were counted, both included.
    pub counted: (Date, Date),
    /// Whether all shifts have one rate, because their counts differ no more than chance makes them.
    pub is_alike: bool,
    /// By weekday, and by shift in the order of the day.
    pub weekdays: Vec<(String, Vec<ExpectedSlot>)>,
}

impl Desk {
    /// Draws to expect by job, unit, weekday and shift, from the sets of the last half year; for each job all units
    /// together first. A job without a set has none.
    pub fn expected_draws(&self) -> Result<Vec<ExpectedDraws>, StatsError> {
        let times = self.roster().map(Roster::times).unwrap_or_default();
        let mut expected = Vec::new();
        for (job, job_name) in &self.jobs {
            let draws = self.draws_by_unit(job);
            let all: Vec<DateTime> = draws.values().flatten().copied().collect();
            let Some(counted) = self.counted_days(&all) else { continue };
            let mut add = |unit: Option<&str>, draws: &[DateTime]| -> Result<(), StatsError> {
                let rates = draw_rates(draws, counted.0, counted.1, times)?;
                expected.push(ExpectedDraws {
                    job: job.clone(),
                    job_name: job_name.clone(),
                    unit: unit.map(str::to_owned),
                    counted,
                    is_alike: rates.is_alike(),
                    weekdays: weekdays(draws, counted, times, &rates),
                });
                Ok(())
            };
            add(None, &all)?;
            // One unit alone is all together.
            let mut units: Vec<(&str, &Vec<DateTime>)> =
                draws.iter().filter_map(|(unit, draws)| Some((unit.as_deref()?, draws))).collect();
            units.sort_by_key(|(_, draws)| std::cmp::Reverse(draws.len()));
            if draws.len() > 1 {
                units.iter().take(MOST_UNITS).try_for_each(|(unit, draws)| add(Some(unit), draws))?;
            }
        }
        Ok(expected)
    }

    /// Times of the sets of a job that have one, by unit.
    fn draws_by_unit(&self, job: &JobCode) -> BTreeMap<Option<String>, Vec<DateTime>> {
        let mut by_unit: BTreeMap<Option<String>, Vec<DateTime>> = BTreeMap::new();
        for set in self.sets_of(job) {
            if let Some(at) = set.collected.time() {
                by_unit.entry(set.unit.clone()).or_default().push(at);
            }
        }
        by_unit
    }
}

fn weekdays(
    draws: &[DateTime],
    (from, to): (Date, Date),
    times: ShiftTimes,
    rates: &DrawRates,
) -> Vec<(String, Vec<ExpectedSlot>)> {
    let mut counts: HashMap<Slot, (u64, u64)> = HashMap::new();
    for shift in Shift::between(from, to, times) {
        counts.entry(Slot::of(shift)).or_default().1 += 1;
    }
    let within = |shift: &Shift| (from..=to).contains(&shift.on);
    for shift in draws.iter().map(|draw| Shift::at(*draw, times)).filter(within) {
        counts.entry(Slot::of(shift)).or_default().0 += 1;
    }
    let slots = |weekday: Weekday| {
        let slots = times.kinds().filter_map(|kind| {
            let slot = Slot { weekday, kind };
            let rate = rates.of(slot)?;
            let interval = rate.interval(ConfidenceLevel::default());
            let (n_draws, n_shifts) = counts.get(&slot).copied().unwrap_or_default();
            Some(ExpectedSlot {
                shift: kind.words().to_owned(),
                n_draws,
                n_shifts,
                mean: rate.mean(),
                interval: (interval.lower(), interval.upper()),
            })
        });
        (WEEKDAYS[usize::from(weekday.to_monday_zero_offset().unsigned_abs())].to_owned(), slots.collect())
    };
    Weekday::Monday.cycle_forward().take(7).map(slots).collect()
}

const WEEKDAYS: [&str; 7] = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];
