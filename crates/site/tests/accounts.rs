//! Who may ask for what: every address, for every role, about oneself and about others.

mod doorkeeper;
mod fake;
mod reading;

use std::collections::BTreeSet;
use std::sync::Arc;

use axum::body::Body;
use axum::http::{Method, Request};
use doorkeeper::{Keeper, NAMES, WORDS, ask, router, token};
use fake::Fake;
use tower::ServiceExt as _;

/// An address of a route, about this person.
fn filled(route: &str, person: &str) -> String {
    let address = route
        .replace("{id}", person)
        .replace("{code}", "vein")
        .replace("{month}", "2026-02")
        .replace("{entry}", "01957a00-0000-7000-8000-000000000001")
        .replace("{job}/{file}", &format!("vein/{person}.ics"))
        .replace("{kind}/{file}", &format!("person/{person}.pdf"))
        .replace("{name}", "learner");
    if [
        "/practice/{code}",
        "/teach-back/new",
        "/teach-back/transcript",
        "/observe/new",
        "/signing",
        "/confidence",
        "/timetable/date",
    ]
    .contains(&route)
    {
        format!("{address}?person={person}&breakdown=vein")
    } else {
        address
    }
}

/// Which roles may read a route about somebody else, written down apart from the program's own table. Trainers may
/// read everything but what is for administrators.
fn readers_about_others(route: &str) -> &'static [&'static str] {
    match route {
        "/accounts" | "/accounts/{name}" | "/views" => &["admin"],
        // Once there is a trainer, administrators take nobody in: the page itself refuses.
        "/start" => &["trainer", "admin"],
        "/sign-in"
        | "/sign-in/provider"
        | "/sign-in/back"
        | "/sign-out"
        | "/health"
        | "/mark.svg"
        | "/bedside.webmanifest" => &NAMES,
        "/account" | "/methods" | "/breakdowns" | "/breakdowns/{code}" | "/bedside" | "/bedside/key"
        | "/carry-out" | "/draw/plan" | "/drafts" | "/find" | "/keys" => &NAMES,
        "/results" | "/results/pairs" | "/reports" | "/reports/{month}" => &["trainer", "reader"],
        "/teach-back/new"
        | "/teach-back"
        | "/teach-back/transcript"
        | "/teach-back/confirm"
        | "/observe"
        | "/observe/new"
        | "/next-draw" => &["trainer", "preceptor"],
        route if route.ends_with(".css") || route.ends_with(".js") || route.ends_with(".png") => &NAMES,
        _ => &["trainer"],
    }
}

#[tokio::test]
async fn every_address_is_for_its_roles_alone() {
    let (router, _) = router();
    let mut n_shut = 0;
    for route in site::addresses() {
        for name in NAMES {
            let answer = ask(&router, name, Method::GET, &filled(route, "N-104"), "").await;
            let may = readers_about_others(route).contains(&name);
            let shut = answer.status == 403 || (route == "/" && name != "trainer" && answer.status == 303);
            assert_eq!(shut, !may, "{name} at {route}: {}", answer.status);
            assert!(answer.policy.contains("default-src 'none'"), "{route} is not guarded");
            if shut {
                n_shut += 1;
                assert!(!answer.body.contains("Tomas Kerrin"), "{name} at {route} sees a name");
            }
        }
        let nobody = ask(&router, "nobody", Method::GET, &filled(route, "N-104"), "").await;
        let open = readers_about_others(route).len() == NAMES.len()
            && ![
                "/account",
                "/methods",
                "/breakdowns",
                "/breakdowns/{code}",
                "/bedside",
                "/bedside/key",
                "/carry-out",
                "/draw/plan",
                "/drafts",
                "/find",
                "/keys",
            ]
            .contains(&route);
        if open {
            assert_ne!(nobody.status, 403, "{route}");
            assert!(!nobody.location.starts_with("/sign-in?to="), "{route}");
        } else {
            assert_eq!(nobody.status, 303, "{route}");
            assert!(nobody.location.starts_with("/sign-in?to=%2F"), "{route}: {}", nobody.location);
            assert!(!nobody.body.contains("Tomas Kerrin"), "{route}");
        }
    }
    assert!(n_shut > 40, "{n_shut}");
}

#[tokio::test]
async fn everybody_sees_their_own_and_nobody_elses() {
    let (router, _) = router();
    for (address, others) in [
        ("/people/N-112", "/people/N-104"),
        ("/people/N%2D112", "/people/N%2D104"),
        ("/papers/person/N-112.pdf", "/papers/person/N-104.pdf"),
        ("/practice/vein?person=N-112", "/practice/vein?person=N-104"),
        ("/practice/vein", "/practice/vein?x=1&person=N-104"),
        ("/practice/vein?person=N-112", "/practice/vein?person=N-104&person=N-112"),
    ] {
        assert_eq!(ask(&router, "learner", Method::GET, address, "").await.status, 200, "{address}");
        assert_eq!(ask(&router, "learner", Method::GET, others, "").await.status, 403, "{others}");
        assert_eq!(ask(&router, "trainer", Method::GET, address, "").await.status, 200, "{address}");
    }
    // An address that is read in two ways must not be let in by one and shown by the other.
    for odd in ["/people/N-112/", "/people/N-112%2F..%2FN-104", "/practice/vein?person=N-112&person=N-104"] {
        let answer = ask(&router, "learner", Method::GET, odd, "").await;
        assert!(answer.status >= 400 && !answer.body.contains("Kerrin"), "{odd}: {}", answer.status);
    }
}

#[tokio::test]
async fn figures_of_others_leave_a_trace_and_none_are_shown_without() {
    let (router, views) = router();
    ask(&router, "learner", Method::GET, "/people/N-112", "").await;
    ask(&router, "learner", Method::GET, "/people/N-104", "").await;
    assert!(views.lock().unwrap().is_empty(), "one's own page, and a page that was refused, leave none");
    ask(&router, "trainer", Method::GET, "/people/N-112", "").await;
    ask(&router, "trainer", Method::GET, "/people", "").await;
    let seen: Vec<(String, Option<String>, String)> = views
        .lock()
        .unwrap()
        .iter()
        .map(|view| (view.by.to_string(), view.of.as_ref().map(ToString::to_string), view.page.clone()))
        .collect();
    assert_eq!(
        seen,
        [
            ("trainer".to_owned(), Some("N-112".to_owned()), "/people/{id}".to_owned()),
            ("trainer".to_owned(), None, "/people".to_owned())
        ]
    );
    let account = ask(&router, "learner", Method::GET, "/account", "").await;
    assert!(account.body.contains("Who saw your figures") && account.body.contains("<span>Record</span>"));

    let keeper = Keeper { cannot_note: true, ..Keeper::new() };
    let full = site::router_for(Arc::new(Fake::full()), Arc::new(keeper));
    let answer = ask(&full, "trainer", Method::GET, "/people/N-112", "").await;
    assert_eq!(answer.status, 500);
    assert!(!answer.body.contains("Maren") && !answer.body.contains("disk"));
}

#[tokio::test]
async fn a_form_is_taken_from_its_roles_alone_and_on_ones_own_word() {
    let (router, _) = router();
    let body = "person=N-112&breakdown=vein&entry=01957a00-0000-7000-8000-000000000001&by=N-102&do=save";
    for (name, status) in [("learner", 403), ("reader", 403), ("admin", 403), ("nobody", 401)] {
        assert_eq!(ask(&router, name, Method::POST, "/teach-back", body).await.status, status, "{name}");
    }
    let nobody = ask(&router, "nobody", Method::POST, "/teach-back", body).await;
    assert!(nobody.body.contains("nothing typed is lost"));
    for name in ["trainer", "preceptor"] {
        let status = ask(&router, name, Method::POST, "/teach-back", body).await.status;
        assert_eq!(status, 422, "{name}: the form reaches its page, which refuses it for want of the secret");
    }
}

#[tokio::test]
async fn signing_in_gives_a_cookie_and_leads_where_it_should() {
    let (router, _) = router();
    let page = ask(&router, "nobody", Method::GET, "/sign-in?to=%2Fmethods", "").await;
    assert_eq!(page.status, 200);
    let secret = page
        .body
        .split("name=\"form-secret\" value=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .to_owned();
    let words = WORDS.replace(' ', "+");
    let form = |name: &str, password: &str, to: &str| {
        format!("form-secret={secret}&name={name}&password={password}&to={to}")
    };
    for (name, to, goes) in [
        ("trainer", "", "/"),
        ("learner", "", "/people/N-112"),
        ("preceptor", "%2F", "/people/N-102"),
        ("reader", "", "/results"),
        ("admin", "", "/accounts"),
        ("learner", "%2Fmethods", "/methods"),
        ("learner", "%2F%2Felsewhere.example", "/people/N-112"),
        ("learner", "https%3A%2F%2Felsewhere.example", "/people/N-112"),
    ] {
        let answer = ask(&router, "nobody", Method::POST, "/sign-in", &form(name, &words, to)).await;
        assert_eq!((answer.status, answer.location.as_str()), (303, goes), "{name} {to}");
        let expected =
            format!("__Host-wardwright={}; Path=/; Secure; HttpOnly; SameSite=Lax", token(name).text());
        assert_eq!(answer.cookie, expected);
    }
    let known = ask(&router, "nobody", Method::POST, "/sign-in", &form("learner", "wrong", "")).await;
    let unknown = ask(&router, "nobody", Method::POST, "/sign-in", &form("whoever", "wrong", "")).await;
    assert_eq!((known.status, unknown.status), (401, 401));
    // The mask of the form's secret is another in each answer.
    let without_secret = |page: &str| -> String {
        let (before, after) = page.split_once("name=\"form-secret\" value=\"").unwrap();
        [before, after.split_once('"').unwrap().1].concat()
    };
    assert_eq!(
        without_secret(&known.body).replace("learner", ""),
        without_secret(&unknown.body).replace("whoever", ""),
        "which of the two is wrong is not said"
    );
    assert!(known.cookie.is_empty());
    let script = ask(
        &router,
        "nobody",
        Method::POST,
        "/sign-in",
        &form("%22%3E%3Cscript%3E", "wrong", "%22%3E%3Cscript%3E"),
    )
    .await;
    assert!(!script.body.contains("<script>"));
    let unasked =
        ask(&router, "nobody", Method::POST, "/sign-in", &format!("name=learner&password={words}")).await;
    assert_eq!(unasked.status, 422, "a form that these pages did not make signs nobody in");
    let out = ask(&router, "trainer", Method::POST, "/sign-out", "").await;
    assert_eq!((out.status, out.location.as_str()), (303, "/sign-in"));
    assert!(out.cookie.contains("Max-Age=0"));
    // Whoever came in through the provider is led on to it, from a page of its own.
    let on = ask(&router, "learner", Method::POST, "/sign-out", "").await;
    assert!(on.status == 200 && on.cookie.contains("Max-Age=0"), "{}", on.status);
    let there = "https://sign-in.example/out?id_token_hint=a.b.c&amp;x=&lt;1&gt;";
    assert!(on.body.contains(&format!("content=\"0; url={there}\"")), "{}", on.body);
    assert!(on.body.contains(&format!("href=\"{there}\"")) && on.policy.contains("form-action 'self'"));
}

#[tokio::test]
async fn a_first_password_opens_nothing_but_its_change() {
    let mut keeper = Keeper::new();
    for account in &mut keeper.accounts {
        account.must_change = true;
    }
    let router = site::router_for(Arc::new(Fake::full()), Arc::new(keeper));
    for address in ["/", "/people/N-112", "/methods"] {
        let answer = ask(&router, "trainer", Method::GET, address, "").await;
        assert_eq!((answer.status, answer.location.as_str()), (303, "/account"), "{address}");
    }
    let page = ask(&router, "trainer", Method::GET, "/account", "").await;
    assert!(page.status == 200 && page.body.contains("Choose a password of your own first"));
}

#[tokio::test]
async fn a_proxy_is_answered_under_its_name_and_with_its_origin() {
    let (router, _) = router();
    let send = |host: &'static str, origin: &'static str| {
        let router = router.clone();
        async move {
            let request = Request::post("/sign-out")
                .header("host", host)
                .header("origin", origin)
                .body(Body::empty())
                .expect("a request");
            router.oneshot(request).await.expect("an answer").status().as_u16()
        }
    };
    assert_eq!(send("draws.ward.example", "https://draws.ward.example").await, 303);
    assert_eq!(send("draws.ward.example", "http://draws.ward.example").await, 403);
    assert_eq!(send("draws.ward.example", "https://elsewhere.example").await, 403);
    assert_eq!(send("elsewhere.example", "https://elsewhere.example").await, 421);
}

/// A page whose address was forgotten in the table of audiences would be shut for everybody: found here, not by users.
#[test]
fn every_route_stands_in_the_table() {
    let listed: BTreeSet<&str> = site::addresses().into_iter().collect();
    let mut n = 0;
    let mut files = vec![std::path::PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/src"))];
    while let Some(path) = files.pop() {
        if path.is_dir() {
            files.extend(std::fs::read_dir(&path).unwrap().map(|entry| entry.unwrap().path()));
            continue;
        }
        if path.extension().is_none_or(|extension| extension != "rs") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        for part in text.split(".route(").skip(1) {
            let Some(route) = part.trim_start().strip_prefix('"').and_then(|rest| rest.split('"').next())
            else {
                panic!("{}: a route whose address is not written out", path.display());
            };
            assert!(listed.contains(route), "{route} has no audience in crates/site/src/entrance.rs");
            n += 1;
        }
    }
    assert!(n >= listed.len(), "{n} routes, {} listed", listed.len());
}
