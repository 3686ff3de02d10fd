use axum::extract::State;
use chart::{Labels, Look};
use desk::{Charted, Results, UnitRow};
use maud::{Markup, PreEscaped, html};

use crate::address;
use crate::ask::Site;
use crate::door::Older;
use crate::parts::{
    Stratum, cell, count, day, fill, moment, month_words, rate, rate_short, section, strata, table, verdicts,
};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// What the laboratory found, for the unit.
pub(crate) async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, results) = site.ask(|desk| desk.results()).await?;
    Ok(sheet::page(&about, Place::Results, "Results", &content(&results, about.older.as_ref())))
}

/// What is said where the book has grown since the figures were worked out.
fn of_earlier(older: &Older) -> Markup {
    let ago = match older.seconds {
        0..120 => format!("{} seconds ago", older.seconds),
        seconds => format!("{} minutes ago", seconds / 60),
    };
    html! {
        p.older role="status" {
            "The record book has grown since: these figures are of " (moment(older.as_of)) ", " (ago)
            ". Newer ones are being worked out; load the page again in a moment."
        }
    }
}

fn content(results: &Results, older: Option<&Older>) -> Markup {
    if results.counts.sets == 0 {
        return html! {
            header.opening { h1 { "Results" } }
            p.empty {
                "No laboratory result has been taken in yet. " code { "wardwright cultures take-in" }
                " puts a laboratory’s file into the record book; docs/mapping.md says how it is read."
            }
        };
    }
    let all = &results.contamination;
    let by = |group: &str, rows: &[UnitRow]| {
        strata(
            &format!("Contaminated sets by {}", group.to_lowercase()),
            group,
            rows.iter().map(Stratum::from),
            all,
        )
    };
    html! {
        header.opening {
            h1 { "Results" }
            p.lead {
                "Sets collected from " (day(results.from)) " to " (day(results.to)) ", as of " (day(results.as_of)) ". "
                "Provisional, not counted yet: " (count(results.counts.provisional)) ". Rule: " (results.rule) "."
            }
            @if let Some(older) = older { (of_earlier(older)) }
        }
        (section("contamination", "Contamination", Some(html! {
            p { "A contaminated set is one whose growth is judged to come from skin or surroundings." }
        }), &html! {
            (rate(all))
            @for finding in &results.change {
                p.sentence {
                    (finding.sentence) " "
                    a.method href=(address::method(&finding.anchor)) { "How this is worked out" }
                }
            }
        }))
        (section("chart", "Month by month", Some(html! { p { "A point beyond a limit is more than chance explains." } }), &charted(&results.chart)))
        (section("balance", "What must not get worse", Some(html! {
            p { "Fewer contaminated sets with less blood, or with one set instead of two, would be no gain." }
        }), &html! {
            h3 { "Single sets" }
            (rate(&results.single_sets))
            h3 { "Fill of bottles" }
            (fill(&results.fill))
            h3 { "Growth of any kind" }
            (rate(&results.positivity))
        }))
        (section("unit", "By unit", None, &by("Unit", &results.units)))
        (section("route", "Vein or line", Some(html! { a href="/results/pairs" { "Line and vein pairs" } }), &by("Route", &results.routes)))
        (section("shift", "By shift", None, &by("Shift", &results.shifts)))
        (section("collector-standing", "By the collector’s standing", Some(html! {
            p { "Standing at the time of the draw. Groups, never persons." }
        }), &by("Standing", &results.by_standing)))
        (section("verdicts", "Where all sets went", None, &html! {
            (verdicts(&results.counts))
            dl.facts { dt { "No collector recorded" } dd { (rate_short(&results.unknown_collectors)) } }
        }))
        (section("months", "Every month", Some(html! { a href="/reports" { "Monthly reports" } }), &html! {
            details {
                summary { "All months as a table" }
                (strata("Contaminated sets by month of collection", "Month", results.months.iter().map(|row| Stratum {
                    name: html! { a href=(address::report(row.month)) { (month_words(row.month)) } },
                    counts: &row.counts,
                    contamination: &row.contamination,
                }), all))
            }
        }))
    }
}

/// A control chart at two widths, of which the style sheet shows one, and the same as a table.
pub(crate) fn charted(charted: &Result<Charted, String>) -> Markup {
    let charted = match charted {
        Ok(charted) => charted,
        Err(why) => return html! { p { "No chart: " (why) } },
    };
    let labels = Labels {
        title: charted.title.clone(),
        description: charted.chart.why.clone(),
        point_labels: charted.labels.clone(),
        value_axis: charted.value_axis.clone(),
        of_what: charted.of_what.clone(),
        percent: charted.percent,
        anchor_href: None,
    };
    html! {
        figure.chart {
            div.wide { (PreEscaped(chart::control_chart(&charted.chart, &labels, &Look::page("chart-wide")))) }
            div.narrow { (PreEscaped(chart::control_chart(&charted.chart, &labels, &Look::narrow_page("chart-narrow")))) }
            figcaption {
                (charted.title) ". " (charted.chart.why) " "
                a.method href=(address::method(&charted.anchor)) { "How the limits are worked out" }
            }
        }
        @if charted.chart.signals.is_empty() {
            p { "No run rule gave a signal: chance alone could look like this. That does not prove that nothing changed." }
        } @else {
            ol.signals { @for signal in &charted.chart.signals { li { (signal.sentence) } } }
        }
        details { summary { "The chart as a table" } (chart_table(charted, &labels)) }
    }
}

/// The chart for those who cannot or would not look at it.
fn chart_table(charted: &Charted, labels: &Labels) -> Markup {
    let columns =
        ["Point", "Events", "Of", "Value", "Lower limit", "Centre", "Upper limit", "Phase", "Remarks"];
    let or_none = |text: Option<String>| html! { (text.as_deref().unwrap_or("none")) };
    table(
        "chart-table",
        &format!("{}.", charted.title),
        &columns,
        &html! {
            @for row in chart::control_chart_table(&charted.chart, labels) {
                tr role="row" {
                    th scope="row" role="rowheader" { (row.label) }
                    (cell("Events", &or_none(row.events)))
                    (cell("Of", &or_none(row.of)))
                    (cell("Value", &html! { (row.value) }))
                    (cell("Lower limit", &or_none(row.lower)))
                    (cell("Centre", &html! { (row.centre) }))
                    (cell("Upper limit", &or_none(row.upper)))
                    (cell("Phase", &html! { (row.phase) }))
                    (cell("Remarks", &html! { @if row.remarks.is_empty() { "none" } @else { (row.remarks.join("; ")) } }))
                }
            }
        },
    )
}
