//! After release: checks and refreshers due, faults watched, confidence of the unit; and two watchers on one draw. For the
//! trainer; a chart or a question is a reason to watch a draw and talk, not a verdict.

use std::collections::BTreeMap;

use breakdown::{ItemId, JobCode};
use jiff::civil::Date;
use practice::{
    Confidence, EventKind, FaultChart, FaultWatchDesign, Level, PersonId, Standing, WatcherFacts,
    confidence_of_unit, fault_rate, outcomes_after_release, paired_marks, watcher_facts,
};
use stats::agreement::Agreement;
use stats::{ConfidenceLevel, Proportion, StatsError};

use crate::facts::{Desk, valid};
use crate::today::days_between;

/// Days ahead for which a unit's refreshers are counted.
pub const REFRESHERS_AHEAD_DAYS: i32 = 30;

/// A check, refresher or update with its day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueRow {
    /// Who.
    pub person: PersonId,
    /// Their name.
    pub name: String,
    /// Job.
    pub job: JobCode,
    /// Name of the job.
    pub job_name: String,
    /// What they may do now.
    pub level: Level,
    /// Day.
    pub on: Date,
    /// Days past it; negative for days still to come.
    pub late_days: i32,
    /// What and why.
    pub why: String,
    /// Whether it is a refresher or watched draw that brings a standing back, and not a check.
    pub is_refresher: bool,
}

/// One person's watched draws since release.
#[derive(Debug, Clone, PartialEq)]
pub struct WatchedRow {
    /// Who.
    pub person: PersonId,
    /// Their name.
    pub name: String,
    /// Draws with a missed safety point, and draws watched since release.
    pub faults: (u64, u64),
    /// Chance that the rate is above the one the trainer wants to know of; `None` before the first draw.
    pub above_target: Option<f64>,
    /// Where the rate lies with a chance of 95 %; `None` before the first draw.
    pub interval: Option<(f64, f64)>,
    /// Value of the chart after the last draw.
    pub value: f64,
    /// Value from which it signals.
    pub limit: f64,
    /// Draw at which it first signalled, counted from release.
    pub signal_at: Option<usize>,
}

/// Confidence over a unit's learners of a job.
#[derive(Debug, Clone, PartialEq)]
pub enum UnitConfidenceShown {
    /// Enough people: how many, mean difference of stated and observed share, interval, and what can be said.
    Shown { n_people: usize, mean: f64, interval: (f64, f64), says: Confidence },
    /// Too few, with how many there are and how many are needed.
    TooFew { n_people: usize, needed: usize },
}

/// Follow-up of one job.
#[derive(Debug, Clone, PartialEq)]
pub struct FollowedJob {
    /// Job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// Everybody released, by name.
    pub watched: Vec<WatchedRow>,
    /// Mean number of watched draws between false alarms of the chart.
    pub draws_to_false_alarm: f64,
    /// Mean number of watched draws until it notices.
    pub draws_to_notice: f64,
    /// Confidence over the unit.
    pub confidence: UnitConfidenceShown,
}

/// What is due on one unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitDue {
    /// Unit.
    pub unit: String,
    /// Standings held by its people: one for each person and job.
    pub held: u64,
    /// Checks past their day.
    pub checks_late: u64,
    /// Refreshers and updates past their day.
    pub refreshers_late: u64,
    /// Refreshers and updates due within the next [`REFRESHERS_AHEAD_DAYS`] days.
    pub refreshers_ahead: u64,
}

/// The follow-up page.
#[derive(Debug, Clone, PartialEq)]
pub struct FollowUpPage {
    /// Day asked about.
    pub today: Date,
    /// Fault rate of somebody who does well, and the one at which the trainer wants to know.
    pub rates: (f64, f64),
    /// What is due, the earliest first.
    pub due: Vec<DueRow>,
    /// By unit.
    pub units: Vec<UnitDue>,
    /// By job.
    pub jobs: Vec<FollowedJob>,
}

/// Two watchers' marks on one key point.
#[derive(Debug, Clone, PartialEq)]
pub struct AgreedPoint {
    /// Place.
    pub item: ItemId,
    /// What it says.
    pub text: String,
    /// Whether it is a safety point.
    pub safety: bool,
    /// Draws on which both gave the same mark, and draws on which both saw it.
    pub same: (u64, u64),
    /// Agreement beyond chance with its interval; `None` where it cannot be worked out.
    pub beyond_chance: Option<(f64, Option<(f64, f64)>)>,
}

/// One watcher's marks beside the others'.
#[derive(Debug, Clone, PartialEq)]
pub struct WatcherRow {
    /// Who.
    pub person: PersonId,
    /// Their name.
    pub name: String,
    /// Draws on which they marked a missed safety point, and draws they watched.
    pub marked: (u64, u64),
    /// The same of all the others.
    pub others: Option<(u64, u64)>,
    /// Chance of so few, were they to see what the others see.
    pub so_few: Option<f64>,
    /// Their learners' draws with a missed safety point after release, and draws watched.
    pub later: Option<(u64, u64)>,
    /// The same of the others' learners.
    pub later_others: Option<(u64, u64)>,
    /// Chance of so many, were their learners like the others'.
    pub later_so_many: Option<f64>,
    /// What is worth asking.
    pub questions: Vec<String>,
}

/// Watching in one job.
#[derive(Debug, Clone, PartialEq)]
pub struct WatchedJob {
    /// Job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// Key points that two people marked on one draw.
    pub points: Vec<AgreedPoint>,
    /// Watchers.
    pub watchers: Vec<WatcherRow>,
}

/// The page on watching.
#[derive(Debug, Clone, PartialEq)]
pub struct WatchingPage {
    /// Day asked about.
    pub today: Date,
    /// By job.
    pub jobs: Vec<WatchedJob>,
}

fn beyond_chance(agreement: Agreement) -> Option<(f64, Option<(f64, f64)>)> {
    let interval = agreement.interval.ok().map(|interval| (interval.lower(), interval.upper()));
    agreement.estimate.is_finite().then_some((agreement.estimate, interval))
}

fn pair(share: Proportion) -> (u64, u64) {
    (share.events(), share.trials())
}

impl Desk {
    /// What is due after release, and what the watched draws say.
    pub fn follow_up(&self) -> Result<FollowUpPage, StatsError> {
        let design = FaultWatchDesign::usual()?;
        let chart = FaultChart::new(&design)?;
        let due = self.due_rows();
        Ok(FollowUpPage {
            today: self.today(),
            rates: (design.acceptable.get(), design.not_acceptable.get()),
            units: self.units_due(&due),
            due,
            jobs: self
                .jobs()
                .iter()
                .map(|(job, name)| self.followed(job, name, &design, &chart))
                .collect::<Result<_, _>>()?,
        })
    }

    fn due_rows(&self) -> Vec<DueRow> {
        let row = |standing: &Standing| {
            let due = standing.next_check.as_ref()?;
            Some(DueRow {
                person: standing.person.clone(),
                name: self.name_of(&standing.person),
                job: standing.job.clone(),
                job_name: self.job_name(standing),
                level: standing.level,
                on: due.on,
                late_days: days_between(due.on, self.today()),
                why: due.why.clone(),
                is_refresher: matches!(standing.level, Level::Lapsed | Level::ToBeUpdated),
            })
        };
        let mut rows: Vec<DueRow> = self.standings.iter().filter_map(row).collect();
        rows.sort_by(|one, two| (one.on, &one.name, &one.job).cmp(&(two.on, &two.name, &two.job)));
        rows
    }

    fn units_due(&self, due: &[DueRow]) -> Vec<UnitDue> {
        let mut units: BTreeMap<String, UnitDue> = BTreeMap::new();
        for row in due {
            let Some(person) = self.people.get(&row.person) else { continue };
            let unit = units.entry(person.unit.clone()).or_insert_with(|| UnitDue {
                unit: person.unit.clone(),
                held: 0,
                checks_late: 0,
                refreshers_late: 0,
                refreshers_ahead: 0,
            });
            unit.held += 1;
            match (row.is_refresher, row.late_days) {
                (false, 1..) => unit.checks_late += 1,
                (true, 1..) => unit.refreshers_late += 1,
                (true, late) if -late <= REFRESHERS_AHEAD_DAYS => unit.refreshers_ahead += 1,
                _ => {}
            }
        }
        units.into_values().collect()
    }

    fn followed(
        &self,
        job: &JobCode,
        name: &str,
        design: &FaultWatchDesign,
        chart: &FaultChart,
    ) -> Result<FollowedJob, StatsError> {
        let outcomes = outcomes_after_release(&self.material.history, job, self.today());
        let empty = chart.watch(&[]);
        let mut watched = Vec::new();
        for standing in self.standings.iter().filter(|one| one.job == *job && one.scope.is_some()) {
            let own = outcomes.get(&standing.person).map_or(&[][..], Vec::as_slice);
            let watch = chart.watch(own);
            let n_faults = own.iter().filter(|missed| **missed).count() as u64;
            let rate = match Proportion::new(n_faults, own.len() as u64) {
                Ok(seen) => Some(fault_rate(seen, design.not_acceptable, ConfidenceLevel::default())?),
                Err(_) => None,
            };
            watched.push(WatchedRow {
                person: standing.person.clone(),
                name: self.name_of(&standing.person),
                faults: (n_faults, own.len() as u64),
                above_target: rate.map(|rate| rate.above_target.get()),
                interval: rate.map(|rate| (rate.interval.lower(), rate.interval.upper())),
                value: watch.path.last().copied().unwrap_or(0.0),
                limit: watch.limit,
                signal_at: watch.first_signal,
            });
        }
        // Signals first, then those of whom most is feared.
        watched.sort_by(|one, two| {
            let key = |row: &WatchedRow| (row.signal_at.is_some(), row.above_target.unwrap_or(0.0));
            let (one_key, two_key) = (key(one), key(two));
            two_key
                .0
                .cmp(&one_key.0)
                .then(two_key.1.total_cmp(&one_key.1))
                .then_with(|| one.name.cmp(&two.name))
        });
        Ok(FollowedJob {
            job: job.clone(),
            job_name: name.to_owned(),
            watched,
            draws_to_false_alarm: empty.draws_to_false_alarm,
            draws_to_notice: empty.draws_to_notice,
            confidence: self.unit_confidence(job)?,
        })
    }

    /// Each person once, with what they said last.
    fn unit_confidence(&self, job: &JobCode) -> Result<UnitConfidenceShown, StatsError> {
        let mut people: Vec<&PersonId> = valid(&self.material.history)
            .filter_map(|event| match &event.kind {
                EventKind::ConfidenceSaid { person, job: what, .. } if what == job => Some(person),
                _ => None,
            })
            .collect();
        people.sort();
        people.dedup();
        let mut differences = Vec::new();
        for person in people {
            let facts = self.confidence(person, job)?;
            differences.extend(facts.and_then(|facts| facts.difference).map(|(difference, ..)| difference));
        }
        let n_people = differences.len();
        Ok(match confidence_of_unit(&differences, ConfidenceLevel::default()) {
            Some(unit) => UnitConfidenceShown::Shown {
                n_people,
                mean: unit.mean,
                interval: unit.interval,
                says: unit.says,
            },
            None => UnitConfidenceShown::TooFew { n_people, needed: practice::FEWEST_FOR_A_UNIT },
        })
    }

    /// Two watchers on one draw, and what each watcher marked beside the others.
    pub fn watching(&self) -> Result<WatchingPage, StatsError> {
        let jobs =
            self.jobs().iter().map(|(job, name)| self.watched_job(job, name)).collect::<Result<_, _>>()?;
        Ok(WatchingPage { today: self.today(), jobs })
    }

    fn watched_job(&self, job: &JobCode, name: &str) -> Result<WatchedJob, StatsError> {
        let safety = self.in_force(job).map(breakdown::Breakdown::safety_points).unwrap_or_default();
        let items = self.in_force(job).map(breakdown::Breakdown::items).unwrap_or_default();
        let text = |item: ItemId| {
            items.iter().find(|one| one.id == item).map_or_else(String::new, |one| one.text.to_owned())
        };
        let points = paired_marks(&self.material.history, job, self.today())
            .into_iter()
            .filter_map(|marks| {
                let same = marks.agreement().ok()?;
                let beyond = marks.ac1(ConfidenceLevel::default()).ok();
                Some(AgreedPoint {
                    item: marks.item,
                    text: text(marks.item),
                    safety: safety.contains(&marks.item),
                    same: pair(same),
                    beyond_chance: beyond.and_then(beyond_chance),
                })
            })
            .collect();
        let watchers = watcher_facts(&self.material.history, job, self.today())?
            .into_iter()
            .map(|facts| (self.questions_by_name(&facts), facts))
            .map(|(questions, facts)| WatcherRow {
                name: self.name_of(&facts.watcher),
                person: facts.watcher,
                marked: pair(facts.marked),
                others: facts.others.map(pair),
                so_few: facts.so_few.map(|chance| chance.get()),
                later: facts.later.map(pair),
                later_others: facts.later_others.map(pair),
                later_so_many: facts.later_so_many.map(|chance| chance.get()),
                questions,
            })
            .collect();
        Ok(WatchedJob { job: job.clone(), job_name: name.to_owned(), points, watchers })
    }

    /// The questions with the watcher's name in the place of their identifier.
    fn questions_by_name(&self, facts: &WatcherFacts) -> Vec<String> {
        let (id, name) = (&facts.watcher.0, self.name_of(&facts.watcher));
        let named = |question: &String| {
            question
                .replacen(&format!("{id} marked a missed"), &format!("{name} marked a missed"), 1)
                .replacen(&format!("whom {id} watched"), &format!("whom {name} watched"), 1)
        };
        facts.questions.iter().map(named).collect()
    }
}
