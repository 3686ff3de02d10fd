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
use crate::words::spoken;

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
            h1 { (spoken::LOOK_OVER_THEN_SAVE) }
            p.lead { (about_whom(form)) (spoken::NOTHING_IS_IN_THE_BOOK) }
            p.private { (spoken::FOR_THIS_PERSON_AND_THEIR) }
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
            div.rail { h2 { (spoken::YOUR_DECISION) } }
            div.content {
                p.actions {
                    button type="submit" name="do" value="save" { (spoken::SAVE_TO_THE_RECORD_BOOK) }
                    button.second type="submit" name="do" value="change" { (spoken::CHANGE_SOMETHING) }
                }
                p.note { (spoken::SENT_TWICE_IT_IS_ONE) }
            }
        }
    };
    scripted(about, spoken::LOOK_OVER_THEN_SAVE, &content)
}

/// A teach-back from the book.
pub(super) fn saved(about: &About, entry: Uuid, result: &TeachBackResult) -> Markup {
    let title = format!("{}{}", spoken::TEACH_BACK_OF, result.name);
    let content = html! {
        header.opening data-saved=(entry) {
            h1 { (spoken::TEACH_BACK_OF) (name(&result.name)) }
            p.lead {
                (spoken::SAID_ON) (moment(result.when)) (spoken::HEARD_BY_2) (name(&result.heard_by)) ": "
                a href=(address::breakdown(&result.job)) { (name(&result.job_name)) } (spoken::VERSION) (result.version)
                (spoken::IN_THE_RECORD_BOOK)
            }
            @if let Some(why) = &result.corrected {
                p.lead { strong { (spoken::CORRECTED) } ": " bdi { (why.trim_end_matches('.')) } (spoken::THE_RECORD_SHOWS_WHAT_STANDS) }
            }
            p.papers {
                a href=(address::person(&result.person)) { (spoken::RECORD_OF) (name(&result.name)) }
                " "
                a href=(address::practice(&result.job, Some(&result.person))) { (spoken::PRACTISE_WHAT_WAS_OPEN_COMES) }
                @if result.corrected.is_none() && Viewer::now().may_read("/teach-back/new") {
                    " "
                    a href=(address::correct(entry)) { (spoken::CORRECT_THIS_ENTRY) }
                }
            }
            p.private { (spoken::FOR_THIS_PERSON_AND_THEIR) }
        }
        (facts(result))
    };
    scripted(about, &title, &content)
}

fn facts(result: &TeachBackResult) -> Markup {
    html! {
        (section("this-pass", spoken::THIS_PASS, Some(html! { p { (spoken::WHAT_WAS_SAID_IT_IS) } }), &pass(result)))
        (section("next", spoken::WHAT_COMES_NEXT, None, &html! {
            p.sentence { (result.next_sentence) }
            p.note { (spoken::THE_PROGRAM_COUNTS_THE_TRAINER) }
        }))
        (section("practise", spoken::TO_PRACTISE, Some(html! { p { (spoken::SAFETY_POINTS_FIRST) } }), &html! {
            @if result.practise.is_empty() {
                p.empty { (spoken::NOTHING_IS_OPEN_FROM_THIS) }
            } @else {
                ol.points {
                    @for point in &result.practise { li { (one_point(point)) span.why { " " (point.why) } } }
                }
            }
        }))
        @if !result.marked.is_empty() {
            (section("marks", spoken::AS_IT_WAS_MARKED, Some(html! { p { (spoken::ALL_OTHER_ITEMS_THAT_WERE) } }), &html! {
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
            (section("said-note", spoken::NOTE, None, &html! { p dir="auto" { (note) } }))
        }
    }
}

fn pass(result: &TeachBackResult) -> Markup {
    html! {
        p.where-stands {
            @if result.clean {
                (shape(Shape::Hand)) (spoken::CLEAN_BY_THE_UNITS_RULE)
            } @else {
                (shape(Shape::Square)) (spoken::NOT_CLEAN_BY_THE_UNITS)
            }
        }
        @if !result.clean { ul { @for shortfall in &result.shortfalls { li { (shortfall) } } } }
        @if !result.turned_round.is_empty() {
            ul {
                @for (said, should) in &result.turned_round {
                    li { (one_point(said)) (spoken::WAS_SAID_BEFORE) (one_point(should)) }
                }
            }
        }
        dl.facts {
            @for (what, count) in &result.counts {
                dt { (crate::parts::sentence_start(what)) }
                dd { (count.n) (spoken::OF) (count.of) @if count.of == 0 { (spoken::THE_BREAKDOWN_HAS_NONE) } }
            }
            dt { (spoken::LASTED) }
            dd {
                @match result.lasted_s {
                    Some(seconds) => { (minutes(seconds)) (spoken::FROM_THE_START_TO_THE) }
                    None => (spoken::NOT_KEPT),
                }
            }
        }
        p.note { (spoken::COUNTS_ARE_OF_ALL_ITEMS) }
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
