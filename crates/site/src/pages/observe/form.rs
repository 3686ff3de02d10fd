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
use crate::words::bed;

pub(super) fn page(
    site: &Site,
    about: &About,
    form: &ObserveForm,
    typed: &Typed,
    mode: Mode,
    faults: &[Refusal],
) -> Markup {
    let title = match mode {
        Mode::Observe => bed::MARK_AN_OBSERVED_DRAW,
        Mode::CarryOut => bed::CARRY_OUT_A_DRAW,
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
                a href=(address::breakdown(&job.code)) { (name(&job.job)) } (bed::VERSION) (job.version) ". "
                @if form.replaced { (bed::ANOTHER_VERSION_IS_IN_FORCE) (job.version) ". " }
                @match mode {
                    Mode::Observe => (bed::THE_ONE_WHO_WATCHES_MARKS_2),
                    Mode::CarryOut => (bed::ONE_STEP_AT_A_TIME),
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
            (section("who", bed::BEFORE_YOU_BEGIN, None, &who(form, typed, mode)))
            @if mode == Mode::CarryOut { (stops::section_of(form)) }
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, step, form, typed)) }
            (section("draw-h", bed::THE_DRAW, Some(html! { p { (bed::NOTHING_ABOUT_THE_PATIENT_BUT) } }), &the_draw(form, typed)))
            (section("rest-h", bed::THE_REST, None, &rest(form, typed)))
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
                label for="drawn" { (bed::DRAWN_BY) }
                select #drawn name="drawn" required {
                    option value="" { (bed::CHOOSE_WHOSE_HANDS_DRAW) }
                    @for person in by_name {
                        option value=(person.id) selected[person.id.0 == typed.text("drawn")] { (person.name) }
                    }
                }
            }
            p.field {
                label for="watched" { (bed::WATCHED_BY) }
                select #watched name="watched" required {
                    option value="" { (bed::CHOOSE_WHO_WATCHES) }
                    @for person in &form.people {
                        option value=(person.id) selected[is_chosen(typed.text("watched"), &person.id) && (person.id.0 == typed.text("watched") || person.id.0 != typed.text("drawn"))]
                            data-against=[person.watching_does_not_count.as_deref()] {
                            (person.name)
                            @if let Some(role) = role(person.role) { ", " (role) }
                            @if person.watching_does_not_count.is_some() { (bed::DOES_NOT_COUNT) }
                        }
                    }
                }
            }
            p.field {
                label for="by" { (bed::LOGGED_BY) }
                select #by name="by" {
                    option value="" { (bed::THE_ONE_WHO_WATCHES) }
                    @for person in &form.people {
                        option value=(person.id) selected[is_chosen(typed.text("by"), &person.id)] { (person.name) }
                    }
                }
            }
            p.field {
                label for="started" { (bed::BEGAN_AT_AS_YEAR_MONTH) }
                input #started type="text" name="started" value=(typed.text("started")) required maxlength="16" autocomplete="off"
                    pattern="\\d{4}-\\d{2}-\\d{2}[ T]\\d{2}:\\d{2}" title=(bed::SUCH_AS_2026_03_03);
            }
        }
        p.against #against role="status" hidden {}
        p.note {
            (bed::WHAT_SOMEBODY_WATCHES_WHO_MAY)
        }
        details.keys {
            summary { (bed::WHAT_THE_MARKS_MEAN_AND) }
            dl.facts {
                dt { kbd { "D" } (bed::OR) kbd { (bed::ENTER) } (bed::DONE) } dd { (bed::WITHOUT_HELP) }
                dt { kbd { "P" } (bed::AFTER_A_PROMPT) } dd { (bed::DONE_ONCE_SOMEBODY_SAID_SOMETHING) }
                dt { kbd { "W" } (bed::WRONG) } dd { (bed::DONE_BUT_NOT_AS_THE) }
                dt { kbd { "M" } (bed::MISSED) } dd { (bed::LEFT_OUT) }
                dt { kbd { "N" } (bed::DOES_NOT_APPLY) } dd { (bed::TO_THIS_DRAW) }
                dt { kbd { (bed::BACKSPACE) } } dd { (bed::NOT_SEEN_A_SECOND_TAP) }
                dt { kbd { "↓" } " " kbd { "↑" } } dd { (bed::NEXT_AND_PREVIOUS_KEY_POINT) }
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
            legend { (bed::WHO_HOLDS_THIS_SCREEN) }
            label.pick {
                input type="radio" name="lead" form="" value="observer" checked;
                span { (bed::AN_OBSERVER_A_TAP_OR) }
            }
            label.pick {
                input type="radio" name="lead" form="" value="free";
                span { (bed::NOBODY_IT_GOES_ON_BY) }
            }
        }
        p.field.lead-pace.only-scripted {
            select #pace form="" autocomplete="off" aria-label=(bed::SECONDS_FOR_A_STEP_WITHOUT) {
                @for seconds in [15, 30, 45, 60, 90] {
                    option value=(seconds) selected[seconds == 30] { (seconds) (bed::S_FOR_A_STEP_WITHOUT) }
                }
            }
        }
        button #begin.wide.only-scripted type="button" { (bed::START_WITH_STEP_1) }
        (AtOnce::early())
        p.note.lead-keys.only-scripted {
            (bed::KEYS_SPACE_PAGE_DOWN_OR)
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
                    span { (bed::NOT_SEEN) }
                }
            }
        }
    }
}

fn one_timer(timer: &DrawTimer) -> Markup {
    html! {
        p.timer data-seconds=(timer.seconds) data-what=(timer.what) data-by-itself[timer.by_itself] data-follows[timer.follows] {
            span.timer-words { bdi { (timer.what) } (bed::AT_LEAST) (timer.seconds) "\u{a0}s" }
        }
    }
}

fn the_draw(form: &ObserveForm, typed: &Typed) -> Markup {
    let range = form.fill_ml.map(|(low, high)| bed::range_of_the_breakdown(low, high));
    html! {
        fieldset.bottles {
            legend { (bed::BLOOD_IN_EACH_BOTTLE_ML) @if let Some(range) = &range { (range) } }
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
                label for="specimen" { (bed::SPECIMEN_NUMBER_TYPED_OR_SCANNED) }
                input #specimen name="specimen" value=(typed.text("specimen")) maxlength=(LONGEST_SPECIMEN) autocomplete="off"
                    autocapitalize="characters" spellcheck="false";
                span.hint #specimen-hint role="status" {}
            }
            p.field {
                label for="attempts" { (bed::ATTEMPTS_OF_THIS_COLLECTOR_THE) (form.attempt_limit) }
                input #attempts name="attempts" value=(typed.text("attempts")) inputmode="numeric" maxlength="1" placeholder="1" autocomplete="off";
            }
        }
        fieldset.choices {
            legend { (bed::WHAT_MADE_IT_DIFFICULT) }
            @for each in Difficulty::ALL {
                label.pick {
                    input type="checkbox" name="difficulty" value=(difficulty_code(each)) checked[typed.difficulty.contains(&each)];
                    span { (each.words()) }
                }
            }
        }
        div.fields {
            (choose("from", bed::DRAWN_FROM, bed::NOT_SAID, typed, DrawnFrom::ALL.map(|one| (from_code(one), one.words()))))
            (choose("why", bed::WHY_FROM_A_LINE_OR, bed::NOT_SAID, typed, WhyThere::ALL.map(|one| (why_code(one), one.words()))))
            (choose("stopped", bed::STOPPED_BEFORE_IT_WAS_WHOLE, "no", typed, Stopped::ALL.map(|one| (stopped_code(one), one.words()))))
            (choose("setting", bed::WHERE, bed::ON_A_REAL_PATIENT, typed, [("arm", bed::ON_A_TRAINING_ARM)]))
        }
        fieldset.choices.ticks {
            legend { (bed::WHO_DID_IT) }
            (tick("taken-over", bed::THE_WATCHER_TOOK_OVER, typed))
            (tick("spot-check", bed::THIS_IS_THE_TRAINERS_OWN, typed))
        }
        p.field {
            label for="note" { (bed::NOTE_ABOUT_THE_DRAW_NEVER) }
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
                span { (bed::I_LOOKED_AT_EACH_EVERY) }
            }
            p.note { (n_left) (bed::ARE_NOT_MARKED_LEAVE_THIS) }
        }
    }
}

fn bar(form: &ObserveForm, typed: &Typed, mode: Mode) -> Markup {
    let n_points = points(form).len();
    html! {
        div.bar {
            p.alarm #alarm role="alert" hidden {}
            p.clock { span #elapsed {} }
            p.judged #judged { (bed::of_points(typed.marks.len(), n_points)) span.quiet-kind { (bed::KEY_POINTS_MARKED) } }
            @if mode == Mode::Observe {
                nav.to-steps aria-label=(bed::STEPS) {
                    @for number in 1..=form.breakdown.steps.len() { a href=(format!("#step-{number}")) { (number) } }
                }
            }
            button #save type="submit" name="do" value="summary" { (bed::FINISH) }
        }
    }
}
