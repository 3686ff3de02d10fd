//! The form: one tap or one key for each item as it is said.

use breakdown::{ItemId, ItemView, KeyPointKind, Step};
use desk::TeachBackForm;
use maud::{Markup, html};
use practice::Role;
use teachback::{Mark, OrderError};

use super::typed::{LONGEST_NOTE, OrderHeard, Typed, kind_words, mark_field, order_field, time_field};
use super::{about_whom, scripted};
use crate::ask::Site;
use crate::door::{About, Refusal};
use crate::entrance::is_chosen;
use crate::form::refusals;
use crate::pages::person::role_words;
use crate::parts::{Shape, moment, name, safety_mark, section, shape};

/// Marks with the key that gives each and what it stands for, in rising concern.
pub(super) const MARKS: [(Mark, &str, &str); 7] = [
    (Mark::Unprompted, "U", "said right without help; Enter gives it too"),
    (Mark::Prompted, "P", "said right after a neutral question: “what next?”, “why?”"),
    (Mark::Led, "L", "said only after a question that holds the answer; counts as not known"),
    (Mark::Partial, "A", "a number or a condition was missing"),
    (Mark::Missed, "M", "not said"),
    (Mark::Wrong, "W", "something false was said; on a safety point it counts as unsafe"),
    (Mark::Unsafe, "S", "something false was said that could hurt: the pass stops"),
];

pub(super) fn page(
    site: &Site,
    about: &About,
    form: &TeachBackForm,
    typed: &Typed,
    faults: &[Refusal],
) -> Markup {
    let title = format!("Teach-back of {}", form.name);
    scripted(about, &title, &content(site, form, typed, faults))
}

fn content(site: &Site, form: &TeachBackForm, typed: &Typed, faults: &[Refusal]) -> Markup {
    let job = &form.breakdown;
    let (n_judged, n_items) = typed.judged(form);
    html! {
        header.opening {
            h1 { "Teach-back of " (name(&form.name)) }
            p.lead { (about_whom(form)) }
            @if form.replaced {
                p.lead { "Another version is in force now. This teach-back stays with version " (job.version) "." }
            }
            @if let Some((when, open)) = &form.last {
                p.lead {
                    "Last pass of this version: " (moment(*when)) ". "
                    @if open.is_empty() { "Nothing was open." } @else { "Open then: " (listed(open)) "." }
                }
            }
            p.private { "For this person and their trainer only." }
        }
        (refusals(faults))
        form #pass.pass method="post" action="/teach-back" data-draft=(typed.entry)
            data-about=(format!("{}|{}|{}", form.person, job.code, job.version)) {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="person" value=(form.person);
            input type="hidden" name="breakdown" value=(job.code);
            input type="hidden" name="version" value=(job.version);
            p.kept #kept role="status" {}
            (section("who", "Before you begin", None, &before(form, typed)))
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, step, form, typed)) }
            @if !typed.orders.is_empty() { (orders(form, typed, &[])) }
            (section("end", "At the end", None, &html! {
                p.field {
                    label for="note" { "Note about the pass, never about a patient" }
                    textarea #note name="note" rows="3" maxlength=(LONGEST_NOTE) dir="auto" { (typed.note) }
                }
            }))
            div.bar {
                p.alarm #alarm role="alert" hidden {}
                p.clock { span #elapsed {} }
                p.judged #judged { (n_judged) " of " (n_items) " items judged" }
                nav.to-steps aria-label="Steps" {
                    @for number in 1..=job.steps.len() { a href=(format!("#step-{number}")) { (number) } }
                }
                button type="submit" name="do" value="summary" { "Finish" }
            }
        }
    }
}

fn before(form: &TeachBackForm, typed: &Typed) -> Markup {
    html! {
        (who_and_when(form, typed))
        p {
            "Say nothing that holds the answer. Neutral questions: “what next?”, “how many key points in this step?”, “why?”."
        }
        details.keys {
            summary { "What the marks mean, and the keys" }
            dl.facts {
                @for (mark, key, meaning) in MARKS {
                    dt { kbd { (key) } " " (mark.words()) }
                    dd { (meaning) }
                }
                dt { kbd { "Enter" } }
                dd { "unprompted, and on to the next item" }
                dt { kbd { "↓" } " " kbd { "↑" } }
                dd { "next and previous item; " kbd { "←" } " " kbd { "→" } " change the mark" }
                dt { kbd { "Backspace" } }
                dd { "takes the mark away; a second tap on a mark does the same" }
            }
            p { "The keys work while an item has the focus. Order and time are kept by themselves: an item has the time of its first mark." }
        }
    }
}

/// Who listened, when, and with whom.
pub(super) fn who_and_when(form: &TeachBackForm, typed: &Typed) -> Markup {
    html! {
        div.fields {
            p.field {
                label for="by" { "Heard by" }
                select #by name="by" required {
                    option value="" { "choose your name" }
                    @for (id, listener, role) in &form.listeners {
                        option value=(id) selected[is_chosen(&typed.by, id)] {
                            (listener) @if *role != Role::Nurse { ", " (role_words(*role)) }
                        }
                    }
                }
            }
            p.field {
                label for="started" { "Began at, as year-month-day hour:minute" }
                // Not the browser's own field: that one shows a date in an order which depends on the device.
                input #started type="text" name="started" value=(typed.started) required maxlength="16" autocomplete="off"
                    pattern="\\d{4}-\\d{2}-\\d{2}[ T]\\d{2}:\\d{2}" title="such as 2026-03-03 14:05";
            }
            @if !form.may_be_same.is_empty() || !typed.same_pass_as.is_empty() {
                p.field {
                    label for="same-pass-as" { "Heard together with" }
                    select #same-pass-as name="same-pass-as" {
                        option value="" { "nobody: this is a pass of its own" }
                        @for (entry, began, listener) in &form.may_be_same {
                            option value=(entry) selected[*entry == typed.same_pass_as] {
                                (listener) ", pass begun " (began.date()) " " (format!("{:02}:{:02}", began.hour(), began.minute()))
                            }
                        }
                        @if !typed.same_pass_as.is_empty() && !form.may_be_same.iter().any(|(entry, ..)| *entry == typed.same_pass_as) {
                            option value=(typed.same_pass_as) selected { "entry " (typed.same_pass_as) }
                        }
                    }
                }
            }
        }
    }
}

fn one_step(number: u16, step: &Step, form: &TeachBackForm, typed: &Typed) -> Markup {
    let items = form.breakdown.items();
    let of_step: Vec<&ItemView<'_>> = items.iter().filter(|item| item.id.step == number).collect();
    let heading = format!("Step {number}");
    html! {
        section.part.step-part id=(format!("step-{number}")) aria-labelledby=(format!("step-{number}-h")) {
            div.rail {
                h2 id=(format!("step-{number}-h")) { (heading) }
                div.note { p { (counted(step.key_points.len(), "key point", "key points")) } }
            }
            div.content {
                @for item in of_step { (one_item(item, typed)) }
            }
        }
    }
}

fn is_safety(item: &ItemView<'_>) -> bool {
    item.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety) && !item.id.reason
}

/// How an item looks: by its kind, and a safety point by its line.
pub(super) fn classes(item: &ItemView<'_>) -> String {
    let kind = match (item.id.point, item.id.reason) {
        (0, _) => "is-step",
        (_, true) => "is-reason",
        _ => "is-point",
    };
    format!("said {kind}{}", if is_safety(item) { " is-safety" } else { "" })
}

/// What an item says, named as the label of its marks.
pub(super) fn what(item: &ItemView<'_>, label: &str) -> Markup {
    let id = item.id;
    html! {
        p.what id=(label) {
            span.item { (id) }
            @if is_safety(item) { (safety_mark()) " " }
            @if id.reason { span.because { "because" } " " }
            @match (item.key_point, id.reason) {
                (Some(point), true) => {
                    @for (index, reason) in point.reasons.iter().enumerate() {
                        @if index > 0 { "; " }
                        bdi { (reason) }
                    }
                }
                _ => { bdi { (item.text) } }
            }
            @if let (Some(point), false) = (item.key_point, id.reason) {
                @for quantity in &point.quantities { " " span.quantity { bdi { (quantity.words) } } }
            }
            span.quiet-kind { " (" (kind_words(id)) ")" }
        }
    }
}

fn one_item(item: &ItemView<'_>, typed: &Typed) -> Markup {
    let id = item.id;
    let label = format!("said-{}", anchor(id));
    let marked = typed.mark(id);
    html! {
        div class=(classes(item)) role="radiogroup" aria-labelledby=(label) data-item=(id) {
            (what(item, &label))
            div.marks {
                @for (mark, ..) in MARKS {
                    label.choice data-mark=(mark.name()) {
                        input type="radio" name=(mark_field(id)) value=(mark.name()) checked[marked == Some(mark)];
                        span { (mark.words()) }
                    }
                }
                label.choice.none {
                    input type="radio" name=(mark_field(id)) value="" checked[marked.is_none()];
                    span { "not judged" }
                }
            }
            input type="hidden" name=(time_field(id)) value=(typed.time(id));
        }
    }
}

/// The binding orders, with those that a transcript seems to turn round named as proposals.
pub(super) fn orders(form: &TeachBackForm, typed: &Typed, proposed: &[OrderError]) -> Markup {
    let text = |id: ItemId| form.breakdown.key_point(id).map_or("", |point| &point.text);
    let note = html! {
        p { "Only these orders bind; all others are free. They follow from the times of the marks; your word goes before the clock." }
    };
    section(
        "orders",
        "Binding orders",
        Some(note),
        &html! {
            @for (first, then, heard) in &typed.orders {
                @let label = format!("order-{}-{}", anchor(*first), anchor(*then));
                div.said.is-order role="radiogroup" aria-labelledby=(label) data-first=(first) data-then=(then) {
                    p.what id=(label) {
                        (shape(Shape::Diamond)) " "
                        span.item { (first) } bdi { (text(*first)) }
                        " — before — "
                        span.item { (then) } bdi { (text(*then)) }
                        @if proposed.iter().any(|error| error.first == *first && error.then == *then) {
                            span.proposal-note { "Proposed: turned round. Listen, then decide." }
                        }
                    }
                    div.marks.three {
                        @for choice in OrderHeard::ALL {
                            label.choice.none[choice == OrderHeard::NotMarked] {
                                input type="radio" name=(order_field(*first, *then)) value=(choice.code()) checked[*heard == choice];
                                span { (choice.words()) }
                            }
                        }
                    }
                }
            }
        },
    )
}

/// An item's place as a part of an anchor.
pub(super) fn anchor(item: ItemId) -> String {
    item.to_string().replace('.', "-")
}

pub(super) fn listed(items: &[ItemId]) -> String {
    items.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

pub(super) fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
