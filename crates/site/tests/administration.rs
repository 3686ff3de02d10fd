//! Signing in through a provider, the administrator's pages, and forms that know who is signed in.

mod doorkeeper;
mod fake;
mod reading;

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Method, Request};
use doorkeeper::{Keeper, ask, router, token};
use fake::Fake;
use http_body_util::BodyExt as _;
use practice::PersonId;
use site::AccountChange;
use tower::ServiceExt as _;

#[tokio::test]
async fn the_provider_is_gone_to_and_come_back_from_with_a_cookie_of_the_way() {
    let (router, _) = router();
    let page = ask(&router, "nobody", Method::GET, "/sign-in?to=%2Fmethods", "").await;
    assert!(page.body.contains("href=\"/sign-in/provider?to=%2Fmethods\""));
    let gone = ask(&router, "nobody", Method::GET, "/sign-in/provider?to=%2Fmethods", "").await;
    assert_eq!((gone.status, gone.location.as_str()), (303, "https://sign-in.example/go?for=/methods"));
    assert_eq!(
        gone.cookie,
        "__Host-wardwright-way=kept-by-the-browser; Path=/; Secure; HttpOnly; SameSite=Lax; Max-Age=600"
    );
    let elsewhere =
        ask(&router, "nobody", Method::GET, "/sign-in/provider?to=%2F%2Felsewhere.example", "").await;
    assert_eq!(elsewhere.location, "https://sign-in.example/go?for=", "only this site's addresses are kept");

    let back = |query: &'static str, cookie: &'static str| {
        let router = router.clone();
        async move {
            let request = Request::get(format!("/sign-in/back?{query}"))
                .header("host", "127.0.0.1:8099")
                .header("cookie", format!("__Host-wardwright-way={cookie}"))
                .body(Body::empty())
                .expect("a request");
            let response = router.oneshot(request).await.expect("an answer");
            let status = response.status().as_u16();
            let cookies: Vec<String> = response
                .headers()
                .get_all("set-cookie")
                .iter()
                .map(|value| value.to_str().expect("text").to_owned())
                .collect();
            let location =
                response.headers().get("location").map(|value| value.to_str().expect("text").to_owned());
            let bytes = response.into_body().collect().await.expect("a body").to_bytes();
            (status, location.unwrap_or_default(), cookies, String::from_utf8_lossy(&bytes).into_owned())
        }
    };
    let (status, location, cookies, _) = back("code=good", "kept-by-the-browser").await;
    assert_eq!((status, location.as_str()), (303, "/methods"));
    assert!(cookies.iter().any(|cookie| cookie.contains(token("learner").text())));
    assert!(
        cookies
            .iter()
            .any(|cookie| cookie.starts_with("__Host-wardwright-way=;") && cookie.contains("Max-Age=0"))
    );
    let (status, location, ..) = back("code=elsewhere", "kept-by-the-browser").await;
    assert_eq!((status, location.as_str()), (303, "/people/N-112"));
    for (query, cookie, expected) in
        [("code=good", "", 401), ("", "kept-by-the-browser", 401), ("code=stranger", "", 403)]
    {
        let (status, _, cookies, body) = back(query, cookie).await;
        assert_eq!(status, expected, "{query}");
        assert!(cookies.iter().all(|cookie| !cookie.starts_with("__Host-wardwright=")), "{query}");
        assert!(!body.contains("<i>9</i>"), "what the provider says is text");
    }
    let long = format!("/sign-in/back?code={}", "x".repeat(7_000));
    assert_eq!(ask(&router, "nobody", Method::GET, &long, "").await.status, 401, "a long code is read");
    let longer = format!("/sign-in/back?code={}", "x".repeat(9_000));
    assert_eq!(ask(&router, "nobody", Method::GET, &longer, "").await.status, 414);

    let open = site::router(Arc::new(Fake::full()));
    for address in ["/sign-in/provider", "/sign-in/back?code=x"] {
        assert_eq!(ask(&open, "nobody", Method::GET, address, "").await.status, 404, "{address}");
    }
}

#[tokio::test]
async fn administrators_change_accounts_and_see_no_figures() {
    let keeper = Keeper::new();
    let changes = keeper.changes.clone();
    let router = site::router_for(Arc::new(Fake::full()), Arc::new(keeper));
    let page = ask(&router, "admin", Method::GET, "/accounts", "").await;
    assert_eq!(page.status, 200);
    assert!(!page.body.contains("<b>77|x</b>") && page.body.contains("&lt;b&gt;77|x&lt;/b&gt;"));
    assert_eq!(ask(&router, "admin", Method::GET, "/accounts/nobody", "").await.status, 404);
    let secret = page
        .body
        .split("name=\"form-secret\" value=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .to_owned();
    let send = |name: &'static str, body: String| {
        let router = router.clone();
        async move { ask(&router, name, Method::POST, "/accounts", &body).await }
    };
    let made = send(
        "admin",
        format!("form-secret={secret}&do=add&name=R.Fenn&role=preceptor&role=learner&person=N-104"),
    )
    .await;
    assert_eq!(made.status, 200);
    assert!(made.body.contains("abcde-fghjk"), "the first password is shown to whoever made the account");
    for body in [
        "do=roles&name=learner&role=trainer",
        "do=password&name=learner",
        "do=unlock&name=learner",
        "do=untie&name=learner",
        "do=tie&name=learner&subject=9",
        "do=remove&name=learner&sure=yes",
    ] {
        let answer = send("admin", format!("form-secret={secret}&{body}")).await;
        assert_eq!(answer.status, 200, "{body}");
    }
    {
        let changes = changes.lock().unwrap();
        assert_eq!(changes.len(), 7);
        assert!(changes.iter().all(|(by, _)| by.as_str() == "admin"));
        let AccountChange::Add { name, roles, person, subject } = &changes[0].1 else {
            panic!("{:?}", changes[0])
        };
        assert_eq!((name.as_str(), roles.len(), subject), ("R.Fenn", 2, &None));
        assert_eq!(person.as_ref().map(|person| person.0.as_str()), Some("N-104"));
    }
    // What is not meant, not known or not from these pages changes nothing, and is told.
    for (body, word) in [
        (format!("form-secret={secret}&do=remove&name=learner"), "a mark in the box"),
        (format!("form-secret={secret}&do=tie&name=learner&subject="), "copy it from the provider"),
        (format!("form-secret={secret}&do=roles&name=learner&role=surgeon"), "surgeon"),
        (format!("form-secret={secret}&do=roles&name=%3Cscript%3E&role=learner"), "name of an account"),
        (format!("form-secret={secret}&do=dance&name=learner"), "dance"),
        ("do=remove&name=learner&sure=yes".to_owned(), "opened before the program was started again"),
    ] {
        let answer = send("admin", body.clone()).await;
        assert_eq!(answer.status, 422, "{body}");
        assert!(answer.body.contains(word) && !answer.body.contains("<script>"), "{body}");
    }
    for name in ["trainer", "preceptor", "learner", "reader"] {
        let answer =
            send(name, format!("form-secret={secret}&do=roles&name={name}&role=administrator")).await;
        assert_eq!(answer.status, 403, "{name}");
    }
    assert_eq!(changes.lock().unwrap().len(), 7);
    for address in ["/people/N-104", "/people", "/", "/results", "/papers/person/N-104.pdf"] {
        let answer = ask(&router, "admin", Method::GET, address, "").await;
        assert!(answer.status == 403 || (address == "/" && answer.location == "/accounts"), "{address}");
    }
    ask(&router, "trainer", Method::GET, "/people/N-112", "").await;
    let views = ask(&router, "admin", Method::GET, "/views?by=trainer", "").await;
    assert!(views.status == 200 && views.body.contains("N-112") && views.body.contains("400"));
    assert_eq!(ask(&router, "admin", Method::GET, "/views?by=%3Cscript%3E", "").await.status, 400);
}

/// An entry stands on the word of whoever is signed in, so the fields about it begin with them.
#[tokio::test]
async fn fields_about_who_signs_begin_with_whoever_is_signed_in() {
    let mut keeper = Keeper::new();
    keeper.accounts[0].person = Some(PersonId("T-01".to_owned()));
    keeper.accounts[1].person = Some(PersonId("N-107".to_owned()));
    let router = site::router_for(Arc::new(Fake::full()), Arc::new(keeper));
    let chosen = |body: &str, field: &str| {
        let page = scraper::Html::parse_document(body);
        let options =
            scraper::Selector::parse(&format!("select[name={field}] option[selected]")).expect("a selector");
        page.select(&options)
            .map(|option| option.value().attr("value").unwrap_or_default().to_owned())
            .collect::<Vec<_>>()
    };
    for (name, own, address, field) in [
        ("preceptor", "N-107", "/teach-back/new?person=N-104&breakdown=vein", "by"),
        ("trainer", "T-01", "/teach-back/new?person=N-104&breakdown=vein", "by"),
        ("preceptor", "N-107", "/observe/new?person=N-112&breakdown=vein", "watched"),
        ("preceptor", "N-107", "/observe/new?person=N-112&breakdown=vein", "by"),
        ("trainer", "T-01", "/signing?person=N-104&breakdown=vein", "by"),
        ("trainer", "T-01", "/editor?breakdown=vein&entry=01957a00-0000-7000-8000-000000000001", "by"),
    ] {
        // A form is given the identifier of its entry first.
        let mut answer = ask(&router, name, Method::GET, address, "").await;
        if answer.status == 303 {
            answer = ask(&router, name, Method::GET, &answer.location, "").await;
        }
        assert_eq!(answer.status, 200, "{address}");
        assert_eq!(chosen(&answer.body, field), [own], "{name} on {address}: {field}");
    }
    let open = site::router(Arc::new(Fake::full()));
    let first = ask(&open, "nobody", Method::GET, "/signing?person=N-104&breakdown=vein", "").await;
    let answer = ask(&open, "nobody", Method::GET, &first.location, "").await;
    assert_eq!(answer.status, 200);
    assert!(chosen(&answer.body, "by").is_empty(), "where nobody signs in, somebody chooses");
}
