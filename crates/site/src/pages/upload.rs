//! A form with a file, read field by field.

use axum::extract::multipart::{Multipart, MultipartRejection};
use axum::http::StatusCode;

use crate::address::quote;
use crate::problem::Problem;

/// The fields of a form and the bytes of its file; empty bytes where none was chosen.
pub(super) async fn parts(
    sent: Result<Multipart, MultipartRejection>,
    longest: usize,
) -> Result<(Vec<(String, String)>, Vec<u8>), Problem> {
    let bad = |words: String| Problem::BadForm {
        found: quote(&words),
        expected: "a form as these pages send it, with one file at most".to_owned(),
    };
    let too_large_or = |status: StatusCode, otherwise: Problem| {
        if status == StatusCode::PAYLOAD_TOO_LARGE { Problem::FormTooLarge { longest } } else { otherwise }
    };
    let mut parts = sent.map_err(|rejection| bad(rejection.body_text()))?;
    let (mut fields, mut file) = (Vec::new(), Vec::new());
    loop {
        let part = match parts.next_field().await {
            Ok(Some(part)) => part,
            Ok(None) => return Ok((fields, file)),
            Err(error) => return Err(too_large_or(error.status(), bad(error.body_text()))),
        };
        let field = part.name().unwrap_or_default().to_owned();
        let bytes = match part.bytes().await {
            Ok(bytes) => bytes,
            Err(error) => return Err(too_large_or(error.status(), bad(error.body_text()))),
        };
        if field == "file" {
            file = bytes.to_vec();
        } else {
            match String::from_utf8(bytes.to_vec()) {
                Ok(text) => fields.push((field, text)),
                Err(_) => return Err(bad(format!("the field {field} in another encoding than UTF-8"))),
            }
        }
    }
}
