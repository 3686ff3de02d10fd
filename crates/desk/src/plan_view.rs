//! A plan as a page shows it: names, weeks, and what differs from the plan kept before.

use std::collections::BTreeMap;

use breakdown::JobCode;
use jiff::ToSpan as _;
use jiff::civil::Date;
use practice::PersonId;
use timetable::plan::{Absence, LearnerPlan, Plan, PlanBottleneck, PlanFault, PlannedCheck, PlannedPairing};

use crate::facts::Desk;
use crate::next_draw::Named;

/// What a plan gives one learner.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanLearner {
    /// Who.
    pub person: Named,
    /// Their date on the timetable, or the plan's last day.
    pub by: Date,
    /// Fewest further draws by which the rule can be met; `None` where that is not known any more.
    pub draws_needed: Option<u16>,
    /// Watched shifts up to the date.
    pub n_watched: usize,
    /// Shifts up to the date.
    pub n_shifts: usize,
    /// Mean number of draws offered by then.
    pub mean_draws: f64,
    /// Chance of being done by the date.
    pub chance: f64,
    /// The same under the plan kept before.
    pub chance_before: Option<f64>,
    /// First day with a chance of a half.
    pub date_50: Option<Date>,
    /// First day with a chance of nine tenths.
    pub date_90: Option<Date>,
}

/// How a pairing differs from the plan kept before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PairChange {
    /// As before.
    Kept,
    /// The same learner and shift, with another preceptor before.
    OtherPreceptor(Named),
    /// Not in the plan before.
    Added,
}

/// One learner with one preceptor on one shift.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanPair {
    /// Day on which the shift begins, and its name.
    pub shift: (Date, String),
    /// Who learns.
    pub learner: Named,
    /// Who watches.
    pub preceptor: Named,
    /// Turns offered to the learner, of those of the shift.
    pub turns: (u8, u8),
    /// Draws expected to be offered.
    pub draws: f64,
    /// Against the plan kept before, where there is one to compare with.
    pub change: Option<PairChange>,
}

/// One week of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanWeek {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// By shift.
    pub pairs: Vec<PlanPair>,
}

/// A visit of the trainer.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanVisit {
    /// Whom the trainer watches.
    pub person: Named,
    /// Who, and on which shift; `None` when nobody who may is on a shift with them.
    pub visit: Option<(Named, Date, String)>,
    /// What for.
    pub why: String,
}

/// Something that stands in the way of the plan as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanObstacle {
    /// What would be different.
    pub without: String,
    /// Learners done in the mean: as planned, and at least so many then.
    pub learners_done: (f64, f64),
    /// The learner whom it helps most, with their chance before and after.
    pub helps_most: Option<(Named, f64, f64)>,
}

/// Something found wanting and planned around.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanWarning {
    /// Whose it is; `None` when it is the unit's.
    pub who: Option<Named>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub to_do: String,
}

/// Days on which somebody is not planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanAbsence {
    /// Who.
    pub person: Named,
    /// First day.
    pub from: Date,
    /// Last day.
    pub to: Date,
}

/// A plan as a page shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanFacts {
    /// The job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// Learners done by their dates in the mean, as the optimiser counts it.
    pub objective: f64,
    /// No plan within the limits has more.
    pub bound: f64,
    /// Learners.
    pub learners: Vec<PlanLearner>,
    /// Weeks with their pairings.
    pub weeks: Vec<PlanWeek>,
    /// Pairings of the plan kept before that are not in this one.
    pub dropped: Vec<PlanPair>,
    /// When the trainer comes by.
    pub visits: Vec<PlanVisit>,
    /// What stands in the way, the most helpful first.
    pub obstacles: Vec<PlanObstacle>,
    /// What was found wanting.
    pub warnings: Vec<PlanWarning>,
    /// Who is not planned when.
    pub absences: Vec<PlanAbsence>,
    /// What the numbers rest on, in sentences.
    pub notes: Vec<String>,
}

/// What a plan's page needs beside the plan.
#[derive(Debug, Clone)]
pub struct PlanBeside<'a> {
    /// The job.
    pub job: &'a JobCode,
    /// Fewest further draws of each learner.
    pub draws_needed: BTreeMap<PersonId, u16>,
    /// The plan kept before: its pairings from the first day on, and what it gives each learner.
    pub before: Option<(&'a [PlannedPairing], &'a [LearnerPlan])>,
    /// Absences the plan reckons with.
    pub absences: &'a [Absence],
    /// What the numbers rest on.
    pub notes: Vec<String>,
}

impl Desk {
    /// A plan with names in place of identifiers, week by week, held against the plan kept before.
    pub fn plan_facts(&self, plan: &Plan, beside: &PlanBeside<'_>) -> PlanFacts {
        let known = beside.before.map(|(pairings, _)| pairings);
        let same = |a: &PlannedPairing, b: &PlannedPairing| a.shift == b.shift && a.learner == b.learner;
        let change = |one: &PlannedPairing| {
            Some(match known?.iter().find(|other| same(one, other)) {
                None => PairChange::Added,
                Some(other) if other.preceptor == one.preceptor => PairChange::Kept,
                Some(other) => PairChange::OtherPreceptor(self.named(&other.preceptor)),
            })
        };
        let dropped = known
            .into_iter()
            .flatten()
            .filter(|one| (plan.from..=plan.until).contains(&one.shift.on))
            .filter(|one| !plan.pairings.iter().any(|other| same(one, other)))
            .map(|one| self.plan_pair(one, None))
            .collect();
        let before = |person: &PersonId| {
            let (_, learners) = beside.before?;
            learners.iter().find(|one| one.person == *person).map(|one| one.done_by_date.get())
        };
        PlanFacts {
            job: beside.job.clone(),
            job_name: self.name_of_job(beside.job),
            from: plan.from,
            until: plan.until,
            objective: plan.objective,
            bound: plan.bound,
            learners: plan
                .learners
                .iter()
                .map(|one| PlanLearner {
                    person: self.named(&one.person),
                    by: one.by,
                    draws_needed: beside.draws_needed.get(&one.person).copied(),
                    n_watched: one.n_watched,
                    n_shifts: one.n_shifts,
                    mean_draws: one.mean_draws,
                    chance: one.done_by_date.get(),
                    chance_before: before(&one.person),
                    date_50: one.date_50,
                    date_90: one.date_90,
                })
                .collect(),
            weeks: self.weeks(plan.from, plan.until, &plan.pairings, change),
            dropped,
            visits: plan.checks.iter().map(|check| self.plan_visit(check)).collect(),
            obstacles: plan.bottlenecks.iter().map(|one| self.plan_obstacle(one)).collect(),
            warnings: self.plan_warnings(&plan.faults),
            absences: beside
                .absences
                .iter()
                .map(|one| PlanAbsence { person: self.named(&one.person), from: one.from, to: one.to })
                .collect(),
            notes: beside.notes.clone(),
        }
    }

    /// Faults of a plan, or why there is none, with names.
    pub fn plan_warnings(&self, faults: &[PlanFault]) -> Vec<PlanWarning> {
        faults
            .iter()
            .map(|fault| PlanWarning {
                who: fault.person.as_ref().map(|id| self.named(id)),
                found: fault.found.clone(),
                expected: fault.expected.clone(),
                to_do: fault.what_to_do.clone(),
            })
            .collect()
    }

    /// One pairing with names.
    pub fn plan_pair(&self, one: &PlannedPairing, change: Option<PairChange>) -> PlanPair {
        PlanPair {
            shift: (one.shift.on, one.shift.kind.words().to_owned()),
            learner: self.named(&one.learner),
            preceptor: self.named(&one.preceptor),
            turns: (one.turns, one.of_turns),
            draws: one.draws,
            change,
        }
    }

    pub(crate) fn name_of_job(&self, job: &JobCode) -> String {
        self.jobs.iter().find(|(code, _)| code == job).map_or_else(|| job.0.clone(), |(_, name)| name.clone())
    }

    fn weeks(
        &self,
        from: Date,
        until: Date,
        pairings: &[PlannedPairing],
        change: impl Fn(&PlannedPairing) -> Option<PairChange>,
    ) -> Vec<PlanWeek> {
        from.series(7.days())
            .take_while(|week| *week <= until)
            .map(|week| {
                let end = week.saturating_add(6.days()).min(until);
                let within = |one: &&PlannedPairing| (week..=end).contains(&one.shift.on);
                let pairs =
                    pairings.iter().filter(within).map(|one| self.plan_pair(one, change(one))).collect();
                PlanWeek { from: week, until: end, pairs }
            })
            .collect()
    }

    fn plan_visit(&self, check: &PlannedCheck) -> PlanVisit {
        let visit = check.trainer.as_ref().zip(check.shift);
        PlanVisit {
            person: self.named(&check.person),
            visit: visit
                .map(|(trainer, shift)| (self.named(trainer), shift.on, shift.kind.words().to_owned())),
            why: check.why.clone(),
        }
    }

    fn plan_obstacle(&self, one: &PlanBottleneck) -> PlanObstacle {
        PlanObstacle {
            without: one.without.clone(),
            learners_done: one.learners_done,
            helps_most: one
                .helps_most
                .as_ref()
                .map(|(person, before, after)| (self.named(person), *before, *after)),
        }
    }
}
