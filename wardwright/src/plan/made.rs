//! A plan made from a desk's facts and the unit's settings.

use std::time::Instant;

use ::breakdown::JobCode;
use desk::{Desk, PlanGround};
use jiff::ToSpan as _;
use jiff::civil::Date;
use stats::Probability;
use timetable::ShiftTimes;
use timetable::pairing::PairingEffort;
use timetable::plan::{Absence, Plan, PlanError, PlanFault, PlanQuestion, PlannedPairing, make_plan};

use super::gather::{CalendarAbout, no_ground};
use super::settings::Settings;
use crate::folder::Folder;
use crate::message::Message;

/// What plan is wanted.
#[derive(Debug, Clone)]
pub struct Ask {
    /// The job; the one with most learners when not given.
    pub job: Option<JobCode>,
    /// First day.
    pub from: Date,
    /// Weeks.
    pub weeks: u16,
    /// The last plan, when it is to change as little as possible.
    pub known: Option<Vec<PlannedPairing>>,
    /// Absences beside those of plan.toml.
    pub absences: Vec<Absence>,
}

impl Ask {
    /// Last day.
    pub fn until(&self) -> Date {
        self.from.saturating_add((i64::from(self.weeks) * 7 - 1).days())
    }
}

/// A plan with what it rests on.
#[derive(Debug, Clone)]
pub struct MadePlan {
    /// The plan.
    pub plan: Plan,
    /// What it was made from.
    pub ground: PlanGround,
    /// Chance of a fault on each draw that was assumed.
    pub fault_rate: Probability,
    /// Absences it reckons with.
    pub absences: Vec<Absence>,
    /// Name of the unit.
    pub unit: String,
    /// The day on which it was made.
    pub today: Date,
    /// The unit's shifts.
    pub times: ShiftTimes,
    /// Time it took.
    pub seconds: f64,
}

impl MadePlan {
    pub(super) fn about(&self) -> CalendarAbout<'_> {
        CalendarAbout {
            job: &self.ground.job,
            job_name: &self.ground.job_name,
            unit: &self.unit,
            times: self.times,
        }
    }
}

/// What a plan is made from, and the unit's settings.
pub fn ground_and_settings(
    folder: &Folder,
    desk: &Desk,
    ask: &Ask,
) -> Result<(PlanGround, Settings), Message> {
    let mut settings = Settings::read(folder)?;
    settings.absences.extend(ask.absences.iter().cloned());
    settings.absences.sort_by(|a, b| (&a.person, a.from, a.to).cmp(&(&b.person, b.from, b.to)));
    settings.absences.dedup();
    if let Some(unknown) = settings.absences.iter().find(|absence| !desk.knows(&absence.person)) {
        return Err(Message::new(
            "absence",
            format!("{:?}, whom the book does not know", unknown.person.0),
            "the staff identifier of a person of the unit",
            "correct the identifier, in --absent or in plan.toml",
        ));
    }
    let ground = desk
        .plan_ground(ask.job.as_ref(), ask.until(), &settings.assumed)
        .map_err(|error| no_ground(folder, error))?;
    Ok((ground, settings))
}

/// The question that a plan answers. Without a roster there is no ground, so there is one here.
pub fn question<'a>(
    ask: &'a Ask,
    desk: &'a Desk,
    ground: &'a PlanGround,
    settings: &'a Settings,
) -> Option<PlanQuestion<'a>> {
    Some(PlanQuestion {
        from: ask.from,
        until: ask.until(),
        roster: desk.roster()?,
        learners: &ground.learners,
        watchers: &ground.watchers,
        trainers: &ground.trainers,
        rates: &ground.rates.value,
        offered: ground.offered.value,
        absences: &settings.absences,
        checks: &ground.checks,
        limits: settings.limits,
        known: ask.known.as_deref(),
        effort: if ask.known.is_some() { PairingEffort::again() } else { PairingEffort::default() },
    })
}

/// The plan, or why none keeps every limit.
pub fn make(folder: &Folder, desk: &Desk, ask: &Ask) -> Result<Result<MadePlan, Vec<PlanFault>>, Message> {
    let (ground, settings) = ground_and_settings(folder, desk, ask)?;
    let began = Instant::now();
    let question =
        question(ask, desk, &ground, &settings).ok_or_else(|| no_ground(folder, desk::NoGround::NoRoster))?;
    let plan = match make_plan(&question) {
        Ok(plan) => plan,
        Err(PlanError::Infeasible(faults)) => return Ok(Err(faults)),
        Err(error) => {
            return Err(Message::new(
                "plan",
                error.to_string(),
                "days, limits and rates within their ranges",
                "correct plan.toml or the options named",
            ));
        }
    };
    Ok(Ok(MadePlan {
        plan,
        fault_rate: settings.assumed.fault_rate,
        absences: settings.absences,
        unit: folder.settings().unit.clone(),
        today: folder.today(),
        times: settings.times,
        seconds: began.elapsed().as_secs_f64(),
        ground,
    }))
}
