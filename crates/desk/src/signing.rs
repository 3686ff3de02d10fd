//! At signing: the evidence for one person and job, what it says of their fault rate, what the rule asks, and what they
//! thought of themselves. For that person and their trainer only; the trainer decides.

use breakdown::{JobCode, Version};
use jiff::civil::{Date, DateTime};
use practice::{
    Confidence, EventKind, EvidenceKind, FaultWatchDesign, Level, PersonId, Scope, Standing,
    confidence_beside, end_of, fault_rate, rule_in_force,
};
use stats::{ConfidenceLevel, Probability, Proportion, StatsError};

use crate::facts::{Desk, valid};
use crate::rules::{RuleShown, shown};

/// One entry that a decision rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SigningEvidence {
    /// The entry.
    pub entry: String,
    /// Day.
    pub on: Date,
    /// Said, done or decided.
    pub kind: EvidenceKind,
    /// On whose word.
    pub by: String,
    /// What.
    pub what: String,
    /// Why it does not count; `None` when it counts, or counting does not apply.
    pub does_not_count: Option<String>,
}

/// What the draws that count say of a person's fault rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultFacts {
    /// Draws with a missed safety point.
    pub faults: u64,
    /// Draws that count.
    pub draws: u64,
    /// Mean of what is believed after them.
    pub mean: f64,
    /// Where the rate lies with a chance of 80 %.
    pub in_80: (f64, f64),
    /// Where the rate lies with a chance of 95 %.
    pub in_95: (f64, f64),
    /// The rate at which the trainer wants to know.
    pub target: f64,
    /// Chance that the rate is above it.
    pub above_target: f64,
}

/// What a person said of themselves, beside what was observed.
#[derive(Debug, Clone, PartialEq)]
pub struct ConfidenceFacts {
    /// Of their next ten draws, on how many they would miss no safety point.
    pub clean_of_ten: u8,
    /// When they said it.
    pub when: DateTime,
    /// Clean draws and draws observed; `None` before the first.
    pub observed: Option<(u64, u64)>,
    /// Stated share less observed share, with its interval; `None` before the first draw.
    pub difference: Option<(f64, f64, f64)>,
    /// What can be said, in a sentence.
    pub sentence: String,
}

/// The signing page of one person and job.
#[derive(Debug, Clone, PartialEq)]
pub struct SigningForm {
    /// Day asked about.
    pub today: Date,
    /// Who.
    pub person: PersonId,
    /// Their name.
    pub name: String,
    /// Which job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// What they may do now.
    pub level: Level,
    /// Since when.
    pub since: Option<Date>,
    /// On whose word.
    pub on_word_of: Option<String>,
    /// Version in force, on which a release would be; `None` without a breakdown in force.
    pub version: Option<Version>,
    /// Everything on record for this job, oldest first.
    pub evidence: Vec<SigningEvidence>,
    /// What the draws that count say; `None` without any.
    pub fault: Option<FaultFacts>,
    /// The rule in force.
    pub rule: RuleShown,
    /// The rule under which the release they hold was signed; `None` without one.
    pub released_under: Option<String>,
    /// Whether the rule is met for the next step.
    pub rule_met: bool,
    /// The step the rule is asked about.
    pub next_scope: Option<Scope>,
    /// What it still asks for.
    pub missing: Vec<String>,
    /// Next check or refresher.
    pub next_check: Option<(Date, String)>,
    /// Days without a draw after which the standing lapses; `None` for never.
    pub lapse_after_days: Option<u16>,
    /// Steps a trainer may release to now.
    pub may_release_to: Vec<Scope>,
    /// Whether there is a standing to withdraw.
    pub may_withdraw: bool,
    /// Whether a refresher would bring the standing back.
    pub may_refresh: bool,
    /// What they said of themselves, last time; `None` when nobody asked.
    pub confidence: Option<ConfidenceFacts>,
    /// Trainers, who may sign; the person is not among them.
    pub trainers: Vec<(PersonId, String)>,
}

impl Desk {
    /// What a trainer has before them when they decide; `None` for a person or job the book does not know.
    pub fn signing(&self, person: &PersonId, job: &JobCode) -> Result<Option<SigningForm>, StatsError> {
        let standing = self.standings_of(person).find(|standing| standing.job == *job);
        let (Some(known), Some(standing)) = (self.people.get(person), standing) else { return Ok(None) };
        let holds = matches!(
            standing.level,
            Level::OwnPatients | Level::AllPatients | Level::MayPrecept | Level::Lapsed | Level::ToBeUpdated
        );
        let signed = self.last_release(person, job).filter(|_| standing.scope.is_some());
        let rule_of = signed
            .map(|when| rule_in_force(&self.material.history, when, &self.material.release_rule))
            .unwrap_or_else(|| self.rule_in_force().clone());
        Ok(Some(SigningForm {
            today: self.today(),
            person: person.clone(),
            name: known.name.clone(),
            job: job.clone(),
            job_name: self.job_name(standing),
            level: standing.level,
            since: standing.since,
            on_word_of: standing.on_word_of.as_ref().map(|id| self.name_of(id)),
            version: self.in_force(job).map(|breakdown| breakdown.version),
            evidence: standing
                .evidence
                .iter()
                .map(|one| SigningEvidence {
                    entry: one.event.to_string(),
                    on: one.date,
                    kind: one.kind,
                    by: self.name_of(&one.by),
                    what: one.sentence.clone(),
                    does_not_count: one.does_not_count.clone(),
                })
                .collect(),
            fault: self.fault_facts(person, job)?,
            rule: shown(self.rule_in_force(), Probability::new(0.0)?)?,
            released_under: signed.map(|_| format!("{}, version {}", rule_of.name, rule_of.version)),
            rule_met: standing.rule_met,
            next_scope: standing.next_scope,
            missing: standing.missing.clone(),
            next_check: standing.next_check.as_ref().map(|due| (due.on, due.why.clone())),
            lapse_after_days: rule_of.lapse_after_days,
            may_release_to: may_release_to(standing),
            may_withdraw: holds,
            may_refresh: matches!(standing.level, Level::Lapsed | Level::ToBeUpdated),
            confidence: self.confidence(person, job)?,
            trainers: self.trainers().into_iter().filter(|(id, _)| id != person).collect(),
        }))
    }

    /// Draws that count and the clean ones among them; all draws, released or not.
    fn counts(&self, person: &PersonId, job: &JobCode) -> Option<Proportion> {
        let draws = self.counted.get(&(person.clone(), job.clone()))?;
        let clean = draws.iter().filter(|draw| draw.clean).count() as u64;
        Proportion::new(clean, draws.len() as u64).ok()
    }

    fn fault_facts(&self, person: &PersonId, job: &JobCode) -> Result<Option<FaultFacts>, StatsError> {
        let Some(clean) = self.counts(person, job) else { return Ok(None) };
        let seen = Proportion::new(clean.trials() - clean.events(), clean.trials())?;
        let target = FaultWatchDesign::usual()?.not_acceptable;
        let wide = fault_rate(seen, target, ConfidenceLevel::default())?;
        let narrow = fault_rate(seen, target, ConfidenceLevel::new(0.8)?)?;
        Ok(Some(FaultFacts {
            faults: seen.events(),
            draws: seen.trials(),
            mean: wide.mean,
            in_80: (narrow.interval.lower(), narrow.interval.upper()),
            in_95: (wide.interval.lower(), wide.interval.upper()),
            target: target.get(),
            above_target: wide.above_target.get(),
        }))
    }

    /// What a person last said of themselves in a job, beside the draws that count.
    pub fn confidence(
        &self,
        person: &PersonId,
        job: &JobCode,
    ) -> Result<Option<ConfidenceFacts>, StatsError> {
        let said = valid(&self.material.history)
            .filter_map(|event| match &event.kind {
                EventKind::ConfidenceSaid { person: who, job: what, clean_of_ten }
                    if who == person && what == job && event.happened <= end_of(self.today()) =>
                {
                    Some((event.happened, *clean_of_ten))
                }
                _ => None,
            })
            .last();
        let Some((when, clean_of_ten)) = said else { return Ok(None) };
        let stated = Probability::new(f64::from(clean_of_ten.min(10)) / 10.0)?;
        let Some(observed) = self.counts(person, job) else {
            return Ok(Some(ConfidenceFacts {
                clean_of_ten,
                when,
                observed: None,
                difference: None,
                sentence: "No draw that counts has been watched yet, so there is nothing to hold it against."
                    .to_owned(),
            }));
        };
        let beside = confidence_beside(stated, observed, ConfidenceLevel::default());
        let sentence = match beside.says {
            Confidence::Over => "They expect more clean draws than the watched ones allow.",
            Confidence::Under => "They expect fewer clean draws than the watched ones show.",
            Confidence::CannotTell => {
                "The watched draws allow what they expect: nothing can be said against it."
            }
        };
        Ok(Some(ConfidenceFacts {
            clean_of_ten,
            when,
            observed: Some((observed.events(), observed.trials())),
            difference: Some((beside.difference, beside.interval.0, beside.interval.1)),
            sentence: sentence.to_owned(),
        }))
    }
}

/// Steps a trainer may sign now: the next one, also against the rule and with a reason; and precepting once somebody draws
/// from all patients.
fn may_release_to(standing: &Standing) -> Vec<Scope> {
    match standing.level {
        Level::Planned | Level::Learning | Level::Withdrawn | Level::NotPlanned => {
            vec![standing.next_scope.unwrap_or(Scope::OwnPatients)]
        }
        Level::OwnPatients => vec![Scope::AllPatients],
        Level::AllPatients => vec![Scope::MayPrecept],
        Level::MayPrecept | Level::ToBeUpdated | Level::Lapsed | Level::Away => Vec::new(),
    }
}
