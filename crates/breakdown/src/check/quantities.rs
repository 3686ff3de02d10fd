//! Numbers of one job held against each other.

use quantity::{Stated, Unit, find};

use crate::fault::{Fault, FaultKind, Place};
use crate::ledger::{Amounts, Span};
use crate::model::{Breakdown, KeyPoint};
use crate::read::Places;

pub(super) fn check(breakdown: &Breakdown, places: &Places) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut seen: Vec<(&Stated, usize)> = Vec::new();
    for (step_at, step) in breakdown.steps.iter().enumerate() {
        for (point_at, point) in step.key_points.iter().enumerate() {
            for (at, quantity) in point.quantities.iter().enumerate() {
                let place = places.quantity(step_at, point_at, at, point.line);
                disagreement(quantity, place, &seen, &mut faults);
                seen.push((quantity, place.line));
            }
            text_and_quantities(point, &mut faults);
        }
    }
    sums(breakdown, places, &mut faults);
    faults
}

/// The same thing, counted per the same, must have the same numbers everywhere in a job.
fn disagreement(quantity: &Stated, place: Place, seen: &[(&Stated, usize)], faults: &mut Vec<Fault>) {
    let Some(what) = &quantity.what else { return };
    let comparable = |other: &Stated| {
        let per = quantity.per == other.per || quantity.per.is_none() || other.per.is_none();
        other.what.as_ref() == Some(what) && other.unit == quantity.unit && per
    };
    let differing = seen.iter().find(|(other, _)| comparable(other) && !same_ends(quantity, other));
    if let Some((other, first_line)) = differing {
        let (here, there) = (quantity.amount(), other.amount());
        let kind = FaultKind::QuantitiesDisagree { what: what.clone(), here, there, first_line: *first_line };
        faults.push(Fault::new(place, kind));
    }
}

fn same_ends(one: &Stated, other: &Stated) -> bool {
    Stated { per: None, ..one.clone() }.same_numbers(&Stated { per: None, ..other.clone() })
}

/// A quantity in the words of a key point should be marked, and may not contradict what is marked.
fn text_and_quantities(point: &KeyPoint, faults: &mut Vec<Fault>) {
    let said = find(&point.text).into_iter().filter_map(|found| {
        let unit = found.unit.filter(|unit| *unit != Unit::Count)?;
        Some((found.stated(unit).ok()?, point.text[found.start..found.end].to_owned()))
    });
    for (stated, words) in said {
        let mut marked = point.quantities.iter().filter(|quantity| quantity.unit == stated.unit).peekable();
        let place = Place::line(point.line);
        match marked.peek().copied() {
            None => faults.push(Fault::new(place, FaultKind::QuantityNotMarked { said: words })),
            Some(first) => {
                // "10 mL" in the words and "8 to 10 mL" below agree; a key point may mark several quantities.
                if !marked.any(|quantity| quantity.agrees(&stated)) {
                    let kind = FaultKind::TextDisagrees { said: words, quantity: first.to_string() };
                    faults.push(Fault::new(place, kind));
                }
            }
        }
    }
}

/// Volumes that are products of others must be those products.
fn sums(breakdown: &Breakdown, places: &Places, faults: &mut Vec<Fault>) {
    let amounts = Amounts::of(breakdown);
    let mut compare = |parts: String, sum: Span, stated: &crate::ledger::Amount<'_>, first_line: usize| {
        let outside = stated.span().is_some_and(|span| !sum.holds(span));
        if outside {
            let (step, point, at) = stated.index;
            let place = places.quantity(step, point, at, stated.line);
            let kind = FaultKind::DoesNotAddUp {
                parts,
                sum: format!("{sum} mL"),
                stated: stated.quantity.amount(),
                first_line,
            };
            faults.push(Fault::new(place, kind));
        }
    };
    let fill = amounts.fill_per_bottle().and_then(|fill| Some((fill, fill.span()?)));
    let bottles = amounts.bottles_per_set().and_then(|bottles| Some((bottles, bottles.span()?)));
    let per_set = fill.zip(bottles).map(|((fill, fill_span), (bottles, bottle_span))| {
        let parts = format!("{} x {}", fill.quantity.amount(), bottles.quantity.amount());
        (parts, fill_span.times(bottle_span), fill.line)
    });
    if let Some((parts, sum, line)) = &per_set {
        for stated in amounts.volume_per_set() {
            compare(parts.clone(), *sum, stated, *line);
        }
    }
    let stated_per_set = amounts
        .volume_per_set()
        .next()
        .and_then(|stated| Some((stated.quantity.amount(), stated.span()?, stated.line)));
    let sets = amounts.sets_per_patient().and_then(|sets| Some((sets, sets.span()?)));
    if let (Some((parts, sum, line)), Some((sets, set_span))) = (per_set.or(stated_per_set), sets) {
        for stated in amounts.volume_per_patient() {
            let parts = format!("{parts} x {}", sets.quantity.amount());
            compare(parts, sum.times(set_span), stated, line);
        }
    }
}
