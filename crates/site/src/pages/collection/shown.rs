//! The plan on a page: what is done first, the numbers next, and where they are from folded below them.

use breakdown::Breakdown;
use desk::{CollectionSheet, PlanBlock, SetSheet};
use maud::{Markup, html};

use super::form::Asked;
use crate::address;
use crate::parts::{caution, name, section};

/// Blocks that are read at the bed; the others are folded, because a phone is short.
const OPEN: [&str; 2] = ["blood", "time"];

pub(super) fn plan(sheet: &CollectionSheet, asked: &Asked, jobs: &[Breakdown]) -> Markup {
    let (open, folded): (Vec<&PlanBlock>, Vec<&PlanBlock>) =
        sheet.blocks.iter().partition(|block| OPEN.contains(&block.key));
    html! {
        p.lead.plan-of { "Plan for: " strong { (sheet.patient) } ". " a href="#ask" { "Plan again" } }
        (section("sets", "Sets", Some(html! { p { "In the order of drawing; bottles in the order of filling." } }), &html! {
            (sets(&sheet.sets))
            @for note in &sheet.notes { p.sentence { (note.sentence) } }
        }))
        @for each in open { (section(each.key, each.title, None, &rows(each))) }
        (caution("stop", "Stop", &sheet.stops))
        (section("more", "More", Some(html! { p { "Opened by a tap." } }), &html! {
            @for each in folded {
                details id=(each.key) { summary { (each.title) } (rows(each)) }
            }
        }))
        (section("carry", "Carry it out", Some(html! { p { "The plan is not kept: the sets above stay on this page." } }), &html! {
            @if jobs.is_empty() { p.empty { "No breakdown is in force." } }
            ul.ways-back {
                @for job in chosen_first(asked, jobs) {
                    li { a href=(address::carry_out(None, &job.code)) { (name(&job.job)) } }
                }
            }
        }))
        (caution("cautions", "Cautions: your policy comes first", &sheet.cautions))
    }
}

fn chosen_first<'a>(asked: &Asked, jobs: &'a [Breakdown]) -> Vec<&'a Breakdown> {
    let mut all: Vec<&Breakdown> = jobs.iter().collect();
    all.sort_by_key(|job| !asked.has("job", &job.code.0));
    all
}

fn sets(sets: &[SetSheet]) -> Markup {
    html! {
        ol.plan-sets {
            @for set in sets {
                li {
                    p { strong { (set.site_words) } }
                    ul {
                        @if let Some(first) = &set.first { li { "First: " (first) } }
                        @for bottle in &set.bottles {
                            li {
                                strong { (bottle.kind) " " (bottle.target_ml) "\u{a0}mL" }
                                ": at least " (bottle.least_ml) ", at most " (bottle.most_ml) "\u{a0}mL"
                            }
                        }
                        @if let Some(then) = &set.then { li { "Then: " (then) } }
                    }
                }
            }
        }
    }
}

fn rows(block: &PlanBlock) -> Markup {
    html! {
        @if block.rows.is_empty() { p.empty { (block.remark.as_deref().unwrap_or_default()) } } @else {
            dl.facts {
                @for row in &block.rows { dt { (crate::parts::sentence_start(&row.what)) } dd { (row.value) } }
            }
            @if let Some(remark) = &block.remark { p.note { (remark) } }
            details {
                summary { "Policy and sources" }
                ul { @for row in &block.rows { li { (row.what) ": " (row.from) } } }
            }
        }
    }
}
