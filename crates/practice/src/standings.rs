//! Standing worked out from what happened.

use std::collections::BTreeSet;

use breakdown::JobCode;
use jiff::civil::Date;

use crate::effective::{StandingEvent, corrected_events, standing_events};
use crate::event::{Event, EventKind, History, PersonId, Scope, SpotCheck};
use crate::file::{Change, Decision, DrawOnFile, File, Files, Leave, ids, is_same_draw};
use crate::follow_up::{Check, days_after, next_check};
use crate::judge::{Judgement, Question, days_between};
use crate::rule::ReleaseRule;
use crate::rules::{Rules, end_of};
use crate::sentence::{scope, sentence};
use crate::standing::{Corrected, Due, Evidence, EvidenceKind, Level, Standing};
use crate::versions::Versions;
use crate::words::day_in_words;

/// What everybody may do in every job on a day, worked out from what had happened by the end of that day.
///
/// One standing per person and job with a published breakdown, and per job that anything is known about, ordered by
/// person and job. The rule advises: only a release that a trainer signed raises a standing. A standing lapses or is
/// to be updated by itself, because caution needs no signature.
///
/// A standing is judged with the breakdown versions published by that day. A lapse is concluded only where the
/// laboratory's files name collectors, and only up to the last draw they name: what no file has told yet is not held
/// against anyone. A lapse is the absence of a draw, so a draw ends it. Of somebody back from leave it is known that they
/// did not draw here: after a leave longer than the rule allows without a draw their standing has lapsed until a watched
/// draw, a refresher or a new release, whatever the laboratory's files name.
///
/// `rule` is that of the unit's file. Where the book has a published rule, that one advises from its day on; what a
/// release rests on afterwards (when it lapses, when checks are due) stays as the rule had it that was in force when the
/// release was signed.
pub fn standings(history: &History, today: Date, rule: &ReleaseRule) -> Vec<Standing> {
    let events: Vec<_> =
        standing_events(history).into_iter().filter(|known| known.event.happened.date() <= today).collect();
    let versions = Versions::read(&events);
    let files = Files::read(&events, &versions, today);
    let rules = Rules::read(&events, rule);
    let corrected = corrected_events(history);
    let jobs: BTreeSet<&JobCode> = versions.jobs().collect();
    let mut wanted: BTreeSet<(&PersonId, &JobCode)> =
        files.files.keys().map(|(person, job)| (person, job)).collect();
    for person in &files.mentioned {
        wanted.extend(jobs.iter().map(|job| (person, *job)));
    }
    let nothing = File::default();
    wanted
        .into_iter()
        .map(|(person, job)| {
            let file = files.get(person, job).unwrap_or(&nothing);
            let question = Question { rule: rules.at(end_of(today)), versions: &versions, job, today };
            Work { person, file, question, files: &files, corrected: &corrected, history, rules: &rules }
                .standing()
        })
        .collect()
}

/// A level with the day and the word it rests on.
struct Reached {
    level: Level,
    since: Option<Date>,
    by: Option<PersonId>,
}

impl Reached {
    fn new(level: Level, since: Date, by: &PersonId) -> Reached {
        Reached { level, since: Some(since), by: Some(by.clone()) }
    }
}

/// One person and job being worked out.
struct Work<'a> {
    person: &'a PersonId,
    file: &'a File<'a>,
    question: Question<'a>,
    files: &'a Files<'a>,
    corrected: &'a [StandingEvent<'a>],
    history: &'a History,
    rules: &'a Rules<'a>,
}

impl Work<'_> {
    fn standing(&self) -> Standing {
        let Judgement { next_scope, mut missing, draws_counted, clean_in_a_row, look_done, points } =
            self.question.judge(self.file);
        let Reached { level, since, by: on_word_of } = self.reached();
        match level {
            Level::ToBeUpdated | Level::Lapsed => missing = vec![self.to_restore(level)],
            Level::Away => missing.clear(),
            _ => {}
        }
        let restoring = matches!(level, Level::ToBeUpdated | Level::Lapsed | Level::Away);
        let held = self.file.held();
        Standing {
            person: self.person.clone(),
            job: self.question.job.clone(),
            level,
            scope: held.map(|(scope, _)| scope),
            version: held.map(|(_, version)| version),
            since,
            on_word_of,
            needed_by: self.file.planned.map(|(by, _)| by),
            evidence: self.file.events.iter().map(|(event, against)| self.evidence(event, against)).collect(),
            next_scope: next_scope.filter(|_| !restoring),
            rule_met: missing.is_empty() && next_scope.is_some() && !restoring,
            missing,
            draws_counted,
            clean_in_a_row,
            look_done,
            points,
            next_check: self.next_check(level),
            corrected: self.corrections(),
        }
    }

    fn reached(&self) -> Reached {
        if let Some((since, by)) = self.files.away.get(self.person) {
            return Reached::new(Level::Away, *since, by);
        }
        if let Some((scope, _)) = self.file.held() {
            let lapsed =
                || self.back_from_leave().map(|leave| self.lapsed_by(leave)).or_else(|| self.lapsed());
            return self.outdated().or_else(lapsed).unwrap_or_else(|| self.released(scope));
        }
        if let Some(withdrawn) = self.last_decision(|change| change == Change::Withdrawn) {
            return Reached::new(Level::Withdrawn, withdrawn.on, withdrawn.by);
        }
        if let Some(first) = self.first_instruction() {
            return Reached::new(Level::Learning, first.happened.date(), &first.by);
        }
        match self.file.planned {
            Some((_, event)) => Reached::new(Level::Planned, event.happened.date(), &event.by),
            None => Reached { level: Level::NotPlanned, since: None, by: None },
        }
    }

    fn released(&self, scope: Scope) -> Reached {
        let level = match scope {
            Scope::OwnPatients => Level::OwnPatients,
            Scope::AllPatients => Level::AllPatients,
            Scope::MayPrecept => Level::MayPrecept,
        };
        match self.last_release() {
            Some(release) => Reached::new(level, release.on, release.by),
            None => Reached { level, since: None, by: None },
        }
    }

    fn outdated(&self) -> Option<Reached> {
        let (_, version) = self.file.held()?;
        let oldest = self.question.versions.oldest_current(self.question.job, self.question.today)?;
        (version < oldest.breakdown.version).then(|| Reached::new(Level::ToBeUpdated, oldest.from, oldest.by))
    }

    /// The rule that was in force when the release was signed that holds now.
    fn rule_of_release(&self) -> &ReleaseRule {
        self.last_release().map_or(self.question.rule, |release| self.rules.at(release.happened))
    }

    /// The leave they are back from, when it was longer than the rule allows without a draw and nobody has watched a draw,
    /// refreshed or released them since.
    fn back_from_leave(&self) -> Option<Leave> {
        let days = i64::from(self.rule_of_release().lapse_after_days?);
        let leave = self.files.leaves.get(self.person)?.last().copied()?;
        let watched =
            self.file.draws.iter().filter(|draw| draw.does_not_count.is_none()).map(DrawOnFile::date);
        let decided =
            self.file.decisions.iter().filter(|one| one.change != Change::Withdrawn).map(|one| one.on);
        let seen_since = watched.chain(decided).any(|on| on >= leave.back);
        (days_between(leave.from, leave.back) > days && !seen_since).then_some(leave)
    }

    fn lapsed_by(&self, leave: Leave) -> Reached {
        Reached { level: Level::Lapsed, since: Some(leave.back), by: None }
    }

    fn lapsed(&self) -> Option<Reached> {
        let days = i64::from(self.rule_of_release().lapse_after_days?);
        let last = self.last_practice()?;
        let lapsed_on = days_after(last, days + 1);
        (days_between(last, self.told_until()?) > days).then_some(Reached {
            level: Level::Lapsed,
            since: Some(lapsed_on),
            by: None,
        })
    }

    /// The last day of which the laboratory's files tell who drew.
    fn told_until(&self) -> Option<Date> {
        let draws = self.history.laboratory_draws.as_ref()?;
        draws.iter().map(|draw| draw.on).filter(|on| *on <= self.question.today).max()
    }

    /// The last day on which a draw, a release or a refresher is known; `None` where the laboratory's files name no
    /// collector, so that unwatched draws cannot be known.
    fn last_practice(&self) -> Option<Date> {
        let from_laboratory = self
            .history
            .laboratory_draws
            .as_ref()?
            .iter()
            .filter(|draw| draw.person == *self.person)
            .filter(|draw| draw.job.as_ref().is_none_or(|job| job == self.question.job))
            .map(|draw| draw.on)
            .filter(|on| *on <= self.question.today);
        let watched = self.file.draws.iter().filter(|draw| draw.is_practice).map(|draw| draw.date());
        let decided = self
            .file
            .decisions
            .iter()
            .filter(|decision| decision.change != Change::Withdrawn)
            .map(|decision| decision.on);
        from_laboratory.chain(watched).chain(decided).max()
    }

    fn to_restore(&self, level: Level) -> String {
        let today = self.question.today;
        if let (Level::Lapsed, Some(leave)) = (level, self.back_from_leave()) {
            return format!(
                "a watched draw or a refresher: back on {} after {} days away, and the rule allows {} without a draw",
                day_in_words(leave.back),
                days_between(leave.from, leave.back),
                self.rule_of_release().lapse_after_days.unwrap_or_default(),
            );
        }
        match (level, self.question.versions.oldest_current(self.question.job, today), self.last_practice()) {
            (Level::ToBeUpdated, Some(oldest), _) => {
                let what = oldest.breakdown.change.as_ref().map_or("", |change| change.what.as_str());
                let what = what.trim_end_matches('.');
                format!("a refresher on version {} or newer (major change: {what})", oldest.breakdown.version)
            }
            (_, _, Some(last)) => format!(
                "a watched draw or a refresher: no draw is known since {}, {} days ago, and the rule allows {}",
                day_in_words(last),
                days_between(last, today),
                self.rule_of_release().lapse_after_days.unwrap_or_default(),
            ),
            _ => "a refresher".to_owned(),
        }
    }

    fn next_check(&self, level: Level) -> Option<Due> {
        let rule = self.rule_of_release();
        match level {
            Level::ToBeUpdated => {
                let oldest = self.question.versions.oldest_current(self.question.job, self.question.today)?;
                let within = i64::from(self.question.rule.update_within_days);
                let on = days_after(oldest.from, within);
                Some(Due { on, why: format!("refresher on version {} due", oldest.breakdown.version) })
            }
            Level::Lapsed => {
                if let Some(leave) = self.back_from_leave() {
                    let why = format!(
                        "back from leave on {}: a watched draw or refresher is due",
                        day_in_words(leave.back)
                    );
                    return Some(Due { on: leave.back, why });
                }
                let last = self.last_practice()?;
                let on = days_after(last, i64::from(rule.lapse_after_days?) + 1);
                Some(Due {
                    on,
                    why: format!(
                        "no draw known since {}: a watched draw or refresher is due",
                        day_in_words(last)
                    ),
                })
            }
            Level::OwnPatients | Level::AllPatients | Level::MayPrecept => {
                let (scope, _) = self.file.held()?;
                let checks: Vec<_> = self
                    .file
                    .draws
                    .iter()
                    .filter(|draw| draw.does_not_count.is_none())
                    .map(|draw| Check {
                        on: draw.date(),
                        clean: self.question.missed_safety(draw).is_empty(),
                    })
                    .collect();
                Some(next_check(&rule.follow_up, scope, self.last_release()?.on, &checks))
            }
            _ => None,
        }
    }

    fn last_release(&self) -> Option<&Decision<'_>> {
        self.last_decision(|change| matches!(change, Change::Released(..)))
    }

    fn last_decision(&self, wanted: impl Fn(Change) -> bool) -> Option<&Decision<'_>> {
        self.file.decisions.iter().rev().find(|decision| wanted(decision.change))
    }

    fn first_instruction(&self) -> Option<&Event> {
        self.file.events.iter().map(|(event, _)| *event).find(|event| {
            matches!(
                event.kind,
                EventKind::Demonstrated { .. }
                    | EventKind::TeachBackHeard { .. }
                    | EventKind::DrawObserved(_)
                    | EventKind::SpotChecked(_)
            )
        })
    }

    fn sentence(&self, kind: &EventKind) -> String {
        sentence(kind, self.question.versions, &self.files.names)
    }

    fn evidence(&self, event: &Event, against: &Option<String>) -> Evidence {
        let kind = match event.kind {
            EventKind::TeachBackHeard { .. } => EvidenceKind::Said,
            EventKind::DrawObserved(_) | EventKind::SpotChecked(_) => EvidenceKind::Done,
            _ => EvidenceKind::Decided,
        };
        Evidence {
            event: event.id.clone(),
            date: event.happened.date(),
            kind,
            by: event.by.clone(),
            sentence: self.sentence(&event.kind),
            does_not_count: against.clone().or_else(|| self.does_not_count(event)),
        }
    }

    /// Why an entry that was sound when it was written does not count towards release today.
    fn does_not_count(&self, event: &Event) -> Option<String> {
        match &event.kind {
            EventKind::TeachBackHeard { .. } => {
                let pass = self.file.passes.iter().find(|pass| pass.entries.contains(&&event.id))?;
                self.question.pass_does_not_count(self.file, pass)
            }
            EventKind::DrawObserved(observed) | EventKind::SpotChecked(SpotCheck(observed)) => {
                let same = |draw: &&DrawOnFile| is_same_draw(draw, observed, event.happened);
                self.question.draw_does_not_count(self.file, self.file.draws.iter().find(same)?)
            }
            _ => None,
        }
    }

    fn corrections(&self) -> Vec<Corrected> {
        let own: BTreeSet<_> = ids(self.file).collect();
        self.corrected
            .iter()
            .filter(|chain| {
                own.contains(&chain.event.id)
                    || chain.replaced.iter().any(|event| concerns(event, self.person, self.question.job))
            })
            .map(|chain| Corrected {
                original: chain.first.id.clone(),
                original_sentence: self.sentence(&chain.first.kind),
                correction: chain.event.id.clone(),
                correction_sentence: self.sentence(&chain.event.kind),
                by: chain.event.by.clone(),
                reason: chain.event.correction_reason.clone().unwrap_or_default(),
            })
            .collect()
    }
}

/// Whether an event is about this person in this job.
fn concerns(event: &Event, person: &PersonId, job: &JobCode) -> bool {
    match &event.kind {
        EventKind::Planned { person: who, job: what, .. }
        | EventKind::Demonstrated { person: who, job: what, .. }
        | EventKind::Withdrawn { person: who, job: what, .. }
        | EventKind::NotYet { person: who, job: what, .. }
        | EventKind::ConfidenceSaid { person: who, job: what, .. }
        | EventKind::RefresherDone { person: who, job: what, .. } => who == person && what == job,
        EventKind::TeachBackHeard { person: who, teachback } => who == person && teachback.job == *job,
        EventKind::DrawObserved(draw) => draw.drawn_by == *person && draw.job == *job,
        EventKind::SpotChecked(check) => check.0.drawn_by == *person && check.0.job == *job,
        EventKind::Released(release) => release.person == *person && release.job == *job,
        EventKind::PersonAdded(_)
        | EventKind::BreakdownPublished(_)
        | EventKind::RulePublished { .. }
        | EventKind::PersonLeft { .. }
        | EventKind::EnteredInError => false,
    }
}

/// A scope in words after "released", for other rooms.
pub fn scope_words(of: Scope) -> &'static str {
    scope(of)
}
