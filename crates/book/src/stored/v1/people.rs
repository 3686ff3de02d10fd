//! People, timetable, observed draws, releases.

use breakdown::{JobCode, Version};
use jiff::civil::Date;
use practice::{DrawItem, DrawMark, EventKind, ObservedDraw, Person, PersonId, Role, Scope, Setting};
use serde::{Deserialize, Serialize};

use super::{StoredError, date, item, words};

words!(StoredRole for Role { Nurse = "nurse", Preceptor = "preceptor", Trainer = "trainer" });
words!(StoredScope for Scope {
    OwnPatients = "own-patients", AllPatients = "all-patients", MayPrecept = "may-precept",
});
words!(StoredSetting for Setting { RealPatient = "real-patient", Simulated = "simulated" });
words!(StoredMark for DrawMark {
    Done = "done", AfterPrompt = "after-prompt", NotDone = "not-done", NotApplicable = "not-applicable",
    NotSeen = "not-seen",
});

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PersonAdded {
    id: String,
    name: String,
    role: StoredRole,
    unit: String,
    started: String,
}

impl From<&Person> for PersonAdded {
    fn from(person: &Person) -> Self {
        PersonAdded {
            id: person.id.0.clone(),
            name: person.name.clone(),
            role: person.role.into(),
            unit: person.unit.clone(),
            started: person.started.to_string(),
        }
    }
}

impl PersonAdded {
    pub(super) fn restore(self) -> Result<Person, StoredError> {
        Ok(Person {
            id: PersonId(self.id),
            name: self.name,
            role: self.role.into(),
            unit: self.unit,
            started: date("first day on the unit", &self.started)?,
        })
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Planned {
    person: String,
    job: String,
    by: String,
}

impl Planned {
    pub(super) fn store(person: &PersonId, job: &JobCode, by: Date) -> Self {
        Planned { person: person.0.clone(), job: job.0.clone(), by: by.to_string() }
    }

    pub(super) fn restore(self) -> Result<EventKind, StoredError> {
        let by = date("date needed by", &self.by)?;
        Ok(EventKind::Planned { person: PersonId(self.person), job: JobCode(self.job), by })
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct OnVersion {
    person: String,
    job: String,
    version: u32,
}

impl OnVersion {
    pub(super) fn store(person: &PersonId, job: &JobCode, version: Version) -> Self {
        OnVersion { person: person.0.clone(), job: job.0.clone(), version: version.0 }
    }

    pub(super) fn restore(self) -> (PersonId, JobCode, Version) {
        (PersonId(self.person), JobCode(self.job), Version(self.version))
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct MarkedItem {
    item: String,
    mark: StoredMark,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::stored) struct Draw {
    job: String,
    version: u32,
    drawn_by: String,
    watched_by: String,
    setting: StoredSetting,
    specimen: Option<String>,
    attempts: u8,
    taken_over: bool,
    items: Vec<MarkedItem>,
    note: Option<String>,
}

impl From<&ObservedDraw> for Draw {
    fn from(draw: &ObservedDraw) -> Self {
        let marked =
            |marked: &DrawItem| MarkedItem { item: marked.item.to_string(), mark: marked.mark.into() };
        Draw {
            job: draw.job.0.clone(),
            version: draw.version.0,
            drawn_by: draw.drawn_by.0.clone(),
            watched_by: draw.watched_by.0.clone(),
            setting: draw.setting.into(),
            specimen: draw.specimen.clone(),
            attempts: draw.attempts,
            taken_over: draw.taken_over,
            items: draw.items.iter().map(marked).collect(),
            note: draw.note.clone(),
        }
    }
}

impl Draw {
    pub(in crate::stored) fn restore(self) -> Result<ObservedDraw, StoredError> {
        let marked =
            |marked: MarkedItem| Ok(DrawItem { item: item(&marked.item)?, mark: marked.mark.into() });
        Ok(ObservedDraw {
            job: JobCode(self.job),
            version: Version(self.version),
            drawn_by: PersonId(self.drawn_by),
            watched_by: PersonId(self.watched_by),
            setting: self.setting.into(),
            specimen: self.specimen,
            attempts: self.attempts,
            taken_over: self.taken_over,
            items: self.items.into_iter().map(marked).collect::<Result<_, StoredError>>()?,
            note: self.note,
            circumstances: practice::Circumstances::default(),
        })
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Release {
    person: String,
    job: String,
    version: u32,
    scope: StoredScope,
    reason: Option<String>,
}

impl From<&practice::Release> for Release {
    fn from(release: &practice::Release) -> Self {
        Release {
            person: release.person.0.clone(),
            job: release.job.0.clone(),
            version: release.version.0,
            scope: release.scope.into(),
            reason: release.reason.clone(),
        }
    }
}

impl From<Release> for practice::Release {
    fn from(stored: Release) -> Self {
        practice::Release {
            person: PersonId(stored.person),
            job: JobCode(stored.job),
            version: Version(stored.version),
            scope: stored.scope.into(),
            reason: stored.reason,
        }
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Withdrawn {
    person: String,
    job: String,
    reason: String,
}

impl Withdrawn {
    pub(super) fn store(person: &PersonId, job: &JobCode, reason: &str) -> Self {
        Withdrawn { person: person.0.clone(), job: job.0.clone(), reason: reason.to_owned() }
    }

    pub(super) fn restore(self) -> EventKind {
        EventKind::Withdrawn { person: PersonId(self.person), job: JobCode(self.job), reason: self.reason }
    }
}

impl Withdrawn {
    /// The same fields say that a person was not released yet.
    pub(super) fn restore_not_yet(self) -> EventKind {
        EventKind::NotYet { person: PersonId(self.person), job: JobCode(self.job), reason: self.reason }
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Confidence {
    person: String,
    job: String,
    clean_of_ten: u8,
}

impl Confidence {
    pub(super) fn store(person: &PersonId, job: &JobCode, clean_of_ten: u8) -> Self {
        Confidence { person: person.0.clone(), job: job.0.clone(), clean_of_ten }
    }

    pub(super) fn restore(self) -> Result<EventKind, StoredError> {
        let clean_of_ten = self.clean_of_ten;
        if clean_of_ten > 10 {
            let found = clean_of_ten.to_string();
            return Err(StoredError::Value { what: "clean draws of ten", found });
        }
        let (person, job) = (PersonId(self.person), JobCode(self.job));
        Ok(EventKind::ConfidenceSaid { person, job, clean_of_ten })
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PersonLeft {
    person: String,
}

impl PersonLeft {
    pub(super) fn store(person: &PersonId) -> Self {
        PersonLeft { person: person.0.clone() }
    }

    pub(super) fn restore(self) -> EventKind {
        EventKind::PersonLeft { person: PersonId(self.person) }
    }
}
