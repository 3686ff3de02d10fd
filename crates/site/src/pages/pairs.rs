//! Pairs of a line's and a vein's set: which were positive when, and what makes a pair uninterpretable. No patient is
//! named, and no rate is made of a few pairs.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use desk::{PairRow, PairSet, PairsPage, pair_rule};
use maud::{Markup, html};

use crate::ask::Site;
use crate::parts::{caution, cell, count, day, moment, of, section, sentence_start, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// Addresses of this page.
pub(super) fn routes() -> Router<Site> {
    Router::new().route("/results/pairs", get(show))
}

async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, page) = site.ask(|desk| desk.pairs()).await?;
    Ok(sheet::page(&about, Place::Results, "Line and vein pairs", &content(&page)))
}

fn content(page: &PairsPage) -> Markup {
    let (both, others): (Vec<&PairRow>, Vec<&PairRow>) = page.rows.iter().partition(|row| row.both_grew);
    html! {
        header.opening {
            h1 { "Line and vein pairs" }
            p.lead {
                "A set from a line and the same patient’s set from a vein, drawn nearest to it within 24 hours; as of "
                (day(page.as_of)) ". " a href="/results" { "Results" }
            }
        }
        (section("rule", "What a pair can say", None, &html! {
            p { (pair_rule()) }
            dl.facts {
                dt { "Pairs" } dd { (count(page.n_pairs as u64)) }
                @for (place, (finding, n)) in page.findings.iter().enumerate() {
                    @if *n > 0 || place < 2 { dt { (finding) } dd { (of(*n as u64, page.n_pairs as u64)) } }
                }
                dt { "Line sets without a vein set" }
                dd { (of(page.n_alone as u64, page.n_line_sets as u64)) " sets from lines" }
                dt { "Time to positivity known" }
                dd {
                    (of(page.timed.0 as u64, page.timed.1 as u64)) " sets of pairs that grew"
                    @if page.timed.0 == 0 && page.timed.1 > 0 {
                        ": the laboratory’s files give none. Name the column in the mapping as " code { "positive_after_h" } ", or the code of messages as " code { "positive_after_codes" }
                        ", and take the files in again"
                    }
                }
            }
            p.note {
                "No percentage is made of them, and so there is no interval: pairs are few, and drawn where a line was suspected. Whether an antibiotic was given before a draw is not in the laboratory’s files; where it was, a "
                "difference can mislead."
            }
        }))
        (section("both", "Both grew", Some(html! { p { "Latest first." } }), &html! {
            @if both.is_empty() { p.empty { "No pair in which both grew." } } @else { (rows(&both)) }
        }))
        (section("others", "One grew, or neither", Some(html! { p { "There is no difference in time." } }), &html! {
            @if others.is_empty() { p.empty { "No such pair." } } @else {
                details { summary { (count(others.len() as u64)) " pairs as a table" } (rows(&others)) }
            }
            @if page.n_pairs > page.rows.len() {
                p.note { "Shown are the latest " (page.rows.len()) " of " (page.n_pairs) " pairs, those that grew first." }
            }
        }))
        (caution("caution", "Evidence, not proof", &[
            "A licensed clinician decides what becomes of a line; local policy and the laboratory’s instructions come first."
                .to_owned(),
        ]))
    }
}

fn rows(rows: &[&PairRow]) -> Markup {
    table(
        "line-pairs",
        "Pairs by specimen number.",
        &["Line’s set", "Vein’s set", "What it says", "What stands against it"],
        &html! {
            @for row in rows {
                tr role="row" {
                    th scope="row" role="rowheader" { (side(&row.line)) }
                    (cell("Vein’s set", &side(&row.vein)))
                    (cell("What it says", &html! {
                        strong { (row.finding) } "."
                        @if let Some(difference) = &row.difference { " " (sentence_start(difference)) "." }
                        @if row.is_open { span.line { "Not final yet: it may change." } }
                    }))
                    (cell("What stands against it", &html! {
                        @if row.doubts.is_empty() { "nothing known" } @else {
                            @for doubt in &row.doubts { span.line { (sentence_start(doubt)) "." } }
                        }
                    }))
                }
            }
        },
    )
}

fn side(set: &PairSet) -> Markup {
    html! {
        span.line { bdi { (set.specimen) } }
        span.line.by { (set.from) ", " @match set.at { Some(at) => { (moment(at)) } None => { (day(set.day)) ", no time" } } }
        span.line.by {
            @match set.volume_ml { Some(ml) => { (format!("{ml:.1} mL")) } None => "volume not known" }
            "; "
            @if set.organisms.is_empty() { "no growth" } @else {
                bdi { (set.organisms.join("; ")) }
                @match &set.positive_after { Some(after) => { " after " (after) } None => ", time to positivity not known" }
            }
        }
    }
}
