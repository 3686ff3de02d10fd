//! Every form of every page with empty, over-long, script-like, right-to-left and emoji text, in every text field at once,
//! where nobody signs in and behind the sign-in; and each form sent by somebody who may not.

mod doorkeeper;
mod fake;
mod reading;

use std::collections::BTreeSet;
use std::sync::Arc;

use axum::body::Body;
use axum::http::Request;
use doorkeeper::{Keeper, token};
use fake::Fake;
use practice::PersonId;
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
        "/observe/new?breakdown=vein",
        // A changed rule, which can be published.
        "/rules?name=a+changed+rule&draws=8&clean=4&prompts=1&seen=yes&look=3&watch=all&points=&lost=&passes=2&days=yes&share=90&checks=1&counts=&most=14&lapse=90&update=30&after=7%2C+30%2C+91&every=365&prompted=10",
    ];
    let correct = format!("/correct/{}", fake::start::CORRECTABLE);
    let filled = site::addresses()
        .into_iter()
        .filter(|path| !path.ends_with(".js") && !path.ends_with(".png"))
        .map(|path| {
            path.replace("{id}", "N-112")
                .replace("{code}", "vein")
                .replace("{month}", "2026-02")
                .replace("{name}", "learner")
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

/// What came of sending the forms of some pages.
#[derive(Default)]
struct Tried {
    sent_to: BTreeSet<String>,
    faults: Vec<String>,
    n_refused: usize,
}

impl Tried {
    fn said(mut self) -> (BTreeSet<String>, usize) {
        self.faults.sort();
        self.faults.dedup();
        assert!(self.faults.is_empty(), "{} faults:\n{}", self.faults.len(), self.faults.join("\n"));
        (self.sent_to, self.n_refused)
    }
}

/// Sends every form of a page with every text, by each of its buttons.
async fn try_page(visitor: &Visitor, address: &str, tried: &mut Tried) {
    let texts =
        [String::new(), "x".repeat(4_000), SCRIPT.to_owned(), RIGHT_TO_LEFT.to_owned(), EMOJI.to_owned()];
    let page = follow(visitor, address).await;
    assert!(page.status < 500, "{address}: {}", page.status);
    // What a script looks for by its identifier must be the only one of it.
    let mut ids = BTreeSet::new();
    for id in page.attributes("[id]", "id") {
        if !ids.insert(id.clone()) {
            tried.faults.push(format!("{address}: the identifier {id:?} stands twice"));
        }
    }
    for form in page.forms() {
        // Every page has the same field in its head; one will do.
        // The way out stands there too; it has no text, and whoever takes it sends no other form.
        if form.action == "/sign-out" || (form.action == "/find" && address != "/find" && address != "/") {
            continue;
        }
        let mut buttons: Vec<Vec<(String, String)>> =
            form.buttons.iter().map(|each| vec![each.clone()]).collect();
        if buttons.is_empty() {
            buttons.push(Vec::new());
        }
        for (button, text) in buttons.iter().flat_map(|button| texts.iter().map(move |text| (button, text))) {
            let answer = send(visitor, &form, button, text).await;
            let start: String = text.chars().take(12).collect();
            let place = format!("{address}: {} {} {button:?} with “{start}”", form.method, form.action);
            tried.sent_to.insert(form.action.split(['?', '#']).next().unwrap_or_default().to_owned());
            // A name and a password that do not belong together are 401.
            let is_told = answer.status == 401 && form.action == "/sign-in";
            if !is_told && ![200, 202, 303, 400, 403, 409, 413, 414, 422].contains(&answer.status) {
                tried.faults.push(format!("{place}: status {}", answer.status));
            }
            if answer.body.contains("<script>document.title='taken'") || answer.body.contains("<img src=x") {
                tried.faults.push(format!("{place}: what was typed stands unescaped"));
            }
            if answer.status != 303 && answer.count("h1") != 1 {
                tried.faults.push(format!("{place}: {} h1, so no message can be read", answer.count("h1")));
            }
            // A refusal gives back everything typed.
            let written = form.fields.iter().any(|field| field.is_text && !field.is_secret);
            if answer.status == 422 && written && !text.is_empty() && form.method == "post" {
                tried.n_refused += 1;
                let given_back: Vec<String> = answer
                    .forms()
                    .into_iter()
                    .flat_map(|form| form.fields)
                    .filter(|field| field.value.contains(text.trim()))
                    .map(|field| field.name)
                    .collect();
                for field in form.fields.iter().filter(|field| field.is_text && !field.is_secret) {
                    if !given_back.contains(&field.name) {
                        tried.faults.push(format!("{place}: {} is lost", field.name));
                    }
                }
                if answer.text("main").is_empty() {
                    tried.faults.push(format!("{place}: no message"));
                }
            }
        }
    }
}

#[tokio::test]
async fn no_text_breaks_a_form_and_none_is_lost() {
    let mut tried = Tried::default();
    for address in pages() {
        try_page(&Visitor::of(Fake::full()), &address, &mut tried).await;
    }
    let (sent_to, n_refused) = tried.said();
    assert!(n_refused > 20, "only {n_refused} refusals: too few to say that nothing is lost");
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

fn cookie(name: &str) -> String {
    format!("__Host-wardwright={}", token(name).text())
}

/// The pages of a unit with accounts: the trainer is one of its people, the learner is N-112.
fn with_accounts() -> axum::Router {
    let mut keeper = Keeper::new();
    keeper.accounts[0].person = Some(PersonId("T-01".to_owned()));
    site::router_for(Arc::new(Fake::full()), Arc::new(keeper))
}

#[tokio::test]
async fn no_text_breaks_a_form_behind_the_sign_in() {
    let router = with_accounts();
    let mut tried = Tried::default();
    for name in ["trainer", "admin", "learner"] {
        let visitor = Visitor::bringing(&router, &cookie(name));
        for address in pages().iter().filter(|address| *address != "/sign-in") {
            try_page(&visitor, address, &mut tried).await;
        }
    }
    try_page(&Visitor::bringing(&router, ""), "/sign-in", &mut tried).await;
    let (sent_to, n_refused) = tried.said();
    assert!(n_refused > 20, "only {n_refused} refusals");
    for address in [
        "/account",
        "/accounts",
        "/away",
        "/confidence",
        "/correct/01980000-0000-7000-8000-000000000001",
        "/reports/2026-02",
        "/sign-in",
        "/signing",
        "/views",
    ] {
        assert!(sent_to.contains(address), "no form was sent to {address}; those were: {sent_to:?}");
    }
}

/// Every form that writes, as its page gives it, brought by somebody without a session, with a made-up one, with one that
/// was ended, and by a learner about somebody else: nothing is taken, and plain words say why.
#[tokio::test]
async fn a_form_without_a_session_that_holds_writes_nothing() {
    let router = with_accounts();
    let mut n_sent = 0;
    let mut sent_to = BTreeSet::new();
    for name in ["trainer", "admin"] {
        let own = Visitor::bringing(&router, &cookie(name));
        let mut forms: Vec<(String, Form)> = Vec::new();
        for address in pages() {
            // About somebody who is not the learner.
            let address = address.replace("N-112", "N-104");
            let page = follow(&own, &address).await;
            let writes = |form: &Form| form.method == "post" && !form.action.starts_with("/sign-");
            forms.extend(page.forms().into_iter().filter(writes).map(|form| (address.clone(), form)));
        }
        let made_up = format!("__Host-wardwright={}", "7".repeat(64));
        for (address, form) in &forms {
            let no_button = Vec::new();
            let buttons: Vec<Vec<(String, String)>> = match form.buttons.is_empty() {
                true => vec![no_button],
                false => form.buttons.iter().map(|each| vec![each.clone()]).collect(),
            };
            for button in &buttons {
                for (session, status) in [
                    ("", 401),
                    (made_up.as_str(), 401),
                    ("__Host-wardwright=", 401),
                    (&cookie("learner"), 403),
                ] {
                    // Everybody may change their own password.
                    if form.action == "/account" && status == 403 {
                        continue;
                    }
                    let answer = send(&Visitor::bringing(&router, session), form, button, EMOJI).await;
                    let place = format!("{address}: {} {button:?} with “{session}”", form.action);
                    assert_eq!(answer.status, status, "{place}: {}", answer.text("main"));
                    assert_eq!(answer.count("h1"), 1, "{place}");
                    n_sent += 1;
                }
            }
            sent_to.insert(form.action.split('?').next().unwrap_or_default().to_owned());
        }
    }
    assert!(n_sent > 100, "only {n_sent} sent to {sent_to:?}");
    for address in [
        "/account",
        "/accounts",
        "/away",
        "/editor",
        "/observe",
        "/plan",
        "/reports/2026-02",
        "/rules",
        "/signing",
    ] {
        assert!(sent_to.contains(address), "no form was sent to {address}; those were: {sent_to:?}");
    }
    // A session that was ended here is as good as none, however often its cookie is brought again.
    let own = Visitor::bringing(&router, &cookie("trainer"));
    assert_eq!(follow(&own, "/away").await.status, 200);
    let form = follow(&own, "/away").await.forms().into_iter().find(|form| form.action == "/away");
    let form = form.expect("a form for leave");
    let button: Vec<(String, String)> = form.buttons.first().cloned().into_iter().collect();
    assert_eq!(own.post("/sign-out", &[]).await.status, 303);
    for _ in 0..2 {
        assert_eq!(send(&own, &form, &button, EMOJI).await.status, 401);
        assert_eq!(own.get("/away").await.status, 303);
    }
}
