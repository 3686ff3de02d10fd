//! Who may ask for what: every address, for every role, about oneself and about others.

mod fake;
mod reading;

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};

use account::{Account, AccountName, PasswordHash, Role, Token};
use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request};
use fake::Fake;
use http_body_util::BodyExt as _;
use practice::PersonId;
use site::{
    AccountChange, AccountRow, AccountsPage, Administration, AtProvider, Changed, DeskError, Doorkeeper,
    FromProvider, Refusal, SignIn, Stranger, View, ViewsAsked, ViewsPage,
};
use tower::ServiceExt as _;

const WORDS: &str = "seven grey herons by a weir";

/// Accounts of people of the fake unit; the token of each is made of its place in the list.
struct Keeper {
    accounts: Vec<Account>,
    views: Arc<Mutex<Vec<View>>>,
    changes: Arc<Mutex<Vec<(AccountName, AccountChange)>>>,
    cannot_note: bool,
}

const NAMES: [&str; 5] = ["trainer", "preceptor", "learner", "reader", "admin"];

fn token(name: &str) -> Token {
    let place = NAMES.iter().position(|known| *known == name).map_or(99, |place| place + 1);
    Token::new([u8::try_from(place).unwrap_or(99); 32])
}

impl Keeper {
    fn new() -> Keeper {
        let account = |name: &str, person: Option<&str>, role: Role| Account {
            name: AccountName::new(name).expect("a name"),
            person: person.map(|id| PersonId(id.to_owned())),
            roles: BTreeSet::from([role]),
            password: Some(PasswordHash::of_new(WORDS, &[], [1; 16]).expect("a hash")),
            subject: None,
            must_change: false,
            epoch: 0,
            unlocked: None,
        };
        Keeper {
            accounts: vec![
                account("trainer", Some("N-101"), Role::Trainer),
                account("preceptor", Some("N-102"), Role::Preceptor),
                account("learner", Some("N-112"), Role::Learner),
                account("reader", None, Role::ResultsReader),
                account("admin", None, Role::Administrator),
            ],
            views: Arc::default(),
            changes: Arc::default(),
            cannot_note: false,
        }
    }
}

impl Administration for Keeper {
    fn accounts_page(&self) -> Result<AccountsPage, DeskError> {
        Ok(AccountsPage {
            accounts: self
                .accounts
                .iter()
                .map(|account| AccountRow { account: account.clone(), signed_in: None, locked: None })
                .collect(),
            people: vec![(PersonId("N-104".to_owned()), "Tomas Kerrin".to_owned())],
            provider: Some("Ward sign-in".to_owned()),
            strangers: vec![Stranger {
                subject: "<b>77|x</b>".to_owned(),
                name: Some("\u{202e}R. Fenn".to_owned()),
                when: "2026-03-03T08:00:00".parse().expect("a moment"),
            }],
            ..AccountsPage::default()
        })
    }

    fn change_account(
        &self,
        by: &AccountName,
        change: &AccountChange,
        _: jiff::civil::DateTime,
    ) -> Result<Result<Changed, Refusal>, DeskError> {
        self.changes.lock().expect("nobody panicked").push((by.clone(), change.clone()));
        let first_password = matches!(change, AccountChange::Add { .. }).then(|| "abcde-fghjk".to_owned());
        Ok(Ok(Changed { words: "Done as asked.".to_owned(), first_password }))
    }

    fn views_page(&self, asked: &ViewsAsked) -> Result<ViewsPage, DeskError> {
        let mut views = self.views.lock().expect("nobody panicked").clone();
        views.retain(|view| asked.by.as_ref().is_none_or(|by| view.by == *by));
        Ok(ViewsPage { n_views: views.len(), views, kept_days: 400 })
    }
}

impl Doorkeeper for Keeper {
    fn provider(&self) -> Option<&str> {
        Some("Ward sign-in")
    }

    fn begin_at_provider(&self, to: &str, place: &str) -> Result<AtProvider, DeskError> {
        assert_eq!(place, "this machine");
        let address = format!("https://sign-in.example/go?for={to}");
        Ok(AtProvider::Go { address, cookie: "kept-by-the-browser".to_owned() })
    }

    fn back_from_provider(&self, query: &str, cookie: &str) -> Result<FromProvider, DeskError> {
        let learner = self.accounts[2].clone();
        Ok(match (query, cookie) {
            ("code=good", "kept-by-the-browser") => {
                FromProvider::In(token("learner"), learner, "/methods".to_owned())
            }
            ("code=elsewhere", "kept-by-the-browser") => {
                FromProvider::In(token("learner"), learner, "//elsewhere.example".to_owned())
            }
            ("code=stranger", _) => FromProvider::NoAccount { subject: "<i>9</i>".to_owned() },
            _ => FromProvider::Refused(Refusal::new(
                "Ward sign-in",
                "an old answer",
                "a new one",
                "begin again",
            )),
        })
    }

    fn has_accounts(&self) -> bool {
        true
    }

    fn behind(&self) -> Option<&str> {
        Some("draws.ward.example")
    }

    fn who(&self, sent: &Token) -> Option<Account> {
        self.accounts.iter().find(|account| token(account.name.as_str()) == *sent).cloned()
    }

    fn sign_in(&self, name: &str, password: &str, _: &str) -> Result<SignIn, DeskError> {
        let account = self.accounts.iter().find(|account| account.name.as_str() == name);
        Ok(
            match account.filter(|account| account.password.as_ref().is_some_and(|hash| hash.is_of(password)))
            {
                Some(account) => SignIn::In(token(name), account.clone()),
                None => SignIn::Wrong,
            },
        )
    }

    fn sign_out(&self, _: &Token) {}

    fn change_password(
        &self,
        name: &AccountName,
        old: &str,
        _: &str,
    ) -> Result<Result<Token, Refusal>, DeskError> {
        Ok(if old == WORDS {
            Ok(token(name.as_str()))
        } else {
            Err(Refusal::new("password now", "another password", "the one of now", "type it again"))
        })
    }

    fn note_view(&self, view: &View) -> Result<(), DeskError> {
        if self.cannot_note {
            return Err(DeskError::Failed("the disk is full".to_owned()));
        }
        self.views.lock().expect("nobody panicked").push(view.clone());
        Ok(())
    }

    fn views_of(&self, person: &PersonId) -> Result<Vec<View>, DeskError> {
        let views = self.views.lock().expect("nobody panicked");
        Ok(views.iter().filter(|view| view.of.as_ref() == Some(person)).cloned().collect())
    }
}

struct Answer {
    status: u16,
    location: String,
    cookie: String,
    policy: String,
    body: String,
}

async fn ask(router: &Router, name: &str, method: Method, address: &str, body: &str) -> Answer {
    let request = Request::builder()
        .method(method)
        .uri(address)
        .header("host", "127.0.0.1:8099")
        .header("origin", "http://127.0.0.1:8099")
        .header("content-type", "application/x-www-form-urlencoded")
        .header("cookie", format!("other=1; __Host-wardwright={}", token(name).text()))
        .body(Body::from(body.to_owned()))
        .expect("a request");
    let response = router.clone().oneshot(request).await.expect("an answer");
    let header = |name: &str| {
        response.headers().get(name).map_or("", |value| value.to_str().expect("text")).to_owned()
    };
    let (status, location, cookie) = (response.status().as_u16(), header("location"), header("set-cookie"));
    let policy = header("content-security-policy");
    let bytes = response.into_body().collect().await.expect("a body").to_bytes();
    Answer { status, location, cookie, policy, body: String::from_utf8_lossy(&bytes).into_owned() }
}

fn router() -> (Router, Arc<Mutex<Vec<View>>>) {
    let keeper = Keeper::new();
    let views = keeper.views.clone();
    (site::router_for(Arc::new(Fake::full()), Arc::new(keeper)), views)
}

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
    let out = ask(&router, "learner", Method::POST, "/sign-out", "").await;
    assert_eq!((out.status, out.location.as_str()), (303, "/sign-in"));
    assert!(out.cookie.contains("Max-Age=0"));
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
