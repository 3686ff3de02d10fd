//! Two watchers on one draw, and each watcher beside the others: questions for the trainer, never accusations.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use desk::{AgreedPoint, WatchedJob, WatcherRow, WatchingPage};
use maud::{Markup, html};

use crate::address;
use crate::ask::Site;
use crate::parts::{cell, hundredths, name, of, percent, safety_mark, section, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

pub(crate) fn routes() -> Router<Site> {
    Router::new().route("/watching", get(show))
}

async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, page) = site.ask(|desk| desk.watching()).await?;
    Ok(sheet::page(&about, Place::Watching, "Watching", &content(&page)))
}

fn content(page: &WatchingPage) -> Markup {
    html! {
        header.opening {
            h1 { "Watching" }
            p.lead {
                "Do two who watch one draw mark it alike, and does one watcher mark fewer faults than chance would give? "
                "What stands here is a question to talk about, not a verdict on anybody."
            }
            p.private { "For the trainer only." }
            nav.neighbours aria-label="Beside this page" {
                ul {
                    li { a href="/follow-up" { "Follow-up after release" } }
                    li { a href="/rules" { "Release rule" } }
                }
            }
        }
        @if page.jobs.is_empty() { p.empty { "No breakdown is published yet, so nobody has watched a draw against one. " a href="/start" { "Publish one first" } "." } }
        @for (place, job) in page.jobs.iter().enumerate() { (one_job(place, job)) }
    }
}

fn one_job(place: usize, job: &WatchedJob) -> Markup {
    let questions: Vec<&String> = job.watchers.iter().flat_map(|one| &one.questions).collect();
    let heading = format!("Questions: {}", job.job_name);
    html! {
        (section(&format!("questions-{place}"), &heading, Some(html! {
            p { a href=(address::breakdown(&job.job)) { "The breakdown" } }
        }), &html! {
            @if questions.is_empty() {
                p.sentence { "No question about watching: chance explains what differs between watchers." }
            } @else {
                ul { @for question in questions { li.question { (name(question)) } } }
            }
            @if job.watchers.is_empty() { p.empty { "Nobody has watched a draw of this job yet." } }
            @else { (watchers(&job.watchers)) }
            p.note {
                "A chance is exact: that somebody who sees what the others see would mark so few, or that learners like the others’ would miss so "
                "often, by the others’ counts and what is not known of their rate (beta-binomial, Jeffreys’ prior). It becomes a question under "
                "1 in 20, also with all watchers of the job looked at together (Benjamini and Hochberg 1995). A learner is of the watcher "
                "who watched most of their draws before release. "
                a.method href=(address::method("chance_of_so_few")) { "How this is worked out" }
            }
        }))
        (section(&format!("agree-{place}"), &format!("Two watchers on one draw: {}", job.job_name), None, &html! {
            @if job.points.is_empty() {
                p.empty {
                    "No draw of this job was marked by two people. Where two watch one draw, each writes an entry with the same specimen number, or "
                    "the same minute where none is known."
                }
            } @else {
                (agreement(&job.points))
                p.note {
                    "Of the draws on which both saw the key point. Beyond chance is Gwet’s AC1 over done, after a prompt and not done, with its 95\u{a0}% "
                    "interval; 1 is full agreement, 0 what chance gives. A point on which watchers differ is one to reword or to show once more. "
                    a.method href=(address::method("gwet_ac1")) { "How this is worked out" }
                }
            }
        }))
    }
}

fn watchers(rows: &[WatcherRow]) -> Markup {
    let columns = [
        "Watcher",
        "Faults marked",
        "Others",
        "Chance of so few",
        "Their learners later",
        "Others’ learners",
        "Chance of so many",
    ];
    let counts = |share: Option<(u64, u64)>| {
        html! {
            @match share { Some((events, trials)) => { (of(events, trials)) } None => { "none watched" } }
        }
    };
    let chance = |chance: Option<f64>| {
        html! {
            @match chance { Some(chance) => { (percent(chance)) } None => { "nobody to compare with" } }
        }
    };
    let body = html! {
        @for row in rows {
            tr role="row" {
                th scope="row" role="rowheader" { a href=(address::person(&row.person)) { (name(&row.name)) } }
                (cell(columns[1], &counts(Some(row.marked))))
                (cell(columns[2], &counts(row.others)))
                (cell(columns[3], &chance(row.so_few)))
                (cell(columns[4], &counts(row.later)))
                (cell(columns[5], &counts(row.later_others)))
                (cell(columns[6], &chance(row.later_so_many)))
            }
        }
    };
    table("watchers", "Draws with a missed safety point, of the draws watched.", &columns, &body)
}

fn agreement(points: &[AgreedPoint]) -> Markup {
    let columns = ["Key point", "Same mark", "Share", "Beyond chance"];
    let body = html! {
        @for point in points {
            tr role="row" {
                th.point scope="row" role="rowheader" {
                    span.item { (point.item) } (name(&point.text)) @if point.safety { " " (safety_mark()) }
                }
                (cell(columns[1], &html! { (of(point.same.0, point.same.1)) " draws" }))
                (cell(columns[2], &html! { (share(point.same)) }))
                (cell(columns[3], &html! {
                    @match point.beyond_chance {
                        Some((estimate, Some((lower, upper)))) => {
                            (hundredths(estimate)) ", between " (hundredths(lower)) " and " (hundredths(upper))
                        }
                        Some((estimate, None)) => { (hundredths(estimate)) "; no interval from so few draws or no difference" }
                        None => { "not worked out from so few" }
                    }
                }))
            }
        }
    };
    table("agreed", "Key points that two people marked on one draw.", &columns, &body)
}

/// A share of few draws is given by its counts alone.
fn share((same, both): (u64, u64)) -> String {
    if both < FEWEST { format!("not shown under {FEWEST} draws") } else { percent(same as f64 / both as f64) }
}

const FEWEST: u64 = 10;
