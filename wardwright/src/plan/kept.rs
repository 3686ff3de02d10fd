//! The plan a unit keeps: a file beside the book, in the form of `wardwright plan --json`.
//!
//! It is a file and not an entry, because a plan is advice about days to come and no record of what happened: nobody's
//! standing rests on it, the next plan replaces it, and the book would carry every draft of it for good. What is done of
//! it comes into the book as observed draws.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use ::breakdown::JobCode;
use jiff::civil::Date;
use practice::PersonId;
use serde::Deserialize;
use stats::Probability;
use timetable::plan::{Absence, LearnerPlan, Plan, PlanBottleneck, PlanFault, PlannedCheck, PlannedPairing};
use timetable::{Shift, ShiftTimes};

use super::{MadePlan, json};
use crate::folder::{Folder, read as read_bytes, write_over};
use crate::message::Message;

/// A plan read back.
#[derive(Debug, Clone)]
pub struct KeptPlan {
    /// The plan.
    pub plan: Plan,
    /// Fewest further draws of each learner when it was made.
    pub draws_needed: BTreeMap<PersonId, u16>,
    /// Absences it reckons with.
    pub absences: Vec<Absence>,
    /// Day on which it was made.
    pub made_on: Option<Date>,
    /// What its numbers rest on, in sentences.
    pub notes: Vec<String>,
}

impl KeptPlan {
    /// The plan kept for a job; `None` where none is.
    pub fn of(folder: &Folder, job: &JobCode, times: ShiftTimes) -> Result<Option<KeptPlan>, Message> {
        let path = path_of(folder, job);
        if path.exists() { KeptPlan::read(&path, job, times).map(Some) } else { Ok(None) }
    }

    /// Reads a plan of a job. What it says beside its pairings may be missing.
    pub fn read(path: &Path, job: &JobCode, times: ShiftTimes) -> Result<KeptPlan, Message> {
        let refused = |found: String| {
            Message::new(
                path.display().to_string(),
                found,
                "a plan written by `wardwright plan`, schema 1",
                "give the file of the last plan, or plan without it",
            )
        };
        let file: PlanFile =
            serde_json::from_slice(&read_bytes(path)?).map_err(|error| refused(error.to_string()))?;
        if file.schema != 1 {
            return Err(refused(format!("schema {}", file.schema)));
        }
        if file.job != job.0 {
            return Err(refused(format!("a plan for the job {:?}, not {:?}", file.job, job.0)));
        }
        file.plan(times).map_err(refused)
    }
}

/// Where a job's plan is kept. The job's short name is spelled so that it is one file name.
pub fn path_of(folder: &Folder, job: &JobCode) -> PathBuf {
    let spelled: String = job
        .0
        .chars()
        .map(|sign| if sign.is_ascii_alphanumeric() || sign == '-' { sign } else { '_' })
        .collect();
    folder.path().join(format!("plan-{spelled}.json"))
}

/// Keeps a plan in place of the one kept before. The file is written whole beside and then takes the old one's name, so
/// that a fault on the way leaves the last good plan.
pub fn keep(folder: &Folder, made: &MadePlan) -> Result<(), Message> {
    let path = path_of(folder, &made.ground.job);
    let beside = path.with_extension("json.new");
    write_over(&beside, json::object(made).as_bytes())?;
    std::fs::rename(&beside, &path).map_err(|error| {
        Message::new(
            path.display().to_string(),
            format!("could not be replaced: {error}"),
            "a folder that can be written to",
            "the plan kept before is still there; check the folder's permissions and try again",
        )
    })
}

#[derive(Debug, Deserialize)]
struct PlanFile {
    schema: u32,
    job: String,
    #[serde(default)]
    from: Option<String>,
    #[serde(default)]
    until: Option<String>,
    #[serde(default)]
    made_on: Option<String>,
    #[serde(default)]
    objective: f64,
    #[serde(default)]
    bound: f64,
    #[serde(default)]
    learners: Vec<LearnerFile>,
    assignments: Vec<AssignmentFile>,
    #[serde(default)]
    checks: Vec<CheckFile>,
    #[serde(default)]
    bottlenecks: Vec<BottleneckFile>,
    #[serde(default)]
    faults: Vec<FaultFile>,
    #[serde(default)]
    absences: Vec<AbsenceFile>,
    #[serde(default)]
    release_rule: String,
    #[serde(default)]
    draws_from: String,
    #[serde(default)]
    offered_from: String,
}

#[derive(Debug, Deserialize)]
struct LearnerFile {
    person: String,
    needed_by: String,
    draws_needed: u16,
    shifts: usize,
    watched_shifts: usize,
    expected_draws: f64,
    p_done_by_date: f64,
    date_50: Option<String>,
    date_90: Option<String>,
}

#[derive(Debug, Deserialize)]
struct AssignmentFile {
    date: String,
    shift: String,
    learner: String,
    preceptor: String,
    turns: u8,
    of_turns: u8,
    #[serde(default)]
    expected_draws: f64,
}

#[derive(Debug, Deserialize)]
struct CheckFile {
    person: String,
    trainer: Option<String>,
    date: Option<String>,
    shift: Option<String>,
    why: String,
}

#[derive(Debug, Deserialize)]
struct BottleneckFile {
    without: String,
    learners_done: f64,
    learners_done_then: f64,
    helps_most: Option<HelpsFile>,
}

#[derive(Debug, Deserialize)]
struct HelpsFile {
    person: String,
    p_done_by_date: f64,
    p_done_by_date_then: f64,
}

#[derive(Debug, Deserialize)]
struct FaultFile {
    person: Option<String>,
    found: String,
    expected: String,
    what_to_do: String,
}

#[derive(Debug, Deserialize)]
struct AbsenceFile {
    person: String,
    from: String,
    to: String,
}

fn day(text: &str) -> Result<Date, String> {
    text.parse().map_err(|_| format!("the date {text:?}"))
}

fn shift(on: &str, name: &str, times: ShiftTimes) -> Result<Shift, String> {
    let kind = times.kind(name).ok_or_else(|| format!("the shift {name:?}, which the unit does not have"))?;
    Ok(Shift { on: day(on)?, kind })
}

impl PlanFile {
    fn plan(self, times: ShiftTimes) -> Result<KeptPlan, String> {
        let pairings = self
            .assignments
            .into_iter()
            .map(|one| {
                if one.of_turns == 0 || one.turns > one.of_turns {
                    return Err(format!("{} of {} turns", one.turns, one.of_turns));
                }
                Ok(PlannedPairing {
                    shift: shift(&one.date, &one.shift, times)?,
                    learner: PersonId(one.learner),
                    preceptor: PersonId(one.preceptor),
                    turns: one.turns,
                    of_turns: one.of_turns,
                    draws: one.expected_draws,
                })
            })
            .collect::<Result<Vec<_>, String>>()?;
        let first = pairings.iter().map(|one| one.shift.on).min().unwrap_or(Date::MIN);
        let last = pairings.iter().map(|one| one.shift.on).max().unwrap_or(Date::MIN);
        let or = |text: Option<&str>, other: Date| text.map_or(Ok(other), day);
        let draws_needed =
            self.learners.iter().map(|one| (PersonId(one.person.clone()), one.draws_needed)).collect();
        let maybe = |text: Option<String>| text.as_deref().map(day).transpose();
        let plan = Plan {
            from: or(self.from.as_deref(), first)?,
            until: or(self.until.as_deref(), last)?,
            objective: self.objective,
            bound: self.bound,
            learners: self
                .learners
                .into_iter()
                .map(|one| {
                    Ok(LearnerPlan {
                        person: PersonId(one.person),
                        by: day(&one.needed_by)?,
                        n_shifts: one.shifts,
                        n_watched: one.watched_shifts,
                        mean_draws: one.expected_draws,
                        done_by_date: Probability::new(one.p_done_by_date)
                            .map_err(|error| error.to_string())?,
                        date_50: maybe(one.date_50)?,
                        date_90: maybe(one.date_90)?,
                    })
                })
                .collect::<Result<_, String>>()?,
            pairings,
            checks: self
                .checks
                .into_iter()
                .map(|one| {
                    let shift = one.date.as_deref().zip(one.shift.as_deref());
                    Ok(PlannedCheck {
                        person: PersonId(one.person),
                        trainer: one.trainer.map(PersonId),
                        shift: shift.map(|(on, name)| self::shift(on, name, times)).transpose()?,
                        why: one.why,
                    })
                })
                .collect::<Result<_, String>>()?,
            bottlenecks: self
                .bottlenecks
                .into_iter()
                .map(|one| PlanBottleneck {
                    without: one.without,
                    learners_done: (one.learners_done, one.learners_done_then),
                    helps_most: one
                        .helps_most
                        .map(|most| (PersonId(most.person), most.p_done_by_date, most.p_done_by_date_then)),
                })
                .collect(),
            changes: None,
            faults: self
                .faults
                .into_iter()
                .map(|one| PlanFault {
                    person: one.person.map(PersonId),
                    found: one.found,
                    expected: one.expected,
                    what_to_do: one.what_to_do,
                })
                .collect(),
        };
        let absences = self
            .absences
            .into_iter()
            .map(|one| Ok(Absence { person: PersonId(one.person), from: day(&one.from)?, to: day(&one.to)? }))
            .collect::<Result<_, String>>()?;
        let mut notes: Vec<String> = Vec::new();
        if !self.release_rule.is_empty() {
            notes.push(format!("Release rule: {}.", self.release_rule));
        }
        notes.extend([self.draws_from, self.offered_from].into_iter().filter(|note| !note.is_empty()));
        Ok(KeptPlan { plan, draws_needed, absences, made_on: maybe(self.made_on)?, notes })
    }
}
