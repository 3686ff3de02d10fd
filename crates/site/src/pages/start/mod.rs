//! The beginning of a unit: what to do first, in order, each step with its page.

mod job;
mod people;

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use maud::{Markup, html};

use crate::address;
use crate::ask::Site;
use crate::door::Beginning;
use crate::entrance::Viewer;
use crate::parts::{Shape, name, section, shape};
use crate::problem::Problem;
use crate::sheet::{self, Place};

pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/start", get(show))
        .route("/start/people", get(people::open).post(people::take))
        .layer(axum::extract::DefaultBodyLimit::max(people::LARGEST))
        .route("/start/breakdown", get(job::open).post(job::take))
}

/// What comes first.
async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, beginning) = site.ask(|desk| desk.beginning()).await?;
    Ok(sheet::page(&about, Place::Today, "Begin", &content(&about.unit, &beginning)))
}

fn content(unit: &str, now: &Beginning) -> Markup {
    let first = if now.people == 0 {
        2
    } else if now.jobs.is_empty() {
        3
    } else if now.planned == 0 {
        4
    } else {
        5
    };
    let viewer = Viewer::now();
    html! {
        header.opening {
            h1 { "Begin" }
            p.lead {
                @match first {
                    2 => "Four steps from an empty record book to the first planned learner. The next one: the people of the unit.",
                    3 => "The next step: the first breakdown.",
                    4 => "The next step: the first learner’s date.",
                    _ => "The first learner is planned. What else may be there when it is wanted stands below.",
                }
            }
        }
        (step(1, "Name the unit", first, &html! {
            p { bdi { (unit) } ". The name stands on every page and paper; " code { "wardwright.toml" } " in the data folder holds it." }
        }))
        (step(2, "Take in the people", first, &html! {
            @match now.people {
                0 => p { "A list as an office program saves it, or a few lines typed in. You see how each row is read before anything is written." },
                1 => p { "1 person is on the unit." },
                n => p { (n) " people are on the unit." },
            }
            @if viewer.may_read("/start/breakdown") || now.trainers.is_empty() {
                (way("/start/people", if now.people == 0 { "Take in people" } else { "Take in more people" }, first == 2))
            } @else {
                p { "Next: accounts for them. A trainer’s comes first: whoever has it goes on from here." }
                (way("/accounts", "Make accounts", true))
            }
        }))
        (step(3, "Publish a breakdown", first, &html! {
            @if now.jobs.is_empty() {
                p { "Begin with one that comes along and hold it against your policy, or write your own." }
            } @else {
                ul { @for (code, job) in &now.jobs { li { a href=(address::breakdown(code)) { (name(job)) } } } }
            }
            @if now.people == 0 {
                p.note { "A trainer publishes it, so the people come first." }
            } @else if !viewer.may_read("/start/breakdown") {
                p.note { "A trainer publishes it." }
            } @else {
                (way("/start/breakdown", if now.jobs.is_empty() { "Publish a ready breakdown" } else { "Publish another ready breakdown" }, first == 3))
                p.papers { a href=(address::editor(None, None)) { "Write your own" } }
            }
        }))
        (step(4, "Plan the first learner", first, &html! {
            @match now.planned {
                0 => p { "Say by which day somebody is to be released on a job. It raises no standing." },
                1 => p { "1 person has a date." },
                n => p { (n) " people have a date." },
            }
            @if !viewer.may_read("/timetable/date") {
                p.note { "A trainer sets it." }
            } @else if now.people > 0 && !now.jobs.is_empty() {
                (way("/timetable/date", if now.planned == 0 { "Set the first date" } else { "Set another date" }, first == 4))
            } @else {
                p.note { "It needs a person and a breakdown." }
            }
        }))
        (section("then", "When it is wanted", None, &html! {
            dl.facts.then {
                dt { "Who works when" }
                dd {
                    @if now.has_roster { "A roster is there. " a href="/next-draw" { "Next draw" } }
                    @else { "Put the roster into the data folder as " code { "roster.csv" } ", " code { "roster.xlsx" } " or " code { "roster.ics" } ". Then the plan and the next draw know who is on shift." }
                }
                dt { "What the laboratory found" }
                dd {
                    @if now.sets > 0 { (now.sets) " sets are in the book. " a href="/results" { "Results" } }
                    @else { "Take in the laboratory’s file with " code { "wardwright cultures take-in" } "; " code { "docs/mapping.md" } " says how." }
                }
                dt { "Watching at the bed" }
                dd { a href="/bedside" { "Mark a draw" } " works on a phone, with and without network." }
                dt { "Who may see what" }
                dd {
                    @if viewer.accounts { "There are accounts: each sees what their roles allow. " a href="/account" { "Your account" } }
                    @else { "Without accounts whoever sits at this machine sees everything. " code { "wardwright accounts add" } " makes the first." }
                }
            }
        }))
    }
}

fn step(number: u8, heading: &str, first: u8, content: &Markup) -> Markup {
    let id = format!("step-{number}");
    html! {
        section.part.beginning aria-labelledby=(id) aria-current=[(number == first).then_some("step")] {
            div.rail {
                h2 id=(id) { (number) ". " (heading) }
                div.note {
                    p.state {
                        @if number < first { (shape(Shape::Hand)) " done" }
                        @else if number == first { (shape(Shape::Square)) " next" }
                        @else { (shape(Shape::Ring)) " later" }
                    }
                }
            }
            div.content { (content) }
        }
    }
}

/// The way to a step: as a button where it is the next one.
fn way(address: &str, words: &str, is_next: bool) -> Markup {
    html! { p.actions { a.button.second[!is_next] href=(address) { (words) } } }
}
