//! Follow-up after release: who is due for a check or a refresher, what watched draws say, and confidence over the unit.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use desk::{
    DueRow, FollowUpPage, FollowedJob, REFRESHERS_AHEAD_DAYS, UnitConfidenceShown, UnitDue, WatchedRow,
};
use maud::{Markup, html};
use practice::Confidence;

use super::signing::points;
use crate::address;
use crate::ask::Site;
use crate::parts::{Shape, cell, day, name, of, percent, section, shape, standing, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

pub(crate) fn routes() -> Router<Site> {
    Router::new().route("/follow-up", get(show))
}

async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, page) = site.ask(|desk| desk.follow_up()).await?;
    Ok(sheet::page(&about, Place::FollowUp, "Follow-up after release", &content(&page)))
}

/// Days ahead that the page lists; what comes later is counted.
const AHEAD_DAYS: i32 = 30;

fn content(page: &FollowUpPage) -> Markup {
    let soon: Vec<&DueRow> = page.due.iter().filter(|row| -row.late_days <= AHEAD_DAYS).collect();
    html! {
        header.opening {
            h1 { "Follow-up after release" }
            p.lead {
                "Checks thin out as clean draws come in, and begin anew after a missed safety point. A chart that signals is a reason to watch a "
                "draw and talk, not a verdict."
            }
            p.private { "For the trainer only." }
            nav.neighbours aria-label="Beside this page" {
                ul {
                    li { a href="/rules" { "Release rule" } }
                    li { a href="/watching" { "Watching" } }
                }
            }
        }
        (section("due", "Due", Some(html! { p { "Late, or within " (AHEAD_DAYS) " days of " (day(page.today)) "." } }), &html! {
            @if soon.is_empty() { p.empty { "Nothing is due within " (AHEAD_DAYS) " days." } } @else { (due(&soon)) }
            @match page.due.len() - soon.len() {
                0 => {}
                1 => { p.note { "1 more is due later." } }
                later => { p.note { (later) " more are due later." } }
            }
        }))
        (section("units", "By unit", None, &html! {
            @if page.units.is_empty() { p.empty { "Nobody is released yet. A trainer decides and signs on a person’s record, under " a href="/people" { "People" } "." } } @else { (units(&page.units)) }
        }))
        @for (place, job) in page.jobs.iter().enumerate() {
            (section(&format!("job-{place}"), &format!("Watched since release: {}", job.job_name), Some(html! {
                p { a href=(address::breakdown(&job.job)) { "The breakdown" } }
            }), &watched(job, page.rates)))
            (section(&format!("sure-{place}"), &format!("How sure they are: {}", job.job_name), None, &confidence(&job.confidence)))
        }
    }
}

fn due(rows: &[&DueRow]) -> Markup {
    let columns = ["Who", "Due", "What and why", "Job", "Standing"];
    let body = html! {
        @for row in rows {
            tr role="row" {
                th scope="row" role="rowheader" { a href=(address::signing(&row.person, &row.job)) { (name(&row.name)) } }
                (cell(columns[1], &html! {
                    (day(row.on))
                    @match row.late_days {
                        1.. => { span.due { (shape(Shape::Triangle)) (row.late_days) @if row.late_days == 1 { " day late" } @else { " days late" } } }
                        0 => { span.due { (shape(Shape::Square)) "today" } }
                        _ => { span.next { "in " (-row.late_days) @if row.late_days == -1 { " day" } @else { " days" } } }
                    }
                }))
                (cell(columns[2], &html! { (name(&row.why)) }))
                (cell(columns[3], &html! { (name(&row.job_name)) }))
                (cell(columns[4], &standing(row.level.words(), row.level.words())))
            }
        }
    };
    table("due-list", "The earliest first.", &columns, &body)
}

fn units(rows: &[UnitDue]) -> Markup {
    let ahead = format!("Refreshers due within {REFRESHERS_AHEAD_DAYS} days");
    let columns = ["Unit", "Standings followed", "Checks late", "Refreshers late", ahead.as_str()];
    let body = html! {
        @for row in rows {
            tr role="row" {
                th scope="row" role="rowheader" { (name(&row.unit)) }
                (cell(columns[1], &html! { (row.held) }))
                (cell(columns[2], &html! { (of(row.checks_late, row.held)) }))
                (cell(columns[3], &html! { (of(row.refreshers_late, row.held)) }))
                (cell(columns[4], &html! { (of(row.refreshers_ahead, row.held)) }))
            }
        }
    };
    table(
        "units",
        "One standing for each person and job. A refresher brings back a standing that lapsed or is to be updated.",
        &columns,
        &body,
    )
}

fn watched(job: &FollowedJob, rates: (f64, f64)) -> Markup {
    let columns = ["Who", "Faults", "Rate, 95\u{a0}%", "Chance of a rate too high", "Chart"];
    let signals = job.watched.iter().filter(|row| row.signal_at.is_some()).count();
    let (seen, unseen): (Vec<&WatchedRow>, Vec<&WatchedRow>) =
        job.watched.iter().partition(|row| row.faults.1 > 0);
    let body = html! {
        @for row in &seen {
            tr role="row" {
                th scope="row" role="rowheader" { a href=(address::person(&row.person)) { (name(&row.name)) } }
                (cell(columns[1], &html! { (of(row.faults.0, row.faults.1)) " draws" }))
                (cell(columns[2], &html! {
                    @match row.interval {
                        Some((lower, upper)) => { "between " (percent(lower)) " and " (percent(upper)) }
                        None => { "no draw watched" }
                    }
                }))
                (cell(columns[3], &html! { @match row.above_target { Some(chance) => { (percent(chance)) } None => { "no draw watched" } } }))
                (cell(columns[4], &html! {
                    (format!("{:.2} of {:.2}", row.value, row.limit))
                    @if let Some(at) = row.signal_at { span.due { (shape(Shape::Triangle)) "signal at draw " (at) } }
                }))
            }
        }
    };
    html! {
        @if job.watched.is_empty() { p.empty { "Nobody is released on this job." } }
        @else {
            p.sentence {
                @if signals == 0 { "No chart signals: chance explains the missed safety points." }
                @else if signals == 1 { "One chart signals. Watch a draw together before anything else." }
                @else { (signals) " charts signal. Watch a draw together before anything else." }
            }
            @if !seen.is_empty() { (table("watched", "Draws watched since release, with a missed safety point.", &columns, &body)) }
            @if !unseen.is_empty() {
                p { "No draw watched since release: "
                    @for (place, row) in unseen.iter().enumerate() {
                        @if place > 0 { ", " } a href=(address::person(&row.person)) { (name(&row.name)) }
                    }
                    "."
                }
            }
            p.note {
                "The chart (Bernoulli CUSUM) weighs a fault rate of " (percent(rates.0)) " against " (percent(rates.1)) ". While all is well it is wrong once in "
                (format!("{:.0}", job.draws_to_false_alarm)) " watched draws in the mean; once the rate is " (percent(rates.1)) " it signals after "
                (format!("{:.1}", job.draws_to_notice)) " in the mean; both are exact, so there is no interval. “Too high” is above " (percent(rates.1)) ". "
                a.method href=(address::method("fault_watch")) { "How this is worked out" }
            }
        }
    }
}

fn confidence(shown: &UnitConfidenceShown) -> Markup {
    html! {
        @match shown {
            UnitConfidenceShown::Shown { n_people, mean, interval, says } => {
                p.sentence {
                    "Of " (n_people) " people who said how sure they are, stated less observed share of clean draws is "
                    (points(*mean)) " in the mean, between " (points(interval.0)) " and " (points(interval.1)) " (95\u{a0}%, Student’s t). "
                    @match says {
                        Confidence::Over => { "Together they expect more than the watched draws show." }
                        Confidence::Under => { "Together they expect less than the watched draws show." }
                        Confidence::CannotTell => { "Together they are neither too sure nor too unsure, as far as these draws tell." }
                    }
                }
            }
            UnitConfidenceShown::TooFew { n_people, needed } => {
                p.empty {
                    "No figure for the unit: " (n_people) " people said how sure they are and have watched draws, and " (needed)
                    " are needed so that it is none of a person."
                }
            }
        }
        p.note { a.method href=(address::method("confidence_of_unit")) { "How this is worked out" } }
    }
}
