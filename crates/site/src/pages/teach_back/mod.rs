//! A teach-back heard live: chosen, marked, summed up, saved, and read again.

mod beside;
mod confirm;
mod live;
mod result;
pub(crate) mod transcript;
mod typed;

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use breakdown::{JobCode, Version};
use desk::{PersonRow, TeachBackForm};
use maud::{Markup, html};
use practice::PersonId;
use serde::Deserialize;
use uuid::Uuid;

use super::breakdowns::no_such_job;
use super::person::no_such_person;
use super::{Segment, segment};
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::door::{About, Recording, Refusal};
use crate::form::{self, Posted, Sent};
use crate::parts::{name, section};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place, Script};
use typed::Typed;

/// What the address of a new teach-back holds.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    person: String,
    breakdown: String,
    entry: String,
    version: String,
}

/// The form on which a teach-back is heard. Without a person and a job it asks for them first; without an identifier
/// for the entry it makes one and puts it into the address, so that a reload is the same entry.
pub(crate) async fn new(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Response, Problem> {
    let Ok(Query(wanted)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one person and one breakdown".to_owned(),
            expected: "?person=...&breakdown=..., each at most once".to_owned(),
        });
    };
    if wanted.person.is_empty() || wanted.breakdown.is_empty() {
        let whither = Whither {
            address: "/teach-back/new",
            title: "Hear a teach-back",
            lead: "The learner says the job back from memory; you mark each item as it is said.",
        };
        return choose(&site, &wanted, &whither).await.map(IntoResponse::into_response);
    }
    let person = PersonId(read_identifier(&wanted.person, "staff identifier")?);
    let job = JobCode(read_identifier(&wanted.breakdown, "job code")?);
    if wanted.entry.is_empty() {
        let address = format!("{}&entry={}", address::hear_teach_back(&person, &job), Uuid::now_v7());
        return Ok(Redirect::to(&address).into_response());
    }
    let entry = read_entry(&wanted.entry)?;
    let version = read_version(&wanted.version)?;
    let (about, now, form) = ask_form(&site, &person, &job, version).await?;
    let typed = Typed::blank(entry, &form, now);
    let page = live::page(&site, &about, &form, &typed, &[]);
    Ok(page.into_response())
}

/// A form that was sent: summed up, saved, or shown again to be changed.
pub(crate) async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = form::read(&site, sent)?;
    let person = PersonId(hidden(&posted, "person", "staff identifier")?);
    let job = JobCode(hidden(&posted, "breakdown", "job code")?);
    let entry = read_entry(posted.text("entry")).map_err(as_form)?;
    let version = read_version(posted.text("version")).map_err(as_form)?;
    let (about, now, form) = ask_form(&site, &person, &job, version).await?;
    let (typed, mut faults) = Typed::read(entry, &form, &posted, now);
    faults.extend(posted.stale.clone());
    let wants = posted.text("do").to_owned();
    if wants == "change" {
        let shown: Vec<Refusal> = posted.stale.iter().cloned().collect();
        return Ok(live::page(&site, &about, &form, &typed, &shown).into_response());
    }
    let draft = match typed.draft(&form) {
        Ok(draft) if faults.is_empty() => draft,
        Ok(_) => return Ok(refuse(&site, &about, &form, &typed, &faults)),
        Err(more) => {
            faults.extend(more);
            return Ok(refuse(&site, &about, &form, &typed, &faults));
        }
    };
    if wants == "save" {
        let wanted = draft.clone();
        let (about, recording) = site.record(wanted).await?;
        return match recording {
            Recording::Recorded | Recording::AlreadyThere => {
                // The answer to a form is another page, so that loading it again sends nothing.
                Ok(Redirect::to(&address::teach_back(entry)).into_response())
            }
            Recording::Refused(faults) => Ok(refuse(&site, &about, &form, &typed, &faults)),
        };
    }
    let question = draft.clone();
    let (about, preview) = site
        .ask(move |desk| match &question.what {
            practice::EventKind::TeachBackHeard { person, teachback } => {
                desk.teach_back_preview(person, teachback, question.happened, &question.by)
            }
            _ => Ok(None),
        })
        .await?;
    let preview = preview.ok_or_else(|| no_such_person(&person))?;
    Ok(result::before_saving(&site, &about, &form, &typed, &preview, "/teach-back", &[]).into_response())
}

/// A teach-back that is in the book.
pub(crate) async fn show(State(site): State<Site>, entry: Segment<String>) -> Result<Markup, Problem> {
    let entry = read_entry(&segment(entry)?)?;
    let (about, saved) = site.ask(move |desk| desk.teach_back(entry)).await?;
    let saved = saved.ok_or_else(|| Problem::NotFound {
        what: format!(
            "No teach-back in the book has the identifier {entry}. It may not have been saved yet."
        ),
        back: Back::People,
    })?;
    Ok(result::saved(&about, entry, &saved))
}

fn refuse(site: &Site, about: &About, form: &TeachBackForm, typed: &Typed, faults: &[Refusal]) -> Response {
    (StatusCode::UNPROCESSABLE_ENTITY, live::page(site, about, form, typed, faults)).into_response()
}

async fn ask_form(
    site: &Site,
    person: &PersonId,
    job: &JobCode,
    version: Option<Version>,
) -> Result<(About, jiff::civil::DateTime, TeachBackForm), Problem> {
    let (asked_person, asked_job) = (person.clone(), job.clone());
    let (about, (now, form, known_person)) = site
        .ask(move |desk| {
            let form = desk.teach_back_form(&asked_person, &asked_job, version)?;
            let is_known = form.is_some() || desk.person(&asked_person)?.is_some();
            Ok((desk.now(), form, is_known))
        })
        .await?;
    match form {
        Some(form) => Ok((about, now, form)),
        None if !known_person => Err(no_such_person(person)),
        None => Err(match version {
            Some(version) => Problem::NotFound {
                what: format!("The book holds no version {version} of “{}”.", quote(&job.0)),
                back: Back::Breakdowns,
            },
            None => no_such_job(job),
        }),
    }
}

/// The form that somebody and a job are chosen for.
struct Whither {
    address: &'static str,
    title: &'static str,
    lead: &'static str,
}

/// Who says which job back.
async fn choose(site: &Site, wanted: &Wanted, whither: &Whither) -> Result<Markup, Problem> {
    let (about, (people, breakdowns)) = site.ask(|desk| Ok((desk.people()?, desk.breakdowns()?))).await?;
    let content = html! {
        header.opening {
            h1 { (whither.title) }
            p.lead { (whither.lead) }
        }
        @if people.is_empty() || breakdowns.is_empty() {
            p.empty {
                "A teach-back needs somebody on the unit and a breakdown in force. The unit has "
                (people.len()) " people and " (breakdowns.len()) " breakdowns. "
                a href="/start" { "Begin" } " leads there."
            }
        } @else {
            (section("choose", "Who, and which job", None, &html! {
                form.find method="get" action=(whither.address) {
                    p {
                        label for="person" { "Who says it back" }
                        select #person name="person" required {
                            option value="" { "choose" }
                            @for row in by_name(&people) {
                                option value=(row.id) selected[row.id.0 == wanted.person] { (row.name) }
                            }
                        }
                    }
                    p {
                        label for="breakdown" { "Job" }
                        select #breakdown name="breakdown" required {
                            @for each in &breakdowns {
                                option value=(each.code) selected[each.code.0 == wanted.breakdown] { (each.job) }
                            }
                        }
                    }
                    p.actions { button type="submit" { "Begin" } }
                }
            }))
        }
    };
    Ok(sheet::page(&about, Place::People, whither.title, &content))
}

fn by_name(people: &[PersonRow]) -> Vec<&PersonRow> {
    let mut people: Vec<&PersonRow> = people.iter().collect();
    people.sort_by_key(|row| row.name.to_lowercase());
    people
}

fn hidden(posted: &Posted, field: &str, what: &'static str) -> Result<String, Problem> {
    read_identifier(posted.text(field), what).map_err(as_form)
}

/// What would be wrong with an address is, in a hidden field, wrong with the form.
pub(crate) fn as_form(problem: Problem) -> Problem {
    match problem {
        Problem::BadAddress { place, found, expected } => {
            Problem::BadForm { found: format!("{found} as {place}"), expected }
        }
        other => other,
    }
}

pub(crate) fn read_entry(text: &str) -> Result<Uuid, Problem> {
    let entry = Uuid::try_parse(text).ok().filter(|entry| entry.get_version_num() == 7);
    entry.ok_or_else(|| Problem::BadAddress {
        place: "entry",
        found: format!("“{}”", quote(text)),
        expected: "an identifier these pages made, a UUID of version 7".to_owned(),
    })
}

/// Empty for the version in force.
pub(crate) fn read_version(text: &str) -> Result<Option<Version>, Problem> {
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<u32>() {
        Ok(version) if version > 0 => Ok(Some(Version(version))),
        _ => Err(Problem::BadAddress {
            place: "version",
            found: format!("“{}”", quote(text)),
            expected: "a whole number from 1".to_owned(),
        }),
    }
}

/// The person and the job a form is about, in its head.
fn about_whom(form: &TeachBackForm) -> Markup {
    html! {
        (name(&form.name)) " says back " a href=(address::breakdown(&form.breakdown.code)) { (name(&form.breakdown.job)) }
        ", version " (form.breakdown.version) "."
    }
}

fn scripted(about: &About, title: &str, content: &Markup) -> Markup {
    sheet::page_with(about, Place::People, title, content, &[Script::Drafts, Script::TeachBack])
}
