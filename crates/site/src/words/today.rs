//! Words of the page of today: whole texts, and sentences that take names, numbers and days.

use desk::Urgency;
use maud::{Markup, html};

pub(crate) const NOT_BEGUN: &str = "Not begun yet";
pub(crate) const NO_JOBS: &str = "No breakdown is published, so nobody can learn a job yet.";
pub(crate) const NO_DATES: &str = "Nobody has a date by which to be released.";
pub(crate) const GO_ON_BEGINNING: &str = "Go on beginning";

pub(crate) const UNIT_LINE: &str = "The unit’s line";
pub(crate) const ALL_RESULTS: &str = "All results";
pub(crate) const TWELVE_MONTHS: &str = "Contamination over the last twelve closed months.";

pub(crate) const WHO_ALONE: &str = "Who may draw alone";
pub(crate) const EVERYBODY: &str = "Everybody and their standing";
pub(crate) const RELEASED: &str =
    "People released to draw without a watcher. These are counts of everybody on the unit, so no interval.";
pub(crate) const JOB: &str = "Job";
pub(crate) const MAY_DRAW_ALONE: &str = "May draw alone";
pub(crate) const MAY_WATCH: &str = "May watch";
pub(crate) const LEARNING: &str = "Learning";

pub(crate) const SHIFTS: &str = "On today’s shifts";
pub(crate) const WHO_NEXT: &str = "Who takes the next draw";
pub(crate) const COMING_SHIFTS: &str = "The coming shifts";
pub(crate) const BY_THE_ROSTER: &str =
    "By the roster and today’s standings. Counts of the people on duty, so no interval.";
pub(crate) const SHIFT_AND_JOB: &str = "Shift and job";

pub(crate) fn heading(day: &Markup) -> Markup {
    html! { "Today, " (day) }
}

/// One sentence before the list, so that a reader knows at once how long it is.
pub(crate) fn opening(n: usize, now: usize) -> String {
    match (n, now) {
        (0, _) => {
            "Nothing needs you. The next follow-up or refresher will appear here when it is due.".to_owned()
        }
        (1, 1) => "One thing needs you, today.".to_owned(),
        (1, 0) => "One thing needs you, not today.".to_owned(),
        (n, 0) => format!("{n} things need you, none of them today."),
        (n, now) if n == now => format!("{n} things need you, all by the end of today."),
        (n, now) => format!("{n} things need you, {now} of them by the end of today."),
    }
}

pub(crate) fn urgency(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::BeforeNextDraw => "Before the next draw",
        Urgency::Today => "Today",
        Urgency::ThisWeek => "This week",
        Urgency::Later => "For information",
    }
}

pub(crate) fn provisional(sets: &str, rule: &str) -> String {
    format!("Provisional, not counted yet: {sets}. Rule: {rule}.")
}

pub(crate) fn no_breakdown(start: &str) -> Markup {
    html! { "No breakdown is in force yet, so nobody can be released on one. " a href=(start) { "Begin with one" } "." }
}

/// `share` is so many of so many.
pub(crate) fn people(share: &str) -> String {
    format!("{share} people")
}

pub(crate) fn shift_of_job(shift: &str, job: &str) -> Markup {
    html! { (shift) ": " bdi { (job) } }
}

/// `share` is so many of so many, and who they are.
pub(crate) fn on_duty(share: &str, names: &[String]) -> Markup {
    html! { (share) " on duty" (who(names)) }
}

pub(crate) fn so_many(count: &str, names: &[String]) -> Markup {
    html! { (count) (who(names)) }
}

fn who(names: &[String]) -> Markup {
    html! {
        @if names.is_empty() { " (nobody)" } @else { ": " bdi { (names.join(", ")) } }
    }
}
