//! The timetable of the trade: who can do what, who is to learn what by when, what is missing, coverage of the shifts.

mod date;
mod expected;

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use desk::{CoverRow, JobCover, Named, TradeCell, TradeGap, TradePage};
use maud::{Markup, html};

use super::plan::{chance, on_shift, roster_problems};
use crate::address;
use crate::ask::Site;
use crate::parts::{cell, day, name, section, sentence_start, standing, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// People named one by one where several are alone on shifts.
const MOST_ALONE: usize = 6;

pub(crate) fn routes() -> Router<Site> {
    Router::new().route("/timetable", get(show)).route("/timetable/date", get(date::open).post(date::take))
}

async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, (page, problems)) = site.ask(|desk| Ok((desk.trade()?, desk.roster_problems()?))).await?;
    Ok(sheet::page(&about, Place::Timetable, "Timetable", &content(&page, &problems)))
}

fn content(page: &TradePage, problems: &[String]) -> Markup {
    html! {
        header.opening {
            h1 { "Timetable" }
            p.lead {
                "Who can do which job on " (day(page.today)) ", and who is to learn what by when. "
                "Standings come from the record book; only a trainer’s release raises one."
            }
            p.papers {
                a href="/timetable/date" { "Set a date" } " " a href="/plan" { "Plan" } " " a href="/next-draw" { "Next draw" }
            }
        }
        (roster_problems(problems))
        @if page.jobs.is_empty() {
            p.empty { "No breakdown is in the book yet, so there is no job to learn. " a href="/start" { "Publish one first" } "." }
        } @else {
            (section("gaps", "What is missing", Some(html! {
                p { "People who left, came, or need a word before the next draw." }
            }), &gaps(&page.gaps)))
            (section("people", "People by jobs", Some(html! {
                p { "A date is the day by which the person is to be released." }
            }), &people(page)))
            @if page.covers.is_empty() {
                (section("coverage", "Coverage of the shifts", None, &html! {
                    p.empty { "There is no roster. Put the unit’s roster into the data folder (docs/plan.md) to see how many released people each shift has." }
                }))
            }
            @for cover in &page.covers { (coverage(page, cover)) }
            @if !page.expected.is_empty() { (expected::all(&page.expected)) }
        }
    }
}

fn gaps(gaps: &[TradeGap]) -> Markup {
    html! {
        @if gaps.is_empty() {
            p.empty { "Nothing: nobody left, lapsed or is late, and every learner has a date." }
        } @else {
            ul {
                @for gap in gaps {
                    li {
                        strong { (name(&gap.job_name)) ", " (gap.people.len()) (if gap.people.len() == 1 { " person: " } else { " people: " }) (gap.what) }
                        ". " (names(&gap.people)) ". To do: " (gap.to_do) "."
                    }
                }
            }
        }
    }
}

fn names(people: &[Named]) -> Markup {
    html! {
        @for (place, person) in people.iter().enumerate() {
            @if place > 0 { ", " }
            a href=(address::person(&person.id)) { (name(&person.name)) }
        }
    }
}

fn people(page: &TradePage) -> Markup {
    let mut columns = vec!["Person"];
    columns.extend(page.jobs.iter().map(|(_, job_name)| job_name.as_str()));
    table(
        "trade",
        "Everybody on the unit who is not away.",
        &columns,
        &html! {
            @for row in &page.rows {
                tr role="row" {
                    th scope="row" role="rowheader" {
                        a href=(address::person(&row.person.id)) { (name(&row.person.name)) }
                    }
                    @for ((job, job_name), one) in page.jobs.iter().zip(&row.cells) {
                        (cell(job_name, &html! {
                            (standing(&one.level, &one.level))
                            (by(one))
                            @if can_have_date(&one.level) {
                                " "
                                a href=(address::timetable_date(&row.person.id, job)) {
                                    @if one.needed_by.is_some() { "change" } @else { "set a date" }
                                    span.unseen { " for " (row.person.name) ", " (job_name) }
                                }
                            }
                        }))
                    }
                }
            }
        },
    )
}

/// A date is set for somebody who is not released.
fn can_have_date(level: &str) -> bool {
    ["not planned", "planned", "learning, draws watched", "withdrawn"].contains(&level)
}

fn by(one: &TradeCell) -> Markup {
    html! {
        @if let Some(by) = one.needed_by {
            span.due {
                "by " (day(by))
                @if one.is_past { " (past)" }
            }
        }
    }
}

fn coverage(page: &TradePage, cover: &JobCover) -> Markup {
    let id = format!("coverage-{}", cover.job);
    let n = cover.shifts.len();
    let bare = cover.shifts.iter().filter(|shift| shift.released.is_empty()).count();
    let attendance = page.attendance * 100.0;
    section(
        &id,
        &format!("Coverage: {}", cover.job_name),
        Some(html! { p { "Released people on each shift, to " (day(page.until)) "." } }),
        &html! {
            p.sentence {
                "By the roster " (bare) " of " (n) " shifts have nobody who may draw alone. "
                "With each person on the roster coming with a chance of " (format!("{attendance:.0}")) " %, "
                (format!("{:.1}", cover.mean_bare)) " of " (n) " shifts have nobody in the mean."
            }
            p.note {
                "The chance of a shift with nobody is Poisson-binomial: the product of the chances of not coming. That people come or do not without regard to each other, and the "
                (format!("{attendance:.0}")) " % (attendance in plan.toml), are assumptions, so the chance carries no interval. "
                a.method href=(address::method("chance_of_at_most_present")) { "How this is worked out" }
            }
            @if cover.n_not_rostered > 0 {
                p { (cover.n_not_rostered) " more shifts up to " (day(page.until)) " have nobody on the roster at all and are not counted." }
            }
            @if !cover.alone.is_empty() {
                p {
                    "The only one released on a shift: "
                    @for (place, (person, times)) in cover.alone.iter().take(MOST_ALONE).enumerate() {
                        @if place > 0 { ", " }
                        (name(&person.name)) " " (times) "\u{a0}" (if *times == 1 { "time" } else { "times" })
                    }
                    @if cover.alone.len() > MOST_ALONE { ", and " (cover.alone.len() - MOST_ALONE) " more" }
                    ". Were one of them to leave, these shifts would have nobody."
                }
            }
            @if bare > 0 {
                p {
                    "Nobody released on duty: "
                    @for (place, shift) in cover.shifts.iter().filter(|shift| shift.released.is_empty()).enumerate() {
                        @if place > 0 { "; " }
                        (on_shift(shift.shift.0, &shift.shift.1))
                    }
                    "."
                }
            }
            @if n > 0 {
                details {
                    summary { "All " (n) " shifts, one by one" }
                    (table("cover", &format!("Shifts from today on: {}.", cover.job_name), &["Shift", "Released", "Chance of nobody", "May watch", "Learning"], &html! {
                        @for shift in &cover.shifts { (cover_row(shift)) }
                    }))
                }
            }
        },
    )
}

fn cover_row(shift: &CoverRow) -> Markup {
    html! {
        tr role="row" {
            th scope="row" role="rowheader" { (on_shift(shift.shift.0, &shift.shift.1)) }
            (cell("Released", &html! {
                @if shift.released.is_empty() { strong { "0 of " (shift.n_on_duty) " on duty" } }
                @else {
                    (shift.released.len()) " of " (shift.n_on_duty) " on duty: "
                    bdi { (shift.released.iter().map(|one| one.name.as_str()).collect::<Vec<_>>().join(", ")) }
                }
            }))
            (cell("Chance of nobody", &html! {
                @if shift.released.is_empty() { (sentence_start("certain by the roster")) } @else { (small(shift.chance_of_none)) }
            }))
            (cell("May watch", &html! { (shift.n_may_watch) }))
            (cell("Learning", &html! { (shift.n_learning) }))
        }
    }
}

/// A chance that may be small: one in so many, where per cent would say little.
fn small(of: f64) -> String {
    if of > 0.0 && of < 1e-4 {
        "under 1 in 10\u{202f}000".to_owned()
    } else if of > 0.0 && of < 0.01 {
        format!("1 in {:.0}", 1.0 / of)
    } else {
        chance(of)
    }
}
