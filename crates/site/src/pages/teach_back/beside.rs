//! What stands beside the marks of a pass: another listener's marks, and what the program proposed.

use desk::{HeardTogether, ProposalRow, ProposalsBeside};
use maud::{Markup, html};
use teachback::CountOf;

use super::result::one_point;
use crate::parts::{Shape, name, section, shape};
use crate::words::spoken;

/// Two who heard the same pass.
pub(super) fn together(together: &HeardTogether) -> Markup {
    let note = html! { p { (spoken::ONE_PASS_HEARD_BY) (together.listeners.len()) (spoken::IT_COUNTS_ONCE_WITH_THE) } };
    section(
        "together",
        spoken::HEARD_TOGETHER,
        Some(note),
        &html! {
            p {
                @for (place, (entry, listener)) in together.listeners.iter().enumerate() {
                    @if place > 0 { ", " }
                    a href=(format!("/teach-back/{entry}")) { (name(listener)) }
                }
                (spoken::MARKED_ALIKE) (of(together.alike)) (spoken::THAT_BOTH_MARKED)
            }
            @if !together.differed.is_empty() {
                ul.points {
                    @for (point, first, second, counts) in &together.differed {
                        li {
                            (one_point(point)) ": " (first.words()) (spoken::AND) (second.words())
                            (spoken::COUNTS_AS) strong { (counts.words()) }
                        }
                    }
                }
            }
            p.note { (spoken::EVERY_ITEM_THAT_BOTH_MARKED) }
        },
    )
}

/// Proposals beside decisions.
pub(super) fn proposals(beside: &ProposalsBeside) -> Markup {
    let note =
        html! { p { (spoken::PROPOSED_BY) bdi { (beside.program) } (spoken::FROM_A_TRANSCRIPT_THE_MARKS) } };
    section(
        "proposals",
        spoken::WHAT_WAS_PROPOSED,
        Some(note),
        &html! {
            dl.facts {
                dt { (spoken::SURE_PROPOSALS_DECIDED_OTHERWISE) }
                dd { (of_decided(beside.sure_changed)) }
                dt { (spoken::WITH_LISTEN_HERE_DECIDED_OTHERWISE) }
                dd { (of_decided(beside.unsure_changed)) }
                @if beside.left > 0 {
                    dt { (spoken::LEFT_UNJUDGED) }
                    dd { (items(beside.left)) }
                }
                @if let Some((named, steps)) = beside.steps_named {
                    dt { (spoken::STEPS_THE_LEARNER_NAMED) }
                    dd { (named) (spoken::THE_BREAKDOWN_HAS) (steps) }
                }
            }
            p.note { (spoken::EVERY_ITEM_OF_THE_PASS) }
            @if !beside.turned_round.is_empty() {
                p { (spoken::PROPOSED_AS_TURNED_ROUND) }
                ul.points {
                    @for (said, should) in &beside.turned_round {
                        li { (one_point(said)) (spoken::BEFORE_2) (one_point(should)) }
                    }
                }
            }
            @if beside.differing.is_empty() {
                p { (spoken::NO_PROPOSAL_WAS_DECIDED_OTHERWISE) }
            } @else {
                h3 { (spoken::DECIDED_OTHERWISE) }
                ul.proposals { @for row in &beside.differing { li { (one(row)) } } }
            }
            @if !beside.others.is_empty() {
                details {
                    summary { (spoken::ALL_OTHER_PROPOSALS_WITH_THE) (beside.others.len()) ")" }
                    ul.proposals { @for row in &beside.others { li { (one(row)) } } }
                }
            }
            @if let Some(transcript) = &beside.transcript {
                details {
                    summary { (spoken::THE_TRANSCRIPT_KEPT_WHOLE) }
                    pre.transcript dir="auto" { (transcript) }
                }
            }
            @if let Some(digest) = &beside.transcript_sha256 {
                p.note {
                    @if beside.transcript.is_none() { (spoken::THE_BOOK_KEEPS_THE_WORDS) }
                    (spoken::SHA_256_OF_THE_TRANSCRIPT) code.digest { (digest) }
                }
            }
        },
    )
}

fn one(row: &ProposalRow) -> Markup {
    html! {
        (one_point(&row.point))
        p.proposal {
            (spoken::PROPOSED_2) strong { (row.proposed.words()) } " (" (row.heard_as) (spoken::CONFIDENCE) (confidence(row.confidence)) ")"
            @if row.listen { ", " (shape(Shape::Diamond)) (spoken::LISTEN_HERE_2) }
            (spoken::DECIDED_2)
            strong { @match row.decided { Some(mark) => (mark.words()), None => (spoken::NOT_JUDGED) } }
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
    html! { p.numbers { (spoken::NUMBER_HEARD) bdi { (heard) } (spoken::THE_BREAKDOWN_SAYS) bdi { (expected) } "." } }
}

/// `07:05`, from the start of the recording.
pub(super) fn clock(at_s: f64) -> String {
    let whole = at_s.max(0.0) as u64;
    format!("{:02}:{:02}", whole / 60, whole % 60)
}

/// A probability as a whole percentage; what is not certain never reads as certain.
pub(super) fn confidence(share: f64) -> String {
    match (share * 100.0).round() {
        percent if percent >= 100.0 && share < 1.0 => spoken::OVER_99.to_owned(),
        percent if percent < 1.0 && share > 0.0 => spoken::UNDER_1.to_owned(),
        percent => format!("{percent:.0} %"),
    }
}

/// How many of how many decided; in words where there was none.
fn of_decided(count: CountOf) -> String {
    if count.of == 0 { spoken::NONE_WAS_DECIDED.to_owned() } else { format!("{} decided", of(count)) }
}

fn of(count: CountOf) -> String {
    format!("{} of {}", count.n, items(count.of))
}

fn items(n: usize) -> String {
    format!("{n} {}", if n == 1 { spoken::ITEM } else { spoken::ITEMS })
}
