//! The resources of all files, found by the references other resources make.

use std::collections::HashMap;

use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};

use super::json::{Json, Name};
use super::values::{list, text};
use crate::laboratory::account::Place;
use crate::laboratory::moment::Moment;

/// Kinds that say something about a culture; others are not kept.
const KINDS: [&str; 9] = [
    "DiagnosticReport",
    "Observation",
    "Specimen",
    "Patient",
    "Encounter",
    "Location",
    "Practitioner",
    "PractitionerRole",
    "ServiceRequest",
];

/// Fields that are read; everything else is dropped at once, since an export may be large.
const FIELDS: [&str; 34] = [
    "resourceType",
    "id",
    "meta",
    "contained",
    "identifier",
    "status",
    "code",
    "subject",
    "encounter",
    "effectiveDateTime",
    "effectivePeriod",
    "issued",
    "specimen",
    "result",
    "hasMember",
    "derivedFrom",
    "component",
    "valueCodeableConcept",
    "valueString",
    "valueQuantity",
    "basedOn",
    "bodySite",
    "birthDate",
    "location",
    "type",
    "accessionIdentifier",
    "receivedTime",
    "parent",
    "collection",
    "container",
    "name",
    "practitioner",
    "link",
    "interpretation",
];

/// Most contained resources looked at in one resource.
const MOST_CONTAINED: usize = 1_000;

#[derive(Debug)]
pub(super) struct Resource {
    pub place: Place,
    pub value: Json,
    /// The resource it is contained in, where it is.
    within: Option<usize>,
    /// A later version of it is there.
    pub replaced: bool,
}

impl Resource {
    pub(super) fn kind(&self) -> &str {
        text(&self.value, &["resourceType"]).unwrap_or_default()
    }

    /// "Observation/f206".
    pub(super) fn name(&self) -> String {
        format!("{}/{}", self.kind(), text(&self.value, &["id"]).unwrap_or("?"))
    }
}

#[derive(Debug, Default)]
pub(super) struct Store {
    all: Vec<Resource>,
    by_reference: HashMap<String, usize>,
    by_identifier: HashMap<(String, String), usize>,
    contained: HashMap<(usize, String), usize>,
}

impl Store {
    pub(super) fn all(&self) -> impl Iterator<Item = (usize, &Resource)> {
        self.all.iter().enumerate()
    }

    pub(super) fn at(&self, place: usize) -> &Resource {
        &self.all[place]
    }

    /// The resource that a Reference means, as `from` makes it: contained (`#id`), by full address, by kind and id,
    /// or by identifier.
    pub(super) fn resolve(&self, from: usize, reference: &Json) -> Option<usize> {
        let written = text(reference, &["reference"]);
        if let Some(id) = written.and_then(|written| written.strip_prefix('#')) {
            let holder = self.all.get(from)?.within.unwrap_or(from);
            return self.contained.get(&(holder, id.to_owned())).copied();
        }
        if let Some(found) = written.and_then(|written| self.by_address(written)) {
            return Some(found);
        }
        let value = text(reference, &["identifier", "value"])?;
        let system = text(reference, &["identifier", "system"]).unwrap_or_default();
        self.by_identifier.get(&(system.to_owned(), value.to_owned())).copied()
    }

    /// A place of its own for the resource that a Reference means.
    pub(super) fn follow(&self, from: usize, reference: Option<&Json>) -> Option<(usize, &Json)> {
        let place = self.resolve(from, reference?)?;
        Some((place, &self.all[place].value))
    }

    fn by_address(&self, written: &str) -> Option<usize> {
        if let Some(found) = self.by_reference.get(written) {
            return Some(*found);
        }
        // A version may be named, and the server it came from may be left out or put in.
        let bare = written.split_once("/_history/").map_or(written, |(bare, _)| bare);
        if let Some(found) = self.by_reference.get(bare) {
            return Some(*found);
        }
        let mut parts = bare.rsplit('/');
        let (id, kind) = (parts.next()?, parts.next()?);
        self.by_reference.get(&format!("{kind}/{id}")).copied()
    }

    /// Takes in JSON text: a resource, a Bundle or a list of resources. Entries are taken one at a time, and those
    /// before a fault are kept.
    pub(super) fn take(&mut self, json: &str, place: Place) -> Result<(), serde_json::Error> {
        let mut reader = serde_json::Deserializer::from_str(json);
        Top { store: self, place }.deserialize(&mut reader)?;
        reader.end()
    }

    fn keep(&mut self, value: Json, place: Place, full_url: Option<String>) {
        let kind = text(&value, &["resourceType"]).unwrap_or_default();
        if kind == "Bundle" {
            if let Json::Object(members) = value {
                let entries = members.into_iter().rev().find(|(name, _)| *name == "entry");
                if let Some((_, Json::List(entries))) = entries {
                    entries.into_iter().for_each(|entry| self.keep_entry(entry, place));
                }
            }
            return;
        }
        if !KINDS.contains(&kind) {
            return;
        }
        let (value, contained) = pruned(value);
        let at = self.all.len();
        self.all.push(Resource { place, value, within: None, replaced: false });
        self.index(at, full_url);
        for inner in contained.into_iter().take(MOST_CONTAINED) {
            let inner_at = self.all.len();
            if let Some(id) = text(&inner, &["id"]) {
                self.contained.insert((at, id.trim_start_matches('#').to_owned()), inner_at);
            }
            let (value, _) = pruned(inner);
            self.all.push(Resource { place, value, within: Some(at), replaced: false });
        }
    }

    fn keep_entry(&mut self, entry: Json, place: Place) {
        let url = text(&entry, &["fullUrl"]).map(str::to_owned);
        let Json::Object(members) = entry else { return };
        let resource = members.into_iter().rev().find(|(name, _)| *name == "resource");
        if let Some((_, resource)) = resource {
            self.keep(resource, place, url);
        }
    }

    /// Makes a resource findable. Of two versions the later one stays.
    fn index(&mut self, at: usize, full_url: Option<String>) {
        let value = &self.all[at].value;
        let kind = text(value, &["resourceType"]).unwrap_or_default();
        let name = text(value, &["id"]).map(|id| format!("{kind}/{id}"));
        let of_identifiers: Vec<(String, String)> = list(value, "identifier")
            .filter_map(|identifier| {
                let value = text(identifier, &["value"])?;
                let system = text(identifier, &["system"]).unwrap_or_default();
                Some((system.to_owned(), value.to_owned()))
            })
            .collect();
        let addresses: Vec<String> = full_url.into_iter().chain(name).collect();
        let earlier = addresses.iter().find_map(|address| self.by_reference.get(address)).copied();
        if let Some(earlier) = earlier {
            if is_newer(&self.all[earlier].value, value) {
                self.all[at].replaced = true;
                return;
            }
            self.all[earlier].replaced = true;
        }
        for address in addresses {
            self.by_reference.insert(address, at);
        }
        for identifier in of_identifiers {
            self.by_identifier.insert(identifier, at);
        }
    }
}

/// A resource with the fields that are read, and the resources contained in it. Of a patient only what tells patients
/// apart and their age is kept.
fn pruned(resource: Json) -> (Json, Vec<Json>) {
    let is_patient = text(&resource, &["resourceType"]) == Some("Patient");
    let Json::Object(members) = resource else { return (Json::Nothing, Vec::new()) };
    let mut contained = Vec::new();
    let mut kept = Vec::with_capacity(members.len());
    for (name, value) in members {
        match (name, value) {
            ("contained", Json::List(inner)) => contained.extend(inner),
            (name, _) if !FIELDS.contains(&name) || (is_patient && name == "name") => {}
            (name, value) => kept.push((name, value)),
        }
    }
    (Json::Object(kept.into()), contained)
}

/// By the time of the last update, where both have one; of equals the later in the files counts.
fn is_newer(one: &Json, other: &Json) -> bool {
    let updated =
        |value: &Json| text(value, &["meta", "lastUpdated"]).and_then(Moment::fhir).map(Moment::seconds);
    matches!((updated(one), updated(other)), (Some(one), Some(other)) if one > other)
}

/// The outermost value: entries of a Bundle and members of a list are kept as they come, so that the whole is never
/// in memory as JSON values at once.
struct Top<'s> {
    store: &'s mut Store,
    place: Place,
}

impl<'de> DeserializeSeed<'de> for Top<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Top<'_> {
    type Value = ();

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("a FHIR resource or a list of them")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        while let Some(member) = members.next_element::<Json>()? {
            self.store.keep(member, self.place, None);
        }
        Ok(())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut fields: A) -> Result<(), A::Error> {
        let mut object = Vec::new();
        while let Some(name) = fields.next_key_seed(Name)? {
            match name {
                Some("entry") => {
                    fields.next_value_seed(Entries { store: &mut *self.store, place: self.place })?;
                }
                Some(name) => object.push((name, fields.next_value()?)),
                None => {
                    fields.next_value::<IgnoredAny>()?;
                }
            }
        }
        self.store.keep(Json::Object(object.into()), self.place, None);
        Ok(())
    }
}

struct Entries<'s> {
    store: &'s mut Store,
    place: Place,
}

impl<'de> DeserializeSeed<'de> for Entries<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Entries<'_> {
    type Value = ();

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("a list of entries")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut entries: A) -> Result<(), A::Error> {
        while let Some(entry) = entries.next_element::<Json>()? {
            self.store.keep_entry(entry, self.place);
        }
        Ok(())
    }

    // An entry of another shape says nothing, and the rest of the resource is still read.
    fn visit_map<A: MapAccess<'de>>(self, mut fields: A) -> Result<(), A::Error> {
        while fields.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
        Ok(())
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        Ok(())
    }

    fn visit_bool<E>(self, _: bool) -> Result<(), E> {
        Ok(())
    }

    fn visit_i64<E>(self, _: i64) -> Result<(), E> {
        Ok(())
    }

    fn visit_u64<E>(self, _: u64) -> Result<(), E> {
        Ok(())
    }

    fn visit_f64<E>(self, _: f64) -> Result<(), E> {
        Ok(())
    }

    fn visit_str<E>(self, _: &str) -> Result<(), E> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    const PLACE: Place = Place { file: 0, line: 0 };

    fn store(texts: &[&str]) -> Store {
        let mut store = Store::default();
        for text in texts {
            store.take(text, PLACE).unwrap();
        }
        store
    }

    /// FHIR R4, Reference: literal (relative, absolute, versioned, urn), contained and logical; Bundle.entry.fullUrl.
    #[test]
    fn references_are_resolved_in_every_form() {
        let bundle = json!({"resourceType": "Bundle", "type": "message", "entry": [
            {"fullUrl": "urn:uuid:1", "resource": {"resourceType": "Patient", "id": "p",
                "identifier": [{"system": "urn:x", "value": "77"}]}},
            {"fullUrl": "https://lab.example/fhir/Observation/o", "resource": {"resourceType": "Observation", "id": "o",
                "contained": [{"resourceType": "Specimen", "id": "s"}]}},
        ]});
        let store = store(&[&bundle.to_string()]);
        assert_eq!(store.all.len(), 3);
        for (reference, expected) in [
            (json!({"reference": "urn:uuid:1"}), Some(0)),
            (json!({"reference": "Patient/p"}), Some(0)),
            (json!({"reference": "https://other.example/Patient/p/_history/3"}), Some(0)),
            (json!({"identifier": {"system": "urn:x", "value": "77"}}), Some(0)),
            (json!({"identifier": {"system": "urn:y", "value": "77"}}), None),
            (json!({"reference": "https://lab.example/fhir/Observation/o"}), Some(1)),
            (json!({"reference": "#s"}), Some(2)),
            (json!({"reference": "#t"}), None),
            (json!({"reference": "Patient/q"}), None),
            (json!({}), None),
            (json!("Patient/p"), None),
        ] {
            let parsed: Json = serde_json::from_value(reference.clone()).unwrap();
            assert_eq!(store.resolve(1, &parsed), expected, "{reference}");
        }
    }

    #[test]
    fn of_two_versions_the_later_stays() {
        let version = |status: &str, updated: &str| {
            json!({"resourceType": "Observation", "id": "o", "status": status, "meta": {"lastUpdated": updated}})
                .to_string()
        };
        let (first, last) =
            (version("preliminary", "2026-03-02T08:00:00Z"), version("final", "2026-03-04T08:00:00+01:00"));
        for order in [[first.as_str(), &last], [&last, first.as_str()]] {
            let store = store(&order);
            let reference: Json = serde_json::from_value(json!({"reference": "Observation/o"})).unwrap();
            let (_, kept) = store.follow(0, Some(&reference)).unwrap();
            assert_eq!(text(kept, &["status"]), Some("final"));
            assert_eq!(store.all().filter(|(_, resource)| resource.replaced).count(), 1);
        }
    }

    #[test]
    fn entries_before_a_fault_are_kept_and_odd_shapes_are_passed_over() {
        let mut cut = Store::default();
        let text = r#"{"resourceType":"Bundle","entry":[{"resource":{"resourceType":"Patient","id":"p"}},{"resource":{"resou"#;
        assert!(cut.take(text, PLACE).is_err());
        assert_eq!(cut.all.len(), 1);
        for odd in ["7", "{\"a\":1}", "null", "\"x\"", "true", "{}"] {
            let text = format!(r#"{{"entry":{odd},"resourceType":"Patient","id":"p"}}"#);
            assert_eq!(store(&[&text]).all.len(), 1, "{text}");
        }
    }
}
