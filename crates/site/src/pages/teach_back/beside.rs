//! What stands beside the marks of a pass: another listener's marks, and what the program proposed.

use desk::{HeardTogether, ProposalRow, ProposalsBeside};
use maud::{Markup, html};
use teachback::CountOf;

use super::result::one_point;
use crate::parts::{Shape, name, section, shape};

/// Two who heard the same pass.
pub(super) fn together(together: &HeardTogether) -> Markup {
    let note = html! { p { "One pass, heard by " (together.listeners.len()) ". It counts once, with the worse mark of each item." } };
    section(
        "together",
        "Heard together",
        Some(note),
        &html! {
            p {
                @for (place, (entry, listener)) in together.listeners.iter().enumerate() {
                    @if place > 0 { ", " }
                    a href=(format!("/teach-back/{entry}")) { (name(listener)) }
                }
                ". Marked alike: " (of(together.alike)) " that both marked."
            }
            @if !together.differed.is_empty() {
                ul.points {
                    @for (point, first, second, counts) in &together.differed {
                        li {
                            (one_point(point)) ": " (first.words()) " and " (second.words())
                            "; counts as " strong { (counts.words()) }
                        }
                    }
                }
            }
            p.note { "Every item that both marked is counted, not a sample, so there is no interval. How far listeners agree over all passes of the job is on the page of what many miss." }
        },
    )
}

/// Proposals beside decisions.
pub(super) fn proposals(beside: &ProposalsBeside) -> Markup {
    let note = html! { p { "Proposed by " bdi { (beside.program) } " from a transcript. The marks above are the trainer’s." } };
    section(
        "proposals",
        "What was proposed",
        Some(note),
        &html! {
            dl.facts {
                dt { "Sure proposals decided otherwise" }
                dd { (of_decided(beside.sure_changed)) }
                dt { "With “listen here”, decided otherwise" }
                dd { (of_decided(beside.unsure_changed)) }
                @if beside.left > 0 {
                    dt { "Left unjudged" }
                    dd { (items(beside.left)) }
                }
                @if let Some((named, steps)) = beside.steps_named {
                    dt { "Steps the learner named" }
                    dd { (named) "; the breakdown has " (steps) }
                }
            }
            p.note { "Every item of the pass is counted, not a sample, so there is no interval." }
            @if !beside.turned_round.is_empty() {
                p { "Proposed as turned round:" }
                ul.points {
                    @for (said, should) in &beside.turned_round {
                        li { (one_point(said)) " before " (one_point(should)) }
                    }
                }
            }
            @if beside.differing.is_empty() {
                p { "No proposal was decided otherwise." }
            } @else {
                h3 { "Decided otherwise" }
                ul.proposals { @for row in &beside.differing { li { (one(row)) } } }
            }
            @if !beside.others.is_empty() {
                details {
                    summary { "All other proposals, with the words (" (beside.others.len()) ")" }
                    ul.proposals { @for row in &beside.others { li { (one(row)) } } }
                }
            }
            @if let Some(transcript) = &beside.transcript {
                details {
                    summary { "The transcript, kept whole" }
                    pre.transcript dir="auto" { (transcript) }
                }
            }
            @if let Some(digest) = &beside.transcript_sha256 {
                p.note {
                    @if beside.transcript.is_none() { "The book keeps the words above and not the transcript. " }
                    "SHA-256 of the transcript: " code.digest { (digest) }
                }
            }
        },
    )
}

fn one(row: &ProposalRow) -> Markup {
    html! {
        (one_point(&row.point))
        p.proposal {
            "Proposed: " strong { (row.proposed.words()) } " (" (row.heard_as) ", confidence " (confidence(row.confidence)) ")"
            @if row.listen { ", " (shape(Shape::Diamond)) " listen here" }
            "; decided: "
            strong { @match row.decided { Some(mark) => (mark.words()), None => "not judged" } }
            "."
        }
        @if let Some(heard) = &row.heard { (words(row.at_s, heard)) }
        @if let Some((heard, expected)) = &row.quantities { (quantities(heard, expected)) }
    }
}

/// The words heard, with their time.
pub(super) fn words(at_s: Option<f64>, heard: &str) -> Markup {
    html! {
        p.words {
            @if let Some(at) = at_s { span.at { (clock(at)) } " " }
            "“" bdi { (heard) } "”"
        }
    }
}

/// A number as it was said beside the one that was expected.
pub(super) fn quantities(heard: &str, expected: &str) -> Markup {
    html! { p.numbers { "Number heard: " bdi { (heard) } "; the breakdown says " bdi { (expected) } "." } }
}

/// `07:05`, from the start of the recording.
pub(super) fn clock(at_s: f64) -> String {
    let whole = at_s.max(0.0) as u64;
    format!("{:02}:{:02}", whole / 60, whole % 60)
}

/// A probability as a whole percentage; what is not certain never reads as certain.
pub(super) fn confidence(share: f64) -> String {
    match (share * 100.0).round() {
        percent if percent >= 100.0 && share < 1.0 => "over 99 %".to_owned(),
        percent if percent < 1.0 && share > 0.0 => "under 1 %".to_owned(),
        percent => format!("{percent:.0} %"),
    }
}

/// How many of how many decided; in words where there was none.
fn of_decided(count: CountOf) -> String {
    if count.of == 0 { "none was decided".to_owned() } else { format!("{} decided", of(count)) }
}

fn of(count: CountOf) -> String {
    format!("{} of {}", count.n, items(count.of))
}

fn items(n: usize) -> String {
    format!("{n} {}", if n == 1 { "item" } else { "items" })
}
