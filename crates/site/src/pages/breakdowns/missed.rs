//! What many learners miss in one job, dearest first.

use axum::extract::State;
use breakdown::{ItemId, JobCode};
use desk::{FEWEST_TO_RANK, ListenersAgree, MissedPage, MissedPoint, ProposalsChanged, Rate, Share};
use maud::{Markup, html};

use super::no_such_job;
use crate::address::{self, read_identifier};
use crate::ask::Site;
use crate::pages::{Segment, segment};
use crate::parts::{cell, name, of, percent, rate_of, safety_mark, section, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// Key points shown at once; the others stand folded away.
const MOST_SHOWN: usize = 8;

/// Which key points many learners miss, and how far two who listen agree.
pub(crate) async fn show(State(site): State<Site>, code: Segment<String>) -> Result<Markup, Problem> {
    let code = JobCode(read_identifier(&segment(code)?, "job code")?);
    let (about, (code, page)) = site.ask(move |desk| desk.missed(&code).map(|page| (code, page))).await?;
    let page = page.ok_or_else(|| no_such_job(&code))?;
    Ok(sheet::page(&about, Place::Breakdowns, "What many learners miss", &content(&page)))
}

fn content(page: &MissedPage) -> Markup {
    html! {
        header.opening {
            h1 { "What many learners miss" }
            p.lead {
                a href=(address::breakdown(&page.job)) { (name(&page.job_name)) }
                ", all learners together, since the last major change. If many miss it, the point is not taught or not worded well."
            }
            p.papers { a href=(address::editor(Some(&page.job), None)) { "Write the next version" } }
        }
        (section("dearest", "To reword first", Some(html! {
            p {
                "Intervals: " a.method href=(address::method("wilson")) { "Wilson, 95\u{a0}%" } "."
            }
            p {
                "In order of what they cost: every time somebody had to ask, lead, put right or step in, said and done together. "
                "At the same cost safety points come first."
            }
        }), &html! {
            @if page.ranked.is_empty() {
                p.empty { "No key point has been judged " (FEWEST_TO_RANK) " times yet." }
            } @else {
                @let (first, others) = page.ranked.split_at(page.ranked.len().min(MOST_SHOWN));
                (points("The dearest key points. Counts, then share and 95 % interval, or why there is none.", first))
                @if !others.is_empty() {
                    details {
                        summary { "The other " (others.len()) " key points" }
                        (points("The other key points by cost.", others))
                    }
                }
            }
        }))
        (section("listeners", "Two listeners", Some(html! {
            p { "Passes that two people heard, each on a form of their own. A pass counts once, with the worse mark of each item." }
        }), &html! {
            @match &page.listeners {
                Some(listeners) => { (agreement(listeners)) }
                None => p.empty {
                    "No pass was heard by two yet. Let two people mark one pass, each on a form of their own: where they differ, "
                    "the words of the breakdown leave room."
                },
            }
        }))
        @if let Some(proposals) = &page.proposals {
            (section("proposals", "Proposals from transcripts", Some(html! {
                p { "How often the trainer decided otherwise than the program proposed." }
            }), &changed(proposals)))
        }
        @if !page.too_few.is_empty() {
            (section("too-few", "Too few to say", Some(html! { p { "Judged fewer than " (FEWEST_TO_RANK) " times, said and done together: a single learner would decide." } }), &html! {
                ul.points {
                    @for point in &page.too_few {
                        li { (what(point)) " " span.why { "cost " (of(point.cost, point.judged)) } }
                    }
                }
            }))
        }
    }
}

fn points(caption: &str, points: &[MissedPoint]) -> Markup {
    let columns = [
        "Key point",
        "Cost",
        "Not said",
        "After a prompt",
        "Led or in part",
        "Wrong or unsafe",
        "With help or not done",
    ];
    table(
        "costs",
        caption,
        &columns,
        &html! {
            @for point in points {
                tr role="row" {
                    th.point scope="row" role="rowheader" { (what(point)) }
                    (cell("Cost", &html! { strong { (of(point.cost, point.judged)) } }))
                    (cell("Not said", &figure(&point.missed)))
                    (cell("After a prompt", &figure(&point.prompted)))
                    (cell("Led or in part", &figure(&point.in_part)))
                    (cell("Wrong or unsafe", &figure(&point.wrong)))
                    (cell("With help or not done", &figure(&point.not_done)))
                }
            }
        },
    )
}

/// A rate in a narrow cell; the method of its interval is named beside the table.
fn figure(rate: &Rate) -> Markup {
    html! {
        (of(rate.events, rate.of))
        @match &rate.share {
            Share::Shown { estimate, lower, upper, .. } => {
                ": " (percent(*estimate)) " " span.interval { (percent(*lower)) " to " (percent(*upper)) }
            }
            Share::Withheld(why) => { " " span.interval { (why) } }
        }
    }
}

fn what(point: &MissedPoint) -> Markup {
    html! {
        span.item { (point.item) }
        @if point.safety { (safety_mark()) " " }
        bdi { (point.text) }
    }
}

fn changed(proposals: &ProposalsChanged) -> Markup {
    html! {
        dl.facts {
            dt { "Passes marked on a transcript" }
            dd { (proposals.passes) }
            dt { "Sure proposals changed" }
            dd { (rate_of(&proposals.sure)) }
            dt { "With “listen here”, changed" }
            dd { (rate_of(&proposals.unsure)) }
            dt { "Proposed by" }
            dd { (proposals.programs.join(", ")) }
        }
        p.note {
            "A proposal is sure where it did not ask to listen: from 85 % confidence on, or from 75 % in drafts of earlier versions. "
            "Items of one pass are not independent, so the interval is somewhat too narrow."
        }
    }
}

fn agreement(listeners: &ListenersAgree) -> Markup {
    html! {
        dl.facts {
            dt { "Passes that two people heard" }
            dd { (listeners.passes) }
            dt { "Marked alike" }
            dd { (rate_of(&listeners.alike)) }
            dt { "Agreement beyond chance, AC1" }
            dd { (listeners.ac1) " (" a.method href=(address::method("gwet_ac1")) { "Gwet" } ")" }
            dt { "Cohen’s kappa" }
            dd { (listeners.kappa) " (" a.method href=(address::method("cohen_kappa")) { "Cohen" } ")" }
        }
        p.note {
            "Three kinds of marks: unprompted, after a prompt, not known. Kappa falls where nearly every mark is the same, "
            "however well two agree; AC1 does not."
        }
        @if !listeners.differed.is_empty() {
            p { "They differed on:" }
            ul.months {
                @for (item, differing, judged) in &listeners.differed {
                    li {
                        span.item { (ItemId { reason: false, ..*item }) }
                        @if item.reason { "reason, " }
                        (of(*differing, *judged))
                    }
                }
            }
        }
    }
}
