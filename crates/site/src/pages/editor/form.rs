//! The editor's form: every part of a breakdown, what the checks say beside it, and what changed.

use breakdown::{
    ChangeKind, Difference, Fault, Field, PointText, Severity, StepText, compare, suggested_kind,
};
use desk::EditForm;
use maud::{Markup, html};
use practice::Role;

use super::typed::{KINDS, Typed, kind_code};
use super::{anchor, words};
use crate::address;
use crate::ask::Site;
use crate::door::{About, Refusal};
use crate::entrance::is_chosen;
use crate::form::refusals;
use crate::pages::person::role_words;
use crate::parts::{Shape, moment, name, section, shape};
use crate::sheet::{self, Place, Script};

/// What is shown besides the fields.
pub(super) struct Shown {
    /// True for a form just opened: nothing is checked yet, and a draft on the device may be brought back.
    fresh: bool,
    refusals: Vec<Refusal>,
    findings: Vec<(Field, Fault)>,
    /// What changed against the version the writing goes on from.
    differences: Option<Vec<Difference>>,
    /// The breakdown file as it would be written.
    file: String,
    /// The version the writing began from, where somebody else published meanwhile.
    pub(super) overtaken: Option<u32>,
}

impl Shown {
    pub(super) fn fresh() -> Shown {
        Shown {
            fresh: true,
            refusals: Vec::new(),
            findings: Vec::new(),
            differences: None,
            file: String::new(),
            overtaken: None,
        }
    }

    pub(super) fn checked(typed: &Typed, form: &EditForm, refusals: Vec<Refusal>) -> Shown {
        let (parsed, mut findings) = typed.text.read();
        findings.sort_by_key(|(_, fault)| fault.severity());
        let base = form.version(typed.base).map(|version| &version.breakdown);
        let differences = base.zip(parsed.breakdown.as_ref()).map(|(base, now)| compare(base, now));
        Shown { fresh: false, refusals, findings, differences, file: typed.text.text(), overtaken: None }
    }
}

pub(super) fn page(site: &Site, about: &About, form: &EditForm, typed: &Typed, shown: &Shown) -> Markup {
    let title = match typed.base {
        0 => "Write a new breakdown".to_owned(),
        _ => format!("Write version {}", typed.base.saturating_add(1)),
    };
    let text = &typed.text;
    let content = html! {
        header.opening {
            h1 { (title) }
            p.lead {
                @if typed.base == 0 {
                    "One job as important steps, each with key points, each with a reason. 5 to 7 steps are usual, 3 to 5 key points a step."
                } @else {
                    (name(&text.job)) ": from version " (typed.base) ". A published version is never changed; the next one takes its place. "
                    a href=(address::breakdown(&breakdown::JobCode(text.code.clone()))) { "The version in force" }
                }
            }
        }
        @if let Some(began_from) = shown.overtaken { (overtaken(began_from, form, typed)) }
        (refusals(&shown.refusals))
        form.editor method="post" action="/editor" data-keep=(format!("breakdown:{}", typed.entry)) data-fresh[shown.fresh] {
            // The first button is what the Enter key presses: it must neither publish nor remove anything.
            button.unseen type="submit" name="do" value="check" tabindex="-1" aria-hidden="true" { "Check" }
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="base" value=(typed.base);
            input type="hidden" name="at" value=(typed.at);
            input type="hidden" name="steps" value=(text.steps.len());
            p.kept #kept role="status" {}
            @if !shown.fresh { (checked(typed, shown)) }
            (section("head", "The job", None, &head(typed, shown)))
            @for (number, step) in (1..).zip(&text.steps) { (one_step(number, step, text.steps.len(), shown)) }
            (section("around", "Around the steps", None, &around(typed, shown)))
            (section("publish", "Publish", None, &publish(form, typed, shown)))
            div.bar {
                p.judged { (text.steps.len()) @if text.steps.len() == 1 { " step" } @else { " steps" } }
                button.second type="submit" name="do" value="check" { "Check" }
            }
        }
    };
    sheet::page_with(about, Place::Breakdowns, &title, &content, &[Script::Drafts, Script::Keep])
}

fn overtaken(began_from: u32, form: &EditForm, typed: &Typed) -> Markup {
    let newest = form.version(typed.base);
    let before = form.version(began_from);
    let theirs = before.zip(newest).map(|(before, newest)| compare(&before.breakdown, &newest.breakdown));
    html! {
        section.refused role="alert" aria-labelledby="overtaken" {
            h2 id="overtaken" { "Version " (typed.base) " came first. Your text is below, unchanged." }
            @if let Some(newest) = newest {
                p {
                    (name(&newest.by)) " published it on " (moment(newest.when)) ", while you were writing from version " (began_from) ". "
                    "It differs from version " (began_from) " so:"
                }
            }
            @if let Some(theirs) = &theirs { (listed(theirs)) }
            p {
                "Below stands what your text would change in version " (typed.base) ". Take over what you want to keep of it, then publish: "
                "yours becomes version " (typed.base.saturating_add(1)) "."
            }
        }
    }
}

/// What the checks say, and what changed.
fn checked(typed: &Typed, shown: &Shown) -> Markup {
    let of =
        |severity: Severity| shown.findings.iter().filter(move |(_, fault)| fault.severity() == severity);
    let (n_faults, n_advice) = (of(Severity::Fault).count(), of(Severity::Advice).count());
    html! {
        (section("checks", "Checks", None, &html! {
            p.where-stands {
                @if n_faults == 0 { (shape(Shape::Hand)) " Nothing must be put right first." }
                @else { (shape(Shape::Square)) " To put right before it is published: " (n_faults) "." }
                @if n_advice > 0 { " Worth a look: " (n_advice) "." }
            }
            @if !shown.findings.is_empty() {
                ul {
                    @for (field, fault) in &shown.findings {
                        li {
                            (severity(fault)) " "
                            a href=(format!("#{}", anchor(*field))) { (words(*field)) }
                            ": " (sentence(fault))
                        }
                    }
                }
            }
        }))
        @if let Some(differences) = &shown.differences {
            (section("changes", "What changed", Some(html! { p { "Against version " (typed.base) "." } }), &html! {
                @if differences.is_empty() {
                    p.empty { "Nothing changed yet." }
                } @else {
                    (listed(differences))
                    p {
                        "Proposed: "
                        @match suggested_kind(differences) {
                            ChangeKind::Major => "major, since safety, sequence or a number changed.",
                            ChangeKind::Minor => "minor, wording only.",
                        }
                        " The author decides."
                    }
                }
            }))
        }
    }
}

fn listed(differences: &[Difference]) -> Markup {
    html! {
        ul.differences {
            @for difference in differences {
                li { @for line in difference.to_string().lines() { span.line { bdi { (line.trim()) } } } }
            }
        }
    }
}

fn head(typed: &Typed, shown: &Shown) -> Markup {
    let text = &typed.text;
    html! {
        (line(shown, Field::Job, "job", "Job, as the unit says it", &text.job, ""))
        @if typed.base == 0 {
            (line(shown, Field::Code, "code", "Short name: small letters, digits, hyphens", &text.code, "such as vein or central-line; it cannot be changed later"))
        } @else {
            input type="hidden" name="code" value=(text.code);
        }
        (line(shown, Field::Author, "author", "Written by: a role rather than a name", &text.author, ""))
        (area(shown, Field::Cautions, "cautions", "Cautions, one on each line", &text.cautions, ""))
    }
}

fn around(typed: &Typed, shown: &Shown) -> Markup {
    let text = &typed.text;
    let labels: Vec<&str> = text
        .steps
        .iter()
        .flat_map(|step| &step.points)
        .map(|point| point.label.trim())
        .filter(|label| !label.is_empty())
        .collect();
    let orders_hint = match labels.is_empty() {
        true => "such as dry before puncture; give key points a short name first".to_owned(),
        false => format!("such as dry before puncture; short names so far: {}", labels.join(", ")),
    };
    html! {
        (area(shown, Field::Orders, "orders", "Orders that bind, one on each line", &text.orders, &orders_hint))
        (area(shown, Field::Supplies, "supplies", "Supplies for one draw, one on each line", &text.supplies, "such as 2 x alcohol wipe"))
        (area(shown, Field::Words, "words", "Same thing, other words, one group on each line", &text.words, "such as clean = scrub = prep"))
    }
}

fn one_step(number: usize, step: &StepText, n_steps: usize, shown: &Shown) -> Markup {
    let place = format!("/editor#step-{number}");
    html! {
        section.part.step-part id=(format!("step-{number}")) aria-labelledby=(format!("step-{number}-h")) {
            div.rail {
                h2 id=(format!("step-{number}-h")) { "Step " (number) }
                input type="hidden" name=(format!("step-{number}-points")) value=(step.points.len());
                p.tools {
                    @if number > 1 { (tool(&format!("up-step-{number}"), &format!("/editor#step-{}", number - 1), "Up", &format!("step {number} up"))) }
                    @if number < n_steps { (tool(&format!("down-step-{number}"), &format!("/editor#step-{}", number + 1), "Down", &format!("step {number} down"))) }
                    (tool(&format!("remove-step-{number}"), "/editor#head", "Remove", &format!("step {number} away")))
                    (tool(&format!("add-step-{number}"), &format!("/editor#step-{}", number + 1), "New step below", &format!("after step {number}")))
                }
            }
            div.content {
                (line(shown, Field::Step(number), &format!("step-{number}-name"), "Important step: verb and noun", &step.name, ""))
                @for (point_number, point) in (1..).zip(&step.points) {
                    (one_point(number, point_number, step.points.len(), point, shown))
                }
                p.tools { (tool(&format!("add-point-{number}"), &place, "New key point", &format!("in step {number}"))) }
            }
        }
    }
}

fn one_point(step: usize, number: usize, n_points: usize, point: &PointText, shown: &Shown) -> Markup {
    let field = |what: &str| format!("step-{step}-{number}-{what}");
    let place = format!("/editor#step-{step}");
    let id = format!("{step}.{number}");
    html! {
        fieldset.point-edit {
            legend { "Key point " (id) }
            div.fields {
                p.field {
                    label for=(field("kind")) { "Kind" }
                    select id=(field("kind")) name=(field("kind")) {
                        @for kind in KINDS {
                            option value=(kind_code(kind)) selected[point.kind == kind] { (kind.words()) }
                        }
                    }
                }
                p.field {
                    label for=(field("label")) { "Short name, for orders that bind" }
                    input id=(field("label")) name=(field("label")) value=(point.label) maxlength="60" autocomplete="off" spellcheck="false";
                }
            }
            div.texts {
            p.field {
                label for=(field("text")) { "How" }
                textarea id=(field("text")) name=(field("text")) rows="3" dir="auto" { (point.text) }
            }
            p.field {
                label for=(field("reasons")) { "Because, one reason on each line" }
                textarea id=(field("reasons")) name=(field("reasons")) rows="3" dir="auto" { (point.reasons.join("\n")) }
            }
            p.field {
                label for=(field("quantities")) { "Numbers to know, one on each line" }
                textarea id=(field("quantities")) name=(field("quantities")) rows=(point.quantities.len().max(3)) placeholder="fill 8 to 10 mL per bottle" { (point.quantities.join("\n")) }
            }
            }
            (beside(shown, Field::Point(step, number)))
            p.tools {
                @if number > 1 { (tool(&format!("up-point-{step}-{number}"), &place, "Up", &format!("key point {id} up"))) }
                @if number < n_points { (tool(&format!("down-point-{step}-{number}"), &place, "Down", &format!("key point {id} down"))) }
                (tool(&format!("remove-point-{step}-{number}"), &place, "Remove", &format!("key point {id}")))
            }
        }
    }
}

fn publish(form: &EditForm, typed: &Typed, shown: &Shown) -> Markup {
    let text = &typed.text;
    html! {
        @if typed.base > 0 {
            fieldset.point-edit {
                legend { "What changed since version " (typed.base) }
                p.field { label.pick { input type="radio" name="change-kind" value="major" checked[text.change_kind == Some(ChangeKind::Major)]; " Major: safety, sequence or a number. Those already released are to be updated." } }
                p.field { label.pick { input type="radio" name="change-kind" value="minor" checked[text.change_kind == Some(ChangeKind::Minor)]; " Minor: wording only. Releases stand." } }
                (line(shown, Field::Change, "change", "In a sentence", &text.change, ""))
            }
        } @else {
            input type="hidden" name="change-kind" value="";
            input type="hidden" name="change" value="";
        }
        div.fields {
            (line(shown, Field::ApprovedBy, "approved-by", "Approved by: infection prevention, the laboratory", &text.approved_by, ""))
            (line(shown, Field::Effective, "effective", "In force from, as year-month-day", &text.effective, "empty: from the day it is published"))
            p.field {
                label for="by" { "Published by" }
                select #by name="by" {
                    option value="" { "choose your name" }
                    @for (id, writer, role) in &form.writers {
                        option value=(id) selected[is_chosen(&typed.by, id)] {
                            (writer) @if *role != Role::Nurse { ", " (role_words(*role)) }
                        }
                    }
                }
            }
        }
        p.actions { button type="submit" name="do" value="publish" { "Publish version " (typed.base.saturating_add(1)) } }
        p.note { "It is checked once more first. Teach-backs and draws that were heard or watched stay with the version they were held against." }
        @if !shown.file.is_empty() {
            details {
                summary { "As a file" }
                pre.scroll tabindex="0" { (shown.file) }
            }
        }
    }
}

fn line(shown: &Shown, field: Field, id: &str, label: &str, value: &str, hint: &str) -> Markup {
    html! {
        p.field {
            label for=(id) { (label) @if !hint.is_empty() { ". " span.hint { (hint) } } }
            input id=(id) name=(id) value=(value) dir="auto" autocomplete="off" maxlength="2000";
        }
        (beside(shown, field))
    }
}

fn area(shown: &Shown, field: Field, id: &str, label: &str, values: &[String], hint: &str) -> Markup {
    html! {
        p.field {
            label for=(id) { (label) @if !hint.is_empty() { ". " span.hint { (hint) } } }
            textarea id=(id) name=(id) rows=(values.len().clamp(2, 12) + 1) dir="auto" { (values.join("\n")) }
        }
        (beside(shown, field))
    }
}

/// What the checks say about a field, beside it.
fn beside(shown: &Shown, field: Field) -> Markup {
    html! {
        @for (_, fault) in shown.findings.iter().filter(|(at, _)| *at == field) {
            p.finding { (severity(fault)) " " (sentence(fault)) }
        }
    }
}

fn severity(fault: &Fault) -> Markup {
    html! {
        @match fault.severity() {
            Severity::Fault => strong.is-fault { (shape(Shape::Triangle)) " Fault:" },
            Severity::Advice => strong { (shape(Shape::Ring)) " Advice:" },
        }
    }
}

fn sentence(fault: &Fault) -> Markup {
    html! { bdi { (fault.found()) } "; expected " (fault.expected()) "; " (fault.to_do()) "." }
}

fn tool(value: &str, to: &str, label: &str, whole: &str) -> Markup {
    html! {
        button.second type="submit" name="do" value=(value) formaction=(to) { (label) span.unseen { " " (whole) } }
    }
}
