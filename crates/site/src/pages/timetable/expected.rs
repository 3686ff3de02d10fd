//! Draws to expect of each shift of the week.

use desk::{ExpectedDraws, ExpectedSlot};
use maud::{Markup, html};

use crate::address;
use crate::parts::{cell, day, name, section, table};

/// Every job, all units together first and each unit folded away below.
pub(super) fn all(expected: &[ExpectedDraws]) -> Markup {
    let note = html! {
        p { "From the times of the laboratory’s sets; counts of few shifts are drawn towards all shifts of the week." }
        p { a.method href=(address::method("shrink_rates")) { "How this is worked out" } }
    };
    section(
        "expected",
        "Draws to expect",
        Some(note),
        &html! { @for one in expected.iter().filter(|one| one.unit.is_none()) { (job(one, expected)) } },
    )
}

fn job(all: &ExpectedDraws, expected: &[ExpectedDraws]) -> Markup {
    let units: Vec<&ExpectedDraws> =
        expected.iter().filter(|one| one.job == all.job && one.unit.is_some()).collect();
    html! {
        h3 { (name(&all.job_name)) }
        (rates(all))
        @if !units.is_empty() {
            details {
                summary { "By unit, as the laboratory names it" }
                @for one in units {
                    h4 { (name(one.unit.as_deref().unwrap_or_default())) }
                    (rates(one))
                }
            }
        }
    }
}

fn rates(one: &ExpectedDraws) -> Markup {
    let n_draws: u64 = one.weekdays.iter().flat_map(|(_, slots)| slots).map(|slot| slot.n_draws).sum();
    let from = html! { (n_draws) " draws from " (day(one.counted.0)) " to " (day(one.counted.1)) };
    if let (true, Some(slot)) = (one.is_alike, one.weekdays.first().and_then(|(_, slots)| slots.first())) {
        return html! {
            p {
                "On any shift " (mean(slot)) " draws, 95\u{a0}% between " (ends(slot)) ": " (from)
                ", and the shifts differ no more than chance alone makes them."
            }
        };
    }
    let shifts: Vec<&str> = one
        .weekdays
        .first()
        .map(|(_, slots)| slots.iter().map(|slot| slot.shift.as_str()).collect())
        .unwrap_or_default();
    let mut columns = vec!["Weekday"];
    columns.extend(&shifts);
    html! {
        p { (from) "." }
        (table("expected", "Draws to expect of one shift, the 95\u{a0}% interval of this mean, and the draws counted.", &columns, &html! {
            @for (weekday, slots) in &one.weekdays {
                tr role="row" {
                    th scope="row" role="rowheader" { (weekday) }
                    @for slot in slots {
                        (cell(&slot.shift, &html! {
                            strong { (mean(slot)) } ", " (ends(slot)) "; " (slot.n_draws) " on " (slot.n_shifts) " shifts"
                        }))
                    }
                }
            }
        }))
    }
}

fn mean(slot: &ExpectedSlot) -> String {
    format!("{:.2}", slot.mean)
}

fn ends(slot: &ExpectedSlot) -> String {
    format!("{:.2} to {:.2}", slot.interval.0, slot.interval.1)
}
