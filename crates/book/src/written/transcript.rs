//! Marks decided on a transcript: every proposal needs a decision, and only sure ones may be taken as they are.

use breakdown::ItemId;
use teachback::{Mark, PairHeard, Proposed, TeachBackItem, in_said_order};

use super::table::{At, EntryTable};

/// The word for `others` that takes the sure proposals as they are.
pub(super) const AS_PROPOSED: &str = "as-proposed";
/// The list of items that could not be judged.
const NOT_JUDGED: &str = "not-judged";
/// How the binding orders were heard that a transcript seems to turn round.
const ORDERS: &str = "orders";

/// Proposals that may be confirmed together.
pub(super) fn sure(proposed: &Proposed) -> Vec<(ItemId, Mark)> {
    let sure = proposed.items.iter().filter(|each| !each.needs_a_look());
    sure.map(|each| (each.item, each.mark)).collect()
}

/// The decided items with their times, in the order in which they were said. Names every item without a decision.
pub(super) fn decided(
    table: &EntryTable<'_>,
    transcript: Option<&At<String>>,
    proposed: &Proposed,
    marks: &[(ItemId, Mark)],
) -> Vec<TeachBackItem> {
    let line = transcript.map_or_else(|| table.line(), |transcript| transcript.line);
    let left: Vec<ItemId> =
        table.list(NOT_JUDGED).iter().filter_map(|item| ItemId::parse(&item.value)).collect();
    let marked = |item: ItemId| marks.iter().any(|(known, _)| *known == item);
    if let Some(twice) = left.iter().find(|item| marked(**item)) {
        let found = format!("{twice}, which has a mark too");
        table.fault(line, NOT_JUDGED, &found, "items without a mark", "keep one of the two");
    }
    let open: Vec<String> = proposed
        .items
        .iter()
        .filter(|each| !marked(each.item) && !left.contains(&each.item))
        .map(|each| match each.at_s {
            Some(at) => format!("{} at {:02}:{:02}", each.item, at as u64 / 60, at as u64 % 60),
            None => each.item.to_string(),
        })
        .collect();
    if !open.is_empty() {
        let found = format!("{} without a decision: {}", open.len(), open.join(", "));
        table.fault(
            line,
            "transcript",
            &found,
            "a mark for every item; others = \"as-proposed\" takes the sure proposals",
            "listen at the times named, then list each item under its mark, or under not-judged",
        );
    }
    let orders = table.optional_text(ORDERS);
    let turned_round = match orders.as_ref().map(|orders| (orders.value.as_str(), orders.line)) {
        _ if proposed.order_errors.is_empty() => None,
        Some((AS_PROPOSED, _)) => Some(true),
        Some(("kept", _)) => Some(false),
        other => {
            let pairs = proposed.order_errors.iter();
            let pairs: Vec<String> =
                pairs.map(|pair| format!("{} before {}", pair.then, pair.first)).collect();
            let found = other.map_or("nothing".to_owned(), |(word, _)| format!("{word:?}"));
            table.fault(
                other.map_or(line, |(_, line)| line),
                ORDERS,
                &format!("{found}, and the transcript seems to have {}", pairs.join(", ")),
                "orders = \"as-proposed\" or orders = \"kept\"",
                "listen, then say how it was",
            );
            None
        }
    };
    let pairs: Vec<PairHeard> = turned_round.map_or(Vec::new(), |turned_round| {
        let pairs = proposed.order_errors.iter();
        pairs.map(|pair| PairHeard { first: pair.first, then: pair.then, turned_round }).collect()
    });
    let items: Vec<TeachBackItem> = marks
        .iter()
        .map(|(item, mark)| {
            let at_s = proposed.item(*item).and_then(|each| each.said_at_s()).filter(|_| mark.is_said());
            TeachBackItem { item: *item, mark: *mark, at_s }
        })
        .collect();
    in_said_order(items.clone(), &pairs).unwrap_or_else(|conflict| {
        let to_do = "say that the orders were kept, and correct the entry's marks by hand";
        table.fault(line, ORDERS, &conflict.to_string(), "orders that can all have been heard", to_do);
        items
    })
}
