//! Finding by name: people, breakdowns, key points and pages, each only for those who may open it.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use breakdown::{Breakdown, ItemId, JobCode};
use desk::PersonRow;
use maud::{Markup, html};
use serde::Deserialize;

use super::person::role_words;
use crate::address::{self, at_most, quote};
use crate::ask::Site;
use crate::entrance::Viewer;
use crate::parts::{name, section};
use crate::problem::Problem;
use crate::sheet::{self, Place};
use crate::{ways, words};

/// Longest name asked for.
const LONGEST: usize = 100;
/// Most finds of a kind that are listed.
const MOST: usize = 40;

/// What is looked for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    q: String,
}

/// What was found, each kind with those beyond [`MOST`] counted.
struct Found {
    people: Vec<PersonRow>,
    jobs: Vec<(JobCode, String)>,
    points: Vec<(JobCode, String, ItemId, String)>,
    pages: Vec<(&'static str, &'static str)>,
}

/// The page on which something is found by its name.
pub(crate) async fn show(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Markup, Problem> {
    let Ok(Query(wanted)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one name to find".to_owned(),
            expected: "?q=..., at most once".to_owned(),
        });
    };
    at_most(LONGEST, "name to find", &wanted.q)?;
    let viewer = Viewer::now();
    // Names of people lead to records, so they are found by those alone who may open everybody's.
    let sees_people = viewer.may_read("/people");
    let (about, (people, breakdowns)) = site
        .ask(move |desk| {
            let people = if sees_people { desk.people()? } else { Vec::new() };
            Ok((people, desk.breakdowns()?))
        })
        .await?;
    let sought: Vec<String> = wanted.q.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let found = (!sought.is_empty()).then(|| look(&sought, people, &breakdowns, &viewer));
    Ok(sheet::page(&about, Place::Find, words::FIND, &content(&wanted.q, sees_people, found.as_ref())))
}

/// True when a text holds every word sought.
fn holds(text: &str, sought: &[String]) -> bool {
    let text = text.to_lowercase();
    sought.iter().all(|word| text.contains(word))
}

fn look(sought: &[String], people: Vec<PersonRow>, breakdowns: &[Breakdown], viewer: &Viewer) -> Found {
    let mut found = Found { people: Vec::new(), jobs: Vec::new(), points: Vec::new(), pages: Vec::new() };
    found.people =
        people.into_iter().filter(|row| holds(&format!("{} {}", row.name, row.id), sought)).collect();
    for job in breakdowns {
        if holds(&format!("{} {}", job.job, job.code), sought) {
            found.jobs.push((job.code.clone(), job.job.clone()));
        }
        for (step, important) in (1u16..).zip(&job.steps) {
            if holds(&important.name, sought) {
                let words = important.name.clone();
                found.points.push((job.code.clone(), job.job.clone(), ItemId::step(step), words));
            }
            for (point, key_point) in (1u16..).zip(&important.key_points) {
                if holds(&format!("{} {}", key_point.text, key_point.reasons.join(" ")), sought) {
                    let item = ItemId::key_point(step, point);
                    found.points.push((job.code.clone(), job.job.clone(), item, key_point.text.clone()));
                }
            }
        }
    }
    found.pages = ways::pages(viewer).into_iter().filter(|(_, words)| holds(words, sought)).collect();
    found
}

fn content(q: &str, sees_people: bool, found: Option<&Found>) -> Markup {
    html! {
        header.opening {
            h1 { (words::FIND) }
            p.lead {
                @if sees_people { "People by name or staff identifier, breakdowns, " } @else { "Breakdowns, " }
                "important steps, key points with their reasons, and pages."
            }
        }
        (section("what", "What", None, &html! {
            form.find method="get" action="/find" role="search" {
                p {
                    label for="q" { "Part of a name, or words of a key point" }
                    input #q name="q" type="search" value=(q) maxlength=(LONGEST) autocomplete="off" dir="auto" data-key="f";
                }
                p.actions { button type="submit" { (words::FIND) } }
            }
        }))
        @if let Some(found) = found {
            @let n = found.people.len() + found.jobs.len() + found.points.len() + found.pages.len();
            @if n == 0 {
                p.empty role="status" { "Nothing here holds “" bdi { (quote(q)) } "”. Try fewer letters, or one word." }
            } @else {
                p.empty role="status" { (n) " found." }
            }
            (kind("people", "People", found.people.len(), &html! {
                @for row in found.people.iter().take(MOST) {
                    li { a href=(address::person(&row.id)) { (name(&row.name)) } ", " (role_words(row.role)) ", " bdi { (row.id) } }
                }
            }))
            (kind("jobs", "Breakdowns", found.jobs.len(), &html! {
                @for (code, job) in found.jobs.iter().take(MOST) { li { a href=(address::breakdown(code)) { (name(job)) } } }
            }))
            (kind("points", "Steps and key points", found.points.len(), &html! {
                @for (code, job, item, text) in found.points.iter().take(MOST) {
                    li {
                        a href=(format!("{}#item-{}", address::breakdown(code), item.to_string().replace('.', "-"))) {
                            span.item { (item) } bdi { (text) }
                        }
                        " " span.note { (name(job)) }
                    }
                }
            }))
            (kind("pages", "Pages", found.pages.len(), &html! {
                @for (address, words) in found.pages.iter().take(MOST) { li { a href=(address) { (words) } } }
            }))
        }
    }
}

fn kind(id: &str, heading: &str, n: usize, list: &Markup) -> Markup {
    html! {
        @if n > 0 {
            (section(id, heading, None, &html! {
                ul.finds { (list) }
                @if n > MOST { p.note { (n - MOST) " more: write more of the name." } }
            }))
        }
    }
}
