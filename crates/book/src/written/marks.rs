//! Marks written as lists: `after-prompt = ["3.2"]`, `others = "done"`.

use std::collections::BTreeMap;

use breakdown::{Breakdown, ItemId, ItemKind};

use super::table::EntryTable;

/// Which items of a breakdown can bear a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bearing {
    /// What can be seen: steps and key points.
    Seen,
    /// What can be said: steps, key points and reasons.
    Said,
}

/// Reads the marks of an entry. `choices` gives each list's key and mark; `others` takes the same words and marks every
/// item that no list names; `own` is one more word for `others`, which gives some of them each its own mark. The answer is
/// in the breakdown's order.
pub(super) fn marks<M: Copy>(
    table: &EntryTable<'_>,
    choices: &[(&'static str, M)],
    bearing: Bearing,
    breakdown: Option<&Breakdown>,
    own: Option<(&'static str, &[(ItemId, M)])>,
) -> Vec<(ItemId, M)> {
    let known: Option<Vec<ItemId>> = breakdown.map(|breakdown| {
        breakdown
            .items()
            .into_iter()
            .map(|item| item.id)
            .filter(|id| bearing == Bearing::Said || id.kind() != ItemKind::Reason)
            .collect()
    });
    let mut marked: BTreeMap<(u16, u16, bool), (ItemId, M, &'static str)> = BTreeMap::new();
    for (key, mark) in choices {
        for item in table.list(key) {
            let Some(id) = ItemId::parse(&item.value) else {
                table.fault(
                    item.line,
                    key,
                    &format!("{:?}", item.value),
                    "an item by its place: step \"3\", key point \"3.2\", reason \"3.2r\"",
                    "look at the breakdown's numbers",
                );
                continue;
            };
            if bearing == Bearing::Seen && id.kind() == ItemKind::Reason {
                let to_do = "reasons are heard in a teach-back; mark the key point itself";
                table.fault(
                    item.line,
                    key,
                    &format!("the reason {id}"),
                    "a step or key point that can be seen",
                    to_do,
                );
                continue;
            }
            if known.as_ref().is_some_and(|known| !known.contains(&id)) {
                let (found, expected) = unknown(id, breakdown);
                table.fault(
                    item.line,
                    key,
                    &found,
                    &expected,
                    "look at the version of the breakdown the marks were made on",
                );
                continue;
            }
            if let Some((_, _, before)) = marked.insert((id.step, id.point, id.reason), (id, *mark, key)) {
                let found = format!("{id}, which `{before}` names too");
                table.fault(
                    item.line,
                    key,
                    &found,
                    "each item in one list",
                    "keep it in the list that is right",
                );
            }
        }
    }
    let others = table.optional_text("others");
    if let (Some(others), Some((word, own))) = (&others, own)
        && others.value == word
    {
        for (id, mark) in own {
            marked.entry((id.step, id.point, id.reason)).or_insert((*id, *mark, word));
        }
    } else if let Some(others) = others {
        match (choices.iter().find(|(key, _)| *key == others.value), &known) {
            (Some((key, mark)), Some(known)) => {
                // Steps are marked on a draw only when somebody marks them; the key points are what is watched.
                let wanted = |id: &&ItemId| bearing == Bearing::Said || id.kind() == ItemKind::KeyPoint;
                for id in known.iter().filter(wanted) {
                    marked.entry((id.step, id.point, id.reason)).or_insert((*id, *mark, key));
                }
            }
            (Some(_), None) => table.fault(
                others.line,
                "others",
                &format!("{:?}, and no breakdown in the book to know the others by", others.value),
                "the items by name",
                "publish the breakdown first, or list every item",
            ),
            (None, _) => {
                let own = own.map(|(word, _)| word);
                let words = choices.iter().map(|(key, _)| *key).chain(own).collect::<Vec<_>>().join(", ");
                table.fault(
                    others.line,
                    "others",
                    &format!("{:?}", others.value),
                    &format!("one of: {words}"),
                    "correct the word",
                );
            }
        }
    }
    if marked.is_empty() && !table.has_faults() {
        let words = choices.iter().map(|(key, _)| *key).collect::<Vec<_>>().join(", ");
        table.fault(
            table.line(),
            "marks",
            "no item is marked",
            &format!("lists of items under {words}; or others = \"...\" for all that no list names"),
            "mark what was seen or heard; what is not marked counts as not seen",
        );
    }
    marked.into_values().map(|(id, mark, _)| (id, mark)).collect()
}

fn unknown(id: ItemId, breakdown: Option<&Breakdown>) -> (String, String) {
    let Some(breakdown) = breakdown else { return (id.to_string(), "an item of the breakdown".to_owned()) };
    let of = format!("{id}, which {} version {} does not have", breakdown.code, breakdown.version);
    let expected = match breakdown.steps.get(usize::from(id.step) - 1) {
        None => format!("steps 1 to {}", breakdown.steps.len()),
        Some(step) if usize::from(id.point) > step.key_points.len() => {
            format!("step {} has {} key points", id.step, step.key_points.len())
        }
        Some(_) => "an item of the breakdown; a key point without a reason has no reason to mark".to_owned(),
    };
    (of, expected)
}
