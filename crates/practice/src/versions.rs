//! Which version of a breakdown is in force on a day, and which evidence a major change leaves behind.

use std::collections::BTreeMap;

use breakdown::{Breakdown, ChangeKind, ItemId, ItemKind, JobCode, Version};
use jiff::civil::Date;

use crate::effective::StandingEvent;
use crate::event::{EventKind, PersonId};

/// A version as the book published it.
#[derive(Debug, Clone)]
pub(crate) struct Published<'a> {
    pub(crate) breakdown: &'a Breakdown,
    /// Day from which it is in force.
    pub(crate) from: Date,
    pub(crate) by: &'a PersonId,
}

/// Every published version of every job.
#[derive(Debug, Default)]
pub(crate) struct Versions<'a> {
    by_job: BTreeMap<&'a JobCode, BTreeMap<Version, Published<'a>>>,
}

impl<'a> Versions<'a> {
    pub(crate) fn read(events: &[StandingEvent<'a>]) -> Versions<'a> {
        let mut versions = Versions::default();
        for standing in events {
            if let EventKind::BreakdownPublished(breakdown) = &standing.event.kind {
                let published = standing.event.happened.date();
                // A date before the publication cannot bind anyone who had not seen it.
                let from = breakdown.effective.map_or(published, |effective| effective.max(published));
                let published = Published { breakdown, from, by: &standing.event.by };
                versions.by_job.entry(&breakdown.code).or_default().insert(breakdown.version, published);
            }
        }
        versions
    }

    pub(crate) fn jobs(&self) -> impl Iterator<Item = &'a JobCode> {
        self.by_job.keys().copied()
    }

    pub(crate) fn get(&self, job: &JobCode, version: Version) -> Option<&Published<'a>> {
        self.by_job.get(job)?.get(&version)
    }

    /// The newest version in force on a day.
    pub(crate) fn in_force(&self, job: &JobCode, on: Date) -> Option<&Published<'a>> {
        self.by_job.get(job)?.values().rev().find(|published| published.from <= on)
    }

    /// The oldest version on which evidence still counts on a day: the last major change in force, or the first
    /// version. Only wording has changed since then.
    pub(crate) fn oldest_current(&self, job: &JobCode, on: Date) -> Option<&Published<'a>> {
        let versions = self.by_job.get(job)?;
        let current = self.in_force(job, on)?.breakdown.version;
        let upto: Vec<_> = versions
            .values()
            .filter(|published| published.breakdown.version <= current && published.from <= on)
            .collect();
        upto.iter().rev().find(|published| is_major(published.breakdown)).or(upto.first()).copied()
    }

    /// Whether evidence on this version counts on a day; always, for a job whose breakdown is not in the book.
    pub(crate) fn is_current(&self, job: &JobCode, version: Version, on: Date) -> bool {
        self.oldest_current(job, on).is_none_or(|oldest| version >= oldest.breakdown.version)
    }
}

fn is_major(breakdown: &Breakdown) -> bool {
    breakdown.change.as_ref().is_some_and(|change| change.kind == ChangeKind::Major)
}

/// Places of the key points of a breakdown.
pub(crate) fn key_points(breakdown: &Breakdown) -> Vec<ItemId> {
    breakdown.items().into_iter().map(|item| item.id).filter(|id| id.kind() == ItemKind::KeyPoint).collect()
}
