//! What a plan is made from, gathered from a data folder.

use std::collections::{BTreeMap, BTreeSet};

use ::book::Store as _;
use ::breakdown::JobCode;
use culture::{CultureSet, Route};
use exchange::roster::CalendarEvent;
use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime};
use practice::{
    EventKind, Level, PersonId, Progress, ReleaseRule, Role, Standing, chance_met_after, standing_events,
    standings,
};
use stats::Probability;
use timetable::plan::{CheckDue, LearnerToPlan, Plan};
use timetable::{DrawRates, Roster, Shift, ShiftTimes, coverage, draw_rates};

use super::settings::Settings;
use crate::folder::Folder;
use crate::message::Message;

/// Weeks of sets behind the rate of draws.
const RATE_WEEKS: i64 = 26;
/// Weeks of the roster behind the share of draws that learners were offered.
const OFFERED_WEEKS: i64 = 4;
/// Share assumed where the book cannot tell: nothing is known, so half.
const OFFERED_UNKNOWN: f64 = 0.5;
/// Draws up to which the chance of meeting the rule is followed.
const MOST_DRAWS: u16 = 120;

/// What a learner still needs, for people to read.
#[derive(Debug, Clone)]
pub(super) struct Needs {
    pub(super) draws_needed: u16,
}

#[derive(Debug)]
pub(super) struct Gathered {
    pub(super) today: Date,
    pub(super) unit: String,
    pub(super) job: JobCode,
    pub(super) job_name: String,
    pub(super) rule_name: String,
    pub(super) fault_rate: Probability,
    pub(super) learners: Vec<LearnerToPlan>,
    pub(super) needs: Vec<Needs>,
    pub(super) watchers: Vec<PersonId>,
    pub(super) trainers: Vec<PersonId>,
    pub(super) checks: Vec<CheckDue>,
    pub(super) roster: Roster,
    pub(super) rates: DrawRates,
    pub(super) draws_from: String,
    pub(super) offered: Probability,
    pub(super) offered_from: String,
}

pub(super) fn gather(
    folder: &Folder,
    settings: &Settings,
    job: Option<JobCode>,
    until: Date,
) -> Result<Gathered, Message> {
    let today = folder.today();
    let book = folder.book()?;
    let say = |error: ::book::BookError| crate::book::message(&error, folder.path());
    let history = ::book::history(&book).map_err(say)?;
    let sets = book.sets().map_err(say)?;
    let rule = folder.release_rule()?;
    let standings = standings(&history, today, &rule);
    let rule = practice::rule_in_force(&history, practice::end_of(today), &rule);
    let mut jobs: BTreeMap<JobCode, String> = BTreeMap::new();
    let mut trainers = Vec::new();
    let mut known = BTreeSet::new();
    let mut taught: Vec<(JobCode, DateTime)> = Vec::new();
    for standing in standing_events(&history) {
        match &standing.event.kind {
            EventKind::PersonAdded(person) => {
                known.insert(person.id.clone());
                if person.role == Role::Trainer && !trainers.contains(&person.id) {
                    trainers.push(person.id.clone());
                }
            }
            EventKind::BreakdownPublished(breakdown) => {
                jobs.insert(breakdown.code.clone(), breakdown.job.clone());
            }
            EventKind::DrawObserved(draw) => taught.push((draw.job.clone(), standing.event.happened)),
            _ => {}
        }
    }
    let away: BTreeSet<&PersonId> = standings
        .iter()
        .filter(|standing| standing.level == Level::Away)
        .map(|standing| &standing.person)
        .collect();
    trainers.retain(|trainer| !away.contains(trainer));
    let job = chosen(folder, &jobs, &standings, job)?;
    let roster = crate::roster_file::roster(folder, &known)?.ok_or_else(|| {
        Message::new(
            folder.path().display().to_string(),
            "no roster",
            "roster.csv, roster.xlsx or roster.ics with the shifts of the coming weeks",
            "put the unit's roster into the data folder; docs/plan.md describes it",
        )
    })?;
    let mine: Vec<&Standing> = standings.iter().filter(|standing| standing.job == job).collect();
    let mut learners = Vec::new();
    let mut needs = Vec::new();
    for standing in mine.iter().filter(|standing| standing.level.is_learning()) {
        let (learner, need) = to_plan(standing, &rule, settings.fault_rate, until);
        learners.push(learner);
        needs.push(need);
    }
    let mut watchers: Vec<PersonId> = mine
        .iter()
        .filter(|standing| standing.level == Level::MayPrecept)
        .map(|standing| standing.person.clone())
        .collect();
    watchers
        .extend(trainers.iter().filter(|trainer| !watchers.contains(trainer)).cloned().collect::<Vec<_>>());
    let checks = mine
        .iter()
        .filter(|standing| standing.level.may_draw_alone())
        .filter_map(|standing| {
            let due = standing.next_check.as_ref()?;
            Some(CheckDue { person: standing.person.clone(), on: due.on, why: due.why.clone() })
        })
        .collect();
    let times = ShiftTimes::default();
    let draws = draws_of(&sets, &job);
    let (rates, draws_from) = rates(&draws, today, times)?;
    let (offered, offered_from) = match settings.offered {
        Some(share) => {
            (share, format!("Offered to learners: {:.0} % of draws, as plan.toml says.", share.get() * 100.0))
        }
        None => offered(&roster, &standings, &trainers, &job, &draws, &taught, today)?,
    };
    Ok(Gathered {
        today,
        unit: folder.settings().unit.clone(),
        job_name: jobs.get(&job).cloned().unwrap_or_else(|| job.0.clone()),
        rule_name: format!("{}, version {}", rule.name, rule.version),
        fault_rate: settings.fault_rate,
        job,
        learners,
        needs,
        watchers,
        trainers,
        checks,
        roster,
        rates,
        draws_from,
        offered,
        offered_from,
    })
}

/// The job asked for, or the one with most learners.
fn chosen(
    folder: &Folder,
    jobs: &BTreeMap<JobCode, String>,
    standings: &[Standing],
    job: Option<JobCode>,
) -> Result<JobCode, Message> {
    let n_learners = |job: &JobCode| {
        standings.iter().filter(|standing| standing.job == *job && standing.level.is_learning()).count()
    };
    let listed = jobs.keys().map(|job| job.0.as_str()).collect::<Vec<_>>().join(", ");
    match job {
        Some(job) if jobs.contains_key(&job) => Ok(job),
        Some(job) => Err(Message::new(
            "--job",
            format!("{:?}", job.0),
            format!("one of the jobs with a breakdown in the book: {listed}"),
            "give the short name of a job",
        )),
        // The first of those with most learners, by name.
        None => jobs.keys().rev().max_by_key(|job| n_learners(job)).cloned().ok_or_else(|| {
            Message::new(
                folder.path().display().to_string(),
                "no breakdown in the book",
                "a published breakdown that somebody is to learn",
                "publish one with `wardwright breakdown publish`",
            )
        }),
    }
}

fn to_plan(
    standing: &Standing,
    rule: &ReleaseRule,
    fault_rate: Probability,
    until: Date,
) -> (LearnerToPlan, Needs) {
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
    (learner, Needs { draws_needed: u16::try_from(draws_needed).unwrap_or(MOST_DRAWS) })
}

fn draws_of(sets: &[CultureSet], job: &JobCode) -> Vec<DateTime> {
    let code = |route: Route| match route {
        Route::Vein | Route::Cannula => "vein",
        Route::CentralLine | Route::ArterialLine => "central-line",
    };
    sets.iter()
        .filter(|set| set.route.is_some_and(|route| code(route) == job.0))
        .filter_map(|set| set.collected.time())
        .collect()
}

/// Draws per shift from the sets of the last half year, or of as much of it as the book holds.
fn rates(draws: &[DateTime], today: Date, times: ShiftTimes) -> Result<(DrawRates, String), Message> {
    let to = today.yesterday().unwrap_or(today);
    let half_year = to.saturating_sub(RATE_WEEKS.weeks());
    let first = draws.iter().map(|draw| draw.date()).min().unwrap_or(half_year);
    let from = half_year.max(first).min(to);
    let within = draws.iter().filter(|draw| (from..=to).contains(&draw.date())).count();
    let rates = draw_rates(draws, from, to, times).map_err(|error| {
        Message::new("plan", error.to_string(), "draws that can be counted", "check the sets taken in")
    })?;
    let words =
        format!("Draws: {within} sets of this job with a time, from {from} to {to}, by weekday and shift.");
    Ok((rates, words))
}

/// Share of the draws on watched shifts that came to a learner, over the weeks the roster reaches back.
fn offered(
    roster: &Roster,
    standings: &[Standing],
    trainers: &[PersonId],
    job: &JobCode,
    draws: &[DateTime],
    taught: &[(JobCode, DateTime)],
    today: Date,
) -> Result<(Probability, String), Message> {
    let to = today.yesterday().unwrap_or(today);
    let from = to.saturating_sub(OFFERED_WEEKS.weeks());
    let watched: BTreeSet<Shift> = coverage(roster, standings, trainers, job, from, to)
        .into_iter()
        .filter(|shift| !shift.learning.is_empty() && !shift.may_watch.is_empty())
        .map(|shift| shift.shift)
        .collect();
    let on_watched = |at: DateTime| watched.contains(&Shift::at(at, ShiftTimes::default()));
    let drawn = draws.iter().filter(|at| on_watched(**at)).count();
    let taught = taught.iter().filter(|(of, at)| of == job && on_watched(*at)).count().min(drawn);
    let bad = |error: stats::StatsError| {
        Message::new("plan", error.to_string(), "a share within 0 to 1", "set offered in plan.toml")
    };
    if drawn == 0 || taught == 0 {
        let words = format!(
            "Offered to learners: half of the draws, an assumption: {taught} of {drawn} draws on watched shifts since \
             {from} were observed draws. Set offered in plan.toml."
        );
        return Ok((Probability::new(OFFERED_UNKNOWN).map_err(bad)?, words));
    }
    let share = taught as f64 / drawn as f64;
    let words = format!(
        "Offered to learners: {taught} of {drawn} draws on watched shifts since {from} were observed draws."
    );
    Ok((Probability::new(share).map_err(bad)?, words))
}

/// Each person's own part of a plan.
pub(super) fn calendars(plan: &Plan, gathered: &Gathered) -> BTreeMap<PersonId, Vec<CalendarEvent>> {
    let times = ShiftTimes::default();
    let mut of: BTreeMap<PersonId, Vec<CalendarEvent>> = BTreeMap::new();
    let mut add = |person: &PersonId, shift: Shift, role: &str, summary: String| {
        let event = CalendarEvent {
            uid: format!("{}-{}-{}-{}-{role}", gathered.job.0, shift.on, shift.kind.words(), person.0),
            from: shift.start(times),
            to: shift.end(times),
            summary,
            description: format!(
                "{}, {}. Plan, not an order: the charge nurse decides.",
                gathered.job_name, gathered.unit
            ),
        };
        of.entry(person.clone()).or_default().push(event);
    };
    for pairing in &plan.pairings {
        let (learner, preceptor) = (&pairing.learner, &pairing.preceptor);
        add(learner, pairing.shift, "learns", format!("Observed draws with {preceptor}"));
        add(preceptor, pairing.shift, &format!("watches-{learner}"), format!("Watch {learner}"));
    }
    for check in &plan.checks {
        if let (Some(shift), Some(trainer)) = (check.shift, &check.trainer) {
            add(trainer, shift, &format!("checks-{}", check.person), format!("Come by for {}", check.person));
        }
    }
    of
}
