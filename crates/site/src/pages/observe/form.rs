//! The form on which a draw is marked, and the same form one step at a time.

use breakdown::{ItemId, ItemView, KeyPointKind, Step};
use desk::{DrawTimer, ObserveForm};
use maud::{Markup, html};
use practice::{Bottle, Difficulty, DrawnFrom, Role, Stopped, WhyThere};

use super::Mode;
use super::stops;
use super::typed::{
    LONGEST_NOTE, LONGEST_SPECIMEN, Seen, Typed, difficulty_code, fill_field, from_code, mark_field, points,
    stopped_code, why_code,
};
use crate::address;
use crate::ask::Site;
use crate::at_once::AtOnce;
use crate::door::{About, Refusal};
use crate::entrance::is_chosen;
use crate::form::refusals;
use crate::pages::person::role_words;
use crate::parts::{name, safety_mark, section};
use crate::sheet;

pub(super) fn page(
    site: &Site,
    about: &About,
    form: &ObserveForm,
    typed: &Typed,
    mode: Mode,
    faults: &[Refusal],
) -> Markup {
    let title = match mode {
        Mode::Observe => "Mark an observed draw",
        Mode::CarryOut => "Carry out a draw",
    };
    let at_once = match mode {
        Mode::Observe => AtOnce::Observe,
        Mode::CarryOut => AtOnce::CarryOut,
    };
    sheet::draw_page(about, title, &content(site, form, typed, mode, title, faults), at_once)
}

fn content(
    site: &Site,
    form: &ObserveForm,
    typed: &Typed,
    mode: Mode,
    title: &str,
    faults: &[Refusal],
) -> Markup {
    let job = &form.breakdown;
    let kept_as = format!("{}|{}", job.code, job.version);
    html! {
        header.opening {
            h1 { (title) }
            p.lead {
                a href=(address::breakdown(&job.code)) { (name(&job.job)) } ", version " (job.version) ". "
                @if form.replaced { "Another version is in force now; this draw stays with version " (job.version) ". " }
                @match mode {
                    Mode::Observe => "The one who watches marks; the one who draws touches nothing.",
                    Mode::CarryOut => "One step at a time, with its times. What was done becomes the observed draw.",
                }
            }
        }
        (refusals(faults))
        form #draw.draw method="post" action="/observe" data-entry=(typed.entry) data-about=(kept_as)
            data-mode=(mode.code()) data-limit=(form.attempt_limit) data-shapes=(form.specimen_shapes.join("\n"))
            data-fresh[typed.is_fresh] data-camera=(sheet::camera_address()) data-ticker=(sheet::ticker_address()) {
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="breakdown" value=(job.code);
            input type="hidden" name="version" value=(job.version);
            input type="hidden" name="mode" value=(mode.code());
            input type="hidden" name="together" value=(typed.together_text());
            input type="hidden" name="lasted" value=(typed.text("lasted"));
            input type="hidden" name="moved" value=(typed.text("moved"));
            p.kept #kept role="status" {}
            (section("who", "Before you begin", None, &who(form, typed, mode)))
            @if mode == Mode::CarryOut { (stops::section_of(form)) }
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, step, form, typed)) }
            (section("draw-h", "The draw", Some(html! { p { "Nothing about the patient but what made the draw difficult." } }), &the_draw(form, typed)))
            (section("rest-h", "The rest", None, &rest(form, typed)))
            (bar(form, typed, mode))
        }
    }
}

fn who(form: &ObserveForm, typed: &Typed, mode: Mode) -> Markup {
    let mut by_name: Vec<_> = form.people.iter().collect();
    by_name.sort_by_key(|person| person.name.to_lowercase());
    let role = |role: Role| (role != Role::Nurse).then(|| role_words(role));
    html! {
        div.fields {
            p.field {
                label for="drawn" { "Drawn by" }
                select #drawn name="drawn" required {
                    option value="" { "choose whose hands draw" }
                    @for person in by_name {
                        option value=(person.id) selected[person.id.0 == typed.text("drawn")] { (person.name) }
                    }
                }
            }
            p.field {
                label for="watched" { "Watched by" }
                select #watched name="watched" required {
                    option value="" { "choose who watches" }
                    @for person in &form.people {
                        option value=(person.id) selected[is_chosen(typed.text("watched"), &person.id) && (person.id.0 == typed.text("watched") || person.id.0 != typed.text("drawn"))]
                            data-against=[person.watching_does_not_count.as_deref()] {
                            (person.name)
                            @if let Some(role) = role(person.role) { ", " (role) }
                            @if person.watching_does_not_count.is_some() { " (does not count)" }
                        }
                    }
                }
            }
            p.field {
                label for="by" { "Logged by" }
                select #by name="by" {
                    option value="" { "the one who watches" }
                    @for person in &form.people {
                        option value=(person.id) selected[is_chosen(typed.text("by"), &person.id)] { (person.name) }
                    }
                }
            }
            p.field {
                label for="started" { "Began at, as year-month-day hour:minute" }
                input #started type="text" name="started" value=(typed.text("started")) required maxlength="16" autocomplete="off"
                    pattern="\\d{4}-\\d{2}-\\d{2}[ T]\\d{2}:\\d{2}" title="such as 2026-03-03 14:05";
            }
        }
        p.against #against role="status" hidden {}
        p.note {
            "What somebody watches who may not precept on this job is saved, and does not count towards release."
        }
        details.keys {
            summary { "What the marks mean, and the keys" }
            dl.facts {
                dt { kbd { "D" } " or " kbd { "Enter" } " done" } dd { "without help" }
                dt { kbd { "P" } " after a prompt" } dd { "done once somebody said something" }
                dt { kbd { "W" } " wrong" } dd { "done, but not as the key point says" }
                dt { kbd { "M" } " missed" } dd { "left out" }
                dt { kbd { "N" } " does not apply" } dd { "to this draw" }
                dt { kbd { "Backspace" } } dd { "not seen; a second tap on a mark does the same. Not seen is not done" }
                dt { kbd { "↓" } " " kbd { "↑" } } dd { "next and previous key point" }
            }
        }
        @if mode == Mode::CarryOut { (lead()) }
    }
}

/// How it is led, and the button that begins. It is of no form: the fields are for the script alone. The button is there
/// before the script is; a tap on it is not lost.
fn lead() -> Markup {
    html! {
        fieldset.choices.lead-choice.only-scripted {
            legend { "Who holds this screen" }
            label.pick {
                input type="radio" name="lead" form="" value="observer" checked;
                span { "An observer: a tap or a key goes on" }
            }
            label.pick {
                input type="radio" name="lead" form="" value="free";
                span { "Nobody: it goes on by itself until the label, nothing is touched after the skin is cleaned" }
            }
        }
        p.field.lead-pace.only-scripted {
            select #pace form="" autocomplete="off" aria-label="Seconds for a step without times, when it goes on by itself" {
                @for seconds in [15, 30, 45, 60, 90] {
                    option value=(seconds) selected[seconds == 30] { (seconds) " s for a step without times" }
                }
            }
        }
        button #begin.wide.only-scripted type="button" { "Start with step 1" }
        (AtOnce::early())
        p.note.lead-keys.only-scripted {
            "Keys: space, Page Down or → go on, ← goes back, T starts the time. A foot switch that types one of them will do."
        }
    }
}

fn one_step(number: u16, step: &Step, form: &ObserveForm, typed: &Typed) -> Markup {
    let items = form.breakdown.items();
    let points = items.iter().filter(|item| item.id.step == number && item.id.point > 0 && !item.id.reason);
    let began = format!("began-{number}");
    html! {
        section.part.step-part id=(format!("step-{number}")) data-step=(number) aria-labelledby=(format!("step-{number}-h")) {
            div.rail {
                h2 id=(format!("step-{number}-h")) { span.number { (number) } " " bdi { (step.name) } }
            }
            div.content {
                input type="hidden" name=(began) value=(typed.began(ItemId::step(number)));
                @for item in points { (one_point(item, form, typed)) }
            }
        }
    }
}

fn one_point(item: &ItemView<'_>, form: &ObserveForm, typed: &Typed) -> Markup {
    let id = item.id;
    let is_safety = item.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety);
    let label = format!("p-{}", id.to_string().replace('.', "-"));
    let marked = typed.marks.get(&id).copied();
    let is_together = typed.together.contains(&id);
    html! {
        div.said.is-safety[is_safety].is-together[is_together] role="radiogroup" aria-labelledby=(label) data-item=(id) {
            p.what id=(label) {
                span.item { (id) }
                @if is_safety { (safety_mark()) " " }
                bdi { (item.text) }
                @if let Some(point) = item.key_point {
                    @for quantity in &point.quantities { " " span.quantity { bdi { (quantity.words) } } }
                }
            }
            @for timer in form.timers.iter().filter(|timer| timer.item == id) { (one_timer(timer)) }
            div.marks.seen {
                @for seen in Seen::ALL {
                    label.choice data-mark=(seen.code()) {
                        input type="radio" name=(mark_field(id)) value=(seen.code()) checked[marked == Some(seen)];
                        span { (seen.words()) }
                    }
                }
                label.choice.none {
                    input type="radio" name=(mark_field(id)) value="" checked[marked.is_none()];
                    span { "not seen" }
                }
            }
        }
    }
}

fn one_timer(timer: &DrawTimer) -> Markup {
    html! {
        p.timer data-seconds=(timer.seconds) data-what=(timer.what) data-by-itself[timer.by_itself] data-follows[timer.follows] {
            span.timer-words { bdi { (timer.what) } ": at least " (timer.seconds) "\u{a0}s" }
        }
    }
}

fn the_draw(form: &ObserveForm, typed: &Typed) -> Markup {
    let range = form.fill_ml.map(|(low, high)| format!(", {low} to {high} as the breakdown says"));
    html! {
        fieldset.bottles {
            legend { "Blood in each bottle, mL" @if let Some(range) = &range { (range) } }
            div.fields.three {
                @for bottle in Bottle::ALL {
                    p.field {
                        label for=(fill_field(bottle)) { (crate::parts::sentence_start(bottle.words())) }
                        input id=(fill_field(bottle)) name=(fill_field(bottle)) value=(typed.text(fill_field(bottle)))
                            inputmode="decimal" maxlength="6" autocomplete="off";
                    }
                }
            }
        }
        div.fields {
            p.field {
                label for="specimen" { "Specimen number, typed or scanned" }
                input #specimen name="specimen" value=(typed.text("specimen")) maxlength=(LONGEST_SPECIMEN) autocomplete="off"
                    autocapitalize="characters" spellcheck="false";
                span.hint #specimen-hint role="status" {}
            }
            p.field {
                label for="attempts" { "Attempts of this collector; the limit is " (form.attempt_limit) }
                input #attempts name="attempts" value=(typed.text("attempts")) inputmode="numeric" maxlength="1" placeholder="1" autocomplete="off";
            }
        }
        fieldset.choices {
            legend { "What made it difficult" }
            @for each in Difficulty::ALL {
                label.pick {
                    input type="checkbox" name="difficulty" value=(difficulty_code(each)) checked[typed.difficulty.contains(&each)];
                    span { (each.words()) }
                }
            }
        }
        div.fields {
            (choose("from", "Drawn from", "not said", typed, DrawnFrom::ALL.map(|one| (from_code(one), one.words()))))
            (choose("why", "Why from a line or a new cannula", "not said", typed, WhyThere::ALL.map(|one| (why_code(one), one.words()))))
            (choose("stopped", "Stopped before it was whole", "no", typed, Stopped::ALL.map(|one| (stopped_code(one), one.words()))))
            (choose("setting", "Where", "on a real patient", typed, [("arm", "on a training arm")]))
        }
        fieldset.choices.ticks {
            legend { "Who did it" }
            (tick("taken-over", "The watcher took over", typed))
            (tick("spot-check", "This is the trainer’s own spot check", typed))
        }
        p.field {
            label for="note" { "Note about the draw, never about a patient" }
            textarea #note name="note" rows="3" maxlength=(LONGEST_NOTE) dir="auto" { (typed.text("note")) }
        }
    }
}

fn choose<const N: usize>(
    field: &'static str,
    label: &str,
    none: &str,
    typed: &Typed,
    options: [(&'static str, &'static str); N],
) -> Markup {
    html! {
        p.field {
            label for=(field) { (label) }
            select id=(field) name=(field) {
                option value="" { (none) }
                @for (code, words) in options {
                    option value=(code) selected[typed.text(field) == code] { (words) }
                }
            }
        }
    }
}

fn tick(field: &'static str, words: &str, typed: &Typed) -> Markup {
    html! {
        label.pick {
            input type="checkbox" id=(field) name=(field) value="yes" checked[!typed.text(field).is_empty()];
            span { (words) }
        }
    }
}

/// Marks what is left as done, once somebody has looked at it. A script shows what is left and asks.
fn rest(form: &ObserveForm, typed: &Typed) -> Markup {
    let n_left = points(form).len() - typed.marks.len();
    html! {
        div #rest-look {
            label.pick {
                input #rest type="checkbox" name="rest" value="yes";
                span { "I looked at each: every key point not marked above was seen and done." }
            }
            p.note { (n_left) " are not marked. Leave this empty where anything was not seen: not seen is not done." }
        }
    }
}

fn bar(form: &ObserveForm, typed: &Typed, mode: Mode) -> Markup {
    let n_points = points(form).len();
    html! {
        div.bar {
            p.alarm #alarm role="alert" hidden {}
            p.clock { span #elapsed {} }
            p.judged #judged { (format!("{} of {n_points}", typed.marks.len())) span.quiet-kind { " key points marked" } }
            @if mode == Mode::Observe {
                nav.to-steps aria-label="Steps" {
                    @for number in 1..=form.breakdown.steps.len() { a href=(format!("#step-{number}")) { (number) } }
                }
            }
            button #save type="submit" name="do" value="summary" { "Finish" }
        }
    }
}
