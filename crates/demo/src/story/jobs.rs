use breakdown::{Breakdown, JobCode, Version};
use jiff::civil::{Date, date};

/// Day from which version 1 of the vein draw is in force: the start of the training.
pub(crate) const VEIN_ONE: Date = crate::calendar::TRAINING_STARTED;
/// Day from which version 2 of the vein draw, a major change, is in force.
pub(crate) const VEIN_TWO: Date = date(2026, 6, 1);
/// Day from which version 1 of the central-line draw is in force.
pub(crate) const LINE_ONE: Date = date(2026, 1, 12);

/// The two jobs of the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Job {
    Vein,
    Line,
}

impl Job {
    pub(crate) const ALL: [Job; 2] = [Job::Vein, Job::Line];

    pub(crate) fn place(self) -> usize {
        match self {
            Job::Vein => 0,
            Job::Line => 1,
        }
    }
}

/// The breakdowns behind the story.
#[derive(Debug, Clone)]
pub(crate) struct Jobs {
    pub(crate) vein_one: Breakdown,
    pub(crate) vein_two: Breakdown,
    pub(crate) line_one: Breakdown,
}

impl Jobs {
    /// The version in force on a day.
    pub(crate) fn in_force(&self, job: Job, on: Date) -> &Breakdown {
        match job {
            Job::Vein if on < VEIN_TWO => &self.vein_one,
            Job::Vein => &self.vein_two,
            Job::Line => &self.line_one,
        }
    }

    pub(crate) fn code(&self, job: Job) -> JobCode {
        match job {
            Job::Vein => self.vein_two.code.clone(),
            Job::Line => self.line_one.code.clone(),
        }
    }

    pub(crate) fn version(&self, job: Job, on: Date) -> Version {
        self.in_force(job, on).version
    }
}
