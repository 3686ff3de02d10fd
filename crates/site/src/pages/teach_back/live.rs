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
use crate::words::spoken;

/// Marks with the key that gives each and what it stands for, in rising concern.
pub(super) const MARKS: [(Mark, &str, &str); 7] = [
    (Mark::Unprompted, "U", spoken::SAID_RIGHT_WITHOUT_HELP_ENTER),
    (Mark::Prompted, "P", spoken::SAID_RIGHT_AFTER_A_NEUTRAL),
    (Mark::Led, "L", spoken::SAID_ONLY_AFTER_A_QUESTION),
    (Mark::Partial, "A", spoken::A_NUMBER_OR_A_CONDITION),
    (Mark::Missed, "M", spoken::NOT_SAID),
    (Mark::Wrong, "W", spoken::SOMETHING_FALSE_WAS_SAID_ON),
    (Mark::Unsafe, "S", spoken::SOMETHING_FALSE_WAS_SAID_THAT),
];

pub(super) fn page(
    site: &Site,
    about: &About,
    form: &TeachBackForm,
    typed: &Typed,
    faults: &[Refusal],
) -> Markup {
    let title = format!("{}{}", spoken::TEACH_BACK_OF, form.name);
    scripted(about, &title, &content(site, form, typed, faults))
}

fn content(site: &Site, form: &TeachBackForm, typed: &Typed, faults: &[Refusal]) -> Markup {
    let job = &form.breakdown;
    let (n_judged, n_items) = typed.judged(form);
    html! {
        header.opening {
            h1 { (spoken::TEACH_BACK_OF) (name(&form.name)) }
            p.lead { (about_whom(form)) }
            @if form.replaced {
                p.lead { (spoken::ANOTHER_VERSION_IS_IN_FORCE) (job.version) "." }
            }
            @if let Some((when, open)) = &form.last {
                p.lead {
                    (spoken::LAST_PASS_OF_THIS_VERSION) (moment(*when)) ". "
                    @if open.is_empty() { (spoken::NOTHING_WAS_OPEN) } @else { (spoken::OPEN_THEN) (listed(open)) "." }
                }
            }
            p.private { (spoken::FOR_THIS_PERSON_AND_THEIR) }
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
            (section("who", spoken::BEFORE_YOU_BEGIN, None, &before(form, typed)))
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, step, form, typed)) }
            @if !typed.orders.is_empty() { (orders(form, typed, &[])) }
            (section("end", spoken::AT_THE_END, None, &html! {
                p.field {
                    label for="note" { (spoken::NOTE_ABOUT_THE_PASS_NEVER) }
                    textarea #note name="note" rows="3" maxlength=(LONGEST_NOTE) dir="auto" { (typed.note) }
                }
            }))
            div.bar {
                p.alarm #alarm role="alert" hidden {}
                p.clock { span #elapsed {} }
                p.judged #judged { (n_judged) (spoken::OF) (n_items) (spoken::ITEMS_JUDGED) }
                nav.to-steps aria-label=(spoken::STEPS) {
                    @for number in 1..=job.steps.len() { a href=(format!("#step-{number}")) { (number) } }
                }
                button type="submit" name="do" value="summary" { (spoken::FINISH) }
            }
        }
    }
}

fn before(form: &TeachBackForm, typed: &Typed) -> Markup {
    html! {
        (who_and_when(form, typed))
        p {
            (spoken::SAY_NOTHING_THAT_HOLDS_THE)
        }
        details.keys {
            summary { (spoken::WHAT_THE_MARKS_MEAN_AND) }
            dl.facts {
                @for (mark, key, meaning) in MARKS {
                    dt { kbd { (key) } " " (mark.words()) }
                    dd { (meaning) }
                }
                dt { kbd { (spoken::ENTER) } }
                dd { (spoken::UNPROMPTED_AND_ON_TO_THE) }
                dt { kbd { "↓" } " " kbd { "↑" } }
                dd { (spoken::NEXT_AND_PREVIOUS_ITEM) kbd { "←" } " " kbd { "→" } (spoken::CHANGE_THE_MARK) }
                dt { kbd { (spoken::BACKSPACE) } }
                dd { (spoken::TAKES_THE_MARK_AWAY_A) }
            }
            p { (spoken::THE_KEYS_WORK_WHILE_AN) }
        }
    }
}

/// Who listened, when, and with whom.
pub(super) fn who_and_when(form: &TeachBackForm, typed: &Typed) -> Markup {
    html! {
        div.fields {
            p.field {
                label for="by" { (spoken::HEARD_BY) }
                select #by name="by" required {
                    option value="" { (spoken::CHOOSE_YOUR_NAME) }
                    @for (id, listener, role) in &form.listeners {
                        option value=(id) selected[is_chosen(&typed.by, id)] {
                            (listener) @if *role != Role::Nurse { ", " (role_words(*role)) }
                        }
                    }
                }
            }
            p.field {
                label for="started" { (spoken::BEGAN_AT_AS_YEAR_MONTH) }
                // Not the browser's own field: that one shows a date in an order which depends on the device.
                input #started type="text" name="started" value=(typed.started) required maxlength="16" autocomplete="off"
                    pattern="\\d{4}-\\d{2}-\\d{2}[ T]\\d{2}:\\d{2}" title=(spoken::SUCH_AS_2026_03_03);
            }
            @if !form.may_be_same.is_empty() || !typed.same_pass_as.is_empty() {
                p.field {
                    label for="same-pass-as" { (spoken::HEARD_TOGETHER_WITH) }
                    select #same-pass-as name="same-pass-as" {
                        option value="" { (spoken::NOBODY_THIS_IS_A_PASS) }
                        @for (entry, began, listener) in &form.may_be_same {
                            option value=(entry) selected[*entry == typed.same_pass_as] {
                                (listener) (spoken::PASS_BEGUN) (began.strftime("%-d %B %Y, %H:%M").to_string())
                            }
                        }
                        @if !typed.same_pass_as.is_empty() && !form.may_be_same.iter().any(|(entry, ..)| *entry == typed.same_pass_as) {
                            option value=(typed.same_pass_as) selected { (spoken::ENTRY) (typed.same_pass_as) }
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
    let heading = format!("{}{number}", spoken::STEP);
    html! {
        section.part.step-part id=(format!("step-{number}")) aria-labelledby=(format!("step-{number}-h")) {
            div.rail {
                h2 id=(format!("step-{number}-h")) { (heading) }
                div.note { p { (counted(step.key_points.len(), spoken::KEY_POINT, spoken::KEY_POINTS)) } }
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
            @if id.reason { span.because { (spoken::BECAUSE) } " " }
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
                    span { (spoken::NOT_JUDGED) }
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
        p { (spoken::ONLY_THESE_ORDERS_BIND_ALL) }
    };
    section(
        "orders",
        spoken::BINDING_ORDERS,
        Some(note),
        &html! {
            @for (first, then, heard) in &typed.orders {
                @let label = format!("order-{}-{}", anchor(*first), anchor(*then));
                div.said.is-order role="radiogroup" aria-labelledby=(label) data-first=(first) data-then=(then) {
                    p.what id=(label) {
                        (shape(Shape::Diamond)) " "
                        span.item { (first) } bdi { (text(*first)) }
                        (spoken::BEFORE)
                        span.item { (then) } bdi { (text(*then)) }
                        @if proposed.iter().any(|error| error.first == *first && error.then == *then) {
                            span.proposal-note { (spoken::PROPOSED_TURNED_ROUND_LISTEN_THEN) }
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
