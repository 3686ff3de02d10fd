//! What is refused, how failures are told, and what every answer carries.

mod fake;
mod reading;

use std::sync::Arc;

use axum::body::Body;
use axum::http::Request;
use fake::{Fake, Mood};
use reading::{ask, get, get_from};

#[tokio::test]
async fn bad_addresses_are_told_in_plain_words() {
    let long = format!("/people?name={}", "x".repeat(101));
    let longer = format!("/people?name={}", "x".repeat(3_000));
    let long_id = format!("/people/{}", "x".repeat(65));
    let rows: [(&str, u16, &str); 20] = [
        ("/people/nobody", 404, "Nobody on the unit has the staff identifier “nobody”"),
        ("/people/%3Cscript%3E", 404, "“<script>”"),
        ("/people/%E2%80%AEab", 404, "“\u{fffd}ab”"),
        ("/people/%20", 400, "a staff identifier of 1 to 64 characters"),
        ("/people/a%0Ab", 400, "a staff identifier of 1 to 64 characters"),
        ("/people/%FF", 400, "an escape that is not UTF-8 text"),
        (&long_id, 400, "65 characters"),
        ("/people/N-112/secret", 404, "Nothing has this address."),
        ("/breakdowns/none", 404, "No job in force has the code “none”"),
        ("/reports/2026-13", 400, "a year and a month from 01 to 12, such as 2026-03"),
        ("/reports/march", 400, "In the place of the month stands “march”"),
        ("/reports/1999-01", 404, "There is no report of January 1999"),
        ("/papers/poster/vein.pdf", 404, "No paper is called “poster”"),
        ("/papers/pocket-card/vein", 400, "a name that ends in .pdf"),
        ("/papers/pocket-card/none.pdf", 404, "No job in force has the code “none”"),
        ("/papers/person/nobody.pdf", 404, "Nobody on the unit"),
        ("/papers/report/2026-13.pdf", 400, "such as 2026-03"),
        (&long, 400, "at most 100 characters"),
        (&longer, 414, "more than 2000 characters"),
        ("/people?standing=%3Cb%3Eboss", 400, "one of: decision due, not planned, planned, learning"),
    ];
    for (address, status, words) in rows {
        let page = get(address).await;
        assert_eq!(page.status, status, "{address}");
        assert!(page.text("main").contains(words), "{address}: {}", page.text("main"));
        assert_eq!(page.count("h1"), 1, "{address}");
        assert!(
            page.attributes(".ways-back a", "href").contains(&"/".to_owned()),
            "a way back from {address}"
        );
        assert_eq!(page.count("script, b"), 0, "{address}");
    }
    let twice = get("/people?name=a&name=b").await;
    assert_eq!(twice.status, 400);
    assert!(twice.text("main").contains("each at most once"));
}

#[tokio::test]
async fn failures_show_a_fixed_phrase_and_keep_the_detail() {
    for (mood, status, phrase) in [
        (Mood::Failing, 500, "The page could not be made"),
        (Mood::Panicking, 500, "The page could not be made"),
        (Mood::Busy, 503, "The record book is busy"),
    ] {
        for address in [
            "/",
            "/people",
            "/people/N-112",
            "/breakdowns",
            "/results",
            "/results/pairs",
            "/reports/2026-02",
            "/papers/person/N-112.pdf",
        ] {
            let page = get_from(Fake { mood, ..Fake::full() }, address).await;
            assert_eq!(page.status, status, "{mood:?} {address}");
            assert_eq!(page.text("h1"), phrase);
            assert!(page.text("main").contains("Nothing"), "says that nothing is lost");
            for detail in ["secret", "entry 17", "process 99", "panicked"] {
                assert!(!page.body.contains(detail), "{detail} on {address}");
            }
            assert_eq!(page.header("cache-control"), "no-store");
        }
    }
    assert_eq!(get_from(Fake::in_mood(Mood::Busy), "/").await.header("retry-after"), "2");
}

#[tokio::test]
async fn every_answer_carries_the_headers() {
    let too_long = format!("/{}", "x".repeat(2_000));
    for address in [
        "/",
        "/people/N-112",
        "/papers/person/N-112.pdf",
        "/health",
        "/site.css",
        "/mark.svg",
        "/nowhere",
        "/reports/2026-13",
        &too_long,
    ] {
        let page = get(address).await;
        let policy = page.header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
            "{address}"
        );
        assert!(!policy.contains("unsafe") && policy.contains("script-src 'self';"), "{address}: {policy}");
        assert_eq!(page.header("x-content-type-options"), "nosniff", "{address}");
        assert_eq!(page.header("referrer-policy"), "same-origin", "{address}");
        assert_eq!(page.header("x-frame-options"), "DENY", "{address}");
        assert_ne!(page.header("cache-control"), "", "{address}");
    }
}

#[tokio::test]
async fn other_hosts_are_refused() {
    let with_host = async |host: Option<&str>| {
        let mut request = Request::get("/people");
        if let Some(host) = host {
            request = request.header("host", host);
        }
        ask(Fake::full(), request.body(Body::empty()).unwrap()).await
    };
    for host in ["localhost:8099", "127.0.0.1", "[::1]:8099"] {
        assert_eq!(with_host(Some(host)).await.status, 200, "{host}");
    }
    for host in [Some("evil.example"), Some("127.0.0.1.evil.example:8099"), Some("192.0.2.7"), Some(""), None]
    {
        let page = with_host(host).await;
        assert_eq!(page.status, 421, "{host:?}");
        assert!(!page.body.contains("Maren"), "{host:?}");
        assert!(page.text("main").contains("localhost"), "{host:?}");
    }
    let two = Request::get("/")
        .header("host", "localhost")
        .header("host", "evil.example")
        .body(Body::empty())
        .unwrap();
    assert_eq!(ask(Fake::full(), two).await.status, 421);
}

#[tokio::test]
async fn pages_are_only_read() {
    for method in ["POST", "PUT", "DELETE", "PATCH"] {
        for address in ["/people", "/people/N-112", "/nowhere"] {
            let request = Request::builder()
                .method(method)
                .uri(address)
                .header("host", "localhost")
                .body(Body::empty())
                .unwrap();
            let page = ask(Fake::full(), request).await;
            assert_eq!(page.status, 405, "{method} {address}");
            assert!(page.text("main").contains("Nothing was changed"), "{method} {address}");
        }
    }
    let head = Request::head("/people").header("host", "localhost").body(Body::empty()).unwrap();
    let page = ask(Fake::full(), head).await;
    assert_eq!((page.status, page.body.as_str()), (200, ""));
}

#[tokio::test]
async fn papers_are_pdf_files_named_without_names() {
    for (address, file) in [
        ("/papers/pocket-card/vein.pdf", "pocket-card-vein.pdf"),
        ("/papers/observation-sheet/central-line.pdf", "observation-sheet-central-line.pdf"),
        ("/papers/person/N-112.pdf", "record-N-112.pdf"),
        ("/papers/report/2026-02.pdf", "report-2026-02.pdf"),
    ] {
        let paper = get(address).await;
        assert_eq!(paper.status, 200, "{address}");
        assert_eq!(paper.header("content-type"), "application/pdf");
        assert_eq!(paper.header("content-disposition"), format!("inline; filename=\"{file}\""));
        assert_eq!(paper.header("cache-control"), "no-store");
        assert!(paper.body.starts_with("%PDF-"), "{address}");
    }
}

#[tokio::test]
async fn the_style_sheet_is_kept_only_under_its_own_digest() {
    let address = get("/").await.attributes("link[rel=stylesheet]", "href").remove(0);
    assert!(address.starts_with("/site.css?v="), "{address}");
    let style = get(&address).await;
    assert_eq!(style.header("content-type"), "text/css; charset=utf-8");
    assert!(style.header("cache-control").contains("immutable"));
    assert_eq!(get("/site.css?v=other").await.header("cache-control"), "no-cache");
    assert!(!style.body.contains("url(") && !style.body.contains("@import"), "nothing comes from elsewhere");
}

#[tokio::test]
async fn health_is_one_line() {
    let page = get("/health").await;
    assert_eq!((page.status, page.body.as_str()), (200, "ok wardwright 0.1.0\n"));
}

#[tokio::test]
async fn a_bound_site_answers_and_stops_when_told() {
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    let listening = site::bind("127.0.0.1:0".parse().unwrap()).await.unwrap();
    let address = listening.address();
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let running = tokio::spawn(listening.run(Arc::new(Fake::full()), Arc::new(site::OpenDoor), async move {
        let _ = stopped.await;
    }));
    let mut stream = tokio::net::TcpStream::connect(address).await.unwrap();
    stream
        .write_all(format!("GET /health HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n").as_bytes())
        .await
        .unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    assert!(
        answer.starts_with("HTTP/1.1 200 OK\r\n") && answer.ends_with("ok wardwright 0.1.0\n"),
        "{answer}"
    );
    stop.send(()).unwrap();
    running.await.unwrap().unwrap();
}
