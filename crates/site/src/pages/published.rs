//! A month's report published: its figures kept as they were, and beside them those of today.

use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use desk::{FigureBeside, MonthReport, PublishedMonth, ReportFigure, beside_today};
use jiff::civil::DateTime;
use maud::{Markup, html};
use practice::PersonId;
use uuid::Uuid;

use super::teach_back::{as_form, read_entry};
use super::{Segment, reports, segment};
use crate::address::{self, quote, read_month};
use crate::ask::Site;
use crate::door::{Publication, Recording, Refusal};
use crate::entrance::is_chosen;
use crate::form::{self as forms, Sent};
use crate::parts::{cell, count, day, moment, month_words, name, percent, section, table};
use crate::problem::Problem;

/// What the report's page shows about its publication.
pub(super) struct Shown {
    pub(super) published: Vec<PublishedMonth>,
    pub(super) publishers: Vec<(PersonId, String)>,
    pub(super) now: DateTime,
    pub(super) refusals: Vec<Refusal>,
    /// Who publishes, as typed.
    pub(super) by: String,
}

/// A publication sent.
pub(super) async fn take(
    State(site): State<Site>,
    month: Segment<String>,
    sent: Sent,
) -> Result<Response, Problem> {
    let month = read_month(&segment(month)?)?;
    let posted = forms::read(&site, sent)?;
    let id = read_entry(posted.text("entry")).map_err(as_form)?;
    let at: DateTime = posted.text("at").parse().map_err(|_| Problem::BadForm {
        found: format!("“{}” as at", quote(posted.text("at"))),
        expected: "a date and a time".to_owned(),
    })?;
    let by = posted.text("by").to_owned();
    let mut refusals: Vec<Refusal> = posted.stale.clone().into_iter().collect();
    if by.is_empty() {
        refusals.push(Refusal::new("Published by", "nobody", "a trainer", "choose your name"));
    }
    let (_, report) = site.ask(move |desk| desk.report(month)).await?;
    let report = report.ok_or_else(|| reports::no_such_report(month))?;
    if posted.text("seen") != seen(&report) {
        refusals.push(Refusal::new(
            "the figures",
            "other figures than the page showed when it was opened: results have come in since",
            "the figures you have looked at",
            "look at the report below once more and publish it then",
        ));
    }
    if refusals.is_empty() {
        let publication = Publication { id, at, by: PersonId(by.clone()), month };
        match site.publish(publication).await? {
            Recording::Recorded | Recording::AlreadyThere => {
                return Ok(Redirect::to(&format!("{}#published", address::report(month))).into_response());
            }
            Recording::Refused(found) => refusals.extend(found),
        }
    }
    reports::page(&site, month, refusals, by).await
}

/// The counts a form was opened on, so that nobody publishes what they have not seen.
fn seen(report: &MonthReport) -> String {
    report.figures().iter().map(|figure| format!("{}/{};", figure.events, figure.trials)).collect()
}

/// The part of the report's page about its publication.
pub(super) fn part(site: &Site, report: &MonthReport, shown: &Shown) -> Markup {
    let note = html! { p { "What was handed to the committee stays as it was, when a corrected result changes a figure later." } };
    section(
        "published",
        "Published",
        Some(note),
        &html! {
            @match shown.published.first() {
                None => { p.empty { "This report has not been published." } }
                Some(latest) => {
                    (publication(latest, report))
                    @if shown.published.len() > 1 {
                        h3 { "Published before" }
                        ul { @for each in &shown.published[1..] { li { (when(each)) } } }
                    }
                }
            }
            (form(site, report, shown))
        },
    )
}

fn when(published: &PublishedMonth) -> Markup {
    html! {
        (moment(published.at)) " by " (name(&published.by_name)) ", with the figures of " (day(published.as_of))
        ". Rule: " (published.rule) "."
    }
}

fn publication(published: &PublishedMonth, report: &MonthReport) -> Markup {
    let beside = beside_today(&published.figures, &report.figures());
    let n_changed = beside.iter().filter(|each| each.has_changed()).count();
    html! {
        p { (when(published)) }
        p.sentence role="status" {
            @if n_changed == 0 { "All " (beside.len()) " figures are today as they were published." }
            @else { (n_changed) " of " (beside.len()) " figures are not today as they were published: results were corrected, or came later." }
        }
        details open[n_changed > 0] {
            summary { "The figures as published and as of today" }
            (figures(&beside))
        }
    }
}

const COLUMNS: [&str; 4] = ["Figure", "As published", "Today", "Changed"];

fn figures(beside: &[FigureBeside]) -> Markup {
    let rows = html! {
        @for each in beside {
            tr role="row" {
                th scope="row" role="rowheader" { bdi { (each.name) } }
                (cell(COLUMNS[1], &figure(each.published.as_ref())))
                (cell(COLUMNS[2], &figure(each.today.as_ref())))
                (cell(COLUMNS[3], &html! { @if each.has_changed() { strong { "changed" } } @else { "as published" } }))
            }
        }
    };
    table(
        "published",
        "Counts, with the 95 % interval of each share where the report gives one.",
        &COLUMNS,
        &rows,
    )
}

fn figure(figure: Option<&ReportFigure>) -> Markup {
    html! {
        @match figure {
            None => "not in the report",
            Some(figure) => {
                (count(figure.events)) " of " (count(figure.trials))
                @if let Some((lower, upper)) = figure.interval { " (" (percent(lower)) " to " (percent(upper)) ")" }
            }
        }
    }
}

fn form(site: &Site, report: &MonthReport, shown: &Shown) -> Markup {
    let is_over = report.as_of > report.month.last_of_month();
    html! {
        @if shown.publishers.is_empty() {
            p.note { "No trainer is on the unit, and only a trainer publishes a report." }
        } @else if !is_over {
            p.note { "The month is not over. A report is published after its last day." }
        } @else {
            form method="post" action=(address::report(report.month)) {
                (site.secret().field())
                input type="hidden" name="entry" value=(Uuid::now_v7());
                input type="hidden" name="at" value=(shown.now);
                input type="hidden" name="seen" value=(seen(report));
                p {
                    "Provisional sets, which may still change a figure: " (count(report.this_month.counts.provisional)) "."
                }
                p.field {
                    label for="by" { "Published by" }
                    select #by name="by" required {
                        option value="" { "choose" }
                        @for (id, who) in &shown.publishers { option value=(id) selected[is_chosen(&shown.by, id)] { (who) } }
                    }
                }
                p.actions {
                    button type="submit" {
                        @if shown.published.is_empty() { "Publish the report of " } @else { "Publish again the report of " }
                        (month_words(report.month))
                    }
                }
            }
        }
    }
}
