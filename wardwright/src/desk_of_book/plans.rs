//! The pages on the plan, the next draw and the timetable. Plans are worked out beside the pages and kept.

use std::collections::VecDeque;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

use ::book::Head;
use ::breakdown::JobCode;
use desk::{Desk, Kept, NextDrawRow, PlanBeside, PlanFacts, TradePage};
use jiff::civil::{Date, DateTime};
use practice::PersonId;
use site::{DeskError, Keeping, KeptPlanPage, PlanAsked, PlanDesk, Proposed};
use timetable::plan::{Absence, PlanFault, plan_as_it_stands};

use super::{DeskOfBook, failed};
use crate::folder::Folder;
use crate::message::Message;
use crate::plan::{self, Ask, KeptPlan, MadePlan, Settings};

/// How long a page waits for a plan before it says that one is being worked out.
const PATIENCE: Duration = Duration::from_millis(400);
/// Plans kept at a time.
const MOST_KEPT: usize = 12;
/// Days of coverage that the timetable shows.
const COVERAGE_DAYS: i64 = 14;
/// Weeks of a plan whose kept one does not say.
const WEEKS: u16 = 6;

/// What a plan was made from: with any of it changed, it is made again.
#[derive(Clone, PartialEq)]
struct From {
    head: Head,
    day: Date,
    files: Vec<(std::time::SystemTime, u64)>,
    known: Option<u64>,
    asked: PlanAsked,
}

/// What came of making a plan.
#[derive(Clone)]
enum Outcome {
    Made(Arc<MadePlan>),
    Impossible(Vec<PlanFault>),
    Failed(Message),
}

/// The facts, the plan that is kept, and what came of the one asked for so far.
type Standing = (Arc<Desk>, Option<KeptPlan>, Result<Outcome, Duration>);

/// Plans by what they were made from, since when; without an outcome while they are being worked out.
type Queue = VecDeque<(From, Instant, Option<Outcome>)>;

/// Plans being worked out or kept, the oldest first.
#[derive(Default)]
pub(super) struct Plans {
    kept: Arc<(Mutex<Queue>, Condvar)>,
}

impl Plans {
    /// The plan made from this, or for how long it has been at work on it.
    fn get(
        &self,
        from: &From,
        make: impl FnOnce() -> Result<Result<MadePlan, Vec<PlanFault>>, Message> + Send + 'static,
    ) -> Result<Outcome, Duration> {
        let (kept, done) = &*self.kept;
        let mut plans = kept.lock().unwrap_or_else(PoisonError::into_inner);
        if !plans.iter().any(|(known, ..)| known == from) {
            if plans.len() >= MOST_KEPT {
                plans.pop_front();
            }
            plans.push_back((from.clone(), Instant::now(), None));
            let shared = Arc::clone(&self.kept);
            let key = from.clone();
            let started = std::thread::Builder::new().name("plan".to_owned()).spawn(move || {
                let made = std::panic::catch_unwind(std::panic::AssertUnwindSafe(make));
                let outcome = match made {
                    Ok(Ok(Ok(made))) => Outcome::Made(Arc::new(made)),
                    Ok(Ok(Err(faults))) => Outcome::Impossible(faults),
                    Ok(Err(message)) => Outcome::Failed(message),
                    Err(_) => Outcome::Failed(Message::new(
                        "plan",
                        "making it stopped with a fault of the program",
                        "a plan",
                        "report this fault; the plan kept before stays",
                    )),
                };
                let (kept, done) = &*shared;
                let mut plans = kept.lock().unwrap_or_else(PoisonError::into_inner);
                if let Some((.., place)) = plans.iter_mut().find(|(known, ..)| *known == key) {
                    *place = Some(outcome);
                }
                done.notify_all();
            });
            if started.is_err() {
                plans.retain(|(known, ..)| known != from);
                return Err(Duration::ZERO);
            }
        }
        let waits =
            |plans: &mut Queue| plans.iter().any(|(known, _, outcome)| known == from && outcome.is_none());
        let (plans, _) =
            done.wait_timeout_while(plans, PATIENCE, waits).unwrap_or_else(PoisonError::into_inner);
        match plans.iter().find(|(known, ..)| known == from) {
            Some((_, _, Some(outcome))) => Ok(outcome.clone()),
            Some((_, since, None)) => Err(since.elapsed()),
            None => Err(Duration::ZERO),
        }
    }
}

impl DeskOfBook {
    fn settings(&self) -> Result<Settings, DeskError> {
        Settings::read(self.folder()).map_err(failed)
    }

    /// The plan kept for a job. One that cannot be read, as after the unit's shifts were named anew, is passed over and
    /// named on the pages: nobody waits for a file to be mended.
    fn kept(&self, job: &JobCode, settings: &Settings) -> Option<KeptPlan> {
        KeptPlan::of(self.folder(), job, settings.times).unwrap_or_default()
    }

    /// What the kept plan says of the next draw.
    fn kept_or_none(&self, job: &JobCode, settings: &Settings) -> Kept {
        let kept = self.kept(job, settings);
        let mut absences = settings.absences.clone();
        let pairings = kept.map_or_else(Vec::new, |kept| {
            absences.extend(kept.absences);
            kept.plan.pairings
        });
        Kept { pairings, absences }
    }

    /// Who should take the next draw, job by job, or in one job.
    pub fn next_draws(
        &self,
        at: DateTime,
        job: Option<&JobCode>,
    ) -> Result<Option<Vec<NextDrawRow>>, Message> {
        let desk = self.facts()?;
        let settings = Settings::read(self.folder())?;
        let wanted: Vec<JobCode> = match job {
            Some(job) => vec![job.clone()],
            None => desk.jobs().iter().map(|(job, _)| job.clone()).collect(),
        };
        Ok(wanted.iter().map(|job| desk.next_draw(job, at, &self.kept_or_none(job, &settings))).collect())
    }

    /// What is asked of the planner: from today, with the kept plan as the one to change little of.
    fn ask(&self, asked: &PlanAsked, kept: Option<&KeptPlan>) -> Ask {
        let today = self.folder().today();
        let mut absences: Vec<Absence> = kept.map_or_else(Vec::new, |kept| kept.absences.clone());
        absences.retain(|one| one.to >= today);
        absences.extend(asked.absent.iter().map(|(person, from, to)| Absence {
            person: person.clone(),
            from: *from,
            to: *to,
        }));
        let known = kept.filter(|_| !asked.anew).map(|kept| kept.plan.pairings.clone());
        Ask { job: Some(asked.job.clone()), from: today, weeks: asked.weeks, known, absences }
    }

    fn outcome(&self, asked: &PlanAsked) -> Result<Standing, Message> {
        let desk = self.facts()?;
        let folder = self.folder().clone();
        let kept = self.kept(&asked.job, &Settings::read(&folder)?);
        let head = ::book::Store::head(&folder.book()?)
            .map_err(|error| crate::book::message(&error, folder.path()))?;
        let ask = self.ask(asked, kept.as_ref());
        let from = From {
            head,
            day: folder.today(),
            files: crate::roster_file::stamp(&folder),
            known: kept.as_ref().map(|kept| mark_of(&kept.plan.pairings, &kept.absences)),
            asked: asked.clone(),
        };
        let facts = Arc::clone(&desk);
        let outcome = self.plans.get(&from, move || plan::make(&folder, &facts, &ask));
        Ok((desk, kept, outcome))
    }
}

/// Names a plan by its pairings and absences.
fn mark_of(pairings: &[timetable::plan::PlannedPairing], absences: &[Absence]) -> u64 {
    let mut hash = DefaultHasher::new();
    for one in pairings {
        (one.shift, &one.learner.0, &one.preceptor.0, one.turns, one.of_turns).hash(&mut hash);
    }
    for one in absences {
        (&one.person.0, one.from, one.to).hash(&mut hash);
    }
    hash.finish()
}

fn mark(made: &MadePlan) -> String {
    format!("{:016x}", mark_of(&made.plan.pairings, &made.absences))
}

fn notes(made: &MadePlan) -> Vec<String> {
    vec![
        format!("Release rule: {}.", made.ground.rule_name),
        made.ground.rates.from.clone(),
        made.ground.offered.from.clone(),
    ]
}

fn facts_of(desk: &Desk, made: &MadePlan, kept: Option<&KeptPlan>) -> PlanFacts {
    let people = made.ground.learners.iter().map(|learner| learner.person.clone());
    let from_today: Vec<_> = kept
        .map_or_else(Vec::new, |kept| kept.plan.pairings.clone())
        .into_iter()
        .filter(|one| one.shift.on >= made.plan.from)
        .collect();
    desk.plan_facts(
        &made.plan,
        &PlanBeside {
            job: &made.ground.job,
            draws_needed: people.zip(made.ground.draws_needed.iter().copied()).collect(),
            before: kept.map(|kept| (from_today.as_slice(), kept.plan.learners.as_slice())),
            absences: &made.absences,
            notes: notes(made),
        },
    )
}

/// The kept plan with what it still gives, seen from today.
fn seen_from_today(folder: &Folder, desk: &Desk, job: &JobCode, kept: KeptPlan) -> KeptPlanPage {
    let today = folder.today();
    let weeks = i64::from((kept.plan.until - today).get_days()) / 7 + 1;
    let ask = Ask {
        job: Some(job.clone()),
        from: today,
        weeks: u16::try_from(weeks.clamp(1, 26)).unwrap_or(WEEKS),
        known: None,
        absences: kept.absences.clone(),
    };
    let KeptPlan { mut plan, mut draws_needed, mut absences, made_on, mut notes } = kept;
    let mut broken = Vec::new();
    let seen = plan::ground_and_settings(folder, desk, &ask).map_err(|message| message.found).and_then(
        |(ground, settings)| {
            let question =
                plan::question(&ask, desk, &ground, &settings).ok_or_else(|| "no roster".to_owned())?;
            let stands = plan_as_it_stands(&question, &plan.pairings).map_err(|error| error.to_string())?;
            Ok((stands, ground, settings.absences))
        },
    );
    let not_seen_from_today = match seen {
        Err(why) => Some(why),
        Ok((stands, ground, all_absences)) => {
            let people = ground.learners.iter().map(|learner| learner.person.clone());
            draws_needed = people.zip(ground.draws_needed).collect();
            plan.learners = stands.learners;
            plan.pairings = stands.pairings;
            plan.checks = stands.checks;
            plan.from = plan.from.max(today);
            broken = stands.broken;
            absences = all_absences;
            notes =
                vec![format!("Release rule: {}.", ground.rule_name), ground.rates.from, ground.offered.from];
            None
        }
    };
    let beside = PlanBeside { job, draws_needed, before: None, absences: &absences, notes };
    KeptPlanPage {
        facts: desk.plan_facts(&plan, &beside),
        made_on,
        broken: broken.iter().map(|one| desk.plan_pair(one, None)).collect(),
        not_seen_from_today,
    }
}

impl PlanDesk for DeskOfBook {
    fn roster_problems(&self) -> Result<Vec<String>, DeskError> {
        let desk = self.facts().map_err(failed)?;
        let times = self.settings()?.times;
        let mut problems = self.shared.roster_problems();
        for (job, _) in desk.jobs() {
            if let Err(message) = KeptPlan::of(self.folder(), job, times) {
                let Message { place, found, expected, .. } = message;
                problems.push(format!(
                    "{place}: found {found}; expected {expected}; what to do: plan again and keep the new plan"
                ));
            }
        }
        Ok(problems)
    }

    fn next_draw(&self, at: DateTime, job: Option<&JobCode>) -> Result<Option<Vec<NextDrawRow>>, DeskError> {
        self.next_draws(at, job).map_err(failed)
    }

    fn plan_jobs(&self) -> Result<Vec<(JobCode, String)>, DeskError> {
        let desk = self.facts().map_err(failed)?;
        let Ok(first) = desk.job_to_plan(None) else { return Ok(Vec::new()) };
        let mut jobs = vec![first.clone()];
        jobs.extend(desk.jobs().iter().filter(|job| *job != first).cloned());
        Ok(jobs)
    }

    fn kept_plan(&self, job: &JobCode) -> Result<Option<KeptPlanPage>, DeskError> {
        let desk = self.facts().map_err(failed)?;
        Ok(self.kept(job, &self.settings()?).map(|kept| seen_from_today(self.folder(), &desk, job, kept)))
    }

    fn proposed_plan(&self, asked: &PlanAsked) -> Result<Proposed, DeskError> {
        let (desk, kept, outcome) = self.outcome(asked).map_err(failed)?;
        Ok(match outcome {
            Err(at_work) => Proposed::Working { seconds: at_work.as_secs() },
            Ok(Outcome::Impossible(faults)) => Proposed::Impossible(desk.plan_warnings(&faults)),
            Ok(Outcome::Failed(message)) => Proposed::NoGround { found: message.found, to_do: message.to_do },
            Ok(Outcome::Made(made)) => {
                let before = kept.as_ref().filter(|_| !asked.anew);
                Proposed::Made {
                    facts: Box::new(facts_of(&desk, &made, before)),
                    mark: mark(&made),
                    seconds: made.seconds,
                    changes: made.plan.changes.map(|changes| {
                        [
                            changes.n_known,
                            changes.n_kept,
                            changes.n_other_preceptor,
                            changes.n_dropped,
                            changes.n_added,
                        ]
                    }),
                }
            }
        })
    }

    fn keep_plan(&self, asked: &PlanAsked, looked_at: &str) -> Result<Keeping, DeskError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        match self.outcome(asked).map_err(failed)? {
            (_, _, Ok(Outcome::Made(made))) if mark(&made) == looked_at => {
                plan::keep(self.folder(), &made).map_err(failed)?;
                Ok(Keeping::Kept)
            }
            _ => Ok(Keeping::Overtaken),
        }
    }

    fn plan_calendar(&self, job: &JobCode, person: &PersonId) -> Result<Option<String>, DeskError> {
        let desk = self.facts().map_err(failed)?;
        let settings = self.settings()?;
        let times = settings.times;
        let Some(kept) = self.kept(job, &settings) else { return Ok(None) };
        let job_name = desk.jobs().iter().find(|(code, _)| code == job).map_or("", |(_, name)| name);
        let folder = self.folder();
        let unit = &folder.settings().unit;
        Ok(plan::calendar_of(
            &kept.plan,
            (job, job_name),
            unit,
            times,
            person,
            (folder.today(), &folder.zone_of_unit()),
        ))
    }

    fn trade(&self) -> Result<TradePage, DeskError> {
        let desk = self.facts().map_err(failed)?;
        let settings = self.settings()?;
        // Those of the settings come with each kept plan; twice said is no more.
        let mut absences = settings.absences.clone();
        for (job, _) in desk.jobs() {
            absences.extend(self.kept_or_none(job, &settings).absences);
        }
        desk.trade_page(COVERAGE_DAYS, settings.attendance, &absences)
            .map_err(|error| DeskError::Failed(error.to_string()))
    }
}
