use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use desk::{ShiftCover, TodayItem, TodayPage, Urgency};
use maud::{Markup, html};

use crate::address;
use crate::ask::Site;
use crate::door::Beginning;
use crate::parts::{Shape, cell, count, day, of, rate, section, sentence_start, shape, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// What needs the trainer, most urgent first.
pub(crate) async fn show(State(site): State<Site>) -> Result<Response, Problem> {
    let (about, (today, beginning)) = site.ask(|desk| Ok((desk.today()?, desk.beginning()?))).await?;
    if beginning.people == 0 {
        return Ok(Redirect::to("/start").into_response());
    }
    Ok(sheet::page(&about, Place::Today, "Today", &content(&today, &beginning)).into_response())
}

fn content(page: &TodayPage, beginning: &Beginning) -> Markup {
    html! {
        header.opening {
            h1 { "Today, " (day(page.today)) }
            p.lead { (opening(page)) }
        }
        @if !beginning.is_done() {
            (section("begin", "Not begun yet", None, &html! {
                p {
                    @if beginning.jobs.is_empty() { "No breakdown is published, so nobody can learn a job yet." }
                    @else { "Nobody has a date by which to be released." }
                }
                p.actions { a.button href="/start" { "Go on beginning" } }
            }))
        }
        @for urgency in [Urgency::BeforeNextDraw, Urgency::Today, Urgency::ThisWeek, Urgency::Later] {
            @let items: Vec<&TodayItem> = page.items.iter().filter(|item| item.urgency == urgency).collect();
            @if !items.is_empty() { (group(urgency, &items)) }
        }
        @if !page.shifts.is_empty() { (shifts(&page.shifts)) }
        (section("unit-line", "The unit’s line", Some(html! { a href="/results" { "All results" } }), &html! {
            p { "Contamination over the last twelve closed months." }
            (rate(&page.contamination))
            p.note {
                "Provisional, not counted yet: " (count(page.provisional_sets)) ". Rule: " (page.rule) "."
            }
        }))
        (section("alone", "Who may draw alone", Some(html! { a href="/people" { "Everybody and their standing" } }), &html! {
            @if page.released.is_empty() {
                p.empty { "No breakdown is in force yet, so nobody can be released on one. " a href="/start" { "Begin with one" } "." }
            } @else {
                table.plain {
                    caption { "People released to draw without a watcher. These are counts of everybody on the unit, so no interval." }
                    thead { tr { th scope="col" { "Job" } th.number scope="col" { "May draw alone" } } }
                    tbody {
                        @for (job, released, people) in &page.released {
                            tr { th scope="row" { (job) } td.number { (of(*released, *people)) " people" } }
                        }
                    }
                }
            }
        }))
    }
}

fn shifts(shifts: &[ShiftCover]) -> Markup {
    let columns = ["Shift and job", "May draw alone", "May watch", "Learning"];
    section(
        "shifts",
        "On today’s shifts",
        Some(html! {
            a href="/next-draw" { "Who takes the next draw" }
            br;
            a href="/timetable" { "The coming shifts" }
        }),
        &table(
            "shifts",
            "By the roster and today’s standings. Counts of the people on duty, so no interval.",
            &columns,
            &html! {
                @for line in shifts {
                    tr role="row" {
                        th scope="row" role="rowheader" { (sentence_start(&line.shift)) ": " bdi { (line.job_name) } }
                        (cell("May draw alone", &html! {
                            (of(line.may_draw_alone.len() as u64, line.on_duty)) " on duty" (names(&line.may_draw_alone))
                        }))
                        (cell("May watch", &html! { (count(line.may_watch.len() as u64)) (names(&line.may_watch)) }))
                        (cell("Learning", &html! { (count(line.learning.len() as u64)) (names(&line.learning)) }))
                    }
                }
            },
        ),
    )
}

fn names(names: &[String]) -> Markup {
    html! {
        @if names.is_empty() { " (nobody)" } @else { ": " bdi { (names.join(", ")) } }
    }
}

/// One sentence before the list, so that a reader knows at once how long it is.
fn opening(page: &TodayPage) -> String {
    let n_now = page.items.iter().filter(|item| item.urgency <= Urgency::Today).count();
    match (page.items.len(), n_now) {
        (0, _) => {
            "Nothing needs you. The next follow-up or refresher will appear here when it is due.".to_owned()
        }
        (1, 1) => "One thing needs you, today.".to_owned(),
        (n, 0) => {
            format!("{n} {}, none of them today.", if n == 1 { "thing needs you" } else { "things need you" })
        }
        (n, now) if n == now => format!("{n} things need you, all by the end of today."),
        (n, now) => format!("{n} things need you, {now} of them by the end of today."),
    }
}

fn group(urgency: Urgency, items: &[&TodayItem]) -> Markup {
    let (id, words) = match urgency {
        Urgency::BeforeNextDraw => ("before-next-draw", "Before the next draw"),
        Urgency::Today => ("today", "Today"),
        Urgency::ThisWeek => ("this-week", "This week"),
        Urgency::Later => ("for-information", "For information"),
    };
    html! {
        section.part.urgency aria-labelledby=(id) {
            div.rail { h2 id=(id) { (shape(Shape::of_urgency(urgency))) (words) } }
            ol.content.todo {
                @for item in items {
                    li {
                        a href=(address::link(&item.link)) { bdi { (item.what) } }
                        p { bdi { (sentence_start(&item.why)) } }
                    }
                }
            }
        }
    }
}
