//! Why there is nothing to plan from, and a plan as calendars.

use std::collections::BTreeMap;

use ::breakdown::JobCode;
use desk::NoGround;
use exchange::roster::CalendarEvent;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use practice::PersonId;
use timetable::plan::Plan;
use timetable::{Shift, ShiftTimes};

use crate::folder::Folder;
use crate::message::Message;

/// Why there is nothing to plan from, and what to do about it.
pub fn no_ground(folder: &Folder, error: NoGround) -> Message {
    let place = folder.path().display().to_string();
    match error {
        NoGround::NoRoster => Message::new(
            place,
            "no roster",
            "roster.csv, roster.xlsx or roster.ics with the shifts of the coming weeks",
            "put the unit's roster into the data folder; docs/plan.md describes it",
        ),
        NoGround::NoSuchJob { job, known } => Message::new(
            "--job",
            format!("{job:?}"),
            format!("one of the jobs with a breakdown in the book: {}", known.join(", ")),
            "give the short name of a job",
        ),
        NoGround::NoBreakdown => Message::new(
            place,
            "no breakdown in the book",
            "a published breakdown that somebody is to learn",
            "publish one with `wardwright breakdown publish`",
        ),
        NoGround::Number(error) => Message::new(
            "plan",
            error.to_string(),
            "draws that can be counted and shares within 0 to 1",
            "check the sets taken in and plan.toml",
        ),
    }
}

/// What each event says of the plan.
pub(super) struct CalendarAbout<'a> {
    pub(super) job: &'a JobCode,
    pub(super) job_name: &'a str,
    pub(super) unit: &'a str,
    pub(super) times: ShiftTimes,
}

/// One person's own part of a plan as iCalendar; `None` for somebody who is not in it.
pub fn calendar_of(
    plan: &Plan,
    (job, job_name): (&JobCode, &str),
    unit: &str,
    times: ShiftTimes,
    person: &PersonId,
    (today, zone): (Date, &TimeZone),
) -> Option<String> {
    let about = CalendarAbout { job, job_name, unit, times };
    let events = calendars(plan, &about).remove(person)?;
    Some(exchange::roster::write_calendar(&events, today, zone))
}

/// Each person's own part of a plan.
pub(super) fn calendars(plan: &Plan, about: &CalendarAbout<'_>) -> BTreeMap<PersonId, Vec<CalendarEvent>> {
    let times = about.times;
    let mut of: BTreeMap<PersonId, Vec<CalendarEvent>> = BTreeMap::new();
    let mut add = |person: &PersonId, shift: Shift, role: &str, summary: String| {
        let event = CalendarEvent {
            uid: format!("{}-{}-{}-{}-{role}", about.job.0, shift.on, shift.kind.words(), person.0),
            from: shift.start(times),
            to: shift.end(times),
            summary,
            description: format!(
                "{}, {}. Plan, not an order: the charge nurse decides.",
                about.job_name, about.unit
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
