//! The timetable of the trade: who can do which job now, who is to learn what by when, what is missing, and how many
//! released people each shift has.

use std::collections::BTreeMap;

use breakdown::JobCode;
use jiff::ToSpan as _;
use jiff::civil::Date;
use practice::{EventKind, Level, PersonId, Standing};
use stats::arrivals::chance_of_at_most_present;
use stats::{Probability, StatsError};
use timetable::plan::Absence;
use timetable::{Cell, grid};

use crate::expected::ExpectedDraws;
use crate::facts::{Desk, valid};
use crate::next_draw::Named;

/// Days over which somebody counts as new, and over which those who left are named.
///
/// Common practice, no source: a quarter.
const QUARTER_DAYS: i64 = 90;

/// One cell of the timetable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TradeCell {
    /// Where the person stands: "learning, draws watched".
    pub level: String,
    /// Day by which they are to be released, where one is set and they are not.
    pub needed_by: Option<Date>,
    /// True where that day is past.
    pub is_past: bool,
}

/// One person's row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TradeRow {
    /// Who.
    pub person: Named,
    /// A cell for each job.
    pub cells: Vec<TradeCell>,
}

/// Something the timetable lacks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TradeGap {
    /// The job's name.
    pub job_name: String,
    /// What, in a sentence.
    pub what: String,
    /// Whom it is about.
    pub people: Vec<Named>,
    /// What helps.
    pub to_do: String,
}

/// One shift of one job.
#[derive(Debug, Clone, PartialEq)]
pub struct CoverRow {
    /// Day on which the shift begins, and its name.
    pub shift: (Date, String),
    /// People on duty.
    pub n_on_duty: usize,
    /// Those who may draw alone.
    pub released: Vec<Named>,
    /// How many may watch a learner, trainers among them.
    pub n_may_watch: usize,
    /// How many are learning.
    pub n_learning: usize,
    /// Chance that nobody who may draw alone comes.
    pub chance_of_none: f64,
}

/// The shifts of the coming days for one job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobCover {
    /// The job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// By shift; only shifts on which anybody is on duty.
    pub shifts: Vec<CoverRow>,
    /// Mean number of shifts on which nobody released comes.
    pub mean_bare: f64,
    /// Shifts in the period with nobody on the roster at all.
    pub n_not_rostered: usize,
    /// Those who are the only one released on a shift, with the number of such shifts, the most first.
    pub alone: Vec<(Named, usize)>,
}

/// The timetable of the trade.
#[derive(Debug, Clone, PartialEq)]
pub struct TradePage {
    /// Day asked about.
    pub today: Date,
    /// Jobs in the order of the columns: code and name.
    pub jobs: Vec<(JobCode, String)>,
    /// People of the unit who are not away.
    pub rows: Vec<TradeRow>,
    /// What is missing.
    pub gaps: Vec<TradeGap>,
    /// Shifts of the coming days; empty without a roster.
    pub covers: Vec<JobCover>,
    /// Last day of these.
    pub until: Date,
    /// Chance assumed that somebody on the roster comes.
    pub attendance: f64,
    /// Trainers, who set dates.
    pub trainers: Vec<Named>,
    /// Draws to expect, by job and unit.
    pub expected: Vec<ExpectedDraws>,
}

impl Desk {
    /// The timetable, and coverage of the shifts of so many days from today. `attendance` is the chance that somebody on
    /// the roster comes; those in `absences` do not.
    pub fn trade_page(
        &self,
        days: i64,
        attendance: Probability,
        absences: &[Absence],
    ) -> Result<TradePage, StatsError> {
        let until = self.today().saturating_add((days - 1).days());
        let here = grid(&self.standings);
        let places: Vec<Option<usize>> =
            self.jobs.iter().map(|(job, _)| here.jobs.iter().position(|known| known == job)).collect();
        let level = |person: &PersonId, job: &JobCode| {
            self.standings
                .iter()
                .find(|standing| standing.person == *person && standing.job == *job)
                .map_or(Level::NotPlanned, |standing| standing.level)
        };
        let rows = self
            .people
            .keys()
            .filter(|id| !self.is_away(id))
            .map(|id| {
                let cells = here.rows.iter().find(|(person, _)| person == id).map(|(_, cells)| cells);
                let row = self.jobs.iter().zip(&places).map(|((job, _), place)| {
                    let needed_by = match place.and_then(|place| cells?.get(place)) {
                        Some(Cell::NeededBy(by)) => Some(*by),
                        Some(Cell::InTraining(by)) => *by,
                        _ => None,
                    };
                    TradeCell {
                        level: level(id, job).words().to_owned(),
                        needed_by,
                        is_past: needed_by.is_some_and(|by| by < self.today()),
                    }
                });
                TradeRow { person: self.named(id), cells: row.collect() }
            })
            .collect();
        let covers = match self.roster() {
            None => Vec::new(),
            Some(_) => self
                .jobs
                .iter()
                .map(|(job, name)| self.job_cover(job, name, until, attendance, absences))
                .collect::<Result<_, _>>()?,
        };
        Ok(TradePage {
            today: self.today(),
            jobs: self.jobs.clone(),
            rows,
            gaps: self.jobs.iter().flat_map(|(job, name)| self.gaps(job, name)).collect(),
            covers,
            expected: self.expected_draws()?,
            until,
            attendance: attendance.get(),
            trainers: self.trainer_ids().iter().map(|id| self.named(id)).collect(),
        })
    }

    fn job_cover(
        &self,
        job: &JobCode,
        job_name: &str,
        until: Date,
        attendance: Probability,
        absences: &[Absence],
    ) -> Result<JobCover, StatsError> {
        let mut shifts = Vec::new();
        let mut alone: BTreeMap<PersonId, usize> = BTreeMap::new();
        let mut n_not_rostered = 0;
        for shift in self.covered(job, self.today(), until) {
            let on = shift.shift.on;
            if shift.n_on_duty == 0 {
                n_not_rostered += 1;
                continue;
            }
            let comes = |person: &&PersonId| {
                let is_absent = |one: &Absence| one.person == **person && (one.from..=one.to).contains(&on);
                !absences.iter().any(is_absent)
            };
            let released: Vec<&PersonId> = shift.may_draw_alone.iter().filter(comes).collect();
            if let [only] = released.as_slice() {
                *alone.entry((*only).clone()).or_default() += 1;
            }
            let each = vec![attendance; released.len()];
            shifts.push(CoverRow {
                shift: (on, shift.shift.kind.words().to_owned()),
                n_on_duty: shift.n_on_duty,
                n_may_watch: shift.may_watch.iter().filter(comes).count(),
                n_learning: shift.learning.iter().filter(comes).count(),
                chance_of_none: chance_of_at_most_present(&each, 0)?.get(),
                released: released.into_iter().map(|id| self.named(id)).collect(),
            });
        }
        let mut alone: Vec<(Named, usize)> = alone.iter().map(|(id, n)| (self.named(id), *n)).collect();
        alone.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
        Ok(JobCover {
            job: job.clone(),
            job_name: job_name.to_owned(),
            mean_bare: shifts.iter().fold(0.0, |sum, shift| sum + shift.chance_of_none),
            shifts,
            n_not_rostered,
            alone,
        })
    }

    fn gaps(&self, job: &JobCode, job_name: &str) -> Vec<TradeGap> {
        let mine: Vec<&Standing> = self.standings.iter().filter(|standing| standing.job == *job).collect();
        let those = |wanted: &dyn Fn(&Standing) -> bool| -> Vec<Named> {
            mine.iter().filter(|standing| wanted(standing)).map(|one| self.named(&one.person)).collect()
        };
        let today = self.today();
        let since = today.saturating_sub(QUARTER_DAYS.days());
        let is_new = |person: &PersonId| {
            self.people.get(person).is_some_and(|known| known.started >= since && known.started <= today)
        };
        let gone = |person: &PersonId| {
            valid(&self.material.history).any(|event| {
                event.happened.date() >= since
                    && matches!(&event.kind, EventKind::PersonLeft { person: left } if left == person)
            })
        };
        let found: [(Vec<Named>, String, &str); 6] = [
            (
                those(&|one| one.level == Level::Away && one.scope.is_some() && gone(&one.person)),
                format!("left or on leave within the last {QUARTER_DAYS} days, and could draw alone"),
                "look below how many the shifts still have, and put others on the timetable",
            ),
            (
                those(&|one| one.level == Level::ToBeUpdated),
                "released on a version that a major change has replaced, such as new equipment".to_owned(),
                "show the change and watch a draw, or have the refresher done",
            ),
            (
                those(&|one| one.level == Level::Lapsed),
                "lapsed: no draw is known for longer than the rule allows".to_owned(),
                "watch a draw, or have the refresher done",
            ),
            (
                those(&|one| one.level.is_learning() && one.needed_by.is_some_and(|by| by < today)),
                "the date is past, and they are not released".to_owned(),
                "look at the plan, and set a date that can be kept",
            ),
            (
                those(&|one| {
                    matches!(one.level, Level::Learning | Level::Withdrawn) && one.needed_by.is_none()
                }),
                "learning without a date".to_owned(),
                "set a date, so that the plan knows who comes first",
            ),
            (
                those(&|one| one.level == Level::NotPlanned && is_new(&one.person)),
                format!("new on the unit within the last {QUARTER_DAYS} days, and not on the timetable"),
                "set a date where they are to learn this job",
            ),
        ];
        found
            .into_iter()
            .filter(|(people, ..)| !people.is_empty())
            .map(|(people, what, to_do)| TradeGap {
                job_name: job_name.to_owned(),
                what,
                people,
                to_do: to_do.to_owned(),
            })
            .collect()
    }
}
