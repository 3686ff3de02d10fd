//! Passes of a teach-back: one pass is one, however many heard it.

use std::borrow::Cow;
use std::collections::BTreeMap;

use jiff::civil::DateTime;
use teachback::{TeachBack, as_counted};

use crate::effective::{StandingEvent, standing_events};
use crate::event::{Event, EventId, EventKind, History, PersonId};

/// What one listener wrote down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Listened<'a> {
    /// The entry that stands.
    pub event: &'a Event,
    /// What it says.
    pub teachback: &'a TeachBack,
}

/// One pass of a teach-back, with everybody who heard it.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardPass<'a> {
    /// Who said the job back.
    pub person: &'a PersonId,
    /// Who listened, the first one first; never empty.
    pub listened: Vec<Listened<'a>>,
    /// The marks that count: where listeners differ, the worst of each item (`teachback::as_counted`).
    pub counted: Cow<'a, TeachBack>,
}

impl HeardPass<'_> {
    /// When the pass began, as the first listener wrote it.
    pub fn happened(&self) -> DateTime {
        self.listened[0].event.happened
    }

    /// Whether an entry is one listener's word on this pass.
    pub fn holds(&self, entry: &EventId) -> bool {
        self.listened.iter().any(|listened| listened.event.id == *entry)
    }

    /// Why the pass does not count: nobody but the learner heard it.
    pub fn does_not_count(&self) -> Option<&'static str> {
        let alone = self.listened.iter().all(|listened| listened.event.by == *self.person);
        alone.then_some("heard by the learner alone")
    }
}

/// Every pass that stands, in the order in which they began.
///
/// Two entries are of one pass when the later one says so, by the identifier of the earlier; or, where it says nothing,
/// when the same person said back the same version from the same minute on and two others each wrote it down. An entry
/// that names only a day has no minute. What a learner wrote about their own pass is a pass of its own.
pub fn heard_passes(history: &History) -> Vec<HeardPass<'_>> {
    passes(&standing_events(history))
}

pub(crate) fn passes<'a>(events: &[StandingEvent<'a>]) -> Vec<HeardPass<'a>> {
    let mut groups: Vec<(&'a PersonId, Vec<Listened<'a>>)> = Vec::new();
    // Every writing of an entry, the corrected ones too, by the group its standing one is in.
    let mut group_of: BTreeMap<&'a EventId, usize> = BTreeMap::new();
    let mut waiting: Vec<(&StandingEvent<'a>, &'a PersonId, &'a TeachBack)> = Vec::new();
    for known in events {
        let EventKind::TeachBackHeard { person, teachback } = &known.event.kind else { continue };
        if teachback.same_pass_as.is_some() && known.event.by != *person {
            waiting.push((known, person, teachback));
            continue;
        }
        let listened = Listened { event: known.event, teachback };
        let same =
            groups.iter().position(|(who, group)| *who == person && is_same_minute(group, listened, who));
        add(&mut groups, &mut group_of, known, person, listened, same);
    }
    // A listener may name an entry that itself names another, in whatever order they came.
    while !waiting.is_empty() {
        let before = waiting.len();
        waiting.retain(|(known, person, teachback)| {
            let named = teachback.same_pass_as.as_ref().map(|entry| EventId(entry.clone()));
            let Some(group) = named.and_then(|entry| group_of.get(&entry).copied()) else { return true };
            let listened = Listened { event: known.event, teachback };
            let (who, others) = &groups[group];
            let fits = *who == *person && may_join(others, listened, who);
            add(&mut groups, &mut group_of, known, person, listened, fits.then_some(group));
            false
        });
        if waiting.len() == before {
            // They name what is not there: each stands for itself.
            for (known, person, teachback) in std::mem::take(&mut waiting) {
                let listened = Listened { event: known.event, teachback };
                add(&mut groups, &mut group_of, known, person, listened, None);
            }
        }
    }
    let mut passes: Vec<HeardPass<'a>> = groups
        .into_iter()
        .filter_map(|(person, listened)| {
            let marks: Vec<&TeachBack> = listened.iter().map(|each| each.teachback).collect();
            Some(HeardPass { person, counted: as_counted(&marks)?, listened })
        })
        .collect();
    // A stable sort: at the same minute in the order recorded.
    passes.sort_by_key(HeardPass::happened);
    passes
}

fn add<'a>(
    groups: &mut Vec<(&'a PersonId, Vec<Listened<'a>>)>,
    group_of: &mut BTreeMap<&'a EventId, usize>,
    known: &StandingEvent<'a>,
    person: &'a PersonId,
    listened: Listened<'a>,
    group: Option<usize>,
) {
    let group = group.unwrap_or_else(|| {
        groups.push((person, Vec::new()));
        groups.len() - 1
    });
    groups[group].1.push(listened);
    for writing in known.replaced.iter().copied().chain([known.event]) {
        group_of.insert(&writing.id, group);
    }
}

/// Nobody hears a pass twice, a learner does not hear their own, and one version is one pass.
fn may_join(group: &[Listened<'_>], other: Listened<'_>, person: &PersonId) -> bool {
    let Some(first) = group.first() else { return false };
    first.teachback.job == other.teachback.job
        && first.teachback.version == other.teachback.version
        && other.event.by != *person
        && group.iter().all(|listened| listened.event.by != other.event.by && listened.event.by != *person)
}

fn is_same_minute(group: &[Listened<'_>], other: Listened<'_>, person: &PersonId) -> bool {
    let minute = |at: DateTime| (at.date(), at.hour(), at.minute());
    let has_minute = other.event.happened.time() != jiff::civil::Time::midnight();
    has_minute
        && may_join(group, other, person)
        && group.first().is_some_and(|first| minute(first.event.happened) == minute(other.event.happened))
}
