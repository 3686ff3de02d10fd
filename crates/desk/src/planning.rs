//! What a plan of the coming weeks is made from: learners, those who may watch, how many draws to expect.

use std::collections::BTreeSet;

use breakdown::JobCode;
use culture::CultureSet;
use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime};
use practice::{EventKind, Level, PersonId, Progress, Standing, chance_met_after};
use stats::{Probability, StatsError};
use timetable::plan::{CheckDue, LearnerToPlan};
use timetable::{DrawRates, Roster, Shift, coverage, draw_rates};

use crate::facts::{Desk, valid};

/// Weeks of sets behind the rate of draws.
const RATE_WEEKS: i64 = 26;
/// Weeks of the roster behind the share of draws that learners were offered.
const OFFERED_WEEKS: i64 = 4;
/// Share assumed where the book cannot tell: nothing is known, so half.
const OFFERED_UNKNOWN: f64 = 0.5;
/// Draws up to which the chance of meeting the rule is followed.
const MOST_DRAWS: u16 = 120;

/// What a unit assumes where its book cannot tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanAssumptions {
    /// Chance on each draw of a learner that it is not clean; 0 where only draws count.
    pub fault_rate: Probability,
    /// Share of the draws on watched shifts that are offered to learners, where the unit sets it.
    pub offered: Option<Probability>,
}

/// A number, and in a sentence what it was taken from.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate<T> {
    /// The number.
    pub value: T,
    /// What it was taken from, with the counts.
    pub from: String,
}

/// What a plan is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanGround {
    /// The job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// Name and version of the release rule.
    pub rule_name: String,
    /// Those who learn the job.
    pub learners: Vec<LearnerToPlan>,
    /// Fewest further draws by which each learner's rule can be met, in the order of the learners.
    pub draws_needed: Vec<u16>,
    /// Those who may watch, trainers among them.
    pub watchers: Vec<PersonId>,
    /// Trainers.
    pub trainers: Vec<PersonId>,
    /// Follow-up checks of those released.
    pub checks: Vec<CheckDue>,
    /// Draws on a shift.
    pub rates: Estimate<DrawRates>,
    /// Share of the draws offered to learners.
    pub offered: Estimate<Probability>,
}

/// Why there is nothing to plan from.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoGround {
    /// No breakdown of this job.
    #[error("no breakdown of the job {job:?}; the jobs are {}", .known.join(", "))]
    NoSuchJob {
        /// The job asked for.
        job: String,
        /// Those with a breakdown.
        known: Vec<String>,
    },
    /// No breakdown at all.
    #[error("no breakdown in the book")]
    NoBreakdown,
    /// No roster.
    #[error("no roster")]
    NoRoster,
    /// A number could not be worked out.
    #[error(transparent)]
    Number(#[from] StatsError),
}

impl Desk {
    /// Who works when, where the unit keeps a roster.
    pub fn roster(&self) -> Option<&Roster> {
        self.material.roster.as_ref()
    }

    /// Identifiers of the trainers on the unit.
    pub(crate) fn trainer_ids(&self) -> Vec<PersonId> {
        self.trainers().into_iter().map(|(id, _)| id).collect()
    }

    /// The job asked for, or the first by name of those with most learners.
    pub fn job_to_plan(&self, asked: Option<&JobCode>) -> Result<&(JobCode, String), NoGround> {
        let n_learners = |job: &JobCode| {
            self.standings.iter().filter(|one| one.job == *job && one.level.is_learning()).count()
        };
        match asked {
            Some(asked) => {
                self.jobs.iter().find(|(job, _)| job == asked).ok_or_else(|| NoGround::NoSuchJob {
                    job: asked.0.clone(),
                    known: self.jobs.iter().map(|(job, _)| job.0.clone()).collect(),
                })
            }
            None => {
                self.jobs.iter().rev().max_by_key(|(job, _)| n_learners(job)).ok_or(NoGround::NoBreakdown)
            }
        }
    }

    /// What a plan of one job up to a day is made from.
    pub fn plan_ground(
        &self,
        asked: Option<&JobCode>,
        until: Date,
        assumed: &PlanAssumptions,
    ) -> Result<PlanGround, NoGround> {
        let (job, job_name) = self.job_to_plan(asked)?;
        let roster = self.roster().ok_or(NoGround::NoRoster)?;
        let rule = &self.rule;
        let mine: Vec<&Standing> = self.standings.iter().filter(|standing| standing.job == *job).collect();
        let (learners, draws_needed) = mine
            .iter()
            .filter(|standing| standing.level.is_learning())
            .map(|standing| self.to_plan(standing, assumed.fault_rate, until))
            .unzip();
        let trainers = self.trainer_ids();
        let mut watchers: Vec<PersonId> = mine
            .iter()
            .filter(|standing| standing.level == Level::MayPrecept)
            .map(|standing| standing.person.clone())
            .collect();
        let others: Vec<_> = trainers.iter().filter(|one| !watchers.contains(one)).cloned().collect();
        watchers.extend(others);
        let checks = mine
            .iter()
            .filter(|standing| standing.level.may_draw_alone())
            .filter_map(|standing| {
                let due = standing.next_check.as_ref()?;
                Some(CheckDue { person: standing.person.clone(), on: due.on, why: due.why.clone() })
            })
            .collect();
        let offered = match assumed.offered {
            Some(value) => Estimate {
                value,
                from: format!(
                    "Offered to learners: {:.0} % of draws, as plan.toml says.",
                    value.get() * 100.0
                ),
            },
            None => self.offered(job, roster)?,
        };
        Ok(PlanGround {
            job: job.clone(),
            job_name: job_name.clone(),
            rule_name: format!("{}, version {}", rule.name, rule.version),
            learners,
            draws_needed,
            watchers,
            trainers,
            checks,
            rates: self.rates(job, roster)?,
            offered,
        })
    }

    fn to_plan(&self, standing: &Standing, fault_rate: Probability, until: Date) -> (LearnerToPlan, u16) {
        let rule = &self.rule;
        let progress = Progress {
            draws_counted: standing.draws_counted,
            clean_in_a_row: standing.clean_in_a_row,
            look_done: standing.look_done,
            points: standing.points,
        };
        let mut met_after = chance_met_after(rule, progress, fault_rate, MOST_DRAWS);
        // What comes after the chance has reached its end changes nothing.
        let end = met_after.iter().position(|met| *met >= 1.0 - 1e-9).unwrap_or(met_after.len() - 1);
        met_after.truncate(end + 1);
        let draws_needed = met_after.iter().position(|met| *met > 0.0).unwrap_or(usize::from(MOST_DRAWS));
        let look_after = rule
            .spot_check_from_draw
            .filter(|_| !standing.look_done)
            .map(|from| from.saturating_sub(1).saturating_sub(standing.draws_counted));
        let learner = LearnerToPlan {
            person: standing.person.clone(),
            met_after,
            by: standing.needed_by.unwrap_or(until),
            look_after,
        };
        (learner, u16::try_from(draws_needed).unwrap_or(MOST_DRAWS))
    }

    /// Times of the sets that this job covers.
    fn draws_of(&self, job: &JobCode) -> impl Iterator<Item = DateTime> {
        self.sets_of(job).filter_map(|set| set.collected.time())
    }

    /// Sets that this job covers.
    pub(crate) fn sets_of(&self, job: &JobCode) -> impl Iterator<Item = &CultureSet> {
        self.material.sets.iter().filter(|set| set.route.is_some_and(|route| self.route_is_of(route, job)))
    }

    /// The days over which draws are counted: the last half year up to yesterday, or as much of it as there is; `None`
    /// without a draw.
    pub(crate) fn counted_days(&self, draws: &[DateTime]) -> Option<(Date, Date)> {
        let to = self.today().yesterday().unwrap_or(self.today());
        let half_year = to.saturating_sub(RATE_WEEKS.weeks());
        let first = draws.iter().map(|draw| draw.date()).min()?;
        Some((half_year.max(first).min(to), to))
    }

    /// Draws per shift from the sets of the last half year, or of as much of it as the book holds.
    pub(crate) fn rates(&self, job: &JobCode, roster: &Roster) -> Result<Estimate<DrawRates>, StatsError> {
        let draws: Vec<DateTime> = self.draws_of(job).collect();
        let (from, to) = self.counted_days(&draws).unwrap_or_else(|| {
            let to = self.today().yesterday().unwrap_or(self.today());
            (to.saturating_sub(RATE_WEEKS.weeks()), to)
        });
        let within = draws.iter().filter(|draw| (from..=to).contains(&draw.date())).count();
        Ok(Estimate {
            value: draw_rates(&draws, from, to, roster.times())?,
            from: format!(
                "Draws: {within} sets of this job with a time, from {from} to {to}, by weekday and shift."
            ),
        })
    }

    /// Share of the draws on watched shifts that came to a learner, over the weeks the roster reaches back.
    pub(crate) fn offered(
        &self,
        job: &JobCode,
        roster: &Roster,
    ) -> Result<Estimate<Probability>, StatsError> {
        let to = self.today().yesterday().unwrap_or(self.today());
        let from = to.saturating_sub(OFFERED_WEEKS.weeks());
        let watched: BTreeSet<Shift> = coverage(roster, &self.standings, &self.trainer_ids(), job, from, to)
            .into_iter()
            .filter(|shift| !shift.learning.is_empty() && !shift.may_watch.is_empty())
            .map(|shift| shift.shift)
            .collect();
        let on_watched = |at: DateTime| watched.contains(&Shift::at(at, roster.times()));
        let drawn = self.draws_of(job).filter(|at| on_watched(*at)).count();
        let taught = valid(&self.material.history)
            .filter(|event| matches!(&event.kind, EventKind::DrawObserved(draw) if draw.job == *job))
            .filter(|event| on_watched(event.happened))
            .count()
            .min(drawn);
        if drawn == 0 || taught == 0 {
            return Ok(Estimate {
                value: Probability::new(OFFERED_UNKNOWN)?,
                from: format!(
                    "Offered to learners: half of the draws, an assumption: {taught} of {drawn} draws on watched \
                     shifts since {from} were observed draws. Set offered in plan.toml."
                ),
            });
        }
        Ok(Estimate {
            value: Probability::new(taught as f64 / drawn as f64)?,
            from: format!(
                "Offered to learners: {taught} of {drawn} draws on watched shifts since {from} were observed draws."
            ),
        })
    }
}
