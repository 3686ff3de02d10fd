use breakdown::{JobCode, Version};
use jiff::civil::Date;

use crate::event::{EventId, PersonId, Scope};

/// What a person may do in one job now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// The job is not on their timetable.
    NotPlanned,
    /// On their timetable; instruction has not begun.
    Planned,
    /// Learning: draws only with someone watching.
    Learning,
    /// Released to the patients assigned to them.
    OwnPatients,
    /// Released to every patient of the unit.
    AllPatients,
    /// Released to every patient, and may watch learners.
    MayPrecept,
    /// Released on a version that a major change has replaced: a refresher is needed.
    ToBeUpdated,
    /// Released, but no draw is known for longer than the rule allows: a watched draw or a refresher is needed.
    Lapsed,
    /// The standing was taken back, without blame; learning again.
    Withdrawn,
    /// Left the unit or on leave.
    Away,
}

impl Level {
    /// Whether a person at this level may draw without anybody watching.
    pub fn may_draw_alone(self) -> bool {
        matches!(self, Level::OwnPatients | Level::AllPatients | Level::MayPrecept)
    }

    /// Whether a person at this level still needs watched draws before they may draw alone.
    pub fn is_learning(self) -> bool {
        matches!(self, Level::Planned | Level::Learning | Level::Withdrawn)
    }

    /// The level in the trade's words.
    pub fn words(self) -> &'static str {
        match self {
            Level::NotPlanned => "not planned",
            Level::Planned => "planned",
            Level::Learning => "learning, draws watched",
            Level::OwnPatients => "own patients",
            Level::AllPatients => "all patients",
            Level::MayPrecept => "may precept",
            Level::ToBeUpdated => "to be updated",
            Level::Lapsed => "lapsed",
            Level::Withdrawn => "withdrawn",
            Level::Away => "away",
        }
    }
}

/// Kinds of evidence. They never stand in for each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EvidenceKind {
    /// What was said: a teach-back.
    Said,
    /// What was done: an observed draw or spot check.
    Done,
    /// What was decided or arranged: planned, demonstrated, released, withdrawn, refreshed.
    Decided,
}

/// One thing in the book that a standing rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Evidence {
    /// The event.
    pub event: EventId,
    /// Day it happened.
    pub date: Date,
    /// Said, done or decided.
    pub kind: EvidenceKind,
    /// On whose word.
    pub by: PersonId,
    /// What it was, in a sentence with its counts and denominators.
    pub sentence: String,
    /// Why it does not count towards release; `None` when it counts, or when counting does not apply.
    pub does_not_count: Option<String>,
}

/// Something due on a day.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Due {
    /// The day.
    pub on: Date,
    /// What and why, in a sentence.
    pub why: String,
}

/// An event that was corrected, beside the event that corrects it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Corrected {
    /// The event that was corrected; it stays in the book.
    pub original: EventId,
    /// What it said, in a sentence.
    pub original_sentence: String,
    /// The event that replaces it.
    pub correction: EventId,
    /// What stands now, in a sentence.
    pub correction_sentence: String,
    /// Who wrote the correction.
    pub by: PersonId,
    /// Why.
    pub reason: String,
}

/// What one person may do in one job now, on whose word, and what it rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// The person.
    pub person: PersonId,
    /// The job.
    pub job: JobCode,
    /// What they may do now.
    pub level: Level,
    /// How far they were last released, also where that has lapsed or is to be updated; `None` when never, or withdrawn.
    pub scope: Option<Scope>,
    /// Version they were released or refreshed on.
    pub version: Option<Version>,
    /// Day from which the level holds.
    pub since: Option<Date>,
    /// Who decided it.
    pub on_word_of: Option<PersonId>,
    /// Day by which the timetable wants them released.
    pub needed_by: Option<Date>,
    /// Everything in the book about this person and job, oldest first.
    pub evidence: Vec<Evidence>,
    /// The step the rule is asked about: own patients, then all patients; `None` when the rule has no further step.
    pub next_scope: Option<Scope>,
    /// What the rule still needs for that step, in sentences; empty when the rule is met or has no further step.
    /// Where the standing lapsed or is to be updated, what is needed to restore it.
    pub missing: Vec<String>,
    /// Whether the rule is met for that step. Meeting it raises nothing: a trainer decides.
    pub rule_met: bool,
    /// Observed draws that count towards release.
    pub draws_counted: u16,
    /// Clean draws in a row at the end of those counted.
    pub clean_in_a_row: u16,
    /// Whether the trainer's own clean look is done, or the rule asks for none.
    pub look_done: bool,
    /// Points of the rule's sequential test; 0 without one.
    pub points: u16,
    /// The next follow-up check, refresher or update.
    pub next_check: Option<Due>,
    /// Corrections that touch this person and job.
    pub corrected: Vec<Corrected>,
}
