use breakdown::{Breakdown, JobCode};
use jiff::civil::Date;
use practice::{Event, EventKind, History, KeyPointFact};

use crate::facts::Desk;
use crate::view::{Asked, BreakdownPage, PointFacts};

impl Desk {
    /// The breakdown of every job in force today.
    pub fn breakdowns(&self) -> Vec<Breakdown> {
        self.jobs.iter().filter_map(|(code, _)| self.in_force(code).cloned()).collect()
    }

    /// A job's breakdown in force, its versions, and how often each key point was open since the last major change.
    pub fn breakdown_page(&self, code: &JobCode) -> Option<BreakdownPage> {
        let breakdown = self.in_force(code)?.clone();
        let versions = self
            .published(code)
            .into_iter()
            .map(|(event, version)| {
                let change = version.change.as_ref().map(|change| change.what.clone());
                (version.version, version.effective.unwrap_or(event.happened.date()), change)
            })
            .collect();
        let points = facts(&self.material.history, code, self.today());
        Some(BreakdownPage { breakdown, versions, points })
    }

    /// How often each key point was open between two days, both included.
    pub(crate) fn points_between(&self, code: &JobCode, first: Date, last: Date) -> Vec<PointFacts> {
        // Breakdowns and people stay in: without them nobody could say which version a draw was marked against.
        let keep = |event: &&Event| {
            event.happened.date() >= first
                || matches!(event.kind, EventKind::BreakdownPublished(_) | EventKind::PersonAdded(_))
        };
        let events = self.material.history.events.iter().filter(keep).cloned().collect();
        facts(&History { events, laboratory_draws: None }, code, last)
    }
}

fn facts(history: &History, code: &JobCode, day: Date) -> Vec<PointFacts> {
    practice::key_point_facts(history, code, day).into_iter().map(|fact| point_facts(code, fact)).collect()
}

fn point_facts(job: &JobCode, fact: KeyPointFact) -> PointFacts {
    PointFacts {
        job: job.clone(),
        item: fact.item,
        safety: fact.safety,
        said: Asked { open: fact.said.judged() - fact.said.unprompted, of: fact.said.judged() },
        done: Asked { open: fact.done.after_prompt + fact.done.not_done, of: fact.done.seen() },
        text: fact.text,
    }
}
