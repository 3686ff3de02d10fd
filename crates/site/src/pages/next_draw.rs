//! Who should take the next draw, and who watches: answered as the page opens.

use axum::Router;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::routing::get;
use breakdown::JobCode;
use desk::{NOBODY_RELEASED, NextDrawRow, OfferRow};
use jiff::civil::DateTime;
use maud::{Markup, html};
use serde::Deserialize;

use super::breakdowns::no_such_job;
use super::plan::roster_problems;
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::entrance::Viewer;
use crate::parts::{moment, name, section};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// Offers named beside the first.
const MOST_OTHERS: usize = 4;

pub(crate) fn routes() -> Router<Site> {
    Router::new().route("/next-draw", get(show))
}

/// Another moment than now, or one job alone.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    at: String,
    job: String,
}

async fn show(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Markup, Problem> {
    let Ok(Query(wanted)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one moment and one job".to_owned(),
            expected: "?at=...&job=..., each at most once".to_owned(),
        });
    };
    let asked: Option<DateTime> = match wanted.at.as_str() {
        "" => None,
        text => Some(text.parse().map_err(|_| Problem::BadAddress {
            place: "moment",
            found: format!("“{}”", quote(text)),
            expected: "a day and a time such as 2026-11-02T21:30".to_owned(),
        })?),
    };
    let job = match wanted.job.as_str() {
        "" => None,
        text => Some(JobCode(read_identifier(text, "job code")?)),
    };
    let question = job.clone();
    let (about, (at, rows, jobs, problems)) = site
        .ask(move |desk| {
            let at = asked.unwrap_or_else(|| desk.now());
            let rows = desk.next_draw(at, question.as_ref())?;
            Ok((at, rows, desk.plan_jobs()?, desk.roster_problems()?))
        })
        .await?;
    if let Some(job) = job.filter(|job| !jobs.iter().any(|(code, _)| code == job)) {
        return Err(no_such_job(&job));
    }
    Ok(sheet::page(
        &about,
        Place::NextDraw,
        "Next draw",
        &content(at, asked.is_none(), rows.as_deref(), &problems),
    ))
}

fn content(at: DateTime, is_now: bool, rows: Option<&[NextDrawRow]>, problems: &[String]) -> Markup {
    html! {
        header.opening {
            h1 { "Next draw" }
            p.lead {
                @if is_now { "Now, " } (moment(at))
                @if let Some(row) = rows.and_then(|rows| rows.first()) {
                    ", " (row.shift.1) " shift: " (row.n_on_duty) " on duty by the roster"
                }
                "."
            }
            @if !is_now { p.papers { a href="/next-draw" { "Now" } } }
        }
        @match rows {
            None => p.empty {
                "There is no roster, so nobody knows who is on shift. Put the unit’s roster into the data folder as "
                code { "roster.csv" } ", " code { "roster.xlsx" } " or " code { "roster.ics" } "."
            },
            Some([]) => p.empty { "No breakdown is in force yet, so nobody can be released on one. " a href="/start" { "Publish one first" } "." },
            Some(rows) => { @for row in rows { (one_job(row)) } },
        }
        section.caution aria-labelledby="advice" {
            h2 id="advice" { "Advice, not an order" }
            p { "The charge nurse decides, the patient comes first, and local policy comes before both." }
        }
        (roster_problems(problems))
        (section("another-time", "Another time", None, &html! {
            form.find method="get" action="/next-draw" {
                p {
                    label for="at" { "Day and time" }
                    input #at name="at" type="datetime-local" value=(at.strftime("%Y-%m-%dT%H:%M")) required;
                }
                p.actions { button type="submit" { "Show" } }
            }
        }))
    }
}

fn one_job(row: &NextDrawRow) -> Markup {
    let id = format!("job-{}", row.job);
    section(
        &id,
        &row.job_name,
        None,
        &html! {
            @match row.offers.split_first() {
                None => (nobody(row)),
                Some((first, others)) => {
                    (best(row, first))
                    @if !others.is_empty() {
                        details {
                            summary { "If that cannot be" }
                            ol {
                                @for other in others.iter().take(MOST_OTHERS) { li { (other_offer(row, other)) } }
                            }
                            @if others.len() > MOST_OTHERS {
                                p.note { (others.len() - MOST_OTHERS) " more on duty may draw alone." }
                            }
                        }
                    }
                }
            }
            @if !row.to_be_shown_first.is_empty() {
                p.note {
                    "On the timetable, and to be shown the job before they draw: "
                    @for (place, person) in row.to_be_shown_first.iter().enumerate() {
                        @if place > 0 { ", " } (name(&person.name))
                    }
                    "."
                }
            }
            p.note { a href=(address::breakdown(&row.job)) { "The breakdown with its cautions" } }
        },
    )
}

/// One tap from who takes this draw to marking it, with both names filled in.
fn begin(row: &NextDrawRow, offer: &OfferRow) -> Option<String> {
    let watcher = offer.watches.as_ref()?;
    let may_mark = Viewer::now().may_read("/observe/new");
    may_mark.then(|| address::observe_by(&offer.draws.id, &watcher.id, &row.job))
}

fn best(row: &NextDrawRow, offer: &OfferRow) -> Markup {
    html! {
        div.offer {
            p.who { span.role { "Draws" } strong { (name(&offer.draws.name)) } }
            @match &offer.watches {
                Some(watcher) => p.who { span.role { "Watches" } strong { (name(&watcher.name)) } },
                None => p.who { span.role { "Watches" } strong { "nobody needed" } },
            }
            @if offer.must_be_watched {
                p { "A learner: no draw without the watcher at the bedside, who takes over when the patient needs it." }
            }
            @if let Some((watcher, _)) = offer.watches.as_ref().zip(begin(row, offer)) {
                form method="get" action="/observe/new" {
                    input type="hidden" name="breakdown" value=(row.job);
                    input type="hidden" name="person" value=(offer.draws.id);
                    input type="hidden" name="watched" value=(watcher.id);
                    p.actions { button type="submit" { "Begin: mark this draw" } }
                }
            }
        }
        ul.reasons {
            @for why in &offer.why { li { (name(&offer.draws.name)) ": " bdi { (why) } "." } }
            @if let Some(watcher) = &offer.watches {
                @for why in &offer.why_watches { li { (name(&watcher.name)) ": " bdi { (why) } "." } }
            }
        }
    }
}

fn other_offer(row: &NextDrawRow, offer: &OfferRow) -> Markup {
    html! {
        (name(&offer.draws.name))
        @match &offer.watches {
            Some(watcher) => { " draws, " (name(&watcher.name)) " watches" }
            None => { " draws alone" }
        }
        @if let Some(why) = offer.why.first() { ": " bdi { (why) } }
        "."
        @if let Some(begin) = begin(row, offer) { " " a href=(begin) { "Mark this draw" } }
    }
}

fn nobody(row: &NextDrawRow) -> Markup {
    html! {
        div.offer.nobody { p.who { strong { "Nobody on duty may draw" } } }
        p { (NOBODY_RELEASED) }
        @match &row.next_released {
            Some((from, person)) => p {
                "By the roster " (name(&person.name)) " is the next who may draw alone, from " (moment(*from)) "."
            },
            None => p { "By the roster nobody who may draw alone comes within the next 14 days." },
        }
    }
}
