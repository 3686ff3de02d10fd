//! Which release rule was in force when: rules are published like breakdowns, and none is ever changed.

use std::collections::BTreeMap;

use jiff::civil::{Date, DateTime, time};

use crate::effective::{StandingEvent, standing_events};
use crate::event::{EventId, EventKind, History, PersonId, Role};
use crate::rule::ReleaseRule;

/// A rule as the book published it.
#[derive(Debug, Clone, PartialEq)]
pub struct PublishedRule {
    /// The entry.
    pub event: EventId,
    /// From when it advises.
    pub from: DateTime,
    /// Who published it.
    pub by: PersonId,
    /// Why.
    pub why: String,
    /// The rule.
    pub rule: ReleaseRule,
}

/// Every rule a trainer published, by version. A rule signed by anybody else does not count: it is a trainer's word.
pub fn published_rules(history: &History) -> Vec<PublishedRule> {
    let mut rules: Vec<PublishedRule> = read(&standing_events(history))
        .into_iter()
        .map(|(standing, rule, why)| PublishedRule {
            event: standing.event.id.clone(),
            from: standing.event.happened,
            by: standing.event.by.clone(),
            why: why.to_owned(),
            rule: rule.clone(),
        })
        .collect();
    rules.sort_by_key(|published| published.rule.version);
    rules
}

/// The rule in force at a moment: the highest version published by then, or the one of the unit's file where the book has none.
pub fn rule_in_force(history: &History, at: DateTime, of_file: &ReleaseRule) -> ReleaseRule {
    Rules::read(&standing_events(history), of_file).at(at).clone()
}

/// The last moment of a day.
pub fn end_of(day: Date) -> DateTime {
    day.to_datetime(time(23, 59, 59, 999_999_999))
}

type Read<'e, 'a> = (&'e StandingEvent<'a>, &'a ReleaseRule, &'a str);

fn read<'e, 'a>(events: &'e [StandingEvent<'a>]) -> Vec<Read<'e, 'a>> {
    let mut roles: BTreeMap<&PersonId, Role> = BTreeMap::new();
    let mut rules = Vec::new();
    for standing in events {
        match &standing.event.kind {
            EventKind::PersonAdded(person) => {
                roles.insert(&person.id, person.role);
            }
            EventKind::RulePublished { rule, why }
                if roles.get(&standing.event.by) == Some(&Role::Trainer) =>
            {
                rules.push((standing, &**rule, why.as_str()));
            }
            _ => {}
        }
    }
    rules
}

/// The rules of a book over time.
pub(crate) struct Rules<'a> {
    published: Vec<(DateTime, &'a ReleaseRule)>,
    of_file: &'a ReleaseRule,
}

impl<'a> Rules<'a> {
    /// Events must come in the order they happened.
    pub(crate) fn read(events: &[StandingEvent<'a>], of_file: &'a ReleaseRule) -> Rules<'a> {
        let published =
            read(events).into_iter().map(|(standing, rule, _)| (standing.event.happened, rule)).collect();
        Rules { published, of_file }
    }

    pub(crate) fn at(&self, when: DateTime) -> &'a ReleaseRule {
        let by_then = self.published.iter().filter(|(from, _)| *from <= when);
        // As with breakdowns the highest version holds: a day without a time may stand before a rule of the same day.
        by_then.max_by_key(|(from, rule)| (rule.version, *from)).map_or(self.of_file, |(_, rule)| rule)
    }
}
