//! Parts of FHIR resources: texts, codes, identifiers, quantities.

use super::json::Json;
use crate::laboratory::codes::words_of;

/// The text at the end of a path of names; an empty text counts as none.
pub(super) fn text<'a>(value: &'a Json, path: &[&str]) -> Option<&'a str> {
    let end = path.iter().try_fold(value, |value, name| value.get(name))?;
    end.as_str().map(str::trim).filter(|text| !text.is_empty())
}

/// The members of a list, or the one where a list is expected and a single value stands.
pub(super) fn list<'a>(value: &'a Json, name: &str) -> impl Iterator<Item = &'a Json> {
    let found = value.get(name);
    let several = found.and_then(Json::as_array).into_iter().flatten();
    let one = found.filter(|found| found.is_object());
    several.chain(one)
}

/// Every code of a CodeableConcept.
pub(super) fn codes(concept: Option<&Json>) -> Vec<&str> {
    let codings = concept.and_then(|concept| concept.get("coding")).and_then(Json::as_array);
    codings.into_iter().flatten().filter_map(|coding| text(coding, &["code"])).collect()
}

/// Every code and every word of a CodeableConcept, or of each in a list of them.
pub(super) fn codes_and_words<'a>(value: &'a Json, name: &str) -> Vec<&'a str> {
    let mut found = Vec::new();
    for concept in list(value, name) {
        for coding in list(concept, "coding") {
            found.extend(text(coding, &["code"]));
            found.extend(text(coding, &["display"]));
        }
        found.extend(text(concept, &["text"]));
    }
    found
}

/// The words of a CodeableConcept: of the first coding that has any, else its text, else what its code means, else
/// the code.
pub(super) fn concept_words(concept: &Json) -> Option<&str> {
    let codings = concept.get("coding").and_then(Json::as_array);
    let display = codings.into_iter().flatten().find_map(|coding| text(coding, &["display"]));
    let code = || codes(Some(concept)).first().copied();
    display.or(text(concept, &["text"])).or_else(|| code().map(|code| words_of(code).unwrap_or(code)))
}

/// The value of the first identifier of one of these types, in the order of the types.
pub(super) fn identifier_of<'a>(value: &'a Json, types: &[&str]) -> Option<&'a str> {
    types.iter().find_map(|wanted| {
        list(value, "identifier")
            .find(|identifier| codes(identifier.get("type")).contains(wanted))
            .and_then(|identifier| text(identifier, &["value"]))
    })
}

pub(super) fn first_identifier(value: &Json) -> Option<&str> {
    list(value, "identifier").find_map(|identifier| text(identifier, &["value"]))
}

/// Number and unit of a Quantity, as they are written; the code of the unit before its words.
pub(super) fn quantity(value: &Json) -> Option<(String, &str)> {
    let number = value.get("value")?;
    let number = match number {
        Json::Number(number) => number.to_string(),
        Json::Text(text) => text.to_string(),
        _ => return None,
    };
    Some((number, text(value, &["code"]).or(text(value, &["unit"]))?))
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn of(value: serde_json::Value) -> Json {
        serde_json::from_value(value).unwrap()
    }

    #[test]
    fn words_come_from_the_first_place_that_has_any() {
        let concept = of(
            json!({"coding": [{"code": "1"}, {"code": "2", "display": "Candida albicans"}], "text": "yeast"}),
        );
        assert_eq!(concept_words(&concept), Some("Candida albicans"));
        assert_eq!(concept_words(&of(json!({"coding": [{"code": "264868006"}]}))), Some("no growth"));
        assert_eq!(concept_words(&of(json!({"coding": [{"code": "77"}]}))), Some("77"));
        assert_eq!(concept_words(&of(json!({}))), None);
        assert_eq!(concept_words(&of(json!(7))), None);
    }

    #[test]
    fn a_single_value_where_a_list_is_expected_is_read() {
        let one = of(json!({"identifier": {"value": "A"}}));
        assert_eq!(first_identifier(&one), Some("A"));
        assert_eq!(quantity(&of(json!({"value": 8.5, "unit": "mL"}))), Some(("8.5".to_owned(), "mL")));
        assert_eq!(quantity(&of(json!({"value": true, "unit": "mL"}))), None);
    }
}
