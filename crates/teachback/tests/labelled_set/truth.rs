//! Labels of a transcript, one for each item of its breakdown.

use breakdown::{Breakdown, ItemId, ItemKind};

use super::{Case, Label, Written};

impl Case {
    /// One label for every item, in reading order.
    pub fn labels(&self, breakdown: &Breakdown, written: &Written) -> Vec<Label> {
        let items = breakdown.items();
        let nothing = |item| Label { item, mark: "missed".to_owned(), at_s: None, recognised: true };
        let mut labels: Vec<Label> = items.iter().map(|item| nothing(item.id)).collect();
        for ((line, start), recognised) in self.lines.iter().zip(&written.starts).zip(&written.recognised) {
            for tag in line.tags.iter().filter(|tag| *tag != "x") {
                let (item, mark) = self.tag(tag, breakdown);
                let label =
                    labels.iter_mut().find(|label| label.item == item).expect("an item of the breakdown");
                // An item told in two lines was recognised when both were.
                label.recognised &= *recognised;
                (label.mark, label.at_s) = (mark, Some(*start));
            }
        }
        steps_by_points(&mut labels);
        labels
    }

    fn tag(&self, tag: &str, breakdown: &Breakdown) -> (ItemId, String) {
        let mut words = tag.split_whitespace();
        let mut first = words.next().expect("a tag");
        let reason = first == "r";
        if reason {
            first = words.next().expect("a label after r");
        }
        let mark = words.next().unwrap_or("unprompted").to_owned();
        let step = first.strip_prefix('s').and_then(|number| number.parse::<u16>().ok());
        if let Some(step) = step {
            return (ItemId::step(step), mark);
        }
        let items = breakdown.items();
        let found = items.iter().find(|item| {
            item.id.reason == reason
                && item.key_point.is_some_and(|point| point.label.as_deref() == Some(first))
        });
        (found.unwrap_or_else(|| panic!("{}: no item {tag:?}", self.name)).id, mark)
    }
}

/// A step is said as well when at least half of its key points are.
fn steps_by_points(labels: &mut [Label]) {
    for at in 0..labels.len() {
        let ItemId { step, .. } = labels[at].item;
        if labels[at].item.kind() != ItemKind::Step || labels[at].mark != "missed" {
            continue;
        }
        let points: Vec<&Label> = labels
            .iter()
            .filter(|label| label.item.step == step && label.item.kind() == ItemKind::KeyPoint)
            .collect();
        let said: Vec<&&Label> = points.iter().filter(|label| label.mark != "missed").collect();
        if !said.is_empty() && said.len() * 2 >= points.len() {
            let at_s = said[0].at_s;
            (labels[at].mark, labels[at].at_s) = ("unprompted".to_owned(), at_s);
        }
    }
}
