//! A DiagnosticReport, or an Observation outside of one, as a report on a blood culture.

use std::collections::HashSet;

use culture::{ReportStatus, Specimen};

use super::growth::Growth;
use super::json::Json;
use super::results::is_organism;
use super::store::Store;
use super::values::{codes, codes_and_words, first_identifier, identifier_of, list, text};
use crate::laboratory::account::{Account, Fault};
use crate::laboratory::age::age_at;
use crate::laboratory::codes::{
    BLOOD_SPECIMEN, ORGANISM_CODES, bottle_label, bottle_of, is_among, is_blood_culture,
};
use crate::laboratory::mapping::Mapping;
use crate::laboratory::moment::{Moment, shape};
use crate::laboratory::patient::PatientHashKey;
use crate::laboratory::reports::{Report, ReportedResult, Says, Sent, slowest};
use crate::laboratory::words;

/// SNOMED CT 119303007, microbial isolate (the FHIR and HL7 test messages): not the blood itself.
pub(super) const ISOLATE: &str = "119303007";
/// Most resources followed from one to the next.
const MOST_STEPS: usize = 8;

/// Makes reports of resources.
pub(super) struct Builder<'b> {
    pub store: &'b Store,
    pub growth: &'b Growth,
    pub mapping: &'b Mapping,
    pub key: &'b PatientHashKey,
}

impl<'b> Builder<'b> {
    /// `None` where it is not about a blood culture.
    pub(super) fn report(&self, at: usize, account: &mut Account) -> Result<Option<Report>, Fault> {
        let resource = self.store.at(at);
        let value = &resource.value;
        let name = resource.name();
        let specimens = self.specimens(at);
        let specimen = self.main_specimen(&specimens);
        let (found, missing) = self.observations(at);
        let own_codes = self.codes_of(at);
        let is_culture = |codes: &[&str]| {
            codes.iter().any(|code| is_blood_culture(code, &self.mapping.messages.blood_culture_codes))
        };
        let names_organisms = |codes: &[&str]| {
            codes.iter().any(|code| {
                ORGANISM_CODES.contains(code) || is_among(code, &self.mapping.messages.organism_codes)
            })
        };
        let on_blood = specimens.iter().any(|at| self.is_blood(*at));
        let any = |test: &dyn Fn(&[&str]) -> bool| {
            test(&own_codes)
                || found.iter().any(|observation| test(&codes(self.store.at(*observation).value.get("code"))))
        };
        let by_code = any(&is_culture) || (on_blood && any(&names_organisms));
        let uncoded = codes(value.get("code")).is_empty() && on_blood;
        if !by_code && !uncoded {
            return Ok(None);
        }
        if let Some(missing) = missing {
            return Err(Fault::new(
                format!("{name}, which refers to {missing}"),
                format!("{missing} among the files"),
                "give that file as well; without it nobody knows what grew",
            )
            .in_field("result"));
        }
        let results = self.results(&found, !by_code);
        if !by_code {
            // Some systems lose the codes on the way. A report on blood that names an organism, coded, is a culture.
            let names =
                |result: &ReportedResult| matches!(&result.says, Says::Words(said) if is_organism(said));
            if !results.iter().any(names) {
                return Ok(None);
            }
            account.note(
                resource.place,
                "a report carries no code; it was taken for a blood culture because its specimen is blood and it names an organism",
            );
        }
        let (identifier, patient) = self.patient(at, &name, account)?;
        let clock = self.mapping.messages.clock.as_ref();
        let collected_moment = self.collected(at, specimen, &name, account)?;
        let collected = collected_moment.by(clock);
        if clock.is_none() && collected_moment.is_utc() {
            account.note(
                resource.place,
                "times of collection are in UTC and were taken for the clock of the unit; name the unit's clock as clock under [messages] in the mapping if it is another",
            );
        }
        let received = specimen
            .and_then(|at| text(&self.store.at(at).value, &["receivedTime"]))
            .and_then(Moment::fhir)
            .map(
                |moment| {
                    if clock.is_some() { moment.by(clock) } else { moment.in_offset_of(collected_moment) }
                },
            );
        let born = patient.and_then(|patient| text(patient, &["birthDate"])).and_then(Moment::fhir);
        let filler = identifier_of(value, &["FILL"]);
        let number = specimen.and_then(|at| self.specimen_number(at)).or(filler).unwrap_or(&name);
        let (set, kind_of_number) = self.mapping.messages.without_ending(number);
        let kind = kind_of_number.or_else(|| own_codes.iter().find_map(|code| bottle_of(code)));
        let stamp = text(value, &["issued"]).or(text(value, &["meta", "lastUpdated"]));
        let status = self.status(value, &found);
        Ok(Some(Report {
            place: resource.place,
            set: set.to_owned(),
            order: filler.map_or_else(|| name.clone(), str::to_owned)
                + "\u{1f}"
                + kind.map(bottle_label).unwrap_or_default(),
            filler: String::new(),
            under: None,
            replaces_all: true,
            stamp: stamp.and_then(Moment::fhir).map(Moment::seconds),
            sent: Sent::default(),
            patient: self.key.hash(&identifier),
            age_years: born.and_then(|born| age_at(born.date, collected.date)),
            received: received.and_then(Moment::date_time),
            unit: self.unit(at, collected_moment),
            collector: specimen.and_then(|at| self.collector(at)),
            route: self.route(&specimens, &found),
            specimen: self.specimen_kind(&specimens),
            status,
            bottles: self.bottles(&specimens, &found, set, kind, resource.place, account),
            positive_after_s: self.positive_after_s(&found, resource.place, account),
            results,
            collected: collected.collected(),
        }))
    }

    /// The codes of a report or observation, and those of the request it answers.
    fn codes_of(&self, at: usize) -> Vec<&'b str> {
        let value = &self.store.at(at).value;
        let requests = list(value, "basedOn").filter_map(|reference| self.store.follow(at, Some(reference)));
        let of_requests = requests.flat_map(|(_, request)| codes(request.get("code")));
        codes(value.get("code")).into_iter().chain(of_requests).collect()
    }

    /// The observations of a report with their members, and a reference that leads nowhere; an observation by itself is
    /// its own.
    fn observations(&self, at: usize) -> (Vec<usize>, Option<String>) {
        let resource = self.store.at(at);
        let mut missing = None;
        let mut found = Vec::new();
        if resource.kind() == "Observation" {
            found.push(at);
        }
        for reference in list(&resource.value, "result") {
            match self.store.resolve(at, reference) {
                Some(observation) => found.push(observation),
                None => {
                    let written = text(reference, &["reference"]).unwrap_or_default();
                    // Only what is surely the name of an observation is repeated.
                    let is_plain = written.starts_with("Observation/") && written.len() <= 80;
                    let name = if is_plain { written } else { "an observation" };
                    missing = missing.or(Some(name.to_owned()));
                }
            }
        }
        let below: Vec<usize> = found.iter().flat_map(|at| self.growth.below(self.store, *at)).collect();
        let mut met = HashSet::new();
        (found.into_iter().chain(below).filter(|at| met.insert(*at)).collect(), missing)
    }

    /// Specimens of a report, each with the one it was taken from.
    fn specimens(&self, at: usize) -> Vec<usize> {
        let mut found = Vec::new();
        for reference in list(&self.store.at(at).value, "specimen") {
            let mut next = self.store.resolve(at, reference);
            for _ in 0..MOST_STEPS {
                let Some(place) = next.filter(|place| !found.contains(place)) else { break };
                found.push(place);
                let parent = list(&self.store.at(place).value, "parent").next();
                next = parent.and_then(|parent| self.store.resolve(place, parent));
            }
        }
        found
    }

    /// The specimen that gives the set its number: one that has a number, blood before an isolate.
    fn main_specimen(&self, specimens: &[usize]) -> Option<usize> {
        let is_isolate = |at: &usize| codes(self.store.at(*at).value.get("type")).contains(&ISOLATE);
        let numbered = || specimens.iter().copied().filter(|at| self.specimen_number(*at).is_some());
        numbered().find(|at| !is_isolate(at)).or_else(|| numbered().next()).or(specimens.first().copied())
    }

    /// The laboratory's own number (type FGN), else the ward's (PGN), else the accession number or any other.
    pub(super) fn specimen_number(&self, at: usize) -> Option<&'b str> {
        let specimen = &self.store.at(at).value;
        identifier_of(specimen, &["FGN", "PGN"])
            .or(text(specimen, &["accessionIdentifier", "value"]))
            .or_else(|| first_identifier(specimen))
    }

    fn is_blood(&self, specimen: usize) -> bool {
        codes(self.store.at(specimen).value.get("type")).iter().any(|code| BLOOD_SPECIMEN.contains(code))
    }

    /// The medical record number where one is marked so, else the first identifier, else what refers to the patient.
    fn patient(
        &self,
        at: usize,
        name: &str,
        account: &mut Account,
    ) -> Result<(String, Option<&'b Json>), Fault> {
        let resource = self.store.at(at);
        let subject = resource.value.get("subject");
        let mut found = self.store.follow(at, subject);
        for _ in 0..MOST_STEPS {
            // A record that was merged names the one that replaces it.
            let link = found.and_then(|(_, patient)| {
                list(patient, "link").find(|link| text(link, &["type"]) == Some("replaced-by"))
            });
            let next = found.zip(link).and_then(|((at, _), link)| self.store.follow(at, link.get("other")));
            match next {
                Some(next) => found = Some(next),
                None => break,
            }
        }
        let patient = found.map(|(_, patient)| patient);
        let of_patient =
            patient.and_then(|patient| identifier_of(patient, &["MR"]).or_else(|| first_identifier(patient)));
        if let Some(identifier) = of_patient {
            return Ok((identifier.to_owned(), patient));
        }
        let subject = subject.unwrap_or(&Json::Nothing);
        let stands_for_it = text(subject, &["identifier", "value"]).or(text(subject, &["reference"]));
        let Some(identifier) = stands_for_it else {
            return Err(Fault::new(
                format!("{name} without a patient"),
                "a subject that refers to a Patient",
                "ask the interface team; without it no set can be compared with the others of the patient",
            )
            .in_field("subject"));
        };
        if patient.is_none() {
            account.note(
                resource.place,
                "a report refers to a patient who is not among the files; the reference stands for the patient, and ages are not known",
            );
        }
        Ok((identifier.to_owned(), patient))
    }

    fn collected(
        &self,
        at: usize,
        specimen: Option<usize>,
        name: &str,
        account: &mut Account,
    ) -> Result<Moment, Fault> {
        let resource = self.store.at(at);
        let value = &resource.value;
        let of_specimen = specimen.and_then(|at| {
            let specimen = &self.store.at(at).value;
            text(specimen, &["collection", "collectedDateTime"])
                .or(text(specimen, &["collection", "collectedPeriod", "start"]))
        });
        let of_report = text(value, &["effectiveDateTime"]).or(text(value, &["effectivePeriod", "start"]));
        let read = (of_specimen.and_then(Moment::fhir), of_report.and_then(Moment::fhir));
        if let Some(moment) = read.0.or(read.1) {
            if of_specimen.is_some() && read.0.is_none() {
                account.note(
                    resource.place,
                    "the time of collection of the specimen cannot be read; that of the report stands for it",
                );
            }
            return Ok(moment);
        }
        if let Some(written) = of_specimen.or(of_report) {
            return Err(Fault::new(
                format!("{name} collected at {}", shape(written)),
                "a FHIR dateTime such as 2026-03-02T08:00:00+01:00",
                "ask the interface team to send the day and time of collection",
            )
            .in_field("collected"));
        }
        let by_report = self.mapping.messages.day_from_report;
        let issued = text(value, &["issued"]).filter(|_| by_report).and_then(Moment::fhir);
        issued.map(Moment::day_only).ok_or_else(|| {
            Fault::new(
                format!("{name} without a time of collection"),
                "collection.collectedDateTime in its Specimen, or effectiveDateTime",
                "ask the interface team, or write day_from_report = true under [messages] in the mapping to count by the day of the report",
            )
            .in_field("collected")
        })
    }

    /// Where the patient was at the time: the location of the encounter whose period holds the draw, else the first.
    fn unit(&self, at: usize, collected: Moment) -> Option<String> {
        let (encounter_at, encounter) = self.store.follow(at, self.store.at(at).value.get("encounter"))?;
        let holds = |location: &&Json| {
            let end =
                |name: &str| text(location, &["period", name]).and_then(Moment::fhir).map(Moment::seconds);
            let (start, end) = (end("start"), end("end"));
            let at = collected.seconds();
            start.is_some_and(|start| start <= at) && end.is_none_or(|end| at < end)
        };
        let first = || list(encounter, "location").next();
        let stay = list(encounter, "location").find(holds).or_else(first)?;
        let location = stay.get("location");
        let named = self
            .store
            .follow(encounter_at, location)
            .and_then(|(_, location)| text(location, &["name"]).or_else(|| first_identifier(location)));
        named.or(text(location?, &["display"])).map(str::to_owned)
    }

    fn collector(&self, specimen: usize) -> Option<String> {
        let reference = self.store.at(specimen).value.get("collection")?.get("collector")?;
        let mut found = self.store.follow(specimen, Some(reference));
        if let Some((at, role)) = found.filter(|(at, _)| self.store.at(*at).kind() == "PractitionerRole") {
            found = self.store.follow(at, role.get("practitioner")).or(Some((at, role)));
        }
        let identifier = found.and_then(|(_, person)| first_identifier(person));
        identifier
            .or(text(reference, &["identifier", "value"]))
            .or(text(reference, &["reference"]))
            .or(text(reference, &["display"]))
            .map(str::to_owned)
    }

    fn route(&self, specimens: &[usize], observations: &[usize]) -> Option<culture::Route> {
        let of_specimens = specimens.iter().flat_map(|at| {
            let collection = self.store.at(*at).value.get("collection").unwrap_or(&Json::Nothing);
            ["method", "bodySite"].into_iter().flat_map(|name| codes_and_words(collection, name))
        });
        let of_observations =
            observations.iter().flat_map(|at| codes_and_words(&self.store.at(*at).value, "bodySite"));
        of_specimens.chain(of_observations).find_map(|word| self.mapping.routes.get(word))
    }

    fn specimen_kind(&self, specimens: &[usize]) -> Specimen {
        let types = specimens.iter().flat_map(|at| codes_and_words(&self.store.at(*at).value, "type"));
        types.map(words::specimen).find(|kind| *kind != Specimen::Blood).unwrap_or_default()
    }

    fn status(&self, value: &Json, observations: &[usize]) -> ReportStatus {
        let of_report = text(value, &["status"]).and_then(|status| self.mapping.statuses.get(status));
        of_report.unwrap_or_else(|| {
            let statuses = observations
                .iter()
                .filter_map(|at| text(&self.store.at(*at).value, &["status"]))
                .filter_map(|status| self.mapping.statuses.get(status));
            slowest(statuses)
        })
    }
}
