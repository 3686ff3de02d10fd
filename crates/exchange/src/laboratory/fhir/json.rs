//! JSON as far as it is needed: only members whose names are known are kept, in little memory.
//!
//! A bulk export holds hundreds of thousands of resources, and most of what stands in them says nothing about a
//! culture. Names of people are among what is dropped before it is ever held.

use std::fmt;

use serde::de::{Deserialize, DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};

/// Every name that is read, in order.
const NAMES: [&str; 55] = [
    "accessionIdentifier",
    "basedOn",
    "birthDate",
    "bodySite",
    "code",
    "coding",
    "collectedDateTime",
    "collectedPeriod",
    "collection",
    "collector",
    "component",
    "contained",
    "container",
    "derivedFrom",
    "display",
    "effectiveDateTime",
    "effectivePeriod",
    "encounter",
    "end",
    "entry",
    "fullUrl",
    "hasMember",
    "id",
    "identifier",
    "interpretation",
    "issued",
    "lastUpdated",
    "link",
    "location",
    "meta",
    "method",
    "name",
    "other",
    "parent",
    "period",
    "practitioner",
    "quantity",
    "receivedTime",
    "reference",
    "resource",
    "resourceType",
    "result",
    "specimen",
    "specimenQuantity",
    "start",
    "status",
    "subject",
    "system",
    "text",
    "type",
    "unit",
    "value",
    "valueCodeableConcept",
    "valueQuantity",
    "valueString",
];

/// A JSON value. Numbers are kept as they would be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Json {
    /// Null, true and false, which say nothing here.
    Nothing,
    Number(Box<str>),
    Text(Box<str>),
    List(Box<[Json]>),
    Object(Box<[(&'static str, Json)]>),
}

impl Json {
    /// A member of an object; of two with one name the last, as in JSON readers everywhere.
    pub(super) fn get(&self, name: &str) -> Option<&Json> {
        let Json::Object(members) = self else { return None };
        members.iter().rev().find(|(known, _)| *known == name).map(|(_, value)| value)
    }

    pub(super) fn as_str(&self) -> Option<&str> {
        if let Json::Text(text) = self { Some(text) } else { None }
    }

    pub(super) fn as_array(&self) -> Option<&[Json]> {
        if let Json::List(members) = self { Some(members) } else { None }
    }

    pub(super) fn is_object(&self) -> bool {
        matches!(self, Json::Object(_))
    }
}

/// Reads the name of a member; `None` for one that is not read.
pub(super) struct Name;

impl<'de> DeserializeSeed<'de> for Name {
    type Value = Option<&'static str>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_identifier(self)
    }
}

impl Visitor<'_> for Name {
    type Value = Option<&'static str>;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("the name of a member")
    }

    fn visit_str<E>(self, name: &str) -> Result<Self::Value, E> {
        Ok(NAMES.binary_search(&name).ok().map(|at| NAMES[at]))
    }
}

impl<'de> Deserialize<'de> for Json {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reader)
    }
}

struct Reader;

impl<'de> Visitor<'de> for Reader {
    type Value = Json;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("any JSON value")
    }

    fn visit_unit<E>(self) -> Result<Json, E> {
        Ok(Json::Nothing)
    }

    fn visit_bool<E>(self, _: bool) -> Result<Json, E> {
        Ok(Json::Nothing)
    }

    fn visit_i64<E>(self, number: i64) -> Result<Json, E> {
        Ok(Json::Number(number.to_string().into()))
    }

    fn visit_u64<E>(self, number: u64) -> Result<Json, E> {
        Ok(Json::Number(number.to_string().into()))
    }

    fn visit_f64<E>(self, number: f64) -> Result<Json, E> {
        Ok(Json::Number(number.to_string().into()))
    }

    fn visit_str<E>(self, text: &str) -> Result<Json, E> {
        Ok(Json::Text(text.into()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut members: A) -> Result<Json, A::Error> {
        let mut list = Vec::new();
        while let Some(member) = members.next_element()? {
            list.push(member);
        }
        Ok(Json::List(list.into()))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Json, A::Error> {
        let mut object = Vec::new();
        while let Some(name) = members.next_key_seed(Name)? {
            match name {
                Some(name) => object.push((name, members.next_value()?)),
                None => {
                    members.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(Json::Object(object.into()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_in_order() {
        assert!(NAMES.is_sorted());
    }

    #[test]
    fn only_what_is_known_is_kept() {
        let json: Json = serde_json::from_str(
            r#"{"id":"p","family":"Secret","value":8.50,"code":[1,null,true,{"x":1}],"id":"q"}"#,
        )
        .unwrap();
        assert_eq!(json.get("id").and_then(Json::as_str), Some("q"));
        assert_eq!(json.get("family"), None);
        assert_eq!(json.get("value"), Some(&Json::Number("8.5".into())));
        let list = json.get("code").and_then(Json::as_array).unwrap();
        assert_eq!(list.len(), 4);
        assert!(list[3].is_object() && list[1] == Json::Nothing);
        assert!(!format!("{json:?}").contains("Secret"));
        assert!(serde_json::from_str::<Json>(&"[".repeat(100_000)).is_err());
    }
}
