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
use crate::words::spoken;

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
    let title = format!("{}{}", spoken::TRANSCRIPT_OF, confirm.form.name);
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
            h1 { (spoken::TRANSCRIPT_OF) (name(&form.name)) }
            p.lead { (about_whom(form)) }
            @if form.replaced {
                p.lead { (spoken::ANOTHER_VERSION_IS_IN_FORCE) (job.version) "." }
            }
            p.lead { (spoken::A_DRAFT_PROPOSED_FROM_THE) }
            p.private { (spoken::FOR_THIS_PERSON_AND_THEIR) }
        }
        @if !heard.same_job {
            p.caution.other-job role="alert" {
                (shape(Shape::Triangle)) " " strong { (spoken::THIS_DOES_NOT_SEEM_TO) } " " (heard.same_job_because)
                (spoken::LOOK_WHETHER_THE_PERSON_THE)
            }
        }
        (refusals(faults))
        form #pass.pass method="post" action="/teach-back/confirm" data-draft=(typed.entry) data-mode="transcript"
            data-about=(format!("{}|{}|{}|{}", form.person, job.code, job.version, heard.proposed.transcript_sha256.as_deref().unwrap_or(""))) {
            // The button a browser takes when Enter is pressed in a field: it writes nothing and confirms nothing.
            button.unseen type="submit" name="do" value="check" tabindex="-1" aria-hidden="true" { (spoken::CHECK) }
            (site.secret().field())
            input type="hidden" name="entry" value=(typed.entry);
            input type="hidden" name="person" value=(form.person);
            input type="hidden" name="breakdown" value=(job.code);
            input type="hidden" name="version" value=(job.version);
            input type="hidden" name="transcript" value=(heard.text);
            p.kept #kept role="status" {}
            (section("who", spoken::WHO_LISTENED, None, &html! {
                (who_and_when(form, typed))
                (help())
            }))
            (section("look", spoken::WHAT_WAS_HEARD, None, &overview(confirm)))
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, step, confirm)) }
            @if !typed.orders.is_empty() { (orders(form, typed, &heard.proposed.order_errors)) }
            (others(heard))
            (section("end", spoken::AT_THE_END, None, &html! {
                p.field {
                    label for="note" { (spoken::NOTE_ABOUT_THE_PASS_NEVER) }
                    textarea #note name="note" rows="3" maxlength=(LONGEST_NOTE) dir="auto" { (typed.note) }
                }
                @if !heard.lines.is_empty() {
                    p.field {
                        label.pick {
                            input type="checkbox" name="keep" value="yes" checked[*keep];
                            span { (spoken::KEEP_THE_WHOLE_TRANSCRIPT_IN) }
                        }
                    }
                    p.note {
                        (spoken::WITHOUT_IT_THE_BOOK_KEEPS)
                        (spoken::AND_NOTHING_IN_THE_BOOK)
                    }
                }
            }))
            div.bar {
                p.alarm #alarm role="alert" hidden {}
                p.clock { span #elapsed {} }
                p.judged #judged { (n_decided) (spoken::OF) (n_items) (spoken::DECIDED) }
                nav.to-steps aria-label=(spoken::STEPS) {
                    @for number in 1..=job.steps.len() { a href=(format!("#step-{number}")) { (number) } }
                }
                @if confirm.sure_undecided() > 0 {
                    button.second #take-sure type="submit" name="do" value="take-sure" {
                        (spoken::CONFIRM_THE) span #n-sure { (confirm.sure_undecided()) } (spoken::SURE_ONES)
                    }
                }
                button type="submit" name="do" value="summary" { (spoken::FINISH) }
            }
        }
    }
}

fn help() -> Markup {
    html! {
        details.keys {
            summary { (spoken::WHAT_THE_MARKS_MEAN_AND) }
            dl.facts {
                @for (mark, key, meaning) in MARKS {
                    dt { kbd { (key) } " " (mark.words()) }
                    dd { (meaning.trim_end_matches(spoken::ENTER_GIVES_IT_TOO)) }
                }
                dt { kbd { (spoken::ENTER) } }
                dd { (spoken::WHAT_IS_PROPOSED_AND_ON) }
                dt { kbd { "N" } }
                dd { (spoken::NOT_JUDGED_YOU_COULD_NOT) }
                dt { kbd { "↓" } " " kbd { "↑" } }
                dd { (spoken::NEXT_AND_PREVIOUS_ITEM) kbd { "←" } " " kbd { "→" } (spoken::CHANGE_THE_MARK) }
                dt { kbd { (spoken::BACKSPACE) } }
                dd { (spoken::TAKES_THE_DECISION_AWAY_A) }
            }
            p { (spoken::THE_KEYS_WORK_WHILE_AN_2) }
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
            (counted(heard.proposed.items.len(), "item", "items")) ": " (sure.len()) (spoken::SURE_WHICH_YOU_MAY_CONFIRM)
            (alone.len()) (spoken::TO_DECIDE_ONE_BY_ONE)
            @if heard.same_job {
                (spoken::THE_CONFIDENCE_IS_BELOW) (below) (spoken::OR_SOMETHING_FALSE_SEEMS_TO)
            } @else {
                (spoken::THE_WORDS_DO_NOT_SEEM)
            }
        }
        p.note {
            (spoken::CONFIDENCE_IS_THE_CHANCE_THAT)
            (spoken::IT_SAYS_NOTHING_ABOUT_THE)
        }
        @if !alone.is_empty() {
            ul.to-look {
                @for each in &alone {
                    li {
                        a href=(format!("#item-{}", anchor(each.item))) {
                            (each.item) @if let Some(at) = each.at_s { (spoken::AT) (clock(at)) }
                        }
                        @if confirm.is_decided(each) { (spoken::DECIDED) }
                    }
                }
            }
        }
        dl.facts {
            dt { (spoken::STEPS_THE_LEARNER_NAMED) }
            dd {
                @match heard.proposed.steps_named {
                    Some(named) => { (named) (spoken::THE_BREAKDOWN_HAS) (confirm.form.breakdown.steps.len()) }
                    None => (spoken::NO_NUMBER_WAS_HEARD),
                }
            }
            dt { (spoken::BINDING_ORDERS) }
            dd {
                @if heard.proposed.order_errors.is_empty() { (spoken::NONE_SEEMS_TURNED_ROUND) } @else {
                    @for (place, error) in heard.proposed.order_errors.iter().enumerate() {
                        @if place > 0 { "; " }
                        (error.then) (spoken::SEEMS_TO_HAVE_BEEN_SAID) (error.first)
                    }
                }
            }
            dt { (spoken::THIS_JOB) }
            dd { (heard.same_job_because) }
        }
        @if !heard.faults.is_empty() {
            details {
                summary { (spoken::WHAT_COULD_NOT_BE_READ) (heard.faults.len()) ")" }
                ul {
                    @for fault in &heard.faults {
                        li { strong { (fault.place) } (spoken::FOUND) bdi { (fault.found) } (spoken::EXPECTED) (fault.expected) "; " (fault.to_do) "." }
                    }
                }
            }
        }
        @if !heard.lines.is_empty() {
            details {
                summary { (spoken::THE_WHOLE_TRANSCRIPT) }
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
                h2 id=(format!("step-{number}-h")) { (spoken::STEP) (number) }
                div.note {
                    p { (counted(step.key_points.len(), spoken::KEY_POINT, spoken::KEY_POINTS)) }
                    @if let Some(pace) = pace {
                        p {
                            (spoken::FROM) (clock(pace.from_s))
                            @if let Some(rate) = pace.words_per_minute() { ", " (format!("{rate:.0}")) (spoken::WORDS_A_MINUTE) }
                            @for pause in &pace.pauses { (spoken::SILENT_FOR) (format!("{:.0}", pause.seconds)) (spoken::S_AT) (clock(pause.at_s)) }
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
                        @if is_proposed { span.tag { (spoken::PROPOSED) } }
                    }
                }
                label.choice {
                    input type="radio" name=(mark_field(id)) value=(LEFT) checked[is_left];
                    span { (spoken::NOT_JUDGED) }
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
                        (shape(Shape::Diamond)) (spoken::LISTEN_HERE) @if let Some(at) = proposed.at_s { ", " (clock(at)) }
                    }
                    " "
                } @else if matches!(proposed.mark, Mark::Wrong | Mark::Unsafe) {
                    strong.listen { (shape(Shape::Triangle)) (spoken::DECIDE_THIS_ONE_YOURSELF) } " "
                }
                (proposed.heard_as.words()) (spoken::CONFIDENCE) (confidence(proposed.confidence))
            }
            @if let Some(before) = before { p.before { (spoken::JUST_BEFORE) bdi { (before) } "”" } }
            @if let Some(said) = &proposed.heard {
                @if proposed.said_at_s().is_none() && !proposed.mark.is_said() { p.before { (spoken::WHAT_CAME_NEAREST) } }
                (words(proposed.at_s, said))
            }
            @if let (Some(said), Some(expected)) = (&proposed.heard_quantity, &proposed.expected_quantity) {
                (quantities(said, expected))
            }
            @if let Some(around) = around(proposed, &heard.lines) {
                details.around {
                    summary { (spoken::WORDS_AROUND_IT) }
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
        spoken::BELONGS_TO_NO_ITEM,
        Some(html! { p { (spoken::TALK_OF_THE_LEARNER_THAT) } }),
        &html! {
            @if heard.unmatched.is_empty() { p.empty { (spoken::NOTHING) } } @else {
                ul.lines {
                    @for talk in &heard.unmatched {
                        li { @if let Some(at) = talk.at_s { span.at { (clock(at)) } " " } bdi { (talk.text) } }
                    }
                }
            }
        },
    )
}
