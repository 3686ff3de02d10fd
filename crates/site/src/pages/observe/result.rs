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
use crate::words::bed;

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
            h1 { (bed::LOOK_OVER_THEN_SAVE) }
            p.lead { (lead(page)) (bed::NOTHING_IS_IN_THE_BOOK) }
            p.private { (bed::FOR_THIS_PERSON_AND_THEIR) }
        }
        (facts(page))
        form.part.decide method="post" action="/observe" data-entry=(typed.entry) {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="breakdown" value=(form.breakdown.code);
            input type="hidden" name="version" value=(form.breakdown.version);
            input type="hidden" name="mode" value=(mode.code());
            @for (field, value) in typed.fields() { input type="hidden" name=(field) value=(value); }
            div.rail { h2 { (bed::YOUR_DECISION) } }
            div.content {
                p.actions {
                    button type="submit" name="do" value="save" { (bed::SAVE_TO_THE_RECORD_BOOK) }
                    button.second type="submit" name="do" value="change" { (bed::CHANGE_SOMETHING) }
                }
                p.note { (bed::SENT_TWICE_IT_IS_ONE) }
            }
        }
    };
    scripted(about, bed::LOOK_OVER_THEN_SAVE, mode, &content)
}

/// A draw from the book.
pub(super) fn saved(about: &About, entry: Uuid, page: &ObservedPage) -> Markup {
    let drawn_by = &page.draw.drawn_by;
    let content = html! {
        header.opening data-saved=(entry) {
            h1 { (bed::DRAW_BY) (name(&page.name)) }
            p.lead { (lead(page)) (bed::IN_THE_RECORD_BOOK) }
            @if let Some(why) = &page.corrected {
                p.lead { strong { (bed::CORRECTED) } ": " bdi { (why.trim_end_matches('.')) } (bed::THE_RECORD_SHOWS_WHAT_STANDS) }
            }
            p.papers {
                a href=(address::person(drawn_by)) { (bed::RECORD_OF) (name(&page.name)) }
                " "
                a href=(next_draw(drawn_by, page)) { (bed::MARK_THE_NEXT_DRAW) }
                @if page.corrected.is_none() && Viewer::now().may_read("/observe/new") {
                    " "
                    a href=(address::correct(entry)) { (bed::CORRECT_THIS_ENTRY) }
                }
            }
            p.private { (bed::FOR_THIS_PERSON_AND_THEIR) }
        }
        (facts(page))
    };
    scripted(about, &format!("{}{}", bed::DRAW_BY, page.name), Mode::Observe, &content)
}

fn next_draw(drawn_by: &PersonId, page: &ObservedPage) -> String {
    address::observe(Some(drawn_by), &page.draw.job)
}

fn lead(page: &ObservedPage) -> Markup {
    html! {
        (bed::DRAWN_BY_2) (name(&page.name)) (bed::ON) (moment(page.when)) (bed::WATCHED_BY_2) (name(&page.watched_by))
        (bed::LOGGED_BY_2) (name(&page.logged_by)) ": "
        a href=(address::breakdown(&page.draw.job)) { (name(&page.job_name)) } (bed::VERSION) (page.draw.version) "."
    }
}

fn facts(page: &ObservedPage) -> Markup {
    html! {
        (section("seen", bed::THIS_DRAW, Some(html! { p { (bed::WHAT_WAS_DONE_IT_IS) } }), &seen(page)))
        (section("open", bed::NOT_DONE_WITHOUT_HELP, Some(html! { p { (bed::SAFETY_POINTS_FIRST) } }), &html! {
            @if page.open.is_empty() {
                p.empty { (bed::EVERYTHING_THAT_WAS_SEEN_WAS) }
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
        (section("next", bed::WHAT_COMES_NEXT, None, &html! {
            @if page.rule_met {
                p.due { (shape(Shape::Square)) (bed::WITH_THIS_DRAW_THE_RELEASE) }
            } @else if page.missing.is_empty() {
                p { (bed::THE_RELEASE_RULE_ASKS_FOR) }
            } @else {
                p { (bed::WITH_THIS_DRAW_COUNTED_THE) }
                ul { @for missing in &page.missing { li { (missing) } } }
            }
            p.note { (bed::THE_PROGRAM_COUNTS_THE_TRAINER) }
        }))
        (section("circumstances", bed::CIRCUMSTANCES, None, &circumstances(page)))
        (section("result", bed::RESULT_OF_THE_SET, Some(html! { p { (bed::FOR_THE_COLLECTOR_AND_THE) } }), &html! {
            p {
                @match (&page.result, &page.draw.specimen) {
                    (Some(verdict), _) => { (crate::parts::sentence_start(verdict)) (bed::ONE_SET_SAYS_LITTLE_ABOUT) }
                    (None, Some(_)) => (bed::THE_LABORATORY_HAS_NOT_TOLD),
                    (None, None) => (bed::WITHOUT_A_SPECIMEN_NUMBER_NO),
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
                Ok(()) => { (shape(Shape::Hand)) (bed::COUNTS_TOWARDS_RELEASE) }
                Err(why) => { (shape(Shape::Square)) (bed::SAVED_AND_DOES_NOT_COUNT) (why) "." }
            }
        }
        dl.facts {
            dt { (bed::DONE_WITHOUT_HELP) }
            dd { (of(done as u64, seen as u64)) (bed::KEY_POINTS_THAT_WERE_SEEN) }
            dt { (bed::NOT_SEEN_OR_NOT_MARKED) }
            dd { (page.not_seen) @if page.not_seen > 0 { (bed::NOT_SEEN_IS_NOT_DONE) } }
            @if together > 0 {
                dt { (bed::MARKED_TOGETHER) }
                dd { (together) (bed::AS_DONE_IN_ONE_ACTION) }
            }
        }
        p.note { (bed::COUNTS_ARE_OF_ALL_KEY) }
    }
}

fn circumstances(page: &ObservedPage) -> Markup {
    let draw = &page.draw;
    let more = &draw.circumstances;
    html! {
        dl.facts {
            dt { (bed::BLOOD_IN_EACH_BOTTLE) }
            dd {
                @if more.fills.is_empty() { (bed::NOT_WRITTEN_DOWN) }
                @for (index, (bottle, tenths)) in more.fills.iter().enumerate() {
                    @if index > 0 { ", " }
                    (bottle.words()) " " (format!("{}.{}", tenths / 10, tenths % 10)) "\u{a0}mL"
                }
            }
            dt { (bed::ATTEMPTS) } dd { (draw.attempts) }
            dt { (bed::SPECIMEN_NUMBER) } dd { bdi { (draw.specimen.as_deref().unwrap_or("none")) } }
            @if draw.setting == Setting::Simulated { dt { (bed::WHERE) } dd { (bed::ON_A_TRAINING_ARM) } }
            @if draw.taken_over { dt { (bed::TAKEN_OVER) } dd { (bed::BY_THE_WATCHER) } }
            @if let Some(from) = more.drawn_from {
                dt { (bed::DRAWN_FROM) }
                dd { (from.words()) @if let Some(why) = more.why_there { ": " (why.words()) } }
            }
            @if !more.difficulty.is_empty() {
                dt { (bed::DIFFICULT_FOR) }
                dd { (more.difficulty.iter().map(|one| one.words()).collect::<Vec<_>>().join(", ")) }
            }
            @if let Some(stopped) = more.stopped { dt { (bed::STOPPED) } dd { (stopped.words()) } }
            @if let Some(lasted) = more.lasted_s { dt { (bed::LASTED) } dd { (minutes(lasted)) } }
            @if !more.began_s.is_empty() {
                dt { (bed::STEPS_BEGAN) }
                dd {
                    @for (step, at) in &more.began_s {
                        @let step_name = page.steps.get(usize::from(step.step).saturating_sub(1));
                        span.line { (minutes(*at)) " " bdi { (step_name.map_or("", String::as_str)) } }
                    }
                }
            }
            @if let Some(moved) = more.clock_moved_s {
                dt { (bed::CLOCK_OF_THE_DEVICE) }
                dd { (bed::WAS_MOVED_BY) (moved) (bed::S_DURING_THE_DRAW_THE) }
            }
        }
        @if let Some(note) = &draw.note { p dir="auto" { (note) } }
    }
}

/// `3 min 05 s`.
fn minutes(seconds: u32) -> String {
    if seconds < 60 { format!("{seconds} s") } else { format!("{} min {:02} s", seconds / 60, seconds % 60) }
}
