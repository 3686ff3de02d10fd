//! What each kind of entry says.

mod decide;
mod seen;

use breakdown::{JobCode, Version};
use jiff::civil::DateTime;
use practice::{
    DrawItem, DrawMark, EventKind, ObservedDraw, Person, PersonId, Release, Role, Scope, Setting, SpotCheck,
};
use teachback::{Mark, Proposed, TeachBack, TeachBackItem};
use uuid::Uuid;

use super::known::Known;
use super::marks::{Bearing, marks};
use super::table::{At, EntryTable, Reference};
use super::{Written, identifier, transcript};
use crate::entry::{Body, Draft};

const KINDS: [&str; 15] = [
    "person added",
    "breakdown published",
    "planned",
    "demonstrated",
    "teach-back",
    "observed draw",
    "spot check",
    "released",
    "withdrawn",
    "not yet",
    "confidence",
    "rule published",
    "refresher",
    "person left",
    "entered in error",
];

const DRAW_MARKS: [(&str, DrawMark); 5] = [
    ("done", DrawMark::Done),
    ("after-prompt", DrawMark::AfterPrompt),
    ("not-done", DrawMark::NotDone),
    ("not-applicable", DrawMark::NotApplicable),
    ("not-seen", DrawMark::NotSeen),
];

/// Reads one entry; `None` when it has a fault, which the table then holds.
pub(super) fn entry(table: &mut EntryTable<'_>, known: &mut Known, against: &Written<'_>) -> Option<Draft> {
    let what = table.what()?;
    if !KINDS.contains(&what.value.as_str()) {
        let (found, expected) = (format!("{:?}", what.value), format!("one of: {}", KINDS.join(", ")));
        table.fault(what.line, "what", &found, &expected, "correct the word; docs/entries.md explains each");
        return None;
    }
    let what = what.value;
    table.kind_is_known();
    let happened = table.happened();
    if let Some(happened) = &happened
        && happened.value.date() > against.today
    {
        let found = format!("{}, which is after today, {}", happened.value, against.today);
        table.fault(
            happened.line,
            "at",
            &found,
            "something that has happened",
            "correct the date, or add the entry when it has happened",
        );
    }
    let by = table.by();
    let label = table.optional_text("label");
    let corrects = table.corrects();
    let because = table.optional_text("because");
    let teller = Teller { table, known, happened: happened.as_ref(), by: by.as_ref(), against };
    let kind = teller.kind(&what);
    teller.known_person("by", by.as_ref(), kind.as_ref());
    let corrected = teller.corrected(&what, corrects.as_ref(), because.as_ref());
    if table.has_faults() {
        return None;
    }
    let (happened, by, mut body) = (happened?.value, by?.value, Body::Practice(kind?));
    let reason = because.map(|because| because.value);
    let id = identifier(happened, &by.0, &body, corrected, reason.as_deref());
    let Some(id) = id else {
        table.fault(table.line(), "at", &happened.to_string(), "a time from 1970 on", "correct the date");
        return None;
    };
    known.keep_proposals(id, &mut body);
    let draft = Draft { id, happened, by, body, corrects: corrected, correction_reason: reason };
    // What the book holds already was asked when it was added.
    if !known.is_recorded(id) {
        release_has_its_reason(table, known, &draft, against);
        decide::rule_is_newer(table, known, &draft);
    }
    if let Some(label) = label
        && !known.label(&label.value, id)
    {
        let found = format!("{:?}, which an entry above has", label.value);
        table.fault(label.line, "label", &found, "a label of its own", "choose another");
    }
    (!table.has_faults()).then_some(draft)
}

/// The rule advises and the trainer decides; deciding otherwise needs a reason in the book.
fn release_has_its_reason(table: &EntryTable<'_>, known: &Known, draft: &Draft, against: &Written<'_>) {
    let Body::Practice(EventKind::Released(Release { reason: None, .. })) = &draft.body else { return };
    if let Some(missing) = known.against_release(draft, against.rule) {
        table.fault(
            table.line(),
            "reason",
            &format!("nothing, and the release rule is not met: {}", missing.join("; ")),
            "why the trainer decides so",
            "add a line reason = \"...\", or release when the rule is met",
        );
    }
}

struct Teller<'a, 'b> {
    table: &'a EntryTable<'b>,
    known: &'a Known,
    happened: Option<&'a At<DateTime>>,
    by: Option<&'a At<PersonId>>,
    against: &'a Written<'a>,
}

impl Teller<'_, '_> {
    fn kind(&self, what: &str) -> Option<EventKind> {
        match what {
            "person added" => self.person_added(),
            "breakdown published" => self.breakdown_published(),
            "planned" => {
                let (person, job) = (self.person("person"), self.job());
                let by = self.table.date("needed-by");
                Some(EventKind::Planned { person: person?, job: job?.value, by: by?.value })
            }
            "demonstrated" => {
                let (person, on) = (self.person("person"), self.on_version());
                let (job, version) = on?;
                Some(EventKind::Demonstrated { person: person?, job, version })
            }
            "teach-back" => self.teach_back(),
            "observed draw" => self.draw(false).map(EventKind::DrawObserved),
            "spot check" => self.draw(true).map(|draw| EventKind::SpotChecked(SpotCheck(draw))),
            "released" => self.released(),
            "withdrawn" => {
                let (person, job) = (self.person("person"), self.job());
                let reason = self.table.text("reason", "why, without blame");
                Some(EventKind::Withdrawn { person: person?, job: job?.value, reason: reason?.value })
            }
            "not yet" => {
                let (person, job) = (self.person("person"), self.job());
                let reason = self.table.text("reason", "why, without blame");
                self.signed_by_trainer(person.as_ref());
                Some(EventKind::NotYet { person: person?, job: job?.value, reason: reason?.value })
            }
            "confidence" => self.confidence(),
            "rule published" => self.rule_published(),
            "refresher" => {
                let (person, on) = (self.person("person"), self.on_version());
                let (job, version) = on?;
                let reason = self.table.optional_text("reason").map(|reason| reason.value);
                Some(EventKind::RefresherDone { person: person?, job, version, reason })
            }
            "person left" => Some(EventKind::PersonLeft { person: self.person("person")? }),
            _ => Some(EventKind::EnteredInError),
        }
    }

    fn person_added(&self) -> Option<EventKind> {
        let table = self.table;
        let id = table.person("person");
        let name = table.text("name", "the name as colleagues say it");
        let unit = table.text("unit", "the unit they work on");
        let role = table.text("role", "nurse, preceptor or trainer").and_then(|role| {
            let value = match role.value.as_str() {
                "nurse" => Some(Role::Nurse),
                "preceptor" => Some(Role::Preceptor),
                "trainer" => Some(Role::Trainer),
                _ => None,
            };
            if value.is_none() {
                table.fault(
                    role.line,
                    "role",
                    &format!("{:?}", role.value),
                    "nurse, preceptor or trainer",
                    "correct the word",
                );
            }
            value
        });
        let started = table.date("started");
        Some(EventKind::PersonAdded(Person {
            id: id?.value,
            name: name?.value,
            role: role?,
            unit: unit?.value,
            started: started?.value,
        }))
    }

    fn breakdown_published(&self) -> Option<EventKind> {
        let file = self.table.text("file", "the breakdown file, beside this one")?;
        match (self.against.read_breakdown)(&file.value) {
            Ok(breakdown) => {
                let known = self.known.breakdown(&breakdown.code, breakdown.version);
                if known.is_some_and(|known| *known != breakdown) {
                    let found = format!(
                        "version {} of {}, which the book holds with other words",
                        breakdown.version, breakdown.code
                    );
                    let to_do =
                        "give the new text the next version number; a published version is never edited";
                    self.table.fault(file.line, "file", &found, "a version of its own", to_do);
                }
                Some(EventKind::BreakdownPublished(Box::new(breakdown)))
            }
            Err(fault) => {
                let found = format!("{}: {}", fault.place, fault.found);
                self.table.fault(file.line, "file", &found, &fault.expected, &fault.what_to_do);
                None
            }
        }
    }

    fn teach_back(&self) -> Option<EventKind> {
        let person = self.person("person");
        let on = self.on_version();
        let breakdown = on.as_ref().and_then(|(job, version)| self.known.breakdown(job, *version));
        let transcript = self.table.optional_text("transcript");
        let keep = self.table.flag("keep-transcript");
        let proposed = transcript.as_ref().zip(breakdown).and_then(|(file, breakdown)| {
            match (self.against.read_transcript)(&file.value, breakdown) {
                Ok(proposed) => Some(proposed),
                Err(fault) => {
                    let found = format!("{}: {}", fault.place, fault.found);
                    self.table.fault(file.line, "transcript", &found, &fault.expected, &fault.what_to_do);
                    None
                }
            }
        });
        let sure = proposed.as_ref().map(transcript::sure);
        let own = sure.as_deref().map(|sure| (transcript::AS_PROPOSED, sure));
        let choices = Mark::ALL.map(|mark| (mark.name(), mark));
        let items = marks(self.table, &choices, Bearing::Said, breakdown, own);
        let same_pass_as = self.same_pass_as();
        let note = self.table.optional_text("note");
        let (job, version) = on?;
        let items = match &proposed {
            Some(proposed) => transcript::decided(self.table, transcript.as_ref(), proposed, &items),
            None => items.into_iter().map(|(item, mark)| TeachBackItem { item, mark, at_s: None }).collect(),
        };
        let mut teachback = TeachBack::heard(job, version, items, note.map(|note| note.value));
        teachback.same_pass_as = same_pass_as.map(|entry| entry.to_string());
        teachback.proposed = proposed.map(|proposed| {
            let transcript = proposed.transcript.clone().filter(|_| keep);
            Box::new(Proposed { transcript, ..proposed })
        });
        Some(EventKind::TeachBackHeard { person: person?, teachback })
    }

    fn draw(&self, spot_check: bool) -> Option<ObservedDraw> {
        let table = self.table;
        let drawn_by = self.person("person");
        let watched_by = match spot_check {
            true => self.by.map(|by| by.value.clone()),
            false => self.person("watched-by"),
        };
        if let (true, Some(by)) = (spot_check, self.by)
            && self.known.people.get(&by.value).is_some_and(|role| *role != Role::Trainer)
        {
            let found = format!("{}, who is not a trainer", by.value);
            table.fault(
                by.line,
                "by",
                &found,
                "a trainer: a spot check is the trainer's own look",
                "write it as an observed draw",
            );
        }
        let on = self.on_version();
        let setting = match table.optional_text("setting") {
            None => Some(Setting::RealPatient),
            Some(setting) => match setting.value.as_str() {
                "real patient" => Some(Setting::RealPatient),
                "training arm" => Some(Setting::Simulated),
                other => {
                    let found = format!("{other:?}");
                    table.fault(
                        setting.line,
                        "setting",
                        &found,
                        "real patient or training arm",
                        "correct the word",
                    );
                    None
                }
            },
        };
        let specimen = table.optional_text("specimen");
        let attempts = table.whole("attempts", 1, 9);
        let taken_over = table.flag("taken-over");
        let breakdown = on.as_ref().and_then(|(job, version)| self.known.breakdown(job, *version));
        let items = marks(table, &DRAW_MARKS, Bearing::Seen, breakdown, None);
        let note = table.optional_text("note");
        let circumstances = seen::circumstances(table);
        let (job, version) = on?;
        Some(ObservedDraw {
            job,
            version,
            drawn_by: drawn_by?,
            watched_by: watched_by?,
            setting: setting?,
            specimen: specimen.map(|specimen| specimen.value),
            attempts: u8::try_from(attempts.map_or(1, |attempts| attempts.value)).unwrap_or(u8::MAX),
            taken_over,
            items: items.into_iter().map(|(item, mark)| DrawItem { item, mark }).collect(),
            note: note.map(|note| note.value),
            circumstances,
        })
    }

    fn released(&self) -> Option<EventKind> {
        let table = self.table;
        let person = self.person("person");
        let on = self.on_version();
        let scope = table.text("to", "own patients, all patients or precepting").and_then(|to| {
            let scope = match to.value.as_str() {
                "own patients" => Some(Scope::OwnPatients),
                "all patients" => Some(Scope::AllPatients),
                "precepting" => Some(Scope::MayPrecept),
                _ => None,
            };
            if scope.is_none() {
                table.fault(
                    to.line,
                    "to",
                    &format!("{:?}", to.value),
                    "own patients, all patients or precepting",
                    "correct the words",
                );
            }
            scope
        });
        let reason = table.optional_text("reason").map(|reason| reason.value);
        self.signed_by_trainer(person.as_ref());
        let (job, version) = on?;
        Some(EventKind::Released(Release { person: person?, job, version, scope: scope?, reason }))
    }

    /// A person the book or the file above knows.
    fn person(&self, key: &'static str) -> Option<PersonId> {
        let person = self.table.person(key)?;
        self.known_person(key, Some(&person), None);
        Some(person.value)
    }

    fn known_person(&self, key: &str, person: Option<&At<PersonId>>, kind: Option<&EventKind>) {
        let Some(person) = person else { return };
        // The first trainer writes the entry that adds them.
        let adds_themselves = matches!(kind, Some(EventKind::PersonAdded(added)) if added.id == person.value);
        if !adds_themselves && !self.known.people.contains_key(&person.value) {
            self.table.fault(
                person.line,
                key,
                &format!("{:?}, whom the book does not know", person.value.0),
                "the staff identifier of a person in the book",
                "correct the identifier, or add the person first with what = \"person added\"",
            );
        }
    }

    fn job(&self) -> Option<At<JobCode>> {
        let job = self.table.job()?;
        if self.known.versions(&job.value).is_empty() {
            let jobs = self.known.jobs();
            let expected = match jobs.is_empty() {
                true => "a job with a published breakdown; the book has none yet".to_owned(),
                false => format!("a job with a published breakdown: {}", jobs.join(", ")),
            };
            self.table.fault(
                job.line,
                "job",
                &format!("{:?}", job.value.0),
                &expected,
                "correct the name, or publish the breakdown first",
            );
        }
        Some(job)
    }

    /// The job and the version: the one named, or the one in force on the day.
    fn on_version(&self) -> Option<(JobCode, Version)> {
        let job = self.job();
        let version = self.table.version();
        let job = job?;
        let versions = self.known.versions(&job.value);
        if versions.is_empty() {
            return None;
        }
        let listed = || versions.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        match version {
            Some(version) if versions.contains(&version.value) => Some((job.value, version.value)),
            Some(version) => {
                let found = format!("version {} of {}", version.value, job.value);
                let expected = format!("a version the book holds: {}", listed());
                self.table.fault(
                    version.line,
                    "version",
                    &found,
                    &expected,
                    "correct the number, or publish that version first",
                );
                None
            }
            None => {
                let on = self.happened?.value.date();
                let in_force = self.known.in_force(&job.value, on);
                if in_force.is_none() {
                    let found = format!("no version of {} in force on {on}", job.value);
                    let expected = format!("the version: the book holds {}", listed());
                    self.table.fault(job.line, "version", &found, &expected, "add a line version = ...");
                }
                in_force.map(|version| (job.value, version))
            }
        }
    }

    /// The entry of whoever heard the same pass first.
    fn same_pass_as(&self) -> Option<Uuid> {
        let named = self.table.entry("same-pass-as")?;
        let (found, id) = self.entry_named(&named.value);
        if id.is_none() {
            self.table.fault(
                named.line,
                "same-pass-as",
                &found,
                "the number of a teach-back of the book, or the label of one above",
                "look the number up with `wardwright book show`",
            );
        }
        id
    }

    fn entry_named(&self, named: &Reference) -> (String, Option<Uuid>) {
        match named {
            Reference::Number(number) => match self.known.numbered(*number) {
                Some((id, true)) => (String::new(), Some(id)),
                Some((_, false)) => (format!("entry {number}, which is not a training entry"), None),
                None => {
                    (format!("entry {number}; the book has entries 1 to {}", self.known.last_number()), None)
                }
            },
            Reference::Label(label) => {
                (format!("the label {label:?}, which no entry above has"), self.known.labelled(label))
            }
        }
    }

    fn corrected(
        &self,
        what: &str,
        corrects: Option<&At<Reference>>,
        because: Option<&At<String>>,
    ) -> Option<Uuid> {
        let table = self.table;
        let Some(corrects) = corrects else {
            if what == "entered in error" {
                table.fault(
                    table.line(),
                    "corrects",
                    "nothing",
                    "the entry that did not happen",
                    "add a line corrects = ... with its number in the book",
                );
            }
            if let Some(because) = because {
                let to_do = "add a line corrects = ..., or remove `because`";
                table.fault(
                    because.line,
                    "because",
                    "a reason for a correction, and nothing it corrects",
                    "both or neither",
                    to_do,
                );
            }
            return None;
        };
        if because.is_none() {
            table.fault(
                corrects.line,
                "because",
                "nothing",
                "why the earlier entry is corrected",
                "add a line because = \"...\"; it is shown beside both entries",
            );
        }
        let (found, id) = self.entry_named(&corrects.value);
        if id.is_none() {
            table.fault(
                corrects.line,
                "corrects",
                &found,
                "the number of a training entry of the book, or the label of an entry above",
                "look the number up with `wardwright book show`",
            );
        }
        id
    }
}
