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
use crate::words::{today as words, way};

/// What needs the trainer, most urgent first.
pub(crate) async fn show(State(site): State<Site>) -> Result<Response, Problem> {
    let (about, (today, beginning)) = site.ask(|desk| Ok((desk.today()?, desk.beginning()?))).await?;
    if beginning.people == 0 {
        return Ok(Redirect::to("/start").into_response());
    }
    Ok(sheet::page(&about, Place::Today, way::TODAY, &content(&today, &beginning)).into_response())
}

fn content(page: &TodayPage, beginning: &Beginning) -> Markup {
    let n_now = page.items.iter().filter(|item| item.urgency <= Urgency::Today).count();
    html! {
        header.opening {
            h1 { (words::heading(&day(page.today))) }
            p.lead { (words::opening(page.items.len(), n_now)) }
        }
        @if !beginning.is_done() {
            (section("begin", words::NOT_BEGUN, None, &html! {
                p {
                    @if beginning.jobs.is_empty() { (words::NO_JOBS) }
                    @else { (words::NO_DATES) }
                }
                p.actions { a.button href="/start" { (words::GO_ON_BEGINNING) } }
            }))
        }
        @for urgency in [Urgency::BeforeNextDraw, Urgency::Today, Urgency::ThisWeek, Urgency::Later] {
            @let items: Vec<&TodayItem> = page.items.iter().filter(|item| item.urgency == urgency).collect();
            @if !items.is_empty() { (group(urgency, &items)) }
        }
        @if !page.shifts.is_empty() { (shifts(&page.shifts)) }
        (section("unit-line", words::UNIT_LINE, Some(html! { a href="/results" { (words::ALL_RESULTS) } }), &html! {
            p { (words::TWELVE_MONTHS) }
            (rate(&page.contamination))
            p.note { (words::provisional(&count(page.provisional_sets), &page.rule)) }
        }))
        (section("alone", words::WHO_ALONE, Some(html! { a href="/people" { (words::EVERYBODY) } }), &html! {
            @if page.released.is_empty() {
                p.empty { (words::no_breakdown("/start")) }
            } @else {
                table.plain {
                    caption { (words::RELEASED) }
                    thead { tr { th scope="col" { (words::JOB) } th.number scope="col" { (words::MAY_DRAW_ALONE) } } }
                    tbody {
                        @for (job, released, people) in &page.released {
                            tr { th scope="row" { (job) } td.number { (words::people(&of(*released, *people))) } }
                        }
                    }
                }
            }
        }))
    }
}

fn shifts(shifts: &[ShiftCover]) -> Markup {
    let columns = [words::SHIFT_AND_JOB, words::MAY_DRAW_ALONE, words::MAY_WATCH, words::LEARNING];
    section(
        "shifts",
        words::SHIFTS,
        Some(html! {
            a href="/next-draw" { (words::WHO_NEXT) }
            br;
            a href="/timetable" { (words::COMING_SHIFTS) }
        }),
        &table(
            "shifts",
            words::BY_THE_ROSTER,
            &columns,
            &html! {
                @for line in shifts {
                    tr role="row" {
                        th scope="row" role="rowheader" { (words::shift_of_job(&sentence_start(&line.shift), &line.job_name)) }
                        (cell(words::MAY_DRAW_ALONE, &words::on_duty(&of(line.may_draw_alone.len() as u64, line.on_duty), &line.may_draw_alone)))
                        (cell(words::MAY_WATCH, &words::so_many(&count(line.may_watch.len() as u64), &line.may_watch)))
                        (cell(words::LEARNING, &words::so_many(&count(line.learning.len() as u64), &line.learning)))
                    }
                }
            },
        ),
    )
}

fn group(urgency: Urgency, items: &[&TodayItem]) -> Markup {
    let id = match urgency {
        Urgency::BeforeNextDraw => "before-next-draw",
        Urgency::Today => "today",
        Urgency::ThisWeek => "this-week",
        Urgency::Later => "for-information",
    };
    html! {
        section.part.urgency aria-labelledby=(id) {
            div.rail { h2 id=(id) { (shape(Shape::of_urgency(urgency))) (words::urgency(urgency)) } }
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
