//! The stored form of bodies and sets: text in a frozen, versioned shape, apart from the types the rooms work with.
//!
//! A stored version is never edited once a book has been written with it: field names, their order and the words of
//! the choices are frozen, because hashes are taken over the text. A new shape is a new version beside the old one,
//! and the old one stays readable for ever.

#[cfg(test)]
mod tests;
mod v1;
mod v2;
mod v2_refreshed;
mod v2_said;
mod v3_timed;

use culture::CultureSet;

use crate::entry::Body;
use crate::store::{KnownSet, Stands};

/// Why stored text cannot be read back, or a body cannot be stored.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StoredError {
    /// The kind of entry or its version is not known to this program.
    #[error("the kind {kind:?} in version {version}")]
    UnknownKind {
        /// Kind as stored.
        kind: String,
        /// Version as stored.
        version: i64,
    },
    /// The text does not have the shape its kind and version promise.
    #[error("text that does not have the form of {kind:?} version {version} ({detail})")]
    Shape {
        /// Kind as stored.
        kind: String,
        /// Version as stored.
        version: i64,
        /// What was noticed.
        detail: String,
    },
    /// A value inside the body is not one the book can keep.
    #[error("{what}: {found}")]
    Value {
        /// Which value.
        what: &'static str,
        /// The value.
        found: String,
    },
}

/// A body as text, with the kind and version that say how to read it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredBody {
    /// Kind, such as `draw-observed`.
    pub kind: String,
    /// Version of the kind's form.
    pub version: i64,
    /// JSON on one line.
    pub text: String,
}

/// Turns a body into its newest stored form.
pub fn encode(body: &Body) -> Result<StoredBody, StoredError> {
    let (version, text) =
        match v2::encode(body).or_else(|| v2_said::encode(body)).or_else(|| v2_refreshed::encode(body)) {
            Some(text) => (2, text?),
            None => (1, v1::encode(body)?),
        };
    Ok(StoredBody { kind: kind(body).to_owned(), version, text })
}

/// The word under which a body is stored, such as `draw-observed`.
pub fn kind(body: &Body) -> &'static str {
    v1::kind(body)
}

/// Reads a body in whichever version it was stored.
pub fn decode(kind: &str, version: i64, text: &str) -> Result<Body, StoredError> {
    match version {
        1 => v1::decode(kind, text),
        2 if kind == v2_said::KIND => v2_said::decode(text),
        2 if kind == v2_refreshed::KIND => v2_refreshed::decode(text),
        2 => v2::decode(kind, text),
        _ => Err(StoredError::UnknownKind { kind: kind.to_owned(), version }),
    }
}

/// Kind under which a laboratory file that was taken in is stored.
pub const TAKEN_IN: &str = v1::TAKEN_IN;

/// Name of the form in which sets are stored.
const SET: &str = "culture-set";

/// Turns a set into its stored form: version 1 where it is a set of its own, version 2 where its number stands for two
/// halves or is part of another set, and version 3 where its time to positivity is known.
pub fn encode_set(set: &CultureSet, stands: &Stands) -> Result<StoredBody, StoredError> {
    if v3_timed::is_timed(set, stands) {
        let text = v3_timed::encode(set, stands)?;
        return Ok(StoredBody { kind: SET.to_owned(), version: 3, text });
    }
    let (version, text) = match stands {
        Stands::Alone => (1, v1::encode_set(set)?),
        Stands::Joined(_) | Stands::PartOf(_) => (2, v1::encode_split_set(set, stands)?),
    };
    Ok(StoredBody { kind: SET.to_owned(), version, text })
}

/// Reads a set in whichever version it was stored.
pub fn decode_set(version: i64, text: &str) -> Result<KnownSet, StoredError> {
    match version {
        1 => Ok(KnownSet { set: v1::decode_set(text)?, stands: Stands::Alone }),
        2 => v1::decode_split_set(text),
        3 => v3_timed::decode(text),
        _ => Err(StoredError::UnknownKind { kind: SET.to_owned(), version }),
    }
}
