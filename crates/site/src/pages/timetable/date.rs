//! A job put on a person's timetable: by which day they are to be released.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use breakdown::JobCode;
use desk::{PersonRow, TradePage};
use jiff::civil::{Date, DateTime};
use maud::{Markup, html};
use practice::{EventKind, PersonId};
use serde::Deserialize;
use uuid::Uuid;

use crate::address::{self, quote};
use crate::ask::Site;
use crate::door::{About, Draft, Recording, Refusal};
use crate::entrance::is_chosen;
use crate::form::{self, Sent, refusals};
use crate::pages::teach_back::read_entry;
use crate::parts::section;
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// What the form holds.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub(super) struct Typed {
    entry: String,
    person: String,
    job: String,
    by: String,
    who: String,
}

/// The form. Its entry's identifier stands in the address, so that a reload is the same entry.
pub(super) async fn open(
    State(site): State<Site>,
    typed: Result<Query<Typed>, QueryRejection>,
) -> Result<Response, Problem> {
    let Ok(Query(typed)) = typed else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one person and one job".to_owned(),
            expected: "?person=...&job=..., each at most once".to_owned(),
        });
    };
    if typed.entry.is_empty() {
        let (person, job) = (PersonId(typed.person), JobCode(typed.job));
        let address = format!("{}&entry={}", address::timetable_date(&person, &job), Uuid::now_v7());
        return Ok(Redirect::to(&address).into_response());
    }
    read_entry(&typed.entry)?;
    let (about, asked) = ask(&site).await?;
    Ok(page(&site, &about, &asked, &typed, &[]).into_response())
}

/// What the form is made from.
struct Asked {
    now: DateTime,
    people: Vec<PersonRow>,
    trade: TradePage,
}

async fn ask(site: &Site) -> Result<(About, Asked), Problem> {
    site.ask(|desk| Ok(Asked { now: desk.now(), people: desk.people()?, trade: desk.trade()? })).await
}

/// A form that was sent: one entry, or the form again with what is wrong.
pub(super) async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = form::read(&site, sent)?;
    let field = |field: &str| posted.text(field).to_owned();
    let typed = Typed {
        entry: field("entry"),
        person: field("person"),
        job: field("job"),
        by: field("by"),
        who: field("who"),
    };
    let entry = read_entry(&typed.entry)?;
    let (about, asked) = ask(&site).await?;
    let mut faults: Vec<Refusal> = posted.stale.iter().cloned().collect();
    let by = typed.by.parse::<Date>().ok();
    let choose = |label: &str, expected: &str| {
        Refusal::new(label, "nothing that is in the list", expected, "choose from the list")
    };
    if !asked.people.iter().any(|row| row.id.0 == typed.person) {
        faults.push(choose("Who is to learn it", "somebody of the unit"));
    }
    if !asked.trade.jobs.iter().any(|(job, _)| job.0 == typed.job) {
        faults.push(choose("Job", "a job with a breakdown"));
    }
    if !asked.trade.trainers.iter().any(|one| one.id.0 == typed.who) {
        faults.push(choose("Set by", "a trainer of the unit"));
    }
    match by {
        None => {
            let found = if typed.by.is_empty() { "nothing".to_owned() } else { quote(&typed.by) };
            faults.push(Refusal::new("To be released by", found, "a date", "give the day"));
        }
        Some(by) if by < asked.now.date() => faults.push(Refusal::new(
            "To be released by",
            format!("{by}, which is past"),
            format!("today, {}, or a later day", asked.now.date()),
            "give a date that can still be kept",
        )),
        Some(_) => {}
    }
    if let (true, Some(by)) = (faults.is_empty(), by) {
        let draft = Draft {
            id: entry,
            happened: asked.now,
            by: PersonId(typed.who.clone()),
            what: EventKind::Planned {
                person: PersonId(typed.person.clone()),
                job: JobCode(typed.job.clone()),
                by,
            },
        };
        let (_, recording) = site.record(draft).await?;
        match recording {
            Recording::Recorded | Recording::AlreadyThere => {
                return Ok(Redirect::to("/timetable#people").into_response());
            }
            Recording::Refused(more) => faults.extend(more),
        }
    }
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&site, &about, &asked, &typed, &faults)).into_response())
}

fn page(site: &Site, about: &About, asked: &Asked, typed: &Typed, faults: &[Refusal]) -> Markup {
    let content = html! {
        header.opening {
            h1 { "Set a date" }
            p.lead { "The day by which somebody is to be released on a job. The plan of the coming weeks works towards it; it raises no standing." }
            p.papers { a href="/timetable" { "Timetable" } }
        }
        (refusals(faults))
        (section("date", "Who learns what by when", None, &fields(site, asked, typed)))
    };
    sheet::page(about, Place::Timetable, "Set a date", &content)
}

fn fields(site: &Site, asked: &Asked, typed: &Typed) -> Markup {
    html! {
        form method="post" action="/timetable/date" {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            p.field {
                label for="person" { "Who is to learn it" }
                select #person name="person" required {
                    option value="" { "choose" }
                    @for row in &asked.people {
                        option value=(row.id.0) selected[row.id.0 == typed.person] { (row.name) " (" (row.id) ")" }
                    }
                }
            }
            p.field {
                label for="job" { "Job" }
                select #job name="job" required {
                    option value="" { "choose" }
                    @for (job, job_name) in &asked.trade.jobs {
                        option value=(job.0) selected[job.0 == typed.job] { (job_name) }
                    }
                }
            }
            p.field {
                label for="by" { "To be released by" }
                input #by name="by" type="date" value=(typed.by) min=(asked.now.date()) required;
            }
            p.field {
                label for="who" { "Set by" }
                select #who name="who" required {
                    option value="" { "choose" }
                    @for one in &asked.trade.trainers {
                        option value=(one.id.0) selected[is_chosen(&typed.who, &one.id)] { (one.name) " (" (one.id) ")" }
                    }
                }
            }
            p.actions { button type="submit" { "Set the date" } }
        }
    }
}
