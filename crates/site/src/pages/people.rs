use std::collections::BTreeSet;

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use breakdown::JobCode;
use desk::{JobStanding, PersonRow};
use maud::{Markup, html};
use serde::Deserialize;

use super::person::role_words;
use crate::address::{self, at_most, quote};
use crate::ask::Site;
use crate::parts::{Shape, cell, day, name, section, shape, standing, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// Longest name asked for.
const LONGEST_NAME: usize = 100;

/// The choice that looks for a decision rather than a standing.
const DECISION_DUE: &str = "decision due";

/// The short words of standings from least to furthest, then those that were further once; any others follow in
/// the order of the alphabet.
const KNOWN: [&str; 11] = [
    "not planned",
    "planned",
    "learning",
    "learning, draws watched",
    "own patients",
    "all patients",
    "may precept",
    "to be updated",
    "lapsed",
    "withdrawn",
    "away",
];

/// What the form asks for. Empty means everybody.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    name: String,
    standing: String,
}

/// Everybody on the unit and their standing in each job.
pub(crate) async fn show(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Markup, Problem> {
    let Ok(Query(wanted)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one name and one standing".to_owned(),
            expected: "?name=...&standing=..., each at most once".to_owned(),
        });
    };
    at_most(LONGEST_NAME, "name to look for", &wanted.name)?;
    let (about, people) = site.ask(|desk| desk.people()).await?;
    let standings = standing_choices(&people);
    if !wanted.standing.is_empty() && !standings.contains(&wanted.standing) {
        return Err(Problem::BadAddress {
            place: "standing",
            found: format!("“{}”", quote(&wanted.standing)),
            expected: format!("one of: {}", standings.join(", ")),
        });
    }
    Ok(sheet::page(&about, Place::People, "People", &content(&people, &wanted, &standings)))
}

fn content(people: &[PersonRow], wanted: &Wanted, standings: &[String]) -> Markup {
    let shown: Vec<&PersonRow> = people.iter().filter(|row| matches(row, wanted)).collect();
    let is_filtered = !wanted.name.trim().is_empty() || !wanted.standing.is_empty();
    let find = html! {
        form.find method="get" action="/people" role="search" {
            p {
                label for="name" { "Name or staff identifier" }
                input #name name="name" type="search" value=(wanted.name) maxlength=(LONGEST_NAME) autocomplete="off" dir="auto";
            }
            p {
                label for="standing" { "Standing in any job" }
                select #standing name="standing" {
                    option value="" { "any" }
                    @for choice in standings {
                        option value=(choice) selected[*choice == wanted.standing] { (choice) }
                    }
                }
            }
            p.actions {
                button type="submit" { "Find" }
                @if is_filtered { a href="/people" { "Show everybody" } }
            }
        }
    };
    html! {
        header.opening {
            h1 { "People" }
            p.lead { "Who may draw, in which job, and on whose word. Open a record for the evidence." }
            p.papers { @if !people.is_empty() { a href="/teach-back/new" { "Hear a teach-back" } " " a href="/start/people" { "Take in people" } " " a href="/away" { "Leave and return" } } }
        }
        @if people.is_empty() {
            p.empty {
                "Nobody is on the unit yet. " a href="/start/people" { "Take in people" } " first: from a list, or a few lines typed in."
            }
        } @else {
            (section("find", "Find", None, &find))
            (section("list", "Standing", Some(legend()), &html! {
                p role="status" { (shown.len()) " of " (people.len()) " people" @if is_filtered { " match" } "." }
                @if shown.is_empty() {
                    p.empty { "Nobody matches. Try part of the name, or another standing." }
                } @else {
                    (list(&shown))
                }
            }))
        }
    }
}

/// What the frames mean, in the order in which a standing grows.
fn legend() -> Markup {
    html! { p { "The frame fills as the standing reaches further; the word says how far." } }
}

fn list(people: &[&PersonRow]) -> Markup {
    let jobs = jobs(people);
    let mut columns = vec!["Name", "Role", "On the unit since"];
    columns.extend(jobs.iter().map(|(_, name)| name.as_str()));
    table(
        "people",
        "Standing by person and job.",
        &columns,
        &html! {
            @for row in people {
                tr role="row" {
                    th scope="row" role="rowheader" { a href=(address::person(&row.id)) { (name(&row.name)) } }
                    (cell("Role", &html! { (role_words(row.role)) }))
                    (cell("On the unit since", &day(row.started)))
                    @for (job, job_name) in &jobs {
                        (cell(job_name, &html! {
                            @match row.standings.iter().find(|each| each.job == *job) {
                                Some(each) => { (standing_cell(each)) }
                                None => { "not planned" }
                            }
                        }))
                    }
                }
            }
        },
    )
}

fn standing_cell(each: &JobStanding) -> Markup {
    html! {
        (standing(&each.short, &each.short))
        @if each.rule_met {
            span.due { (shape(Shape::Square)) "decision due" }
        } @else if let Some((date, what)) = &each.next {
            span.next { (day(*date)) ": " (what) }
        } @else if let Some(by) = each.planned_by {
            span.next { "by " (day(by)) }
        }
    }
}

/// Jobs in the order in which people's lines first name them.
fn jobs(people: &[&PersonRow]) -> Vec<(JobCode, String)> {
    let mut jobs: Vec<(JobCode, String)> = Vec::new();
    for each in people.iter().flat_map(|row| &row.standings) {
        if !jobs.iter().any(|(job, _)| *job == each.job) {
            jobs.push((each.job.clone(), each.job_name.clone()));
        }
    }
    jobs
}

/// The standings that occur, and the decision that may be due.
fn standing_choices(people: &[PersonRow]) -> Vec<String> {
    let occurring: BTreeSet<&str> =
        people.iter().flat_map(|row| &row.standings).map(|each| each.short.as_str()).collect();
    let known = KNOWN.into_iter().filter(|word| occurring.contains(word));
    let others = occurring.iter().copied().filter(|word| !KNOWN.contains(word));
    [DECISION_DUE].into_iter().chain(known).chain(others).map(str::to_owned).collect()
}

/// True when the name or identifier holds every word asked for, and some job the standing.
fn matches(row: &PersonRow, wanted: &Wanted) -> bool {
    let text = format!("{} {}", row.name, row.id).to_lowercase();
    let has_name = wanted.name.to_lowercase().split_whitespace().all(|word| text.contains(word));
    let has_standing = match wanted.standing.as_str() {
        "" => true,
        DECISION_DUE => row.standings.iter().any(|each| each.rule_met),
        short => row.standings.iter().any(|each| each.short == short),
    };
    has_name && has_standing
}
