//! Pages go out packed to whoever takes gzip, and say the same.

mod fake;
mod reading;

use std::io::Read;
use std::sync::Arc;

use axum::body::Body;
use axum::http::Request;
use fake::Fake;
use flate2::read::GzDecoder;
use http_body_util::BodyExt;
use tower::ServiceExt;

const DRAW: &str = "/carry-out?breakdown=vein&entry=01890a5d-ac96-774b-bcce-b302099a8057";

async fn asked(router: &axum::Router, address: &str, takes: Option<&str>) -> (Option<String>, Vec<u8>) {
    let mut request = Request::get(address).header("host", "127.0.0.1:8099");
    if let Some(takes) = takes {
        request = request.header("accept-encoding", takes);
    }
    let request = request.body(Body::empty()).expect("an address");
    let response = router.clone().oneshot(request).await.expect("an answer");
    assert_eq!(response.status(), 200, "{address}");
    let coding =
        response.headers().get("content-encoding").map(|value| value.to_str().expect("text").to_owned());
    (coding, response.into_body().collect().await.expect("a body").to_bytes().to_vec())
}

fn unpacked(bytes: &[u8]) -> String {
    let mut text = String::new();
    GzDecoder::new(bytes).read_to_string(&mut text).expect("gzip of text");
    text
}

/// The mask of the secret is another in each answer; everything else is the same, packed or not.
fn without_secrets(text: &str) -> String {
    let mut parts = text.split("name=\"form-secret\" value=\"");
    let mut rest = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (secret, after) = part.split_once('"').expect("the end of a value");
        assert_eq!(secret.len(), 128, "{secret}");
        rest.push_str(after);
    }
    rest
}

#[tokio::test]
async fn packed_pages_say_the_same() {
    let router = site::router(Arc::new(Fake::full()));
    for address in ["/", "/results/pairs", "/methods", "/site.css", DRAW] {
        let (plain, text) = asked(&router, address, None).await;
        assert_eq!(plain, None, "{address}");
        let (coding, packed) = asked(&router, address, Some("gzip, deflate, br")).await;
        assert_eq!(coding.as_deref(), Some("gzip"), "{address}");
        assert!(packed.len() * 2 < text.len(), "{address}: {} of {}", packed.len(), text.len());
        let text = String::from_utf8(text).expect("text");
        assert_eq!(without_secrets(&unpacked(&packed)), without_secrets(&text), "{address}");
        assert_eq!(asked(&router, address, Some("gzip;q=0")).await.0, None, "{address}");
    }
    // What is packed already, and what is too short to be worth it.
    for address in ["/icon-512.png", "/health", "/mark.svg"] {
        assert_eq!(asked(&router, address, Some("gzip")).await.0, None, "{address}");
    }
}

/// The whole page of a draw fits into what 400 kbit/s bring in six tenths of a second.
#[tokio::test]
async fn the_page_of_a_draw_is_small() {
    let router = site::router(Arc::new(Fake::full()));
    let (_, packed) = asked(&router, DRAW, Some("gzip")).await;
    assert!(packed.len() < 30_000, "{} bytes", packed.len());
}
