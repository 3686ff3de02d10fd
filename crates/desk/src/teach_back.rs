use breakdown::{Breakdown, ItemId, JobCode, KeyPointKind, Version};
use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime};
use practice::{EventKind, HeardPass, PersonId, Role, day_in_words, heard_passes};
use teachback::{
    CountOf, Mark, Outcome, OutcomeError, PassRule, Practise, Series, TeachBack, Why, as_counted, outcome,
    series,
};

use crate::beside::{HeardTogether, ProposalsBeside, proposals_beside};
use crate::facts::Desk;

/// How many days ahead the roster is searched for a learner's next shift.
const DAYS_AHEAD: i64 = 28;
/// How many days back a second listener finds the pass they heard too.
const DAYS_BACK: i64 = 7;

/// What somebody who is about to hear a teach-back needs.
#[derive(Debug, Clone, PartialEq)]
pub struct TeachBackForm {
    /// Who says the job back.
    pub person: PersonId,
    /// Their name.
    pub name: String,
    /// The version the teach-back is heard against.
    pub breakdown: Breakdown,
    /// True when another version is in force today.
    pub replaced: bool,
    /// Who may hear it: everybody on the unit but the learner, trainers and preceptors first.
    pub listeners: Vec<(PersonId, String, Role)>,
    /// When the last pass of this version was, and what was open in it.
    pub last: Option<(DateTime, Vec<ItemId>)>,
    /// Entries of this version in the last days that somebody else may have heard too, the latest first: the entry, when
    /// it began, who heard it.
    pub may_be_same: Vec<(String, DateTime, String)>,
}

/// One item to practise, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PractisePoint {
    /// Which.
    pub item: ItemId,
    /// What it says; for a reason, of which key point.
    pub text: String,
    /// True for a safety point, its reason included.
    pub safety: bool,
    /// Why: "missed", "said out of order", "not judged".
    pub why: String,
}

/// What one pass of a teach-back showed, and what comes next.
#[derive(Debug, Clone, PartialEq)]
pub struct TeachBackResult {
    /// Who said the job back.
    pub person: PersonId,
    /// Their name.
    pub name: String,
    /// Job.
    pub job: JobCode,
    /// Name of the job.
    pub job_name: String,
    /// Version it was heard against.
    pub version: Version,
    /// When it began, the unit's local time.
    pub when: DateTime,
    /// Name of the one who heard it.
    pub heard_by: String,
    /// Seconds from the start to the last item said, where they were kept.
    pub lasted_s: Option<f64>,
    /// True when the pass is clean by the unit's rule.
    pub clean: bool,
    /// Why it is not clean; empty when it is.
    pub shortfalls: Vec<String>,
    /// How many of how many, by what is counted: every item of the breakdown, so no interval.
    pub counts: Vec<(&'static str, CountOf)>,
    /// Items not said unprompted, by mark in falling concern.
    pub marked: Vec<(Mark, Vec<PractisePoint>)>,
    /// Binding orders that were turned round: what was said before what must come first.
    pub turned_round: Vec<(PractisePoint, PractisePoint)>,
    /// What to practise, safety first.
    pub practise: Vec<PractisePoint>,
    /// The day from which the next pass may be heard; `None` when no further pass is asked for.
    pub next: Option<Date>,
    /// What comes next, in a sentence.
    pub next_sentence: String,
    /// Note about the pass.
    pub note: Option<String>,
    /// What the program proposed, where the pass was marked on a transcript.
    pub proposals: Option<ProposalsBeside>,
    /// Others who heard the same pass; the counts are then of the worse mark of each item.
    pub together: Option<HeardTogether>,
    /// The reason why another entry stands in its place, where it was corrected.
    pub corrected: Option<String>,
}

impl Desk {
    /// What is needed to hear a person's teach-back of a job, in the version in force or in a named one. `None` when
    /// the book does not know the person, the job or the version.
    pub fn teach_back_form(
        &self,
        person: &PersonId,
        job: &JobCode,
        version: Option<Version>,
    ) -> Option<TeachBackForm> {
        let learner = self.people.get(person)?;
        let in_force = self.in_force(job)?;
        let breakdown = match version {
            Some(version) => self.version_of(job, version)?,
            None => in_force,
        };
        let listeners = self.on_the_unit().into_iter().filter(|(id, ..)| id != person).collect();
        let passes = self.passes(person, breakdown);
        let last = passes.last().and_then(|pass| {
            let outcome = outcome(breakdown, &pass.counted, &self.pass_rule()).ok()?;
            Some((pass.happened(), outcome.practise.iter().map(|point| point.item).collect()))
        });
        let since = self.today().checked_sub(DAYS_BACK.days()).unwrap_or(self.today());
        let may_be_same = passes
            .iter()
            .rev()
            .filter(|pass| pass.happened().date() >= since && pass.does_not_count().is_none())
            .map(|pass| {
                let first = pass.listened[0].event;
                (first.id.0.clone(), pass.happened(), self.name_of(&first.by))
            })
            .collect();
        Some(TeachBackForm {
            person: person.clone(),
            name: learner.name.clone(),
            replaced: in_force.version != breakdown.version,
            breakdown: breakdown.clone(),
            listeners,
            last,
            may_be_same,
        })
    }

    /// What a pass shows, whether or not it is in the book already, with what comes next. `None` when the book does not
    /// know the version it was heard against. `entry` names the pass where the book has it, so that it is not counted
    /// twice.
    pub fn teach_back_result(
        &self,
        person: &PersonId,
        heard: &TeachBack,
        when: DateTime,
        by: &PersonId,
        entry: Option<&str>,
    ) -> Option<TeachBackResult> {
        let breakdown = self.version_of(&heard.job, heard.version)?;
        let rule = self.pass_rule();
        // Where others heard the same pass, the worse mark of each item counts.
        let known = entry.or(heard.same_pass_as.as_deref()).and_then(|entry| self.pass_of(entry));
        let mut marks: Vec<&TeachBack> =
            known.iter().flat_map(|pass| &pass.listened).map(|each| each.teachback).collect();
        if known.as_ref().is_none_or(|pass| !pass.listened.iter().any(|each| each.teachback == heard)) {
            marks.push(heard);
        }
        let counted = as_counted(&marks)?;
        let began = known.as_ref().map_or(when, HeardPass::happened);
        let pass = outcome(breakdown, &counted, &rule).ok()?;
        let so_far = self.series_with(person, breakdown, &counted, began, known.as_ref()).ok()?;
        let (next, next_sentence) = self.what_next(person, &pass, &so_far, &rule, when.date(), &heard.job);
        let point = |item: ItemId, why: String| practise_point(breakdown, item, why);
        let marked = Mark::ALL
            .into_iter()
            .rev()
            .filter(|mark| *mark != Mark::Unprompted && !pass.marked(*mark).is_empty())
            .map(|mark| {
                let mut items = pass.marked(mark).to_vec();
                items.sort_unstable();
                (mark, items.into_iter().map(|item| point(item, mark.words().to_owned())).collect())
            })
            .collect();
        Some(TeachBackResult {
            person: person.clone(),
            name: self.name_of(person),
            job: heard.job.clone(),
            job_name: breakdown.job.clone(),
            version: heard.version,
            when,
            heard_by: self.name_of(by),
            lasted_s: heard.items.iter().filter_map(|item| item.at_s).reduce(f64::max),
            clean: pass.clean,
            shortfalls: pass.shortfalls.iter().map(ToString::to_string).collect(),
            counts: vec![
                ("important steps known", pass.steps_known),
                ("key points known", pass.key_points_known),
                ("key points unprompted", pass.key_points_unprompted),
                ("safety points unprompted", pass.safety_unprompted),
                ("reasons known", pass.reasons_known),
            ],
            marked,
            turned_round: pass
                .order_errors
                .iter()
                .map(|error| (point(error.then, String::new()), point(error.first, String::new())))
                .collect(),
            practise: pass.practise.iter().map(|entry| point(entry.item, why_words(*entry))).collect(),
            next,
            next_sentence,
            note: heard.note.clone(),
            proposals: proposals_beside(breakdown, heard),
            together: known.as_ref().and_then(|pass| self.together(breakdown, pass)),
            corrected: None,
        })
    }

    /// Whom an entry is about, and on whose word it stands.
    pub fn people_of(&self, entry: &str) -> Option<(PersonId, PersonId)> {
        let event = self.material.history.events.iter().find(|event| event.id.0 == entry)?;
        Some((event.kind.person()?.clone(), event.by.clone()))
    }

    /// A teach-back that is in the book, by the identifier of its entry.
    pub fn teach_back(&self, entry: &str) -> Option<TeachBackResult> {
        let event = self.material.history.events.iter().find(|event| event.id.0 == entry)?;
        let EventKind::TeachBackHeard { person, teachback } = &event.kind else { return None };
        let mut result = self.teach_back_result(person, teachback, event.happened, &event.by, Some(entry))?;
        let correction = self
            .material
            .history
            .events
            .iter()
            .rev()
            .find(|other| other.corrects.as_ref() == Some(&event.id));
        result.corrected = correction.map(|correction| {
            correction.correction_reason.clone().unwrap_or_else(|| "no reason given".to_owned())
        });
        Some(result)
    }

    fn version_of(&self, job: &JobCode, version: Version) -> Option<&Breakdown> {
        self.published(job)
            .into_iter()
            .map(|(_, breakdown)| breakdown)
            .find(|breakdown| breakdown.version == version)
    }

    /// The unit's rule for a pass. What the release rule does not say is taken as it comes along.
    fn pass_rule(&self) -> PassRule {
        let Some(rule) = &self.rule.teach_back else { return PassRule::default() };
        let passes = u32::from(rule.clean_passes);
        PassRule::new(rule.least_share_of_key_points, true, passes, rule.on_different_days)
            .unwrap_or_default()
    }

    /// Passes of a person on a version, in the order in which they began.
    fn passes(&self, person: &PersonId, breakdown: &Breakdown) -> Vec<HeardPass<'_>> {
        let mut passes = heard_passes(&self.material.history);
        passes.retain(|pass| {
            pass.person == person
                && pass.counted.job == breakdown.code
                && pass.counted.version == breakdown.version
        });
        passes
    }

    /// The passes up to and including this one.
    fn series_with(
        &self,
        person: &PersonId,
        breakdown: &Breakdown,
        heard: &TeachBack,
        when: DateTime,
        same: Option<&HeardPass<'_>>,
    ) -> Result<Series, OutcomeError> {
        let before: Vec<HeardPass<'_>> = self
            .passes(person, breakdown)
            .into_iter()
            .filter(|pass| same != Some(pass) && pass.happened() <= when && pass.does_not_count().is_none())
            .collect();
        let mut passes: Vec<(Date, &TeachBack)> =
            before.iter().map(|pass| (pass.happened().date(), &*pass.counted)).collect();
        passes.push((when.date(), heard));
        series(breakdown, &passes, &self.pass_rule())
    }

    fn what_next(
        &self,
        person: &PersonId,
        pass: &Outcome,
        so_far: &Series,
        rule: &PassRule,
        on: Date,
        job: &JobCode,
    ) -> (Option<Date>, String) {
        let planned = self.standings_of(person).find(|standing| standing.job == *job);
        let by = planned
            .and_then(|standing| standing.needed_by)
            .filter(|by| *by >= on)
            .map_or(String::new(), |by| format!(" The job is to be learnt by {}.", day_in_words(by)));
        if so_far.complete {
            let next = "The teach-back is complete. Next: draws with someone watching.";
            return (None, format!("{next}{by}"));
        }
        let tomorrow = on.checked_add(1.day()).unwrap_or(on);
        let needs_another_day = rule.last_on_another_day && pass.clean;
        let from = if needs_another_day { tomorrow } else { on };
        let shift = self.next_shift(person, tomorrow);
        let when = match (needs_another_day, shift) {
            (true, Some(shift)) => format!(
                "on another day, from {}; next on shift on {}",
                day_in_words(from),
                day_in_words(shift)
            ),
            (true, None) => format!("on another day, from {}", day_in_words(from)),
            (false, Some(shift)) => {
                format!("once the points below are practised; next on shift on {}", day_in_words(shift))
            }
            (false, None) => "once the points below are practised".to_owned(),
        };
        let next = if needs_another_day { shift.unwrap_or(from) } else { shift.unwrap_or(tomorrow) };
        let missing = so_far.missing.join("; ");
        (Some(next), format!("Hear it again {when}. Still missing: {missing}.{by}"))
    }

    /// The first day from `from` on which the roster has the person at work.
    fn next_shift(&self, person: &PersonId, from: Date) -> Option<Date> {
        let roster = self.material.roster.as_ref()?;
        let to = from.checked_add(DAYS_AHEAD.days()).ok()?;
        roster.shifts_of(person, from, to).into_iter().map(|shift| shift.on).min()
    }
}

pub(crate) fn practise_point(breakdown: &Breakdown, item: ItemId, why: String) -> PractisePoint {
    let point = breakdown.key_point(ItemId { reason: false, ..item });
    let text = match (point, item.reason) {
        (Some(point), true) => format!("Why: {}", point.text),
        (Some(point), false) => point.text.clone(),
        (None, _) => {
            let step = usize::from(item.step).checked_sub(1).and_then(|at| breakdown.steps.get(at));
            step.map_or_else(|| format!("item {item}"), |step| step.name.clone())
        }
    };
    let safety = point.is_some_and(|point| point.kind == KeyPointKind::Safety);
    PractisePoint { item, text, safety, why }
}

fn why_words(entry: Practise) -> String {
    match entry.why {
        Why::Said(mark) => mark.words().to_owned(),
        Why::OutOfOrder => "said out of order".to_owned(),
        Why::NotJudged => "not judged".to_owned(),
    }
}
