//! Orders that bind: known labels, orders that can all hold, and steps that follow them.

use std::collections::HashMap;

use quantity::spelling;

use crate::fault::{Fault, FaultKind};
use crate::model::{Breakdown, OrderPair};
use crate::read::Places;

pub(super) fn check(breakdown: &Breakdown, places: &Places) -> Vec<Fault> {
    let points = breakdown.steps.iter().flat_map(|step| &step.key_points);
    let labels: HashMap<&str, usize> =
        points.enumerate().filter_map(|(at, point)| Some((point.label.as_deref()?, at))).collect();
    let mut faults = Vec::new();
    let mut earlier: Vec<&OrderPair> = Vec::new();
    for (at, pair) in breakdown.orders.iter().enumerate() {
        let place = places.orders.get(at).copied().unwrap_or_default();
        let mut fault = |kind| faults.push(Fault::new(place, kind));
        let OrderPair { first, then } = pair;
        for label in [first, then] {
            if !labels.contains_key(label.as_str()) {
                let nearest = spelling::nearest(label, labels.keys().copied(), 2).map(str::to_owned);
                fault(FaultKind::UnknownLabel { label: label.clone(), nearest });
            }
        }
        if first == then {
            fault(FaultKind::OrderToItself { label: first.clone() });
        } else if leads_to(&earlier, then, first) {
            fault(FaultKind::OrderImpossible { first: first.clone(), then: then.clone() });
        } else if let (Some(first_at), Some(then_at)) =
            (labels.get(first.as_str()), labels.get(then.as_str()))
            && first_at > then_at
        {
            fault(FaultKind::OrderAgainstSteps { first: first.clone(), then: then.clone() });
        }
        earlier.push(pair);
    }
    faults
}

/// True when the pairs force `from` before `to`.
fn leads_to(pairs: &[&OrderPair], from: &str, to: &str) -> bool {
    let mut reached = vec![from];
    let mut at = 0;
    while let Some(&label) = reached.get(at) {
        for pair in pairs.iter().filter(|pair| pair.first == label) {
            if pair.then == to {
                return true;
            }
            if !reached.contains(&pair.then.as_str()) {
                reached.push(&pair.then);
            }
        }
        at += 1;
    }
    false
}
