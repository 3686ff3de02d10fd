use axum::extract::State;
use desk::{Chance, DrawRow, EvidenceRow, JobStanding, PersonPage, PersonResults};
use maud::{Markup, html};
use practice::{PersonId, Role};

use super::{Segment, segment};
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::door::Paper;
use crate::entrance::Viewer;
use crate::parts::{Shape, cell, day, moment, name, of, percent, rate, section, shape, standing, table};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// One person's record: standing with its evidence, what is missing, and the person's own results.
pub(crate) async fn show(State(site): State<Site>, id: Segment<String>) -> Result<Markup, Problem> {
    let id = PersonId(read_identifier(&segment(id)?, "staff identifier")?);
    let (about, (id, person)) = site.ask(move |desk| desk.person(&id).map(|page| (id, page))).await?;
    let person = person.ok_or_else(|| no_such_person(&id))?;
    Ok(sheet::page(&about, Place::People, &person.row.name, &content(&person)))
}

pub(crate) fn no_such_person(id: &PersonId) -> Problem {
    let what = format!("Nobody on the unit has the staff identifier “{}”. It may be misspelt.", quote(&id.0));
    Problem::NotFound { what, back: Back::People }
}

pub(crate) fn role_words(role: Role) -> &'static str {
    match role {
        Role::Nurse => "nurse",
        Role::Preceptor => "preceptor",
        Role::Trainer => "trainer",
    }
}

fn content(page: &PersonPage) -> Markup {
    let row = &page.row;
    let record = Paper::PersonRecord(row.id.clone());
    html! {
        header.opening {
            h1 { (name(&row.name)) }
            p.lead {
                (role_words(row.role)) ", staff identifier " bdi { (row.id) } ", on the unit since " (day(row.started)) ". "
                a href=(address::paper(&record)) { "Record on paper (PDF)" }
                @if Viewer::now().may_read("/away") {
                    " " a href=(address::away(&row.id)) { "Leave and return" }
                }
            }
            p.private { "For this person and their trainer only." }
        }
        (section("standing", "Standing", Some(html! { p { "The program never raises a standing: a trainer does, and signs." } }), &html! {
            @if row.standings.is_empty() { p.empty { "No job is planned for this person yet." @if Viewer::now().may_read("/timetable/date") { " " a href="/timetable/date" { "Set a date" } "." } } }
            @for each in &row.standings { (job(&row.id, each)) }
        }))
        (section("practise", "To practise next", Some(html! { p { "Safety points first." } }), &practise(page)))
        (section("draws", "Observed draws", Some(html! { p { "Done, as a watcher saw it. Latest first." } p { a href=(address::after(&row.id)) { "Own draws beside their results" } } }), &draws(&page.draws)))
        (section("evidence", "Everything on record", Some(html! {
            p { "Said, done and decided stand apart: none of them stands in for another. A correction stands beside what it corrects." }
        }), &evidence(&page.evidence)))
        (section("results", "Own results", Some(html! {
            p { "What the laboratory found in sets that name this person as collector. For this person and their trainer only." }
        }), &results(&page.results)))
    }
}

fn job(person: &PersonId, each: &JobStanding) -> Markup {
    let viewer = Viewer::now();
    html! {
        article.job {
            h3 { a href=(address::breakdown(&each.job)) { (name(&each.job_name)) } }
            p.where-stands { (standing(&each.short, &each.standing)) }
            dl.facts {
                @if let Some(since) = each.since { dt { "Since" } dd { (day(since)) } }
                @if let Some(who) = &each.on_word_of { dt { "On the word of" } dd { (name(who)) } }
                @if let Some(by) = each.planned_by { dt { "To be learnt by" } dd { (day(by)) } }
                @if let Some((date, what)) = &each.next { dt { "Next" } dd { (day(*date)) ": " (what) } }
            }
            @if each.rule_met {
                p.due { (shape(Shape::Square)) "The release rule is met: a decision is due." }
            } @else if each.short != "not planned" && !each.missing.is_empty() {
                p { "The release rule still asks for:" }
                ul { @for missing in &each.missing { li { (missing) } } }
            }
            p.papers {
                @if viewer.may_read("/teach-back/new") {
                    a href=(address::hear_teach_back(person, &each.job)) { "Hear a teach-back" }
                    " "
                    a href=(address::hand_in_transcript(person, &each.job)) { "From a transcript" }
                    " "
                    a href=(address::observe(Some(person), &each.job)) { "Mark an observed draw" }
                    " "
                }
                a href=(address::practice(&each.job, Some(person))) { "Practise alone" }
                @if viewer.may_speak_for(person) {
                    " "
                    a href=(address::confidence(person, &each.job)) { "Say how sure you are" }
                }
                @if viewer.may_read("/signing") {
                    " "
                    a href=(address::signing(person, &each.job)) { "Decide and sign" }
                }
            }
        }
    }
}

fn practise(page: &PersonPage) -> Markup {
    html! {
        @if page.practise.is_empty() {
            p.empty { "Nothing is open from the latest teach-back and draws." }
        } @else {
            ol.points { @for (item, words) in &page.practise { li { span.item { (item) } bdi { (words) } } } }
        }
    }
}

fn draws(draws: &[DrawRow]) -> Markup {
    if draws.is_empty() {
        return html! { p.empty { "No draw has been watched yet. Mark one at the bed, from the job above or under " a href="/bedside" { "Bedside" } "." } };
    }
    let columns = ["When", "Job", "Watched by", "Without help", "Open", "Counts", "Result of the set"];
    table(
        "draws",
        "Key points done without help, of those seen and applicable. Each draw is counted whole, so no interval.",
        &columns,
        &html! {
            @for draw in draws {
                tr role="row" {
                    th scope="row" role="rowheader" {
                        @match draw.entry.parse::<uuid::Uuid>() {
                            Ok(entry) => { a href=(address::observed(entry)) { (moment(draw.when)) } }
                            Err(_) => (moment(draw.when)),
                        }
                    }
                    (cell("Job", &name(&draw.job.0)))
                    (cell("Watched by", &html! {
                        (name(&draw.watched_by)) @if draw.spot_check { ", trainer’s spot check" }
                    }))
                    (cell("Without help", &html! { (of(draw.done, draw.seen)) }))
                    (cell("Open", &html! {
                        @if draw.open.is_empty() {
                            "none"
                        } @else {
                            ul.points { @for (item, words) in &draw.open { li { span.item { (item) } bdi { (words) } } } }
                        }
                    }))
                    (cell("Counts", &html! {
                        @match &draw.counts { Ok(()) => "yes", Err(why) => { "no: " (why) } }
                    }))
                    (cell("Result of the set", &html! { (draw.result.as_deref().unwrap_or("not linked")) }))
                }
            }
        },
    )
}

/// The three kinds of evidence, and what was planned beside what was decided.
fn lane(kind: &str) -> (&'static str, Shape) {
    match kind {
        "said" => ("said", Shape::Speech),
        "done" => ("done", Shape::Hand),
        _ => ("decided", Shape::Pen),
    }
}

fn evidence(rows: &[EvidenceRow]) -> Markup {
    if rows.is_empty() {
        return html! { p.empty { "Nothing is on record yet. A date, a demonstration, a teach-back or a draw comes first." } };
    }
    let find = |entry: &str| rows.iter().find(|row| row.entry == entry);
    let may_correct = Viewer::now().may_read("/signing");
    html! {
        div.lanes aria-hidden="true" {
            span {}
            span { (shape(Shape::Speech)) "Said" }
            span { (shape(Shape::Hand)) "Done" }
            span { (shape(Shape::Pen)) "Decided and planned" }
        }
        ol.timeline {
            @for (index, row) in rows.iter().enumerate() {
                @let (lane, mark) = lane(&row.kind);
                // An entry that concerns two jobs stands here twice, but an anchor may not.
                @let is_first = !rows.iter().take(index).any(|earlier| earlier.entry == row.entry);
                li id=[is_first.then(|| entry_anchor(&row.entry))] data-lane=(lane) {
                    p.when { (moment(row.when)) }
                    div.entry {
                        p { span.kind { (shape(mark)) (row.kind) } }
                        p { bdi { (row.what) } }
                        p.by {
                            "Written down by " (name(&row.by))
                            @if may_correct && row.corrected_by.is_none() && row.corrects.is_none()
                                && let Ok(entry) = row.entry.parse::<uuid::Uuid>() {
                                " " a href=(address::correct(entry)) aria-label=(format!("Correct the entry of {}", practice::day_in_words(row.when.date()))) { "Correct" }
                            }
                        }
                        @if let Some((by, why)) = &row.corrected_by {
                            p.correction {
                                strong { "Corrected" } ": " bdi { (why.trim_end_matches('.')) } ". "
                                @match find(by) {
                                    Some(correction) => {
                                        "Now reads: " q { (name(&correction.what)) } " "
                                        a href={ "#" (entry_anchor(by)) } { "See the correction" }
                                    }
                                    None => "Nothing stands in its place in this record.",
                                }
                            }
                        }
                        @if let Some(original) = &row.corrects {
                            p.correction {
                                strong { "Replaces" } " "
                                @match find(original) {
                                    Some(first) => {
                                        q { (name(&first.what)) } " "
                                        a href={ "#" (entry_anchor(original)) } { "See the entry of " (moment(first.when)) }
                                    }
                                    None => "an entry that is not part of this list.",
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// An anchor made of an entry's identifier; characters that an anchor may not hold become hyphens.
fn entry_anchor(entry: &str) -> String {
    let plain: String = entry.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    format!("entry-{plain}")
}

fn results(results: &PersonResults) -> Markup {
    html! {
        (rate(&results.contamination))
        @match &results.chance {
            Some(chance) => { (chance_block(chance)) }
            None => { p { "With no closed set nothing can be said about chance." } }
        }
        dl.facts {
            dt { "Collector not recorded" }
            dd {
                (of(results.unknown_collectors.events, results.unknown_collectors.of)) " " (results.unknown_collectors.of_what)
                " of the unit: some of them may be this person’s."
            }
        }
    }
}

/// How far chance explains the count. The sentence comes first: the figures are for those who want to check it.
fn chance_block(chance: &Chance) -> Markup {
    let (lower, upper) = chance.shrunk_interval;
    html! {
        p.sentence { (chance.sentence) }
        dl.facts {
            dt { "By chance alone" }
            dd {
                "At the unit’s rate of " (percent(chance.unit_rate)) " the probability of at least this many is "
                (percent(chance.at_least_this_many)) "."
            }
            dt { "Estimate drawn towards the unit" }
            dd { (percent(chance.shrunk)) ", 95\u{a0}% between " (percent(lower)) " and " (percent(upper)) }
            dt { "Above the target of " (percent(chance.target)) }
            dd { "with probability " (percent(chance.above_target)) }
            dt { "Sets that would tell" }
            dd { (chance.to_know()) }
            @if !chance.anchors.is_empty() {
                dt { "How this is worked out" }
                dd {
                    @for (index, anchor) in chance.anchors.iter().enumerate() {
                        @if index > 0 { ", " }
                        a.method href=(address::method(anchor)) { (named(anchor)) }
                    }
                }
            }
        }
    }
}

/// What a method is called in a sentence about one person's results; another goes by its place on the page of methods.
fn named(anchor: &str) -> String {
    match anchor {
        "probability_as_high" => "the probability by chance alone".to_owned(),
        "benjamini_hochberg" => "looking at many people (Benjamini and Hochberg)".to_owned(),
        "beta_binomial_likelihood" => "the estimate drawn towards the unit (beta-binomial)".to_owned(),
        "credible_interval" => "its interval".to_owned(),
        "trials_to_know" => "sets that would tell".to_owned(),
        other => other.replace(['-', '_'], " "),
    }
}
