//! What a draw showed: before it is saved, and from the book.

use desk::{ObserveForm, ObservedPage};
use maud::{Markup, html};
use practice::{PersonId, Setting};
use uuid::Uuid;

use super::typed::Typed;
use super::{Mode, scripted};
use crate::address;
use crate::ask::Site;
use crate::door::About;
use crate::entrance::Viewer;
use crate::parts::{Shape, moment, name, of, safety_mark, section, shape};

/// The summary with everything typed in hidden fields: it is saved or changed from here.
pub(super) fn before_saving(
    site: &Site,
    about: &About,
    form: &ObserveForm,
    typed: &Typed,
    mode: Mode,
    page: &ObservedPage,
) -> Markup {
    let content = html! {
        header.opening {
            h1 { "Look over, then save" }
            p.lead { (lead(page)) " Nothing is in the book yet." }
            p.private { "For this person and their trainer only." }
        }
        (facts(page))
        form.part.decide method="post" action="/observe" data-entry=(typed.entry) {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="breakdown" value=(form.breakdown.code);
            input type="hidden" name="version" value=(form.breakdown.version);
            input type="hidden" name="mode" value=(mode.code());
            @for (field, value) in typed.fields() { input type="hidden" name=(field) value=(value); }
            div.rail { h2 { "Your decision" } }
            div.content {
                p.actions {
                    button type="submit" name="do" value="save" { "Save to the record book" }
                    button.second type="submit" name="do" value="change" { "Change something" }
                }
                p.note { "Sent twice it is one entry. What is saved is never changed; a mistake is mended by a correction." }
            }
        }
    };
    scripted(about, "Look over, then save", mode, &content)
}

/// A draw from the book.
pub(super) fn saved(about: &About, entry: Uuid, page: &ObservedPage) -> Markup {
    let drawn_by = &page.draw.drawn_by;
    let content = html! {
        header.opening data-saved=(entry) {
            h1 { "Draw by " (name(&page.name)) }
            p.lead { (lead(page)) " In the record book." }
            @if let Some(why) = &page.corrected {
                p.lead { strong { "Corrected" } ": " bdi { (why.trim_end_matches('.')) } ". The record shows what stands in its place." }
            }
            p.papers {
                a href=(address::person(drawn_by)) { "Record of " (name(&page.name)) }
                " "
                a href=(next_draw(drawn_by, page)) { "Mark the next draw" }
                @if page.corrected.is_none() && Viewer::now().may_read("/observe/new") {
                    " "
                    a href=(address::correct(entry)) { "Correct this entry" }
                }
            }
            p.private { "For this person and their trainer only." }
        }
        (facts(page))
    };
    scripted(about, &format!("Draw by {}", page.name), Mode::Observe, &content)
}

fn next_draw(drawn_by: &PersonId, page: &ObservedPage) -> String {
    address::observe(Some(drawn_by), &page.draw.job)
}

fn lead(page: &ObservedPage) -> Markup {
    html! {
        "Drawn by " (name(&page.name)) " on " (moment(page.when)) ", watched by " (name(&page.watched_by))
        ", logged by " (name(&page.logged_by)) ": "
        a href=(address::breakdown(&page.draw.job)) { (name(&page.job_name)) } ", version " (page.draw.version) "."
    }
}

fn facts(page: &ObservedPage) -> Markup {
    html! {
        (section("seen", "This draw", Some(html! { p { "What was done. It is no teach-back and no result." } }), &seen(page)))
        (section("open", "Not done without help", Some(html! { p { "Safety points first." } }), &html! {
            @if page.open.is_empty() {
                p.empty { "Everything that was seen was done without help." }
            } @else {
                ol.points {
                    @for point in &page.open {
                        li {
                            span.item { (point.item) }
                            @if point.safety { (safety_mark()) " " }
                            bdi { (point.text) }
                            span.why { " " (point.why) }
                        }
                    }
                }
            }
        }))
        (section("next", "What comes next", None, &html! {
            @if page.rule_met {
                p.due { (shape(Shape::Square)) " With this draw the release rule is met: a decision is due." }
            } @else if page.missing.is_empty() {
                p { "The release rule asks for nothing further, or the job is not on this person’s timetable." }
            } @else {
                p { "With this draw counted, the release rule still asks for:" }
                ul { @for missing in &page.missing { li { (missing) } } }
            }
            p.note { "The program counts; the trainer decides." }
        }))
        (section("circumstances", "Circumstances", None, &circumstances(page)))
        (section("result", "Result of the set", Some(html! { p { "For the collector and the trainer." } }), &html! {
            p {
                @match (&page.result, &page.draw.specimen) {
                    (Some(verdict), _) => { (crate::parts::sentence_start(verdict)) ". One set says little about a person." }
                    (None, Some(_)) => "The laboratory has not told yet.",
                    (None, None) => "Without a specimen number no result can be found.",
                }
            }
        }))
    }
}

fn seen(page: &ObservedPage) -> Markup {
    let (done, seen) = page.done;
    let together = page.draw.circumstances.together.len();
    html! {
        p.where-stands {
            @match &page.counts {
                Ok(()) => { (shape(Shape::Hand)) " Counts towards release." }
                Err(why) => { (shape(Shape::Square)) " Saved, and does not count towards release: " (why) "." }
            }
        }
        dl.facts {
            dt { "Done without help" }
            dd { (of(done as u64, seen as u64)) " key points that were seen" }
            dt { "Not seen or not marked" }
            dd { (page.not_seen) @if page.not_seen > 0 { ". Not seen is not done" } }
            @if together > 0 {
                dt { "Marked together" }
                dd { (together) " as done, in one action after a look at the list" }
            }
        }
        p.note { "Counts are of all key points of one draw, not of a sample, so they carry no interval." }
    }
}

fn circumstances(page: &ObservedPage) -> Markup {
    let draw = &page.draw;
    let more = &draw.circumstances;
    html! {
        dl.facts {
            dt { "Blood in each bottle" }
            dd {
                @if more.fills.is_empty() { "not written down" }
                @for (index, (bottle, tenths)) in more.fills.iter().enumerate() {
                    @if index > 0 { ", " }
                    (bottle.words()) " " (format!("{}.{}", tenths / 10, tenths % 10)) "\u{a0}mL"
                }
            }
            dt { "Attempts" } dd { (draw.attempts) }
            dt { "Specimen number" } dd { bdi { (draw.specimen.as_deref().unwrap_or("none")) } }
            @if draw.setting == Setting::Simulated { dt { "Where" } dd { "on a training arm" } }
            @if draw.taken_over { dt { "Taken over" } dd { "by the watcher" } }
            @if let Some(from) = more.drawn_from {
                dt { "Drawn from" }
                dd { (from.words()) @if let Some(why) = more.why_there { ": " (why.words()) } }
            }
            @if !more.difficulty.is_empty() {
                dt { "Difficult for" }
                dd { (more.difficulty.iter().map(|one| one.words()).collect::<Vec<_>>().join(", ")) }
            }
            @if let Some(stopped) = more.stopped { dt { "Stopped" } dd { (stopped.words()) } }
            @if let Some(lasted) = more.lasted_s { dt { "Lasted" } dd { (minutes(lasted)) } }
            @if !more.began_s.is_empty() {
                dt { "Steps began" }
                dd {
                    @for (step, at) in &more.began_s {
                        @let step_name = page.steps.get(usize::from(step.step).saturating_sub(1));
                        span.line { (minutes(*at)) " " bdi { (step_name.map_or("", String::as_str)) } }
                    }
                }
            }
            @if let Some(moved) = more.clock_moved_s {
                dt { "Clock of the device" }
                dd { "was moved by " (moved) " s during the draw; the times above are of a clock that cannot be moved" }
            }
        }
        @if let Some(note) = &draw.note { p dir="auto" { (note) } }
    }
}

/// `3 min 05 s`.
fn minutes(seconds: u32) -> String {
    if seconds < 60 { format!("{seconds} s") } else { format!("{} min {:02} s", seconds / 60, seconds % 60) }
}
