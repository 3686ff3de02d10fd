//! The order in which items were said: kept by the clock, put right by the one who listened.

use std::collections::BTreeSet;

use breakdown::{Breakdown, ItemId, ItemKind};

use crate::mark::TeachBackItem;

/// One binding order as it was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PairHeard {
    /// What must come first.
    pub first: ItemId,
    /// What must come after it.
    pub then: ItemId,
    /// True when it was said the other way round.
    pub turned_round: bool,
}

/// What was said about the binding orders cannot all hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{first} and {then} cannot stand as they were marked: the other orders that bind say otherwise")]
pub struct OrdersConflict {
    /// First item of a pair that cannot hold.
    pub first: ItemId,
    /// Second item of that pair.
    pub then: ItemId,
}

/// The binding orders of a breakdown as pairs of key points; a label no key point has is left out.
pub fn binding_pairs(breakdown: &Breakdown) -> Vec<(ItemId, ItemId)> {
    let items = breakdown.items();
    let labelled = |label: &str| {
        let has_label = |item: &&breakdown::ItemView<'_>| {
            item.id.kind() == ItemKind::KeyPoint
                && item.key_point.is_some_and(|point| point.label.as_deref() == Some(label))
        };
        items.iter().find(has_label).map(|item| item.id)
    };
    let pairs = breakdown.orders.iter();
    pairs.filter_map(|pair| Some((labelled(&pair.first)?, labelled(&pair.then)?))).collect()
}

/// Puts items in the order in which they were said: by their seconds, those without any after them in the order of
/// the breakdown. Where the listener says that a binding order was kept or turned round, that decides.
///
/// Seconds that the listener's word contradicts are dropped, so that an order and its times never disagree.
pub fn in_said_order(
    items: Vec<TeachBackItem>,
    pairs: &[PairHeard],
) -> Result<Vec<TeachBackItem>, OrdersConflict> {
    let mut waiting = items;
    let key = |item: &TeachBackItem| item.at_s.unwrap_or(f64::INFINITY);
    waiting.sort_by(|one, two| key(one).total_cmp(&key(two)).then(one.item.cmp(&two.item)));
    let mut in_order = Vec::with_capacity(waiting.len());
    while !waiting.is_empty() {
        let still: BTreeSet<ItemId> = waiting.iter().map(|item| item.item).collect();
        let held_back = |item: ItemId| {
            pairs.iter().find(|pair| {
                let (before, after) =
                    if pair.turned_round { (pair.then, pair.first) } else { (pair.first, pair.then) };
                after == item && before != item && still.contains(&before)
            })
        };
        match waiting.iter().position(|item| held_back(item.item).is_none()) {
            Some(place) => in_order.push(waiting.remove(place)),
            None => {
                let pair = waiting.iter().find_map(|item| held_back(item.item));
                let (first, then) =
                    pair.map_or((ItemId::step(1), ItemId::step(1)), |pair| (pair.first, pair.then));
                return Err(OrdersConflict { first, then });
            }
        }
    }
    let mut latest = 0.0;
    for item in &mut in_order {
        match item.at_s {
            Some(at) if at >= latest => latest = at,
            _ => item.at_s = None,
        }
    }
    Ok(in_order)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mark::Mark;

    fn said(step: u16, point: u16, at_s: Option<f64>) -> TeachBackItem {
        TeachBackItem { item: ItemId::key_point(step, point), mark: Mark::Unprompted, at_s }
    }

    fn pair(first: (u16, u16), then: (u16, u16), turned_round: bool) -> PairHeard {
        let point = |(step, point)| ItemId::key_point(step, point);
        PairHeard { first: point(first), then: point(then), turned_round }
    }

    fn places(items: &[TeachBackItem]) -> Vec<String> {
        items.iter().map(|item| item.item.to_string()).collect()
    }

    #[test]
    fn the_clock_decides_and_what_has_no_time_follows() {
        let items = vec![said(1, 1, None), said(2, 1, Some(4.0)), said(1, 2, Some(9.0))];
        assert_eq!(places(&in_said_order(items, &[]).unwrap()), ["2.1", "1.2", "1.1"]);
    }

    #[test]
    fn the_listeners_word_goes_before_the_clock() {
        // Tapped late: the clock says 2.1 came first, the listener says that the order was kept.
        let items = vec![said(1, 1, Some(9.0)), said(2, 1, Some(4.0)), said(3, 1, Some(12.0))];
        let kept = in_said_order(items.clone(), &[pair((1, 1), (2, 1), false)]).unwrap();
        assert_eq!(places(&kept), ["1.1", "2.1", "3.1"]);
        assert_eq!(kept.iter().map(|item| item.at_s).collect::<Vec<_>>(), [Some(9.0), None, Some(12.0)]);
        let without_times = vec![said(1, 1, None), said(2, 1, None)];
        let turned = in_said_order(without_times, &[pair((1, 1), (2, 1), true)]).unwrap();
        assert_eq!(places(&turned), ["2.1", "1.1"]);
    }

    #[test]
    fn orders_that_cannot_all_hold_are_named() {
        let items = vec![said(1, 1, None), said(2, 1, None), said(3, 1, None)];
        let heard = [pair((1, 1), (2, 1), false), pair((2, 1), (3, 1), false), pair((1, 1), (3, 1), true)];
        let conflict = in_said_order(items, &heard).unwrap_err();
        assert!(conflict.to_string().contains("cannot stand as they were marked"), "{conflict}");
    }
}
