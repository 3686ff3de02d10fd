//! Every form of every page with empty, over-long, script-like, right-to-left and emoji text, in every text field at once.

mod fake;
mod reading;

use std::collections::BTreeSet;

use axum::body::Body;
use axum::http::Request;
use fake::Fake;
use reading::{Form, Visitor};

const SCRIPT: &str = "\"><script>document.title='taken'</script><img src=x onerror=alert(1)>'&amp;";
const RIGHT_TO_LEFT: &str = "\u{202e}דנה שדה אמרה הכול";
const EMOJI: &str = "👩🏽‍⚕️🩸 ok’d";

/// Addresses of every page with the invented unit's names in place of what stands in braces.
fn pages() -> Vec<String> {
    let fixed = [
        "/teach-back/new?person=N-112&breakdown=vein",
        "/teach-back/transcript?person=N-112&breakdown=vein",
        "/observe/new?person=N-112&breakdown=vein",
        "/carry-out?person=N-112&breakdown=vein",
        "/practice/vein?person=N-112",
        "/signing?person=N-112&breakdown=vein",
        "/confidence?person=N-112&breakdown=vein",
        "/editor?breakdown=vein",
        "/plan/proposed?job=vein",
        "/start/breakdown?ready=ready",
    ];
    let correct = format!("/correct/{}", fake::start::CORRECTABLE);
    let filled = site::addresses()
        .into_iter()
        .filter(|path| !path.ends_with(".js") && !path.ends_with(".png"))
        .map(|path| {
            path.replace("{id}", "N-112")
                .replace("{code}", "vein")
                .replace("{month}", "2026-02")
                .replace("/correct/{entry}", &correct)
        });
    filled.chain(fixed.map(str::to_owned)).filter(|path| !path.contains('{')).collect()
}

/// A page, and those it leads on to at once.
async fn follow(visitor: &Visitor, address: &str) -> reading::Page {
    let mut page = visitor.get(address).await;
    for _ in 0..3 {
        if page.status != 303 {
            break;
        }
        page = visitor.get(page.header("location")).await;
    }
    page
}

async fn send(visitor: &Visitor, form: &Form, button: &[(String, String)], text: &str) -> reading::Page {
    // An address of more than 64 kB is none that a browser sends.
    let longest = if form.method == "get" { 1_500 } else { usize::MAX };
    let text: String = text.chars().take(longest).collect();
    let mut fields: Vec<(String, String)> = form
        .fields
        .iter()
        .map(|field| (field.name.clone(), if field.is_text { text.clone() } else { field.value.clone() }))
        .collect();
    fields.extend(button.iter().cloned());
    if form.method == "get" {
        let question = reading::encoded(&fields);
        let address = form.action.split('#').next().unwrap_or_default();
        return visitor.get(&format!("{address}?{question}")).await;
    }
    if form.is_multipart {
        const EDGE: &str = "edge-of-parts";
        let mut body = String::new();
        for (name, value) in &fields {
            body.push_str(&format!(
                "--{EDGE}\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n"
            ));
        }
        body.push_str(&format!("--{EDGE}--\r\n"));
        let request = Request::post(&form.action)
            .header("host", "127.0.0.1:8099")
            .header("origin", "http://127.0.0.1:8099")
            .header("content-type", format!("multipart/form-data; boundary={EDGE}"))
            .body(Body::from(body))
            .expect("a form");
        return visitor.send(request).await;
    }
    visitor.post(&form.action, &fields).await
}

#[tokio::test]
async fn no_text_breaks_a_form_and_none_is_lost() {
    let texts =
        [String::new(), "x".repeat(4_000), SCRIPT.to_owned(), RIGHT_TO_LEFT.to_owned(), EMOJI.to_owned()];
    let mut sent_to = BTreeSet::new();
    let mut faults = Vec::new();
    let mut n_refused = 0;
    for address in pages() {
        let visitor = Visitor::of(Fake::full());
        let page = follow(&visitor, &address).await;
        assert!(page.status < 500, "{address}: {}", page.status);
        for form in page.forms() {
            // Every page has the same field in its head; one will do.
            if form.action == "/find" && address != "/find" && address != "/" {
                continue;
            }
            let mut buttons: Vec<Vec<(String, String)>> =
                form.buttons.iter().map(|each| vec![each.clone()]).collect();
            if buttons.is_empty() {
                buttons.push(Vec::new());
            }
            for (button, text) in
                buttons.iter().flat_map(|button| texts.iter().map(move |text| (button, text)))
            {
                let answer = send(&visitor, &form, button, text).await;
                let start: String = text.chars().take(12).collect();
                let place = format!("{address}: {} {} {button:?} with “{start}”", form.method, form.action);
                sent_to.insert(form.action.split(['?', '#']).next().unwrap_or_default().to_owned());
                if ![200, 202, 303, 400, 409, 413, 414, 422].contains(&answer.status) {
                    faults.push(format!("{place}: status {}", answer.status));
                }
                if answer.body.contains("<script>document.title='taken'")
                    || answer.body.contains("<img src=x")
                {
                    faults.push(format!("{place}: what was typed stands unescaped"));
                }
                if answer.status != 303 && answer.count("h1") != 1 {
                    faults.push(format!("{place}: {} h1, so no message can be read", answer.count("h1")));
                }
                // A refusal gives back everything typed.
                let written = form.fields.iter().any(|field| field.is_text);
                if answer.status == 422 && written && !text.is_empty() && form.method == "post" {
                    n_refused += 1;
                    let given_back: Vec<String> = answer
                        .forms()
                        .into_iter()
                        .flat_map(|form| form.fields)
                        .filter(|field| field.value.contains(text.trim()))
                        .map(|field| field.name)
                        .collect();
                    for field in form.fields.iter().filter(|field| field.is_text) {
                        if !given_back.contains(&field.name) {
                            faults.push(format!("{place}: {} is lost", field.name));
                        }
                    }
                    if answer.text("main").is_empty() {
                        faults.push(format!("{place}: no message"));
                    }
                }
            }
        }
    }
    assert!(n_refused > 20, "only {n_refused} refusals: too few to say that nothing is lost");
    faults.sort();
    faults.dedup();
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
    for address in [
        "/confidence",
        "/correct/01980000-0000-7000-8000-000000000001",
        "/draw/plan",
        "/editor",
        "/find",
        "/observe",
        "/people",
        "/plan",
        "/rules",
        "/signing",
        "/start/breakdown",
        "/start/people",
        "/teach-back",
        "/teach-back/transcript",
        "/timetable/date",
    ] {
        assert!(sent_to.contains(address), "no form was sent to {address}; those were: {sent_to:?}");
    }
}
