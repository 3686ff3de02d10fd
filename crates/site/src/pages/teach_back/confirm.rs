//! The page on which a transcript's proposals are decided on, with the words in view.

use breakdown::{ItemView, Step};
use desk::TeachBackForm;
use maud::{Markup, html};
use teachback::{Mark, ProposedItem, SpokenLine};

use super::about_whom;
use super::beside::{clock, confidence, quantities, words};
use super::live::{MARKS, anchor, classes, counted, orders, what, who_and_when};
use super::typed::{LEFT, LONGEST_NOTE, Typed, mark_field};
use crate::ask::Site;
use crate::door::{About, HeardFrom, Refusal};
use crate::form::refusals;
use crate::parts::{Shape, name, section, shape};
use crate::sheet::{self, Place, Script};

/// Everything the page shows.
pub(super) struct Confirm<'a> {
    pub(super) form: &'a TeachBackForm,
    pub(super) typed: &'a Typed,
    pub(super) heard: &'a HeardFrom,
    pub(super) keep: bool,
}

impl Confirm<'_> {
    fn is_decided(&self, proposed: &ProposedItem) -> bool {
        self.typed.mark(proposed.item).is_some() || self.typed.left.contains(&proposed.item)
    }

    /// Items nobody has decided on, in the breakdown's order.
    pub(super) fn undecided(&self) -> Vec<&ProposedItem> {
        self.heard.proposed.items.iter().filter(|each| !self.is_decided(each)).collect()
    }

    /// Whether a proposal may be confirmed together with others; none where the words do not seem to be of this job.
    pub(super) fn is_sure(&self, proposed: &ProposedItem) -> bool {
        self.heard.same_job && !proposed.needs_a_look()
    }

    fn sure_undecided(&self) -> usize {
        self.undecided().into_iter().filter(|each| self.is_sure(each)).count()
    }
}

pub(super) fn page(site: &Site, about: &About, confirm: &Confirm<'_>, faults: &[Refusal]) -> Markup {
    let title = format!("Transcript of {}", confirm.form.name);
    let content = content(site, confirm, faults);
    sheet::page_with(about, Place::People, &title, &content, &[Script::Drafts, Script::TeachBack])
}

fn content(site: &Site, confirm: &Confirm<'_>, faults: &[Refusal]) -> Markup {
    let Confirm { form, typed, heard, keep } = confirm;
    let job = &form.breakdown;
    let n_items = heard.proposed.items.len();
    let n_decided = n_items - confirm.undecided().len();
    html! {
        header.opening {
            h1 { "Transcript of " (name(&form.name)) }
            p.lead { (about_whom(form)) }
            @if form.replaced {
                p.lead { "Another version is in force now. This teach-back stays with version " (job.version) "." }
            }
            p.lead { "A draft, proposed from the words and not from understanding them. You decide each mark; nothing is in the book yet." }
            p.private { "For this person and their trainer only." }
        }
        @if !heard.same_job {
            p.caution.other-job role="alert" {
                (shape(Shape::Triangle)) " " strong { "This does not seem to be this job." } " " (heard.same_job_because)
                ". Look whether the person, the job and the file are right before you decide anything."
            }
        }
        (refusals(faults))
        form #pass.pass method="post" action="/teach-back/confirm" data-draft=(typed.entry) data-mode="transcript"
            data-about=(format!("{}|{}|{}|{}", form.person, job.code, job.version, heard.proposed.transcript_sha256.as_deref().unwrap_or(""))) {
            // The button a browser takes when Enter is pressed in a field: it writes nothing and confirms nothing.
            button.unseen type="submit" name="do" value="check" tabindex="-1" aria-hidden="true" { "Check" }
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="person" value=(form.person);
            input type="hidden" name="breakdown" value=(job.code);
            input type="hidden" name="version" value=(job.version);
            input type="hidden" name="transcript" value=(heard.text);
            p.kept #kept role="status" {}
            (section("who", "Who listened", None, &html! {
                (who_and_when(form, typed))
                (help())
            }))
            (section("look", "What was heard", None, &overview(confirm)))
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, step, confirm)) }
            @if !typed.orders.is_empty() { (orders(form, typed, &heard.proposed.order_errors)) }
            (others(heard))
            (section("end", "At the end", None, &html! {
                p.field {
                    label for="note" { "Note about the pass, never about a patient" }
                    textarea #note name="note" rows="3" maxlength=(LONGEST_NOTE) dir="auto" { (typed.note) }
                }
                @if !heard.lines.is_empty() {
                    p.field {
                        label.pick {
                            input type="checkbox" name="keep" value="yes" checked[*keep];
                            span { "Keep the whole transcript in the record book too" }
                        }
                    }
                    p.note {
                        "Without it the book keeps only the words beside each item. A recording may hold a patient’s name, "
                        "and nothing in the book can be taken out again."
                    }
                }
            }))
            div.bar {
                p.alarm #alarm role="alert" hidden {}
                p.clock { span #elapsed {} }
                p.judged #judged { (n_decided) " of " (n_items) " decided" }
                nav.to-steps aria-label="Steps" {
                    @for number in 1..=job.steps.len() { a href=(format!("#step-{number}")) { (number) } }
                }
                @if confirm.sure_undecided() > 0 {
                    button.second #take-sure type="submit" name="do" value="take-sure" {
                        "Confirm the " span #n-sure { (confirm.sure_undecided()) } " sure ones"
                    }
                }
                button type="submit" name="do" value="summary" { "Finish" }
            }
        }
    }
}

fn help() -> Markup {
    html! {
        details.keys {
            summary { "What the marks mean, and the keys" }
            dl.facts {
                @for (mark, key, meaning) in MARKS {
                    dt { kbd { (key) } " " (mark.words()) }
                    dd { (meaning.trim_end_matches("; Enter gives it too")) }
                }
                dt { kbd { "Enter" } }
                dd { "what is proposed, and on to the next item" }
                dt { kbd { "N" } }
                dd { "not judged: you could not hear it" }
                dt { kbd { "↓" } " " kbd { "↑" } }
                dd { "next and previous item; " kbd { "←" } " " kbd { "→" } " change the mark" }
                dt { kbd { "Backspace" } }
                dd { "takes the decision away; a second tap on a mark does the same" }
            }
            p { "The keys work while an item has the focus. Times are those of the transcript." }
        }
    }
}

fn overview(confirm: &Confirm<'_>) -> Markup {
    let heard = confirm.heard;
    let (alone, sure): (Vec<_>, Vec<_>) =
        heard.proposed.items.iter().partition(|each| !confirm.is_sure(each));
    let below = confidence(heard.proposed.listen_below);
    html! {
        p {
            (counted(heard.proposed.items.len(), "item", "items")) ": " (sure.len()) " sure, which you may confirm together; "
            (alone.len()) " to decide one by one: "
            @if heard.same_job {
                "the confidence is below " (below) ", or something false seems to have been said."
            } @else {
                "the words do not seem to be of this job, so none may be confirmed together."
            }
        }
        p.note {
            "Confidence is the chance that the proposed mark is the one a trainer gives, fitted on invented teach-backs. "
            "It says nothing about the learner. The count is of all items, not of a sample, so it carries no interval."
        }
        @if !alone.is_empty() {
            ul.to-look {
                @for each in &alone {
                    li {
                        a href=(format!("#item-{}", anchor(each.item))) {
                            (each.item) @if let Some(at) = each.at_s { " at " (clock(at)) }
                        }
                        @if confirm.is_decided(each) { " decided" }
                    }
                }
            }
        }
        dl.facts {
            dt { "Steps the learner named" }
            dd {
                @match heard.proposed.steps_named {
                    Some(named) => { (named) "; the breakdown has " (confirm.form.breakdown.steps.len()) }
                    None => "no number was heard",
                }
            }
            dt { "Binding orders" }
            dd {
                @if heard.proposed.order_errors.is_empty() { "none seems turned round" } @else {
                    @for (place, error) in heard.proposed.order_errors.iter().enumerate() {
                        @if place > 0 { "; " }
                        (error.then) " seems to have been said before " (error.first)
                    }
                }
            }
            dt { "This job" }
            dd { (heard.same_job_because) }
        }
        @if !heard.faults.is_empty() {
            details {
                summary { "What could not be read in the transcript (" (heard.faults.len()) ")" }
                ul {
                    @for fault in &heard.faults {
                        li { strong { (fault.place) } ": found " bdi { (fault.found) } "; expected " (fault.expected) "; " (fault.to_do) "." }
                    }
                }
            }
        }
        @if !heard.lines.is_empty() {
            details {
                summary { "The whole transcript" }
                ol.lines { @for line in &heard.lines { li { (one_line(line)) } } }
            }
        }
    }
}

fn one_line(line: &SpokenLine) -> Markup {
    html! {
        @if let Some(at) = line.start_s { span.at { (clock(at)) } " " }
        @if let Some(speaker) = &line.speaker { span.speaker { bdi { (speaker) } ":" } " " }
        bdi { (line.text) }
    }
}

fn one_step(number: u16, step: &Step, confirm: &Confirm<'_>) -> Markup {
    let items = confirm.form.breakdown.items();
    let pace = confirm.heard.pace.iter().find(|pace| pace.step == number);
    html! {
        section.part.step-part id=(format!("step-{number}")) aria-labelledby=(format!("step-{number}-h")) {
            div.rail {
                h2 id=(format!("step-{number}-h")) { "Step " (number) }
                div.note {
                    p { (counted(step.key_points.len(), "key point", "key points")) }
                    @if let Some(pace) = pace {
                        p {
                            "From " (clock(pace.from_s))
                            @if let Some(rate) = pace.words_per_minute() { ", " (format!("{rate:.0}")) " words a minute" }
                            @for pause in &pace.pauses { "; silent for " (format!("{:.0}", pause.seconds)) " s at " (clock(pause.at_s)) }
                        }
                    }
                }
            }
            div.content {
                @for item in items.iter().filter(|item| item.id.step == number) {
                    @if let Some(proposed) = confirm.heard.proposed.item(item.id) { (one_item(item, proposed, confirm)) }
                }
            }
        }
    }
}

fn one_item(item: &ItemView<'_>, proposed: &ProposedItem, confirm: &Confirm<'_>) -> Markup {
    let id = item.id;
    let label = format!("said-{}", anchor(id));
    let decided = confirm.typed.mark(id);
    let is_left = confirm.typed.left.contains(&id);
    let look = !confirm.is_sure(proposed);
    let class = format!("{} from-transcript{}", classes(item), if look { " needs-a-look" } else { "" });
    html! {
        div id=(format!("item-{}", anchor(id))) class=(class) role="radiogroup" aria-labelledby=(label) data-item=(id)
            data-proposed=(proposed.mark.name()) data-sure[!look] {
            div.heard {
                (what(item, &label))
                (proposal(proposed, confirm.heard))
            }
            div.marks {
                @for (mark, ..) in MARKS {
                    @let is_proposed = mark == proposed.mark;
                    label.choice.is-proposed[is_proposed] data-mark=(mark.name()) {
                        input type="radio" name=(mark_field(id)) value=(mark.name()) checked[decided == Some(mark)];
                        span { (mark.words()) }
                        @if is_proposed { span.tag { "proposed" } }
                    }
                }
                label.choice {
                    input type="radio" name=(mark_field(id)) value=(LEFT) checked[is_left];
                    span { "not judged" }
                }
            }
        }
    }
}

fn proposal(proposed: &ProposedItem, heard: &HeardFrom) -> Markup {
    let before = heard.before.iter().find(|(item, _)| *item == proposed.item).map(|(_, words)| words);
    html! {
        div.proposal {
            p {
                @if proposed.listen {
                    strong.listen {
                        (shape(Shape::Diamond)) " Listen here" @if let Some(at) = proposed.at_s { ", " (clock(at)) }
                    }
                    " "
                } @else if matches!(proposed.mark, Mark::Wrong | Mark::Unsafe) {
                    strong.listen { (shape(Shape::Triangle)) " Decide this one yourself" } " "
                }
                (proposed.heard_as.words()) ", confidence " (confidence(proposed.confidence))
            }
            @if let Some(before) = before { p.before { "Just before: “" bdi { (before) } "”" } }
            @if let Some(said) = &proposed.heard {
                @if proposed.said_at_s().is_none() && !proposed.mark.is_said() { p.before { "What came nearest:" } }
                (words(proposed.at_s, said))
            }
            @if let (Some(said), Some(expected)) = (&proposed.heard_quantity, &proposed.expected_quantity) {
                (quantities(said, expected))
            }
            @if let Some(around) = around(proposed, &heard.lines) {
                details.around {
                    summary { "Words around it" }
                    ol.lines { @for line in around { li { (one_line(line)) } } }
                }
            }
        }
    }
}

/// The line an item was heard in, the one before it and the two after.
fn around<'a>(proposed: &ProposedItem, lines: &'a [SpokenLine]) -> Option<&'a [SpokenLine]> {
    let at = proposed.at_s?;
    let place = lines.iter().rposition(|line| line.start_s.is_some_and(|start| start <= at + 0.05))?;
    lines.get(place.saturating_sub(1)..(place + 3).min(lines.len()))
}

fn others(heard: &HeardFrom) -> Markup {
    section(
        "others",
        "Belongs to no item",
        Some(html! { p { "Talk of the learner that no item of the breakdown explains." } }),
        &html! {
            @if heard.unmatched.is_empty() { p.empty { "Nothing." } } @else {
                ul.lines {
                    @for talk in &heard.unmatched {
                        li { @if let Some(at) = talk.at_s { span.at { (clock(at)) } " " } bdi { (talk.text) } }
                    }
                }
            }
        },
    )
}
