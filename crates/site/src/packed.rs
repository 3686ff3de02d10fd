//! Answers packed for the way: text goes out as gzip to whoever takes it.
//!
//! A packed answer tells its length, and a length can tell a secret that stands in it beside words somebody else chose.
//! So the secret of a form is masked anew in each answer ([`Secret`](crate::form::Secret)), and the cookie of a sign-in
//! is in a header, which is not packed.

use std::io::Write;

use axum::body::{Body, Bytes, HttpBody, to_bytes};
use axum::extract::Request;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use flate2::Compression;
use flate2::write::GzEncoder;

use crate::problem::Problem;

/// Shorter answers are sent as they are: they fit into one packet either way.
const WORTH_PACKING_BYTES: u64 = 700;
/// Kinds of content that are text. Pictures and papers are packed already.
const TEXT: [&str; 5] =
    ["text/", "application/json", "image/svg+xml", "application/manifest+json", "application/javascript"];

/// Packs what the page gave.
pub(crate) async fn packed(request: Request, next: Next) -> Response {
    let takes = takes_gzip(request.headers());
    let mut response = next.run(request).await;
    let may = is_text(response.headers()) && !response.headers().contains_key(header::CONTENT_ENCODING);
    if !may {
        return response;
    }
    response.headers_mut().append(header::VARY, HeaderValue::from_static("accept-encoding"));
    // An answer whose length is not known yet may go on for long: it is not held back.
    let length = response.body().size_hint().exact();
    if !takes || length.is_none_or(|bytes| bytes < WORTH_PACKING_BYTES) {
        return response;
    }
    let (mut parts, body) = response.into_parts();
    let Ok(bytes) = to_bytes(body, usize::MAX).await else {
        return Problem::Failed("an answer could not be packed".to_owned()).into_response();
    };
    let Some(packed) = gzip(&bytes) else { return Response::from_parts(parts, Body::from(bytes)) };
    parts.headers.insert(header::CONTENT_ENCODING, HeaderValue::from_static("gzip"));
    parts.headers.remove(header::CONTENT_LENGTH);
    Response::from_parts(parts, Body::from(packed))
}

fn is_text(headers: &HeaderMap) -> bool {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    TEXT.iter().any(|text| kind.starts_with(text))
}

fn gzip(bytes: &Bytes) -> Option<Vec<u8>> {
    let mut encoder = GzEncoder::new(Vec::with_capacity(bytes.len() / 4), Compression::new(6));
    encoder.write_all(bytes).ok()?;
    encoder.finish().ok()
}

/// Whether the other side takes gzip: named, or under `*`, and not with a weight of nought (RFC 9110, section 12.5.3).
fn takes_gzip(headers: &HeaderMap) -> bool {
    let mut by_star = None;
    for line in headers.get_all(header::ACCEPT_ENCODING) {
        for each in line.to_str().unwrap_or_default().split(',') {
            let mut pieces = each.split(';').map(str::trim);
            let coding = pieces.next().unwrap_or_default();
            let weight =
                pieces.find_map(|piece| piece.strip_prefix("q=")).map_or(Some(1.0), |q| q.parse().ok());
            let wanted = weight.is_some_and(|weight: f64| weight > 0.0);
            if coding.eq_ignore_ascii_case("gzip") || coding.eq_ignore_ascii_case("x-gzip") {
                return wanted;
            }
            if coding == "*" {
                by_star = Some(wanted);
            }
        }
    }
    by_star.unwrap_or(false)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 9110, section 12.5.3, and what browsers send.
    #[test]
    fn who_takes_gzip() {
        for (sent, takes) in [
            ("compress, gzip", true),
            ("", false),
            ("*", true),
            ("compress;q=0.5, gzip;q=1.0", true),
            ("gzip;q=1.0, identity; q=0.5, *;q=0", true),
            ("gzip, deflate, br, zstd", true),
            ("gzip;q=0", false),
            ("gzip;q=0, *", false),
            ("br", false),
            ("*;q=0", false),
            ("GZIP", true),
            ("gzip;q=x", false),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(header::ACCEPT_ENCODING, HeaderValue::from_static(sent));
            assert_eq!(takes_gzip(&headers), takes, "{sent}");
        }
        assert!(!takes_gzip(&HeaderMap::new()));
    }
}
