//! What trainers decide, what people say of themselves, and rules.

use practice::{EventKind, PersonId, Role};

use super::Teller;
use crate::entry::{Body, Draft};
use crate::written::known::Known;
use crate::written::table::EntryTable;

/// A published rule is never changed: each has a version of its own, above those before.
pub(super) fn rule_is_newer(table: &EntryTable<'_>, known: &Known, draft: &Draft) {
    let Body::Practice(EventKind::RulePublished { rule, .. }) = &draft.body else { return };
    if let Some(newest) = known.newest_rule().filter(|newest| rule.version <= *newest) {
        table.fault(
            table.line(),
            "file",
            &format!("version {} of the release rule, and the book holds version {newest}", rule.version),
            &format!("version {} or above", newest.saturating_add(1)),
            "give the rule in the file the next version",
        );
    }
}

impl Teller<'_, '_> {
    /// Deciding on somebody is a trainer's, and never on oneself. A rule is about nobody.
    pub(super) fn signed_by_trainer(&self, person: Option<&PersonId>) {
        let Some(by) = self.by else { return };
        let role = self.known.people.get(&by.value);
        if role.is_some_and(|role| *role != Role::Trainer) {
            let found = format!("{}, who is not a trainer", by.value);
            let expected = "a trainer: only a trainer releases, says not yet, or publishes a rule";
            self.table.fault(by.line, "by", &found, expected, "have a trainer sign");
        }
        if person == Some(&by.value) {
            let to_do = "nobody decides about themselves";
            self.table.fault(by.line, "by", "the person it is about", "another trainer", to_do);
        }
    }

    /// How sure somebody is: their own word.
    pub(super) fn confidence(&self) -> Option<EventKind> {
        let (person, job) = (self.person("person"), self.job());
        let clean = self.table.whole("clean-of-ten", 0, 10);
        if clean.is_none() && !self.table.has_faults() {
            let expected = "of their next ten draws, on how many they miss no safety point: 0 to 10";
            let to_do = "add a line clean-of-ten = ...";
            self.table.fault(self.table.line(), "clean-of-ten", "nothing", expected, to_do);
        }
        if let (Some(by), Some(person)) = (self.by, &person)
            && by.value != *person
        {
            let to_do = "have them write it, with `by` the same as `person`";
            self.table.fault(by.line, "by", &by.value.0, "the person's own word", to_do);
        }
        let clean_of_ten = u8::try_from(clean?.value).ok()?;
        Some(EventKind::ConfidenceSaid { person: person?, job: job?.value, clean_of_ten })
    }

    pub(super) fn rule_published(&self) -> Option<EventKind> {
        let file = self.table.text("file", "the file of the release rule, beside this one");
        let why = self.table.text("reason", "why the rule is changed");
        self.signed_by_trainer(None);
        let file = file?;
        match (self.against.read_rule)(&file.value) {
            Ok(rule) => Some(EventKind::RulePublished { rule: Box::new(rule), why: why?.value }),
            Err(fault) => {
                let found = format!("{}: {}", fault.place, fault.found);
                self.table.fault(file.line, "file", &found, &fault.expected, &fault.what_to_do);
                None
            }
        }
    }
}
