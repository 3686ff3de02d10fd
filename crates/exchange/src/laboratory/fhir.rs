//! FHIR R4 resources as JSON or NDJSON into reports.
//!
//! Only the fields that are needed are read and the rest is tolerated: real feeds carry extensions everywhere and are
//! not valid by every profile.

use std::collections::HashMap;

use culture::{Collected, Identity, Nomenclature, ReportStatus};
use serde_json::Value;

use super::InputFile;
use super::account::{Account, Fault, Place, quoted};
use super::age::age_at;
use super::codes::{BLOOD_SPECIMEN, ORGANISM_CODES, is_blood_culture};
use super::mapping::Mapping;
use super::patient::PatientHashKey;
use super::reports::{Report, Reports, ResultKey, ResultValue};
use crate::text::decode;
use crate::when::{DateFormat, DateFormats, When};

/// The resources of all files, since one may refer to another.
#[derive(Debug, Default)]
pub(super) struct Resources {
    all: Vec<Resource>,
    by_reference: HashMap<String, usize>,
    files: Vec<u16>,
}

#[derive(Debug)]
struct Resource {
    place: Place,
    value: Value,
}

impl Resources {
    /// Takes in one file: a resource, a Bundle, a list of resources, or one resource on each line.
    pub(super) fn add(&mut self, file: &InputFile<'_>, account: &mut Account) {
        self.files.push(account.file());
        let decoded = match decode(file.bytes, Some(crate::text::TextEncoding::Utf8)) {
            Ok(decoded) => decoded,
            Err(error) => {
                account.unread_file(Fault::new(
                    error.to_string(),
                    "UTF-8 text, which JSON must be",
                    "export the file anew as UTF-8",
                ));
                return;
            }
        };
        let text = decoded.text.as_ref();
        let error = match serde_json::from_str::<Value>(text) {
            Ok(value) => return self.keep(value, account.place(0), None),
            Err(error) => error,
        };
        // Not one JSON text: bulk exports write one resource on each line.
        let first_line_is_whole =
            text.lines().next().is_some_and(|line| serde_json::from_str::<Value>(line).is_ok());
        if !first_line_is_whole {
            account.unread_file(Fault::new(
                format!("text that is not JSON: {error}"),
                "FHIR R4 resources as JSON, or one resource on each line",
                "export the file anew; it may have been cut off",
            ));
            return;
        }
        for (number, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
            let place = account.place(number as u64 + 1);
            match serde_json::from_str::<Value>(line) {
                Ok(value) => self.keep(value, place, None),
                Err(error) => {
                    account.row();
                    account.unread_row(
                        place,
                        Fault::new(
                            format!("a line that is not JSON: {error}"),
                            "one FHIR resource on each line",
                            "export the file anew; it may have been cut off",
                        ),
                    );
                }
            }
        }
    }

    fn keep(&mut self, value: Value, place: Place, full_url: Option<String>) {
        match value {
            Value::Array(list) => list.into_iter().for_each(|value| self.keep(value, place, None)),
            Value::Object(mut object)
                if object.get("resourceType").and_then(Value::as_str) == Some("Bundle") =>
            {
                let entries = object.remove("entry");
                let Some(Value::Array(entries)) = entries else { return };
                for entry in entries {
                    let Value::Object(mut entry) = entry else { continue };
                    let url = entry.get("fullUrl").and_then(Value::as_str).map(str::to_owned);
                    if let Some(resource) = entry.remove("resource") {
                        self.keep(resource, place, url);
                    }
                }
            }
            value => {
                let at = self.all.len();
                if let (Some(kind), Some(id)) = (text(&value, &["resourceType"]), text(&value, &["id"])) {
                    self.by_reference.insert(format!("{kind}/{id}"), at);
                }
                if let Some(url) = full_url {
                    self.by_reference.insert(url, at);
                }
                self.all.push(Resource { place, value });
            }
        }
    }

    /// Reads every report of a blood culture. Every DiagnosticReport, and every Observation outside of one, counts as
    /// one row.
    pub(super) fn read(
        self,
        mapping: &Mapping,
        key: &PatientHashKey,
        reports: &mut Reports,
        account: &mut Account,
    ) {
        let mut in_a_report = vec![false; self.all.len()];
        for resource in self.of_kind("DiagnosticReport") {
            for result in references(&resource.value, "result") {
                if let Some(at) = self.place_of(result) {
                    in_a_report[at] = true;
                }
            }
        }
        let mut n_kept: HashMap<u16, u64> = HashMap::new();
        let mut n_seen: HashMap<u16, u64> = HashMap::new();
        let mut n_unread: HashMap<u16, u64> = HashMap::new();
        let singles = self.all.iter().zip(&in_a_report).filter(|(resource, there)| {
            !**there && text(&resource.value, &["resourceType"]) == Some("Observation")
        });
        let all = self.of_kind("DiagnosticReport").chain(singles.map(|(resource, _)| resource));
        for resource in all {
            account.start(usize::from(resource.place.file));
            account.row();
            *n_seen.entry(resource.place.file).or_default() += 1;
            match self.report(resource, mapping, key, account) {
                Ok(Some(report)) => {
                    *n_kept.entry(resource.place.file).or_default() += 1;
                    reports.add(report, account);
                }
                Ok(None) => account.drop_row(resource.place.file, "not a blood culture"),
                Err(fault) => {
                    *n_unread.entry(resource.place.file).or_default() += 1;
                    account.unread_row(resource.place, fault);
                }
            }
        }
        for file in &self.files {
            let seen = n_seen.get(file).copied().unwrap_or_default();
            // A file of patients or specimens serves the reports of another file.
            let serves_others = seen == 0 && !n_kept.is_empty();
            if !n_kept.contains_key(file) && !n_unread.contains_key(file) && !serves_others {
                account.start(usize::from(*file));
                account.note_file(format!(
                    "nothing to import here: {seen} reports or observations, none of them a blood culture"
                ));
            }
        }
    }

    fn of_kind<'a>(&'a self, kind: &'a str) -> impl Iterator<Item = &'a Resource> {
        self.all.iter().filter(move |resource| text(&resource.value, &["resourceType"]) == Some(kind))
    }

    fn place_of(&self, reference: &str) -> Option<usize> {
        let exact = self.by_reference.get(reference);
        let by_end = || {
            let mut parts = reference.rsplit('/');
            let (id, kind) = (parts.next()?, parts.next()?);
            self.by_reference.get(&format!("{kind}/{id}"))
        };
        exact.or_else(by_end).copied()
    }

    fn resolve(&self, reference: Option<&str>) -> Option<&Value> {
        Some(&self.all[self.place_of(reference?)?].value)
    }

    /// `None` where it is not about a blood culture.
    fn report(
        &self,
        resource: &Resource,
        mapping: &Mapping,
        key: &PatientHashKey,
        account: &mut Account,
    ) -> Result<Option<Report>, Fault> {
        let value = &resource.value;
        let is_report = text(value, &["resourceType"]) == Some("DiagnosticReport");
        let name = format!(
            "{}/{}",
            text(value, &["resourceType"]).unwrap_or_default(),
            text(value, &["id"]).unwrap_or("?")
        );
        let specimen = self.specimen(value);
        let codes = codes(value.get("code"));
        let by_code = codes.iter().any(|code| is_blood_culture(code, &mapping.messages.blood_culture_codes));
        let observations = self.observations(value, is_report, &name)?;
        let uncoded = codes.is_empty() && is_blood(specimen);
        let results = match (by_code, uncoded) {
            (true, _) => results(&observations, mapping, false),
            // Some systems lose the codes on the way. A report on blood that names an organism, coded, is a culture.
            (false, true) => {
                let results = results(&observations, mapping, true);
                let named = results
                    .iter()
                    .any(|(_, value)| matches!(value, ResultValue::Said(said) if is_organism(said)));
                if !named {
                    return Ok(None);
                }
                account.note(
                    resource.place,
                    "a report carries no code; it was taken for a blood culture because its specimen is blood and it names an organism",
                );
                results
            }
            (false, false) => return Ok(None),
        };
        let patient_reference = text(value, &["subject", "reference"]);
        let patient = self.resolve(patient_reference);
        let identifier = patient.and_then(patient_identifier).or(patient_reference).ok_or_else(|| {
            Fault::new(
                format!("{name} without a patient"),
                "a subject that refers to a Patient",
                "ask the interface team; without it no set can be compared with the others of the patient",
            )
            .in_field("subject")
        })?;
        let collected = self.collected(value, specimen, &name, mapping)?;
        let born = patient.and_then(|patient| text(patient, &["birthDate"])).and_then(moment);
        let set = specimen
            .and_then(specimen_number)
            .or_else(|| identifier_of(value, &["FILL"]))
            .map_or_else(|| name.clone(), str::to_owned);
        let encounter = self.resolve(text(value, &["encounter", "reference"]));
        Ok(Some(Report {
            place: resource.place,
            order: identifier_of(value, &["FILL"]).map_or(name, str::to_owned),
            set,
            stamp: text(value, &["issued"])
                .or(text(value, &["meta", "lastUpdated"]))
                .unwrap_or_default()
                .to_owned(),
            patient: key.hash(identifier),
            age_years: born.and_then(|born| age_at(born.date, collected.date())),
            received: specimen
                .and_then(|specimen| text(specimen, &["receivedTime"]))
                .and_then(moment)
                .and_then(When::date_time),
            unit: encounter.and_then(|encounter| self.unit(encounter)),
            collector: specimen.and_then(|specimen| self.collector(specimen)),
            route: specimen.and_then(|specimen| {
                let method = specimen.get("collection")?.get("method");
                self::codes(method).into_iter().find_map(|code| mapping.routes.get(code))
            }),
            status: text(value, &["status"])
                .and_then(|status| mapping.statuses.get(status))
                .unwrap_or(ReportStatus::NotStated),
            bottles: Vec::new(),
            results,
            collected,
        }))
    }

    /// The observations of a report; an observation by itself is its own.
    fn observations<'a>(
        &'a self,
        value: &'a Value,
        is_report: bool,
        name: &str,
    ) -> Result<Vec<&'a Value>, Fault> {
        if !is_report {
            return Ok(vec![value]);
        }
        let mut found = Vec::new();
        for reference in references(value, "result") {
            let observation = self.resolve(Some(reference)).ok_or_else(|| {
                Fault::new(
                    format!("{name}, which refers to {reference}"),
                    format!("{reference} among the files"),
                    "give that file as well; without it nobody knows what grew",
                )
                .in_field("result")
            })?;
            found.push(observation);
            found
                .extend(references(observation, "hasMember").filter_map(|member| self.resolve(Some(member))));
        }
        Ok(found)
    }

    /// The first specimen of a report that has a number.
    fn specimen<'a>(&'a self, value: &'a Value) -> Option<&'a Value> {
        let several = references(value, "specimen");
        let one = text(value, &["specimen", "reference"]);
        let all: Vec<&Value> =
            several.chain(one).filter_map(|reference| self.resolve(Some(reference))).collect();
        all.iter().copied().find(|specimen| specimen_number(specimen).is_some()).or(all.first().copied())
    }

    fn collected(
        &self,
        value: &Value,
        specimen: Option<&Value>,
        name: &str,
        mapping: &Mapping,
    ) -> Result<Collected, Fault> {
        let of_specimen = specimen.and_then(|specimen| {
            text(specimen, &["collection", "collectedDateTime"])
                .or(text(specimen, &["collection", "collectedPeriod", "start"]))
        });
        let of_report = text(value, &["effectiveDateTime"]).or(text(value, &["effectivePeriod", "start"]));
        if let Some(written) = of_specimen.or(of_report) {
            let when = moment(written).ok_or_else(|| {
                Fault::new(
                    format!("{name} collected {}", quoted(written)),
                    "a FHIR dateTime such as 2026-03-02T08:00:00+01:00",
                    "ask the interface team to send the day and time of collection",
                )
                .in_field("collected")
            })?;
            return Ok(when.date_time().map_or(Collected::On(when.date), Collected::At));
        }
        let issued = text(value, &["issued"]).filter(|_| mapping.messages.day_from_report).and_then(moment);
        issued.map(|when| Collected::On(when.date)).ok_or_else(|| {
            Fault::new(
                format!("{name} without a time of collection"),
                "collection.collectedDateTime in its Specimen, or effectiveDateTime",
                "ask the interface team, or write day_from_report = true under [messages] in the mapping to count by the day of the report",
            )
            .in_field("collected")
        })
    }

    fn unit(&self, encounter: &Value) -> Option<String> {
        let first = encounter.get("location")?.as_array()?.first()?;
        let location = first.get("location")?;
        let named = self.resolve(text(location, &["reference"])).and_then(|location| {
            text(location, &["name"]).or_else(|| {
                location
                    .get("identifier")?
                    .as_array()?
                    .iter()
                    .find_map(|identifier| text(identifier, &["value"]))
            })
        });
        named.or(text(location, &["display"])).map(str::to_owned)
    }

    fn collector(&self, specimen: &Value) -> Option<String> {
        let collector = specimen.get("collection")?.get("collector")?;
        let practitioner = self.resolve(text(collector, &["reference"]));
        let identifier = practitioner.and_then(|practitioner| {
            practitioner
                .get("identifier")?
                .as_array()?
                .iter()
                .find_map(|identifier| text(identifier, &["value"]))
        });
        identifier.or(text(collector, &["reference"])).or(text(collector, &["display"])).map(str::to_owned)
    }
}

/// What the observations say about growth. `only_named` takes coded values that name an organism and nothing else.
fn results(observations: &[&Value], mapping: &Mapping, only_named: bool) -> Vec<(ResultKey, ResultValue)> {
    let mut results: Vec<(ResultKey, ResultValue)> = Vec::new();
    for observation in observations {
        let codes = codes(observation.get("code"));
        let about_growth = codes.iter().any(|code| {
            is_blood_culture(code, &mapping.messages.blood_culture_codes) || ORGANISM_CODES.contains(code)
        });
        let coded = observation.get("valueCodeableConcept").and_then(concept_words);
        let said = if only_named {
            coded.filter(|said| codes.is_empty() && is_organism(said))
        } else if about_growth {
            coded.or(text(observation, &["valueString"]))
        } else {
            None
        };
        let withdrawn = matches!(text(observation, &["status"]), Some("entered-in-error" | "cancelled"));
        let value = match said {
            _ if withdrawn => ResultValue::Withdrawn,
            Some(said) => ResultValue::Said(said.to_owned()),
            None => continue,
        };
        let code = codes.first().copied().unwrap_or_default().to_owned();
        let turn = results.iter().filter(|(known, _)| known.code == code).count();
        results.push((ResultKey { code, sub_id: String::new(), turn }, value));
    }
    results
}

fn is_organism(said: &str) -> bool {
    !matches!(Nomenclature::built_in().identify(said).identity, Identity::Unresolved(_))
}

fn is_blood(specimen: Option<&Value>) -> bool {
    specimen
        .is_some_and(|specimen| codes(specimen.get("type")).iter().any(|code| BLOOD_SPECIMEN.contains(code)))
}

/// Every code of a CodeableConcept.
fn codes(concept: Option<&Value>) -> Vec<&str> {
    let codings = concept.and_then(|concept| concept.get("coding")).and_then(Value::as_array);
    codings.into_iter().flatten().filter_map(|coding| text(coding, &["code"])).collect()
}

/// The words of a CodeableConcept: of the first coding that has any, else its text.
fn concept_words(concept: &Value) -> Option<&str> {
    let codings = concept.get("coding").and_then(Value::as_array);
    codings.into_iter().flatten().find_map(|coding| text(coding, &["display"])).or(text(concept, &["text"]))
}

/// The medical record number where one is marked so, else the first identifier.
fn patient_identifier(patient: &Value) -> Option<&str> {
    identifier_of(patient, &["MR"]).or_else(|| first_identifier(patient))
}

/// The laboratory's own number (type FGN), else the ward's (PGN), else the accession number or any other.
fn specimen_number(specimen: &Value) -> Option<&str> {
    identifier_of(specimen, &["FGN", "PGN"])
        .or(text(specimen, &["accessionIdentifier", "value"]))
        .or_else(|| first_identifier(specimen))
}

/// The value of the first identifier of one of these types, in the order of the types.
fn identifier_of<'a>(value: &'a Value, types: &[&str]) -> Option<&'a str> {
    let identifiers = value.get("identifier")?.as_array()?;
    types.iter().find_map(|wanted| {
        identifiers
            .iter()
            .find(|identifier| codes(identifier.get("type")).contains(wanted))
            .and_then(|identifier| text(identifier, &["value"]))
    })
}

fn first_identifier(value: &Value) -> Option<&str> {
    value.get("identifier")?.as_array()?.iter().find_map(|identifier| text(identifier, &["value"]))
}

fn references<'a>(value: &'a Value, field: &str) -> impl Iterator<Item = &'a str> {
    value
        .get(field)
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(|reference| text(reference, &["reference"]))
}

/// The text at the end of a path of names; an empty text counts as none.
fn text<'a>(value: &'a Value, path: &[&str]) -> Option<&'a str> {
    let end = path.iter().try_fold(value, |value, name| value.get(name))?;
    end.as_str().map(str::trim).filter(|text| !text.is_empty())
}

/// A FHIR date or dateTime; the offset is passed over, since the clock of the unit counts.
fn moment(written: &str) -> Option<When> {
    let formats = ["YYYY-MM-DDThh:mm:sszone", "YYYY-MM-DDThh:mmzone", "YYYY-MM-DDThh:mm:ss", "YYYY-MM-DD"];
    DateFormats::new(formats.iter().filter_map(|format| DateFormat::new(format).ok()).collect()).read(written)
}
