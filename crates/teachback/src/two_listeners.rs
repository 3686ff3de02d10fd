//! One pass that two people heard.

use std::borrow::Cow;
use std::collections::BTreeSet;

use breakdown::ItemId;

use crate::mark::{Mark, TeachBack, TeachBackItem};

/// One pass as it counts, from what each listener marked; the first is the one whose entry came first.
///
/// Each item counts with the worst mark that any of them gave, as it does where one listener marks an item twice and
/// where two watch one draw: what one of them heard wrong may be done wrong. What only one of them judged counts with
/// that mark. Order, times and note are the first listener's. `None` for no listener.
pub fn as_counted<'a>(heard: &[&'a TeachBack]) -> Option<Cow<'a, TeachBack>> {
    let (first, others) = heard.split_first()?;
    if others.is_empty() {
        return Some(Cow::Borrowed(first));
    }
    let worst = |item: ItemId| -> Option<Mark> {
        let marks = heard.iter().flat_map(|each| &each.items).filter(|said| said.item == item);
        marks.map(|said| said.mark).max()
    };
    let mut known = BTreeSet::new();
    let mut items: Vec<TeachBackItem> = Vec::new();
    // The last mention decides the place in the order, so the first listener's are kept as they stand.
    for said in &first.items {
        known.insert(said.item);
        items.push(TeachBackItem { mark: worst(said.item).unwrap_or(said.mark), ..said.clone() });
    }
    for said in others.iter().flat_map(|each| &each.items) {
        if known.insert(said.item) {
            let mark = worst(said.item).unwrap_or(said.mark);
            items.push(TeachBackItem { mark, at_s: None, ..said.clone() });
        }
    }
    Some(Cow::Owned(TeachBack { items, ..(*first).clone() }))
}

#[cfg(test)]
mod tests {
    use breakdown::{JobCode, Version};

    use super::*;

    fn pass(marks: &[(u16, Mark)]) -> TeachBack {
        let items = marks.iter().map(|(point, mark)| TeachBackItem {
            item: ItemId::key_point(1, *point),
            mark: *mark,
            at_s: Some(f64::from(*point)),
        });
        TeachBack::heard(JobCode("vein".to_owned()), Version(1), items.collect(), None)
    }

    /// The rule that docs/teach-back.md states, by hand.
    #[test]
    fn the_worst_mark_counts_and_the_first_listeners_order_stands() {
        let first = pass(&[(2, Mark::Unprompted), (1, Mark::Missed)]);
        let second = pass(&[(1, Mark::Prompted), (2, Mark::Led), (3, Mark::Wrong)]);
        let counted = as_counted(&[&first, &second]).unwrap();
        let marks: Vec<_> =
            counted.items.iter().map(|said| (said.item.point, said.mark, said.at_s)).collect();
        assert_eq!(marks, [(2, Mark::Led, Some(2.0)), (1, Mark::Missed, Some(1.0)), (3, Mark::Wrong, None)]);
        assert!(matches!(as_counted(&[&first]), Some(Cow::Borrowed(alone)) if *alone == first));
        assert!(as_counted(&[]).is_none());
    }
}
