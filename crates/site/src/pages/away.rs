//! Leave and return: somebody goes on leave or leaves the unit, somebody comes back.

use axum::Router;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use desk::{AwayPage, AwayRow};
use jiff::civil::{Date, DateTime};
use maud::{Markup, html};
use practice::{EventKind, PersonId};
use serde::Deserialize;
use uuid::Uuid;

use super::teach_back::read_entry;
use crate::address::{self, quote};
use crate::ask::Site;
use crate::door::{About, Draft, Recording, Refusal};
use crate::entrance::is_chosen;
use crate::form::{self, Sent, refusals};
use crate::parts::{cell, day, name, section, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

pub(crate) fn routes() -> Router<Site> {
    Router::new().route("/away", get(open).post(take))
}

/// What a form holds. The two forms of the page share it: one entry comes of it.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
struct Typed {
    entry: String,
    /// Whom the page was opened for.
    person: String,
    /// First day away, or the day of the return.
    on: String,
    who: String,
    /// `back` for a return, anything else for leave.
    what: String,
}

impl Typed {
    fn is_return(&self) -> bool {
        self.what == "back"
    }
}

/// The page. Its entry's identifier stands in the address, so that a reload is the same entry.
async fn open(
    State(site): State<Site>,
    typed: Result<Query<Typed>, QueryRejection>,
) -> Result<Response, Problem> {
    let Ok(Query(typed)) = typed else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one person".to_owned(),
            expected: "?person=..., at most once".to_owned(),
        });
    };
    if typed.entry.is_empty() {
        let address = format!("{}&entry={}", address::away(&PersonId(typed.person)), Uuid::now_v7());
        return Ok(Redirect::to(&address).into_response());
    }
    read_entry(&typed.entry)?;
    let (about, asked) = ask(&site).await?;
    Ok(page(&site, &about, &asked, &typed, &[]).into_response())
}

struct Asked {
    now: DateTime,
    page: AwayPage,
}

async fn ask(site: &Site) -> Result<(About, Asked), Problem> {
    site.ask(|desk| Ok(Asked { now: desk.now(), page: desk.away()? })).await
}

/// A form that was sent: one entry, or the form again with what is wrong.
async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = form::read(&site, sent)?;
    let field = |field: &str| posted.text(field).to_owned();
    let typed = Typed {
        entry: field("entry"),
        person: field("person"),
        on: field("on"),
        who: field("who"),
        what: field("what"),
    };
    let entry = read_entry(&typed.entry)?;
    let (about, asked) = ask(&site).await?;
    let mut faults: Vec<Refusal> = posted.stale.iter().cloned().collect();
    let read = draft(entry, &typed, &asked);
    let draft = match read {
        Ok(draft) => Some(draft),
        Err(more) => {
            faults.extend(more);
            None
        }
    };
    if let Some(draft) = draft.filter(|_| faults.is_empty()) {
        let person = PersonId(typed.person.clone());
        let (_, recording) = site.record(draft).await?;
        match recording {
            Recording::Recorded | Recording::AlreadyThere => {
                return Ok(Redirect::to(&address::recorded(&person, entry)).into_response());
            }
            Recording::Refused(more) => faults.extend(more),
        }
    }
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&site, &about, &asked, &typed, &faults)).into_response())
}

/// The entry that a form asks for, or what is wrong with it.
fn draft(entry: Uuid, typed: &Typed, asked: &Asked) -> Result<Draft, Vec<Refusal>> {
    let mut faults = Vec::new();
    let today = asked.now.date();
    let choose = |label: &str, expected: &str| {
        Refusal::new(label, "nothing that is in the list", expected, "choose from the list")
    };
    let away = asked.page.away.iter().find(|row| row.person.id.0 == typed.person);
    // Whoever went or came back meanwhile is left to the book: it knows a form that was sent twice.
    let mut everybody = asked.page.here.iter().chain(asked.page.away.iter().map(|row| &row.person));
    let what = match everybody.find(|person| person.id.0 == typed.person) {
        Some(person) if typed.is_return() => Some(EventKind::PersonAdded(person.clone())),
        Some(person) => Some(EventKind::PersonLeft { person: person.id.clone() }),
        None if typed.is_return() => {
            faults.push(choose("Who comes back", "somebody who is away"));
            None
        }
        None => {
            faults.push(choose("Who goes", "somebody of the unit who is here"));
            None
        }
    };
    if !asked.page.trainers.iter().any(|one| one.id.0 == typed.who) {
        faults.push(choose("Signed by", "a trainer of the unit"));
    }
    let label = if typed.is_return() { "Back since" } else { "Away since" };
    let on = typed.on.parse::<Date>().ok();
    match on {
        None => {
            let found = if typed.on.is_empty() { "nothing".to_owned() } else { quote(&typed.on) };
            faults.push(Refusal::new(label, found, "a date", "give the day"));
        }
        Some(on) if on > today => faults.push(Refusal::new(
            label,
            format!("{on}, which is still to come"),
            format!("today, {today}, or an earlier day"),
            "write it down when it has begun; days on which somebody will be away are given to the plan: “Plan again”",
        )),
        Some(on) => {
            if let Some(since) = away.map(|row| row.since).filter(|since| typed.is_return() && on < *since) {
                faults.push(Refusal::new(
                    label,
                    format!("{on}, which is before the leave began"),
                    format!("{since} or a later day"),
                    "correct the date",
                ));
            }
        }
    }
    match (what, on) {
        (Some(what), Some(on)) if faults.is_empty() => {
            Ok(Draft { id: entry, happened: on.at(0, 0, 0, 0), by: PersonId(typed.who.clone()), what })
        }
        _ => Err(faults),
    }
}

fn page(site: &Site, about: &About, asked: &Asked, typed: &Typed, faults: &[Refusal]) -> Markup {
    let page = &asked.page;
    let is_away = page.away.iter().any(|row| row.person.id.0 == typed.person);
    let content = html! {
        header.opening {
            h1 { "Leave and return" }
            p.lead {
                "Whoever is away draws nowhere here, learns on no shift and is due for nothing. Their record stays as it is."
            }
            p.papers { a href="/people" { "People" } }
        }
        (refusals(faults))
        // Whoever the page was opened for comes first.
        @if is_away {
            (coming(site, asked, typed))
            (going(site, asked, typed))
        } @else {
            (going(site, asked, typed))
            (coming(site, asked, typed))
        }
        (section("away", "Away now", None, &listed(page)))
    };
    sheet::page(about, Place::People, "Leave and return", &content)
}

fn going(site: &Site, asked: &Asked, typed: &Typed) -> Markup {
    let people: Vec<(String, String)> =
        asked.page.here.iter().map(|one| (one.id.0.clone(), words(&one.name, &one.id))).collect();
    section(
        "going",
        "Goes on leave, or leaves the unit",
        None,
        &fields(
            site,
            asked,
            typed,
            "away",
            ("Who goes", "Away since"),
            &people,
            "Write down that they are away",
        ),
    )
}

fn coming(site: &Site, asked: &Asked, typed: &Typed) -> Markup {
    if asked.page.away.is_empty() {
        return html! {};
    }
    let people: Vec<(String, String)> = asked
        .page
        .away
        .iter()
        .map(|row| (row.person.id.0.clone(), words(&row.person.name, &row.person.id)))
        .collect();
    let lead = match asked.page.lapse_after_days {
        Some(days) => html! { p {
            "Back after more than " (days) " days, a standing has lapsed until somebody has watched a draw or "
            "refreshed it: the release rule has it so."
        } },
        None => html! { p { "By the release rule a standing does not lapse." } },
    };
    section(
        "coming",
        "Comes back",
        Some(lead),
        &fields(
            site,
            asked,
            typed,
            "back",
            ("Who comes back", "Back since"),
            &people,
            "Write down that they are back",
        ),
    )
}

fn words(name: &str, id: &PersonId) -> String {
    format!("{name} ({id})")
}

/// One of the two forms. What was typed stands in the one it was typed into.
fn fields(
    site: &Site,
    asked: &Asked,
    typed: &Typed,
    what: &str,
    (who_label, on_label): (&str, &str),
    people: &[(String, String)],
    button_words: &str,
) -> Markup {
    let is_this = typed.what.is_empty() || typed.is_return() == (what == "back");
    let today = asked.now.date().to_string();
    let on = if is_this && !typed.on.is_empty() { typed.on.as_str() } else { today.as_str() };
    let only_trainer = match asked.page.trainers.as_slice() {
        [one] => Some(&one.id.0),
        _ => None,
    };
    let [person_id, on_id, who_id] = ["person", "on", "who"].map(|field| format!("{what}-{field}"));
    html! {
        form method="post" action="/away" {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="what" value=(what);
            p.field {
                label for=(person_id) { (who_label) }
                select id=(person_id) name="person" required {
                    option value="" { "choose" }
                    @for (id, words) in people {
                        option value=(id) selected[*id == typed.person] { (words) }
                    }
                }
            }
            p.field {
                label for=(on_id) { (on_label) }
                input id=(on_id) name="on" type="date" value=(on) max=(today) required;
            }
            p.field {
                label for=(who_id) { "Signed by" }
                select id=(who_id) name="who" required {
                    option value="" { "choose" }
                    @for one in &asked.page.trainers {
                        option value=(one.id.0) selected[is_chosen(&typed.who, &one.id) || only_trainer == Some(&one.id.0)] {
                            (words(&one.name, &one.id))
                        }
                    }
                }
            }
            p.actions { button type="submit" { (button_words) } }
        }
    }
}

fn listed(page: &AwayPage) -> Markup {
    if page.away.is_empty() {
        return html! { p.empty { "Nobody is away." } };
    }
    table(
        "away-now",
        "Everybody of the unit who is on leave or has left.",
        &["Who", "Since", "Days"],
        &html! {
            @for row in &page.away { (one(row)) }
        },
    )
}

fn one(row: &AwayRow) -> Markup {
    html! {
        tr role="row" {
            th scope="row" role="rowheader" { a href=(address::person(&row.person.id)) { (name(&row.person.name)) } }
            (cell("Since", &html! { (day(row.since)) }))
            (cell("Days", &html! { (row.days) }))
        }
    }
}
