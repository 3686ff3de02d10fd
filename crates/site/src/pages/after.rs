//! A person's own draws beside their results: for that person and their trainer only.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use desk::{AfterDraw, AfterPage, AfterResult};
use maud::{Markup, html};
use practice::PersonId;

use super::person::no_such_person;
use super::{Segment, segment};
use crate::address::{self, read_identifier};
use crate::ask::Site;
use crate::parts::{moment, name, section};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// Addresses of this page.
pub(super) fn routes() -> Router<Site> {
    Router::new().route("/people/{id}/after", get(show))
}

async fn show(State(site): State<Site>, id: Segment<String>) -> Result<Markup, Problem> {
    let id = PersonId(read_identifier(&segment(id)?, "staff identifier")?);
    let (about, (id, page)) = site.ask(move |desk| desk.after(&id).map(|page| (id, page))).await?;
    let page = page.ok_or_else(|| no_such_person(&id))?;
    Ok(sheet::page(&about, Place::People, "Own draws and their results", &content(&id, &page)))
}

fn content(id: &PersonId, page: &AfterPage) -> Markup {
    html! {
        header.opening {
            h1 { "Own draws and their results" }
            p.lead {
                a href=(address::person(id)) { (name(&page.name)) }
                ". What was written down at the draw stands beside what the laboratory found, once that is final."
            }
            p.private { "For this person and their trainer only." }
        }
        (section("draws", "Draws", Some(html! { p { "On patients, latest first. Rule: " (page.rule) "." } }), &html! {
            @if page.draws.is_empty() {
                p.empty { "No draw on a patient has been watched yet." }
            } @else {
                p.sentence { (page.sentence) }
                @for draw in &page.draws { (one(draw)) }
            }
        }))
    }
}

fn one(draw: &AfterDraw) -> Markup {
    html! {
        article.job {
            h3 { (moment(draw.when)) ", " (name(&draw.job_name)) }
            dl.facts {
                dt { "Result" }
                dd { (result(&draw.result)) }
                dt { "Watched by" }
                dd { (name(&draw.watched_by)) @if draw.spot_check { ", trainer’s spot check" } }
                @for (what, words) in &draw.circumstances { dt { (capital(what)) } dd { bdi { (words) } } }
                dt { "Open at the time" }
                dd {
                    @if draw.open.is_empty() { "nothing" } @else { ul { @for point in &draw.open { li { bdi { (point) } } } } }
                }
            }
        }
    }
}

fn result(result: &AfterResult) -> Markup {
    match result {
        AfterResult::NotYet => html! { "not final yet; what grew so far may change and is not shown" },
        AfterResult::NoSpecimen => html! { "not linked: no specimen number was written down" },
        AfterResult::NotFound { specimen } => {
            html! { "not linked: the number " bdi { (specimen) } " is in no file of the laboratory yet" }
        }
        AfterResult::LeftOut { sentence } => html! { "left out by the rule. " (sentence) },
        AfterResult::Final { verdict, sentence, organisms, bottles, to_laboratory_min } => html! {
            strong { (verdict) } ". " (sentence)
            @if !organisms.is_empty() { " Grew: " bdi { (organisms.join("; ")) } "." }
            @if !bottles.is_empty() {
                " Fill by the laboratory: "
                @for (index, (kind, fill_ml)) in bottles.iter().enumerate() {
                    @if index > 0 { ", " }
                    (kind) " " @match fill_ml { Some(ml) => { (format!("{ml:.1} mL")) } None => "not given" }
                }
                "."
            }
            @match to_laboratory_min {
                Some(minutes) => { " At the laboratory after " (minutes) " min." }
                None => {}
            }
        },
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
