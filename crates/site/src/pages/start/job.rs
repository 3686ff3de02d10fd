//! A breakdown that comes along, read whole, held against local policy, and published.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use breakdown::{Breakdown, KeyPointKind};
use jiff::civil::DateTime;
use maud::{Markup, html};
use practice::{EventKind, PersonId};
use serde::Deserialize;
use uuid::Uuid;

use crate::address::{self, quote};
use crate::ask::Site;
use crate::door::{About, Beginning, Draft, Recording, Refusal};
use crate::entrance::is_chosen;
use crate::form::{self, Sent, refusals};
use crate::pages::breakdowns::no_such_job;
use crate::pages::teach_back::{as_form, read_entry};
use crate::parts::{caution, name, safety_mark, section};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// Longest text of who approved it.
const LONGEST: usize = 200;

/// What the address holds.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    ready: String,
}

struct Typed {
    entry: Uuid,
    at: DateTime,
    by: String,
    approved_by: String,
    read: bool,
}

/// The choice of breakdowns, or one of them.
pub(super) async fn open(
    State(site): State<Site>,
    asked: Result<Query<Asked>, QueryRejection>,
) -> Result<Markup, Problem> {
    let Ok(Query(asked)) = asked else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one breakdown".to_owned(),
            expected: "?ready=..., at most once".to_owned(),
        });
    };
    let (about, now, beginning, ready) = ask(&site).await?;
    if asked.ready.is_empty() {
        return Ok(choose(&about, &beginning, &ready));
    }
    let job = find(&ready, &asked.ready)?;
    let typed =
        Typed { entry: Uuid::now_v7(), at: now, by: String::new(), approved_by: String::new(), read: false };
    Ok(page(&site, &about, &beginning, job, &typed, &[]))
}

async fn ask(site: &Site) -> Result<(About, DateTime, Beginning, Vec<Breakdown>), Problem> {
    let (about, (now, beginning, ready)) =
        site.ask(|desk| Ok((desk.now(), desk.beginning()?, desk.ready_breakdowns()))).await?;
    Ok((about, now, beginning, ready))
}

fn find<'a>(ready: &'a [Breakdown], code: &str) -> Result<&'a Breakdown, Problem> {
    let code = breakdown::JobCode(address::read_identifier(code, "job code")?);
    ready.iter().find(|job| job.code == code).ok_or_else(|| no_such_job(&code))
}

/// A form that was sent.
pub(super) async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = form::read(&site, sent)?;
    let entry = read_entry(posted.text("entry")).map_err(as_form)?;
    let at = posted.text("at").parse().map_err(|_| Problem::BadForm {
        found: format!("“{}” as the time", quote(posted.text("at"))),
        expected: "a date and a time".to_owned(),
    })?;
    let (about, _, beginning, ready) = ask(&site).await?;
    let job = find(&ready, posted.text("ready"))?;
    let typed = Typed {
        entry,
        at,
        by: posted.text("by").to_owned(),
        approved_by: posted.text("approved-by").to_owned(),
        read: posted.text("read") == "yes",
    };
    let mut faults: Vec<Refusal> = posted.stale.iter().cloned().collect();
    if !beginning.trainers.iter().any(|(id, _)| id.0 == typed.by) {
        let found = if typed.by.is_empty() { "nobody".to_owned() } else { quote(&typed.by) };
        faults.push(Refusal::new("Published by", found, "a trainer of the unit", "choose from the list"));
    }
    let n_characters = typed.approved_by.chars().count();
    if n_characters == 0 || n_characters > LONGEST {
        faults.push(Refusal::new(
            "Approved by",
            if n_characters == 0 { "nothing".to_owned() } else { format!("{n_characters} characters") },
            format!("the role that answers for it, at most {LONGEST} characters"),
            "write who has held it against local policy",
        ));
    }
    if !typed.read {
        faults.push(Refusal::new(
            "Held against policy",
            "no tick",
            "a tick",
            "read every step below and hold it against your policy first",
        ));
    }
    let refuse = |faults: &[Refusal]| {
        let page = page(&site, &about, &beginning, job, &typed, faults);
        (StatusCode::UNPROCESSABLE_ENTITY, page).into_response()
    };
    if !faults.is_empty() {
        return Ok(refuse(&faults));
    }
    let published = Breakdown { approved_by: Some(typed.approved_by.clone()), ..job.clone() };
    let draft = Draft {
        id: entry,
        happened: at,
        by: PersonId(typed.by.clone()),
        what: EventKind::BreakdownPublished(Box::new(published)),
    };
    match site.record(draft).await?.1 {
        Recording::Recorded | Recording::AlreadyThere => Ok(Redirect::to("/start").into_response()),
        Recording::Refused(more) => Ok(refuse(&more)),
    }
}

fn choose(about: &About, beginning: &Beginning, ready: &[Breakdown]) -> Markup {
    let content = html! {
        header.opening {
            h1 { "Publish a ready breakdown" }
            p.lead { "They come along with the program. Each is a beginning, not a policy: read it whole, hold it against yours, and change it afterwards as its next version." }
            nav.neighbours aria-label="Beside this page" { ul { li { a href="/start" { "Begin" } } li { a href=(address::editor(None, None)) { "Write your own" } } } }
        }
        div.jobs {
            @for job in ready {
                @let n_points = job.steps.iter().map(|step| step.key_points.len()).sum::<usize>();
                article.job {
                    h2 { (name(&job.job)) }
                    p { "Important steps: " (job.steps.len()) ". Key points: " (n_points) ", of which safety points: " (job.safety_points().len()) "." }
                    @if beginning.jobs.iter().any(|(code, _)| *code == job.code) {
                        p { "Published already: " a href=(address::breakdown(&job.code)) { "see it" } "." }
                    } @else {
                        p.actions { a.button href=(format!("/start/breakdown?ready={}", job.code)) { "Read it and publish" } }
                    }
                }
            }
        }
    };
    sheet::page(about, Place::Breakdowns, "Publish a ready breakdown", &content)
}

fn page(
    site: &Site,
    about: &About,
    beginning: &Beginning,
    job: &Breakdown,
    typed: &Typed,
    faults: &[Refusal],
) -> Markup {
    let content = html! {
        header.opening {
            h1 { (name(&job.job)) }
            p.lead { "A breakdown that comes along. Read it whole and hold it against your policy and your laboratory’s instructions; publishing says that you did." }
            nav.neighbours aria-label="Beside this page" { ul { li { a href="/start/breakdown" { "Ready breakdowns" } } } }
        }
        (refusals(faults))
        (caution("cautions", "Cautions", &job.cautions))
        (section("steps", "Steps", Some(html! { p { (safety_mark()) " marks a safety point." } }), &html! {
            @for (number, step) in (1u16..).zip(&job.steps) {
                h3.step { span.item { (number) } bdi { (step.name) } }
                ul.points {
                    @for (point, key) in (1u16..).zip(&step.key_points) {
                        li {
                            span.item { (number) "." (point) }
                            @if key.kind == KeyPointKind::Safety { (safety_mark()) " " }
                            bdi { (key.text) }
                            @if !key.reasons.is_empty() { " " span.why { "because " bdi { (key.reasons.join("; ")) } } }
                        }
                    }
                }
            }
        }))
        (section("publish", "Publish it", Some(html! { p { "As version " (job.version) ". A published version is never changed; the next one replaces it." } }), &html! {
            @if beginning.trainers.is_empty() {
                p.empty { "A trainer publishes it, and none is on the unit yet. " a href="/start/people" { "Take in people" } " first." }
            } @else {
                form method="post" action="/start/breakdown" {
                    (site.secret().field())
                    input type="hidden" name="entry" value=(typed.entry);
                    input type="hidden" name="at" value=(typed.at);
                    input type="hidden" name="ready" value=(job.code);
                    p.field {
                        label for="by" { "Published by" }
                        select #by name="by" {
                            @if beginning.trainers.len() > 1 { option value="" { "choose" } }
                            @for (id, trainer) in &beginning.trainers { option value=(id) selected[is_chosen(&typed.by, id)] { (trainer) " (" (id) ")" } }
                        }
                    }
                    p.field {
                        label for="approved-by" { "Approved by: the role that answers for it on your unit" }
                        input #approved-by name="approved-by" value=(typed.approved_by) maxlength=(LONGEST) autocomplete="off" dir="auto";
                    }
                    p { label.pick { input type="checkbox" name="read" value="yes" checked[typed.read]; "I have held every step against local policy and the laboratory’s instructions" } }
                    p.actions { button type="submit" { "Publish" } }
                }
            }
        }))
    };
    sheet::page(about, Place::Breakdowns, &job.job, &content)
}
