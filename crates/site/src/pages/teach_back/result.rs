//! What a pass showed: before it is saved, and from the book.

use desk::{PractisePoint, TeachBackForm, TeachBackResult};
use maud::{Markup, html};
use uuid::Uuid;

use super::beside;
use super::typed::{LEFT, Typed, mark_field, order_field, time_field};
use super::{about_whom, scripted};
use crate::address;
use crate::ask::Site;
use crate::door::About;
use crate::entrance::Viewer;
use crate::parts::{Shape, moment, name, safety_mark, section, shape};

/// The summary with everything typed in hidden fields, and what else is carried along: it is saved or changed from here.
pub(super) fn before_saving(
    site: &Site,
    about: &About,
    form: &TeachBackForm,
    typed: &Typed,
    result: &TeachBackResult,
    action: &str,
    carried: &[(String, String)],
) -> Markup {
    let content = html! {
        header.opening {
            h1 { "Look over, then save" }
            p.lead { (about_whom(form)) " Nothing is in the book yet." }
            p.private { "For this person and their trainer only." }
        }
        (facts(result))
        form.part.decide method="post" action=(action) data-draft=(typed.entry) {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="person" value=(form.person);
            input type="hidden" name="breakdown" value=(form.breakdown.code);
            input type="hidden" name="version" value=(form.breakdown.version);
            input type="hidden" name="by" value=(typed.by);
            input type="hidden" name="started" value=(typed.started);
            input type="hidden" name="note" value=(typed.note);
            input type="hidden" name="same-pass-as" value=(typed.same_pass_as);
            @for (item, (mark, time)) in &typed.items {
                input type="hidden" name=(mark_field(*item)) value=(mark.name());
                input type="hidden" name=(time_field(*item)) value=(time);
            }
            @for item in &typed.left { input type="hidden" name=(mark_field(*item)) value=(LEFT); }
            @for (name, value) in carried { input type="hidden" name=(name) value=(value); }
            @for (first, then, heard) in &typed.orders {
                input type="hidden" name=(order_field(*first, *then)) value=(heard.code());
            }
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
    scripted(about, "Look over, then save", &content)
}

/// A teach-back from the book.
pub(super) fn saved(about: &About, entry: Uuid, result: &TeachBackResult) -> Markup {
    let title = format!("Teach-back of {}", result.name);
    let content = html! {
        header.opening data-saved=(entry) {
            h1 { "Teach-back of " (name(&result.name)) }
            p.lead {
                "Said on " (moment(result.when)) ", heard by " (name(&result.heard_by)) ": "
                a href=(address::breakdown(&result.job)) { (name(&result.job_name)) } ", version " (result.version)
                ". In the record book."
            }
            @if let Some(why) = &result.corrected {
                p.lead { strong { "Corrected" } ": " bdi { (why.trim_end_matches('.')) } ". The record shows what stands in its place." }
            }
            p.papers {
                a href=(address::person(&result.person)) { "Record of " (name(&result.name)) }
                " "
                a href=(address::practice(&result.job, Some(&result.person))) { "Practise: what was open comes first" }
                @if result.corrected.is_none() && Viewer::now().may_read("/teach-back/new") {
                    " "
                    a href=(address::correct(entry)) { "Correct this entry" }
                }
            }
            p.private { "For this person and their trainer only." }
        }
        (facts(result))
    };
    scripted(about, &title, &content)
}

fn facts(result: &TeachBackResult) -> Markup {
    html! {
        (section("this-pass", "This pass", Some(html! { p { "What was said. It is no observed draw and no result." } }), &pass(result)))
        (section("next", "What comes next", None, &html! {
            p.sentence { (result.next_sentence) }
            p.note { "The program counts; the trainer decides." }
        }))
        (section("practise", "To practise", Some(html! { p { "Safety points first." } }), &html! {
            @if result.practise.is_empty() {
                p.empty { "Nothing is open from this pass." }
            } @else {
                ol.points {
                    @for point in &result.practise { li { (one_point(point)) span.why { " " (point.why) } } }
                }
            }
        }))
        @if !result.marked.is_empty() {
            (section("marks", "As it was marked", Some(html! { p { "All other items that were judged: unprompted." } }), &html! {
                dl.facts {
                    @for (mark, points) in &result.marked {
                        dt { (mark.words()) }
                        dd { ul.points { @for point in points { li { (one_point(point)) } } } }
                    }
                }
            }))
        }
        @if let Some(together) = &result.together { (beside::together(together)) }
        @if let Some(proposals) = &result.proposals { (beside::proposals(proposals)) }
        @if let Some(note) = &result.note {
            (section("said-note", "Note", None, &html! { p dir="auto" { (note) } }))
        }
    }
}

fn pass(result: &TeachBackResult) -> Markup {
    html! {
        p.where-stands {
            @if result.clean {
                (shape(Shape::Hand)) " Clean by the unit’s rule."
            } @else {
                (shape(Shape::Square)) " Not clean by the unit’s rule:"
            }
        }
        @if !result.clean { ul { @for shortfall in &result.shortfalls { li { (shortfall) } } } }
        @if !result.turned_round.is_empty() {
            ul {
                @for (said, should) in &result.turned_round {
                    li { (one_point(said)) " was said before " (one_point(should)) }
                }
            }
        }
        dl.facts {
            @for (what, count) in &result.counts {
                dt { (crate::parts::sentence_start(what)) }
                dd { (count.n) " of " (count.of) @if count.of == 0 { " (the breakdown has none)" } }
            }
            dt { "Lasted" }
            dd {
                @match result.lasted_s {
                    Some(seconds) => { (minutes(seconds)) ", from the start to the last item said" }
                    None => "not kept",
                }
            }
        }
        p.note { "Counts are of all items of the breakdown, not of a sample, so they carry no interval." }
    }
}

pub(super) fn one_point(point: &PractisePoint) -> Markup {
    html! {
        span.item { (point.item) }
        @if point.safety { (safety_mark()) " " }
        bdi { (point.text) }
    }
}

/// `3 min 05 s`.
fn minutes(seconds: f64) -> String {
    let whole = seconds.round().max(0.0) as u64;
    if whole < 60 { format!("{whole} s") } else { format!("{} min {:02} s", whole / 60, whole % 60) }
}
