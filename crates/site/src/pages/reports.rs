use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use desk::{Asked, MonthReport, PointFacts, TrainingFacts};
use jiff::civil::Date;
use maud::{Markup, html};

use super::published::{self, Shown};
use super::results::charted;
use super::{Segment, segment};
use crate::address::{self, read_month};
use crate::ask::Site;
use crate::door::{Paper, Refusal};
use crate::form as forms;
use crate::parts::{
    Stratum, cell, count, day, fill, month_words, of, rate, rate_short, safety_mark, section, strata, table,
    verdicts,
};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// The months that have a report, latest first.
pub(crate) async fn list(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, mut months) = site.ask(|desk| desk.months()).await?;
    months.sort_unstable_by(|a, b| b.cmp(a));
    let content = html! {
        header.opening {
            h1 { "Reports" }
            p.lead { "One page a month for the unit and its committee. No individual figures." }
        }
        @if months.is_empty() {
            p.empty { "No month has a report yet: the first appears when laboratory results have been taken in with " code { "wardwright cultures take-in" } " (docs/mapping.md)." }
        }
        @for year in months.chunk_by(|a, b| a.year() == b.year()) {
            @if let Some(first) = year.first() {
                (section(&format!("year-{}", first.year()), &first.year().to_string(), None, &html! {
                    ul.months { @for month in year { li { a href=(address::report(*month)) { (month_words(*month)) } } } }
                }))
            }
        }
    };
    Ok(sheet::page(&about, Place::Reports, "Reports", &content))
}

/// One month's report.
pub(crate) async fn show(State(site): State<Site>, month: Segment<String>) -> Result<Response, Problem> {
    let month = read_month(&segment(month)?)?;
    page(&site, month, Vec::new(), String::new()).await
}

/// One month's report, with what stands in the way of publishing it.
pub(super) async fn page(
    site: &Site,
    month: Date,
    refusals: Vec<Refusal>,
    by: String,
) -> Result<Response, Problem> {
    let (about, (report, months, shown)) = site
        .ask(move |desk| {
            let (published, publishers) = (desk.published(month)?, desk.publishers()?);
            let shown = Shown { published, publishers, now: desk.now(), refusals, by };
            Ok((desk.report(month)?, desk.months()?, shown))
        })
        .await?;
    let report = report.ok_or_else(|| no_such_report(month))?;
    let title = format!("Report of {}", month_words(report.month));
    let content = content(site, &report, &months, &shown);
    let status = if shown.refusals.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok((status, sheet::page(&about, Place::Reports, &title, &content)).into_response())
}

pub(crate) fn no_such_report(month: Date) -> Problem {
    let what = format!(
        "There is no report of {}: no set was collected in it, or it has not come yet.",
        month_words(month)
    );
    Problem::NotFound { what, back: Back::Reports }
}

fn content(site: &Site, report: &MonthReport, months: &[Date], shown: &Shown) -> Markup {
    let all = &report.this_month.contamination;
    html! {
        header.opening {
            h1 { "Report of " (month_words(report.month)) }
            p.lead {
                bdi { (report.unit) } ", as of " (day(report.as_of)) ". Rule: " (report.rule) ". "
                a href=(address::paper(&Paper::MonthReport(report.month))) { "Report on paper (PDF)" }
            }
            (neighbours(report.month, months))
        }
        (forms::refusals(&shown.refusals))
        (section("contamination", "Contamination", None, &html! {
            h3 { "This month" }
            (rate(all))
            p.note { "Provisional, not counted yet: " (count(report.this_month.counts.provisional)) "." }
            h3 { (report.last_twelve_named) }
            (rate(&report.last_twelve))
            @if !report.findings.is_empty() {
                h3 { "What the chart says" }
                ul { @for finding in &report.findings { li { (finding) } } }
            }
        }))
        (section("chart", "Month by month", None, &charted(&report.chart)))
        (section("balance", "What must not get worse", None, &html! {
            h3 { "Single sets" }
            (rate(&report.single_sets))
            h3 { "Fill of bottles" }
            (fill(&report.fill))
            h3 { "Collector not recorded" }
            (rate(&report.unknown_collectors))
        }))
        (section("unit", "By unit", None, &strata(
            "Contaminated sets of the month by unit", "Unit", report.units.iter().map(Stratum::from), all,
        )))
        (section("route", "Vein or line", None, &strata(
            "Contaminated sets of the month by route", "Route", report.routes.iter().map(Stratum::from), all,
        )))
        (section("verdicts", "Where all sets went", None, &verdicts(&report.this_month.counts)))
        (section("training", "Training", Some(html! { p { "Counts of what was done, so no interval." } }), &training(&report.training)))
        (section("missed", "Key points most often open", Some(html! { p { "The last three months, all learners together." } }), &missed(&report.most_missed)))
        (published::part(site, report, shown))
        (section("staff-room", "For the staff room", None, &html! { blockquote { p { (report.staff_room) } } }))
    }
}

/// Ways to the month before and the month after among those that have a report.
fn neighbours(month: Date, months: &[Date]) -> Markup {
    let before = months.iter().filter(|each| **each < month).max();
    let after = months.iter().filter(|each| **each > month).min();
    html! {
        @if before.is_some() || after.is_some() {
            nav.neighbours aria-label="Other months" {
                ul {
                    @if let Some(before) = before { li { a href=(address::report(*before)) rel="prev" { "← " (month_words(*before)) } } }
                    @if let Some(after) = after { li { a href=(address::report(*after)) rel="next" { (month_words(*after)) " →" } } }
                }
            }
        }
    }
}

fn training(facts: &TrainingFacts) -> Markup {
    html! {
        dl.facts {
            @for (job, released) in &facts.released {
                dt { "Released: " (job) }
                dd { (of(*released, facts.people)) " people on the last day" }
            }
            dt { "Teach-backs heard" } dd { (count(facts.teachbacks)) }
            dt { "Draws watched" } dd { (count(facts.draws)) }
            dt { "Spot checks" } dd { (count(facts.spot_checks)) }
            dt { "Releases signed" } dd { (count(facts.releases)) }
            dt { "Follow-ups and refreshers overdue" } dd { (count(facts.overdue)) " on the last day" }
        }
    }
}

fn missed(points: &[PointFacts]) -> Markup {
    if points.is_empty() {
        return html! { p.empty { "No key point was open." } };
    }
    table(
        "often-open",
        "Open: asked for or watched, and not there without help.",
        &["Key point", "Open when said", "Open when done"],
        &html! {
            @for point in points {
                tr role="row" {
                    th.point scope="row" role="rowheader" {
                        span.item { (point.job) " " (point.item) }
                        @if point.safety { (safety_mark()) " " }
                        bdi { (point.text) }
                    }
                    (cell("Open when said", &open(&point.said, "teach-backs")))
                    (cell("Open when done", &open(&point.done, "draws")))
                }
            }
        },
    )
}

/// How often a key point was open, with its interval or why there is none.
fn open(asked: &Asked, of_what: &str) -> Markup {
    html! {
        @if asked.of == 0 { "not judged" } @else { (rate_short(&desk::rate(asked.open, asked.of, "open", of_what))) }
    }
}
