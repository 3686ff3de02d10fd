//! Who should take the next draw, in words for the page and the command.

use std::collections::BTreeMap;

use breakdown::JobCode;
use jiff::civil::{Date, DateTime};
use practice::{EventKind, PersonId, SpotCheck, day_in_words};
use timetable::plan::{Absence, PlannedPairing};
use timetable::{DrawReason, NextDrawQuestion, WATCHED_DAYS, WatchedDraw, next_draw};

use crate::facts::{Desk, valid};

/// A person with their name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// Staff identifier.
    pub id: PersonId,
    /// Name as colleagues say it.
    pub name: String,
}

/// Somebody who may take the draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfferRow {
    /// Whose hands draw.
    pub draws: Named,
    /// Why they, in sentences without a full stop.
    pub why: Vec<String>,
    /// Who watches.
    pub watches: Option<Named>,
    /// Why they watch.
    pub why_watches: Vec<String>,
    /// True for a learner: without the watcher there is no draw.
    pub must_be_watched: bool,
}

/// Who should take the next draw in one job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NextDrawRow {
    /// The job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// Day on which the shift begins, and its name.
    pub shift: (Date, String),
    /// People on duty.
    pub n_on_duty: usize,
    /// Best first.
    pub offers: Vec<OfferRow>,
    /// Learners on duty who have not been shown the job yet.
    pub to_be_shown_first: Vec<Named>,
    /// Where nobody may draw: when somebody comes on duty who may.
    pub next_released: Option<(DateTime, Named)>,
}

/// What local policy is to be asked for where nobody released is on duty.
pub const NOBODY_RELEASED: &str = "Nobody on duty may draw alone, and nobody may watch a learner. Follow local policy: \
                                   the charge nurse calls somebody released, of this unit or of the team that policy \
                                   names. A draw that cannot wait is a decision of the clinician in charge.";

/// A plan that was kept: what it says counts for the next draw.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Kept {
    /// The plan's pairings.
    pub pairings: Vec<PlannedPairing>,
    /// Absences known when it was made and since.
    pub absences: Vec<Absence>,
}

impl Desk {
    /// A person with their name.
    pub(crate) fn named(&self, id: &PersonId) -> Named {
        Named { id: id.clone(), name: self.name_of(id) }
    }

    /// Who should take the next draw of a job at a moment and who watches; `None` without a roster or without the job.
    pub fn next_draw(&self, job: &JobCode, at: DateTime, kept: &Kept) -> Option<NextDrawRow> {
        let roster = self.roster()?;
        let (_, job_name) = self.jobs.iter().find(|(code, _)| code == job)?;
        let (watched, last_draw) = self.draws_known(job);
        let answer = next_draw(&NextDrawQuestion {
            at,
            job,
            roster,
            standings: &self.standings,
            trainers: &self.trainer_ids(),
            absences: &kept.absences,
            planned: &kept.pairings,
            watched: &watched,
            last_draw: &last_draw,
            look_from_draw: self.rule.spot_check_from_draw,
        });
        let sentences = |why: &[DrawReason]| why.iter().map(|one| self.reason(one)).collect::<Vec<_>>();
        Some(NextDrawRow {
            job: job.clone(),
            job_name: job_name.clone(),
            shift: (answer.shift.on, answer.shift.kind.words().to_owned()),
            n_on_duty: answer.n_on_duty,
            offers: answer
                .offers
                .iter()
                .map(|offer| OfferRow {
                    draws: self.named(&offer.draws),
                    why: sentences(&offer.why),
                    watches: offer.watches.as_ref().map(|id| self.named(id)),
                    why_watches: sentences(&offer.why_watches),
                    must_be_watched: offer.must_be_watched,
                })
                .collect(),
            to_be_shown_first: answer.to_be_shown_first.iter().map(|id| self.named(id)).collect(),
            next_released: answer.next_released.map(|(from, id)| (from, self.named(&id))),
        })
    }

    /// Watched draws of a job, and the day of each person's last known draw.
    fn draws_known(&self, job: &JobCode) -> (Vec<WatchedDraw>, BTreeMap<PersonId, Date>) {
        let mut watched = Vec::new();
        let mut last: BTreeMap<PersonId, Date> = BTreeMap::new();
        let mut known = |person: &PersonId, on: Date| {
            let day = last.entry(person.clone()).or_insert(on);
            *day = (*day).max(on);
        };
        for event in valid(&self.material.history) {
            let (EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))) = &event.kind
            else {
                continue;
            };
            if draw.job == *job {
                known(&draw.drawn_by, event.happened.date());
                watched.push(WatchedDraw {
                    drawn_by: draw.drawn_by.clone(),
                    watched_by: draw.watched_by.clone(),
                    at: event.happened,
                });
            }
        }
        for draw in self.material.history.laboratory_draws.iter().flatten() {
            if draw.job.as_ref().is_none_or(|of| of == job) {
                known(&draw.person, draw.on);
            }
        }
        (watched, last)
    }

    fn reason(&self, reason: &DrawReason) -> String {
        match reason {
            DrawReason::PlanPairs { with } => {
                format!("the plan pairs them with {} on this shift", self.name_of(with))
            }
            DrawReason::Turn { had: 0 } => "has had no draw on this shift yet".to_owned(),
            DrawReason::Turn { had } => {
                format!("by turns: has had {had} {} on this shift", if *had == 1 { "draw" } else { "draws" })
            }
            DrawReason::OnlyLearner => "the only learner on duty who may draw watched".to_owned(),
            DrawReason::DateFirst { by } => {
                format!("of the learners on duty, the date comes first: {}", day_in_words(*by))
            }
            DrawReason::FewestDraws => {
                "of the learners on duty, has had the fewest draws that count".to_owned()
            }
            DrawReason::OnlyWatcher => "the only one on duty who may watch".to_owned(),
            DrawReason::WatchedLeast { draws } => format!(
                "of those on duty who may watch, the one to ask first: watched {draws} {} in the last {WATCHED_DAYS} days",
                if *draws == 1 { "draw" } else { "draws" }
            ),
            DrawReason::LookDue => "the release rule asks for the trainer’s own look about now".to_owned(),
            DrawReason::CheckDue { on } => {
                format!("a follow-up check has been due since {} and a trainer is on duty", day_in_words(*on))
            }
            DrawReason::LongestWithout { since: Some(since) } => {
                format!(
                    "of those released on duty, longest without a draw that is known: {}",
                    day_in_words(*since)
                )
            }
            DrawReason::LongestWithout { since: None } => {
                "of those released on duty, no draw of theirs is known".to_owned()
            }
            DrawReason::OnlyReleased => "the only one on duty who may draw alone".to_owned(),
            DrawReason::OwnPatientsOnly => "released for the patients assigned to them only".to_owned(),
            DrawReason::NobodyToWatch { learners: 1 } => {
                "a learner is on duty, but nobody who may watch".to_owned()
            }
            DrawReason::NobodyToWatch { learners } => {
                format!("{learners} learners are on duty, but nobody who may watch")
            }
            DrawReason::NoLearner => "no learner on duty may draw watched".to_owned(),
        }
    }
}
