//! People taken in from a list: how each row is read is shown before anything is written.

use axum::extract::State;
use axum::extract::multipart::{Multipart, MultipartRejection};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use jiff::civil::DateTime;
use maud::{Markup, html};
use practice::{EventKind, Person, PersonId, Role};
use uuid::Uuid;

use crate::ask::Site;
use crate::door::{About, Beginning, Draft, PeopleRead, Reading, Recording, Refusal};
use crate::entrance::{Viewer, is_chosen};
use crate::form::{self, Posted, refusals};
use crate::pages::person::role_words;
use crate::pages::teach_back::{as_form, read_entry};
use crate::pages::upload;
use crate::parts::{Shape, cell, day, name, section, shape, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// Most bytes of a list with its form.
pub(super) const LARGEST: usize = 1_000_000;
/// Most people of one list.
const MOST: usize = 2_000;

/// A list that begins with the names of its columns.
const EMPTY_LIST: &str = "staff id,name,role,started\n";

struct Typed {
    entry: Uuid,
    at: DateTime,
    list: String,
    by: String,
}

/// The form.
pub(super) async fn open(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, (now, beginning)) = site.ask(|desk| Ok((desk.now(), desk.beginning()?))).await?;
    is_for_whoever_asks(&beginning)?;
    let typed = Typed { entry: Uuid::now_v7(), at: now, list: EMPTY_LIST.to_owned(), by: String::new() };
    Ok(page(&site, &about, &beginning, &typed, None, &[]))
}

/// Once the unit has a trainer, people are taken in by trainers and by nobody else.
fn is_for_whoever_asks(beginning: &Beginning) -> Result<(), Problem> {
    let is_trainer = Viewer::now().account.is_none_or(|account| account.is(account::Role::Trainer));
    if is_trainer || beginning.trainers.is_empty() { Ok(()) } else { Err(Problem::NotForYou) }
}

/// A list that was sent: shown as it is read, or taken in.
pub(super) async fn take(
    State(site): State<Site>,
    sent: Result<Multipart, MultipartRejection>,
) -> Result<Response, Problem> {
    let (fields, file) = upload::parts(sent, LARGEST).await?;
    let posted = form::known(&site, fields)?;
    let entry = read_entry(posted.text("entry")).map_err(as_form)?;
    let at = posted.text("at").parse().map_err(|_| Problem::BadForm {
        found: format!("“{}” as the time", crate::address::quote(posted.text("at"))),
        expected: "a date and a time".to_owned(),
    })?;
    let mut faults: Vec<Refusal> = posted.stale.iter().cloned().collect();
    let bytes = if file.is_empty() { list_of(&posted).into_bytes() } else { file.clone() };
    // A workbook is shown and sent on as the lines that were read of it.
    let asked = bytes.clone();
    let (about, (beginning, read)) =
        site.ask(move |desk| Ok((desk.beginning()?, desk.read_people(&asked)?))).await?;
    is_for_whoever_asks(&beginning)?;
    let list = if file.is_empty() { list_of(&posted) } else { as_list(&file, &read) };
    let typed = Typed { entry, at, list, by: posted.text("by").to_owned() };
    if read.rows.is_empty() && read.unread.is_empty() {
        faults.push(Refusal::new(
            "the list",
            "no person",
            "a line for each person below the names of the columns",
            "choose the file, or type the lines",
        ));
    }
    if read.rows.len() > MOST {
        faults.push(Refusal::new(
            "the list",
            format!("{} rows", read.rows.len()),
            format!("at most {MOST} people at a time"),
            "part the file",
        ));
    }
    let answer = |status: StatusCode, faults: &[Refusal]| {
        (status, page(&site, &about, &beginning, &typed, Some(&read), faults)).into_response()
    };
    if !faults.is_empty() {
        return Ok(answer(StatusCode::UNPROCESSABLE_ENTITY, &faults));
    }
    if posted.text("do") != "take-in" {
        return Ok(answer(StatusCode::OK, &[]));
    }
    let new = new_people(&read);
    if !signers(&beginning, &new).iter().any(|(id, _)| id.0 == typed.by) {
        let found = if typed.by.is_empty() { "nobody".to_owned() } else { crate::address::quote(&typed.by) };
        faults.push(Refusal::new("Taken in by", found, "a trainer of the unit", "choose from the list"));
        return Ok(answer(StatusCode::UNPROCESSABLE_ENTITY, &faults));
    }
    let by = PersonId(typed.by.clone());
    let drafts: Vec<Draft> = (1u16..)
        .zip(new)
        .map(|(place, person)| Draft {
            id: nth(entry, place),
            happened: at,
            by: by.clone(),
            what: EventKind::PersonAdded(person.clone()),
        })
        .collect();
    match site.record_people(drafts, !beginning.trainers.is_empty()).await?.1 {
        Recording::Recorded | Recording::AlreadyThere => Ok(Redirect::to("/start").into_response()),
        Recording::Refused(more) => Ok(answer(StatusCode::UNPROCESSABLE_ENTITY, &more)),
    }
}

fn list_of(posted: &Posted) -> String {
    posted.lines("list")
}

/// The identifier of the entry for one row: the same each time the form is sent, so that twice is once.
fn nth(entry: Uuid, place: u16) -> Uuid {
    let mut bytes = *entry.as_bytes();
    let [high, low] = place.to_be_bytes();
    bytes[14] ^= high;
    bytes[15] ^= low;
    Uuid::from_bytes(bytes)
}

/// A file as the lines that travel on in the form: its own text, or, of a workbook, what was read.
fn as_list(file: &[u8], read: &PeopleRead) -> String {
    if let Ok(text) = std::str::from_utf8(file) {
        return text.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n");
    }
    let quoted = |text: &str| format!("\"{}\"", text.replace('"', "\"\""));
    let mut list = EMPTY_LIST.to_owned();
    for row in &read.rows {
        list.push_str(&row.found.each_ref().map(|text| quoted(text)).join(","));
        list.push('\n');
    }
    list
}

fn new_people(read: &PeopleRead) -> Vec<&Person> {
    let new = read.rows.iter().filter_map(|row| match &row.reading {
        Reading::New(person, _) => Some(person),
        _ => None,
    });
    new.collect()
}

/// Who may take the people in: trainers of the unit and those on the list.
fn signers(beginning: &Beginning, new: &[&Person]) -> Vec<(PersonId, String)> {
    let listed = new.iter().filter(|person| person.role == Role::Trainer);
    let listed = listed.map(|person| (person.id.clone(), person.name.clone()));
    beginning.trainers.iter().cloned().chain(listed).collect()
}

fn page(
    site: &Site,
    about: &About,
    beginning: &Beginning,
    typed: &Typed,
    read: Option<&PeopleRead>,
    faults: &[Refusal],
) -> Markup {
    let new = read.map(new_people).unwrap_or_default();
    let content = html! {
        header.opening {
            h1 { "Take in people" }
            p.lead { "One row for each person. Nothing is written until you have seen how each row is read." }
            nav.neighbours aria-label="Beside this page" { ul { li { a href="/start" { "Begin" } } li { a href="/people" { "People" } } } }
        }
        (refusals(faults))
        form method="post" action="/start/people" enctype="multipart/form-data" {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="at" value=(typed.at);
            @if let Some(read) = read { (preview(read, &new, &signers(beginning, &new), &typed.by)) }
            (section("list-of", if read.is_some() { "Change the list" } else { "The list" }, Some(html! {
                p { "Columns: " code { "staff id" } ", " code { "name" } ", and, if you like, " code { "role" } " (nurse, preceptor or trainer) and " code { "started" } " (2026-03-02)." }
            }), &html! {
                p.field {
                    label for="file" { "A file: CSV, or a workbook (XLSX)" }
                    input #file type="file" name="file" accept=".csv,.txt,.xlsx";
                }
                p.field {
                    label for="list" { "Or type or paste it" }
                    textarea #list name="list" rows="8" dir="auto" spellcheck="false" { (typed.list) }
                }
                details {
                    summary { "An example" }
                    pre.example { "staff id,name,role,started\nn001,Odile Brackmoor,trainer,2013-09-02\nn003,Tamsin Velloway,preceptor,2011-02-07\nn041,Oskar Feldhagen,nurse,2026-08-24" }
                    p.note { "Invented people." }
                }
                p.actions { button.second[!new.is_empty()] type="submit" name="do" value="look" { "Show how it is read" } }
            }))
        }
    };
    sheet::page(about, Place::People, "Take in people", &content)
}

fn preview(read: &PeopleRead, new: &[&Person], signers: &[(PersonId, String)], by: &str) -> Markup {
    let n_refused =
        read.rows.iter().filter(|row| matches!(row.reading, Reading::Refused(_))).count() + read.unread.len();
    let n_known = read.rows.iter().filter(|row| matches!(row.reading, Reading::Known(_))).count();
    let columns = ["Line", "Staff identifier", "Name", "Role", "On the unit since", "Reading"];
    html! {
        (section("read-as", "As it is read", Some(html! { p { "Nothing is written yet." } }), &html! {
            p role="status" {
                strong { (new.len()) @if new.len() == 1 { " person" } @else { " people" } " can be taken in" }
                @if n_known > 0 { "; " (n_known) " on the unit already, passed over" }
                @if n_refused > 0 { "; " (n_refused) @if n_refused == 1 { " row" } @else { " rows" } " with a fault, left out" }
                "."
            }
            @for each in &read.unread {
                p.finding { strong { (each.place) } ": found " bdi { (each.found) } "; expected " (each.expected) "; " (each.to_do) "." }
            }
            @if !read.rows.is_empty() {
                (table("people-read", "Each row of the list.", &columns, &html! {
                    @for row in &read.rows {
                        @let person = match &row.reading { Reading::New(person, _) => Some(person), _ => None };
                        tr role="row" {
                            th scope="row" role="rowheader" { (row.line) }
                            (cell(columns[1], &name(&row.found[0])))
                            (cell(columns[2], &name(&row.found[1])))
                            (cell(columns[3], &html! { @match person { Some(person) => (role_words(person.role)), None => { (name(&row.found[2])) } } }))
                            (cell(columns[4], &html! { @match person { Some(person) => { (day(person.started)) } None => { (name(&row.found[3])) } } }))
                            (cell(columns[5], &html! {
                                @match &row.reading {
                                    Reading::New(_, assumed) => {
                                        (shape(Shape::Hand)) " can be taken in"
                                        @for each in assumed { span.next { (each) } }
                                    }
                                    Reading::Known(what) => { (shape(Shape::Ring)) " " bdi { (what) } }
                                    Reading::Refused(faults) => {
                                        @for fault in faults {
                                            span.due { (shape(Shape::Triangle)) (fault.place) ": found " bdi { (fault.found) } }
                                            span.next { "expected " (fault.expected) "; " (fault.to_do) "." }
                                        }
                                    }
                                }
                            }))
                        }
                    }
                }))
            }
            @if new.is_empty() {
                p.empty { "Nobody can be taken in from this list." }
            } @else if signers.is_empty() {
                p.finding { "No trainer is on the unit or on this list. Give one person the role " q { "trainer" } " below: people are taken in on a trainer’s word." }
            } @else {
                p.field {
                    label for="by" { "Taken in by" }
                    select #by name="by" {
                        @if signers.len() > 1 { option value="" { "choose" } }
                        @for (id, trainer) in signers { option value=(id) selected[is_chosen(by, id)] { (trainer) " (" (id) ")" } }
                    }
                }
                p.actions {
                    button type="submit" name="do" value="take-in" {
                        "Take in " (new.len()) @if new.len() == 1 { " person" } @else { " people" }
                    }
                }
                p.note { "An entry of the record book for each: it stays, and is corrected by another entry." }
            }
        }))
    }
}
