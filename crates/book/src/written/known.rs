//! What the book knows when a file of entries is read, growing with each entry of the file.

use std::collections::{BTreeMap, BTreeSet};

use breakdown::{Breakdown, JobCode, Version};
use jiff::civil::Date;
use practice::{
    Event, EventId, EventKind, History, PersonId, ReleaseRule, Role, published_rules, standing_events,
    standings,
};
use teachback::Proposed;
use uuid::Uuid;

use crate::entry::{Body, Draft, Recorded};
use crate::history::event;

pub(super) struct Known {
    pub(super) people: BTreeMap<PersonId, Role>,
    breakdowns: BTreeMap<JobCode, BTreeMap<Version, (Breakdown, Date)>>,
    by_number: BTreeMap<u64, (Uuid, bool)>,
    by_label: BTreeMap<String, Uuid>,
    recorded: BTreeSet<Uuid>,
    /// What was proposed for each teach-back that the book holds.
    proposals: BTreeMap<Uuid, Box<Proposed>>,
    history: History,
}

impl Known {
    pub(super) fn of(entries: &[Recorded]) -> Known {
        let history = History { events: entries.iter().filter_map(event).collect(), laboratory_draws: None };
        let mut known = Known {
            people: BTreeMap::new(),
            breakdowns: BTreeMap::new(),
            by_number: entries
                .iter()
                .map(|entry| (entry.seq(), (entry.id(), matches!(entry.body(), Body::Practice(_)))))
                .collect(),
            by_label: BTreeMap::new(),
            recorded: entries.iter().map(Recorded::id).collect(),
            proposals: entries.iter().filter_map(proposals_of).collect(),
            history: History::default(),
        };
        let standing: Vec<Event> =
            standing_events(&history).into_iter().map(|known| known.event.clone()).collect();
        standing.iter().for_each(|event| known.learn(event));
        known.history = history;
        known
    }

    /// Takes in an entry of the file, so that later ones may speak of it.
    pub(super) fn add(&mut self, draft: &Draft) {
        if let (Body::Practice(kind), false) = (&draft.body, self.is_recorded(draft.id)) {
            let event = Event {
                id: EventId(draft.id.to_string()),
                happened: draft.happened,
                by: draft.by.clone(),
                kind: kind.clone(),
                corrects: draft.corrects.map(|id| EventId(id.to_string())),
                correction_reason: draft.correction_reason.clone(),
            };
            self.learn(&event);
            self.history.events.push(event);
        }
    }

    /// An entry that is in the book keeps the proposals it was added with: a later version of the program may propose
    /// otherwise, and the file was decided on then.
    pub(super) fn keep_proposals(&self, id: Uuid, body: &mut Body) {
        if let Body::Practice(EventKind::TeachBackHeard { teachback, .. }) = body
            && let Some(proposals) = self.proposals.get(&id)
        {
            teachback.proposed = Some(proposals.clone());
        }
    }

    /// Gives an entry of the file a name by which later entries call it; false when the name is taken.
    pub(super) fn label(&mut self, label: &str, id: Uuid) -> bool {
        self.by_label.insert(label.to_owned(), id).is_none_or(|before| before == id)
    }

    pub(super) fn labelled(&self, label: &str) -> Option<Uuid> {
        self.by_label.get(label).copied()
    }

    /// Identifier of an entry by its number, and whether it is one that a person may correct.
    pub(super) fn numbered(&self, number: u64) -> Option<(Uuid, bool)> {
        self.by_number.get(&number).copied()
    }

    /// Whether the book holds the entry already.
    pub(super) fn is_recorded(&self, id: Uuid) -> bool {
        self.recorded.contains(&id)
    }

    pub(super) fn last_number(&self) -> u64 {
        self.by_number.keys().next_back().copied().unwrap_or(0)
    }

    pub(super) fn versions(&self, job: &JobCode) -> Vec<Version> {
        self.breakdowns.get(job).map(|versions| versions.keys().copied().collect()).unwrap_or_default()
    }

    pub(super) fn jobs(&self) -> Vec<String> {
        self.breakdowns.keys().map(|job| job.0.clone()).collect()
    }

    pub(super) fn breakdown(&self, job: &JobCode, version: Version) -> Option<&Breakdown> {
        self.breakdowns.get(job)?.get(&version).map(|(breakdown, _)| breakdown)
    }

    /// The newest version in force on a day.
    pub(super) fn in_force(&self, job: &JobCode, on: Date) -> Option<Version> {
        self.breakdowns.get(job)?.iter().rev().find(|(_, (_, from))| *from <= on).map(|(version, _)| *version)
    }

    /// What the rule still needs for a release, by everything known so far; `None` when the rule supports it.
    pub(super) fn against_release(&self, draft: &Draft, rule: &ReleaseRule) -> Option<Vec<String>> {
        let Body::Practice(EventKind::Released(release)) = &draft.body else { return None };
        let standing = standings(&self.history, draft.happened.date(), rule)
            .into_iter()
            .find(|standing| standing.person == release.person && standing.job == release.job);
        match standing {
            Some(standing) if standing.rule_met && standing.next_scope == Some(release.scope) => None,
            Some(standing) if standing.next_scope == Some(release.scope) => Some(standing.missing),
            _ => Some(vec!["this step is not the one the release rule has next for this person".to_owned()]),
        }
    }

    /// The highest version of a published release rule.
    pub(super) fn newest_rule(&self) -> Option<u32> {
        published_rules(&self.history).into_iter().map(|published| published.rule.version).max()
    }

    fn learn(&mut self, event: &Event) {
        match &event.kind {
            EventKind::PersonAdded(person) => {
                self.people.insert(person.id.clone(), person.role);
            }
            EventKind::BreakdownPublished(breakdown) => {
                let published = event.happened.date();
                let from = breakdown.effective.map_or(published, |effective| effective.max(published));
                let versions = self.breakdowns.entry(breakdown.code.clone()).or_default();
                versions.insert(breakdown.version, ((**breakdown).clone(), from));
            }
            _ => {}
        }
    }
}

fn proposals_of(entry: &Recorded) -> Option<(Uuid, Box<Proposed>)> {
    match entry.body() {
        Body::Practice(EventKind::TeachBackHeard { teachback, .. }) => {
            Some((entry.id(), teachback.proposed.clone()?))
        }
        _ => None,
    }
}
