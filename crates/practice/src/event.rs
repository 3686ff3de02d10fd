use std::fmt;

use breakdown::{Breakdown, ItemId, JobCode, Version};
use jiff::civil::{Date, DateTime};
use teachback::TeachBack;

use crate::rule::ReleaseRule;

use crate::circumstances::Circumstances;

/// Staff identifier of a person, as the unit uses it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PersonId(pub String);

impl fmt::Display for PersonId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Identifier of an event, as the record book gives it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EventId(pub String);

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a person is in the unit. A preceptor or trainer is also a nurse who draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Nurse who draws or learns to draw.
    Nurse,
    /// Experienced nurse who watches and helps a learner on shift.
    Preceptor,
    /// Unit-based trainer.
    Trainer,
}

/// A person of the unit. `Debug` does not print the name.
#[derive(Clone, PartialEq, Eq)]
pub struct Person {
    /// Staff identifier.
    pub id: PersonId,
    /// Name as colleagues say it.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Unit they work on.
    pub unit: String,
    /// First day on the unit.
    pub started: Date,
}

impl fmt::Debug for Person {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Person").field("id", &self.id).field("role", &self.role).finish_non_exhaustive()
    }
}

/// How an item was done on an observed draw. "Not seen" is not "done".
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DrawMark {
    /// Done without help.
    Done,
    /// Done after a prompt.
    AfterPrompt,
    /// Not done, or done wrong.
    NotDone,
    /// Did not apply to this draw.
    NotApplicable,
    /// The watcher did not see it.
    NotSeen,
}

/// One item of an observed draw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawItem {
    /// Step or key point.
    pub item: ItemId,
    /// How it was done.
    pub mark: DrawMark,
}

/// Where a draw was watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Setting {
    /// On a real patient.
    RealPatient,
    /// On a training arm.
    Simulated,
}

/// A draw watched by a preceptor or trainer and marked against the breakdown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ObservedDraw {
    /// Job.
    pub job: JobCode,
    /// Version of the breakdown it was marked against.
    pub version: Version,
    /// Whose hands drew.
    pub drawn_by: PersonId,
    /// Who watched.
    pub watched_by: PersonId,
    /// Real patient or training arm.
    pub setting: Setting,
    /// Laboratory's specimen number, the best link to the result.
    pub specimen: Option<String>,
    /// Attempts needed.
    pub attempts: u8,
    /// True when the watcher took over: the draw counts as observed only, never towards release.
    pub taken_over: bool,
    /// Items in the breakdown's order.
    pub items: Vec<DrawItem>,
    /// Note about the draw; never about a patient.
    pub note: Option<String>,
    /// What else was seen; no rule judges by it.
    pub circumstances: Circumstances,
}

/// The trainer's own look at a draw: the same marks, but it is the calibration sample and part of the release rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpotCheck(pub ObservedDraw);

/// On whom a released person may draw alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scope {
    /// The patients assigned to them.
    OwnPatients,
    /// Every patient of the unit.
    AllPatients,
    /// Every patient, and may watch learners as a preceptor.
    MayPrecept,
}

/// The trainer's signed decision to raise a standing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Release {
    /// Who is released.
    pub person: PersonId,
    /// On which job.
    pub job: JobCode,
    /// Version they were released on.
    pub version: Version,
    /// How far.
    pub scope: Scope,
    /// Why the trainer decided so; required when the release rule was not met.
    pub reason: Option<String>,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum EventKind {
    /// A person joined the unit.
    PersonAdded(Person),
    /// A breakdown version came into force.
    BreakdownPublished(Box<Breakdown>),
    /// A job was put on a person's timetable.
    Planned { person: PersonId, job: JobCode, by: Date },
    /// The trainer demonstrated the job.
    Demonstrated { person: PersonId, job: JobCode, version: Version },
    /// One pass of a teach-back was heard.
    TeachBackHeard { person: PersonId, teachback: TeachBack },
    /// A draw was watched.
    DrawObserved(ObservedDraw),
    /// The trainer checked a draw.
    SpotChecked(SpotCheck),
    /// A standing was raised.
    Released(Release),
    /// A standing was taken back, without blame.
    Withdrawn { person: PersonId, job: JobCode, reason: String },
    /// The trainer looked at the evidence and decided not to release yet. It moves no standing.
    NotYet { person: PersonId, job: JobCode, reason: String },
    /// A person said how sure they are, before anybody told them how they did: of their next ten draws, on how many
    /// they would miss no safety point.
    ConfidenceSaid { person: PersonId, job: JobCode, clean_of_ten: u8 },
    /// A release rule came into force: from then on it advises. Who was released before keeps what they have.
    RulePublished { rule: Box<ReleaseRule>, why: String },
    /// A refresher was done, and why or how where it was written down.
    RefresherDone { person: PersonId, job: JobCode, version: Version, reason: Option<String> },
    /// A person left the unit or went on leave. Being added again brings them back.
    PersonLeft { person: PersonId },
    /// Only as a correction: the event it names was entered in error and did not happen.
    EnteredInError,
}

impl EventKind {
    /// The one person an event is about; none for what is about the unit, or about another entry.
    pub fn person(&self) -> Option<&PersonId> {
        match self {
            EventKind::PersonAdded(person) => Some(&person.id),
            EventKind::Planned { person, .. }
            | EventKind::Demonstrated { person, .. }
            | EventKind::TeachBackHeard { person, .. }
            | EventKind::Withdrawn { person, .. }
            | EventKind::NotYet { person, .. }
            | EventKind::ConfidenceSaid { person, .. }
            | EventKind::RefresherDone { person, .. }
            | EventKind::PersonLeft { person } => Some(person),
            EventKind::DrawObserved(draw) => Some(&draw.drawn_by),
            EventKind::SpotChecked(check) => Some(&check.0.drawn_by),
            EventKind::Released(release) => Some(&release.person),
            EventKind::BreakdownPublished(_)
            | EventKind::RulePublished { .. }
            | EventKind::EnteredInError => None,
        }
    }
}

/// Something that happened, and on whose word.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Identifier of the entry it came from.
    pub id: EventId,
    /// When it happened, unit's local time.
    pub happened: DateTime,
    /// Who wrote it down.
    pub by: PersonId,
    /// What happened.
    pub kind: EventKind,
    /// The event this one replaces, when it is a correction.
    pub corrects: Option<EventId>,
    /// Why it was corrected.
    pub correction_reason: Option<String>,
}

/// A draw the laboratory received and says this person made; nobody need have watched it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaboratoryDraw {
    /// Who drew, as the laboratory recorded it. A claim, not a fact.
    pub person: PersonId,
    /// Which job it was, where the route is known; `None` counts as practice in every job.
    pub job: Option<JobCode>,
    /// Day of the draw.
    pub on: Date,
}

/// Everything that happened, in the order it was recorded. Corrected events stay in it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct History {
    /// Events in the order they were recorded.
    pub events: Vec<Event>,
    /// Draws the laboratory attributes to people; `None` when its files name no collector, so that nobody's
    /// standing is said to have lapsed for want of draws that nobody could have seen.
    pub laboratory_draws: Option<Vec<LaboratoryDraw>>,
}
