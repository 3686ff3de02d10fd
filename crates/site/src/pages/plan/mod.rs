//! The plan of the coming weeks: kept, proposed, planned again, kept anew, taken along as a calendar.

mod shown;

pub(crate) use shown::{chance, on_shift};

use axum::Router;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use breakdown::JobCode;
use desk::PersonRow;
use jiff::civil::Date;
use maud::{Markup, html};
use practice::PersonId;
use serde::Deserialize;

use super::breakdowns::no_such_job;
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::door::{About, Keeping, PlanAsked, Proposed, Refusal};
use crate::form::{self, Sent, refusals};
use crate::parts::{name, section};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// Weeks planned where nobody says.
const WEEKS: u16 = 6;
/// Most weeks of a plan.
const MOST_WEEKS: u16 = 26;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/plan", get(show).post(keep))
        .route("/plan/proposed", get(proposed))
        .route("/plan/calendars/{job}/{file}", get(calendar))
}

/// What an address of the plan asks for.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
struct Wanted {
    job: String,
    weeks: String,
    person: String,
    from: String,
    to: String,
    anew: String,
    overtaken: String,
}

type Asked = Result<Query<Wanted>, QueryRejection>;

fn read(asked: Asked) -> Result<Wanted, Problem> {
    asked.map(|Query(wanted)| wanted).map_err(|_| Problem::BadAddress {
        place: "query",
        found: "something other than one job, one number of weeks and one absence".to_owned(),
        expected: "?job=...&weeks=...&person=...&from=...&to=..., each at most once".to_owned(),
    })
}

/// The jobs that can be planned, and the one asked for.
pub(super) struct Jobs {
    job: JobCode,
    all: Vec<(JobCode, String)>,
    people: Vec<PersonRow>,
    today: Date,
    /// What could not be read of the roster.
    roster_problems: Vec<String>,
}

async fn jobs(site: &Site, wanted: &Wanted) -> Result<(About, Option<Jobs>), Problem> {
    let asked = match wanted.job.as_str() {
        "" => None,
        text => Some(JobCode(read_identifier(text, "job code")?)),
    };
    let (about, (all, people, today, roster_problems)) = site
        .ask(|desk| Ok((desk.plan_jobs()?, desk.people()?, desk.now().date(), desk.roster_problems()?)))
        .await?;
    let job = match asked {
        Some(job) if all.iter().any(|(code, _)| *code == job) => Some(job),
        Some(job) => return Err(no_such_job(&job)),
        None => all.first().map(|(code, _)| code.clone()),
    };
    Ok((about, job.map(|job| Jobs { job, all, people, today, roster_problems })))
}

/// The kept plan; where none is kept, the one that could be.
async fn show(State(site): State<Site>, asked: Asked) -> Result<Response, Problem> {
    let wanted = read(asked)?;
    let (about, Some(jobs)) = jobs(&site, &wanted).await? else {
        let (about, _) = site.ask(|_| Ok(())).await?;
        let content = html! {
            header.opening { h1 { "Plan" } }
            p.empty { "No breakdown is in the book yet, so there is no job to plan. " a href="/start" { "Publish one first" } "." }
        };
        return Ok(sheet::page(&about, Place::Plan, "Plan", &content).into_response());
    };
    let job = jobs.job.clone();
    let (_, kept) = site.ask(move |desk| desk.kept_plan(&job)).await?;
    match kept {
        Some(kept) => {
            let content = shown::kept(&kept, &jobs, &again(&jobs, &wanted, &[]));
            Ok(sheet::page(&about, Place::Plan, "Plan", &content).into_response())
        }
        None => propose(&site, &about, &jobs, &wanted, StatusCode::OK).await,
    }
}

/// A plan from today's state, held against the kept one; nothing is kept yet.
async fn proposed(State(site): State<Site>, asked: Asked) -> Result<Response, Problem> {
    let wanted = read(asked)?;
    let (about, Some(jobs)) = jobs(&site, &wanted).await? else {
        return Ok(Redirect::to("/plan").into_response());
    };
    propose(&site, &about, &jobs, &wanted, StatusCode::OK).await
}

async fn propose(
    site: &Site,
    about: &About,
    jobs: &Jobs,
    wanted: &Wanted,
    status: StatusCode,
) -> Result<Response, Problem> {
    let asked = match asked_of(jobs, wanted) {
        Ok(asked) => asked,
        Err(faults) => {
            let content = html! {
                header.opening { h1 { "Plan again" } }
                (refusals(&faults))
                (again(jobs, wanted, &faults))
            };
            let page = sheet::page(about, Place::Plan, "Plan again", &content);
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    let question = asked.clone();
    let (_, (proposed, has_kept)) = site
        .ask(move |desk| Ok((desk.proposed_plan(&question)?, desk.kept_plan(&question.job)?.is_some())))
        .await?;
    // The page loads itself again, without a script: soon at first, then less often, so that it can be read.
    let again_after = match proposed {
        Proposed::Working { seconds: ..5 } => Some("1"),
        Proposed::Working { .. } => Some("5"),
        _ => None,
    };
    let keep = |mark: &str| keep_form(site, &asked, mark);
    let overtaken = !wanted.overtaken.is_empty();
    let content = shown::proposed(&proposed, jobs, has_kept, overtaken, keep, &again(jobs, wanted, &[]));
    let mut response = (status, sheet::page(about, Place::Plan, "Proposed plan", &content)).into_response();
    if let Some(seconds) = again_after {
        response.headers_mut().insert(HeaderName::from_static("refresh"), HeaderValue::from_static(seconds));
    }
    Ok(response)
}

/// What an address asks for, or what is wrong with it.
fn asked_of(jobs: &Jobs, wanted: &Wanted) -> Result<PlanAsked, Vec<Refusal>> {
    let mut faults = Vec::new();
    let weeks = match wanted.weeks.trim() {
        "" => WEEKS,
        text => text.parse().ok().filter(|weeks| (1..=MOST_WEEKS).contains(weeks)).unwrap_or_else(|| {
            faults.push(Refusal::new(
                "Weeks",
                quote(text),
                format!("a whole number from 1 to {MOST_WEEKS}"),
                "correct the number",
            ));
            WEEKS
        }),
    };
    let mut day = |label: &str, text: &str| -> Option<Date> {
        let read = text.trim().parse().ok();
        if read.is_none() {
            let found = if text.trim().is_empty() { "nothing".to_owned() } else { quote(text) };
            faults.push(Refusal::new(label, found, "a date such as 2026-11-05", "give the date"));
        }
        read
    };
    let mut absent = None;
    if !wanted.person.trim().is_empty() {
        let days = (day("First day away", &wanted.from), day("Last day away", &wanted.to));
        let person = PersonId(wanted.person.trim().to_owned());
        if !jobs.people.iter().any(|row| row.id == person) {
            faults.push(Refusal::new(
                "Who is away",
                quote(&person.0),
                "somebody of the unit",
                "choose a name from the list",
            ));
        }
        if let (Some(from), Some(to)) = days {
            if to < from {
                faults.push(Refusal::new(
                    "Last day away",
                    to.to_string(),
                    format!("{from} or a later day"),
                    "correct one of the two dates",
                ));
            } else if to < jobs.today {
                faults.push(Refusal::new(
                    "Last day away",
                    format!("{to}, which is past"),
                    format!("today, {}, or a later day", jobs.today),
                    "correct the date: a plan is made from today on",
                ));
            }
            absent = Some((person, from, to));
        }
    } else if !wanted.from.trim().is_empty() || !wanted.to.trim().is_empty() {
        faults.push(Refusal::new(
            "Who is away",
            "nobody chosen",
            "the person whose days these are",
            "choose a name, or leave both dates empty",
        ));
    }
    if faults.is_empty() {
        Ok(PlanAsked { job: jobs.job.clone(), weeks, absent, anew: wanted.anew == "yes" })
    } else {
        Err(faults)
    }
}

/// The form that plans again.
fn again(jobs: &Jobs, wanted: &Wanted, _faults: &[Refusal]) -> Markup {
    let weeks = if wanted.weeks.is_empty() { WEEKS.to_string() } else { wanted.weeks.clone() };
    section(
        "again",
        "Plan again",
        Some(html! { p { "Shows what would change. Nothing is kept until you say so." } }),
        &html! {
            form method="get" action="/plan/proposed" {
                input type="hidden" name="job" value=(jobs.job.0);
                p.field {
                    label for="person" { "Somebody away (leave empty when nobody is)" }
                    select #person name="person" {
                        option value="" { "nobody" }
                        @for row in &jobs.people {
                            option value=(row.id.0) selected[row.id.0 == wanted.person] { (row.name) " (" (row.id) ")" }
                        }
                    }
                }
                div.fields {
                    p.field {
                        label for="from" { "First day away" }
                        input #from name="from" type="date" value=(wanted.from);
                    }
                    p.field {
                        label for="to" { "Last day away" }
                        input #to name="to" type="date" value=(wanted.to);
                    }
                }
                p.field {
                    label for="weeks" { "Weeks from today, 1 to " (MOST_WEEKS) }
                    input #weeks name="weeks" inputmode="numeric" maxlength="2" value=(weeks) autocomplete="off";
                }
                p.field {
                    label.pick for="anew" {
                        input #anew type="checkbox" name="anew" value="yes" checked[wanted.anew == "yes"];
                        "Without regard to the plan kept so far"
                    }
                }
                p.actions { button type="submit" { "Show what would change" } }
            }
        },
    )
}

/// The form that keeps exactly this proposal.
fn keep_form(site: &Site, asked: &PlanAsked, mark: &str) -> Markup {
    let (person, from, to) = match &asked.absent {
        Some((person, from, to)) => (person.0.clone(), from.to_string(), to.to_string()),
        None => Default::default(),
    };
    html! {
        form method="post" action="/plan" {
            (site.secret().field())
            input type="hidden" name="job" value=(asked.job.0);
            input type="hidden" name="weeks" value=(asked.weeks);
            input type="hidden" name="person" value=(person);
            input type="hidden" name="from" value=(from);
            input type="hidden" name="to" value=(to);
            input type="hidden" name="anew" value=(if asked.anew { "yes" } else { "" });
            input type="hidden" name="mark" value=(mark);
            p.actions { button type="submit" { "Keep this plan" } }
        }
    }
}

/// Keeps a proposal that was looked at.
async fn keep(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = form::read(&site, sent)?;
    let field = |field: &str| posted.text(field).to_owned();
    let wanted = Wanted {
        job: field("job"),
        weeks: field("weeks"),
        person: field("person"),
        from: field("from"),
        to: field("to"),
        anew: field("anew"),
        overtaken: String::new(),
    };
    let (about, Some(jobs)) = jobs(&site, &wanted).await? else {
        return Ok(Redirect::to("/plan").into_response());
    };
    let asked = match asked_of(&jobs, &wanted) {
        Ok(asked) if posted.stale.is_none() => asked,
        // What was typed is shown again, with what is wrong.
        _ => return propose(&site, &about, &jobs, &wanted, StatusCode::UNPROCESSABLE_ENTITY).await,
    };
    let mark = posted.text("mark").to_owned();
    let question = asked.clone();
    let (_, keeping) = site.ask(move |desk| desk.keep_plan(&question, &mark)).await?;
    Ok(match keeping {
        Keeping::Kept => Redirect::to(&address::plan(&asked.job)).into_response(),
        Keeping::Overtaken => Redirect::to(&address::proposed_plan(&asked, true)).into_response(),
    })
}

/// One person's own part of the kept plan.
async fn calendar(
    State(site): State<Site>,
    path: Result<Path<(String, String)>, axum::extract::rejection::PathRejection>,
) -> Result<Response, Problem> {
    let Ok(Path((job, file))) = path else {
        return Err(Problem::BadAddress {
            place: "name",
            found: "an escape that is not UTF-8 text".to_owned(),
            expected: "text in UTF-8, escaped with % where needed".to_owned(),
        });
    };
    let job = JobCode(read_identifier(&job, "job code")?);
    let nothing = || Problem::NotFound {
        what: "The kept plan has nothing of this name.".to_owned(),
        back: Back::Today,
    };
    let person = file.strip_suffix(".ics").ok_or_else(nothing)?;
    let person = PersonId(read_identifier(person, "staff identifier")?);
    let (_, text) = site.ask(move |desk| desk.plan_calendar(&job, &person)).await?;
    let text = text.ok_or_else(nothing)?;
    let mut response = text.into_response();
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("text/calendar; charset=utf-8"));
    headers
        .insert(header::CONTENT_DISPOSITION, HeaderValue::from_static("attachment; filename=\"plan.ics\""));
    Ok(response)
}

/// Most problems of a roster listed.
const MOST_PROBLEMS: usize = 20;

/// What could not be read of the roster; nothing when all of it was.
pub(crate) fn roster_problems(problems: &[String]) -> Markup {
    html! {
        @if !problems.is_empty() {
            section.caution aria-labelledby="roster-problems" {
                h2 id="roster-problems" { "Not read of the roster or the kept plan: " (problems.len()) }
                p { "What is named here is left out; the rest is used. The page follows when the file is mended." }
                ul { @for problem in problems.iter().take(MOST_PROBLEMS) { li { bdi { (problem) } } } }
                @if problems.len() > MOST_PROBLEMS { p { "And " (problems.len() - MOST_PROBLEMS) " more." } }
            }
        }
    }
}

/// The other jobs, and the pages beside this one.
fn neighbours(jobs: &Jobs) -> Markup {
    html! {
        nav.neighbours aria-label="Other plans" {
            ul {
                @for (job, job_name) in &jobs.all {
                    @if *job != jobs.job { li { a href=(address::plan(job)) { (name(job_name)) } } }
                }
                li { a href="/next-draw" { "Next draw" } }
                li { a href="/timetable" { "Timetable" } }
            }
        }
    }
}
