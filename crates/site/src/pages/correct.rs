//! An entry undone: by another one that stands beside it, with its reason.

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use jiff::civil::DateTime;
use maud::{Markup, html};
use practice::PersonId;
use uuid::Uuid;

use super::{Segment, segment};
use crate::address::{self, quote};
use crate::ask::Site;
use crate::door::{About, Correctable, Correction, Recording, Refusal};
use crate::entrance::{Viewer, is_chosen};
use crate::form::{self, Sent, refusals};
use crate::pages::teach_back::{as_form, read_entry};
use crate::parts::{moment, name, section};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// Longest reason.
const LONGEST: usize = 2_000;

pub(crate) fn routes() -> Router<Site> {
    Router::new().route("/correct/{entry}", get(open).post(take))
}

struct Typed {
    id: Uuid,
    when: DateTime,
    by: String,
    reason: String,
}

async fn open(State(site): State<Site>, entry: Segment<String>) -> Result<Markup, Problem> {
    let entry = read_entry(&segment(entry)?)?;
    let (about, now, standing) = ask(&site, entry).await?;
    let typed = Typed { id: Uuid::now_v7(), when: now, by: String::new(), reason: String::new() };
    Ok(page(&site, &about, entry, &standing, &typed, &[]))
}

async fn ask(site: &Site, entry: Uuid) -> Result<(About, DateTime, Correctable), Problem> {
    let (about, (now, found)) = site.ask(move |desk| Ok((desk.now(), desk.correctable(entry)?))).await?;
    match found {
        Some(found) => Ok((about, now, found)),
        None => Err(Problem::NotFound {
            what: format!("No entry {entry} of a person is in the book."),
            back: Back::Today,
        }),
    }
}

async fn take(State(site): State<Site>, entry: Segment<String>, sent: Sent) -> Result<Response, Problem> {
    let entry = read_entry(&segment(entry)?)?;
    let posted = form::read(&site, sent)?;
    let id = read_entry(posted.text("entry")).map_err(as_form)?;
    let when = posted.text("at").parse().map_err(|_| Problem::BadForm {
        found: format!("“{}” as the time", quote(posted.text("at"))),
        expected: "a date and a time".to_owned(),
    })?;
    let (about, _, standing) = ask(&site, entry).await?;
    let typed = Typed { id, when, by: posted.text("by").to_owned(), reason: posted.lines("reason") };
    let mut faults: Vec<Refusal> = posted.stale.iter().cloned().collect();
    if typed.by.is_empty() {
        faults.push(Refusal::new("Corrected by", "nobody", "who corrects it", "choose from the list"));
    }
    let n_characters = typed.reason.trim().chars().count();
    if n_characters == 0 || n_characters > LONGEST {
        faults.push(Refusal::new(
            "Why",
            if n_characters == 0 { "nothing".to_owned() } else { format!("{n_characters} characters") },
            format!("a sentence, at most {LONGEST} characters"),
            "say why; it is shown beside both entries",
        ));
    }
    if faults.is_empty() {
        let correction = Correction {
            id,
            corrects: entry,
            when,
            by: PersonId(typed.by.clone()),
            reason: typed.reason.trim().to_owned(),
        };
        match site.correct(correction).await?.1 {
            Recording::Recorded | Recording::AlreadyThere => {
                let to = match &standing.of {
                    Some((person, _)) => address::entry(person, &entry.to_string()),
                    None => "/".to_owned(),
                };
                return Ok(Redirect::to(&to).into_response());
            }
            Recording::Refused(more) => faults.extend(more),
        }
    }
    let page = page(&site, &about, entry, &standing, &typed, &faults);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

fn page(
    site: &Site,
    about: &About,
    entry: Uuid,
    standing: &Correctable,
    typed: &Typed,
    faults: &[Refusal],
) -> Markup {
    let viewer = Viewer::now();
    let writers: Vec<&(PersonId, String)> =
        standing.writers.iter().filter(|(id, _)| viewer.may_speak_for(id)).collect();
    let content = html! {
        header.opening {
            h1 { "Correct an entry" }
            p.lead { "Nothing is ever taken out of the record book. A correction stands beside the entry, and whatever is worked out leaves the entry out from then on." }
            @if standing.of.is_some() { p.private { "For this person and their trainer only." } }
        }
        (refusals(faults))
        (section("entry", "The entry", None, &html! {
            p { bdi { (standing.what) } }
            dl.facts {
                dt { "When" } dd { (moment(standing.when)) }
                dt { "Written by" } dd { (name(&standing.by.1)) }
                @if let Some((person, who)) = &standing.of { dt { "About" } dd { a href=(address::person(person)) { (name(who)) } } }
            }
        }))
        (section("correct", "Entered in error", None, &html! {
            @if let Some(reason) = &standing.corrected {
                p { "It is corrected already" @if !reason.is_empty() { ": " bdi { (reason) } } "." }
            } @else if writers.is_empty() {
                p.empty { "Whoever wrote it, or a trainer, can correct it. Tell one of them what is wrong." }
            } @else {
                form method="post" action=(format!("/correct/{entry}")) {
                    (site.secret().field())
                    input type="hidden" name="entry" value=(typed.id);
                    input type="hidden" name="at" value=(typed.when);
                    p.field {
                        label for="reason" { "Why, in a sentence; no patient’s name" }
                        textarea #reason name="reason" rows="3" maxlength=(LONGEST) dir="auto" { (typed.reason) }
                    }
                    p.field {
                        label for="by" { "Corrected by" }
                        select #by name="by" {
                            @if writers.len() > 1 { option value="" { "choose" } }
                            @for (id, writer) in writers { option value=(id) selected[is_chosen(&typed.by, id)] { (writer) " (" (id) ")" } }
                        }
                    }
                    p.actions { button type="submit" { "It did not happen so" } }
                    p.note { "Write what did happen as a new entry afterwards." }
                }
            }
        }))
    };
    sheet::page(about, Place::People, "Correct an entry", &content)
}
