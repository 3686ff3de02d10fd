//! Who should take the next draw, and who watches it.

use std::collections::{BTreeMap, BTreeSet};

use breakdown::JobCode;
use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime};
use practice::{Level, PersonId, Standing};

use crate::plan::{Absence, PlannedPairing};
use crate::roster::Roster;
use crate::shift::Shift;

/// Days over which it is counted how often somebody watched: common practice, no source.
pub const WATCHED_DAYS: i64 = 7;
/// Days looked ahead for somebody released where nobody is.
const AHEAD_DAYS: i64 = 14;

/// A draw that was watched.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WatchedDraw {
    /// Whose hands drew.
    pub drawn_by: PersonId,
    /// Who watched.
    pub watched_by: PersonId,
    /// When.
    pub at: DateTime,
}

/// What the answer rests on.
#[derive(Debug, Clone)]
pub struct NextDrawQuestion<'a> {
    /// The moment of the draw, the unit's local time.
    pub at: DateTime,
    /// The job.
    pub job: &'a JobCode,
    /// Who works when.
    pub roster: &'a Roster,
    /// Today's standings, of this job or of more.
    pub standings: &'a [Standing],
    /// Trainers: they may watch whatever their own standing is.
    pub trainers: &'a [PersonId],
    /// Absences known, whatever the roster says.
    pub absences: &'a [Absence],
    /// The plan, where one is kept.
    pub planned: &'a [PlannedPairing],
    /// Watched draws of this job.
    pub watched: &'a [WatchedDraw],
    /// Day of each person's last known draw of this job.
    pub last_draw: &'a BTreeMap<PersonId, Date>,
    /// Draw from which the release rule asks for the trainer's own look.
    pub look_from_draw: Option<u16>,
}

/// Why somebody is named.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DrawReason {
    /// The plan pairs them on this shift.
    PlanPairs {
        /// The other of the pair.
        with: PersonId,
    },
    /// Their turn: others of the plan on this shift have had more of theirs.
    Turn {
        /// Draws they had on this shift.
        had: usize,
    },
    /// The only learner on shift who may draw watched.
    OnlyLearner,
    /// Their date on the timetable comes first of the learners on shift.
    DateFirst {
        /// The date.
        by: Date,
    },
    /// Has had the fewest draws that count, of the learners on shift.
    FewestDraws,
    /// The only one on shift who may watch.
    OnlyWatcher,
    /// Watched least often lately, of those on shift who may watch.
    WatchedLeast {
        /// Draws watched in the last [`WATCHED_DAYS`] days.
        draws: usize,
    },
    /// The trainer's own look is due.
    LookDue,
    /// A follow-up check is due.
    CheckDue {
        /// Since when.
        on: Date,
    },
    /// Longest without a known draw, of those released on shift.
    LongestWithout {
        /// Day of the last one known; `None` where none is.
        since: Option<Date>,
    },
    /// The only one on shift who may draw alone.
    OnlyReleased,
    /// Released to the patients assigned to them only.
    OwnPatientsOnly,
    /// Learners are on shift, and nobody who may watch.
    NobodyToWatch {
        /// How many learners.
        learners: usize,
    },
    /// No learner on shift may draw watched.
    NoLearner,
}

/// Somebody who may take the draw, with somebody to watch where it has to be watched.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawOffer {
    /// Whose hands draw.
    pub draws: PersonId,
    /// Why they.
    pub why: Vec<DrawReason>,
    /// Who watches; `None` where they may draw alone and nothing is to be checked.
    pub watches: Option<PersonId>,
    /// Why they watch.
    pub why_watches: Vec<DrawReason>,
    /// True for a learner: without the watcher there is no draw.
    pub must_be_watched: bool,
}

/// Who should take the next draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NextDraw {
    /// The shift the moment falls into.
    pub shift: Shift,
    /// Everybody on duty.
    pub n_on_duty: usize,
    /// Best first; empty when nobody on duty may draw.
    pub offers: Vec<DrawOffer>,
    /// Learners on duty whose instruction has not begun: demonstration first.
    pub to_be_shown_first: Vec<PersonId>,
    /// Where nobody may draw: when the next person comes on duty who may draw alone.
    pub next_released: Option<(DateTime, PersonId)>,
}

/// Who should take this draw and who watches, of those at work at the moment.
///
/// # Formula
/// A learner whose instruction has begun takes it where somebody on duty may watch: first those the plan pairs on this
/// shift, by the share of their turns they have had, then by the nearest date, then by the fewest draws that count. The
/// watcher is the trainer where the rule's own look is due, else the one the plan pairs, else whoever is not planned with
/// somebody else and watched least in the last seven days. Otherwise somebody released draws: first whose follow-up check is due while a
/// trainer is on duty, then whoever may draw on every patient, then who has been longest without a known draw.
/// # Range
/// Everybody whose span of work holds the moment, less those absent or away.
/// # Ends
/// Nobody on duty, or nobody who may draw: no offer, and when the next released person comes on duty within 14 days.
/// # Source
/// The order is common practice, no source.
/// # Check
/// Shifts made by hand.
pub fn next_draw(question: &NextDrawQuestion<'_>) -> NextDraw {
    let duty = OnDuty::new(question);
    let mut offers = Vec::new();
    for learner in duty.learners() {
        if let Some(offer) = duty.watched(learner) {
            offers.push(offer);
        }
    }
    let released = duty.released(offers.is_empty());
    offers.extend(released);
    NextDraw {
        shift: duty.shift,
        n_on_duty: duty.people.len(),
        next_released: if offers.is_empty() { duty.next_released() } else { None },
        to_be_shown_first: duty.at_level(|level| level == Level::Planned).cloned().collect(),
        offers,
    }
}

/// Those at work at the moment, with their standings in the job.
struct OnDuty<'a> {
    question: &'a NextDrawQuestion<'a>,
    shift: Shift,
    people: BTreeSet<&'a PersonId>,
    standing: BTreeMap<&'a PersonId, &'a Standing>,
}

impl<'a> OnDuty<'a> {
    fn new(question: &'a NextDrawQuestion<'a>) -> OnDuty<'a> {
        let standing: BTreeMap<_, _> = question
            .standings
            .iter()
            .filter(|standing| standing.job == *question.job)
            .map(|standing| (&standing.person, standing))
            .collect();
        let shift = Shift::at(question.at, question.roster.times());
        let is_away =
            |person: &PersonId| standing.get(person).is_some_and(|standing| standing.level == Level::Away);
        let people = question
            .roster
            .at(question.at)
            .into_iter()
            .filter(|person| !is_away(person) && !is_absent(question, person, shift.on))
            .collect();
        OnDuty { question, shift, people, standing }
    }

    fn at_level(&self, wanted: impl Fn(Level) -> bool) -> impl Iterator<Item = &'a PersonId> {
        self.people
            .iter()
            .copied()
            .filter(move |person| self.standing.get(person).is_some_and(|standing| wanted(standing.level)))
    }

    fn is_trainer(&self, person: &PersonId) -> bool {
        self.question.trainers.contains(person)
    }

    /// Those who may watch, trainers among them.
    fn watchers(&self) -> Vec<&'a PersonId> {
        let may = |person: &PersonId| {
            self.standing.get(person).is_some_and(|standing| standing.level == Level::MayPrecept)
        };
        self.people.iter().copied().filter(|person| self.is_trainer(person) || may(person)).collect()
    }

    /// The plan's pairings of this shift whose two people are both here.
    fn planned(&self) -> impl Iterator<Item = &'a PlannedPairing> {
        let planned = self.question.planned;
        planned.iter().filter(|one| {
            one.shift == self.shift
                && self.people.contains(&one.learner)
                && self.people.contains(&one.preceptor)
        })
    }

    /// Draws somebody had on this shift so far.
    fn had(&self, learner: &PersonId) -> usize {
        let times = self.question.roster.times();
        let (start, at) = (self.shift.start(times), self.question.at);
        self.question
            .watched
            .iter()
            .filter(|draw| draw.drawn_by == *learner && start <= draw.at && draw.at <= at)
            .count()
    }

    /// Learners who may draw watched, in the order in which they are offered the draw.
    fn learners(&self) -> Vec<&'a PersonId> {
        let mut learners: Vec<_> =
            self.at_level(|level| matches!(level, Level::Learning | Level::Withdrawn)).collect();
        learners.sort_by_key(|learner| {
            let turns = self.planned().find(|one| one.learner == **learner).map(|one| one.turns);
            let standing = self.standing.get(*learner);
            let had = self.had(learner);
            (
                turns.is_none(),
                // Shares of the turns had, as whole numbers: 840 is a multiple of every number of turns up to 8.
                had * 840 / usize::from(turns.unwrap_or(1).max(1)),
                standing.and_then(|standing| standing.needed_by).unwrap_or(Date::MAX),
                standing.map_or(0, |standing| standing.draws_counted),
                *learner,
            )
        });
        learners
    }

    fn watched(&self, learner: &'a PersonId) -> Option<DrawOffer> {
        let pairing = self.planned().find(|one| one.learner == *learner);
        let standing = self.standing.get(learner)?;
        let look_due = !standing.look_done
            && self
                .question
                .look_from_draw
                .is_some_and(|from| standing.draws_counted.saturating_add(1) >= from);
        let watchers: Vec<_> = self.watchers().into_iter().filter(|watcher| *watcher != learner).collect();
        let since = self.question.at.saturating_sub(WATCHED_DAYS.days());
        let lately = |watcher: &PersonId| {
            let of = |draw: &&WatchedDraw| {
                draw.watched_by == *watcher && since <= draw.at && draw.at <= self.question.at
            };
            self.question.watched.iter().filter(of).count()
        };
        let with_another = |watcher: &PersonId| {
            self.planned().any(|one| one.preceptor == *watcher && one.learner != *learner)
        };
        let is_paired = |watcher: &PersonId| pairing.is_some_and(|one| one.preceptor == *watcher);
        let watcher = *watchers.iter().min_by_key(|watcher| {
            (
                look_due && !self.is_trainer(watcher),
                !is_paired(watcher),
                with_another(watcher),
                self.is_trainer(watcher),
                lately(watcher),
                **watcher,
            )
        })?;
        let mut why_watches = Vec::new();
        if look_due && self.is_trainer(watcher) {
            why_watches.push(DrawReason::LookDue);
        }
        if is_paired(watcher) {
            why_watches.push(DrawReason::PlanPairs { with: learner.clone() });
        } else if watchers.len() == 1 {
            why_watches.push(DrawReason::OnlyWatcher);
        } else if why_watches.is_empty() {
            why_watches.push(DrawReason::WatchedLeast { draws: lately(watcher) });
        }
        Some(DrawOffer {
            draws: learner.clone(),
            why: self.why_learner(learner, pairing),
            watches: Some(watcher.clone()),
            why_watches,
            must_be_watched: true,
        })
    }

    fn why_learner(&self, learner: &PersonId, pairing: Option<&PlannedPairing>) -> Vec<DrawReason> {
        let mut why = Vec::new();
        let others: Vec<_> = self
            .at_level(|level| matches!(level, Level::Learning | Level::Withdrawn))
            .filter(|other| *other != learner)
            .filter_map(|other| self.standing.get(other))
            .collect();
        if others.is_empty() {
            why.push(DrawReason::OnlyLearner);
        }
        if let Some(pairing) = pairing {
            why.push(DrawReason::PlanPairs { with: pairing.preceptor.clone() });
            if pairing.turns < pairing.of_turns && !others.is_empty() {
                why.push(DrawReason::Turn { had: self.had(learner) });
            }
        } else if let (false, Some(own)) = (others.is_empty(), self.standing.get(learner)) {
            match own.needed_by {
                Some(by) if others.iter().all(|other| other.needed_by.is_none_or(|date| by < date)) => {
                    why.push(DrawReason::DateFirst { by });
                }
                _ if others.iter().all(|other| own.draws_counted < other.draws_counted) => {
                    why.push(DrawReason::FewestDraws);
                }
                _ => why.push(DrawReason::Turn { had: self.had(learner) }),
            }
        }
        why
    }

    /// Those who may draw alone, in order. `instead` says that no learner can take the draw.
    fn released(&self, instead: bool) -> Vec<DrawOffer> {
        let trainers: Vec<_> = self.people.iter().copied().filter(|person| self.is_trainer(person)).collect();
        let mut offers: Vec<_> = self
            .at_level(Level::may_draw_alone)
            .filter_map(|person| {
                let standing = self.standing.get(person)?;
                let due = standing.next_check.as_ref().filter(|due| due.on <= self.question.at.date());
                let trainer = trainers.iter().copied().find(|trainer| *trainer != person);
                let check = due.zip(trainer).map(|(due, trainer)| (due.on, trainer));
                let since = self.question.last_draw.get(person).copied();
                let own_only = standing.level == Level::OwnPatients;
                Some((check.is_none(), own_only, since, person, check))
            })
            .collect();
        offers.sort();
        let n_released = offers.len();
        let n_learners = self.at_level(|level| matches!(level, Level::Learning | Level::Withdrawn)).count();
        offers
            .into_iter()
            .enumerate()
            .map(|(place, (_, own_only, since, person, check))| {
                let mut why = Vec::new();
                if instead && place == 0 {
                    why.push(match n_learners {
                        0 => DrawReason::NoLearner,
                        learners => DrawReason::NobodyToWatch { learners },
                    });
                }
                match check {
                    Some((on, _)) => why.push(DrawReason::CheckDue { on }),
                    None if n_released == 1 => why.push(DrawReason::OnlyReleased),
                    None if place == 0 => why.push(DrawReason::LongestWithout { since }),
                    None => {}
                }
                if own_only {
                    why.push(DrawReason::OwnPatientsOnly);
                }
                DrawOffer {
                    draws: person.clone(),
                    why,
                    watches: check.map(|(_, trainer)| trainer.clone()),
                    why_watches: check.map(|(on, _)| DrawReason::CheckDue { on }).into_iter().collect(),
                    must_be_watched: false,
                }
            })
            .collect()
    }

    fn next_released(&self) -> Option<(DateTime, PersonId)> {
        let question = self.question;
        let until = question.at.saturating_add(AHEAD_DAYS.days());
        question
            .roster
            .duties()
            .skip_while(|duty| duty.from <= question.at)
            .take_while(|duty| duty.from <= until)
            .find(|duty| {
                !is_absent(question, &duty.person, duty.from.date())
                    && self.standing.get(&duty.person).is_some_and(|standing| standing.level.may_draw_alone())
            })
            .map(|duty| (duty.from, duty.person.clone()))
    }
}

fn is_absent(question: &NextDrawQuestion<'_>, person: &PersonId, on: Date) -> bool {
    question.absences.iter().any(|one| one.person == *person && (one.from..=one.to).contains(&on))
}
