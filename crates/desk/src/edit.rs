use breakdown::{Breakdown, JobCode};
use jiff::civil::{Date, DateTime};
use practice::{PersonId, Role};

use crate::facts::Desk;

/// One published version, with when and by whom.
#[derive(Debug, Clone, PartialEq)]
pub struct PublishedVersion {
    /// The version.
    pub breakdown: Breakdown,
    /// When it was published.
    pub when: DateTime,
    /// Name of the one who published it.
    pub by: String,
}

/// What somebody who writes a breakdown needs.
#[derive(Debug, Clone, PartialEq)]
pub struct EditForm {
    /// Day asked about.
    pub today: Date,
    /// Every published version of the job, oldest first; none for a new job.
    pub versions: Vec<PublishedVersion>,
    /// Who may publish: everybody on the unit, trainers first.
    pub writers: Vec<(PersonId, String, Role)>,
}

impl Desk {
    /// What is needed to write the next version of a job's breakdown, or the first of a new one.
    pub fn edit_form(&self, job: &JobCode) -> EditForm {
        let versions = self.published(job).into_iter().map(|(event, breakdown)| PublishedVersion {
            breakdown: breakdown.clone(),
            when: event.happened,
            by: self.name_of(&event.by),
        });
        EditForm { today: self.today(), versions: versions.collect(), writers: self.on_the_unit() }
    }

    /// Everybody on the unit: trainers, preceptors, then the others, each by name.
    pub(crate) fn on_the_unit(&self) -> Vec<(PersonId, String, Role)> {
        let mut people: Vec<(PersonId, String, Role)> = self
            .people
            .values()
            .filter(|person| !self.is_away(&person.id))
            .map(|person| (person.id.clone(), person.name.clone(), person.role))
            .collect();
        let rank = |role: Role| match role {
            Role::Trainer => 0,
            Role::Preceptor => 1,
            Role::Nurse => 2,
        };
        people.sort_by(|one, two| (rank(one.2), &one.1).cmp(&(rank(two.2), &two.1)));
        people
    }
}

impl EditForm {
    /// The newest published version.
    pub fn newest(&self) -> Option<&PublishedVersion> {
        self.versions.last()
    }

    /// A published version by its number.
    pub fn version(&self, number: u32) -> Option<&PublishedVersion> {
        self.versions.iter().find(|version| version.breakdown.version.0 == number)
    }
}
