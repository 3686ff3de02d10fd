//! Facts as values of the typesetter.

use typst::foundations::{Array, Bytes, Datetime, Dict, Str, Value};

use crate::press::printable;

/// Text from outside. It stays text: the typesetter never reads it as markup.
pub(crate) fn text(text: &str) -> Value {
    Value::Str(Str::from(printable(text)))
}

/// Text, or nothing.
pub(crate) fn optional(text_or_none: Option<&str>) -> Value {
    text_or_none.map_or(Value::None, text)
}

/// A list.
pub(crate) fn list(items: impl IntoIterator<Item = Value>) -> Value {
    Value::Array(items.into_iter().collect::<Array>())
}

/// A list of texts.
pub(crate) fn texts<'a>(items: impl IntoIterator<Item = &'a String>) -> Value {
    list(items.into_iter().map(|item| text(item)))
}

/// Named values.
pub(crate) fn named<const N: usize>(pairs: [(&'static str, Value); N]) -> Value {
    Value::Dict(dict(pairs))
}

/// Named values for the template as a whole.
pub(crate) fn dict<const N: usize>(pairs: [(&'static str, Value); N]) -> Dict {
    pairs.into_iter().map(|(name, value)| (Str::from(name), value)).collect()
}

/// A drawing, with what a screen reader says in its place.
pub(crate) fn drawing(svg: String, instead: &str) -> Value {
    named([("svg", Value::Bytes(Bytes::from_string(svg))), ("alt", text(instead))])
}

/// A date for the document's own properties; `None` outside the years 0 to 9999.
pub(crate) fn date(date: jiff::civil::Date) -> Option<Value> {
    let (month, day) = (u8::try_from(date.month()).ok()?, u8::try_from(date.day()).ok()?);
    let year = i32::from(date.year());
    let date = (0..=9999).contains(&year).then(|| Datetime::from_ymd(year, month, day)).flatten()?;
    Some(Value::Datetime(date))
}
