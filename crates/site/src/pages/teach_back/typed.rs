//! What was typed and tapped on a teach-back form, kept as it was whether or not it can be saved.

use std::collections::{BTreeMap, BTreeSet};

use breakdown::{ItemId, ItemKind};
use desk::TeachBackForm;
use jiff::civil::DateTime;
use practice::{EventKind, PersonId};
use teachback::{Mark, PairHeard, TeachBack, TeachBackItem, binding_pairs, in_said_order};
use uuid::Uuid;

use crate::address::quote;
use crate::door::{Draft, Refusal};
use crate::form::Posted;

/// Longest note about a pass.
pub(super) const LONGEST_NOTE: usize = 500;
/// Longest pass: nobody says a job back for a day.
const LONGEST_PASS_S: f64 = 86_400.0;

/// How a binding order was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OrderHeard {
    /// Nobody said; the clock decides where both have a time.
    NotMarked,
    Kept,
    TurnedRound,
}

impl OrderHeard {
    pub(super) const ALL: [OrderHeard; 3] =
        [OrderHeard::NotMarked, OrderHeard::Kept, OrderHeard::TurnedRound];

    pub(super) fn code(self) -> &'static str {
        match self {
            OrderHeard::NotMarked => "",
            OrderHeard::Kept => "kept",
            OrderHeard::TurnedRound => "turned",
        }
    }

    pub(super) fn words(self) -> &'static str {
        match self {
            OrderHeard::NotMarked => "not heard",
            OrderHeard::Kept => "in this order",
            OrderHeard::TurnedRound => "turned round",
        }
    }
}

/// The form as it stands.
#[derive(Debug, Clone)]
pub(super) struct Typed {
    pub(super) entry: Uuid,
    pub(super) by: String,
    pub(super) started: String,
    pub(super) note: String,
    /// The entry of somebody who heard the same pass first; empty for none.
    pub(super) same_pass_as: String,
    /// Items left unjudged on purpose.
    pub(super) left: BTreeSet<ItemId>,
    /// Mark and seconds of each item that has any.
    pub(super) items: BTreeMap<ItemId, (Mark, String)>,
    /// Binding orders in the breakdown's order.
    pub(super) orders: Vec<(ItemId, ItemId, OrderHeard)>,
}

/// What stands for an item left unjudged on purpose, where each item is asked for.
pub(super) const LEFT: &str = "not-judged";

pub(super) fn mark_field(item: ItemId) -> String {
    format!("mark-{item}")
}

pub(super) fn time_field(item: ItemId) -> String {
    format!("at-{item}")
}

pub(super) fn order_field(first: ItemId, then: ItemId) -> String {
    format!("order-{first}-{then}")
}

impl Typed {
    /// A form nobody has touched.
    pub(super) fn blank(entry: Uuid, form: &TeachBackForm, now: DateTime) -> Typed {
        let orders = binding_pairs(&form.breakdown);
        Typed {
            entry,
            by: String::new(),
            started: minute(now),
            note: String::new(),
            same_pass_as: String::new(),
            left: BTreeSet::new(),
            items: BTreeMap::new(),
            orders: orders.into_iter().map(|(first, then)| (first, then, OrderHeard::NotMarked)).collect(),
        }
    }

    /// Reads what was sent. What cannot be read is refused by name; everything else is kept.
    pub(super) fn read(
        entry: Uuid,
        form: &TeachBackForm,
        posted: &Posted,
        now: DateTime,
    ) -> (Typed, Vec<Refusal>) {
        let mut typed = Typed::blank(entry, form, now);
        let mut faults = Vec::new();
        typed.by = posted.text("by").to_owned();
        typed.started = posted.text("started").to_owned();
        typed.note = posted.lines("note").trim().to_owned();
        typed.same_pass_as = posted.text("same-pass-as").to_owned();
        for item in form.breakdown.items() {
            let word = posted.text(&mark_field(item.id));
            if word.is_empty() {
                continue;
            }
            if word == LEFT {
                typed.left.insert(item.id);
                continue;
            }
            match Mark::from_name(word) {
                Some(mark) => {
                    typed.items.insert(item.id, (mark, posted.text(&time_field(item.id)).to_owned()));
                }
                None => faults.push(Refusal::new(
                    format!("the mark of {}", item.id),
                    format!("“{}”", quote(word)),
                    "one of the seven marks",
                    "choose one",
                )),
            }
        }
        for (name, _) in posted.all() {
            let item = name.strip_prefix("mark-").and_then(ItemId::parse);
            if let Some(item) = item
                && !form.breakdown.items().iter().any(|known| known.id == item)
            {
                faults.push(Refusal::new(
                    format!("item {item}"),
                    "a mark for an item this version of the breakdown does not have",
                    format!("items of version {}", form.breakdown.version),
                    "open the form again from the person's record",
                ));
            }
        }
        for (first, then, heard) in &mut typed.orders {
            let word = posted.text(&order_field(*first, *then));
            let known = OrderHeard::ALL.into_iter().find(|choice| choice.code() == word);
            *heard = known.unwrap_or(OrderHeard::NotMarked);
        }
        typed.check(form, now, &mut faults);
        (typed, faults)
    }

    fn check(&self, form: &TeachBackForm, now: DateTime, faults: &mut Vec<Refusal>) {
        if self.by.is_empty() {
            faults.push(Refusal::new(
                "Heard by",
                "nobody",
                "who listened",
                "choose the name of the one who marked",
            ));
        } else if !form.listeners.iter().any(|(id, ..)| id.0 == self.by) {
            faults.push(Refusal::new(
                "Heard by",
                format!("“{}”", quote(&self.by)),
                "somebody on the unit other than the learner",
                "choose a name from the list",
            ));
        }
        match self.started() {
            None => faults.push(Refusal::new(
                "Began at",
                if self.started.is_empty() {
                    "nothing".to_owned()
                } else {
                    format!("“{}”", quote(&self.started))
                },
                "a date and a time such as 2026-03-03 14:05",
                "write when the pass began",
            )),
            Some(started) if started > now => faults.push(Refusal::new(
                "Began at",
                format!("{}, which is after now, {}", minute(started), minute(now)),
                "a time that has been",
                "correct the time; the clock of this device may be wrong",
            )),
            Some(_) => {}
        }
        if !self.same_pass_as.is_empty() && Uuid::try_parse(&self.same_pass_as).is_err() {
            faults.push(Refusal::new(
                "Heard together with",
                format!("“{}”", quote(&self.same_pass_as)),
                "a pass from the list, or nobody",
                "choose one",
            ));
        }
        let n_characters = self.note.chars().count();
        if n_characters > LONGEST_NOTE {
            faults.push(Refusal::new(
                "Note",
                format!("{n_characters} characters"),
                format!("at most {LONGEST_NOTE}"),
                "shorten it",
            ));
        }
        if self.note.chars().any(|c| c.is_control() && c != '\n' && c != '\t') {
            faults.push(Refusal::new("Note", "a control character", "plain text", "remove the character"));
        }
        if self.items.is_empty() {
            faults.push(Refusal::new(
                "Marks",
                "no item is marked",
                "a mark for what was said",
                "mark each item; what was not said is missed",
            ));
        }
    }

    /// When the pass began, where it can be read.
    pub(super) fn started(&self) -> Option<DateTime> {
        self.started.replace(' ', "T").parse().ok()
    }

    pub(super) fn mark(&self, item: ItemId) -> Option<Mark> {
        self.items.get(&item).map(|(mark, _)| *mark)
    }

    pub(super) fn time(&self, item: ItemId) -> &str {
        self.items.get(&item).map_or("", |(_, time)| time)
    }

    /// The entry it would become.
    pub(super) fn draft(&self, form: &TeachBackForm) -> Result<Draft, Vec<Refusal>> {
        let mut faults = Vec::new();
        let mut items = Vec::new();
        for (item, (mark, time)) in &self.items {
            let at_s = match time.as_str() {
                "" => None,
                text => match text.parse::<f64>() {
                    Ok(seconds) if (0.0..=LONGEST_PASS_S).contains(&seconds) => Some(seconds),
                    _ => {
                        faults.push(Refusal::new(
                            format!("the time of {item}"),
                            format!("“{}”", quote(text)),
                            "seconds from the start of the pass, 0 to 86400",
                            "mark the item again",
                        ));
                        None
                    }
                },
            };
            items.push(TeachBackItem { item: *item, mark: *mark, at_s });
        }
        let pairs: Vec<PairHeard> = self
            .orders
            .iter()
            .filter(|(.., heard)| *heard != OrderHeard::NotMarked)
            .map(|(first, then, heard)| PairHeard {
                first: *first,
                then: *then,
                turned_round: *heard == OrderHeard::TurnedRound,
            })
            .collect();
        let items = in_said_order(items, &pairs).map_err(|conflict| {
            faults.push(Refusal::new(
                "Binding orders",
                conflict.to_string(),
                "orders that can all have been heard",
                "look at the binding orders again",
            ));
        });
        match (items, self.started()) {
            (Ok(items), Some(happened)) if faults.is_empty() => {
                let note = (!self.note.is_empty()).then(|| self.note.clone());
                let job = &form.breakdown;
                let mut teachback = TeachBack::heard(job.code.clone(), job.version, items, note);
                teachback.same_pass_as = Some(self.same_pass_as.clone()).filter(|entry| !entry.is_empty());
                Ok(Draft {
                    id: self.entry,
                    happened,
                    by: PersonId(self.by.clone()),
                    what: EventKind::TeachBackHeard { person: form.person.clone(), teachback },
                })
            }
            _ => Err(faults),
        }
    }

    /// Steps, key points and reasons that have a mark, and how many there are.
    pub(super) fn judged(&self, form: &TeachBackForm) -> (usize, usize) {
        (self.items.len(), form.breakdown.items().len())
    }
}

/// `2026-03-03 14:05`.
fn minute(at: DateTime) -> String {
    format!("{} {:02}:{:02}", at.date(), at.hour(), at.minute())
}

/// What an item is called in a sentence.
pub(super) fn kind_words(item: ItemId) -> &'static str {
    match item.kind() {
        ItemKind::Step => "important step",
        ItemKind::KeyPoint => "key point",
        ItemKind::Reason => "reason",
    }
}
